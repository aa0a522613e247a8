"""What speaks against a plan, and the one way by which a page puts one to use.

A build that locks is never used. What the maker does not allow, what no spring was worked out for, and what a step of
the job's own procedure would not let pass is used only by an owner, who signs a reason that stays with the plan.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Final

from topout.bench_file.model import BenchFile
from topout.planner import fitted
from topout.planner.facts import Fact
from topout.planner.sentence import rear_to_set, said, to_set
from topout.planner.summary import Summary
from topout.procedures.model import Bound, Procedure
from topout.web.access import gate, preferences
from topout.web.access.change import ChangeContext
from topout.web.book.models import Bike, Unit
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.core import figures, limits_before
from topout.web.jobs.core.steps import procedure_of
from topout.web.jobs.records.models import FrozenPlan, Job, StepEntry
from topout.web.jobs.records.texts import NoSteps

LOCKS: Final = (
    "This would lock: a chamber has no room left within the travel. Take a volume spacer out, or ask for less travel."
)
LOCKS_BEHIND: Final = "This shock would lock before the end of its stroke: take a volume spacer out."
# Warnings of the state after that a maker's limit, the tyre's room or a coil that is too short raises.
AGAINST: Final = frozenset({
    "pressure-limit", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length", "travel-limit", "spacer-limit", "coil-bind",
})  # fmt: skip
# A warning of a step, and the fact of the plan that the step's lowest passing reading is held against.
_GAPS: Final = {"tyre-crown": "tyre_to_crown", "tyre-brace": "tyre_to_brace", "tyre-frame": "tyre_to_frame"}


class Refused(Exception):
    """The plan is not put to use; `against` holds why, a sentence each. `ask_owner`: an owner may, with a reason."""

    def __init__(self, against: list[str], *, ask_owner: bool) -> None:
        super().__init__(" ".join(against))
        self.against = against
        self.ask_owner = ask_owner


def mark(against: list[str]) -> str:
    """Stands for what was read before a reason was signed: a reason counts for that and nothing else."""
    return hashlib.sha256("\n".join(against).encode()).hexdigest()[:16]


def against(job: Job, file: BenchFile, of: Summary) -> list[str]:
    """Why this plan should not be used, a sentence each; empty where nothing speaks against it."""
    found = _not_worked_out(job, of) + [words for words in (core.elsewhere(job),) if words]
    found += [one.text for one in of.heard if one.code in AGAINST and not one.found]
    found += _over_a_limit_of_before(job, file)
    return found + [text for text in _short_of_steps(job, file, of) if text not in found]


def use(
    doing: ChangeContext, job: Job, file: BenchFile, change: Tables, reason: str = "", reason_for: str = ""
) -> FrozenPlan:
    """Put a plan to use. Raises Refused where something speaks against it and no owner signed a reason for just that."""
    if which := core.which_one(job):
        raise Refused([which], ask_owner=False)
    of = core.told(file)
    locks = [LOCKS_BEHIND] if of.rear is not None and of.rear.verdict == "locks" else []
    if of.forked and of.verdict == "locks":
        locks.insert(0, LOCKS)
    if locks:
        raise Refused(locks, ask_owner=False)
    why = against(job, file, of)
    if not why:
        return core.freeze(doing, job, change)
    assert doing.who is not None
    if not gate.owner(doing.who) or not reason.strip() or reason_for != mark(why):
        raise Refused(why, ask_owner=True)
    return core.freeze(doing, job, change, reason.strip())


def _not_worked_out(job: Job, of: Summary) -> list[str]:
    """That nothing is set at the end that the job is about, and why."""
    if core.end_of(job) == "front":
        return [said(to_set(of))] if of.verdict == "no-spring" else []
    if of.rear is None:
        return ["Nothing of this shock is known: write it in the Book."]
    return [said(rear_to_set(of.rear))] if of.rear.verdict == "no-spring" else []


def _over_a_limit_of_before(job: Job, file: BenchFile) -> Iterator[str]:
    """That the pressure to set, the spacers, the travel or the fork's length is over a limit that the Book had when the job came and has no more."""
    after, system = figures.changed(file), preferences.system()
    rear = core.end_of(job) == "rear"
    unit = after.shock if rear else after.fork
    air = unit.air if unit is not None else None
    psi, mm = preferences.unit("pressure", "psi"), preferences.unit("length", "mm")
    figured: list[tuple[str, Unit | Bike | None, float | None, float | None, str, str]] = []
    if air is not None:
        set_pa, spacers = air.pressure_gauge_pa, air.spacers
        pressure = "" if set_pa is None else f"{system.show(set_pa, 'pressure', 'psi')} is"
        figured += [
            ("pressure", job.unit, set_pa, air.pressure_limit_gauge_pa, psi, pressure),
            ("spacers", job.unit, spacers, air.spacer_limit, "", f"{spacers} volume spacers: that is"),
        ]
    if not rear and after.fork is not None:
        travel_m, long_m = after.fork.travel_m, fitted.fork_length_m(after)
        travel = "" if travel_m is None else f"{system.show(travel_m, 'length', 'mm', trim=True)} of travel is"
        length = "" if long_m is None else f"A fork length of {system.show(long_m, 'length', 'mm', trim=True)} is"
        frame_m = after.frame.fork_length_limit_m if after.frame is not None else None
        figured += [
            ("travel", job.unit, travel_m, after.fork.travel_limit_m, mm, travel),
            ("fork length", job.bike, long_m, frame_m, mm, length),
        ]
    for of, row, value, now, said_in, what in figured:
        if value is not None and (was := limits_before.over(row, job.taken_in_at, value, said_in, now, of)):
            yield f"{what} {was}"


def _short_of_steps(job: Job, file: BenchFile, of: Summary) -> Iterator[str]:
    """Gaps of the plan below the least that a step of the job's procedure lets pass."""
    last = StepEntry.objects.filter(job=job).order_by("-sequence").first()
    try:
        procedure = procedure_of(job, [last] if last else []).procedure
    except NoSteps:
        return
    facts: dict[str, Fact] = {fact.key: fact for fact in of.listed()}
    over = file.fork.overtravel_m if file.fork is not None else 0.0
    for step in procedure.steps():
        fact = next((facts[_GAPS[code]] for code in step.deals_with if _GAPS.get(code) in facts), None)
        if fact is None or fact.after_si is None:
            continue
        for evidence in step.evidence:
            least = _least_m(procedure, evidence.low, over) if evidence.dimension == "length" else None
            if least is not None and fact.after_si < least - 1e-9:
                wanted = preferences.system().show(least, "length", "mm", trim=True)
                yield f"{fact.words[0].upper()}{fact.words[1:]} {fact.says('after')}; a step of this job wants {wanted} or more."


def _least_m(procedure: Procedure, bound: Bound | None, overtravel_m: float) -> float | None:
    """A step's lowest passing length, of plain lengths and what full load adds; None where it hangs on a reading."""
    if bound is None or bound.name is None:
        return None if bound is None else bound.value_si
    if bound.name == "overtravel":
        return overtravel_m
    own = next((each for each in procedure.definitions if each.key == bound.name), None)
    if own is None or own.function not in ("sum", "least"):
        return None
    parts = [_least_m(procedure, each, overtravel_m) for each in own.of]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    return sum(known) if own.function == "sum" else min(known)
