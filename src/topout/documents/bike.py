"""A bike drawn from the points of its pose: outlines as tubes for the state after, centre lines for the state before."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from topout.documents.pose import Fitted, Metres, Pose, between, move, tube
from topout.documents.svg import Drawing, Point, number
from topout.planner.results import Stance

RIM_M: Final = 0.311  # half a bead seat of 622 mm; drawn where the wheel's own is not known
STEM_REACH_M: Final = 0.040  # drawn, from no chart


@dataclass(frozen=True, slots=True)
class Standing:
    """One state to draw: its points, its numbers, the rims' radii."""

    pose: Pose
    stance: Stance
    front_rim_m: float = RIM_M
    rear_rim_m: float = RIM_M
    shock_m: float | None = None  # eye to eye as it stands; None where no shock is to be drawn


@dataclass(frozen=True, slots=True)
class Paper:
    """How metres become pixels: pixels a metre, where x = 0 stands, where the ground stands."""

    px_per_m: float
    left: float
    ground: float

    def at(self, point: Metres) -> Point:
        """A point's place in pixels."""
        return self.left + point[0] * self.px_per_m, self.ground - point[1] * self.px_per_m


def outline(drawing: Drawing, pose: Pose, on: Paper) -> None:
    """The state before: wheels and centre lines, dashed."""
    scale, fitted = on.px_per_m, pose.fitted
    drawing.circle("sb", on.at(pose.rear_axle), fitted.rear_radius_m * scale, "before-rear-wheel")
    drawing.circle("sb", on.at(pose.front_axle), fitted.front_radius_m * scale, "before-front-wheel")
    down_at, top_at = _joints(pose)
    leg_top = move(pose.crown, pose.ahead, fitted.offset_m)
    seat: list[tuple[Metres, Metres]] = []
    if pose.seat:
        top, saddle = pose.seat.top, pose.seat.saddle
        seat = [(top, top_at), (pose.bottom_bracket, saddle), (top, pose.rear_axle)]
    for a, b in (
        (pose.bottom_bracket, pose.rear_axle),
        (pose.bottom_bracket, down_at),
        *seat,
        (leg_top, pose.front_axle),
        (pose.head_top, pose.crown),
        (pose.crown, leg_top),
    ):
        drawing.line("sb", on.at(a), on.at(b))


def tubes(drawing: Drawing, state: Standing, on: Paper) -> None:
    """The state after: wheels, frame and fork as tubes; what stands in front is drawn last."""
    pose, scale, fitted = state.pose, on.px_per_m, state.pose.fitted

    def shape(points: list[Metres]) -> None:
        drawing.polygon("sa tube", (on.at(p) for p in points))

    for axle, radius, rim, name in (
        (pose.rear_axle, fitted.rear_radius_m, state.rear_rim_m, "rear"),
        (pose.front_axle, fitted.front_radius_m, state.front_rim_m, "front"),
    ):
        drawing.circle("sa wheel", on.at(axle), radius * scale, f"after-{name}-wheel")
        drawing.circle("sa thin", on.at(axle), min(rim, radius * 0.95) * scale)
    drawing.circle("sa thin", on.at(pose.rear_axle), 0.014 * scale)
    down_at, top_at = _joints(pose)
    leg_top = move(pose.crown, pose.ahead, fitted.offset_m)
    lower_top = move(pose.front_axle, pose.along, -_lower_leg_m(fitted))
    shape(tube(pose.bottom_bracket, pose.rear_axle, 0.010))
    if pose.seat:
        shape(tube(_towards(pose.seat.top, pose.bottom_bracket, 0.03), pose.rear_axle, 0.008))
    shape(tube(pose.bottom_bracket, down_at, 0.023))
    if pose.seat:
        shape(tube(_towards(pose.seat.top, pose.bottom_bracket, 0.02), top_at, 0.018))
        shape(tube(pose.seat.saddle, pose.bottom_bracket, 0.0135))
        shape(tube(pose.seat.top, pose.bottom_bracket, 0.0175))
    if state.shock_m is not None and pose.seat:
        _shock(drawing, pose, state.shock_m, on)
    shape(tube(leg_top, lower_top, 0.0175))
    shape(tube(lower_top, move(pose.front_axle, pose.along, 0.012), 0.0235))
    crown_low = move(pose.crown, pose.along, 0.040)
    shape(
        [
            move(leg_top, pose.ahead, 0.020),
            move(move(leg_top, pose.along, 0.040), pose.ahead, 0.020),
            move(crown_low, pose.ahead, -0.026),
            move(pose.crown, pose.ahead, -0.026),
        ]
    )
    shape(tube(pose.head_top, pose.crown, 0.026))
    drawing.circle("sa tube", on.at(pose.front_axle), 0.015 * scale, "after-front-axle")
    stem = move(pose.head_top, pose.along, -0.018)
    shape(tube(move(stem, pose.ahead, -0.020), move(stem, pose.ahead, STEM_REACH_M), 0.014))
    drawing.circle("sa tube", on.at(move(stem, pose.ahead, STEM_REACH_M)), 0.016 * scale)
    if pose.seat:
        _saddle(drawing, on.at(pose.seat.saddle), scale)
    _cranks(drawing, on.at(pose.bottom_bracket), scale)


