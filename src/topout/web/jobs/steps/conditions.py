"""What a job's steps depend on: by its plan or card, by what there was when the work began, by what was answered since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from topout.procedures import opening
from topout.procedures.model import BIKE, UNIT, Procedure, Step
from topout.web.jobs.core import steps
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps.slots import BY_MISTAKE, OPENS, choices

SECOND: Final = "second"  # whether there is a second air chamber
NEGATIVE: Final = "negative"  # what stands in for a negative chamber
OWN_VALVE: Final = "separate-valve"  # of the negative chamber
NEGATIVE_VALVE: Final = "negative-valve"  # whether that valve is looked for
HUNG_ON: Final = "hung_on"  # in the evidence of a step that takes something off
_WHAT_IT_IS: Final = (NEGATIVE, NEGATIVE_VALVE, "port", SECOND)
_KEPT: Final = (SECOND, NEGATIVE)  # with the entry that began the work, and with one of which they were another


def of_job(job: Job, procedure: Procedure, entries: Sequence[StepEntry], plan: steps.PlanNumbers) -> dict[str, str]:
    """Every condition of this job.

    What took something off stays a step of the job, whatever a later plan says: so do those that put it back. A second chamber, or a negative one's valve, that was there when the work began, or at any step since, and that the Book has no
    more, is looked for: a line of the Book lets no air out.
    """
    now = steps.conditions(plan)
    gone: dict[str, str] = {}
    if now[SECOND] == "none" and "here" in _told(entries, SECOND):
        gone[SECOND] = "not-known"
    if now[NEGATIVE] != OWN_VALVE and OWN_VALVE in _told(entries, NEGATIVE):
        looks = any(key == NEGATIVE_VALVE for step in procedure.steps() for key, _ in step.when)
        gone |= {NEGATIVE_VALVE: "look"} if looks else {NEGATIVE: OWN_VALVE}  # a text of before lets it out as it did
    found = {**now, **procedure.answered(choices(entries)), BIKE: bike(job, entries), UNIT: job.noun, **gone}
    steps_ = {step.key: step for step in procedure.steps()}
    for key, hung in _taken_off(entries).items():
        kept = {name for name, allowed in steps_[key].when if found[name] not in allowed} if key in steps_ else set()
        found |= {name: hung[name] for name in kept if name in hung}
    return found


def _taken_off(entries: Sequence[StepEntry]) -> dict[str, dict[str, str]]:
    """What each step hung on that took something off, by its key; a tick that was a slip took nothing off."""
    found: dict[str, dict[str, str]] = {}
    for entry in entries:
        if entry.verdict == "passed" and HUNG_ON in entry.evidence:
            found[entry.step_key] = entry.evidence[HUNG_ON]
        elif entry.verdict == "struck" and entry.evidence["reason"] == BY_MISTAKE:
            found.pop(entry.step_key, None)
    return found


def hung_on(step: Step, now: Mapping[str, str]) -> dict[str, str]:
    """What a step of the plan's hangs on that takes something off, for its entry; what the unit is, the Book may put right."""
    takes_off = any(opening.does(step, role) for role in (*OPENS, "wheel-out"))
    return {name: now[name] for name, _ in step.when if name not in _WHAT_IT_IS} if takes_off else {}


def bike(job: Job, entries: Sequence[StepEntry]) -> str:
    """Whether the unit came with its bike: "here", or "away" where it came alone and alone it still is.

    What was so when the work began stays so: a bike taken off the card later takes no step out of the job.
    """
    begun = next(iter(_told(entries, BIKE)), None)
    alone = job.bike_id is None and job.unit_id is not None
    if begun is None and entries:
        return "here"
    return "away" if alone and begun in (None, "away") else "here"


def news(entries: Sequence[StepEntry], now: Mapping[str, str]) -> dict[str, str]:
    """Of what is kept with the entries that which the last of them does not say, for the next one."""
    return {name: now[name] for name in _KEPT if now[name] != next(reversed(_told(entries, name)), None)}


def _told(entries: Sequence[StepEntry], condition: str) -> list[str]:
    """What the entries say of it, the one that began the work first."""
    return [entry.evidence[condition] for entry in entries if condition in entry.evidence]
