"""A gauge read far in at an earlier job of the same unit, or at one of the shock behind: whether this job's plan starts from it, and as what.

It tells of the unit's chambers, whatever is set now. So it holds as long as the same parts, spacers and negative are in it
(`book.far_in`), and no other part of the air spring may have been fitted since, be it the same to the millimetre: by the steps that were signed,
by a part that was taken out and tagged, by a plan of another part that a job was handed over with, or by hand, where a hand-over's own words
name such a part.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass, replace
from typing import Final

from topout import units
from topout.planner import typical
from topout.web.book import far_in as on_unit
from topout.web.book import tables as bench_tables
from topout.web.book.far_in import Kept
from topout.web.book.models import Unit
from topout.web.book.tables import Tables
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, Release, StepEntry
from topout.web.jobs.records.plans import current_plan
from topout.web.shelf.models import Tag

# Steps that put back what they took out. Any other, the workshop's own too, may have left another air spring.
_SAME_PARTS: Final = (
    "air-spring-reseal", "clearance", "fork-annual", "leak-test", "lower-leg-service", "pressure-and-spacers", "rear-shock-air-can",
    "return-to-rider",
)  # fmt: skip


# Worked without steps, nobody signed what went in: a hand-over that names a part of the air spring may have fitted an equal one.
_BY_HAND: Final = re.compile(r"\b(air[- ]?)?(shafts?|springs?|cartridges?|pistons?|seal heads?)\b", re.IGNORECASE)
_TAKEN_OUT: Final = ("air shaft", "volume spacer")  # kinds of part that were in the air spring
# What a plan asks for that is another part of it; a spacer more is counted (`book.far_in`).
_PARTS_ASKED: Final = frozenset(
    {"travel", "bore", "shaft", "positive_volume", "negative_volume", "port_position", "spacer_volume", "negative"}
)
_ASKED: Final = {"fork": ("change", "change.air"), "shock": ("change.shock",)}


@dataclass(frozen=True)
class Carried:
    """A reading of another job, how its unit keeps it, and what it was read on; `kept.lapsed` is empty where it holds."""

    row: Reading
    kept: Kept
    unit: Unit


def earlier(job: Job, fitted: Tables, other: Unit | None = None) -> list[Carried]:
    """Every reading far in of earlier jobs on the job's unit that stands, the oldest first; `fitted` is what it is found with.

    Of the shock behind (`other`) at a fork's job every one that its own jobs took, as the Book has it today; of a fork at a
    shock's job none: without the sag found there it weighs nothing. Nothing is asked of the database where a unit keeps none.
    """
    found = _of(job.unit, fitted, job.number) if job.unit is not None else []
    return found + (_of(other, other.whole_tables()) if other is not None and other.what.noun == "shock" else [])


def _of(unit: Unit, fitted: Tables, before: int | None = None) -> list[Carried]:
    """What a unit keeps, of jobs `before` that number where one is given."""
    if not unit.far_in:
        return []
    kept = {each.reading: each for each in on_unit.kept(unit, fitted) if before is None or each.job < before}
    if not kept:
        return []
    rows = Reading.objects.filter(pk__in=kept, corrected_by=None, job__unit=unit).exclude(held_m=None)
    found = []
    for row in rows.select_related("instrument", "job").order_by("pk"):
        one = kept[row.pk]
        if not one.lapsed and (number := _other_parts(unit, row, before)):
            one = replace(one, lapsed=f"the air spring may be another since job {number}")
        found.append(Carried(row, one, unit))
    return found


def _other_parts(unit: Unit, row: Reading, before: int | None) -> int | None:
    """The job of the unit since then, `before` that number, that may have left another air spring; None where none did."""
    jobs = Job.objects.filter(unit=unit, number__gte=row.job.number)
    signed = StepEntry.objects.filter(job__unit=unit, at__gte=row.at)
    if before is not None:
        jobs, signed = jobs.filter(number__lt=before), signed.filter(job__number__lt=before)
    numbers = set(jobs.values_list("number", flat=True))
    stepped = set(signed.values_list("job__number", flat=True))
    found = set(signed.exclude(procedure__in=_SAME_PARTS).values_list("job__number", flat=True))
    tagged = Tag.objects.filter(job_number__in=numbers - found, made_at__gte=row.at, part__kind__in=_TAKEN_OUT)
    found |= {number for number in tagged.values_list("job_number", flat=True) if number is not None}
    released = jobs.filter(releases__isnull=False).exclude(number__in=found).distinct()
    found |= {
        each.number for each in released if (plan := current_plan(each)) is not None and _of_other_part(plan, row)
    }
    told = Release.objects.filter(job__number__in=numbers - found).values_list("job__number", "done")
    found |= {number for number, done in told if number not in stepped and _BY_HAND.search(done)}
    return min(found, default=None)


def _of_other_part(plan: FrozenPlan, row: Reading) -> bool:
    """Whether a plan that was in use after the reading fits another part of the air spring, by what it asks for."""
    asked = bench_tables.flat(
        tomllib.loads(plan.bench_file), _ASKED[row.job.unit.what.noun if row.job.unit is not None else "fork"]
    )
    return plan.at >= row.at and bool({word for table in asked.values() for word in table} & _PARTS_ASKED)


def as_read(row: Reading, told: dict[str, str], by: Reading | None) -> dict[str, str]:
    """The reading as this job's bench file has it: by another gauge than this job's, or one nobody named, each figure with that gauge's own doubt.

    `told` is the reading as its own job has it; `by` this job's pressure as found.
    """
    if row.instrument_id is not None and by is not None and by.instrument_id == row.instrument_id:
        return told
    with_doubt = {}
    for word in ("pressure", "start"):
        value_si = row.counts_si if word == "pressure" else row.start_si or 0.0
        off_si = math.hypot(typical.GAUGE_GAIN * value_si, typical.GAUGE_ZERO_PA, typical.GAUGE_READ_PA)
        with_doubt[word] = f"{told[word]} u {units.from_si(off_si, row.unit, row.dimension):.2g} {row.unit}"
    return told | with_doubt
