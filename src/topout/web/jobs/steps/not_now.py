"""Why a step is not to be done now, whatever would be read at it: said on its page before anybody reaches for the pump, and refused at signing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

from topout.procedures.roles import SHUT
from topout.web.book.models import Unit
from topout.web.jobs.core import danger, unit_dangers
from topout.web.jobs.core.other_jobs import OtherJobs
from topout.web.jobs.steps import emptied, judged, laid_open
from topout.web.jobs.steps.judged import Refused
from topout.web.jobs.steps.progress import Progress, Slot


class Around:
    """What other jobs of a job's unit found, left open and signed; each is asked for once, for all steps of a page."""

    def __init__(self, here: Progress) -> None:
        self.here, self.jobs = here, OtherJobs(here.job.unit_id, here.job.pk)
        self.elsewhere = emptied.Elsewhere(here)

    @cached_property
    def dangers(self) -> tuple[danger.Danger, ...]:
        """What is dangerous on the unit by them."""
        return unit_dangers.of_other_jobs(self.here.job, self.jobs)


def said(here: Progress, slots: Iterable[Slot]) -> str:
    """The first reason against the first of these steps that has one; "" where none has."""
    around = Around(here)
    for slot in slots:
        try:
            found = why(around, slot, judged.other_unit(here, slot))
        except Refused as refused:
            found = str(refused)
        if found:
            return found
    return ""


def why(around: Around, slot: Slot, other: Unit | None) -> str:
    """Why nobody does this step now: what another job found or left open, a point that failed or a cap that was left before air goes in, a proof older than the last load, a limit; "" where nothing is.

    `other` is the unit at the other end where the step sets something there.
    """
    here, others = around.here, around.dangers
    if closed := _closed_by_another_job(here, slot, others):
        return closed
    stop = next((each for each in (*here.failed_holds, *others) if each.stops and each.point != slot.key), None)
    if stop is not None and laid_open.loads(slot):
        return f"{stop.title} Nothing is pumped or wound up before that point passes, whatever the order of the steps."
    if unshut := _left_open_here(here, slot):
        return unshut
    if stale := emptied.refusal(here, slot, others, around.elsewhere):
        return stale
    if over := judged.over_limit(here, slot, other):
        return over
    if other is not None:
        return laid_open.refusal(other, here.job)
    return laid_open.refusal(here.job.unit, here.job, around.jobs) if laid_open.loads(slot) else ""


def _left_open_here(here: Progress, slot: Slot) -> str:
    """Why nothing is pumped or wound up now: what closes the unit again was left “not done”, or nobody knows; "" where it was not."""
    if not laid_open.loads(slot):
        return ""
    before = (each for each in here.slots if here.at(each) < here.at(slot) and each.step.has(SHUT))
    left = next((each for each in before if here.left(each)), None)
    if left is None:
        return ""
    return f"Step {left.words} was left: “{here.say(left, left.step.do)}” Nothing is pumped or wound up before that is done. Take back what was said there."


def _closed_by_another_job(here: Progress, slot: Slot, others: Sequence[danger.Danger]) -> str:
    """Why a hold point that failed at another job of the same unit closes this step; "" where none does.

    Open are the point itself and what comes before it here: there it is tested again.
    """
    for each in others:
        points = [one for one in here.slots if each.tested_by(here.procedure.key, one.step)]
        if not each.stops or any(here.at(slot) <= here.at(one) for one in points):
            continue
        told = f"Job {each.entry.job.number}, the same unit: {each.title}"
        if points:
            return f"{told} Step {points[0].words} tests that again, and comes first."
        return f"{told} No step of this job tests that. Test it by the steps of that job’s procedure, or hand it back not fit to ride."
    return ""
