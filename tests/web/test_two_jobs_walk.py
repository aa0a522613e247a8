"""Two jobs of one fork worked at random, step beside step: nothing comes off at either of them that was loaded at the other since it was proved empty.

What is proved and what is loaded is kept here by the roles of the steps alone, not as the steps' own room keeps it.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest

from topout.planner.judge import NotKnown
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import Slot
from topout.web.jobs.steps.sign import Refused
from web import job_states
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, failing, gauge, passing
from web.test_other_jobs import another

PROCEDURES = (
    "travel-change-by-air-shaft",
    "pressure-and-spacers",
    "air-spring-reseal",
    "lower-leg-service",
    "fork-annual",
)
NEEDS = {
    "opens": ("air-out", "empty-at-rest"),
    "ring-out": ("air-out", "empty-at-rest", "empty-by-shaft"),
}  # role -> the proofs before it
PROOFS = ("air-out", "empty-at-rest", "empty-by-shaft")
MOVES = 260  # and up to four times as many, where nothing was opened or nothing loaded by then
FAR = (-20, -8, -3, -1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 4)  # how far from the step that comes next somebody taps


def begun(cast: Cast, chance: random.Random, at: datetime) -> tuple[Hands, Hands]:
    """Two jobs of one fork, some with a plan: one that pumps it and opens nothing, and another by some procedure."""
    job = hollin_job(cast.technician)
    found = []
    for procedure in ("leak-test", chance.choice(PROCEDURES)):
        one = another(cast, job, procedure)
        with change(cast.technician, "plan", {"of": one.number}) as doing:
            if procedure == PROCEDURES[0]:
                core.freeze(doing, one, job_states.CHANGE)
            elif chance.random() < 0.5 or procedure == PROCEDURES[1]:
                core.freeze(doing, one, {"change": {"pressure": "80 psi", "spacers": 1}})
        hands = Hands(cast.technician, one, at=at)
        hands.begin()
        found.append(hands)
    return found[0], found[1]


def roles_of(slot: Slot) -> set[str]:
    return {role for each in slot.step.evidence for role in each.roles}


@pytest.mark.parametrize("seed", [5, 7, *(pytest.param(seed, marks=pytest.mark.soak) for seed in (6, 8, 9, 10, 11))])
def test_nothing_is_opened_by_a_proof_from_before_it_was_loaded(cast: Cast, seed: int) -> None:
    gauge()
    chance = random.Random(seed)
    jobs, at = begun(cast, chance, START), START
    signed = loaded = opened = 0
    proved: dict[tuple[int, str], int] = {}
    for move in range(4 * MOVES):
        if move >= MOVES and opened and loaded:
            break
        hands = chance.choice(jobs)
        hands.at = at
        here = hands.here()
        end = len(here.slots) - 1
        now = end if here.current is None else here.at(here.current)
        slot = here.slots[max(0, min(end, now + chance.choice(FAR)))]
        try:
            if chance.random() < 0.04 and not slot.step.holds_back:
                with change(hands.who, "back", {}, at=at) as doing:
                    sign.strike(doing, hands.job, slot.step.key, "Has to be done again", here.seen)
                continue
            fails = chance.random() < 0.05 and any(each.bounded for each in slot.step.evidence)
            answers = failing(here, slot) if fails else passing(here, slot)
            entry = hands.sign(slot, answers, again=here.at(slot) < now, here=here)
        except (Refused, NotKnown, AssertionError, ValueError):  # not now, or nothing to answer it by yet
            continue
        finally:
            at = hands.at
        at += timedelta(seconds=30)
        signed += 1
        does = roles_of(slot)
        if entry.verdict == "passed":
            asked = {role for each in here.slots for role in roles_of(each)}
            for role in does & set(NEEDS):
                opened += 1
                for proof in asked & set(NEEDS[role]):
                    told = hands.job.procedure, slot.step.key, proof
                    assert proved.get((hands.job.pk, proof), 0) > loaded, told
            proved |= {(hands.job.pk, proof): signed for proof in does & set(PROOFS)}
        if "pumps" in does:
            loaded = signed
    assert opened and loaded, "neither opened nor loaded: this walk proves nothing"
