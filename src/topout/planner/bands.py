"""The slow force of every fork that fits, and force and rate of every rear wheel, as bands along the travel, before and after:
19 of 20 lie inside.

A band is for the eye: it is told from a thousand of the draws, each as likely as its weight, so that it costs the same
while a control moves as at rest. What is said in words comes from all of them (`bounds`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from topout.physics import air_spring, leverage
from topout.physics.air_spring import Chambers
from topout.planner import design as designs
from topout.planner import rear
from topout.planner.bounds import Answered
from topout.planner.drawn import Drawn
from topout.uncertainty import draws, intervals
from topout.uncertainty.draws import Floats

POINTS: Final = 51
FORKS: Final = 1_000
SHARES: Final = (0.025, 0.5, 0.975)
_ROWS: Final = 17  # points along the travel at a time: what is worked out between stays in the processor's own memory


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """The slow force [N], or the wheel's rate [N/m], of one state along its travel: median and 95 % limits; arrays of (points,),
    both ends included. Of a shock at the wheel along the wheel's travel, or without a leverage at the shock along its stroke."""

    travel_m: Floats
    middle: Floats
    low95: Floats
    high95: Floats


@dataclass(frozen=True, slots=True, eq=False)
class BehindBands:
    """A rear end's force and, with a leverage, the rate at its wheel."""

    force: Band
    wheel_rate: Band | None


def slow_force(of: Answered, points: int = POINTS) -> tuple[Band, Band] | None:
    """The bands of before and after; None without a fork, or where none of one state works.

    Each fork is looked at at the same shares of its own travel, which no tape knows to better than half a millimetre.

    of [SI] (n,) draws; points [1] (one) 2 and more → [N] (points,) each, before and after, or None. Raises nothing. Source:
    physics.md 2 and 12.
    """
    some = draws.alike(of.made.weights, FORKS)
    kept: dict[int, Band | None] = {} if of.made.of_moves is None else _before_of_moves(of.made.of_moves)
    if points not in kept:
        kept[points] = _along(of.pairs.chambers.take((0, some)), points)
    before, after = kept[points], _along(of.pairs.chambers.take((1, some)), points)
    return None if before is None or after is None else (before, after)


@lru_cache(maxsize=4)
def _before_of_moves(made: Drawn) -> dict[int, Band | None]:
    """The band before, by its points, filled by `slow_force`: no move changes it."""
    return {}


def _along(chambers: Chambers, points: int) -> Band | None:
    """The band of these forks; None where none works."""
    share = np.linspace(0.0, 1.0, points)
    settled = air_spring.settle(air_spring.computable(chambers))
    works = np.isfinite(air_spring.force(settled, chambers.travel_m))  # a fork that would lock has none
    if not works.any():
        return None
    settled = settled.take(works)
    parts = [
        intervals.points(air_spring.force(settled, np.multiply.outer(part, settled.fit.travel_m)), SHARES)
        for part in np.split(share, range(_ROWS, points, _ROWS))
    ]
    low, middle, high = np.concatenate(parts, axis=1)
    return Band(share * float(intervals.median(chambers.travel_m)), middle, low, high)


def behind(of: Answered, points: int = POINTS) -> tuple[BehindBands, BehindBands] | None:
    """The same of the rear shocks, at the wheel where a leverage is known, with its rate; None without a shock, or where none of
    one state works.

    of [SI] (n,) draws; points [1] (one) 2 and more → [N], [N/m] (points,) each, before and after, or None. Raises nothing.
    Source: physics.md 2, 7 and 12.
    """
    some = draws.alike(of.made.weights, FORKS)
    share = np.linspace(0.0, 1.0, points)
    found = []
    before = of.made.design.take(some)
    for design in (before, designs.changed(before, of.made.changes.take(some))):
        ends = rear.rear(design)
        if ends is None:
            return None
        chambers, linked = ends.chambers, bool(np.isfinite(ends.end_m).any())
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            stroke_m = share[:, None] * chambers.travel_m
            settled = air_spring.settle(air_spring.computable(chambers))
            force_n, rate_n_per_m, _, _ = air_spring.force_and_rate(settled, stroke_m)
            along_m = stroke_m
            if linked:
                along_m = leverage.wheel_travel_m(ends.linkage, stroke_m)
                force_n, rate_n_per_m = leverage.at_wheel(ends.linkage, along_m, force_n, rate_n_per_m)
        if not np.isfinite(force_n).all(axis=0).any():
            return None
        middle_m = intervals.median(along_m)
        found.append(BehindBands(_band(middle_m, force_n), _band(middle_m, rate_n_per_m) if linked else None))
    return found[0], found[1]


def _band(along_m: Floats, values: Floats) -> Band:
    """Of values (points, n); a bike that would lock has none."""
    low, middle, high = intervals.points(values[:, np.isfinite(values).all(axis=0)], SHARES)
    return Band(along_m, middle, low, high)
