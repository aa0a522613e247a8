"""What is dangerous on units and bikes, over all their jobs: one that was handed over charged stays so, whoever brings it next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence

from django.db.models import Exists, OuterRef, QuerySet

from topout.web.jobs.core import danger
from topout.web.jobs.core.danger import Danger
from topout.web.jobs.core.other_jobs import OtherJobs
from topout.web.jobs.records import own, readings, texts
from topout.web.jobs.records.models import Job, Reading, StepEntry
from topout.web.prepared import Among, Given, Prepared


def _ever(units: Given) -> QuerySet[Job]:
    """Their jobs that ever failed a point or had a reading corrected."""
    failed = StepEntry.objects.filter(job=OuterRef("pk"), verdict="failed")
    corrected = Reading.objects.filter(job=OuterRef("pk"), corrects__isnull=False)
    return Job.objects.filter(Exists(failed) | Exists(corrected), unit__in=Among(units)).order_by().only("unit")


_EVER = Prepared(_ever)
_TOLD = Prepared(
    lambda units: (
        StepEntry.objects.filter(job__unit__in=Among(units), verdict__in=("passed", "failed", "struck"))
        .select_related("job")
        .order_by("pk")
    )
)
_CORRECTIONS = Prepared(
    lambda units: Reading.objects.filter(job__unit__in=Among(units)).exclude(corrects=None).select_related("instrument")
)


def of_units(units: Collection[int]) -> dict[int, tuple[Danger, ...]]:
    """What is dangerous on these units, by their primary keys: over all their jobs, in the order in which it was signed.

    One that was handed over charged stays so until its point passes, on whichever job. One question where no job of theirs
    ever failed a point or had a reading corrected, four else, for one unit as for many.
    """
    suspected = {job.unit_id or 0 for job in _EVER.all(units)} if units else set()
    if not suspected:
        return {}
    entries, rows = defaultdict[Job, list[StepEntry]](list), defaultdict[int, list[Reading]](list)
    for entry in _TOLD.all(suspected):
        entries[entry.job].append(entry)
    for row in _CORRECTIONS.all(suspected):
        rows[row.job_id].append(row)
    kept = texts.kept_of({entry.procedure_hash for each in entries.values() for entry in each})
    judged: dict[int, list[tuple[StepEntry, bool]]] = defaultdict(list)
    for job, each in entries.items():
        corrections = readings.corrections(rows[job.pk])
        judged[job.unit_id or 0] += danger.judged(each, readings.in_place(rows[job.pk]), corrections)
    found_ = {unit: danger.standing_of(sorted(each, key=lambda one: one[0].pk), kept) for unit, each in judged.items()}
    lifted = _passed_on_bike([each for dangers in found_.values() for each in dangers if each.of_bike])
    left = {unit: tuple(each for each in dangers if each.entry.pk not in lifted) for unit, dangers in found_.items()}
    return {unit: dangers for unit, dangers in left.items() if dangers}


def _passed_on_bike(of_bike: Sequence[Danger]) -> set[int]:
    """The entries of these dangers whose point passed later on the same bike, at a job of whichever unit; ours are told by their key."""
    bikes = {each.entry.job.bike_id for each in of_bike} - {None}
    if not bikes:
        return set()
    keys = {each.entry.step_key for each in of_bike}
    rows = StepEntry.objects.filter(verdict="passed", step_key__in=keys, job__bike__in=bikes).select_related("job")
    passes = [row for row in rows if not own.is_own(row.procedure)]
    return {
        each.entry.pk
        for each in of_bike
        if any(
            row.step_key == each.entry.step_key and row.job.bike_id == each.entry.job.bike_id and row.pk > each.entry.pk
            for row in passes
        )
    }


def loaded_anywhere() -> dict[int, Danger]:
    """Every unit of the Book that must not be opened, by its primary key, with the first danger by which it must not.

    The database leaves out units of which every point that failed was passed later under the same text.
    """
    of_point = {"job__unit": OuterRef("job__unit"), "step_key": OuterRef("step_key"), "pk__gt": OuterRef("pk")}
    passed = StepEntry.objects.filter(verdict="passed", procedure_hash=OuterRef("procedure_hash"), **of_point)
    struck = StepEntry.objects.filter(verdict="struck", **of_point)
    failed = StepEntry.objects.filter(~Exists(passed) | Exists(struck), verdict="failed", job__unit__isnull=False)
    # What was read again at its step is judged there; a correction on the card alone makes a pass a failure.
    corrected = Reading.objects.filter(corrects__isnull=False, step_entries=None, job__unit__isnull=False)
    units = {
        unit for rows in (failed, corrected) for unit in rows.order_by().values_list("job__unit", flat=True).distinct()
    }
    first = ((unit, next((each for each in dangers if each.loaded), None)) for unit, dangers in of_units(units).items())
    return {unit: each for unit, each in first if each is not None}


def of_other_jobs(job: Job, jobs: OtherJobs | None = None) -> tuple[Danger, ...]:
    """What is dangerous on the job's unit by any other of its jobs; of another bike that it stood on, nothing.

    `jobs` are those, where they were asked for already.
    """
    known = jobs if jobs is not None else OtherJobs(job.unit_id, job.pk)
    of_unit = of_units([job.unit_id]).get(job.unit_id, ()) if job.unit_id is not None and known.suspected else ()
    return tuple(each for each in of_unit if each.entry.job_id != job.pk and each.tells_of(job.bike_id))


def of_bike(bike: int, beside: Collection[int]) -> dict[int, tuple[Danger, ...]]:
    """What is dangerous on a bike: on the units `beside` it, and on the bike itself by jobs of units that have left it."""
    jobs = Job.objects.filter(bike=bike).exclude(unit=None).order_by()
    found_ = of_units({*beside, *jobs.values_list("unit", flat=True)})
    told = {
        unit: tuple(each for each in dangers if each.tells_of(bike) and (each.of_bike or unit in beside))
        for unit, dangers in found_.items()
    }
    return {unit: dangers for unit, dangers in told.items() if dangers}


def loaded_of(job: Job) -> Danger | None:
    """The first danger for which the job's unit must not be opened, found by whichever of its jobs."""
    return next((each for each in (*danger.of(job), *of_other_jobs(job)) if each.loaded), None)