def _joints(pose: Pose) -> tuple[Metres, Metres]:
    """Where down tube and top tube meet the head tube."""
    return between(pose.crown, pose.head_top, 0.28), between(pose.crown, pose.head_top, 0.78)


def _shock(drawing: Drawing, pose: Pose, length_m: float, on: Paper) -> None:
    """A shock of its true length between the down tube and a link on the seat stay; where they stand is drawn to no chart."""
    assert pose.seat is not None
    down_at, _ = _joints(pose)
    front = between(pose.bottom_bracket, down_at, 0.42)
    stay = between(pose.seat.top, pose.rear_axle, 0.12)
    reach = math.hypot(stay[0] - front[0], stay[1] - front[1]) or 1.0
    back = between(front, stay, length_m / reach)
    middle = between(front, back, 0.55)
    for points in (tube(front, middle, 0.026), tube(middle, back, 0.014), tube(back, stay, 0.009)):
        drawing.polygon("sa tube", (on.at(p) for p in points))
    for eye in (front, back, stay):
        drawing.circle("sa tube", on.at(eye), 0.012 * on.px_per_m)


def _lower_leg_m(fitted: Fitted) -> float:
    """Axle to the top of the lower legs: what the crown and the travel that is left don't take."""
    return max(0.45 * fitted.fork_length_m, fitted.fork_length_m - fitted.travel_left_m - 0.055)


def _towards(a: Metres, b: Metres, length: float) -> Metres:
    """The point `length` from a towards b."""
    return between(a, b, length / math.hypot(b[0] - a[0], b[1] - a[1]))


# The saddle's outline in metres from the top of its post: corners and control points of three curves and two lines.
_SADDLE: Final = (
    "M", (-0.166, 0.026), "C", (-0.106, 0.026), (-0.056, 0.002), (0.034, 0.016), "L", (0.104, 0.014),
    "C", (0.112, 0.002), (0.100, -0.004), (0.084, -0.004), "L", (-0.136, -0.004),
    "C", (-0.162, -0.004), (-0.176, 0.012), (-0.166, 0.026), "Z",
)  # fmt: skip


def _saddle(drawing: Drawing, at: Point, scale: float) -> None:
    words = []
    for piece in _SADDLE:
        if isinstance(piece, str):
            words.append(piece)
        else:
            words.append(f"{number(at[0] + piece[0] * scale)} {number(at[1] - piece[1] * scale)}")
    drawing.path("sa tube", " ".join(words))


def _cranks(drawing: Drawing, at: Point, scale: float) -> None:
    """Chainring, cranks level, pedals; drawn to no chart."""
    drawing.circle("sa tube ring", at, 0.062 * scale)
    arm, half, pedal = 0.165 * scale, 0.010 * scale, 0.033 * scale
    left, right = at[0] - arm, at[0] + arm
    drawing.polygon(
        "sa tube", [(left, at[1] - half), (right, at[1] - half), (right, at[1] + half), (left, at[1] + half)]
    )
    for x in (left, right):
        drawing.line("sa pedal", (x - pedal, at[1]), (x + pedal, at[1]))
    drawing.circle("sa tube", at, 0.020 * scale, "after-bottom-bracket")
