"""What stands against handing a job over: found, planned and left side by side, and every point where they disagree.

One check for the form, the demo and any other road to a release. A point that is `hard` refuses a release as fit to ride
whatever anybody says; any other takes an owner's signed reason. Not fit to ride, everything is told to the rider instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Any

from topout.bench_file.model import BenchFile
from topout.errors import TopoutError
from topout.units import show
from topout.web.access import preferences
from topout.web.book import ends
from topout.web.jobs import core
from topout.web.jobs.core import both_ends, danger, figures, unit_dangers
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.core.left import PRELOAD_OFF_M, PRESSURE_OFF_PA, SAME_STROKE_M
from topout.web.jobs.plan.rests import corrected_since
from topout.web.jobs.readings import show as shown
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import BESIDE, label, tells_of_unit
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, StepEntry
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release import beside, over_limits, tags, typed
from topout.web.jobs.steps import lines, sign

WHOLE = frozenset({"psi", "kPa", "Pa", "mm"})
USUAL = {"pressure": "psi", "length": "mm", "rate": "N/mm"}
# How far what was left may be off the plan where nothing better is known; ours, no source. Pressure and preload: core/left.py.
GAUGE_MARKS = 2.0  # as the steps judge a pressure: so many marks, and the class
RATE_OFF_SHARE = 0.01  # a coil as it is marked, in another unit than the plan
SAG_OFF_SHARE = 0.03  # of the travel: three points either way, as the plan says of its own sag
COMPARED = (
    "pressure",
    "negative-pressure",
    "spacers",
    "travel",
    "stroke",
    "exposed-length",
    "sag",
    "stroke-sag",
    "coil-rate",
    "preload",
    "rebound",
    "compression",
    *BESIDE,
)
ANOTHER_UNIT = (
    "The steps set the unit at the other end, and another one stands there in the Book now: set that one too."
)


@dataclass(frozen=True)
class Fault:
    """One thing that stands against the release.

    `hard`: no reason lifts it while the bike goes out as fit to ride. `always`: nor while it goes out as not fit. `danger`: a hold
    point that failed or was gone past, or what lies open: with an owner's reason it stands on the rider's sheet all the same.
    """

    words: str
    hard: bool = False
    always: bool = False
    danger: bool = False

    def stops(self, fit: bool) -> bool:
        """Whether it refuses the release, whatever reason is given."""
        return self.always or fit and self.hard


@dataclass(frozen=True)
class Side:
    """One row of the table: found, planned and left, in words; empty where nothing was read or planned."""

    label: str
    found: str
    planned: str
    left: str


@dataclass(frozen=True)
class _Plan:
    """What the plan in use sets, SI; None where it says nothing of it."""

    travel_was_m: float | None = None
    travel_m: float | None = None
    pressure_pa: float | None = None
    negative_pa: float | None = None
    spacers_were: int | None = None
    spacers: int | None = None
    sag_m: float | None = None
    stroke_was_m: float | None = None  # of a shock
    stroke_m: float | None = None
    stroke_sag_m: float | None = None
    rate_n_per_m: float | None = None  # of a coil
    preload_m: float | None = None
    limit_pa: float | None = None
    other: Mapping[str, float] = field(default_factory=dict)  # at the other end, by kind of reading
    other_limit_pa: float | None = None

    @property
    def longer_m(self) -> float | None:
        """How much more travel it gives; None where it says nothing of it."""
        return None if self.travel_m is None or self.travel_was_m is None else self.travel_m - self.travel_was_m


def faults_of(job: Job) -> list[Fault]:
    """Everything that stands against handing the job over, the dangers first."""
    found, left = readings.current(job, "as-found"), readings.current(job, "as-left")
    dangers = danger.of(job)
    faults = [Fault(each.told, hard=each.grave, danger=True) for each in dangers]
    others = unit_dangers.of_other_jobs(job)
    faults += [
        Fault(f"Job {each.entry.job.number}, the same unit: {each.told}", hard=each.grave, danger=True)
        for each in others
    ]
    faults += [Fault(words, danger=True) for words in beside.dangers_on_the_bike(job)]
    faults += [Fault(words, hard=same, danger=True) for words, same in beside.under_way(job)]
    faults += [Fault(words, danger=True) for words in beside.went_back_open(job)]
    faults += [Fault(words, hard=True) for bike in beside.bikes_of(job) for words in ends.not_told(bike)]
    faults += [Fault(words) for words in (core.elsewhere(job),) if words]
    loaded = next((each for each in (*dangers, *others) if each.loaded), None)
    if loaded is not None and job.unit is not None and (words := tags.not_printed(job, loaded)):
        faults.append(Fault(words, always=True))
    if not any(map(tells_of_unit, found)):
        faults.append(Fault("How it was found is not written down.", always=True))
    faults += _steps(job) + [Fault(words, danger=True) for words in lines.left_failing(job)]
    if not any(map(tells_of_unit, left)):
        faults.append(Fault("How it is left is not written down.", hard=True))
    frozen = current_plan(job)
    plan = _plan(frozen) if frozen is not None else _Plan()
    if lost := core.unread(frozen):
        faults.append(Fault(f"{lost} Make the plan again.", always=True))
    over = over_limits.pressures(job, left, plan.limit_pa, plan.other_limit_pa)
    faults += [Fault(words, hard=hard) for words, hard in over]
    faults += [Fault(words) for words in over_limits.fitted(job, left)]
    faults += _against(plan, left) if left else []
    faults += [Fault(words) for words in over_limits.short(found, left, plan.longer_m)]
    faults += [Fault(words, hard=True) for words in beside.left_otherwise(job, left)]
    if any(kind in BESIDE for kind in left) and both_ends.another_unit(job):
        faults.append(Fault(ANOTHER_UNIT, hard=True))
    faults += [Fault(words) for words in corrected_since(frozen)] if frozen is not None else []
    faults += [Fault(words, always=True) for words in typed.readings_alone(job)]
    half = both_ends.left_to_do(frozen)
    return [*faults, Fault(half)] if half else faults


def set_as_planned(job: Job) -> bool:
    """Whether what the plan in use sets was read as left: before that nobody can say that it was done."""
    frozen, left = current_plan(job), readings.current(job, "as-left")
    if frozen is None or not left:
        return False
    what_is_set = replace(_plan(frozen), travel_m=None, stroke_m=None, sag_m=None, stroke_sag_m=None)
    if what_is_set.pressure_pa is None:  # a coil's rate and preload are not read once more as left: its steps say it
        return worked_through(job)
    return not _against(what_is_set, left)


def worked_through(job: Job) -> bool:
    """Whether no step is open: all of them signed or left with a reason, or none there."""
    return not _steps(job)


def sides(job: Job) -> list[Side]:
    """Found, planned and left, a row for each kind that any of them has."""
    found, left = readings.current(job, "as-found"), readings.current(job, "as-left")
    frozen, noun = current_plan(job), job.noun
    plan = _plan(frozen) if frozen is not None else _Plan()
    planned = {
        "pressure": _first(plan.pressure_pa, "pressure", "psi"), "negative-pressure": _first(plan.negative_pa, "pressure", "psi"),
        "spacers": "" if plan.spacers is None else str(plan.spacers), "travel": _first(plan.travel_m, "length", "mm"),
        "coil-rate": _first(plan.rate_n_per_m, "rate", "N/mm"), "preload": _tenths(plan.preload_m),
        "sag": _first(plan.sag_m, "length", "mm"), "stroke-sag": _first(plan.stroke_sag_m, "length", "mm"),
        **{kind: _first(set_, "pressure", "psi") if kind.endswith("pressure") else _tenths(set_) for kind, set_ in plan.other.items()},
        "stroke": _tenths(plan.stroke_m) if plan.stroke_m != plan.stroke_was_m else "",
    }  # fmt: skip
    rows = [
        Side(label(kind, noun), _read(found.get(kind)), planned.get(kind, ""), _read(left.get(kind)))
        for kind in [*COMPARED, *sorted({*found, *left} - {*COMPARED})]
    ]
    return [row for row in rows if row.found or row.planned or row.left]


def _steps(job: Job) -> list[Fault]:
    """Steps that are not done: by what was signed, or by what the card says where nothing is signed yet."""
    if not (job.procedure or StepEntry.objects.filter(job=job).exists()):
        return []
    if sign.finished(job):
        return []
    where = sign.where(job)
    if where.kind == "no-steps":
        return [Fault(where.sentence, hard=True)]
    return [Fault(f"The steps are not all signed: step {where.number} of {where.count} is open.", hard=True)]


def _plan(frozen: FrozenPlan) -> _Plan:
    """What it sets at the end that the job is about, and what its steps set at the other."""
    try:
        bench = core.frozen_bench(frozen)
        after = figures.changed(bench)
    except TopoutError:
        return _Plan()
    end = core.end_of(frozen.job)
    other, limit_pa = both_ends.set_there(bench, end)
    own = _of_shock(frozen, bench, after) if end == "rear" else _of_fork(frozen, bench, after)
    return replace(own, other=other, other_limit_pa=limit_pa)


def _of_fork(frozen: FrozenPlan, bench: BenchFile, after: BenchFile) -> _Plan:
    fork, new = bench.fork, after.fork
    air, new_air = (each.air if each is not None else None for each in (fork, new))
    coil = new.coil if new is not None else None
    sag = ((frozen.results.get("after") or {}).get("sag") or {}).get("front") or {}
    return _Plan(
        travel_was_m=fork.travel_m if fork else None,
        travel_m=new.travel_m if new else None,
        pressure_pa=new_air.pressure_gauge_pa if new_air else None,
        negative_pa=new_air.negative_pressure_gauge_pa if new_air and new_air.negative == "separate-valve" else None,
        spacers_were=air.spacers if air else None,
        spacers=new_air.spacers if new_air else None,
        sag_m=sag.get("shown_m"),
        rate_n_per_m=coil.rate_n_per_m if coil else None,
        preload_m=coil.preload_m if coil else None,
        limit_pa=new_air.pressure_limit_gauge_pa if new_air else None,
    )


def _of_shock(frozen: FrozenPlan, bench: BenchFile, after: BenchFile) -> _Plan:
    air, new_air = (each.shock.air if each.shock is not None else None for each in (bench, after))
    coil = after.shock.coil if after.shock is not None else None
    rear = ((frozen.results.get("after") or {}).get("sag") or {}).get("rear") or {}
    return _Plan(
        pressure_pa=new_air.pressure_gauge_pa if new_air else None,
        negative_pa=new_air.negative_pressure_gauge_pa if new_air and new_air.negative == "separate-valve" else None,
        spacers_were=air.spacers if air else None,
        spacers=new_air.spacers if new_air else None,
        stroke_was_m=bench.shock.stroke_m if bench.shock is not None else None,
        stroke_m=after.shock.stroke_m if after.shock is not None else None,
        stroke_sag_m=rear.get("stroke_shown_m"),
        rate_n_per_m=coil.rate_n_per_m if coil else None,
        preload_m=coil.preload_m if coil else None,
        limit_pa=new_air.pressure_limit_gauge_pa if new_air else None,
    )


def _against(plan: _Plan, left: dict[str, Reading]) -> list[Fault]:
    """Where what was left is not what the plan sets, or was not read though the plan needs it."""
    faults = []
    wanted: list[tuple[str, float | None, str, Any, bool]] = [
        ("pressure", plan.pressure_pa, "pressure", _gauge_off, True),
        ("negative-pressure", plan.negative_pa, "pressure", _gauge_off, True),
        ("spacers", plan.spacers, "", lambda *_: 0.0, plan.spacers != plan.spacers_were),
        ("travel", plan.travel_m, "length", lambda *_: over_limits.TRAVEL_OFF_M, plan.travel_m != plan.travel_was_m),
        ("stroke", plan.stroke_m, "length", lambda *_: SAME_STROKE_M, plan.stroke_m != plan.stroke_was_m),
        ("coil-rate", plan.rate_n_per_m, "rate", lambda row, set_: RATE_OFF_SHARE * set_, False),
        ("preload", plan.preload_m, "length", lambda *_: PRELOAD_OFF_M, False),
        ("sag", plan.sag_m, "length", lambda *_: SAG_OFF_SHARE * (plan.travel_m or 0.0), False),
        ("stroke-sag", plan.stroke_sag_m, "length", lambda *_: SAG_OFF_SHARE * (plan.stroke_m or 0.0), False),
        *(
            (kind, set_, "pressure", _gauge_off, False)
            for kind, set_ in plan.other.items()
            if kind.endswith("pressure")
        ),
        *(
            (kind, set_, "length", lambda *_: PRELOAD_OFF_M, False)
            for kind, set_ in plan.other.items()
            if kind.endswith("preload")
        ),
    ]
    for kind, set_, dimension, off, needed in wanted:
        row = left.get(kind)
        if set_ is None:
            continue
        unit = row.unit if row is not None and row.unit else preferences.unit(dimension, USUAL.get(dimension, ""))
        said = f"{set_:g}" if not dimension else _tenths(set_) if kind == "stroke" else _said(set_, dimension, unit)
        if row is None:
            if needed:
                faults.append(Fault(f"{label(kind)} as left is not read; the plan sets {said}."))
        elif abs(row.value_si - set_) > off(row, set_) * (1 + 1e-9) + 1e-12:
            faults.append(Fault(f"{label(kind)}: left {_read(row)}, the plan says {said}."))
    return faults


def _gauge_off(row: Reading, set_pa: float) -> float:
    """What the gauge that read it can tell [Pa]; nobody's word for one that no owner confirmed, or that is off by so much that it tells nothing."""
    gauge = None
    with suppress(core_steps.NotKnown):
        if row.instrument is not None and row.instrument.confirmed_at is not None:
            gauge = core_steps.gauge_of(row.instrument)
    if gauge is None or not gauge.tells(set_pa, GAUGE_MARKS):
        return PRESSURE_OFF_PA
    return float(gauge.error_pa(GAUGE_MARKS))


def _said(value: float | None, dimension: str, unit: str) -> str:
    """As a gauge and a rule are read: psi, kPa and mm whole, the larger units by their own decimals."""
    return "" if value is None else show(value, dimension, unit, decimals=0 if unit in WHOLE else None)


def _first(value: float | None, dimension: str, usual: str) -> str:
    """The same in the unit that stands first here."""
    return _said(value, dimension, preferences.unit(dimension, usual))


def _tenths(value: float | None) -> str:
    """A stroke: reducers go by 2.5 mm."""
    return "" if value is None else preferences.system().show(value, "length", "mm", trim=True)


def _read(row: Reading | None) -> str:
    return "" if row is None else shown.in_short(row)
