"""A unit that lies open by one of its other jobs: no air goes in and no coil is wound up here before somebody has closed it.

While that job is under way, it closes it. One that went back not fit to ride lies open until a job has opened and closed the
same, or until it came in with air in it: then it was closed somewhere else.
"""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Exists, OuterRef, Q

from topout.errors import TopoutError
from topout.web.book.models import Unit
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import Job, Reading, Release, StepEntry
from topout.web.jobs.steps.progress import Progress, Slot, walk

OPENS, LOADS = ("opens", "ring-out"), ("pumps", "loads")  # roles


def loads(slot: Slot) -> bool:
    """Whether a step pumps, or winds a coil up."""
    return _does(slot, LOADS)


def refusal(unit: Unit | None, but: Job) -> str:
    """Why a step of job `but` loads nothing of this unit now; "" where no other job has left it open."""
    if unit is None:
        return ""
    same = "the same unit" if unit.pk == but.unit_id else str(unit)
    begun = Job.objects.filter(unit=unit, releases=None, pk__in=StepEntry.objects.values("job")).exclude(pk=but.pk)
    for job in begun.order_by("number"):
        at = _open_at(job)
        if at is not None:
            return (
                f"Job {job.number}, {same}: it lies open there, and step {at.words} of that job comes before any load. Close it there first, "
                "or hand that job over as not fit to ride."
            )
    last = went_back(unit, but)
    at = _open_at(last.job) if last is not None else None
    if last is None or at is None or _closed_since(unit, last, but):
        return ""
    return (
        f"Job {last.job.number}, {same}: it went back open, not fit to ride, and nobody signed step {at.words} of that job, which comes "
        "before any load. Take it through that procedure again. Where it came in closed, with air in it, write down the pressure as found."
    )


def went_back(unit: Unit, but: Job) -> Release | None:
    """The last release of a unit by another job, where it was not fit to ride and steps were begun; None where it was fit.

    One that was taken in and handed back not fit without a step tells nothing of it: what the job before it left open is open still.
    """
    releases = Release.objects.filter(job__unit=unit).exclude(job=but).select_related("job").order_by("-pk")
    worked = StepEntry.objects.filter(job=OuterRef("job"))
    last = releases.filter(Q(fit_to_ride=True) | Exists(worked)).first()
    return None if last is None or last.fit_to_ride else last


def _closed_since(unit: Unit, release: Release, but: Job) -> bool:
    """Whether a later job opened all that this one did, to go on past it in its own order, or found air in the unit.

    At job `but` a unit of the other end is found by a reading of that end.
    """
    opened = {slot.step.key for slot in _opened(walk(release.job))}
    since = StepEntry.objects.filter(job__unit=unit, verdict="passed", step_key__in=opened, at__gt=release.at)
    by_job = defaultdict[int, set[str]](set)
    for job, key in since.values_list("job", "step_key"):
        by_job[job].add(key)
    if any(keys == opened for keys in by_job.values()):
        return True
    of_unit = Q(job__unit=unit, kind="pressure")
    if unit.pk != but.unit_id:
        of_unit |= Q(job=but, kind__in=[kind for kind, what in BESIDE.items() if what == "pressure"])
    found = Reading.objects.filter(of_unit, stage="as-found", at__gt=release.at, value_si__gt=0)
    return found.exclude(pk__in=Reading.objects.exclude(corrects=None).values("corrects")).exists()


def _open_at(job: Job) -> Slot | None:
    """The first step that is still to do between what was opened last and what loads it again; None where it is closed, or was never open."""
    try:
        here = walk(job)
    except TopoutError:
        return None
    opened = _opened(here)
    if not opened:
        return None
    for slot in here.slots[here.at(opened[-1]) + 1 :]:
        if loads(slot):
            return None
        if not here.settled(slot):
            return slot
    return None


def _opened(here: Progress) -> list[Slot]:
    return [slot for slot in here.slots if _does(slot, OPENS) and here.passed(slot)]


def _does(slot: Slot, roles: tuple[str, ...]) -> bool:
    return any(slot.step.has(role) for role in roles)
