"""Critical damping, the speed after a fall and a rider's weight on two wheels, against the published tables that hold them.

Sources: 09_damping_and_drop.csv (closed forms of S.S. Rao, Mechanical Vibrations; free fall under standard gravity) and
12_rider_static_load.csv (the benchmark bicycle and rider of Meijaard, Papadopoulos, Ruina and Schwab, Proc. R. Soc. A 463, 2007,
Table 1). Each row passes through what the program tells of a bike; the second way is the motion itself.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

import topout
from topout.bench_file.model import BenchFile
from topout.planner import landing, load, rebound, typical
from topout.planner.design import Design
from topout.units import G0_M_PER_S2, PSI_PA

from .tables import Row, check, rows, tolerance

ROWS = {row["id"]: row for row in rows("09_damping_and_drop.csv")}
LOADS = {row["quantity"]: row for row in rows("12_rider_static_load.csv")}


def example(name: str) -> BenchFile:
    return topout.read(topout.examples()[name])


def test_the_damping_wanted_after_a_change_keeps_the_ratio_of_a_published_damper() -> None:
    """A fork made firmer: c grows as told, the mass stays, and the roots of the motion keep their ratio.

    Second way: m·s² + c·s + k = 0 solved for its roots, the double root of the damping that just stops it among them.
    """
    bench = example("longer-travel")
    assert bench.change is not None
    told = rebound.rebound(replace(bench, change=replace(bench.change, pressure_gauge_pa=120.0 * PSI_PA)))
    assert told.rate_ratio is not None and told.damping_ratio is not None
    assert told.rate_ratio.median > 1.1, "a change that changes nothing would pass whatever is told"
    for name in ("VIB-05", "VIB-06"):
        row = ROWS[name]
        k, m = float(row["stiffness_N_per_m"]), float(row["mass_kg"])
        after = k * told.rate_ratio.median
        if row["quantity"] == "critical_damping":
            c = float(row["expected_value"]) * told.damping_ratio.median
            one, other = np.roots([m, c, after])
            # Near a double root its distance grows as the square root of what the row's digits leave open.
            assert abs(one - other) <= 4.0 * abs(one) * math.sqrt(float(row["tolerance_rel"])), (one, other)
        else:
            c = float(row["damping_N_s_per_m"]) * told.damping_ratio.median
            root = np.roots([m, c, after])[0]
            check(row, "value", float(-root.real / abs(root)))


@pytest.mark.parametrize("name", ["VIB-11", "VIB-12", "VIB-14"])
def test_a_mass_as_fast_as_the_table_says_after_the_fall_that_is_told_just_uses_the_travel(name: str) -> None:
    """The rider for whom that fall uses all the travel is looked for; then the mass starts at the table's speed, without a fall."""
    row = ROWS[name]
    height_m, speed = float(row["height_m"]), float(row["expected_value"])
    assert float(row["gravity_m_per_s2"]) == G0_M_PER_S2
    bench = replace(example("longer-travel"), found=None, change=None)
    assert bench.fork is not None and bench.fork.travel_m is not None and bench.rider is not None

    def heavy(mass_kg: float) -> BenchFile:
        return replace(bench, rider=replace(bench.rider, mass_kg=mass_kg))  # type: ignore[type-var]

    def told_m(mass_kg: float) -> float:
        told = landing.landing(heavy(mass_kg)).before
        assert told is not None
        return told.median

    mass_kg = brentq(lambda kg: told_m(kg) - height_m, 5.0, 400.0, xtol=1e-9)
    weight_n = float(load.loads(Design.of([heavy(mass_kg)])).load.side_n[0])
    curve = topout.curve(bench, points=4001)
    travel_m = bench.fork.travel_m
    half_in = replace(bench, fork=replace(bench.fork, length_m=_length_m(bench) - 0.5 * travel_m))
    sin = math.sin(topout.geometry(half_in).unloaded.head_angle_rad)

    def motion(_: float, state: np.ndarray) -> list[float]:
        push_n = float(np.interp(state[0] / sin, curve.travel_m, curve.force_fast_n)) / sin
        return [state[1], G0_M_PER_S2 * (1.0 - push_n / weight_n)]

    def stops(_: float, state: np.ndarray) -> float:
        return float(state[1])

    stops.terminal = True  # type: ignore[attr-defined]

    def deepest_m(start: float) -> float:
        end = solve_ivp(motion, (0.0, 2.0), [0.0, start], events=stops, rtol=1e-9, atol=1e-10, max_step=2e-3)
        return float(end.y_events[0][0][0]) / sin

    assert deepest_m(speed * (1.0 - 1e-5)) == pytest.approx(travel_m, rel=1e-3)
    assert deepest_m(0.98 * speed) < travel_m * 0.998


def _length_m(bench: BenchFile) -> float:
    assert bench.fork is not None and bench.frame is not None
    length_m = bench.fork.length_m if bench.fork.length_m is not None else bench.frame.fork_length_m
    assert length_m is not None
    return length_m


def test_the_front_wheel_carries_what_the_moments_about_the_rear_one_say() -> None:
    """The benchmark bicycle with its rider: our load for its mass and share, and the sum of its four bodies' moments."""
    p = {row["symbol"]: float(row["value"]) for row in rows("05_bicycle_benchmark_parameters.csv")}
    moments = p["mB"] * p["xB"] + p["mH"] * p["xH"] + p["mF"] * p["w"]  # the rear wheel stands over its own contact
    share = LOADS["front_share"]
    total_kg = p["mR"] + p["mB"] + p["mH"] + p["mF"]
    check(LOADS["total_mass"], "value", total_kg)
    bench = replace(example("longer-travel"), found=None, change=None)
    assert bench.rider is not None and bench.bike is not None
    ridden = replace(
        bench,
        rider=replace(bench.rider, mass_kg=total_kg - 20.0, front_share=float(share["expected_value"])),
        bike=replace(bench.bike, mass_kg=20.0, unsprung_front_kg=p["mF"]),
    )
    carried_n = float(load.loads(Design.of([ridden])).load.vertical_n[0])  # what the wheel itself weighs is not sprung
    assert carried_n / G0_M_PER_S2 + p["mF"] == pytest.approx(
        moments / p["w"], abs=tolerance(share, "value") * total_kg
    )


def test_what_is_usual_lies_where_riders_on_two_scales_were() -> None:
    """A weak source, by its own note: seated riders of road bicycles, plausibility only."""
    row: Row = LOADS["rear_share"]
    rear_percent = 100.0 * (1.0 - typical.FRONT_SHARE[0])
    assert float(row["reference_low"]) < rear_percent < float(row["reference_high"])
