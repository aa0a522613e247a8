"""Readings: how they are kept, corrected, and which of them count now. Changes are called inside a change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topout.units import Typed
from topout.web.access.change import ChangeContext
from topout.web.jobs.records.kinds import FAR_IN
from topout.web.jobs.records.models import Instrument, Job, Reading
from topout.web.jobs.records.sequence import next_sequence
from topout.web.prepared import Prepared

READ_AGAIN: Final = "read again"
_STANDING = Reading.objects.filter(corrected_by=None).select_related("instrument").order_by("sequence")
_CURRENT = Prepared(lambda job, stage: _STANDING.filter(job=job, stage=stage))
_FAR_IN = Prepared(lambda job: _STANDING.filter(job=job, kind=FAR_IN).exclude(held_m=None))


@dataclass(frozen=True)
class Taken:
    """One reading as it was taken, before it has a row. `text` is as typed; a count has no dimension."""

    kind: str
    text: str
    value_si: float
    dimension: str = ""
    unit: str = ""
    instrument: Instrument | None = None
    more: dict[str, Any] = field(default_factory=dict)  # corrected_si, of_range, posture, temperature_k, note …

    @staticmethod
    def quantity(kind: str, typed: Typed, dimension: str, **more: Any) -> Taken:
        instrument = more.pop("instrument", None)
        return Taken(kind, typed.text, typed.value_si, dimension, typed.unit, instrument, more)

    @staticmethod
    def count(kind: str, value: int, **more: Any) -> Taken:
        instrument = more.pop("instrument", None)
        return Taken(kind, str(value), float(value), instrument=instrument, more=more)


def take(
    doing: ChangeContext, job: Job, stage: str, taken: Taken, corrects: Reading | None = None, reason: str = ""
) -> Reading:
    """Keep one reading. It stands alone: one of its stage and kind that stands already is struck, with the reason."""
    assert doing.who is not None
    alone = stage != "step" and taken.kind != FAR_IN  # rounds of a step, and several far in: each of its own
    if corrects is None and alone:
        corrects = Reading.objects.filter(job=job, stage=stage, kind=taken.kind, corrected_by=None).last()
    if corrects is not None:
        reason = reason or READ_AGAIN
    return Reading.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, stage=stage, kind=taken.kind, text=taken.text,
        value_si=taken.value_si, dimension=taken.dimension, unit=taken.unit, instrument=taken.instrument,
        corrects=corrects, reason=reason, **taken.more,
    )  # fmt: skip


def clicks_in_all(job: Job, kind: str, found: Reading | None) -> int | None:
    """How many clicks there are in all: as they were counted beside what was `found` in this job, else as the Book has it."""
    if found is not None and found.of_range:
        return int(found.of_range)
    known = job.unit.extras.get(f"{kind}-clicks") if job.unit is not None else None
    return int(known) if known else None


def strike(doing: ChangeContext, old: Reading, reason: str, at: Job | None = None) -> Reading:
    """Take a reading out with a reason, nothing in its place: it stays, struck by a row that holds no value of its own.

    One of an earlier job, which takes nothing more, is struck `at` the job that found it wrong.
    """
    note = "struck, nothing in its place"
    if at is not None:
        note = f"struck that of job {old.job.number}, {old.text} {old.unit}: {reason}"[:300]  # whole in the reason
    taken = Taken(old.kind, "–", old.value_si, more={"note": note})
    return correct(doing, old, taken, reason, at)


def far_in(job: Job) -> list[Reading]:
    """Every gauge that was read with the unit held in and stands, in order."""
    return _FAR_IN.all(job.pk)


def correct(doing: ChangeContext, old: Reading, taken: Taken, reason: str, at: Job | None = None) -> Reading:
    """A new reading in place of an old one, which stays. Only a reading that is not corrected yet can be."""
    if Reading.objects.filter(corrects=old).exists():
        raise ValueError("this reading is corrected already; correct the one that replaced it")
    if reason.startswith(READ_AGAIN):  # a person's words; ours alone say that it is another reading, of its own time
        reason = f"corrected: {reason}"[:300]
    return take(doing, at or old.job, old.stage, taken, corrects=old, reason=reason)


def rows(job: Job, stage: str) -> list[Reading]:
    """Readings of a stage for the card: in order, each corrected one right before what replaced it.

    One that a step read again and did not pass is struck too; what struck it stands at the step, not here.
    """
    whole = list(Reading.objects.filter(job=job).select_related("instrument").order_by("sequence"))
    by_old = {reading.corrects_id: reading for reading in whole if reading.corrects_id}
    if any(reading.kind == FAR_IN for reading in whole):  # a later job of the unit may have struck one
        elsewhere = Reading.objects.filter(corrects__job=job).exclude(job=job)
        by_old |= {row.corrects_id: row for row in elsewhere if row.corrects_id}
    here = {reading.pk for reading in whole if reading.stage == stage}
    ordered: list[Reading] = []
    for reading in whole:
        if reading.pk not in here or reading.corrects_id in here:
            continue
        step: Reading | None = reading
        while step is not None:
            newer = by_old.get(step.pk)
            step.struck_by = newer  # type: ignore[attr-defined]
            ordered.append(step)
            step = newer if newer is not None and newer.pk in here else None
    return ordered


def standing(job: Job) -> dict[int, Reading]:
    """For each reading of the job that was corrected, the one that stands in its place now, by the old one's pk."""
    return in_place(Reading.objects.filter(job=job).exclude(corrects=None))


def corrections(rows: Iterable[Reading]) -> dict[int, Reading]:
    """For each reading that was mended, its last correction: what was read again later is another reading, of its time."""
    newer = {row.corrects_id: row for row in rows if row.corrects_id and not row.reason.startswith(READ_AGAIN)}
    return {old: _last(newer, old) for old in newer}


def _last(newer: Mapping[int, Reading], old: int) -> Reading:
    last = newer[old]
    while last.pk in newer:
        last = newer[last.pk]
    return last


def in_place(rows: Iterable[Reading]) -> dict[int, Reading]:
    """The same of readings that were fetched already; those that correct nothing say nothing."""
    newer = {row.corrects_id: row for row in rows if row.corrects_id}
    return {old: _last(newer, old) for old in newer}


def current(job: Job, stage: str) -> dict[str, Reading]:
    """The reading that counts for each kind: the newest that is not corrected."""
    return {reading.kind: reading for reading in _CURRENT.all(job.pk, stage)}
