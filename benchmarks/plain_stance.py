"""The plain script, second part: frame, fork and wheels of one bike, turned until both wheels stand on the ground.

Frame coordinates at the chart's state: origin at the bottom bracket, x forward, y up. Radians inside, degrees in results.
"""

from __future__ import annotations

import math
from typing import Any

from scipy.optimize import brentq

Bike = dict[str, Any]


def wheel_radius_m(wheel: Bike, chart_radius_m: float | None) -> float | None:
    if "radius" in wheel:
        return float(wheel["radius"])
    if "bead_seat" in wheel:
        return float(wheel["bead_seat"] / 2.0 + wheel["tyre_height"])
    return chart_radius_m


def along_axis_m(table: Bike, key: str, offset_m: float) -> float | None:
    """A length along the steering axis; a straight one is converted."""
    if key in table:
        return float(table[key])
    if key + "_straight" in table:
        return math.sqrt(table[key + "_straight"] ** 2 - offset_m**2)
    return None


def chart(bike: Bike) -> Bike:
    """The frame in its own coordinates: origin at the bottom bracket, x forward, y up."""
    frame = bike["frame"]
    alpha, offset = frame["head_angle"], frame["fork_offset"]
    reach, stack, stay = frame["reach"], frame["stack"], frame["chainstay"]
    front_r, rear_r = frame["front_radius"], frame["rear_radius"]
    length = along_axis_m(frame, "fork_length", offset)
    counted_from = frame.get("bb_drop_from", "rear axle")
    drop = frame["bb_drop"]

    def to_axle_m(below_rear: float) -> float:
        """Along the steering axis from the top of the head tube to the foot of the front axle's perpendicular."""
        return (stack + offset * math.cos(alpha) - (below_rear + front_r - rear_r)) / math.sin(alpha)

    if counted_from == "front axle":
        drop = drop - (front_r - rear_r)
    elif counted_from == "axle line":

        def line_less_drop(below_rear: float) -> float:
            rear_x = -math.sqrt(stay**2 - below_rear**2)
            front_x = reach + to_axle_m(below_rear) * math.cos(alpha) + offset * math.sin(alpha)
            return below_rear + (front_r - rear_r) * -rear_x / (front_x - rear_x) - frame["bb_drop"]

        drop = float(brentq(line_less_drop, -0.9 * stay, 0.9 * stay, xtol=1e-16, rtol=8.9e-16))
    assert length is not None
    return {
        "rear": (-math.sqrt(stay**2 - drop**2), drop),
        "top": (reach, stack),
        "head_angle": alpha,
        "seat_angle": frame["seat_angle"],
        "head_tube_m": to_axle_m(drop) - length,
        "length_m": length,
        "offset_m": offset,
        "front_radius_m": front_r,
        "rear_radius_m": rear_r,
    }


def fitted(bike: Bike, drawn: Bike) -> Bike:
    """Fork and wheels as fitted; the chart's own where the bike does not say."""
    fork = bike.get("fork", {})
    offset_m = fork.get("offset", drawn["offset_m"])
    length_m = along_axis_m(fork, "length", offset_m)
    return {
        "length_m": drawn["length_m"] if length_m is None else length_m,
        "offset_m": offset_m,
        "front_radius_m": wheel_radius_m(bike.get("front_wheel", {}), drawn["front_radius_m"]),
        "rear_radius_m": wheel_radius_m(bike.get("rear_wheel", {}), drawn["rear_radius_m"]),
        "rear_sag_m": bike.get("rear_wheel", {}).get("sag", 0.0),
    }


def turned(drawn: Bike, parts: Bike, front_m: float, rear_m: float) -> Bike:
    """The frame turned about the rear axle until both wheels stand on the ground, with travel used at both ends."""
    alpha, offset = drawn["head_angle"], parts["offset_m"]
    along = drawn["head_tube_m"] + parts["length_m"] - front_m
    front_x = drawn["top"][0] + along * math.cos(alpha) + offset * math.sin(alpha)
    front_y = drawn["top"][1] - along * math.sin(alpha) + offset * math.cos(alpha)
    rear_x, rear_y = drawn["rear"][0], drawn["rear"][1] + rear_m
    across, up = front_x - rear_x, front_y - rear_y
    axles = math.hypot(across, up)
    front_r, rear_r = parts["front_radius_m"], parts["rear_radius_m"]
    theta = math.asin((front_r - rear_r) / axles) - math.atan2(up, across)
    cos_t, sin_t = math.cos(theta), math.sin(theta)
    head = alpha - theta
    reach, stack = drawn["top"]
    trail = (front_r * math.cos(head) - offset) / math.sin(head)
    return {
        "head_angle_deg": math.degrees(head),
        "seat_angle_deg": math.degrees(drawn["seat_angle"] - theta),
        "reach_m": reach * cos_t - stack * sin_t,
        "stack_m": reach * sin_t + stack * cos_t,
        "bb_height_m": rear_r - (rear_x * sin_t + rear_y * cos_t),
        "wheelbase_m": math.sqrt(axles**2 - (front_r - rear_r) ** 2),
        "front_centre_m": math.hypot(front_x, front_y),
        "trail_m": trail,
        "mechanical_trail_m": front_r * math.cos(head) - offset,
        "wheel_flop_m": trail * math.sin(head) * math.cos(head),
    }


def head_angle_rad(drawn: Bike, parts: Bike, front_m: float) -> float:
    return math.radians(turned(drawn, parts, front_m, parts["rear_sag_m"])["head_angle_deg"])
