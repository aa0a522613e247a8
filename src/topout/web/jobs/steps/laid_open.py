"""A unit that lies open by one of its other jobs: no air goes in and no coil is wound up here before somebody has closed it.

While that job is under way, it closes it. One that went back not fit to ride lies open until a job has opened and closed the
same, or until it came in with air in it: then it was closed somewhere else.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Max, Q

from topout.errors import TopoutError
from topout.procedures import opening
from topout.procedures.model import Step
from topout.web.book.models import Unit
from topout.web.jobs.core import danger
from topout.web.jobs.core.other_jobs import OtherJobs
from topout.web.jobs.core.steps import SLACK, WIDEST_OF_NOTHING_PA
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import Job, Reading, Release, StepEntry
from topout.web.jobs.steps.progress import Progress, Slot, entries_of, walk
from topout.web.jobs.steps.slots import BY_MISTAKE, OPENS

LOADS = ("pumps", "loads")  # roles


@dataclass(frozen=True)
class _Open:
    """How a job has left its unit open: the steps that opened it, by key, and what comes before any load, the rest of a sentence."""

    keys: frozenset[str]
    before: str


def loads(slot: Slot) -> bool:
    """Whether a step pumps, or winds a coil up."""
    return does(slot.step, LOADS)


def does(step: Step, roles: tuple[str, ...]) -> bool:
    """Whether a step does any of this, by its roles or by its words."""
    return any(opening.does(step, role) for role in roles)


@dataclass(frozen=True)
class Lies:
    """By which job a unit lies open, and what comes there before any load; whether it went back so, or the job is under way."""

    job: Job
    before: str
    went_back: bool


def lies(unit: Unit, but: Job | None = None, jobs: OtherJobs | None = None) -> Lies | None:
    """By which of its jobs but one a unit lies open; None where it is closed. `jobs` are those, where they were asked for."""
    known = jobs if jobs is not None else OtherJobs(unit.pk, 0 if but is None else but.pk)
    for job in Job.objects.filter(pk__in=known.under_way).order_by("number") if known.under_way else ():
        left = _left_open(job)
        if left is not None:
            return Lies(job, left.before, went_back=False)
    last = went_back(known)
    left = _left_open(last.job) if last is not None else None
    if last is None or left is None or _closed_since(unit, last, left.keys, but):
        return None
    return Lies(last.job, left.before, went_back=True)


def refusal(unit: Unit | None, but: Job, jobs: OtherJobs | None = None) -> str:
    """Why a step of job `but` loads nothing of this unit now; "" where no other job has left it open. `jobs` as for `lies`."""
    found = None if unit is None else lies(unit, but, jobs)
    if found is None:
        return ""
    same = "the same unit" if unit is not None and unit.pk == but.unit_id else str(unit)
    if not found.went_back:
        return (
            f"Job {found.job.number}, {same}: it lies open there, and {found.before} Close it there first, or hand that job over as not "
            "fit to ride."
        )
    return (
        f"Job {found.job.number}, {same}: it went back open, not fit to ride, and {found.before} Take it through that procedure again. "
        "Where it came in closed, with air in it, write down the pressure as found."
    )


def went_back(jobs: OtherJobs) -> Release | None:
    """The release by which a unit went back last, not fit to ride, its steps begun; None where it was fit, or never went back."""
    return None if jobs.went_back is None else Release.objects.select_related("job").get(pk=jobs.went_back)


def _closed_since(unit: Unit, release: Release, opened: frozenset[str], but: Job | None) -> bool:
    """Whether a later job opened all that this one did, to go on past it in its own order, or found air in the unit: more than a gauge may show on nothing.

    Later is what was written after the hand-over, by the clock, and after all that this job wrote: a clock may have stood back then. At job `but`, where one asks, a unit of the other end is found by a reading of that end.
    """
    since = StepEntry.objects.filter(job__unit=unit, verdict="passed", step_key__in=opened, at__gt=release.at)
    since = since.filter(pk__gt=_last(StepEntry, release.job))
    by_job = defaultdict[int, set[str]](set)
    for job, key in since.values_list("job", "step_key"):
        by_job[job].add(key)
    if any(keys == opened for keys in by_job.values()):
        return True
    of_unit = Q(job__unit=unit, kind="pressure")
    if but is not None and unit.pk != but.unit_id:
        of_unit |= Q(job=but, kind__in=[kind for kind, what in BESIDE.items() if what == "pressure"])
    of_air = of_unit & Q(stage="as-found", value_si__gt=WIDEST_OF_NOTHING_PA * (1 + SLACK))
    since_then = Q(at__gt=release.at, pk__gt=_last(Reading, release.job))
    return Reading.objects.filter(of_air, since_then, corrected_by=None).exists()


def _last(rows: type[StepEntry | Reading], job: Job) -> int:
    """The last row that a job wrote: who hands it over wrote how it was found."""
    last: int | None = rows.objects.filter(job=job).aggregate(last=Max("pk"))["last"]
    return last or 0


def _left_open(job: Job) -> _Open | None:
    """What a job has open now; None where it is closed, or was never open."""
    try:
        here = walk(job)
    except TopoutError as lost:
        keys = _opened_by_texts(job)
        return _Open(keys, f"where its steps stand can’t be read: {lost}") if keys else None
    opened = [slot for slot in here.slots if does(slot.step, OPENS) and is_off(here, slot)]
    if not opened:
        return None
    keys = frozenset(slot.step.key for slot in opened)
    for slot in here.slots[here.at(opened[-1]) :]:
        if loads(slot):
            return None
        if not here.settled(slot):
            return _Open(keys, f"nobody signed step {slot.words} of that job, which comes before any load.")
    return None


def is_off(here: Progress, slot: Slot) -> bool:
    """Whether what a step takes off is off: signed, and by a tick that was taken back too, unless it was a slip."""
    last = next((e for e in reversed(here.entries) if e.step_key == slot.step.key and e.verdict != "failed"), None)
    struck = last is not None and last.verdict == "struck" and last.evidence["reason"] != BY_MISTAKE
    return struck or here.passed(slot)


def _opened_by_texts(job: Job) -> frozenset[str]:
    """The steps that a job was opened by since it loaded its unit last, where its steps can't be walked: by the texts that they were signed under.

    A step of a text that is not kept may have opened it.
    """
    entries = [entry for entry in entries_of(job) if entry.verdict == "passed"]
    known, opened = danger.steps_kept({entry.procedure_hash for entry in entries}), set[str]()
    for entry in entries:
        step = known.get((entry.procedure_hash, entry.step_key))
        if step is None or does(step, OPENS):
            opened.add(entry.step_key)
        elif does(step, LOADS):
            opened.clear()
    return frozenset(opened)
