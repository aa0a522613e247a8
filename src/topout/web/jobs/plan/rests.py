"""What a plan rests on: what was read at this job or measured here, what a maker's sheet says, what somebody guessed."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Final

from django.utils import timezone

from topout.web.book import history, worth
from topout.web.book import tables as bench_tables
from topout.web.book.models import Bike, Rider, Unit
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.core.carried import Carried
from topout.web.jobs.readings import show
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import FAR_IN, label
from topout.web.jobs.records.models import FrozenPlan, Job, Reading
from topout.web.jobs.records.open import released

PLANNED_BY = (
    "sag",
    "pressure",
    "negative-pressure",
    "spacers",
    "travel",
    "stroke-sag",
    "stroke",
    "coil-rate",
    "preload",
    "temperature",
)  # readings a plan is told from

# A kind of reading as found that stands before the Book's own figure in a plan -> the word that it stands for.
_BOOK_WORDS: Final = {
    "pressure": "pressure", "negative-pressure": "negative_pressure", "spacers": "spacers", "travel": "travel",
    "stroke": "stroke", "stroke-sag": "sag", "coil-rate": "rate", "preload": "preload",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rests:
    """How much a value is worth, the class of its mark, and what is known so, in words."""

    mark: str
    title: str
    words: tuple[str, ...]


def rests_on(job: Job) -> list[Rests]:
    """The four of them that have anything; what the program drew stands in a table of its own."""
    found = readings.current(job, "as-found")
    here = [f"{label(kind).lower()} {show.in_words(found[kind])}" for kind in PLANNED_BY if kind in found]
    here += [f"{label(FAR_IN).lower()}: {show.in_words(row)}" for row in readings.far_in(job)]
    here += [f"{label(FAR_IN).lower()}, {from_job(job, each)}: {show.in_words(each.row)}" for each in starts_from(job)]
    each = [worth.named(row) for row in told_by(job)]
    known = {mark: [words for one in each for words in one[mark]] for mark in worth.MARKS}
    told = (
        Rests("read", "read here", (*here, *known["read"])),
        Rests("sheet", "maker’s sheet", tuple(known["sheet"])),
        Rests(worth.FAMILY, "from the family", tuple(known[worth.FAMILY])),
        Rests("typical", "a guess", tuple(known["typical"])),
    )
    return [each for each in told if each.words]


def corrected_since(frozen: FrozenPlan) -> list[str]:
    """What the plan rests on and was corrected after it was put to use, a sentence each; what was only read again later is none.

    A job that is handed over stays as it was planned.
    """
    return [] if released(frozen.job) else [*_read_otherwise(frozen), *_written_otherwise(frozen)]


def _read_otherwise(frozen: FrozenPlan) -> list[str]:
    """The readings of the job that were corrected."""
    rows = list(
        Reading.objects.filter(job=frozen.job, stage="as-found", kind__in=PLANNED_BY).select_related("instrument")
    )
    by_pk, standing, said = {row.pk: row for row in rows}, readings.corrections(rows), []
    for newer in rows:
        was = by_pk.get(newer.corrects_id or 0)  # what stood when the plan was put to use, for one
        if was is None or was.pk not in standing or not was.sequence < frozen.sequence < newer.sequence:
            continue
        now = standing[was.pk]
        if was.counts_si != now.counts_si:
            words = f"{label(was.kind)} as found was corrected after the plan was put to use: {show.in_words(was)} → {show.in_words(now)}."
            said.append(f"{words} The plan rests on the first; make it again.")
    return said


def _written_otherwise(frozen: FrozenPlan) -> list[str]:
    """The figures of the Book that became others, whoever changed them; what was not known then is no correction."""
    job, found = frozen.job, readings.current(frozen.job, "as-found")
    read_here = {word for kind, word in _BOOK_WORDS.items() if kind in found}
    pairs = [(bench_tables.flat(tomllib.loads(frozen.bench_file), bench_tables.RIDER), job.rider.tables)]
    if job.unit is not None:
        pairs.append((history.unit_as_of(job.unit, frozen.at).whole_tables(), job.unit.whole_tables()))
    if job.bike is not None:
        pairs.append((history.as_of(job.bike, frozen.at).tables, job.bike.tables))
    said = [
        f"{worth.label_of(f'{table}.{word}')} {was} → {now[table][word]}"
        for then_tables, now in pairs
        for table, values in then_tables.items()
        for word, was in values.items()
        if word not in read_here and isinstance(was, str) and was != now.get(table, {}).get(word, was)
    ]
    there, now_there = core.other_end(job, frozen.at), core.other_end(job)
    if there != now_there:
        said.append(f"at the other end {there or 'none'} → {now_there or 'none'}")
    return (
        [f"Changed in the Book after the plan was put to use: {'; '.join(said)}. Make the plan again."] if said else []
    )


def told_by(job: Job) -> list[Unit | Bike | Rider]:
    """The rows of the Book that a job's plan is told from."""
    return [row for row in (job.unit, job.bike, job.rider) if row is not None]


def starts_from(job: Job) -> list[Carried]:
    """What was read far in at other jobs and holds: the plan starts from it. A job handed over stays as it was planned."""
    other = core.other_end(job)
    if not any(unit is not None and unit.far_in for unit in (job.unit, other)) or released(job):
        return []
    return [each for each in ahead.earlier(job) if not each.kept.lapsed]


def from_job(job: Job, of: Carried) -> str:
    """Where a reading of another job is from: "job 12, 3 Nov 2026"; of the shock behind, that it is the shock's."""
    noun = "" if of.unit == job.unit else f", of the {of.unit.what.noun}"
    return f"job {of.kept.job}, {timezone.localtime(of.kept.on):%-d %b %Y}{noun}"


def guessed(job: Job) -> list[str]:
    """What of the unit somebody guessed: whatever is worked out from it, dangers too, is a guess."""
    return worth.named(job.unit)["typical"] if job.unit is not None else []
