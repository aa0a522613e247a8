"""Geometry by brute force: the bike as points, turned until both wheels are level, measured with rule and protractor."""

import math
from typing import Any

import pytest

import plain
import plain_input
import plain_stance
from at_once import each_of

from . import bikes, core
from .compare import differences
from .methods import Rig


def rig(bike: dict[str, Any]) -> tuple[Rig, float, float, float]:
    """The points of one state, the distance from head tube to foot of the axle, offset and given rear sag.

    The chart's bottom-bracket drop is found here by trying: the point that the chart counts from must come out where it says.
    """
    frame = bike["frame"]
    head, offset, stay = frame["head_angle"], frame["fork_offset"], frame["chainstay"]
    radii = (frame["front_radius"], frame["rear_radius"])
    counted = frame.get("bb_drop_from", "rear axle")

    def miss(drop: float) -> float:
        rear = (-math.sqrt(stay**2 - drop**2), drop)
        points = Rig(head, frame["seat_angle"], frame["reach"], frame["stack"], rear, radii)
        front = points.axle(reaches(points, drop + radii[0] - radii[1]), offset)
        line = rear[1] + (front[1] - rear[1]) * (0.0 - rear[0]) / (front[0] - rear[0])
        return {"rear axle": rear[1], "front axle": float(front[1]), "axle line": float(line)}[counted] - frame[
            "bb_drop"
        ]

    def reaches(points: Rig, axle_y: float) -> float:
        """Along the axis to the foot of an axle at that height."""
        return float((points.top[1] + offset * points.ahead[1] - axle_y) / -points.axis[1])

    low, high = -0.2, 0.2
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if miss(middle) < 0 else (low, middle)
    drop = (low + high) / 2
    rear = (-math.sqrt(stay**2 - drop**2), drop)
    drawn = plain_stance.chart(bike)
    parts = plain_stance.fitted(bike, drawn)
    chart_rig = Rig(head, frame["seat_angle"], frame["reach"], frame["stack"], rear, radii)
    tube = reaches(chart_rig, drop + radii[0] - radii[1]) - drawn["length_m"]
    now = (parts["front_radius_m"], parts["rear_radius_m"])
    fitted = Rig(head, frame["seat_angle"], frame["reach"], frame["stack"], rear, now)
    return fitted, tube + parts["length_m"], parts["offset_m"], parts["rear_sag_m"]


@each_of(range(1, 50, 5), in_soak=range(3, 50, 2))
def test_both_stances_of_both_states(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    bike, got = plain_input.from_toml(text), core.plan(text)
    for which, state in (("before", bike), ("after", plain.changed(bike))):
        points, along_m, offset_m, rear_in_m = rig(state)
        geometry, front_in_m = got[which]["geometry"], got[which]["sag"]["front"]["travel_m"]
        assert differences(points.stand(along_m, offset_m, 0.0), geometry["unloaded"], 1e-10, f"{which} unloaded") == []
        sagged = points.stand(along_m - front_in_m, offset_m, rear_in_m)
        assert differences(sagged, geometry["sagged"], 1e-10, f"{which} sagged") == []
        assert got[which]["sag"]["head_angle_deg"] == pytest.approx(sagged["head_angle_deg"], rel=1e-10)


@each_of(range(0, 50, 2))
def test_trail_straight_from_where_the_axis_meets_the_ground(number: int) -> None:
    """Flop and mechanical trail follow from the trail; the axis through the turned head tube is the only thing used."""
    text = bikes.text(bikes.bike(number))
    stance = core.plan(text)["before"]["geometry"]["unloaded"]
    head = math.radians(stance["head_angle_deg"])
    assert stance["mechanical_trail_m"] == pytest.approx(stance["trail_m"] * math.sin(head), rel=1e-12)
    assert stance["wheel_flop_m"] == pytest.approx(stance["trail_m"] * math.sin(head) * math.cos(head), rel=1e-12)
