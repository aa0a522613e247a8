"""Which fork keeps a bike's stance: the fork length at which head angle, trail or bottom bracket come out as wanted.

Each in closed form. The head angle α follows from the wanted property first; then, with d from rear to front axle in
steering-axis parts, d·(sin α, −cos α) = r_r − r_f gives the part along the axis, in which alone the fork's length stands.
Checked against a generic solver on the stance itself (tests/second_way).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from topout.physics import geometry
from topout.physics.gas import Floats
from topout.physics.geometry import Chart, Fitted


def length_for_head_angle_m(chart: Chart, fitted: Fitted, head_angle_rad: Floats) -> Floats:
    """Fork length along the steering axis [m] at which the bike, its fork at full extension, has this head angle.

    chart, fitted [SI] (…) whole, its fork length not used; head_angle_rad [rad] (…) above 0 and below π → [m] (…) NaN
    where that is. Raises nothing. Source: physics.md 6; derived.
    """
    frame = geometry.axle_frame(chart, replace(fitted, fork_length_m=np.zeros_like(fitted.fork_length_m)))
    sin, cos = np.sin(head_angle_rad), np.cos(head_angle_rad)
    result: Floats = (frame.across_m * cos - frame.rise_m) / sin - frame.along_m
    return result


def length_for_trail_m(chart: Chart, fitted: Fitted, trail_m: Floats) -> Floats:
    """Fork length along the steering axis [m] that gives this trail.

    r_f·cos α − t·sin α = o is √(r_f² + t²)·cos(α + δ) = o with tan δ = t/r_f.

    chart, fitted [SI] (…) whole, its fork length not used; trail_m [m] (…) any → [m] (…) NaN where no fork does. Raises
    nothing. Source: physics.md 6; derived.
    """
    radius, offset = fitted.front_radius_m, fitted.offset_m
    with np.errstate(invalid="ignore"):
        angle = np.arccos(offset / np.hypot(radius, trail_m)) - np.arctan2(trail_m, radius)
    return length_for_head_angle_m(chart, fitted, angle)


def length_for_bb_height_m(chart: Chart, fitted: Fitted, bb_height_m: Floats) -> Floats:
    """Fork length along the steering axis [m] that puts the bottom bracket at this height.

    Leant back by β it stands r_r + x·sin β − y·cos β high, x behind it and y above it the rear axle.

    chart, fitted [SI] (…) whole, its fork length not used; bb_height_m [m] (…) any → [m] (…) NaN where no fork does.
    Raises nothing. Source: physics.md 6; derived.
    """
    below = chart.drop_m + fitted.rear_sag_m
    behind = np.sqrt(chart.chainstay_m**2 - chart.drop_m**2)
    with np.errstate(invalid="ignore"):
        back = np.arcsin((bb_height_m - fitted.rear_radius_m) / np.hypot(behind, below)) + np.arctan2(below, behind)
    return length_for_head_angle_m(chart, fitted, chart.head_angle_rad - back)
