"""The frame turned on its wheels: how the bike stands for any fork length, offset, wheel or suspension position.

Frame coordinates at the chart's state: origin at the bottom bracket, x forward, y up. Along the steering axis runs
u = (cos α, −sin α), square to it v = (sin α, cos α). With d from rear to front axle, only its part along u changes as
the fork moves, so one square root gives the turned frame; no angle is ever searched for. All arrays share one shape.

Source: rigid rotation about the rear axle until both wheels touch the ground, closed form; checked against
brute-force rotation and, for trail and flop, the benchmark bicycle of Meijaard et al. 2007 (tests/outside).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from topout.physics.gas import Floats, Number

_DROP_SETTLED_M = 1e-16


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Chart:
    """The frame as its chart gives it: lengths [m], angles [rad]; `drop_m` is the bottom bracket below the rear axle."""

    head_angle_rad: Floats
    seat_angle_rad: Floats
    reach_m: Floats
    stack_m: Floats
    chainstay_m: Floats
    drop_m: Floats
    fork_length_m: Floats
    fork_offset_m: Floats
    front_radius_m: Floats
    rear_radius_m: Floats

    def take(self, index: Any) -> Chart:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Chart(*(getattr(self, f.name)[index] for f in fields(self)))


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Fitted:
    """What stands in the frame: fork length along the steering axis, offset, radii, how far the rear wheel is in [m]."""

    fork_length_m: Floats
    offset_m: Floats
    front_radius_m: Floats
    rear_radius_m: Floats
    rear_sag_m: Floats

    def take(self, index: Any) -> Fitted:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Fitted(*(getattr(self, f.name)[index] for f in fields(self)))


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class AxleFrame:
    """The vector from rear to front axle in steering-axis parts (`along_m` at x = 0, `across_m`), and what turns with it."""

    chart: Chart
    fitted: Fitted
    rear_x_m: Floats  # rear axle behind the bottom bracket, positive
    head_tube_m: Floats
    along_m: Floats
    across_m: Floats
    rise_m: Floats  # front radius − rear radius

    def take(self, index: Any) -> AxleFrame:
        """The same for a part of the configurations.

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        own = (getattr(self, name) for name in AxleFrame.__slots__)
        return AxleFrame(*(part[index] if isinstance(part, np.ndarray) else part.take(index) for part in own))


def along_axis_m(straight_m: Number, offset_m: Number) -> Number:
    """Fork length along the steering axis [m] from the straight line crown race to axle: √(L² − offset²).

    straight_m [m] (…) longer than the offset, else NaN; offset_m [m] (…) any → [m] (…). Raises nothing. Source:
    physics.md 6.
    """
    return np.sqrt(straight_m**2 - offset_m**2)


def drop_below_rear_axle_m(
    drop_m: Number, counted_from: str, front_radius_m: Number, rear_radius_m: Number, chart: Chart
) -> Number:
    """The chart's bottom-bracket drop [m] counted from the rear axle.

    From the front axle the radii differ; from the line between the axles (at the bottom bracket) the wheelbase enters,
    solved by repetition: each turn shrinks the error by the ratio of radius difference to wheelbase.

    drop_m [m] (…) shorter than the chainstay; counted_from [-] (one) the file's words; front_radius_m, rear_radius_m
    [m] (…) above 0; chart [SI] (…) whole → [m] (…). Raises nothing. Source: physics.md 6; the repetition derived.
    """
    if counted_from == "rear axle":
        return drop_m
    if counted_from == "front axle":
        return drop_m + rear_radius_m - front_radius_m
    # The head tube, and with it the front axle, moves along the steering axis as the drop changes.
    at_no_drop, per_drop = _chart_front_x(chart, 0.0), 1.0 / np.tan(chart.head_angle_rad)
    drop = drop_m
    for _ in range(60):
        rear_x = np.sqrt(chart.chainstay_m**2 - drop**2)
        forward = at_no_drop - drop * per_drop
        last, drop = drop, drop_m - (front_radius_m - rear_radius_m) * rear_x / (rear_x + forward)
        if not np.any(np.abs(drop - last) > _DROP_SETTLED_M):
            break
    return drop


def _head_tube_m(chart: Chart, drop_m: Number) -> Floats:
    """Head tube to the crown race [m]: the front axle stands at the chart's wheel radius."""
    up = chart.stack_m + chart.fork_offset_m * np.cos(chart.head_angle_rad) - drop_m
    result: Floats = (up + chart.rear_radius_m - chart.front_radius_m) / np.sin(
        chart.head_angle_rad
    ) - chart.fork_length_m
    return result


