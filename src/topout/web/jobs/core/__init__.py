"""The only door from the web to the core: a job's bench file, its plan, the frozen plan and its recomputing.

Beside it in this package: `figures` for the plan page, `steps_core` for the steps, `hoses` for readings.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

import topout
from topout import units
from topout.bench_file.model import BenchFile, Fork
from topout.bench_file.model import End as End
from topout.bench_file.read import read_text
from topout.errors import FaultsFound
from topout.physics.air_spring import Chambers
from topout.planner import known, over_limit, sentence, summary
from topout.planner.facts import Fact
from topout.planner.hazard import undivided
from topout.planner.inexact import AT_REST
from topout.planner.known import Spring
from topout.planner.plan import plan as compute
from topout.planner.summary import Summary
from topout.web.access import preferences
from topout.web.access.change import ChangeContext
from topout.web.book import ends, guessed
from topout.web.book import tables as bench_tables
from topout.web.book.models import Unit
from topout.web.book.tables import Tables
from topout.web.jobs.core import carried
from topout.web.jobs.core.left import measured as by_hand
from topout.web.jobs.core.left import typed_text
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import OF_CAN
from topout.web.jobs.records.models import Draft, FrozenPlan, Job, Reading
from topout.web.jobs.records.open import released
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.records.sequence import next_sequence

CHANGE_TABLES = ("change", "change.air", "change.coil", "change.front_wheel", "change.rear_wheel", "change.shock")
# kind of reading as found -> where the bench file has it, by the noun of the unit
_READ: Final = {
    "fork": {"pressure": ("fork.air", "pressure"), "coil-rate": ("fork.coil", "rate"), "preload": ("fork.coil", "preload")},
    "shock": {"pressure": ("shock.air", "pressure"), "coil-rate": ("shock.coil", "rate"), "preload": ("shock.coil", "preload"),
              "stroke-sag": ("shock", "sag"), **{kind: ("shock.air", word) for kind, word in OF_CAN.items()}},
}  # fmt: skip
PLAN_DRAFT = "plan"  # Draft.place of a plan that is being worked out; its fields are boxes of the plan page
SAME = 1e-9  # relative; the same version must give this again


def end_of(job: Job) -> End:
    """At which end the job's unit is."""
    return "rear" if job.unit is not None and job.unit.what.noun == "shock" else "front"


def other_end(job: Job, at: datetime | None = None) -> Unit | None:
    """The unit that stands at the other end of the job's bike, `at` another time as the Book had it then.

    None where there is none, and where the Book has several and nobody knows which (`ends.not_told`).
    """
    return ends.fitted(job.bike, _other(job.unit), at) if job.unit is not None and job.bike is not None else None


def which_one(job: Job) -> str:
    """That the Book has several units at the other end of the job's bike, in a sentence that asks; "" where it has not."""
    told = ends.not_told(job.bike, [_other(job.unit)]) if job.unit is not None else []
    return told[0] if told else ""


def _other(unit: Unit) -> str:
    return "shock" if unit.what.noun == "fork" else "fork"


def elsewhere(job: Job) -> str:
    """That the job's unit no longer stands on the bike it was taken in with, in a sentence; "" where it does."""
    if job.unit is None or job.bike is None or job.unit.bike_id == job.bike.pk:
        return ""
    return f"{job.unit} was taken in on {job.bike}, and is {ends.where(job.unit)} now."


def tables(job: Job, change: Tables | None = None) -> Tables:
    """The bench file of a job as flat tables: the Book, with what was found, and what is asked for.

    A job that is handed over stays as it was planned: the Book has moved on to what it left.
    """
    if released(job):
        frozen = current_plan(job)
        if frozen is not None:
            whole = tomllib.loads(frozen.bench_file)
            names = [name for name in bench_tables.every() if name not in CHANGE_TABLES]
            return bench_tables.merged(bench_tables.flat(whole, names), change_of(job) if change is None else change)
    asked = change_of(job) if change is None else change
    return of_card(job, readings.current(job, "as-found"), asked, other_end(job))


