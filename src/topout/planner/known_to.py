"""How far a plan is known: each number's limits, what its doubt hangs on, and the reading that would settle it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import floor, isnan, log10, radians
from typing import Any, Final

from topout import units
from topout.uncertainty import intervals
from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import Band, Interval
from topout.units import PSI_PA

FORCES_SAID_TO: Final = -1  # decimals: to 10 N, a spring is not known better
# Up to these half-widths a number stands in a sentence as one figure (physics.md 12).
MOST_PRESSURE_PA: Final = 3.0 * PSI_PA
MOST_SAG_M: Final = 0.003
MOST_SAG_SHARE: Final = 0.02  # ours: 3 mm of 150
MOST_OF_A_FORCE: Final = 0.08
MOST_ANGLE_DEG: Final = 0.3
_ANSWERS: Final = {
    "keep-sag": ("keep", "sag", "pressure_pa"), "keep-sag-share": ("keep", "sag-share", "pressure_pa"),
    "sag": ("after", "sag", "front", "travel_m"), "end-force": ("after", "end_force_n"),
    "rear-keep-sag": ("rear", "keep", "sag", "pressure_pa"),
    "rear-keep-sag-share": ("rear", "keep", "sag-share", "pressure_pa"),
    "rear-sag": ("after", "sag", "rear", "stroke_m"), "rear-end-force": ("after", "rear", "end_force_n"),
}  # fmt: skip
_SAGS: Final = ("travel_m", "shown_m", "low_m", "high_m")
_STROKES: Final = ("stroke_m", "stroke_shown_m")
MOST_STROKE_M: Final = 0.0012  # ours: 3 mm of the wheel's travel at a ratio of 2.5


@dataclass(frozen=True, slots=True)
class Next:
    """A reading that could be taken: its kind, the travel it is taken at, and the half-width of each answer after it."""

    kind: str
    travel_m: float | None
    half_width: dict[str, float]
    hold_n: float | None = None  # what it takes to hold the fork there, on the high side
    shows_pa: float | None = None  # what the gauge is expected to show there, on the high side [Pa gauge]
    start_pa: float | None = None  # what it is begun from at full extension [Pa gauge]
    between: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # what eight of ten of its figures leave


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the draws say of one plan. `of` holds an interval for each number, by its place in the plan's JSON."""

    of: Mapping[tuple[str, ...], Interval]
    draws: int
    effective: float
    seed: int
    assumed: tuple[str, ...]
    redrawn: tuple[tuple[str, float], ...]  # keys of which more than 1 % of the draws were not allowed, and their share
    depends_on: Mapping[str, list[tuple[str, float]]]
    next: tuple[Next, ...]
    bands: Mapping[tuple[str, ...], Band] = field(default_factory=dict)  # of numbers along the travel
    # The draws themselves, with their weights, for whoever sets two builds of one bike side by side; of a plan alone.
    values: Mapping[tuple[str, ...], Floats] = field(default_factory=dict, repr=False, compare=False)
    weights: Floats | None = field(default=None, repr=False, compare=False)

    @property
    def answers(self) -> dict[str, Interval]:
        """The answers that a reading is chosen by, four an end, those that are not exact.

        nothing → [SI] (8) at most, by name. Raises nothing. Source: bench-file.md.
        """
        return {name: self.of[place] for name, place in _ANSWERS.items() if place in self.of}

    def under(self, place: tuple[str, ...], answers: tuple[str, ...]) -> Bounds:
        """The same for what stands under a place of the plan, an answer of its own; of the four answers these.

        place [-] (any) of the plan's JSON; answers [-] (any) names → [SI] (one). Raises nothing. Source: none needed,
        bookkeeping.
        """
        depth = len(place)
        below = {at[depth:]: found for at, found in self.of.items() if at[:depth] == place}
        halves = [replace(n, half_width={k: v for k, v in n.half_width.items() if k in answers}) for n in self.next]
        depends_on = {name: keys for name, keys in self.depends_on.items() if name in answers}
        return replace(self, of=below, depends_on=depends_on, next=tuple(n for n in halves if n.half_width))

    def beside(self, exact: dict[str, Any]) -> dict[str, Any]:
        """A plan's JSON with the standard uncertainty and the 95 % limits beside each number that is not exact.

        exact [SI] (one) as bench-file.md has it → [SI] (one) the same, widened. Raises nothing. Source: bench-file.md.
        """
        wide = with_limits(exact, self.of)
        for place, of in self.bands.items():
            here: Any = wide
            for word in place[:-1]:
                here = here[word]
            rows = (
                [None if isnan(value) else value for value in v.tolist()] for v in (of.standard, of.low95, of.high95)
            )
            here |= intervals.beside(place[-1], *rows)
        return wide | {"drawn": self.as_json()}

    @classmethod
    def of_results(cls, results: Mapping[str, Any]) -> Bounds | None:
        """The limits that a plan's JSON holds beside its numbers; None where nothing was drawn for it.

        results [SI] (one) as bench-file.md has it → [SI] (one) or None. Raises nothing. Source: bench-file.md.
        """
        said = results.get("drawn")
        if not said:
            return None
        return cls(
            dict(_limits(results, ())),
            said["draws"],
            said["effective"],
            said["seed"],
            tuple(said["assumed"]),
            tuple((one["key"], one["share"]) for one in said["redrawn"]),
            {name: [(one["key"], one["share"]) for one in keys] for name, keys in said["depends_on"].items()},
            tuple(Next(n["kind"], n["travel_m"], n["half_width"], between=_between(n)) for n in said["next"]),
        )

    def worth_saying(self, results: dict[str, Any]) -> dict[str, Any]:
        """A plan's JSON without the numbers of its states that are not known well enough to be said as one figure.

        results [SI] (one) as bench-file.md has it → [SI] (one) None for those. Raises nothing. Source: physics.md 12.
        """
        said: dict[str, Any] = _copied(results)
        for place, found in self.of.items():
            key = place[-1]
            if place[0] in ("before", "after") and found.half_width > most(key, found.median):
                here: Any = said
                for word in place[:-1]:
                    here = here.get(word) if isinstance(here, dict) else None
                if isinstance(here, dict) and key in here:
                    here[key] = None
        return said

    def as_json(self) -> dict[str, Any]:
        """The object `drawn` of the plan's JSON.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        return {
            "draws": self.draws, "effective": round(self.effective, 1), "seed": self.seed, "assumed": list(self.assumed),
            "depends_on": {
                name: [{"key": key, "share": round(share, 3)} for key, share in keys] for name, keys in self.depends_on.items()
            },
            "redrawn": [{"key": key, "share": round(share, 3)} for key, share in self.redrawn],
            "next": [
                {
                    "kind": n.kind, "travel_m": n.travel_m, "half_width": n.half_width,
                    "half_width_low80": {name: n.between[name][0] for name in n.half_width if name in n.between},
                    "half_width_high80": {name: n.between[name][1] for name in n.half_width if name in n.between},
                }
                for n in self.next
            ],
        }  # fmt: skip


def _between(row: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    """What eight of ten of a reading's figures leave; nothing in results of before it was told."""
    return {name: (low, row["half_width_high80"][name]) for name, low in row.get("half_width_low80", {}).items()}


