"""A landing, the ride elsewhere and the rebound of a rear end, each by a way of its own from the bench file."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import topout
from topout.__main__ import main
from topout.bench_file.model import BenchFile, CanAir, Found, Ride, Rider, Shock
from topout.bench_file.read import read_text
from topout.errors import FaultsFound
from topout.physics import air_spring, geometry, sag
from topout.planner import inputs, landing, load, plan, rear, rebound, replies, ride
from topout.planner.design import Design
from topout.planner.results import RearCurve, RearSag
from topout.uncertainty.intervals import Interval
from topout.units import BENCH, PSI_PA

G0 = 9.80665
EXAMPLES = ("rear-shock", "air-shock-and-its-shelf", "coil-shock-and-its-shelf")
ON_AIR = EXAMPLES[:2]


def example(name: str) -> BenchFile:
    return topout.read(topout.examples()[name])


def changed(name: str) -> BenchFile:
    """The bike with something else behind: two spacers, or a stiffer coil."""
    text = topout.examples()[name].read_text("utf-8").split("[change")[0]
    coil = "[shock.coil]" in text
    return read_text(text + ('[change.shock]\nrate = "90 N/mm"\n' if coil else "[change.shock]\nspacers = 3\n"))


def shock_of(bench: BenchFile) -> Shock:
    assert bench.shock is not None
    return bench.shock


def weight_n(bench: BenchFile) -> float:
    """What the rear wheel carries, by the plan."""
    behind = topout.plan(bench).before.sag.rear  # type: ignore[union-attr]
    assert isinstance(behind, RearSag) and behind.load_n is not None
    return behind.load_n


def behind(bench: BenchFile) -> RearCurve:
    curve = topout.curve(bench, points=4001, end="rear")
    assert isinstance(curve, RearCurve) and curve.wheel_travel_m is not None and curve.ratio is not None
    return curve


def middle(told: Interval | None) -> float:
    assert told is not None
    return told.median


def test_a_mass_dropped_from_there_just_uses_the_stroke() -> None:
    """Second way: the mass on the rear wheel, its motion integrated in time to where it stops."""
    for name in EXAMPLES:
        bench = example(name)
        told = landing.landing(bench, end="rear")
        curve, mass_kg = behind(bench), weight_n(bench) / G0
        w, push = curve.wheel_travel_m, curve.force_fast_n / curve.ratio  # type: ignore[operator]
        assert w is not None

        def motion(
            _: float, at: np.ndarray, w: np.ndarray = w, push: np.ndarray = push, m: float = mass_kg
        ) -> list[float]:
            return [at[1], G0 - float(np.interp(at[0], w, push)) / m]

        def stops(_: float, at: np.ndarray) -> float:
            return float(at[1])

        stops.terminal = True  # type: ignore[attr-defined]
        for share, reach in ((0.9999, 1.0), (0.5, None)):
            start = [0.0, math.sqrt(2.0 * G0 * share * middle(told.before))]
            end = solve_ivp(motion, (0.0, 2.0), start, events=stops, rtol=1e-8, atol=1e-9, max_step=2e-3)
            deepest = float(end.y_events[0][0][0]) / float(w[-1])
            assert deepest == pytest.approx(reach, rel=1e-3) if reach else deepest < 0.99, name


def test_the_damping_wanted_is_where_the_motion_just_stops_swinging() -> None:
    """Second way: the motion about the sag with a damper at the shock, its roots from differences of its own forces."""
    for name in EXAMPLES:
        bench = changed(name)
        told = rebound.rebound(bench, 8, end="rear")
        critical, rates = [], []
        whole, mass_kg = topout.plan(bench), weight_n(bench) / G0
        for state, curve in ((whole.before, behind(bench)), (whole.after, behind(_done(bench)))):
            assert state.sag is not None and isinstance(state.sag.rear, RearSag) and state.sag.rear.travel_m is not None
            one, own_rates = _critical(curve, state.sag.rear.travel_m, mass_kg)
            critical.append(one)
            rates.append(own_rates)
        assert middle(told.rate_ratio) == pytest.approx(rates[1] / rates[0], rel=2e-3), name
        assert middle(told.damping_ratio) == pytest.approx(critical[1] / critical[0], rel=2e-3), name
        assert middle(told.damping_ratio) != pytest.approx(math.sqrt(middle(told.rate_ratio)), rel=1e-4), name
        assert told.clicks == round(8 / middle(told.damping_ratio))


def _done(bench: BenchFile) -> BenchFile:
    from topout.planner import change

    return change.changed(bench)


def _critical(curve: RearCurve, at_m: float, mass_kg: float) -> tuple[float, float]:
    """The shock's damping [N·s/m] at which both roots of the motion about the sag are one, and the wheel's rate there."""
    w, ratio = curve.wheel_travel_m, curve.ratio
    assert w is not None and ratio is not None
    spring = PchipInterpolator(w, curve.force_n)

    def pulled(c: float, deeper: float, speed: float) -> float:
        stroke_speed = speed / float(np.interp(at_m, w, ratio))
        leverage = float(np.interp(at_m + deeper, w, ratio))
        push = float(spring(at_m + deeper))
        return -(push + c * stroke_speed) / leverage / mass_kg

    step = 1e-4
    slope = (pulled(0.0, step, 0.0) - pulled(0.0, -step, 0.0)) / (2 * step)

    def apart(c: float) -> float:
        drag = (pulled(c, 0.0, step) - pulled(c, 0.0, -step)) / (2 * step)
        return drag * drag + 4.0 * slope  # of the roots of λ² = slope + drag·λ

    return float(brentq(apart, 0.0, 1e6)), -slope * mass_kg


def _air_force_n(bench: BenchFile, warmer: float, here_pa: float, there_pa: float) -> Callable[[float], float]:
    """Second way, plain floats from the bench file: every chamber of the shock its own gas, port at full extension."""
    shock = shock_of(bench)
    air, change = shock.air, bench.change
    assert isinstance(air, CanAir) and air.bore_m and air.shaft_m and air.positive_volume_m3 and change is not None
    assert not air.port_position_m and air.pressure_gauge_pa is not None and change.shock is not None
    piston, rod = (0.25 * math.pi * d**2 for d in (air.bore_m, air.shaft_m))
    spacers = air.spacers if change.shock.spacers is None else change.shock.spacers
    main = air.positive_volume_m3 - spacers * (air.spacer_volume_m3 or 0.0) - air.oil_on_piston_m3
    negative = (air.negative_volume_m3 or 0.0) - air.grease_in_negative_m3
    gas = (air.pressure_gauge_pa + here_pa) * warmer

    def force_n(s: float) -> float:
        force = (gas * main / (main - piston * s) - there_pa) * piston
        force -= (gas * negative / (negative + (piston - rod) * s) - there_pa) * (piston - rod)
        if (damper := shock.damper) is not None:
            assert damper.rod_m and damper.gas_volume_m3 and damper.gas_pressure_gauge_pa is not None
            area = 0.25 * math.pi * damper.rod_m**2
            shut_in = (damper.gas_pressure_gauge_pa + here_pa) * warmer
            force += (shut_in * damper.gas_volume_m3 / (damper.gas_volume_m3 - area * s) - there_pa) * area
        if (bump := shock.bumper) is not None:
            assert bump.length_m and bump.rate_n_per_m is not None and shock.stroke_m is not None
            crush = max(s - (shock.stroke_m - bump.length_m), 0.0)
            force += bump.rate_n_per_m * bump.length_m * (crush / bump.length_m) ** bump.power
        return force

    return force_n


def test_every_chamber_of_the_shock_keeps_its_own_gas() -> None:
    for name in ON_AIR:
        bench = changed(name)
        table = shock_of(bench).leverage
        assert table is not None
        ratio = PchipInterpolator(*np.array(table).T)
        load = weight_n(bench)
        for degc, height_m in ((-5.0, None), (5.0, 2500.0)):
            told = ride.ride(replace(bench, ride=Ride(temperature_k=degc + 273.15, altitude_m=height_m)), end="rear")
            warmer = told.there.temperature_k / told.here.temperature_k
            force_n = _air_force_n(bench, warmer, told.here.ambient_abs_pa, told.there.ambient_abs_pa)

            def stroke_m(w: float, ratio: PchipInterpolator = ratio) -> float:
                return float(quad(lambda at: 1.0 / ratio(at), 0.0, w)[0])

            def more_n(w: float, push: Callable[[float], float] = force_n, ratio: PchipInterpolator = ratio) -> float:
                return push(stroke_m(w)) / float(ratio(w)) - load  # noqa: B023

            rests = brentq(more_n, 1e-3, 0.13, xtol=1e-9)
            assert middle(told.there.wheel_sag_m) == pytest.approx(rests, abs=2e-8), name
            assert middle(told.there.sag_m) == pytest.approx(stroke_m(rests), abs=2e-8), name
            planned = topout.plan(bench).after.sag
            assert planned is not None and isinstance(planned.rear, RearSag)
            assert middle(told.here.sag_m) == pytest.approx(planned.rear.stroke_m, abs=1e-9)
            as_set = replace(bench, ride=Ride(temperature_k=degc + 273.15, altitude_m=height_m))
            assert as_set.change is not None and as_set.change.shock is not None
            shock = replace(as_set.change.shock, pressure_gauge_pa=middle(told.set_gauge_pa))
            again = ride.ride(replace(as_set, change=replace(as_set.change, shock=shock)), end="rear")
            assert middle(again.there.sag_m) == pytest.approx(middle(told.here.sag_m), abs=1e-9), name


def test_the_front_stands_there_with_the_rear_end_as_it_is_there() -> None:
    """A bike without lower legs in the cold is the bike with each gas at its own lower pressure: both ends, by the plan."""
    bench = replace(example("rear-shock"), change=None, ride=Ride(temperature_k=268.15))
    fork, shock = bench.fork, shock_of(bench)
    assert fork is not None and fork.air is not None and fork.lower_legs is None and shock.air is not None
    told = ride.ride(bench)

    def cold(gauge_pa: float | None) -> float:
        assert gauge_pa is not None
        return (gauge_pa + told.here.ambient_abs_pa) * 268.15 / told.here.temperature_k - told.here.ambient_abs_pa

    assert shock.damper is not None
    there = replace(
        bench,
        fork=replace(fork, air=replace(fork.air, pressure_gauge_pa=cold(fork.air.pressure_gauge_pa))),
        shock=replace(
            shock,
            air=replace(shock.air, pressure_gauge_pa=cold(shock.air.pressure_gauge_pa)),
            damper=replace(shock.damper, gas_pressure_gauge_pa=cold(shock.damper.gas_pressure_gauge_pa)),
        ),
    )
    both = topout.sag(there)
    assert both.front is not None and isinstance(both.rear, RearSag)
    assert middle(told.there.sag_m) == pytest.approx(both.front.travel_m, abs=1e-10)
    rear = ride.ride(bench, end="rear").there
    assert middle(rear.wheel_sag_m) == pytest.approx(both.rear.travel_m, abs=1e-10)
    assert rear.wheel_share is not None and rear.share is not None and rear.wheel_share.median != rear.share.median


BARE = """
[shock]
stroke = "55 mm"
body = "40 mm"
sag = "16 mm"
leverage = [["0 mm", 2.85], ["70 mm", 2.56], ["140.5 mm", 2.33]]

