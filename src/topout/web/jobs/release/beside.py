"""What stands against a job's release and belongs to another job: of the same unit, or of what else leaves with the same bike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from django.db.models import Q
from django.utils import timezone

from topout.web.book import ends
from topout.web.book.models import Bike, Unit
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.core.other_jobs import OtherJobs
from topout.web.jobs.readings import show
from topout.web.jobs.records.kinds import label
from topout.web.jobs.records.models import Job, Reading, StepEntry
from topout.web.jobs.steps import laid_open, sign


def read_before_another(job: Job, left: Mapping[str, Reading]) -> dict[str, Reading]:
    """The readings as left that were taken before another job left this unit: what that one left is newer."""
    last = (job.unit.left or {}) if job.unit is not None else {}
    if "at" not in last or last.get("job") == job.number:
        return {}
    at = datetime.fromisoformat(last["at"])
    return {kind: row for kind, row in left.items() if row.at < at}


def left_otherwise(job: Job, left: Mapping[str, Reading]) -> Iterator[str]:
    """Those of them that say another figure than that job did, in a sentence each."""
    last = (job.unit.left or {}) if job.unit is not None else {}
    for kind, row in read_before_another(job, left).items():
        now, here = last.get("readings", {}).get(kind, ""), show.in_short(row)
        if now and now != here:
            at, out = (timezone.localtime(each) for each in (row.at, datetime.fromisoformat(last["at"])))
            yield (
                f"{label(kind)}: {here} was read at {at:%H:%M}, and job {last['job']} left the same unit with {now} at {out:%H:%M} since. "
                "Read it again."
            )


def bikes_of(job: Job) -> list[Bike]:
    """The bike that the job was taken in with, and the one that its unit stands on now: it leaves with that one."""
    now = job.unit.bike if job.unit is not None else None
    return list({bike.pk: bike for bike in (job.bike, now) if bike is not None}.values())


def under_way(job: Job) -> Iterator[tuple[str, bool]]:
    """Other jobs whose steps are begun and not all signed: in a sentence, and whether it is the same unit.

    What lies open at another job is not fit to ride, whatever this one did.
    """
    begun = Job.objects.filter(releases=None, pk__in=StepEntry.objects.values("job")).exclude(pk=job.pk)
    bikes, there = bikes_of(job), dict[int, str]()
    for bike in bikes:
        found = list(ends.beside(bike, job.taken_in_at))
        on = {unit.what.noun for unit, _ in found if unit.bike_id == bike.pk}
        # What came off lies open without harm to the bike once another one stands there; what is charged is told all the same.
        there |= {unit.pk: where for unit, where in found if unit.bike_id == bike.pk or unit.what.noun not in on}
    of_bike = Q(unit__in=list(there)) | Q(bike__in=bikes, unit=None)
    of_unit = Q(unit=job.unit) if job.unit is not None else Q(pk__in=())
    for other in begun.filter(of_unit | of_bike).order_by("number").select_related("unit__family", "rider", "bike"):
        if sign.finished(other):
            continue
        at = sign.where(other)
        same = other.unit_id == job.unit_id
        what = (
            "the same unit"
            if same
            else f"{other.unit or 'another unit'} {there.get(other.unit_id or 0, 'on the same bike')}"
        )
        open_ = f"step {at.number} of {at.count} is open." if at.kind != "no-steps" else at.sentence
        yield f"Job {other.number}, {what}: {open_}", same


def went_back_open(job: Job) -> Iterator[str]:
    """Units that went back last not fit to ride, their steps not all signed: the job's own, and what stands on the bike beside it.

    A job whose own steps are all signed says of its unit itself; one without steps would hand over what the other one left open.
    """
    units = [] if job.unit is None or _gone_through(job) else [(job.unit, "the same unit")]
    for bike in bikes_of(job):
        units += [(unit, f"{unit} on the same bike") for unit in ends.standing(bike) if unit.pk != job.unit_id]
    for unit, what in units:
        last = laid_open.went_back(OtherJobs(unit.pk, job.pk))
        if last is None or sign.finished(last.job):
            continue
        if any(each.entry.job_id == last.job_id for each in unit_dangers.of_units([unit.pk]).get(unit.pk, ())):
            continue  # told with what it failed at
        where = sign.where(last.job)
        open_ = f"step {where.number} of {where.count} open" if where.kind != "no-steps" else "its steps not all signed"
        yield f"Job {last.job.number}, {what}, went back not fit to ride, {open_}."


def _gone_through(job: Job) -> bool:
    return StepEntry.objects.filter(job=job).exists() and sign.finished(job)


def dangers_on_the_bike(job: Job) -> Iterator[str]:
    """What is dangerous on the job's bike, and on the other units that leave with it, by whichever job, in a sentence each."""
    for bike in bikes_of(job):
        there = {unit.pk: where for unit, where in ends.beside(bike, job.taken_in_at)}
        found = unit_dangers.of_bike(bike.pk, there)
        units = Unit.objects.in_bulk(found)
        for pk, dangers in found.items():
            for each in dangers:
                if pk != job.unit_id or each.of_bike and bike.pk != job.bike_id:  # else told as the unit's own
                    yield f"Job {each.entry.job.number}, {units[pk]} {there.get(pk, 'on this bike then')}: {each.told}"
