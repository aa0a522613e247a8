"""One quantity before and after, rounded once, and the groups of them that a plan lists.

A fact keeps its SI values and says its numbers through `units`: a difference is always that of the figures shown, in
the unit shown. Values come from the results as JSON holds them (docs/bench-file.md) and from the two bench files.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from topout import units
from topout.bench_file import say
from topout.bench_file.model import Air, BenchFile, Key, NegativeCoil, keys
from topout.planner import fitted, limits
from topout.planner.known_to import FORCES_SAID_TO as FORCES_SAID_TO
from topout.planner.plan import room
from topout.planner.results import Curve, as_json

# In the order in which riders think: share of sag first, then feel.
KEEPS: Final = {
    "sag_share": "same sag in %",
    "curve": "same feel",
    "sag": "same sag",
    "end_force": "same bottom-out force",
}
NONE: Final = "–"
NEVER: Final = "never"  # of a port that lies out past full extension
Which = Literal["before", "after", "change"]

# field of a Stance, how it is called, dimension, unit, decimals
STANCE: Final = (
    ("head_angle_rad", "head angle", "angle", "deg", 1), ("seat_angle_rad", "seat angle", "angle", "deg", 1),
    ("reach_m", "reach", "length", "mm", 0), ("stack_m", "stack", "length", "mm", 0),
    ("bb_height_m", "bottom bracket height", "length", "mm", 0), ("wheelbase_m", "wheelbase", "length", "mm", 0),
    ("front_centre_m", "front centre", "length", "mm", 0), ("trail_m", "trail", "length", "mm", 0),
    ("mechanical_trail_m", "mechanical trail", "length", "mm", 0), ("wheel_flop_m", "wheel flop", "length", "mm", 0),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fact:
    """One quantity before and after [SI, None where not known], with the unit and the decimals it is said in."""

    key: str
    words: str
    dimension: str
    unit: str
    decimals: int | None
    before_si: float | None
    after_si: float | None
    note: str = ""  # beside the words: "8.5 ml each", "limit 550 mm"

    @property
    def known(self) -> bool:
        """Whether either state has it.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.before_si is not None or self.after_si is not None

    @property
    def both(self) -> bool:
        """Whether before and after can be compared.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.before_si is not None and self.after_si is not None

    def value(self, which: Which) -> float | None:
        """The number as it is said, in the fact's unit; None where it is not known.

        which [-] (one) before, after or change → [SI] (one) in the fact's own unit, or None. Raises nothing. Source:
        none needed, bookkeeping.
        """
        if which == "change":
            if self.before_si is None or self.after_si is None:
                return None
            return units.change(self.before_si, self.after_si, self.dimension, self.unit, self.decimals)
        si = self.before_si if which == "before" else self.after_si
        return None if si is None else units.number(si, self.dimension, self.unit, self.decimals)

    def number(self, which: Which) -> str:
        """Its digits alone, a difference signed; a dash where there is none.

        which [-] (one) before, after or change → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        value = self.value(which)
        if value is None:
            return NONE
        places = units.decimals_of(self.unit) if self.decimals is None else self.decimals
        return units.digits(value, places, signed=which == "change")

    def says(self, which: Which, *, second: bool = False) -> str:
        """With its unit, and on request in the other system too; a dash where there is none.

        which [-] (one) before, after or change; second [-] (one) yes or no → [-] (one) words. Raises nothing. Source:
        none needed, bookkeeping.
        """
        if which == "change":
            if self.before_si is None or self.after_si is None:
                return NONE
            return units.show_change(
                self.before_si, self.after_si, self.dimension, self.unit, decimals=self.decimals, second=second
            )
        si = self.before_si if which == "before" else self.after_si
        if si is None:
            return NONE
        beside = units.other(self.dimension, self.unit) if second else None
        places = None
        if beside is not None:  # those of the difference, which is that of the figures shown
            both = (self.before_si, self.after_si)
            places = units.beside_decimals(both, self.dimension, self.unit, beside, self.decimals)
        return units.show(si, self.dimension, self.unit, decimals=self.decimals, second=second, second_decimals=places)

    def trimmed(self, which: Literal["before", "after"]) -> str:
        """Its digits without a needless decimal, for a sentence or a heading.

        which [-] (one) before, after or change → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        value = self.value(which)
        if value is None:
            return NONE
        return units.digits(value, 0 if value == round(value) else units.decimals_of(self.unit))

    def size(self) -> str:
        """How much it changes, without a sign, with its unit: "1 mm".

        nothing → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        value = self.value("change")
        assert value is not None
        return units.plain(abs(value), self.unit, self.decimals)

    def in_system(self, system: units.System) -> Fact:
        """The same in somebody's own units.

        system [-] (one) theirs → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        unit = system.unit(self.dimension, self.unit)
        return self if unit == self.unit else self.in_unit(unit)

    def in_unit(self, unit: str, decimals: int | None = None) -> Fact:
        """The same in another unit.

        unit [-] (one) of its dimension; decimals [1] (one) 0 and more, or None → [SI] (one). Raises nothing. Source:
        none needed, bookkeeping.
        """
        return replace(self, unit=unit, decimals=decimals)


@dataclass(frozen=True, slots=True)
class Chosen:
    """A word of the bench file before and after."""

    key: str
    words: str
    before: str
    after: str


def second_valve(air: Air) -> bool:
    """Whether the negative chamber has its own valve, and a pressure to be filled to.

    air [SI] (one) as read, or None → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return air.negative == "separate-valve" and air.negative_pressure_gauge_pa is not None


