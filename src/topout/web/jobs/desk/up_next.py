"""What comes next on a job: derived from its records each time, kept nowhere."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.urls import reverse
from django.utils import timezone

from topout.errors import TopoutError
from topout.web import clock
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, Release, Remark, StepEntry
from topout.web.jobs.steps import progress, sign

Group = Literal["stand", "ready", "waits", "out"]


@dataclass(frozen=True)
class Next:
    """The next thing on a job: a sentence, what it waits for (shown bold), the button and where it goes."""

    group: Group
    sentence: str
    button: str
    place: str
    waits_for: str = ""
    note: str = ""
    blocked: bool = False
    waiting: bool = False  # for a time to be over, as in a leak test


@dataclass(frozen=True)
class Records:
    """What the next thing follows from; read once per job."""

    released: bool
    remark: Remark | None
    found: bool
    left: bool
    plan: FrozenPlan | None
    entry: StepEntry | None
    steps_done: bool


def records(job: Job) -> Records:
    """The newest of each kind."""
    newest = StepEntry.objects.filter(job=job).select_related("who").order_by("-sequence").first()
    stages = set(Reading.objects.filter(job=job, corrected_by=None).values_list("stage", flat=True))
    return Records(
        released=Release.objects.filter(job=job).exists(),
        remark=Remark.objects.filter(job=job, kind__in=("waits", "goes on")).order_by("-sequence").first(),
        found="as-found" in stages,
        left="as-left" in stages,
        plan=FrozenPlan.objects.filter(job=job).order_by("-sequence").first(),
        entry=newest,
        steps_done=_steps_done(job, newest),
    )


def _steps_done(job: Job, newest: StepEntry | None) -> bool:
    """Whether every step of the job's procedure is passed."""
    if not job.procedure:
        return True
    if newest is None:
        return False
    return sign.finished(job)


def next_of(job: Job, on_the_stand: bool = False) -> Next:
    """The next thing on a job. `on_the_stand`: it is the one that somebody last worked on."""
    have = records(job)
    card = reverse("job", args=[job.number])
    if have.released:
        return Next("out", "Handed over.", "Open the card", card)
    if have.remark is not None and have.remark.kind == "waits":
        return Next("waits", "", "Open the card", card, waits_for=have.remark.words)
    if not have.found:
        return Next(
            "ready",
            "Unpack it, look at it, and write down how it was.",
            "Take it in",
            reverse("readings", args=[job.number, "as-found"]),
        )
    if job.procedure and have.plan is None:
        return Next(
            "ready", "Work out what to set, and freeze the plan.", "Work it out", reverse("plan", args=[job.number])
        )
    if job.procedure and not have.steps_done:
        return _at_the_steps(job, have.entry, on_the_stand)
    if not have.left:
        return Next("ready", "Write down how it is left.", "As left", reverse("readings", args=[job.number, "as-left"]))
    return Next("ready", "Hand it over.", "Hand over", reverse("hand-over", args=[job.number]))


def _at_the_steps(job: Job, entry: StepEntry | None, on_the_stand: bool) -> Next:
    """Where the steps stand, in the words of the steps themselves."""
    place = reverse("steps", args=[job.number])
    where = sign.where(job)
    if where.kind == "no-steps":
        return Next(
            "waits", "", "Open the card", reverse("job", args=[job.number]), waits_for=where.sentence, blocked=True
        )
    if entry is None or where.kind == "ready":
        return Next("ready", f"Begin the steps: {where.sentence}", "Begin", place)
    broken = f"Step {where.number} of {where.count}, broken off at {timezone.localtime(entry.at):%H:%M}."
    if where.kind == "blocked":
        words = f"Step {where.number} of {where.count}. Every later step is closed until it passes."
        return Next("waits", "", "Open the step", place, waits_for=where.blocked, note=words, blocked=True)
    if where.kind == "stopped":
        return Next(
            "ready", where.sentence, f"Go on at step {where.number}", place, note=f"Stopped, made safe. {broken}"
        )
    if where.kind == "waiting":
        return Next("ready", where.sentence, f"Step {where.number}", place, note=broken, waiting=True)
    group: Group = "stand" if on_the_stand else "ready"
    return Next(group, where.sentence, f"Go on at step {where.number}", place, note=broken)


def hold_of(job: Job) -> tuple[datetime, datetime] | None:
    """From when to when the step that comes next has to wait; None where it waits for nothing, or is over."""
    try:
        here = progress.walk(job)
    except TopoutError:
        return None
    slot = here.current
    ready = here.ready_at(slot) if slot is not None and here.stopped is None else None
    if slot is None or slot.step.wait is None or ready is None or ready <= clock.now():
        return None
    return ready - timedelta(minutes=slot.step.wait.minutes), ready


def last_worked_on(jobs: list[Job]) -> int | None:
    """The pk of the job whose steps somebody signed last, among jobs that are not handed over."""
    entry = StepEntry.objects.filter(job__in=jobs).order_by("-at", "-pk").first()
    return entry.job_id if entry else None