def of_card(job: Job, found: Mapping[str, Reading], asked: Tables, other: Unit | None = None) -> Tables:
    """The bench file of a job that is in the workshop: the Book with what was `found`, by kind, and what is `asked` for.

    `other` is the unit at the other end, as the Book has it. No query where the job was fetched with its rider, bike, unit and
    the unit's family: a list of jobs asks for all at once.
    """
    workshop = preferences.workshop()
    measured: Tables = {"conditions": {}, "found": {}}
    if workshop and workshop.altitude:
        measured["conditions"]["altitude"] = workshop.altitude
    if "temperature" in found:
        measured["conditions"]["temperature"] = typed_text(found["temperature"])
    unit = job.unit.whole_tables() if job.unit else {}
    noun = job.unit.what.noun if job.unit else "fork"
    # What was read is a figure of the unit: the Book needs no line of its own for that.
    of_kind = job.unit.what.tables if job.unit else ()
    for kind, (table, key) in _READ[noun].items():
        if kind in found and table in of_kind:
            measured.setdefault(table, {})[key] = typed_text(found[kind])
    air = f"{noun}.air"
    if "negative-pressure" in found and unit.get(air, {}).get("negative") == "separate-valve":
        measured.setdefault(air, {})["negative_pressure"] = typed_text(found["negative-pressure"])
    if "spacers" in found and air in of_kind:
        measured.setdefault(air, {})["spacers"] = int(found["spacers"].value_si)
    for kind, table in (("travel", "fork"), ("stroke", "shock")):
        if kind in found and table in of_kind:
            measured.setdefault(table, {})[kind] = by_hand(unit.get(table, {}).get(kind), found[kind])
    if "sag" in found and "fork.coil" in unit:
        measured["found"] = {"sag": typed_text(found["sag"])}
        if found["sag"].posture:
            measured["found"]["posture"] = found["sag"].posture
    elif "sag" in found and "pressure" in found:
        measured["found"] = {"sag": typed_text(found["sag"]), "pressure": typed_text(found["pressure"])}
        if found["sag"].posture:
            measured["found"]["posture"] = found["sag"].posture
    # What was read held in weighs beside its unit's pressure, on a fork beside its sag too; of the shock behind a fork by itself.
    weighs = "pressure" in found and (bool(measured["found"]) or noun == "shock") and "shock.coil" not in unit
    held = [
        carried.as_read(each.row, held_in(each.row, each.unit.what.noun), found.get("pressure"))
        for each in carried.earlier(job, bench_tables.merged(unit, measured), other)
        if not each.kept.lapsed and (weighs or each.unit != job.unit)
    ]
    if weighs:
        held += [held_in(each, noun) for each in readings.far_in(job)]
    if held:
        measured["found"]["reading"] = held
    bike = bench_tables.fitted(job.bike.tables if job.bike else {}, other.whole_tables() if other else {}, unit)
    whole = bench_tables.one_rear_sag(bench_tables.merged(job.rider.tables, bike, measured, asked))
    return whole | guessed.table(guessed_keys(job, found) | guessed.keys(other), whole)


def guessed_keys(job: Job, found: Mapping[str, Reading]) -> frozenset[str]:
    """What of the unit's air spring somebody guessed and typed, by the keys of a bench file; what this job measured since is none.

    `found` are the readings as found that stand, by kind.
    """
    return guessed.keys(job.unit, [f"shock.air.{word}" for kind, word in OF_CAN.items() if kind in found])


def held_in(reading: Reading, noun: str) -> dict[str, str]:
    """A gauge read with a fork or a shock held in, as a bench file has it."""
    assert reading.held_m is not None and reading.start_si is not None
    start = units.from_si(reading.start_si, reading.unit, reading.dimension)
    told = {
        "travel": f"{units.from_si(reading.held_m, 'mm', 'length'):.9g} mm",
        "pressure": typed_text(reading),
        "start": f"{start:.9g} {reading.unit}",
    } | ({"end": "rear"} if noun == "shock" else {})
    hose_m3 = reading.hose_volume_m3
    return told | ({"hose": f"{units.from_si(hose_m3, 'ml', 'volume'):.9g} ml"} if hose_m3 else {})


def change_of(job: Job) -> Tables:
    """What is asked for in the records: the change of the plan that is frozen last. A draft is no record."""
    frozen = current_plan(job)
    return bench_tables.flat(tomllib.loads(frozen.bench_file), CHANGE_TABLES) if frozen else {}


def bench_text(job: Job, change: Tables | None = None) -> str:
    """The job's bench file as text."""
    return bench_tables.toml(tables(job, change))


def bench(job: Job, change: Tables | None = None) -> BenchFile:
    """The job's bench file, read; raises FaultsFound with every finding."""
    return read_text(bench_text(job, change))


def told(file: BenchFile) -> Summary:
    """Before, after, what to set, as facts."""
    return summary.of_plan(file, compute(file, draws=AT_REST), system=preferences.system())


