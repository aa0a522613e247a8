"""Where the fork rests: under the rider with the geometry it gives, and unloaded where it does not extend fully.

Force less load rises with travel, so Newton steps clamped to [0, S] need no bracket: a load below the force at full
extension lands on 0 and one above the end force on S by themselves. What Newton has not brought home after 40 steps is
halved instead, element by element.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topout.physics import air_spring, geometry, leverage
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats
from topout.physics.geometry import AxleFrame
from topout.physics.leverage import Linkage

_START_POINTS: Final = 9
_NEWTON_STEPS: Final = 40
_CLOSE: Final = 1e-11  # of the travel; the step after this one is below rounding, Newton being quadratic
_HALVINGS: Final = 60
_LEAST_SLOPE_N_PER_M: Final = 1e-3


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Load:
    """What presses on the fork, shape (…): a share along the steering axis whatever the angle (calibrated), a vertical
    share of which sin α presses (assumed), and the vertical load that presses the bushings sideways [N]."""

    axial_n: Floats
    vertical_n: Floats
    side_n: Floats

    def take(self, index: Any) -> Load:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Load(self.axial_n[index], self.vertical_n[index], self.side_n[index])


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Friction:
    """Unloaded breakaway [N], its rise with the main gauge pressure [N/Pa], and a share of the side load [1]."""

    still_n: Floats
    per_pa: Floats
    side: Floats

    def take(self, index: Any) -> Friction:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Friction(self.still_n[index], self.per_pa[index], self.side[index])


Residual = Callable[[Floats], tuple[Floats, Floats]]


def _solve(residual: Residual, start: Floats, travel_m: Floats) -> Floats:
    """Roots in [0, S] of a rising residual; `residual` gives value and slope. Ends stand for roots outside."""
    x = start
    small = _CLOSE * travel_m
    for _ in range(_NEWTON_STEPS):
        value, slope = residual(x)
        # With next to no pressure the spring is softer than the load's own change with the head angle: the residual
        # falls there, and what it says is which end the fork goes to.
        step = value / np.maximum(slope, _LEAST_SLOPE_N_PER_M)
        new = np.minimum(np.maximum(x - step, 0.0), travel_m)
        moved = np.abs(new - x)
        x = new
        if not (moved > small).any():
            return x
    low, high = np.zeros_like(x), np.zeros_like(x) + travel_m
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        below = residual(middle)[0] < 0.0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.where(moved > small, 0.5 * (low + high), x)


def start_m(s: EquilibratedSpring, load_n: Floats) -> Floats:
    """A start for the roots: the slow force at 9 points, those below the load counted, interpolated. Shape of load.

    s [SI] (…) settled; load_n [N] (…) any → [m] (…) 0 to the travel. Raises nothing. Source: derived, a start for the
    roots alone.
    """
    travel = s.fit.travel_m
    grid = np.linspace(0.0, 1.0, _START_POINTS).reshape((-1,) + (1,) * travel.ndim)
    return _crossing_m(air_spring.force(s, grid * travel), load_n, travel)


def _crossing_m(force: Floats, load_n: Floats, travel: Floats) -> Floats:
    """Where forces at 9 equally spaced points of the travel, first axis, pass the load, interpolated."""
    below = np.minimum((force < load_n).sum(axis=0), _START_POINTS - 1)
    upper = np.maximum(below, 1)
    f1 = np.take_along_axis(force, upper[None], axis=0)[0]
    f0 = np.take_along_axis(force, upper[None] - 1, axis=0)[0]
    share = np.minimum(np.maximum((load_n - f0) / np.maximum(f1 - f0, 1e-9), 0.0), 1.0)
    result: Floats = travel / (_START_POINTS - 1) * (upper - 1 + share)
    return result


def at_rest_m(s: EquilibratedSpring, stand: AxleFrame, load: Load, friction: Friction) -> tuple[Floats, Floats, Floats]:
    """Travel [m] at sag, at the least (friction holds it out) and at the most (friction lets it in); shape (…) each.

    F(x) = load, load − friction, load + friction, each with the head angle at its own travel.

    s [SI] (…) settled; stand [SI] (…) whole; load [SI] (…) any; friction [SI] (…) 0 and more → [m] (…) sag, least,
    most, 0 to the travel each. Raises nothing. Source: physics.md 7.
    """
    travel = s.fit.travel_m
    sign = np.array((0.0, -1.0, 1.0)).reshape((3,) + (1,) * travel.ndim)
    ambient = s.fit.ambient_pa
    plain = not (friction.per_pa.any() or friction.side.any())

    def residual(x: Floats) -> tuple[Floats, Floats]:
        force, rate, main, main_slope = air_spring.force_and_rate(s, x)
        sin, wheelbase = geometry.head_angle_sine(stand, x)
        cos = np.sqrt(np.maximum(1.0 - sin * sin, 0.0))
        turn = sin / wheelbase
        value = force - load.axial_n - load.vertical_n * sin - sign * friction.still_n
        slope = rate - load.vertical_n * cos * turn
        if not plain:
            side = np.where(
                friction.side > 0.0, friction.side * load.side_n, 0.0
            )  # a load not known hurts nobody there
            value -= sign * (friction.per_pa * (main - ambient) + side * cos)
            slope -= sign * (friction.per_pa * main_slope - side * sin * turn)
        return value, slope

    sin0, _ = geometry.head_angle_sine(stand, 0.25 * travel)
    guess = start_m(s, load.axial_n + load.vertical_n * sin0)
    x = _solve(residual, np.broadcast_to(guess, (3, *travel.shape)), travel)
    return x[0], x[1], x[2]


def lost_travel_m(s: EquilibratedSpring) -> Floats:
    """Travel [m] at which it rests unloaded, F(x) = 0: what is lost where it does not extend fully; 0 elsewhere.

    NaN where the force is.

    s [SI] (…) settled → [m] (…) 0 to the travel. Raises nothing. Source: physics.md 2.
    """
    travel = s.fit.travel_m
    at_rest = air_spring.force(s, np.zeros_like(travel))
    result = 0.0 * at_rest  # NaN where the force is not known
    short = np.nonzero(at_rest < 0.0)
    if short[0].size:
        part = air_spring.settle(s.fit.take(short))
        end = part.fit.travel_m

        def residual(x: Floats) -> tuple[Floats, Floats]:
            return air_spring.force_and_rate(part, x)[:2]

        result[short] = _solve(residual, start_m(part, np.zeros_like(end)), end)
    return result


def behind_at_rest_m(
    s: EquilibratedSpring, linkage: Linkage, end_m: Floats, load_n: Floats, friction_n: Floats
) -> tuple[Floats, Floats, Floats]:
    """Rear wheel travel [m] at sag, at the least (friction holds it out) and at the most (friction lets it in); shape (…) each.

    F(s(w))/r(w) = load, with the shock's friction taken off and added at the shock. The wheel moves straight up in the frame
    and the load on it is the weight: the cosine of the frame's lean, 0.9997 at 1.5°, is left out.

    s [SI] (…) the shock, settled; linkage [SI] (…) whole; end_m [m] (…) wheel travel at the end of the stroke; load_n [N] (…) on the
    wheel; friction_n [N] (…) of the shock, 0 and more → [m] (…) sag, least, most, 0 to the end each. Raises nothing. Source:
    physics.md 7.
    """
    sign = np.array((0.0, -1.0, 1.0)).reshape((3,) + (1,) * end_m.ndim)

    def residual(w: Floats) -> tuple[Floats, Floats]:
        stroke, ratio, change = leverage.at(linkage, w)
        force, rate, _, _ = air_spring.force_and_rate(s, stroke)
        held = force - sign * friction_n
        return held / ratio - load_n, (rate - held * change) / (ratio * ratio)

    grid = np.linspace(0.0, 1.0, _START_POINTS).reshape((-1,) + (1,) * end_m.ndim) * end_m
    stroke, ratio, _ = leverage.at(linkage, grid)
    start = _crossing_m(air_spring.force(s, stroke) / ratio, load_n, end_m)
    x = _solve(residual, np.broadcast_to(start, (3, *end_m.shape)), end_m)
    return x[0], x[1], x[2]