def dig(state: Any, path: str) -> float | None:
    """A number of a state's JSON, "sag.front.shown_m"; angles, which stand there in degrees, are asked for in radians.

    state [SI] (one) as JSON; path [-] (one) names with dots → [SI] (one) or None. Raises nothing. Source:
    bench-file.md.
    """
    angle = path.endswith("_rad")
    here: Any = state
    for word in (path.removesuffix("_rad") + "_deg" if angle else path).split("."):
        if not isinstance(here, dict) or here.get(word) is None:
            return None
        here = here[word]
    return math.radians(here) if angle else float(here)


def travel_of(benches: tuple[BenchFile, BenchFile]) -> list[float | None]:
    """The travels of both states.

    benches [SI] (2) as read → [m] (2) or None each. Raises nothing. Source: none needed, bookkeeping.
    """
    return [b.fork.travel_m if b.fork is not None else None for b in benches]


def trimmed(dimension: str, unit: str, values: Iterable[float | None]) -> tuple[str, str, int | None]:
    """A unit in which neither state has a needless decimal.

    values [SI] (2) or None each; dimension, unit [-] (one) as units know them → [-] (one) words and the decimals.
    Raises nothing. Source: none needed, bookkeeping.
    """
    return dimension, unit, units.needed(values, dimension, unit)


def percent(end: Fact) -> int | None:
    """How much higher the force at the end is, of the figures said, in per cent.

    end [SI] (one) the fact of the end force → [1] (one) in per cent, or None. Raises nothing. Source: none needed,
    bookkeeping.
    """
    before, after = end.value("before"), end.value("after")
    if not before or after is None or before < 0:
        return None
    return int(units.number(after / before - 1.0, "share", "%"))


def stances(states: tuple[Any, Any], pick: str) -> Iterator[Fact]:
    """The stance's facts of one kind, unloaded or at sag.

    states [SI] (2) as JSON; pick [-] (one) unloaded or sagged → [SI] (any) facts. Raises nothing. Source: none needed,
    bookkeeping.
    """
    for name, words, dimension, unit, decimals in STANCE:
        values = [dig(state, f"geometry.{pick}.{name}") for state in states]
        if any(value is not None for value in values):
            yield Fact(name, words, dimension, unit, decimals, values[0], values[1])


Make = Callable[[str, str, tuple[str, str, int | None], Iterable[float | None]], Fact]


