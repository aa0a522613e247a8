"""What somebody typed, against what is sent and what stands: a release takes every draft away, and its words stay for good."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils import timezone

from topout.web.access.gate import person
from topout.web.jobs.readings import show
from topout.web.jobs.records import drafts, readings
from topout.web.jobs.records.kinds import label
from topout.web.jobs.records.models import Draft, Job, Reading

PLACE = "hand-over"  # of what is written and looked at once more
TYPED = "hand-over:typed"  # of what is typed and not yet sent
STAGES = (("as-found", "found"), ("as-left", "left"))  # a stage, and the box of the hand-over that tells of it


def read_line(reading: Reading) -> str:
    """A reading as the hand-over is offered it."""
    return f"{label(reading.kind)}: {show.in_short(reading)}"


def read_lines(job: Job, stage: str) -> list[str]:
    """The readings of a stage that count, a line each."""
    return [read_line(reading) for reading in readings.current(job, stage).values()]


def readings_alone(job: Job) -> Iterator[str]:
    """Readings that were typed and never saved: nothing that was read goes unsaid."""
    for stage, box in STAGES:
        draft = drafts.find(job, drafts.of_readings(stage))
        if draft is not None:
            yield f"Readings as {box} are typed and not saved, {_by(draft)}. Save them, or empty the boxes."


def against(job: Job, found: str, left: str) -> Iterator[str]:
    """What speaks against these words of a hand-over: others that were typed since, and lines of readings that stand no more."""
    draft = drafts.find(job, TYPED)
    if draft is not None:
        yield f"The hand-over was typed anew and not sent, {_by(draft)}. Look at it and send it, or empty the boxes."
    for (stage, box), text in zip(STAGES, (found, left), strict=True):
        struck = Reading.objects.filter(job=job, stage=stage, corrected_by__isnull=False).order_by("sequence")
        now = set(read_lines(job, stage))
        lines = {line.strip() for line in text.splitlines()} - now
        for line in dict.fromkeys(read_line(row) for row in struck):
            if line in lines:
                yield f"“{box.capitalize()}” says {line}, which was read again or corrected since. Write what stands."


def to_nobody(job: Job, notes: str) -> Iterator[str]:
    """What speaks against words for a rider who was erased while the job was here: nothing would take them away any more."""
    if job.rider.erased_at is not None and notes.strip():
        yield "The rider is erased from the Book. Empty “For the rider”: what is told to them would stay for good."


def _by(draft: Draft) -> str:
    return f"by {person(draft.who)} at {timezone.localtime(draft.at):%H:%M}"
