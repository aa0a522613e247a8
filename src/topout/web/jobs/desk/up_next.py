"""What comes next on a job: derived from its records each time, kept nowhere. The Bench asks for all jobs at once."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from django.urls import reverse
from django.utils import timezone

from topout.errors import TopoutError
from topout.web import clock
from topout.web.jobs.core import danger
from topout.web.jobs.core.danger import Danger
from topout.web.jobs.records.models import Job, Release, Remark
from topout.web.jobs.steps import lines
from topout.web.jobs.steps.entries import Records, read
from topout.web.jobs.steps.progress import Progress, derive

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
class Standing:
    """What the next thing on a job follows from."""

    records: Records
    released: bool
    remark: Remark | None  # the last one that says that it waits, or goes on
    here: Progress | None  # where its steps stand; None where it has none
    no_steps: str  # why it has none
    dangers: tuple[Danger, ...]  # hold points that failed and were not passed since

    def by_steps(self, job: Job) -> bool:
        """Whether the job is worked by steps: by what was signed, or by what its card says where nothing is signed yet."""
        return bool(self.records.entries) or bool(job.procedure)

    @property
    def steps_done(self) -> bool:
        """Whether every step of the job's procedure is passed."""
        return self.here is not None and self.here.current is None and not self.dangers


def standings(jobs: Sequence[Job], released: Collection[int] | None = None) -> dict[int, Standing]:
    """What is written down of these jobs, by primary key: each read once, all of them in the same few queries.

    `released`: which of them were handed over, where whoever asks knows it.
    """
    remarks: dict[int, Remark] = {}
    for remark in Remark.objects.filter(job__in=jobs, kind__in=("waits", "goes on")).order_by("sequence"):
        remarks[remark.job_id] = remark
    if released is None:
        released = set(Release.objects.filter(job__in=jobs).values_list("job_id", flat=True))
    found = {}
    kept = read(jobs)
    for job in jobs:
        records, here, reason = kept[job.pk], None, ""
        dangers = danger.found(records.entries, records.standing, records.texts, records.corrected)
        if job.procedure or records.entries:
            try:
                here = derive(job, records)
            except TopoutError as missing:
                reason = str(missing)
        found[job.pk] = Standing(records, job.pk in released, remarks.get(job.pk), here, reason, dangers)
    return found


def next_of(job: Job, on_the_stand: bool = False, have: Standing | None = None) -> Next:
    """The next thing on a job. `on_the_stand`: it is the one that somebody last worked on."""
    have = have or standings([job])[job.pk]
    card = reverse("job", args=[job.number])
    stages = have.records.stages
    if have.released:
        return Next("out", "Handed over.", "Open the card", card)
    stop = next((each for each in have.dangers if each.stops), None)
    if stop is not None:
        words = f"Step {stop.entry.step_number}. Every later step is closed until it passes."
        place = reverse("steps", args=[job.number])
        return Next("waits", "", "Open the step", place, waits_for=stop.title, note=words, blocked=True)
    if have.remark is not None and have.remark.kind == "waits":
        return Next("waits", "", "Open the card", card, waits_for=have.remark.words)
    if "as-found" not in stages and not have.records.entries:
        return Next(
            "ready",
            "Unpack it, look at it, and write down how it was.",
            "Take it in",
            reverse("readings", args=[job.number, "as-found"]),
        )
    if have.here is None and have.by_steps(job) and have.records.frozen is None:
        return Next("ready", "Work out what to set.", "Work it out", reverse("plan", args=[job.number]))
    if have.by_steps(job) and not have.steps_done:
        return _at_the_steps(job, have, on_the_stand)
    if "as-left" not in stages:
        return Next(
            "ready", "Write down how it is left.", "Write it down", reverse("readings", args=[job.number, "as-left"])
        )
    return Next("ready", "Hand it over.", "Hand over", reverse("hand-over", args=[job.number]))


def _at_the_steps(job: Job, have: Standing, on_the_stand: bool) -> Next:
    """Where the steps stand, in the words of the steps themselves."""
    place = reverse("steps", args=[job.number])
    entry = have.records.newest
    if have.here is None:
        return Next(
            "waits", "", "Open the card", reverse("job", args=[job.number]), waits_for=have.no_steps, blocked=True
        )
    where = lines.where_of(have.here)
    if entry is None or where.kind == "ready":
        return Next("ready", f"Begin the steps: {where.sentence}", "Begin", place)
    broken = f"Step {where.number} of {where.count}, broken off at {timezone.localtime(entry.at):%H:%M}."
    if where.kind == "stopped":
        return Next("ready", where.sentence, f"Go on at step {where.number}", place, note=f"Stopped, safe. {broken}")
    if where.kind == "waiting":
        other = have.here.at_hand
        button = f"Meanwhile: step {other.words}" if other and other != have.here.current else f"Step {where.number}"
        return Next("ready", where.sentence, button, place, note=broken, waiting=True)
    group: Group = "stand" if on_the_stand else "ready"
    return Next(group, where.sentence, f"Go on at step {where.number}", place, note=broken)


def hold_of(here: Progress | None) -> tuple[datetime, datetime] | None:
    """From when to when the step that comes next has to wait; None where it waits for nothing, or is over."""
    slot = here.current if here is not None else None
    if here is None or slot is None or here.stopped is not None:
        return None
    since, ready = here.waits_since(slot), here.ready_at(slot)
    return None if since is None or ready is None or ready <= clock.now() else (since, ready)


def last_worked_on(have: Mapping[int, Standing]) -> int | None:
    """The pk of the job whose steps somebody signed last."""
    newest = {pk: each.records.newest for pk, each in have.items()}
    return max(
        (pk for pk, entry in newest.items() if entry is not None),
        key=lambda pk: (newest[pk].at, newest[pk].pk),  # type: ignore[union-attr]
        default=None,
    )