def told_frozen(frozen: FrozenPlan) -> Summary:
    """A frozen plan as facts, of the results that were kept. Raises FaultsFound where this version can't read its file."""
    return summary.of_results(frozen_bench(frozen), frozen.results, system=preferences.system())


def frozen_bench(frozen: FrozenPlan) -> BenchFile:
    """The bench file of a frozen plan, read; raises FaultsFound where this version reads it otherwise."""
    return _read_once(frozen.bench_file)


def not_readable(found: FaultsFound) -> str:
    """What is said of a frozen plan that this version reads otherwise."""
    return f"The frozen plan can’t be read by this version: {found}"


def unread(frozen: FrozenPlan | None) -> str:
    """Why a frozen plan says nothing any more; "" where it can be read."""
    if frozen is None:
        return ""
    try:
        frozen_bench(frozen)
    except FaultsFound as found:
        return not_readable(found)
    return ""


@lru_cache(maxsize=64)
def _read_once(text: str) -> BenchFile:
    """A bench file that does not change any more: a page asks for a frozen plan's up to ten times, and each reading takes 5 ms."""
    return read_text(text)


def freeze(doing: ChangeContext, job: Job, change: Tables | None = None, reason: str = "") -> FrozenPlan:
    """Keep this plan: its whole bench file, its results and the version stay on the job. The draft is done with.

    Pages go through `refusals.use`, which looks at what speaks against it; `reason` is what an owner signed for that.
    """
    assert doing.who is not None
    whole = tables(job, change)
    text = bench_tables.toml(whole)
    file = read_text(text)
    results = plain(compute(file, draws=AT_REST).to_keep())
    end = end_of(job)
    said = what_to_set(summary.of_results(file, results), pressure_unit(whole, end), end)
    frozen = FrozenPlan.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, bench_file=text, results=results,
        version=topout.__version__, sentence=said, reason=reason,
    )  # fmt: skip
    Draft.objects.filter(job=job, place=PLAN_DRAFT).delete()
    return frozen


def sentence_of(frozen: FrozenPlan) -> str:
    """What a frozen plan sets, in the workshop's own units; as it was written where this version can't read its file."""
    try:
        return what_to_set(told_frozen(frozen), preferences.unit("pressure", "psi"), end_of(frozen.job))
    except FaultsFound:
        return frozen.sentence


def done_of(frozen: FrozenPlan, *, there: bool = False, stroke: bool = False) -> str:
    """The part of that sentence that the steps of its job set: what they read of the other end, and of a shock's stroke."""
    try:
        of = told_frozen(frozen)
    except FaultsFound:
        return frozen.sentence
    unit, end = preferences.unit("pressure", "psi"), end_of(frozen.job)
    if of.rear is not None and end == "rear" and not stroke:
        of = replace(of, rear=replace(of.rear, stroke=replace(of.rear.stroke, after_si=of.rear.stroke.before_si)))
    if there:
        return what_to_set(of, unit, end)
    if end == "front" or of.rear is None:
        return sentence.said(sentence.to_set(of, unit))
    return sentence.said(sentence.rear_to_set(of.rear, unit, bounds=of.bounds))


def what_to_set(of: Summary, unit: str = "psi", end: End = "front") -> str:
    """The sentence that is frozen: what to set at this end, as page and terminal say it, and what moves at the other."""
    pieces = sentence.to_set(of, unit)
    front = sentence.said(pieces)
    if of.rear is None:
        return front
    behind = sentence.said(sentence.rear_to_set(of.rear, unit, bounds=of.bounds))
    if end == "rear":
        too = of.forked and of.verdict == "set" and _moves(of.groups[:1])
        return f"{behind} {sentence.said(sentence.behind_name('Fork', pieces))}" if too else behind
    return f"{front} {behind}" if of.rear.verdict == "set" and _moves(of.rear.groups[:1]) else front


def _moves(groups: Iterable[tuple[str, Iterable[Any]]]) -> bool:
    """Whether anything of these groups becomes another."""
    return any(isinstance(each, Fact) and bool(each.value("change")) for _, group in groups for each in group)


def pressure_unit(of: Tables, end: End = "front") -> str:
    """The unit that the pressure to set was typed in: of the change, else as fitted; where none is the workshop's."""
    for table in ("change.shock", "shock.air") if end == "rear" else ("change", "change.air", "fork.air"):
        typed = of.get(table, {}).get("pressure")
        if isinstance(typed, str):
            try:
                return units.parse(typed, "pressure").unit
            except units.UnitFault:
                continue
    return preferences.unit("pressure", "psi")


