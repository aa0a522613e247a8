"""A unit that lies open at one of its other jobs: no air goes in and no coil is wound up here before that job has closed it."""

from __future__ import annotations

from topout.errors import TopoutError
from topout.web.book.models import Unit
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps.progress import Progress, Slot, walk

OPENS, LOADS = ("opens", "ring-out"), ("pumps", "loads")  # roles


def loads(slot: Slot) -> bool:
    """Whether a step pumps, or winds a coil up."""
    return _does(slot, LOADS)


def refusal(unit: Unit | None, but: Job) -> str:
    """Why a step of job `but` loads nothing of this unit now; "" where no other job has it open."""
    if unit is None:
        return ""
    begun = Job.objects.filter(unit=unit, releases=None, pk__in=StepEntry.objects.values("job")).exclude(pk=but.pk)
    for job in begun.order_by("number"):
        try:
            at = _open_at(walk(job))
        except TopoutError:
            continue
        if at is not None:
            same = "the same unit" if unit.pk == but.unit_id else str(unit)
            return (
                f"Job {job.number}, {same}: it lies open there, and step {at.words} of that job comes before any load. Close it there first, "
                "or hand that job over as not fit to ride."
            )
    return ""


def _open_at(here: Progress) -> Slot | None:
    """The first step that is still to do between what was opened last and what loads it again; None where it is closed, or was never open."""
    opened = [n for n, slot in enumerate(here.slots) if _does(slot, OPENS) and here.passed(slot)]
    if not opened:
        return None
    for slot in here.slots[opened[-1] + 1 :]:
        if loads(slot):
            return None
        if not here.settled(slot):
            return slot
    return None


def _does(slot: Slot, roles: tuple[str, ...]) -> bool:
    return any(slot.step.has(role) for role in roles)
