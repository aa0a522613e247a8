"""Sag by SciPy on the equations as they stand: travel and the turn of the frame as two unknowns, nothing put into the other.

Unknown x (travel) and t (turn of the frame). One equation per law: the spring's force, from the slope of its energy, holds the
load along the steering axis with or without friction; both wheels touch the ground. The core eliminates t and takes Newton
steps; here ``scipy.optimize.root`` gets both, and ``elementwise.find_root`` brackets the core's own force as a third way.
"""

import math
from typing import Any

import numpy as np
import pytest
from scipy.optimize import root
from scipy.optimize.elementwise import find_root
from scipy.spatial.transform import Rotation

import plain
import plain_input
from at_once import each_of
from topout.bench_file import read
from topout.physics import air_spring, sag
from topout.planner import change, inputs

from . import bikes, core
from .methods import Spring
from .test_rotation import rig

NUMBERS = range(0, 50, 2)
DAILY = range(0, 50, 5)  # every way of building


def settles(bike: dict[str, Any], ambient_pa: float, load: Any, sign: float, start: tuple[float, float]) -> float:
    """Travel where spring, load and ``sign`` times the friction balance while both wheels touch the ground."""
    spring = Spring(bike, ambient_pa)
    points, along_m, offset_m, rear_in_m = rig(bike)
    fork = bike["fork"]

    def laws(unknown: Any) -> list[float]:
        # Both unknowns at once, as plain numbers.
        x, t = map(float, unknown)
        head = bike["frame"]["head_angle"] - t
        x_in = min(max(x, 0.0), spring.travel_m)
        push = spring.slow_n(x_in) + (x - x_in) * 1e5  # beyond its ends the travel is a stiff stop
        axial = load.get("axial_n", load["wheel_n"] * math.sin(head))
        main_pa = gauge_at(spring, x_in)
        friction = fork.get("friction", 0.0) + fork.get("friction_per_bar", 0.0) * main_pa / 1e5
        friction += fork.get("friction_side", 0.0) * load["wheel_n"] * math.cos(head)
        turn = Rotation.from_euler("z", t)
        front = turn.apply(points.axle(along_m - x, offset_m))
        rear = turn.apply(points.rear + [0.0, rear_in_m, 0.0])
        level = float((front[1] - points.front_r) - (rear[1] - points.rear_r))
        return [(push - axial - sign * friction) / 100.0, level]

    found = root(laws, start, method="hybr", options={"xtol": 1e-14})
    assert max(abs(v) for v in laws(found.x)) < 1e-9, found.message
    return float(found.x[0])


def gauge_at(spring: Spring, x: float) -> float:
    """Main gauge pressure at x, from the amounts that hold there."""
    amount, volume, area = spring.chambers(x)[0]
    return amount / (volume - area * x) - spring.ambient


@each_of(DAILY, in_soak=sorted({*NUMBERS} - {*DAILY}))
def test_sag_low_and_high_on_the_unreduced_equations(number: int) -> None:
    text = bikes.text(bikes.bike(number))
    bike, got, ambient_pa = plain_input.from_toml(text), core.plan(text), core.ambient_abs_pa(text)
    load = plain.sides(bike)[0].load
    for which, state in (("before", bike), ("after", plain.changed(bike))):
        front, top = got[which]["sag"]["front"], state["fork"]["travel"]
        turn = math.radians(math.degrees(bike["frame"]["head_angle"]) - got[which]["sag"]["head_angle_deg"])
        for key, sign in (("travel_m", 0.0), ("low_m", -1.0), ("high_m", 1.0)):
            if 0.0 < front[key] < top:
                # 3 % off, so that the start gives nothing away and yet leads to this root.
                start = (front[key] * 0.97 + 0.001, turn + 0.002)
                assert settles(state, ambient_pa, load, sign, start) == pytest.approx(front[key], abs=1e-9), (
                    which,
                    key,
                )
            else:
                assert front[key] in (0.0, top)


@each_of(NUMBERS)
def test_lost_travel_by_a_bracketing_solver_on_the_cores_own_force(number: int) -> None:
    bench = read.read_text(bikes.text(bikes.bike(number)))
    for one_state in (bench, change.changed(bench)):
        settled = air_spring.settle(inputs.bikes_of([one_state]).chambers)

        def force(x: Any, settled: air_spring.EquilibratedSpring = settled) -> Any:
            return air_spring.force(settled, np.atleast_1d(x))

        lost_m = sag.lost_travel_m(settled).item()
        if force(0.0).item() >= 0.0:
            assert lost_m == 0.0
        else:
            found = find_root(force, (np.zeros(1), settled.fit.travel_m))
            assert found.success.all() and lost_m == pytest.approx(found.x.item(), abs=1e-12)
