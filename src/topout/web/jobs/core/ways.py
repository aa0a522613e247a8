"""What could be fitted to a job's unit, from the Shelf: the search, in the workshop's units, each way with what the plan's boxes take."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, cast

from topout import units
from topout.bench_file import write
from topout.bench_file.model import BenchFile, Fork, Shock
from topout.bench_file.parts import AirShaft, CoilSpring, Part, StrokeReducer, Tyre, VolumeSpacer
from topout.bench_file.read import read_tables
from topout.errors import FaultsFound
from topout.planner.facts import NONE, Fact
from topout.planner.options import choices, ends, gives_up, now_and_then, words
from topout.planner.options.answer import MOVING, options
from topout.planner.options.ends import Ends, Which
from topout.planner.options.option import Option
from topout.planner.options.rear_choices import LEAST_STROKE_M
from topout.planner.wanted import Wanted
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.book.kinds import KINDS
from topout.web.book.tables import Tables
from topout.web.jobs.core import CHANGE_TABLES, end_of, other_end
from topout.web.jobs.core.wanted import NOTHING
from topout.web.jobs.records.models import Job
from topout.web.shelf.models import Part as Row

GIVES: Final = {
    "air shaft": "gives",
    "volume spacer": "volume",
    "tyre": "height",
    "coil": "rate",
    "stroke reducer": "reduces",
}  # as the Shelf calls it
BESIDE: Final = {"coil": (("bind", "bind"),)}
NOT_FOR_USE: Final = "not for use"  # a part whose state says so is never offered
MARK_PSI, MARK_BAR = 1.0, 0.1  # what a gauge can show


@dataclass(frozen=True)
class Shelf:
    """The parts of the Shelf that a search may take, with their rows in the same order, and how many can't be taken."""

    parts: tuple[Part, ...]
    rows: tuple[Row, ...]
    without_figures: int = 0  # what they give was not measured
    not_for_use: int = 0


def shelf() -> Shelf:
    """Every part of the Shelf of a kind that a search knows, as measured."""
    parts, rows, short, unfit = [], [], 0, 0
    for row in Row.objects.filter(kind__in=GIVES).select_related("family", "tag"):
        if NOT_FOR_USE in row.state.casefold():
            unfit += 1
            continue
        part = _part(row)
        if part is None:
            short += 1
        else:
            parts.append(part)
            rows.append(row)
    return Shelf(tuple(parts), tuple(rows), short, unfit)


def _part(row: Row) -> Part | None:
    """A row of the Shelf as a part of the search; None where what it gives is not known or can't be."""
    table: dict[str, Any] = {"kind": row.kind, "on_hand": min(row.on_hand, 9999)}
    for word, name in (("gives", GIVES[row.kind]), ("length", "length"), ("bore", "bore"), *BESIDE.get(row.kind, ())):
        if row.measured.get(name):
            table[word] = row.measured[name]
    if row.cost is not None:
        table["cost"] = float(row.cost)
    if row.waiting_days is not None:
        table["waiting_days"] = row.waiting_days
    if row.marking:
        table["marking"] = row.marking
    if row.family is not None:
        table["family"] = row.family.name
        if row.kind != "tyre":
            table["end"] = "rear" if KINDS[row.family.kind].noun == "shock" else "front"
    try:
        (part,) = read_tables({"shelf": [table]}).shelf
    except FaultsFound:
        return None
    return part if isinstance(part, Part) else None


@dataclass(frozen=True)
class Line:
    """One figure of a way, now and then."""

    words: str
    now: str
    then: str


@dataclass(frozen=True)
class Way:
    """One way as the page shows it; `change` is what the plan's boxes take."""

    number: int
    name: str
    sets: str
    keeps: str
    gives_up: str
    alike: str
    figures: tuple[str, ...]  # head angle, trail, bottom bracket, sag and end of each end looked at, cost, days
    heads: tuple[str, ...]  # what each is
    order: Mapping[str, float]  # by what it may be sorted
    here: bool  # nothing of it is waited for
    parts: tuple[Row, ...]
    lines: tuple[Line, ...]
    change: Tables
    stance: float  # how far it is from what is wanted, or sits from now
    cost: float | None

    @property
    def named(self) -> list[tuple[str, str]]:
        """Each figure with what it is."""
        return list(zip(self.heads, self.figures, strict=True))


