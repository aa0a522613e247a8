"""A step of the workshop's own that has the key of a point that failed lifts the danger only where it asks for the same."""

from __future__ import annotations

from typing import Any

import pytest

from topout.planner import variables
from topout.procedures import library, read
from topout.procedures.model import Step
from topout.web.jobs.core import danger, unit_dangers
from topout.web.jobs.records.models import StepEntry
from topout.web.jobs.release import contradictions
from topout.web.jobs.steps.sign import Refused
from web import job_states, own_kit
from web.people import Cast
from web.steps_kit import Hands
from web.test_other_jobs import another

OURS = read.shipped("travel-change-by-air-shaft", variables.VOCABULARY)
LIP = 'key = "lip"\ndo = "Inspect'
RELIEVE = '\n[[group]]\ninclude = "relieve"\n'


def test_a_look_under_the_name_of_a_proof_empties_no_chamber(cast: Cast) -> None:
    """Every check of an own text passes it: it names no proof. Its "Whole" took the charge off every card of the fork; it also opened
    the steps before it, as if it tested the fork again."""
    job = job_states.make(cast, "blocked")
    given = own_kit.keep(cast.owner, own_kit.text().replace(LIP, 'key = "empty-at-rest"\ndo = "Inspect'))
    hands = Hands(cast.technician, another(cast, job, own_kit.name_of(given)))
    hands.begin()
    with pytest.raises(Refused, match="Air stays trapped in the negative chamber. No step of this job tests that."):
        hands.until(None)
    assert not StepEntry.objects.filter(job=hands.job, verdict="passed").exists()
    assert [each.entry.job for each in unit_dangers.of_units([job.unit_id or 0])[job.unit_id or 0]] == [job]
    assert any(each.hard and "Air stays trapped" in each.words for each in contradictions.faults_of(hands.job))


def _lifts(failed: tuple[str, Step | None], passed: tuple[str, Step | None], *, one_text: bool = False) -> bool:
    """Whether the second lifts the first, each by its procedure and its step; None where its text is not kept."""
    rows = [
        StepEntry(procedure=name, procedure_hash="one" if one_text else str(n), step_key="point", evidence={})
        for n, (name, _) in enumerate((failed, passed))
    ]
    known = {
        (row.procedure_hash, "point"): step
        for row, (_, step) in zip(rows, (failed, passed), strict=True)
        if step is not None
    }
    return danger._same_point(rows[0], rows[1], known)


def _own(text: str = own_kit.TEXT, key: str = "lip") -> Step:
    whole = read.pinned("own:wiper-care:1", text, variables.VOCABULARY).procedure
    return next(step for step in whole.steps() if step.key == key)


PROOF = next(step for step in OURS.procedure.steps() if step.key == "empty-at-rest")
GAP = next(step for step in OURS.procedure.steps() if step.key == "crown-gap")
ONE, TWO, OTHER, SHIPPED = "own:wiper-care:1", "own:wiper-care:2", "own:seal-care:1", "lower-leg-service"
WIDER = own_kit.TEXT.replace('pass = ["Whole"]', 'pass = ["Torn"]')
NO_HOLD = own_kit.TEXT.replace("hold = true\n", "")
ANOTHER = own_kit.TEXT.replace('{ key = "lip", kind', '{ key = "lips", kind')


@pytest.mark.parametrize(
    ("failed", "passed", "lifts"),
    [
        ((SHIPPED, PROOF), (OURS.procedure.key, PROOF), True),
        ((SHIPPED, PROOF), (ONE, PROOF), True),  # its group is included, word for word
        ((SHIPPED, PROOF), (ONE, _own()), False),
        ((SHIPPED, GAP), (ONE, _own()), False),
        ((ONE, _own()), (SHIPPED, PROOF), False),
        ((ONE, _own()), (TWO, _own()), True),
        ((ONE, _own()), (TWO, _own(WIDER)), True),  # an owner mended the band of the same thing
        ((ONE, _own()), (OTHER, _own(WIDER)), False),
        ((ONE, _own()), (OTHER, _own()), True),
        ((ONE, _own()), (TWO, _own(NO_HOLD)), False),
        ((ONE, _own()), (TWO, _own(ANOTHER)), False),
        ((ONE, _own()), (TWO, None), False),
        ((ONE, None), (TWO, _own()), True),
    ],
)
def test_what_lifts_what(failed: Any, passed: Any, lifts: bool) -> None:
    assert _lifts(failed, passed) is lifts
    assert _lifts(failed, passed, one_text=True), "under one text a key is one step"


def test_a_key_of_ours_is_one_point_in_every_procedure_of_ours() -> None:
    """Their passes count for each other by the key alone."""
    seen: dict[str, tuple[str, Any]] = {}
    for name in library.shipped_keys():
        for step in read.shipped(name, variables.VOCABULARY).procedure.steps():
            if step.holds_back:
                asks = [danger._judged_by(each) for each in step.evidence]
                first, told = seen.setdefault(step.key, (name, (step.blocks, asks)))
                assert told == (step.blocks, asks), (step.key, first, name)
    assert len(seen) > 20
