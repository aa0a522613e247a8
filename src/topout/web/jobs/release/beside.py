"""What stands against a job's release and belongs to another job: of the same unit, or of what else is on the same bike."""

from __future__ import annotations

from collections.abc import Iterator

from topout.web.book.models import Unit
from topout.web.jobs.core import danger
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps import sign


def under_way(job: Job) -> Iterator[tuple[str, bool]]:
    """Other jobs whose steps are begun and not all signed: in a sentence, and whether it is the same unit.

    What lies open at another job is not fit to ride, whatever this one did.
    """
    begun = (
        Job.objects.filter(releases=None, pk__in=StepEntry.objects.values("job")).exclude(pk=job.pk).order_by("number")
    )
    of_unit = begun.filter(unit=job.unit) if job.unit is not None else begun.none()
    of_bike = begun.filter(bike=job.bike) if job.bike is not None else begun.none()
    for other in (of_unit | of_bike).distinct().select_related("unit__family", "rider", "bike"):
        if sign.finished(other):
            continue
        where = sign.where(other)
        same = other.unit_id == job.unit_id
        what = "the same unit" if same else f"{other.unit or 'another unit'} on the same bike"
        open_ = f"step {where.number} of {where.count} is open." if where.kind != "no-steps" else where.sentence
        yield f"Job {other.number}, {what}: {open_}", same


def dangers_on_the_bike(job: Job) -> Iterator[str]:
    """What is dangerous on the other units of the job's bike, by whichever job, in a sentence each."""
    units: dict[int, Unit] = job.bike.units.in_bulk() if job.bike is not None else {}
    units.pop(job.unit_id or 0, None)
    for unit, dangers in danger.of_units(units).items():
        for each in dangers:
            yield f"Job {each.entry.job.number}, {units[unit]} on the same bike: {each.told}"
