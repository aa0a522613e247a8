"""What a job's steps depend on: by its plan or card, by what there was when the work began, by what was answered since."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from topout.procedures.model import BIKE, Procedure
from topout.web.jobs.core import steps
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps.slots import choices

SECOND: Final = "second"  # whether there is a second air chamber
NEGATIVE: Final = "negative"  # what stands in for a negative chamber
OWN_VALVE: Final = "separate-valve"  # of the negative chamber
NEGATIVE_VALVE: Final = "negative-valve"  # whether that valve is looked for
KEPT: Final = (SECOND, NEGATIVE)  # with the entry that began the work


def of_job(job: Job, procedure: Procedure, entries: Sequence[StepEntry], plan: steps.PlanNumbers) -> dict[str, str]:
    """Every condition of this job.

    A second chamber, or a negative one's valve, that was there when the work began, and that the Book has no more, is looked for: a
    line of the Book lets no air out.
    """
    now = steps.conditions(plan)
    gone: dict[str, str] = {}
    if _began(entries, SECOND) == "here" and now[SECOND] == "none":
        gone[SECOND] = "not-known"
    if _began(entries, NEGATIVE) == OWN_VALVE != now[NEGATIVE]:
        looks = any(key == NEGATIVE_VALVE for step in procedure.steps() for key, _ in step.when)
        gone |= {NEGATIVE_VALVE: "look"} if looks else {NEGATIVE: OWN_VALVE}  # a text of before lets it out as it did
    return {**now, **procedure.answered(choices(entries)), BIKE: bike(job, entries), **gone}


def bike(job: Job, entries: Sequence[StepEntry]) -> str:
    """Whether the unit came with its bike: "here", or "away" where it came alone and alone it still is.

    What was so when the work began stays so: a bike taken off the card later takes no step out of the job.
    """
    begun = _began(entries, BIKE)
    alone = job.bike_id is None and job.unit_id is not None
    if begun is None and entries:
        return "here"
    return "away" if alone and begun in (None, "away") else "here"


def _began(entries: Sequence[StepEntry], condition: str) -> str | None:
    """What this was when the work began; None where no entry says it."""
    return next((entry.evidence[condition] for entry in entries if condition in entry.evidence), None)