[shock.air]
spacers = 1
pressure = "150 psi"

[change.shock]
spacers = 2
"""


def test_of_a_shock_known_from_outside_the_answers_have_limits_and_no_default_for_what_was_drawn() -> None:
    bench = read_text(BARE)
    drop = landing.landing(bench, 2000)
    assert drop.end == "rear" and drop.drawn and drop.after is not None and drop.after.low95 < drop.after.high95
    there = ride.ride(replace(bench, ride=Ride(temperature_k=268.15)), 2000)
    assert there.set_gauge_pa is not None and there.set_gauge_pa.low95 < there.set_gauge_pa.high95
    start = rebound.rebound(bench, 8, draws=2000)
    assert start.damping_ratio is not None and start.damping_ratio.median > 1.0
    taken = {each.key for answer in (drop, there, start, plan.plan(bench, draws=2000)) for each in answer.defaults}
    assert taken == {"conditions.temperature", "conditions.altitude"}, "what is drawn is taken from nobody"
    text = " ".join(replies.to_landing(drop, BENCH).first)
    assert "all the shock’s stroke" in text and ", onto both wheels" in text


def test_what_lacks_behind_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    whole = example("rear-shock")
    lone = replace(shock_of(whole), leverage=None, sag_m=None)
    weightless = replace(whole, rider=None)
    cases = {
        "[shock] leverage": replace(whole, shock=lone),
        "[shock]": replace(whole, shock=None),
        "[shock] sag": weightless,
        "[shock.air] bore": replace(
            whole, shock=replace(shock_of(whole), air=replace(shock_of(whole).air, bore_m=None))
        ),  # type: ignore[type-var]
    }
    for place, bench in cases.items():
        for ask in (landing.landing, lambda b, end: rebound.rebound(b, 8, end=end)):
            with pytest.raises(FaultsFound) as found:
                ask(bench, end="rear")
            # Without a leverage the sag found in mm of stroke is enough, but for a landing.
            of_stroke = place == "[shock] leverage" and ask is not landing.landing
            assert [fault.location for fault in found.value.faults] == ["[shock] sag" if of_stroke else place], place
    found_sag = replace(weightless, shock=replace(shock_of(whole), sag_m=0.015), fork=None, frame=None, bike=None)
    assert landing.landing(found_sag).after is not None, "where the sag was found no weight is asked for, nor a chart"
    with pytest.raises(FaultsFound, match="no pressure to set"):
        ride.ride(replace(example("coil-shock-and-its-shelf"), ride=Ride(temperature_k=270.0)), end="rear")
    heavier = replace(whole, rider=Rider(mass_kg=110.0, front_share=0.42))
    assert middle(landing.landing(heavier, end="rear").after) < middle(landing.landing(whole, end="rear").after)
    file = tmp_path / "hardtail.toml"
    file.write_text(topout.examples()["longer-travel"].read_text("utf-8"), encoding="utf-8")
    for command in (["landing"], ["ride", "--temperature", "5 degC"], ["rebound"]):
        assert main([*command, "--end", "rear", str(file)]) == 2
        out, err = capsys.readouterr()
        assert out == "" and "[shock]" in err


def test_a_load_found_in_front_settles_each_spring_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The turns move the frame, not the air in it; each began with the shock and the fork settled anew, by a grid of its own."""
    bench = replace(example("rear-shock"), found=Found(sag_m=0.038, pressure_gauge_pa=80 * PSI_PA))
    design, settled = Design.of([bench]), []
    real = air_spring.settle

    def counted(fit: air_spring.Chambers) -> air_spring.EquilibratedSpring:
        settled.append(fit)
        return real(fit)

    monkeypatch.setattr(air_spring, "settle", counted)
    found = load.loads(design)
    assert len(settled) == 2 and found.behind_n is not None
    # And it is where both agree: the weight left by the front's load, and the front's load as the bike stands under it.
    left = rear.weight_left_n(design, found.load.side_n)
    assert found.behind_n[0] == pytest.approx(left[0], abs=1e-8)
    bikes = inputs.bikes(rear.stood(design, found.behind_n))
    x = 0.038 + sag.lost_travel_m(real(bikes.chambers))
    angle = geometry.stance(geometry.axle_frame(bikes.chart, bikes.fitted), x)["head_angle_rad"]
    assert found.load.side_n[0] == pytest.approx(found.load.axial_n[0] / np.sin(angle[0]), rel=1e-9)
