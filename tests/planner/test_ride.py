"""Set here, ridden there: against a second way that gives the lower legs their own gas, and figures of trade practice."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

import topout
from topout.bench_file.model import BenchFile, Conditions, LowerLegs, Ride
from topout.errors import FaultsFound
from topout.planner import ride

PSI = 6894.757293168361
EXAMPLES = ("longer-travel", "load-from-the-sag-found", "port-further-in", "separate-valve", "gas-damper")


def example(name: str, temperature_degc: float | None = None, altitude_m: float | None = None) -> BenchFile:
    bench = topout.read(topout.examples()[name])
    kelvin = None if temperature_degc is None else temperature_degc + 273.15
    return replace(bench, ride=Ride(temperature_k=kelvin, altitude_m=altitude_m))


def force_there_n(bench: BenchFile, x: float, warmer: float, here_pa: float, there_pa: float) -> float:
    """Second way, plain floats from the bench file: every chamber its own gas, closed here, the outside pressure of there."""
    fork = bench.fork
    assert fork is not None and fork.air is not None and bench.change is not None
    air, change = fork.air, bench.change
    assert air.bore_m and air.shaft_m and air.positive_volume_m3 and air.pressure_gauge_pa is not None
    piston, shaft = (0.25 * math.pi * d**2 for d in (air.bore_m, air.shaft_m))
    spacers = air.spacers if change.spacers is None else change.spacers
    gauge = air.pressure_gauge_pa if change.pressure_gauge_pa is None else change.pressure_gauge_pa
    main = air.positive_volume_m3 - spacers * (air.spacer_volume_m3 or 0.0) - air.oil_on_piston_m3
    negative = (air.negative_volume_m3 or 0.0) - air.grease_in_negative_m3
    port = air.port_position_m or 0.0
    main_pa = (gauge + here_pa) * warmer * main / (main - piston * x)
    if air.negative == "separate-valve":
        assert air.negative_pressure_gauge_pa is not None
        gas = (air.negative_pressure_gauge_pa + here_pa) * negative
    else:
        gas = (gauge + here_pa) * main / (main - piston * port) * (negative + (piston - shaft) * port)
    negative_pa = gas * warmer / (negative + (piston - shaft) * x)
    force = (main_pa - there_pa) * piston - (negative_pa - there_pa) * (piston - shaft)
    legs, damper, bump = fork.lower_legs, fork.damper, fork.bumper
    travel = change.travel_m or fork.travel_m
    assert travel is not None and fork.travel_m is not None
    if legs is not None:
        assert legs.air_volume_m3 and legs.area_m2
        room = legs.air_volume_m3
        force += (here_pa * warmer * room / (room - legs.area_m2 * x) - there_pa) * legs.area_m2
    if damper is not None:
        assert damper.rod_m and damper.gas_volume_m3 and damper.gas_pressure_gauge_pa is not None
        rod = 0.25 * math.pi * damper.rod_m**2
        shut_in = (damper.gas_pressure_gauge_pa + here_pa) * warmer
        force += (shut_in * damper.gas_volume_m3 / (damper.gas_volume_m3 - rod * x) - there_pa) * rod
    if bump is not None:
        assert bump.length_m and bump.rate_n_per_m is not None
        crush = max(x - (travel - bump.length_m), 0.0)
        force += bump.rate_n_per_m * bump.length_m * (crush / bump.length_m) ** bump.power
    return force


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(("degc", "height_m"), [(-5.0, None), (35.0, 0.0), (None, 2500.0), (5.0, 1500.0)])
def test_every_chamber_keeps_its_own_gas(name: str, degc: float | None, height_m: float | None) -> None:
    bench = example(name, degc, height_m)
    assert bench.change is not None
    bench = replace(bench, change=replace(bench.change, travel_m=None, fork_length_m=None))  # the legs' room stays
    told = ride.ride(bench)
    assert bench.fork is not None and bench.fork.travel_m is not None
    warmer = told.there.temperature_k / told.here.temperature_k

    def force_n(x: float) -> float:
        return force_there_n(bench, x, warmer, told.here.ambient_abs_pa, told.there.ambient_abs_pa)

    assert told.there.sag_m is not None and told.here.sag_m is not None and told.there.end_force_n is not None
    assert told.there.end_force_n.median == pytest.approx(force_n(bench.fork.travel_m), rel=1e-9)
    rests = brentq(lambda x: force_n(x) - _load_n(bench, x), 1e-4, bench.fork.travel_m)
    assert told.there.sag_m.median == pytest.approx(rests, abs=1e-9)


def _load_n(bench: BenchFile, x: float) -> float:
    """The load along the axis with the fork so far in, by the plan's own geometry: its check stands in tests/outside."""
    from topout.physics import geometry
    from topout.planner import inputs, load
    from topout.planner.design import Changes, Design, changed

    before = Design.of([bench])
    on = load.loads(before).load
    bikes = inputs.bikes(changed(before, Changes.of([bench])))
    sin, _ = geometry.head_angle_sine(geometry.axle_frame(bikes.chart, bikes.fitted), np.array([x]))
    return float((on.axial_n + on.vertical_n * sin)[0])


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_set_here_sits_right_there(name: str) -> None:
    bench = example(name, -5.0, 1000.0)
    told = ride.ride(bench)
    assert told.set_gauge_pa is not None and told.here.sag_m is not None and bench.change is not None
    as_set = replace(bench, change=replace(bench.change, pressure_gauge_pa=told.set_gauge_pa.median))
    there = ride.ride(as_set).there
    assert there.sag_m is not None
    assert there.sag_m.median == pytest.approx(told.here.sag_m.median, abs=1e-9)


