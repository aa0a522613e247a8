"""Where the parts of a bike stand: points in metres from the geometry of one state, origin at the rear contact.

x forward, y up, the ground at y = 0. Everything that a chart knows follows from the stance and what is fitted; what
no chart gives (how high the saddle stands, how long the lower legs are) is drawn by the proportions named here and
said nowhere in numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from topout.planner.results import Stance

Metres = tuple[float, float]

SEAT_TUBE_M: Final = 0.400  # bottom bracket to the top of the seat tube: a medium frame, not from any chart
SADDLE_M: Final = 0.700  # bottom bracket to saddle, likewise


@dataclass(frozen=True, slots=True)
class Fitted:
    """What one state has fitted: wheel radii, offset, fork length as it stands (sag taken off), travel left."""

    front_radius_m: float
    rear_radius_m: float
    offset_m: float
    fork_length_m: float
    travel_left_m: float


@dataclass(frozen=True, slots=True)
class Seat:
    """What the chart's seat angle gives."""

    top: Metres  # of the seat tube
    saddle: Metres


@dataclass(frozen=True, slots=True)
class Pose:
    """The points of one state."""

    fitted: Fitted
    rear_axle: Metres
    front_axle: Metres
    bottom_bracket: Metres
    head_top: Metres
    crown: Metres  # crown race, on the steering axis
    foot: Metres  # of the perpendicular from the front axle to the steering axis
    axis_ground: Metres  # where the steering axis meets the ground
    seat: Seat | None  # None where the chart does not say the seat angle: nothing is drawn by a guess
    along: Metres  # unit vector down the steering axis
    ahead: Metres  # unit vector square to it, forward


def pose(stance: Stance, fitted: Fitted) -> Pose:
    """The points of a stance; angles in radians, lengths in metres."""
    angle = stance.head_angle_rad
    along = (math.cos(angle), -math.sin(angle))
    ahead = (math.sin(angle), math.cos(angle))
    rear = (0.0, fitted.rear_radius_m)
    front = (stance.wheelbase_m, fitted.front_radius_m)
    drop = fitted.front_radius_m - stance.bb_height_m
    bracket = (front[0] - math.sqrt(stance.front_centre_m**2 - drop**2), stance.bb_height_m)
    head_top = (bracket[0] + stance.reach_m, bracket[1] + stance.stack_m)
    foot = move(front, ahead, -fitted.offset_m)
    return Pose(
        fitted,
        rear,
        front,
        bracket,
        head_top,
        move(foot, along, -fitted.fork_length_m),
        foot,
        (foot[0] + foot[1] / math.tan(angle), 0.0),
        None if stance.seat_angle_rad is None else _seat(bracket, stance.seat_angle_rad),
        along,
        ahead,
    )


def _seat(bracket: Metres, angle: float) -> Seat:
    up = (-math.cos(angle), math.sin(angle))
    return Seat(move(bracket, up, SEAT_TUBE_M), move(bracket, up, SADDLE_M))


def move(start: Metres, direction: Metres, length: float) -> Metres:
    """A point `length` along a unit vector."""
    return start[0] + direction[0] * length, start[1] + direction[1] * length


def between(a: Metres, b: Metres, share: float) -> Metres:
    """The point at a share of the way from a to b."""
    return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


def tube(a: Metres, b: Metres, half_width: float, half_width_b: float | None = None) -> list[Metres]:
    """The outline of a straight tube between two points, as four corners."""
    length = math.hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    side = (-(b[1] - a[1]) / length, (b[0] - a[0]) / length)
    other = half_width if half_width_b is None else half_width_b
    return [move(a, side, half_width), move(b, side, other), move(b, side, -other), move(a, side, -half_width)]