@dataclass(frozen=True)
class Ways:
    """The answer of a search for a page."""

    sentence: str
    ways: tuple[Way, ...]
    left_out: tuple[tuple[str, str], ...]
    tried: str
    not_looked_at: str
    neutral: tuple[tuple[str, str, str], ...]
    heads: tuple[str, ...]
    dangers: tuple[str, ...]
    leans_on: tuple[str, ...]
    without_figures: int
    not_for_use: int
    looked: Ends

    @property
    def wide(self) -> bool:
        """Whether both ends have their figures, which leave no room for a name beside them."""
        return self.looked.front and self.looked.rear


def looked_at(job: Job, file: BenchFile, told: str = "", wanted: Wanted = NOTHING) -> Ends:
    """The ends that a job's search is about: as told, else the unit's own and what is asked for at the other one.

    Raises FaultsFound where what is told or wanted can't be.
    """
    own = end_of(job)
    named = ends.of_bench(file, wanted=wanted)  # where nothing is asked, the fork's
    asks = file.change is not None or wanted != NOTHING
    front = own == "front" or (asks and named.front and file.fork is not None)
    rear = own == "rear" or (asks and named.rear)
    which: Which = "both" if front and rear else own
    if told in ("front", "rear", "both"):
        which = cast(Which, told)
    unit = {own: job.unit, "rear" if own == "front" else "front": other_end(job)}
    families = {
        end: each.family.name if each is not None and each.family is not None else None for end, each in unit.items()
    }
    return ends.of_bench(file, which, families["front"], families["rear"], wanted)


def ways(file: BenchFile, looked: Ends, wanted: Wanted = NOTHING, offsets_m: Sequence[float] = ()) -> Ways:
    """What could be fitted and set for what the file asks for; raises FaultsFound where spring or load lacks a figure."""
    system = preferences.system()
    lying = shelf()
    unit = system.unit("pressure", "psi")
    mark_pa = units.to_si(MARK_BAR if unit == "bar" else MARK_PSI, unit, "pressure")
    found = options(
        replace(file, shelf=()), lying.parts, family=looked.family, rear_family=looked.rear_family,
        end="both" if looked.front and looked.rear else "rear" if looked.rear else "front", wanted=wanted,
        offsets_m=offsets_m, gauge_mark_pa=mark_pa, draws=MOVING,
    )  # fmt: skip
    dangers, taken = words.of_its_plan(found, system)
    return Ways(
        words.answer(found, system),
        tuple(_way(each, now_and_then.cost(each, found.options), lying.rows, system) for each in found.options),
        tuple((words.excluded(code), units.digits(count, 0)) for code, count in found.excluded.items()),
        units.digits(found.tried, 0),
        words.not_looked_at(found),
        tuple(each for each in words.neutral(found, system) if each[1] != NONE),
        _heads(looked, system),
        tuple(dangers),
        (*words.leans_on(found), *taken),
        lying.without_figures,
        lying.not_for_use,
        looked,
    )


def _heads(looked: Ends, system: units.System) -> tuple[str, ...]:
    length = system.unit("length", "mm")
    front = ("sag, %", "firmer, %") if looked.front else ()
    behind = ("sag behind, %", "firmer behind, %") if looked.rear else ()
    return "head angle, °", f"trail, {length}", f"bracket, {length}", *front, *behind, "cost", "days"


def _way(option: Option, cost: str, rows: Sequence[Row], system: units.System) -> Way:
    facts = {name: each.in_system(system) for name, each in option.facts.items()}
    pairs = [each for each in (("sag_share", "end_force"), ("rear_share", "rear_end_force")) if each[0] in facts]
    heads = _heads(Ends(option.front, option.rear is not None), system)
    near = option.stance if option.miss is None else option.miss
    return Way(
        number=option.number,
        name=words.fits(option, system),
        sets=words.sets(option, system),
        keeps=words.keeps(option),
        gives_up=gives_up.said(option, system),
        alike=words.told_apart(option),
        figures=(
            *(facts[name].number("change") for name in ("head_angle", "trail", "bb_height")),
            *(said for share, force in pairs for said in (now_and_then.said(option, share, system)[1], gives_up.end(option, force))),
            cost,
            NONE if option.waiting_days is None else units.digits(option.waiting_days, 0),
        ),
        heads=heads,
        order={
            "stance": option.number, "spring": option.curve,
            "cost": _last(option.cost), "days": _last(option.waiting_days),
        },
        here=option.waiting_days == 0,
        parts=tuple(rows[used.number] for used in option.parts),
        lines=tuple(
            Line(f"{each.words}, {_unit(each)}" if _unit(each) else each.words, *now_and_then.said(option, name, system))
            for name, each in facts.items() if name not in ("sag", "rear_sag") and each.known
        ),
        change=_tables(option),
        stance=near,
        cost=option.cost,
    )  # fmt: skip


