"""A gauge read far in at an earlier job of the same unit: whether this job's plan starts from it, and as what.

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
    """A reading of an earlier job, and how its unit keeps it; `kept.lapsed` is empty where it holds."""

    row: Reading
    kept: Kept


def earlier(job: Job, fitted: Tables) -> list[Carried]:
    """Every reading far in of earlier jobs on the job's unit that stands, the oldest first; `fitted` is what it is found with.

    Nothing is asked of the database where the unit keeps none.
    """
    if job.unit is None or not job.unit.far_in:
        return []
    kept = {each.reading: each for each in on_unit.kept(job.unit, fitted) if each.job < job.number}
    if not kept:
        return []
    rows = Reading.objects.filter(pk__in=kept, corrected_by=None, job__unit=job.unit).exclude(held_m=None)
    found = []
    for row in rows.select_related("instrument", "job").order_by("pk"):
        one = kept[row.pk]
        if not one.lapsed and (number := _other_parts(job, row)):
            one = replace(one, lapsed=f"the air spring may be another since job {number}")
        found.append(Carried(row, one))
    return found


def _other_parts(job: Job, row: Reading) -> int | None:
    """The job since then that may have left another air spring; None where none did."""
    jobs = Job.objects.filter(unit=job.unit, number__gte=row.job.number, number__lt=job.number)
    numbers = set(jobs.values_list("number", flat=True))
    signed = StepEntry.objects.filter(job__unit=job.unit, at__gte=row.at, job__number__lt=job.number)
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
