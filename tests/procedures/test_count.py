"""How many screens, taps and typed figures a procedure asks for, where the reversible steps of a group stand on one page."""

from __future__ import annotations

import pytest

from procedures.plans import a_plan
from topout.planner.plan_numbers import conditions
from topout.planner.variables import VOCABULARY
from topout.procedures.model import Procedure, Step
from topout.procedures.read import shipped

ROUNDS = 3  # 40, 70, 70 psi: what the filling schedule gives the demo's fork on a gauge with 1 psi marks
CEILINGS = {  # trade.md 7, "What a bench will put up with": screens, taps with typed figures
    "travel-change-by-air-shaft": (40, 100),
    "lower-leg-service": (20, 45),
    "pressure-and-spacers": (8, 20),
}  # fmt: skip
# The demo's fork goes longer, with another wheel: the job that asks for most.
JOBS = {
    "shorter": conditions(a_plan()),
    "longer, another wheel": conditions(a_plan(wheel_changed=True)) | {"travel": "longer"},
}


def answers(step: Step) -> int:
    """Taps and figures of one step: each piece that may not be left out; what the card has already is one tap together."""
    asked = [each for each in step.evidence if not each.optional]
    card = [each for each in asked if each.card is not None and each.card[0] == "as-found"]
    return len(asked) - len(card) + bool(card)


def counted(procedure: Procedure, job: dict[str, str]) -> tuple[int, int]:
    """Screens, and taps with typed figures: a page of a group, or a hold point, is a screen, and one tap more to go on."""
    screens = taps = 0
    for page in procedure.pages(job):
        times = ROUNDS if page.steps[0].rounds is not None else 1
        screens += times
        taps += times * (1 + sum(map(answers, page.steps)))
    return screens, taps


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("key", CEILINGS)
def test_no_procedure_asks_for_more_than_a_bench_will_put_up_with(key: str, job: str) -> None:
    screens, taps = counted(shipped(key, VOCABULARY).procedure, JOBS[job])
    print(f"{key}, {job}: {screens} screens, {taps} taps and figures")
    most = CEILINGS[key]
    assert screens <= most[0] and taps <= most[1]


def test_a_hold_stands_alone_and_no_page_runs_across_one() -> None:
    for key in CEILINGS:
        procedure = shipped(key, VOCABULARY).procedure
        for job in JOBS.values():
            pages = procedure.pages(job)
            assert [step for page in pages for step in page.steps] == list(procedure.applying(job))
            for page in pages:
                assert len(page.steps) == 1 or not any(step.hold for step in page.steps)
                assert {procedure.group_of(step) for step in page.steps} == {page.group}