def test_here_is_the_plan() -> None:
    bench = example("longer-travel", 20.0, 0.0)
    plan, told = topout.plan(bench), ride.ride(bench)
    assert plan.after.sag is not None and plan.after.sag.front is not None and told.here.sag_m is not None
    assert told.here.sag_m.median == pytest.approx(plan.after.sag.front.travel_m, abs=1e-12)
    assert told.deeper_m is not None and told.deeper_m.median == pytest.approx(0.0, abs=1e-12) and told.leave_alone


def test_trade_figures() -> None:
    """trade.md 3.6, derived there: 80 psi at 20 °C reads 71.9 at −5 °C and 84.8 at 35 °C; a sealed unit gains 2.4 psi of
    gauge by 1,500 m, and its sag hardly moves (physics.md 11: 0.2 mm)."""
    bench = topout.read(topout.examples()["port-with-a-length"])
    assert bench.fork is not None and bench.fork.air is not None
    filled = replace(bench.fork, air=replace(bench.fork.air, pressure_gauge_pa=80 * PSI), lower_legs=None)
    bench = replace(bench, fork=filled, change=None, conditions=Conditions(temperature_k=293.15))
    for degc, psi in ((-5.0, 71.9), (35.0, 84.8)):
        there = ride.ride(replace(bench, ride=Ride(temperature_k=degc + 273.15))).there
        assert there.gauge_pa is not None and there.gauge_pa.median / PSI == pytest.approx(psi, abs=0.05)
    high = ride.ride(replace(bench, ride=Ride(altitude_m=1500.0)))
    assert high.there.gauge_pa is not None and high.here.gauge_pa is not None and high.deeper_m is not None
    assert (high.there.gauge_pa.median - high.here.gauge_pa.median) / PSI == pytest.approx(2.4, abs=0.05)
    assert abs(high.deeper_m.median) < 0.0005 and high.leave_alone


def test_cold_is_not_left_alone_and_what_lacks_is_named() -> None:
    bench = example("longer-travel", -5.0)
    told = ride.ride(bench)
    assert told.deeper_m is not None and told.deeper_m.median > 0.002 and not told.leave_alone
    assert told.set_gauge_pa is not None and told.here.gauge_pa is not None
    assert told.set_gauge_pa.median > told.here.gauge_pa.median
    with pytest.raises(FaultsFound, match="ride"):
        ride.ride(replace(bench, ride=None))


def test_lower_legs_that_are_not_there_change_nothing() -> None:
    bench = example("longer-travel", -5.0)
    assert bench.fork is not None
    without = replace(bench, fork=replace(bench.fork, lower_legs=None))
    nearly = replace(bench, fork=replace(bench.fork, lower_legs=LowerLegs(air_volume_m3=0.003, area_m2=1e-6)))
    one, other = (ride.ride(each).there.sag_m for each in (without, nearly))
    assert one is not None and other is not None and one.median == pytest.approx(other.median, abs=2e-6)