def set_title(is_set: bool) -> str:
    """The first group's title: nothing is called set that was not computed.

    is_set [-] (one) yes or no → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return "Set" if is_set else "Asked for"


def group_set(benches: tuple[BenchFile, BenchFile], travel: Fact, fact: Make) -> Iterator[Fact]:
    """What is set: travel, pressure, spacers; on a coil its rate and preload.

    benches [SI] (2) as read; fact [-] (one) what makes one; travel [SI] (one) a fact → [SI] (any) facts. Raises
    nothing. Source: none needed, bookkeeping.
    """
    airs = [b.fork.air if b.fork is not None else None for b in benches]
    yield travel
    if any(airs):
        each = next((a.spacer_volume_m3 for a in airs if a is not None and a.spacer_volume_m3 is not None), None)
        size = f"{units.show(each, 'volume', 'ml', trim=True)} each" if each is not None else ""
        counts = [None if a is None else float(a.spacers) for a in airs]
        yield replace(fact("spacers", "volume spacers", ("count", "", 0), counts), note=size)
        pressures = [None if a is None else a.pressure_gauge_pa for a in airs]
        if any(p is not None for p in pressures):
            yield fact("pressure", "pressure", trimmed("pressure", "psi", pressures), pressures)
        seconds = [a.negative_pressure_gauge_pa if a is not None and second_valve(a) else None for a in airs]
        if any(p is not None for p in seconds):
            yield fact("negative_pressure", "negative pressure", trimmed("pressure", "psi", seconds), seconds)
        behind = [None if a is None else a.second_pressure_gauge_pa for a in airs]
        if any(p is not None for p in behind):
            yield fact("second_pressure", "second chamber", trimmed("pressure", "psi", behind), behind)
    coils = [b.fork.coil if b.fork is not None else None for b in benches]
    if any(coils):
        rates = [None if c is None else c.rate_n_per_m for c in coils]
        yield fact("rate", "spring rate", trimmed("rate", "N/mm", rates), rates)
        wound = [None if c is None else c.preload_m for c in coils]
        yield fact("preload", "preload", trimmed("length", "mm", wound), wound)


def group_air(one: Air | None, two: Air | None, system: units.System) -> Iterator[Fact | Chosen]:
    """What of the air spring itself is another, in the unit its key is written in; where its port opens in words.

    one, two [SI] (one) as read, or None; system [-] (one) the units of its words → [SI] (any) facts. Raises nothing. Source: none needed, bookkeeping.
    """
    if one is None or two is None:
        return
    for word, (attribute, key) in keys(Air).items():
        was, now = getattr(one, attribute), getattr(two, attribute)
        if was == now or attribute in (
            "spacers",
            "pressure_gauge_pa",
            "negative_pressure_gauge_pa",
            "second_pressure_gauge_pa",
        ):
            continue
        name = word.replace("_", " ")
        if attribute == "port_position_m":
            yield Chosen(word, "port opens", _port(one, system), _port(two, system))
        elif key.kind == "coil":
            for inner, coil in keys(NegativeCoil).values():
                pair = [None if side is None else getattr(side, inner) for side in (was, now)]
                yield _of_key(f"{word}.{coil.word}", f"{name}, {coil.word}", coil, pair)
        elif key.kind == "choice":
            yield Chosen(word, f"{name} chamber", say.NEGATIVES[was], say.NEGATIVES[now])
        else:
            yield _of_key(word, name, key, [was, now])


def _port(air: Air, system: units.System) -> str:
    """Where the piston comes past the port: a place in from full extension, or never; what nobody wrote down is taken."""
    at = f"at {fitted.STANDS_AT['fork']}"
    if air.port_position_m is None:
        return f"{at}, taken" if air.negative == "self-equalising" else NONE
    if air.port_position_m < 0.0:
        return NEVER
    short = system.show(air.port_position_m, "length", "mm", trim=True)
    return f"{short} short of {fitted.STANDS_AT['fork']}" if air.port_position_m else at


def _of_key(name: str, words: str, key: Key, pair: list[Any]) -> Fact:
    numbers = [None if value is None else float(value) for value in pair]
    if key.dimension:
        return Fact(name, words, key.dimension, key.unit, None, numbers[0], numbers[1])
    return Fact(name, words, "count", "", 0, numbers[0], numbers[1])


def group_spring(
    of: Callable[[str], list[float | None]],
    fact: Make,
    sag: Fact,
    ring: Fact,
    end: Fact,
    curves: tuple[Curve | None, Curve | None],
) -> Iterator[Fact]:
    """What the spring does: sag, forces, curves.

    of [SI] (2) as JSON; fact [-] (one) what makes one; sag, ring, end [SI] (one) facts; curves [SI] (2) or None each →
    [SI] (any) facts. Raises nothing. Source: none needed, bookkeeping.
    """
    found = [sag]
    if any(ring.number(which) != sag.number(which) for which in ("before", "after")):
        found.append(replace(ring, words=f"sag {ring.words}"))
    mm: tuple[str, str, int | None] = ("length", "mm", 1)
    found += [
        fact("share", "sag, share of travel", ("share", "%", 1), of("sag.front.share")),
        fact("low", "sag at the least", mm, of("sag.front.low_m")),
        fact("high", "sag at the most", mm, of("sag.front.high_m")),
        fact("load", "load along the steering axis", ("force", "N", FORCES_SAID_TO), of("sag.front.load_n")),
        end,
        fact("end_force_fast", "bottom-out force, fast", ("force", "N", FORCES_SAID_TO), map(_fast_n, curves)),
        fact("energy", "energy to the end", ("energy", "J", 0), (c.energy_j if c else None for c in curves)),
        fact("ratio", "compression ratio", ("ratio", "", 2), map(_ratio, curves)),
    ]
    return (each for each in found if each.known)


def _fast_n(curve: Curve | None) -> float | None:
    if curve is None:
        return None
    line = curve.force_fast_n if curve.force_fast_from_sag_n is None else curve.force_fast_from_sag_n
    return float(line[-1])


def _ratio(curve: Curve | None) -> float | None:
    if curve is None or curve.positive_pa is None:  # a coil compresses nothing
        return None
    return float(curve.positive_pa[-1] / curve.positive_pa[0])


def group_room(
    benches: tuple[BenchFile, BenchFile], results: dict[str, Any], fact: Make, system: units.System
) -> Iterator[Fact]:
    """The room for the tyres.

    results [SI] (one) as JSON; benches [SI] (2) as read; fact [-] (one) what makes one; system [-] (one) the units of
    its words → [SI] (any) facts. Raises nothing. Source: physics.md 8.
    """
    limit = benches[0].frame.fork_length_limit_m if benches[0].frame is not None else None
    lengths = [fitted.fork_length_m(b) for b in benches]
    limited = f"limit {system.show(limit, 'length', 'mm', decimals=0)}" if limit is not None else ""
    rooms = (as_json(room(benches[0])), results["clearance"])
    crown = [r["tyre_to_crown_m"] for r in rooms]
    over = [b.fork.overtravel_m if b.fork is not None else 0.0 for b in benches]
    loaded = [None if gap is None or not more else gap - more for gap, more in zip(crown, over, strict=True)]
    mm: tuple[str, str, int | None] = ("length", "mm", 1)
    found = (
        replace(fact("fork_length", "fork length", ("length", "mm", 0), lengths), note=limited),
        fact("tyre_to_crown", "tyre to crown, bottomed", mm, crown),
        fact("tyre_to_crown_loaded", f"tyre to crown under {limits.said_load(system)}", mm, loaded),
        fact("tyre_to_brace", "tyre to brace", mm, [r["tyre_to_brace_m"] for r in rooms]),
        fact("tyre_to_frame", "rear tyre to frame", mm, [r["rear_tyre_to_frame_m"] for r in rooms]),
    )
    return (each for each in found if each.known)
