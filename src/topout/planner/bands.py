"""The slow force of every fork that fits as a band along the travel, before and after: 19 of 20 lie inside.

A band is for the eye: it is told from a thousand of the draws, each as likely as its weight, so that it costs the same
while a control moves as at rest. What is said in words comes from all of them (`bounds`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.physics import air_spring
from topout.planner.bounds import Answered
from topout.uncertainty import draws
from topout.uncertainty.draws import Floats

POINTS: Final = 51
FORKS: Final = 1_000
PERCENT: Final = (2.5, 50.0, 97.5)


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """The slow force of one state along its travel: median and 95 % limits; arrays of (points,), both ends included."""

    travel_m: Floats
    force_n: Floats
    low95_n: Floats
    high95_n: Floats


def slow_force(of: Answered, points: int = POINTS) -> tuple[Band, Band]:
    """The bands of before and after.

    Each fork is looked at at the same shares of its own travel, which no tape knows to better than half a millimetre.

    of [SI] (n,) draws; points [1] (one) 2 and more → [N] (points,) each, before and after. Raises nothing. Source:
    physics.md 2 and 12.
    """
    some = draws.alike(of.made.weights, FORKS)
    share = np.linspace(0.0, 1.0, points)
    found = []
    for state in (0, 1):
        chambers = of.pairs.chambers.take((state, some))
        settled = air_spring.settle(air_spring.computable(chambers))
        force_n = air_spring.force(settled, share[:, None] * chambers.travel_m)
        whole = force_n[:, np.isfinite(force_n).all(axis=0)]  # a fork that would lock has none
        low, middle, high = np.percentile(whole, PERCENT, axis=1)
        found.append(Band(share * float(np.median(chambers.travel_m)), middle, low, high))
    return found[0], found[1]