def _limits(tree: Mapping[str, Any], place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Interval]]:
    """Each number of a plan's JSON that has its limits beside it, by its place."""
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _limits(value, (*place, key))
        elif f"{key}_low95" in tree and value is not None:
            yield (*place, key), Interval(value, tree[f"{key}_low95"], tree[f"{key}_high95"], tree[f"{key}_u"])


def with_limits(tree: dict[str, Any], of: Mapping[tuple[str, ...], Interval]) -> dict[str, Any]:
    """A JSON tree with the standard uncertainty and the 95 % limits beside each number that is not exact; a difference is that
    of the draws, not of their middles.

    tree [SI] (any) as JSON; of [SI] (any) by place in it → [SI] (any) the same, widened. Raises nothing. Source:
    bench-file.md.
    """
    wide: dict[str, Any] = _copied(tree)
    for place, found in of.items():
        here: Any = wide
        for word in place[:-1]:
            here = here.get(word) if isinstance(here, dict) else None
        key = place[-1]
        if not isinstance(here, dict) or here.get(key) is None:
            continue
        if place[0] == "difference":
            here[key] = found.median
        here |= intervals.beside(key, found.standard, found.low95, found.high95)
    return wide


def decimals(half_si: float, dimension: str, unit: str) -> int | None:
    """The decimals that a number known to so much is said with: to the first figure of what it may be off, never finer than its
    unit is read, a pressure never finer than a gauge's mark, newtons never finer than to tens; None where it is exact.

    half_si [SI] (one) half of what lies between its limits, 0 and more; dimension, unit [-] (one) of the units → [1] (one)
    −2: to hundreds, or None. Raises nothing. Source: JCGM 100:2008 7.2.6; the mark physics.md 12.
    """
    if half_si <= 0.0:
        return None
    factor = units.factor(dimension, unit)
    finest = units.decimals_of(unit)
    if dimension == "pressure":
        finest = min(finest, -floor(log10(PSI_PA / factor)))
    if unit == "N":
        finest = min(finest, FORCES_SAID_TO)
    return min(finest, -floor(log10(half_si / factor)))


