"""What is said of one state that is not known exactly: the middle of each figure and what it lies between, as finely as it is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from topout.planner import missing, open_to
from topout.planner.facts import STANCE
from topout.planner.known_to import Bounds, decimals, half_si
from topout.uncertainty.intervals import Interval
from topout.units import System, show

_Row: TypeAlias = tuple[tuple[str, ...], str, str, str]
# By command: the place in its JSON, the words, dimension, unit.
_OF: Final = {
    "sag": (
        (("front", "travel_m"), "sag", "length", "mm"),
        (("front", "share"), "share of the travel", "share", "%"),
        (("front", "shown_m"), "as the sag O-ring will show it", "length", "mm"),
        (("front", "load_n"), "load along the steering axis", "force", "N"),
        (("front", "implied_share"), "share of the weight on the front wheel", "share", "%"),
        (("rear", "travel_m"), "rear wheel travel", "length", "mm"),
        (("head_angle_deg",), "head angle at sag", "angle", "deg"),
    ),
    "curve": (
        (("energy_j",), "energy to the end, slow", "energy", "J"),
        (("energy_fast_j",), "energy to the end, fast", "energy", "J"),
        (("lost_travel_m",), "lost travel", "length", "mm"),
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Known:
    """A figure with the limits that hold 19 of 20 that fit, each as it is written."""

    words: str
    median: str
    low: str
    high: str


def of_state(of: Bounds, command: str, system: System) -> list[Known]:
    """What a command answers of one state, each figure that is not exact.

    of [SI] (one) what the draws say; command [-] (one) sag or curve; system [-] (one) the units to say it in → [SI] (any)
    as written. Raises nothing. Source: physics.md 12.
    """
    return _between(of, _OF[command], system)


def of_stance(of: Bounds, part: str, system: System) -> list[Known]:
    """The figures of a stance that are not exact.

    of [SI] (one) what the draws say of a geometry; part [-] (one) unloaded or sagged; system [-] (one) the units to say it in
    → [SI] (any) as written. Raises nothing. Source: physics.md 12.
    """
    rows = []
    for name, words, dimension, unit, _ in STANCE:
        key = name.removesuffix("_rad") + "_deg" if name.endswith("_rad") else name
        rows.append(((part, key), words, dimension, unit))
    return _between(of, rows, system)


def _between(of: Bounds, rows: Sequence[_Row], system: System) -> list[Known]:
    return [
        Known(words, *limits(of.of[place], dimension, unit, system))
        for place, words, dimension, unit in rows
        if place in of.of
    ]


def limits(one: Interval, dimension: str, unit: str, system: System) -> tuple[str, str, str]:
    """A middle with its limits, written as finely as it is known, the limits rounded away from it.

    one [SI] (one) an interval, an angle in degrees; dimension, unit [-] (one) of the units; system [-] (one) the units to say
    it in → [-] (3) words. Raises nothing. Source: JCGM 100:2008 7.2.6.
    """
    factor = math.radians(1.0) if dimension == "angle" else 1.0
    here = system.unit(dimension, unit)
    places = decimals(half_si(one, dimension), dimension, here)
    si = Interval(*(factor * value for value in (one.median, one.low95, one.high95, one.standard)))
    low, high = open_to.outward(si, dimension, here, places)
    return show(si.median, dimension, here, decimals=places), low, high


def redrawn(of: Bounds) -> str:
    """What of a file's own uncertainties can't be, and had to be drawn anew; nothing where that were few.

    of [SI] (one) what the draws say → [-] (one) words. Raises nothing. Source: physics.md 10.
    """
    if not of.redrawn:
        return ""
    named = [
        f"{show(share, 'share', '%')} of {'the builds' if word == 'together' else missing.words(missing.place_of(word))}"
        for word, share in of.redrawn
    ]
    return f"Drawn anew, since it can't be: {', '.join(named)}. Look at those uncertainties."
