"""A gauge read with the fork or the shock held far in: whether a job takes one now, how far it may go, and what it leaves of the end."""

from __future__ import annotations

from dataclasses import dataclass

from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.planner import bounds, drawn, held_in, inexact, open_to
from topout.planner.open_to import NotYet
from topout.uncertainty.intervals import Interval, interval
from topout.units import UnitFault, parse
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.jobs import core
from topout.web.jobs.core import carried, danger, unit_dangers
from topout.web.jobs.core.carried import Carried
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Job, Reading, StepEntry
from topout.web.jobs.records.readings import Taken


@dataclass(frozen=True)
class Looked:
    """What a reading would do, on the high side: what the gauge may show, its most, and the force that holds the fork."""

    shows_pa: float
    most_pa: float
    hold_n: float

    @property
    def too_much(self) -> bool:
        """Whether gauge or unit could be taken past what they are for."""
        return self.shows_pa > self.most_pa


def why_not(job: Job) -> str:
    """Why no such reading is taken on this job now, in one line; "" where it may be."""
    if job.unit is not None and job.unit.what.spring == "coil":
        return "A coil has no pressure to read."
    if shut := barred(job) or core.which_one(job):
        return shut
    try:
        file = core.bench(job, {})
    except FaultsFound as found:
        return bench_tables.fault_in_words(found.faults[0])
    behind = core.end_of(job) == "rear"
    if not (inexact.fills_behind(file) if behind else inexact.fills(file)):
        return f"This {noun(job)}’s air spring is known already, so this reading would tell nothing more."
    if "pressure" not in readings.current(job, "as-found") or not behind and file.found is None:
        needed = "its pressure" if behind else "sag and pressure"
        return f"Write down {needed} as found first: the reading stands beside {'it' if behind else 'them'}."
    return ""


def noun(job: Job) -> str:
    """What is held in: the fork or the shock."""
    return job.noun


def barred(job: Job) -> str:
    """What on the job itself, or on its unit, speaks against it, whatever is known of the unit; "" where nothing does."""
    if unit_dangers.of_other_jobs(job):
        return f"A danger stands on this {noun(job)} by another job: it is not pumped and not held in."
    if job.unit_id is not None:  # it may lie open there, and is not as it was found
        begun = (
            StepEntry.objects.filter(job__unit=job.unit_id, job__releases=None).exclude(job=job).select_related("job")
        )
        if (there := begun.first()) is not None:
            return f"The steps of job {there.job.number} have begun on this {noun(job)}: it is not pumped and not held in before that is handed over."
    if not StepEntry.objects.filter(job=job).exists():  # a danger of its own comes from a step
        return ""
    if danger.of(job):
        return f"A danger stands on this job: the {noun(job)} is not pumped and not held in."
    return f"The steps have begun: what the gauge shows now is not the {noun(job)} as it was found."


def earlier(job: Job) -> list[Carried]:
    """What other jobs read far in of what this job's plan is told from, the oldest first; why one no longer holds stands with it."""
    return carried.earlier(job, core.tables(job, {}), core.other_end(job))


def looked(
    file: BenchFile, held_m: float, start_pa: float, gauge: Instrument | None, hose_m3: float, at_end: core.End
) -> Looked:
    """Look ahead, before anybody pumps. Raises FaultsFound where no unit shows what was found."""
    made = drawn.draw(file, inexact.MOVING)
    true_pa, force_n, _ = held_in.held(made, held_m, start_pa, hose_m3, at_end)
    shows, holds = interval(true_pa, made.weights), interval(force_n, made.weights)
    most_pa = held_in.of_unit(file, span_pa(gauge), at_end).most_pa
    if shows is None or holds is None:  # so far in, some have no room left
        return Looked(float("inf"), most_pa, float("inf"))
    return Looked(shows.high95, most_pa, holds.high95)


def span_pa(gauge: Instrument | None) -> float | None:
    """The end of a gauge's scale; None where it is not known."""
    try:
        return parse(gauge.span, "pressure").value_si if gauge is not None else None
    except UnitFault:
        return None


def with_reading(job: Job, taken: Taken) -> None:
    """Draw the job's unit with one reading more. Raises FaultsFound where none shows it beside the others."""
    row = Reading(value_si=taken.value_si, dimension=taken.dimension, unit=taken.unit, **taken.more)
    tables = core.tables(job, {})
    found = tables.get("found", {})
    tables["found"] = {**found, "reading": [*found.get("reading", []), core.held_in(row, noun(job))]}
    drawn.draw(bench_tables.read(tables), inexact.MOVING)


def limits(file: BenchFile, at_end: core.End) -> tuple[float, float | None]:
    """What a reading begins from, and the unit's own limit [Pa gauge]."""
    unit = file.fork if at_end == "front" else file.shock
    air = unit.air if unit is not None else None
    return held_in.of_unit(file, end=at_end).start_pa, air.pressure_limit_gauge_pa if air is not None else None


def end(file: BenchFile, at_end: core.End = "front") -> tuple[Interval | None, NotYet | None]:
    """The end of the travel or stroke as it is known, and what is still open of it. Raises FaultsFound where readings contradict."""
    of, system = bounds.answer(file, inexact.AT_REST).bounds, preferences.system()
    if at_end == "rear":
        return of.answers.get("rear-end-force"), open_to.end_behind(of, system)
    return of.answers.get("end-force"), open_to.end(of, system)
