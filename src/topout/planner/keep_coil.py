"""What a coil that carries is set to so that one thing stays: its rate as it is wound up, or its preload as it is.

A coil has no pressure. Force is linear in the rate and in the preload, F = k·(x + p) and what else pushes, so either is one
division as a pressure is (`keep`), and for the curve the vertex of a parabola.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.physics import air_spring, geometry
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats
from topout.physics.geometry import AxleFrame
from topout.physics.sag import Load
from topout.planner import keep

RATES_N_PER_M: Final = (0.5e3, 500e3)  # the ranges of the bench file
PRELOADS_M: Final = (0.0, 0.060)


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """What is to be held, (n,): the travels at which the load is (NaN where there is none), and the end force before [N]."""

    sag_m: Floats
    sag_share_m: Floats
    end_force_n: Floats


def settings(
    before: EquilibratedSpring, after: EquilibratedSpring, stand: AxleFrame, load: Load, wanted: Wanted
) -> dict[tuple[str, str], Floats]:
    """Rate [N/m] and preload [m] that hold each of the four, by the keep's name and "rate_n_per_m" or "preload_m".

    NaN where none in range does; no preload that would make the coils touch before the travel is used.

    before, after [SI] (n,) settled, after on coils; stand [SI] (n,) whole; load [N] (n,) any; wanted [SI] (n,) any → [SI]
    (n,) each. Raises nothing. Source: derived from physics.md 2 and 7, linear in rate and preload.
    """
    fit = after.fit
    room_m = np.where(fit.bind_m > fit.travel_m, fit.bind_m - fit.travel_m, np.nan)  # that a preload may take

    def rate(rise: Floats) -> Floats:
        return _within(fit.spring_n_per_m + rise, *RATES_N_PER_M)

    def preload(rise: Floats) -> Floats:
        return np.where(rise <= room_m, _within(fit.preload_m + rise, *PRELOADS_M), np.nan)

    result: dict[tuple[str, str], Floats] = {}
    for setting, per, told in (
        ("rate_n_per_m", _per_rate, rate),
        ("preload_m", _per_preload, preload),
    ):
        for name, at_m in (("sag", wanted.sag_m), ("sag_share", wanted.sag_share_m)):
            inside = (at_m > 0.0) & (at_m < fit.travel_m)
            x = np.where(inside, at_m, 0.5 * fit.travel_m)
            sin, _ = geometry.head_angle_sine(stand, x)
            gap = load.axial_n + load.vertical_n * sin - air_spring.force(after, x)
            result[name, setting] = np.where(inside, told(gap / per(after, x)), np.nan)
        end = fit.travel_m
        result["end_force", setting] = told((wanted.end_force_n - air_spring.force(after, end)) / per(after, end))
        result["curve", setting] = told(keep.to_vertex(before, after, per))
    return result


Per = Callable[[EquilibratedSpring, Floats], Floats]


def _per_rate(s: EquilibratedSpring, x: Floats) -> Floats:
    """∂F/∂k [m]."""
    return x + s.fit.preload_m


def _per_preload(s: EquilibratedSpring, x: Floats) -> Floats:
    """∂F/∂p [N/m]."""
    return s.fit.spring_n_per_m + 0.0 * x


def _within(value: Floats, low: float, high: float) -> Floats:
    return np.where((value >= low) & (value <= high), value, np.nan)
