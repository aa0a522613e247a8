"""Where the fork rests: under the rider with the geometry it gives, and unloaded where it does not extend fully.

Force less load rises with travel, so Newton steps clamped to [0, S] need no bracket: a load below the force at full
extension lands on 0 and one above the end force on S by themselves. What Newton has not brought home after 40 steps is
halved instead, element by element.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np

from topout.physics import air_spring, geometry, leverage, smooth
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Bools, Floats
from topout.physics.geometry import AxleFrame
from topout.physics.leverage import Linkage
from topout.physics.smooth import Smooth

_START_POINTS: Final = 9
_ABOUT: Final = 0.3  # of the wheel's travel, where nothing says better where it rests
_NEWTON_STEPS: Final = 40
_CLOSE: Final = 1e-11  # of the travel; the step after this one is below rounding, Newton being quadratic
_HALVINGS: Final = 60
_SMOOTH_STEPS: Final = 3
_SMOOTH_CLOSE: Final = 1e-11  # of the travel, the third term of a step; what follows it is below rounding
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

    F(x) = load, load − friction, load + friction, each with the head angle at its own travel. Where the spring is smooth
    there (`smooth`), two or three steps of fourth order give it; elsewhere Newton's.

    s [SI] (…) settled; stand [SI] (…) whole; load [SI] (…) any; friction [SI] (…) 0 and more → [m] (…) sag, least,
    most, 0 to the travel each. Raises nothing. Source: physics.md 7.
    """
    travel = s.fit.travel_m
    of = smooth.of(s)
    sin0, _ = geometry.head_angle_sine(stand, 0.25 * travel)
    x = smooth.start_m(of, load.axial_n + load.vertical_n * sin0, 0.25 * travel)
    np.minimum(np.maximum(x, 0.0, out=x), travel, out=x)
    for _ in range(_SMOOTH_STEPS):
        last, (x, open_) = x, _stepped(x, *_balance(of, stand, load, x), travel)
        if not open_.any():
            break
    open_ |= ~smooth.inside(of, x, last)
    # From the sag the ends of the band of friction lie a short way off: one step there, one to make sure.
    sign = np.array((-1.0, 1.0)).reshape((2,) + (1,) * travel.ndim)
    held = _held(s, friction, load, sign)
    near, _ = _stepped(x, *_balance(of, stand, load, x, held), travel)
    ends, open_ends = _stepped(near, *_balance(of, stand, load, near, held), travel)
    open_ends |= ~smooth.inside(of, ends, near)
    result = np.concatenate((x[None], ends))
    rest = np.nonzero((open_ | open_ends.any(axis=0)) & ~np.isnan(result.sum(axis=0)))
    if rest[0].size:
        pressing = (np.broadcast_to(n, travel.shape)[rest] for n in (load.axial_n, load.vertical_n, load.side_n))
        at: Any = (slice(None), *rest)
        result[at] = _by_newton(s.take(rest), stand.take(rest), Load(*pressing), friction.take(rest), result[at])
    return result[0], result[1], result[2]


_Held: TypeAlias = tuple[Floats, Floats | None, Floats | None]


def _held(s: EquilibratedSpring, friction: Friction, load: Load, sign: Floats) -> _Held:
    """Friction that holds a fork out (sign −1) or lets it in (+1): what it adds to the load [N]; what goes with the cosine of the
    head angle [N]; and, where some rises with the main pressure, that chamber's amount [J] with it counted in."""
    still_n, side_n, main_j = sign * friction.still_n, None, None
    if friction.per_pa.any():
        still_n -= sign * friction.per_pa * s.fit.ambient_pa
        main_j = s.main_in * (1.0 - sign * friction.per_pa / np.where(s.positive_m2 > 0.0, s.positive_m2, 1.0))
    if friction.side.any():
        side_n = sign * _side_n(friction, load)
    return still_n, side_n, main_j


def _balance(
    of: Smooth, stand: AxleFrame, load: Load, x: Floats, held: _Held | None = None
) -> tuple[Floats, Floats, Floats, Floats]:
    """Force less load [N] at a travel and the terms of its series about it; of the third those by the head's turning left out."""
    value, slope, second, third = smooth.with_slopes(of, x, held[2] if held else None)
    sin, wheelbase = geometry.head_angle_sine(stand, x)
    square = 1.0 - sin * sin
    cos = np.sqrt(np.maximum(square, 0.0))
    turn = sin / wheelbase
    bend = 0.5 * (stand.along_m - x) / wheelbase
    pressed = load.vertical_n * sin
    value -= load.axial_n
    value -= pressed
    slope -= load.vertical_n * cos * turn
    square -= 0.5
    square += cos * bend
    square *= pressed
    square /= wheelbase * wheelbase
    second -= square
    if held:
        still_n, side_n, _ = held
        value = value - still_n
        if side_n is not None:
            value -= side_n * cos
            slope = slope + side_n * sin * turn
            second = second + side_n * (cos + bend) * turn * turn
    return value, slope, second, third


def _stepped(
    x: Floats, value: Floats, slope: Floats, second: Floats, third: Floats, travel_m: Floats
) -> tuple[Floats, Bools]:
    """The next travel by the inverse series to its third term (Householder), within 0 … S, and where that may still be off.

    What is left out is less than the term of third order, c₃·h³, times c₂·h.
    """
    inverse = 1.0 / np.maximum(slope, _LEAST_SLOPE_N_PER_M)
    h = value * inverse
    inverse = inverse * h
    a = second * inverse
    b = third * inverse
    b *= h
    divisor = 1.0 - a
    divisor += b
    a *= a
    divisor -= a
    np.maximum(divisor, 0.5, out=divisor)
    np.divide(h, divisor, out=divisor)
    new = x - divisor
    np.maximum(new, 0.0, out=new)
    np.minimum(new, travel_m, out=new)
    b *= h
    np.abs(b, out=b)
    return new, (b > _SMOOTH_CLOSE * travel_m) & (new != x)