def _chart_front_x(chart: Chart, drop_m: Number) -> Floats:
    down = _head_tube_m(chart, drop_m) + chart.fork_length_m
    cos, sin = np.cos(chart.head_angle_rad), np.sin(chart.head_angle_rad)
    result: Floats = chart.reach_m + down * cos + chart.fork_offset_m * sin
    return result


def axle_frame(chart: Chart, fitted: Fitted) -> AxleFrame:
    """Everything about a bike that does not change while its fork moves.

    chart, fitted [SI] (…) whole → [SI] (…). Raises nothing. Source: physics.md 6.
    """
    one = _shared(chart)
    cos, sin = np.cos(one.head_angle_rad), np.sin(one.head_angle_rad)
    rear_x = np.sqrt(one.chainstay_m**2 - one.drop_m**2)
    head_tube = _head_tube_m(one, one.drop_m)
    to_head_x = one.reach_m + rear_x
    to_head_y = (one.stack_m - one.drop_m) - fitted.rear_sag_m
    along = (to_head_x * cos + head_tube) - to_head_y * sin
    along += fitted.fork_length_m
    across = to_head_x * sin + to_head_y * cos
    across += fitted.offset_m
    rear_x, head_tube = np.broadcast_to(rear_x, along.shape), np.broadcast_to(head_tube, along.shape)
    return AxleFrame(chart, fitted, rear_x, head_tube, along, across, fitted.front_radius_m - fitted.rear_radius_m)


def _shared(chart: Chart) -> Chart:
    """A chart that both states of a pair have in common, once: what comes of it alone is not worked out twice."""
    each = [getattr(chart, name) for name in Chart.__slots__]
    both = all(value.ndim > 1 and value.shape[0] > 1 and value.strides[0] == 0 for value in each)
    return chart.take(slice(0, 1)) if both else chart


def head_angle_sine(s: AxleFrame, x: Floats) -> tuple[Floats, Floats]:
    """Sine of the head angle and the wheelbase [m] with the fork x [m] in. dα/dx = sin α / wheelbase.

    s [SI] (…) whole; x [m] (…) 0 to the travel → [1], [m] (…) each. Raises nothing. Source: physics.md 6; the closed
    form derived.
    """
    along = s.along_m - x
    square = along * along + s.across_m * s.across_m
    wheelbase = np.sqrt(square - s.rise_m * s.rise_m)
    return (wheelbase * s.across_m - s.rise_m * along) / square, wheelbase


def stance(s: AxleFrame, x: Floats) -> dict[str, Floats]:
    """The ten numbers of a stance with the fork x [m] in: angles [rad], lengths [m], in the turned frame.

    trail = (r_f·cos α − o)/sin α, mechanical trail r_f·cos α − o, flop = trail·sin α·cos α.

    s [SI] (…) whole; x [m] (…) 0 to the travel → [rad], [m] (…) by name. Raises nothing. Source: physics.md 6; trail
    and flop checked against Meijaard et al. 2007.
    """
    chart, fitted = _shared(s.chart), s.fitted
    along = s.along_m - x
    square = along * along + s.across_m * s.across_m
    wheelbase = np.sqrt(square - s.rise_m * s.rise_m)
    sin = (wheelbase * s.across_m - s.rise_m * along) / square
    cos = (wheelbase * along + s.rise_m * s.across_m) / square
    head_angle = np.arctan2(sin, cos)
    cos0, sin0 = np.cos(chart.head_angle_rad), np.sin(chart.head_angle_rad)
    # The frame leans back by what the head angle has lost.
    cos_back, sin_back = cos0 * cos + sin0 * sin, sin0 * cos - cos0 * sin
    below = chart.drop_m + fitted.rear_sag_m
    down = s.head_tube_m + fitted.fork_length_m - x
    axle_x = chart.reach_m + down * cos0 + fitted.offset_m * sin0
    axle_y = chart.stack_m - down * sin0 + fitted.offset_m * cos0
    mechanical = fitted.front_radius_m * cos - fitted.offset_m
    trail = mechanical / sin
    return {
        "head_angle_rad": head_angle,
        "seat_angle_rad": (chart.seat_angle_rad - chart.head_angle_rad) + head_angle,
        "reach_m": chart.reach_m * cos_back - chart.stack_m * sin_back,
        "stack_m": chart.reach_m * sin_back + chart.stack_m * cos_back,
        "bb_height_m": fitted.rear_radius_m + s.rear_x_m * sin_back - below * cos_back,
        "wheelbase_m": wheelbase,
        "front_centre_m": np.sqrt(axle_x * axle_x + axle_y * axle_y),
        "trail_m": trail,
        "mechanical_trail_m": mechanical,
        "wheel_flop_m": trail * sin * cos,
    }