def _unit(fact: Fact) -> str:
    return {"deg": "°"}.get(fact.unit, fact.unit)


def _last(value: float | None) -> float:
    """Where what is not known stands in an order: behind everything."""
    return 1e12 if value is None else float(value)


def _tables(option: Option) -> Tables:
    """The change of a way as the Book's flat tables, as a person would type it."""
    text = write.write(BenchFile(change=option.change))
    return bench_tables.flat(tomllib.loads(text), CHANGE_TABLES)


SAME_VOLUME_M3: Final = 0.05e-6


def box_of(file: BenchFile, row: Row, part: Part, looked: Ends) -> Iterable[tuple[str, str]]:
    """What a button says for a part, and the boxes of the plan it sets: `travel=150 mm`, `shock_rate=450 lbf/in;shock_bind=62 mm`; none
    where boxes alone can't say it."""
    if isinstance(part, AirShaft):
        yield "Fit it", f"travel={row.measured['gives']}"
    elif isinstance(part, Tyre):
        for end, words_, name in (("front", "Fit in front", "tyre"), ("rear", "Fit behind", "rear_tyre")):
            if choices.seat_fits(file, part, end):
                yield words_, f"{name}={row.measured['height']}"
    else:
        for end, name, unit in (("front", "fork", file.fork), ("rear", "shock", file.shock)):
            if not (looked.front if end == "front" else looked.rear) or not choices.fits(file, part, end, looked):
                continue
            boxes = _boxes(unit, row, part, "" if end == "front" else "shock_")
            if boxes:
                said = "One more" if isinstance(part, VolumeSpacer) else "Fit it"
                yield f"{said} in the {name}" if looked.front and looked.rear else said, boxes


def _boxes(unit: Fork | Shock | None, row: Row, part: Part, own: str) -> str:
    """The boxes of a fork, or `own` of a shock, with a part in it; "" where boxes alone can't say it."""
    if isinstance(part, VolumeSpacer):
        # One of another volume changes what each takes: the search works that out, a count alone would be wrong.
        held_m3 = unit.air.spacer_volume_m3 if unit is not None and unit.air is not None else None
        same = held_m3 and part.gives_m3 and abs(held_m3 - part.gives_m3) < SAME_VOLUME_M3
        return f"{own}spacers=+1" if same else ""
    if isinstance(part, CoilSpring) and unit is not None and unit.coil is not None:
        # Measured from its free length; as it is wound up its coils touch so much sooner. Not known, it clears the box.
        left_m = None if part.bind_m is None else part.bind_m - unit.coil.preload_m
        bind = "" if left_m is None else f"{units.from_si(left_m, 'mm', 'length'):.4g} mm"
        return f"{own}rate={row.measured['rate']};{own}bind={bind}"
    if isinstance(part, StrokeReducer) and isinstance(unit, Shock) and unit.stroke_m and part.gives_m:
        left_m = unit.stroke_m - part.gives_m
        return f"shock_stroke={units.from_si(left_m, 'mm', 'length'):.4g} mm" if left_m >= LEAST_STROKE_M else ""
    return ""


def fitting(file: BenchFile, job: Job) -> tuple[Ends, list[tuple[Row, Part]]]:
    """The parts of the Shelf that fit a job's bike as far as is known, with their rows, and the ends that were looked at: both
    where both have a spring."""
    lying = shelf()
    both = all(unit is not None and (unit.air or unit.coil) for unit in (file.fork, file.shock))
    looked = looked_at(job, replace(file, change=None), "both" if both else "")
    return looked, [(lying.rows[number], part) for number, part in choices.usable(file, lying.parts, looked)]