def plain(value: Any) -> Any:
    """JSON that every database keeps: what is not finite becomes None, as `null` for what does not apply."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


@dataclass(frozen=True)
class Recomputed:
    """A frozen plan computed anew: whether the version is the same, the largest relative difference of its numbers.

    `other_warnings` says whether another set of warnings comes out; how one is worded does not count.
    """

    same_version: bool
    largest: float
    results: Any
    other_warnings: bool = False

    @property
    def holds(self) -> bool:
        """Whether the frozen results come out again; another version may differ, then both are shown."""
        return self.largest <= SAME and not self.other_warnings


def recompute(frozen: FrozenPlan) -> Recomputed:
    """Compute a frozen plan from its own bench file, drawn where it was drawn: with the same seed, as often."""
    results = _computed(frozen.bench_file, AT_REST if frozen.results.get("drawn") else 0)
    was, now = ({(w["code"], w["state"]) for w in each["warnings"]} for each in (frozen.results, results))
    largest = _largest(*(_numbers(each, bool(frozen.results.get("drawn"))) for each in (frozen.results, results)))
    return Recomputed(frozen.version == topout.__version__, largest, results, was != now)


@lru_cache(maxsize=32)
def _computed(text: str, draws: int) -> Any:
    """The results of a bench file; a card is looked at more often than its plan is made."""
    return plain(compute(read_text(text), draws=draws).as_json())


def _numbers(results: Any, drawn: bool) -> Any:
    """Results without the words of their warnings, what they lean on, and what says of them that nothing was drawn."""
    without = ("warnings", "defaults") if drawn else ("warnings", "defaults", "drawn")
    found = {key: value for key, value in results.items() if key not in without}
    if isinstance(found.get("rear"), dict):
        found["rear"] = dict(found["rear"])
    # Not told before: how hazards are known, the damper apart, which keep lies over a limit.
    for at in (found, found.get("rear") or {}):
        if isinstance(at.get("hazard"), dict):
            at["hazard"] = {state: undivided(at["hazard"].get(state)) for state in ("before", "after")}
        if isinstance(at.get("keep"), dict):
            at["keep"] = over_limit.unmarked(at["keep"])
    for state in ("before", "after", "difference"):  # the wheel's rate was not told before
        if isinstance(found.get(state), dict) and isinstance(found[state].get("rear"), dict):
            rear = {key: of for key, of in found[state]["rear"].items() if not key.startswith("wheel_rate_n_per_m")}
            found[state] = {**found[state], "rear": rear}
    if drawn:  # how far a reading's figures part was not told before
        told = ("kind", "travel_m", "half_width")
        following = [{key: row[key] for key in told} for row in results["drawn"]["next"]]
        found["drawn"] = results["drawn"] | {"next": following}
    return found


def told_again(frozen: FrozenPlan, now: Recomputed) -> Summary:
    """The same plan as facts, of what was computed anew."""
    return summary.of_results(frozen_bench(frozen), now.results, system=preferences.system())


def _largest(one: Any, other: Any) -> float:
    """The largest relative difference of two results of one shape; infinite where the shapes differ."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        return max((_largest(one[key], other[key]) for key in one), default=0.0)
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        return max((_largest(a, b) for a, b in zip(one, other, strict=True)), default=0.0)
    if isinstance(one, int | float) and isinstance(other, int | float) and not isinstance(one, bool):
        return abs(one - other) / max(abs(one), abs(other), 1e-12)
    return 0.0 if one == other and type(one) is type(other) else math.inf


def chambers(unit_tables: Tables, pressure_gauge_pa: float) -> Chambers | None:
    """The air spring of a unit of the Book at this pressure, one configuration, shape (1,).

    None where the Book does not know the air spring, or what it knows is at fault.
    """
    try:
        whole = bench_tables.read(unit_tables)
    except FaultsFound:
        return None
    fork: Fork | None = whole.fork
    # A can is an air spring like a fork's, its travel the stroke.
    if whole.shock is not None and whole.shock.air is not None:
        fork = Fork(travel_m=whole.shock.stroke_m, air=whole.shock.air)
    if fork is None or fork.air is None:
        return None
    file = BenchFile(fork=replace(fork, air=replace(fork.air, pressure_gauge_pa=pressure_gauge_pa)))
    spring = known.spring(file)
    return spring.chambers if isinstance(spring, Spring) else None
