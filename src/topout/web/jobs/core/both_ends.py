"""The end that a job is not about: what its plan sets there, what the job's steps set and read there, and what is left to do.

A step sets there what a valve or a collar sets. What it read counts for the unit that stood there then, and as long as nothing newer
was written down of that unit.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.errors import FaultsFound, TopoutError
from topout.planner import other_half
from topout.planner.summary import Summary
from topout.procedures.model import Procedure
from topout.web.book import history
from topout.web.book import tables as bench_tables
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.core.left import PRELOAD_OFF_M, PRESSURE_OFF_PA
from topout.web.jobs.core.steps import procedure_of
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, StepEntry

OTHER_UNIT: Final = "other_unit"  # in the evidence of an entry that set something there: which unit stood there
_WHERE: Final = {
    "pressure": other_half.PRESSURE,
    "preload": other_half.PRELOAD,
}  # a kind of reading -> where the file has it
_OFF: Final = {other_half.PRESSURE: PRESSURE_OFF_PA, other_half.PRELOAD: PRELOAD_OFF_M}


def by_steps(procedure: Procedure | None, end: core.End, way: other_half.Way) -> bool:
    """Whether a step of the procedure sets what a plan changes at the other end in this way."""
    return _gives(procedure, f"{other_half.OTHER[end]}-{way}")


def _gives(procedure: Procedure | None, kind: str) -> bool:
    """Whether a step of the procedure reads this kind as left."""
    return procedure is not None and any(
        each.card == ("as-left", kind) for step in procedure.steps() for each in step.evidence
    )


def procedure_now(job: Job) -> Procedure | None:
    """The procedure that a job is walked by; None where it has none that can be read."""
    try:
        return procedure_of(job, list(StepEntry.objects.filter(job=job).order_by("sequence"))).procedure
    except TopoutError:
        return None


def not_in_steps(
    of: Summary, end: core.End, procedure: Procedure | None, way: other_half.Way, other_is_set: bool = False
) -> list[str]:
    """What the plan of a job about this end changes and no step of the job does, in sentences."""
    elsewhere = "" if other_is_set or by_steps(procedure, end, way) else other_half.elsewhere(of, end, way)
    stroke = "" if _gives(procedure, "stroke") else other_half.reducers(of, end)
    return [each for each in (elsewhere, stroke) if each]


def not_in_steps_of_draft(job: Job, planned: BenchFile, of: Summary) -> list[str]:
    """The same of a plan that is being worked out."""
    end = core.end_of(job)
    told = not_in_steps(of, end, None, other_half.way(planned, end))
    return told and not_in_steps(of, end, procedure_now(job), other_half.way(planned, end))


def not_in_steps_of(frozen: FrozenPlan | None, procedure: Procedure | None) -> list[str]:
    """The same of a frozen plan; of the other end nothing where that unit stands as the plan sets it."""
    if frozen is None:
        return []
    try:
        end, planned = core.end_of(frozen.job), core.frozen_bench(frozen)
        way = other_half.way(planned, end)
        return not_in_steps(core.told_frozen(frozen), end, procedure, way, half_is_set(frozen))
    except FaultsFound:
        return []


def left_to_do(frozen: FrozenPlan | None) -> str:
    """What a frozen plan sets at the other end and neither the Book nor a step of the job has; empty where it is nothing."""
    if frozen is None or half_is_set(frozen):
        return ""
    try:
        end, way = core.end_of(frozen.job), other_half.way(core.frozen_bench(frozen), core.end_of(frozen.job))
        steps = by_steps(procedure_now(frozen.job), end, way)
        return other_half.elsewhere(core.told_frozen(frozen), end, way, steps)
    except FaultsFound:
        return ""


def half_is_set(frozen: FrozenPlan, at: datetime | None = None) -> bool:
    """Whether the unit at the other end stands as a frozen plan sets it: in the Book, or as a step of the job read it.

    `at` another time: as the Book had it then.
    """
    try:
        now = read_text(bench_tables.toml(_as_it_stands(frozen.job, at)))
        read = {_WHERE[what] for kind in read_there(frozen.job, at) if (what := BESIDE[kind]) in _WHERE}
        return other_half.is_set(core.frozen_bench(frozen), now, other_half.OTHER[core.end_of(frozen.job)], _OFF, read)
    except FaultsFound:
        return False


def set_there(planned: BenchFile, end: core.End) -> tuple[dict[str, float], float | None]:
    """What a plan sets at the other end by a valve or a collar, by kind of reading [SI], and the maker's highest pressure there."""
    way, away = other_half.way(planned, end), other_half.OTHER[end]
    at = planned.shock if end == "front" else planned.fork
    limit_pa = at.air.pressure_limit_gauge_pa if at is not None and at.air is not None else None
    if way not in _WHERE:
        return {}, limit_pa
    after = other_half.changed(planned, away)[_WHERE[way]][1]
    return ({} if after is None else {f"{away}-{way}": after}), limit_pa


def _as_it_stands(job: Job, at: datetime | None = None) -> bench_tables.Tables:
    """The unit at the other end as the Book has it today, whatever is released, or had it `at` another time."""
    bike = job.bike if job.bike is None or at is None else history.as_of(job.bike, at)
    other = core.other_end(job, at)
    return bench_tables.merged(bike.tables if bike else {}, other.whole_tables() if other else {})


def read_there(job: Job, at: datetime | None = None) -> dict[str, Reading]:
    """What the steps of the job read at the other end as left, by kind: of the unit that stands there, nothing newer of it known."""
    left = {kind: row for kind, row in readings.current(job, "as-left").items() if kind in BESIDE}
    if not left or another_unit(job, at):
        return {}
    other = core.other_end(job, at)
    since = (other.left or {}) if other is not None else {}
    if since.get("job") == job.number or "at" not in since:
        return left
    return {kind: row for kind, row in left.items() if row.at > datetime.fromisoformat(since["at"])}


def another_unit(job: Job, at: datetime | None = None) -> bool:
    """Whether another unit stands at the other end than the one that a step set, or none."""
    entries = StepEntry.objects.filter(job=job, evidence__has_key=OTHER_UNIT).order_by("sequence")
    last = entries.last()
    other = core.other_end(job, at)
    return last is not None and (other is None or other.pk != last.evidence[OTHER_UNIT])


def dangers_there(job: Job, other: Unit) -> list[str]:
    """What is dangerous on the unit at the other end, by its own jobs, those that were handed over too, in words."""
    return [
        f"{other}: {each.told}"
        for each in unit_dangers.of_units([other.pk]).get(other.pk, ())
        if each.stops or each.loaded
    ]