def _side_n(friction: Friction, load: Load) -> Floats:
    """Breakaway [N] by the load across the bushings, the head upright; a load not known hurts nobody where there is none."""
    return np.where(friction.side > 0.0, friction.side * load.side_n, 0.0)


def _by_newton(s: EquilibratedSpring, stand: AxleFrame, load: Load, friction: Friction, near_m: Floats) -> Floats:
    """The same by Newton's steps, for any spring, from a travel near by: shape (3, …)."""
    travel = s.fit.travel_m
    sign = np.array((0.0, -1.0, 1.0)).reshape((3,) + (1,) * travel.ndim)
    ambient = s.fit.ambient_pa
    plain = not (friction.per_pa.any() or friction.side.any())
    side = _side_n(friction, load)

    def residual(x: Floats) -> tuple[Floats, Floats]:
        force, rate, main, main_slope = air_spring.force_and_rate(s, x)
        sin, wheelbase = geometry.head_angle_sine(stand, x)
        cos = np.sqrt(np.maximum(1.0 - sin * sin, 0.0))
        turn = sin / wheelbase
        value = force - load.axial_n - load.vertical_n * sin - sign * friction.still_n
        slope = rate - load.vertical_n * cos * turn
        if not plain:
            value -= sign * (friction.per_pa * (main - ambient) + side * cos)
            slope -= sign * (friction.per_pa * main_slope - side * sin * turn)
        return value, slope

    return _solve(residual, near_m, travel)


def lost_travel_m(s: EquilibratedSpring) -> Floats:
    """Travel [m] at which it rests unloaded, F(x) = 0: what is lost where it does not extend fully; 0 elsewhere.

    NaN where the force is.

    s [SI] (…) settled → [m] (…) 0 to the travel. Raises nothing. Source: physics.md 2.
    """
    travel = s.fit.travel_m
    at_rest = air_spring.force(s, np.zeros_like(travel))
    result = 0.0 * at_rest  # NaN where the force is not known
    short = np.nonzero(at_rest < 0.0)
    if not short[0].size:
        return result
    of, end = smooth.of(s).take(short), travel[short]
    x = smooth.start_m(of, np.zeros_like(end), 0.25 * end)
    np.minimum(np.maximum(x, 0.0, out=x), end, out=x)
    for _ in range(_SMOOTH_STEPS):
        last, (x, open_) = x, _stepped(x, *smooth.with_slopes(of, x), end)
        if not open_.any():
            break
    rest = np.nonzero(open_ | ~smooth.inside(of, x, last))[0]
    if rest.size:
        part = s.take(tuple(axis[rest] for axis in short))

        def residual(x: Floats) -> tuple[Floats, Floats]:
            return air_spring.force_and_rate(part, x)[:2]

        x[rest] = _solve(residual, x[rest], part.fit.travel_m)
    result[short] = x
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
    x = _behind_m(s, linkage, end_m, load_n, friction_n, (0.0, -1.0, 1.0))
    return x[0], x[1], x[2]


def behind_m(
    s: EquilibratedSpring,
    linkage: Linkage,
    end_m: Floats,
    load_n: Floats,
    friction_n: Floats,
    near_m: Floats | None = None,
) -> Floats:
    """The first of these alone, for who does not ask what friction does; from where it rested under nearly that load in a few steps.

    s [SI] (…) the shock, settled; linkage [SI] (…) whole; end_m [m] (…) wheel travel at the end of the stroke; load_n [N] (…) on the
    wheel; friction_n [N] (…) of the shock, 0 and more; near_m [m] (…) 0 to the end, NaN where not known, or None → [m] (…) sag, 0 to
    the end. Raises nothing. Source: physics.md 7.
    """
    alone: Floats = _behind_m(s, linkage, end_m, load_n, friction_n, (0.0,), near_m)[0]
    return alone


def _behind_m(
    s: EquilibratedSpring,
    linkage: Linkage,
    end_m: Floats,
    load_n: Floats,
    friction_n: Floats,
    signs: tuple[float, ...],
    near_m: Floats | None = None,
) -> Floats:
    """Where it rests with so many times the friction taken off, one after the other: (signs, …). `near_m` is near there."""
    sign = np.array(signs).reshape((len(signs),) + (1,) * end_m.ndim)

    def residual(w: Floats) -> tuple[Floats, Floats]:
        stroke, ratio, change = leverage.at(linkage, w)
        force, rate, _, _ = air_spring.force_and_rate(s, stroke)
        held = force - sign * friction_n
        return held / ratio - load_n, (rate - held * change) / (ratio * ratio)

    if near_m is not None:
        start = np.where(np.isnan(near_m), _ABOUT * end_m, near_m)
    else:
        grid = np.linspace(0.0, 1.0, _START_POINTS).reshape((-1,) + (1,) * end_m.ndim) * end_m
        stroke, ratio, _ = leverage.at(linkage, grid)
        start = _crossing_m(air_spring.force(s, stroke) / ratio, load_n, end_m)
    return _solve(residual, np.broadcast_to(start, (len(signs), *end_m.shape)), end_m)