def no_finer(half_si: float, dimension: str, unit: str, own: int | None) -> int | None:
    """The decimals of a number that is never said finer than `own` either; `own` alone where it is exact.

    half_si [SI] (one) as for `decimals`; dimension, unit [-] (one) of the units; own [1] (one) what it is said with at the finest,
    or None for the unit's own → [1] (one) −2: to hundreds, or None. Raises nothing. Source: JCGM 100:2008 7.2.6.
    """
    known = decimals(half_si, dimension, unit)
    return own if known is None else known if own is None else min(own, known)


def half_si(one: Interval | None, dimension: str) -> float:
    """Half of what lies between the limits that a plan's JSON has beside a number, in which an angle is in degrees; 0 of none.

    one [SI] (one) an interval, an angle in degrees, or None; dimension [-] (one) of the units → [SI] (one) 0 and more. Raises
    nothing. Source: none needed, bookkeeping.
    """
    half = 0.0 if one is None else one.half_width
    return radians(half) if dimension == "angle" else half


def ratio_decimals(half: float) -> int | None:
    """The same of a plain ratio, which is read as finely as one likes.

    half [1] (one) half of what lies between its limits, 0 and more → [1] (one) decimals, or None. Raises nothing. Source: JCGM
    100:2008 7.2.6.
    """
    return None if half <= 0.0 else -floor(log10(half))


def most(key: str, median: float) -> float:
    """The half-width up to which a number is said as one figure; of an angle in degrees.

    key [-] (one) of a plan's JSON; median [SI] (one) any → [SI] (one). Raises nothing. Source: physics.md 12.
    """
    if key.endswith(("_n", "_n_per_m")):
        return MOST_OF_A_FORCE * abs(median)
    if key.endswith("_deg"):
        return MOST_ANGLE_DEG
    if key in ("share", "share_of_stroke", "share_of_wheel_travel"):
        return MOST_SAG_SHARE
    if key in _STROKES:
        return MOST_STROKE_M
    return MOST_SAG_M if key in _SAGS else float("inf")


def _copied(tree: Any) -> Any:
    """Plain tables and lists once more, to write into."""
    if isinstance(tree, dict):
        return {key: _copied(value) for key, value in tree.items()}
    return [_copied(value) for value in tree] if isinstance(tree, list) else tree
