"""A gauge read with the fork held far in: whether a job takes one now, how far it may go, and what it leaves of the end."""

from __future__ import annotations

from dataclasses import dataclass

from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.planner import bounds, drawn, held_in, open_to
from topout.planner.open_to import NotYet
from topout.uncertainty.intervals import Interval, interval
from topout.units import UnitFault, parse
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.jobs import core
from topout.web.jobs.core import danger
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
    if job.unit is not None and job.unit.what.for_forks:
        return job.unit.what.for_forks
    if shut := barred(job):
        return shut
    try:
        file = core.bench(job, {})
    except FaultsFound as found:
        return bench_tables.fault_in_words(found.faults[0])
    if not drawn.fills(file):
        return "This fork’s air spring is known already, so this reading would tell nothing more."
    if file.found is None:
        return "Write down sag and pressure as found first: the reading stands beside them."
    return ""


def barred(job: Job) -> str:
    """What on the job itself speaks against it, whatever is known of the fork; "" where nothing does."""
    if not StepEntry.objects.filter(job=job).exists():  # a danger comes from a step
        return ""
    if danger.of(job):
        return "A danger stands on this job: the fork is not pumped and not held in."
    return "The steps have begun: what the gauge shows now is not the fork as it was found."


def looked(file: BenchFile, held_m: float, start_pa: float, gauge: Instrument | None, hose_m3: float) -> Looked:
    """Look ahead, before anybody pumps. Raises FaultsFound where no fork shows what was found."""
    made = drawn.draw(file, drawn.MOVING)
    true_pa, force_n, _ = held_in.held(made, held_m, start_pa, hose_m3)
    shows, holds = interval(true_pa, made.weights), interval(force_n, made.weights)
    most_pa = held_in.of_unit(file, span_pa(gauge)).most_pa
    if shows is None or holds is None:  # so far in, some fork has no room left
        return Looked(float("inf"), most_pa, float("inf"))
    return Looked(shows.high95, most_pa, holds.high95)


def span_pa(gauge: Instrument | None) -> float | None:
    """The end of a gauge's scale; None where it is not known."""
    try:
        return parse(gauge.span, "pressure").value_si if gauge is not None else None
    except UnitFault:
        return None


def with_reading(job: Job, taken: Taken) -> None:
    """Draw the job's fork with one reading more. Raises FaultsFound where no fork shows it beside the others."""
    row = Reading(value_si=taken.value_si, dimension=taken.dimension, unit=taken.unit, **taken.more)
    tables = core.tables(job, {})
    tables["found"] = {**tables["found"], "reading": [*tables["found"].get("reading", []), core.held_in(row)]}
    drawn.draw(bench_tables.read(tables), drawn.MOVING)


def limits(file: BenchFile) -> tuple[float, float | None]:
    """What a reading begins from, and the unit's own limit [Pa gauge]."""
    air = file.fork.air if file.fork is not None else None
    return held_in.of_unit(file).start_pa, air.pressure_limit_gauge_pa if air is not None else None


def end(file: BenchFile) -> tuple[Interval | None, NotYet | None]:
    """The end of the travel as it is known, and what is still open of it. Raises FaultsFound where readings contradict."""
    of = bounds.answer(file, drawn.AT_REST).bounds
    return of.answers.get("end-force"), open_to.end(of, preferences.system())
