"""The Pareto front: the options that no other beats in every respect. No weights, no score.

Differences that nobody could tell are none: stance and curve are compared in steps, and of options in one step those stay
that no other of the step beats. So nothing on the front is beaten by anything, in steps or to the last bit.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np

from topout.physics.gas import Bools, Floats

STANCE_STEP: Final = 0.05  # of what a rider must learn again: 0.05° of head angle, 0.4 mm of bottom bracket or trail
CURVE_STEP: Final = 0.01  # of the force over the travel


@dataclass(frozen=True, slots=True, eq=False)
class Ranked:
    """Options with what they are ranked by, arrays of shape (n,): small is good in all four."""

    way: Any  # number of the way to build, integers
    setting: Any  # which of its pressures, integers
    pressure_gauge_pa: Floats  # exact, as the gauge would show it
    set_gauge_pa: Floats  # as it can show it
    rear_gauge_pa: Floats  # the same two of the shock, NaN where it has no pressure or is not looked at
    rear_set_gauge_pa: Floats
    stance: Floats
    curve: Floats
    cost: Floats
    days: Floats
    given_up_m: Floats  # of a shock's stroke, that nobody asked to give up

    def take(self, index: Any) -> Ranked:
        """A part of them (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Ranked(*(getattr(self, f.name)[index] for f in fields(self)))

    def beside(self, other: Ranked) -> Ranked:
        """Both together.

        other [SI] (m,) any → [SI] (n + m,). Raises nothing. Source: none needed, bookkeeping.
        """
        names = [f.name for f in fields(self)]
        return Ranked(*(np.concatenate((getattr(self, name), getattr(other, name))) for name in names))

    def __len__(self) -> int:
        return int(self.cost.size)


def empty() -> Ranked:
    """No option.

    nothing → [SI] (0,). Raises nothing. Source: none needed, bookkeeping.
    """
    none = np.empty(0)
    return Ranked(np.empty(0, dtype=int), np.empty(0, dtype=int), none, none, none, none, none, none, none, none, none)


def of_front(options: Ranked) -> Ranked:
    """Those that no other beats, nearest in stance first, then in curve, cost and days.

    Those that give up stroke which nobody asked to give up come last: over less travel every curve lies nearer.

    options [SI] (n,) none of it NaN → [SI] (m,) m at most n. Raises nothing. Source: Pareto's order, derived.
    """
    in_steps = np.stack(
        (np.round(options.stance / STANCE_STEP), np.round(options.curve / CURVE_STEP), options.cost, options.days),
        axis=1,
    )
    kept = options.take(unbeaten(in_steps))
    exact = np.stack((kept.stance, kept.curve, kept.cost, kept.days), axis=1)
    kept = kept.take(unbeaten(exact))
    order = np.lexsort(
        (kept.setting, kept.way, kept.days, kept.cost, kept.curve, kept.stance, np.round(kept.given_up_m, 6))
    )
    return kept.take(order)


def unbeaten(points: Floats) -> Bools:
    """Which rows no other row beats: at most as large in every column and smaller in one.

    points [1] (n, k) none of it NaN, infinite allowed → [-] (n,). Raises nothing. Source: Pareto's order; sorted by the
    first column, so that no later row beats an earlier one (Kung, Luccio and Preparata 1975).
    """
    n = len(points)
    result = np.zeros(n, dtype=bool)
    if not n:
        return result
    order = np.lexsort(points.T[::-1])
    left = points[order]
    while len(left):
        best = left[0]
        # Equal rows beat nobody: they stay together.
        equal = (left == best).all(axis=1)
        result[order[equal]] = True
        still = (left < best).any(axis=1) & ~equal
        left, order = left[still], order[still]
    return result
