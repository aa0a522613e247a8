"""The rate at the rear wheel and what it lies between: against differences of the wheel's own force, one bike after another."""

from __future__ import annotations

import re

import numpy as np
import pytest

import topout
from topout.bench_file.read import read_text
from topout.physics import air_spring, leverage
from topout.physics.gas import Floats
from topout.planner import bands, drawn, inexact, of_draws, plan, rear
from topout.planner import design as designs
from topout.planner.results import RearCurve, RearSag

OPEN = """
[shock]
stroke = "55 mm"
body = "40 mm"
sag = "16 mm"
leverage = [["0 mm", 2.85], ["35 mm", 2.70], ["70 mm", 2.56], ["105 mm", 2.43], ["140.5 mm", 2.33]]

[shock.air]
spacers = 1
pressure = "150 psi"

[change.shock]
spacers = 2
"""
STEP_M = 1e-5


def quantiles(values: Floats, weights: Floats) -> list[float]:
    """Second way: the values in order, and where their weights pass 2.5, 50 and 97.5 %."""
    values, weights = values[np.isfinite(values)], weights[np.isfinite(values)]  # a shock that would lock has none
    order = np.argsort(values)
    passed = np.cumsum(weights[order]) / np.sum(weights)
    return [float(values[order][np.searchsorted(passed, share)]) for share in (0.025, 0.5, 0.975)]


def test_the_rate_at_sag_is_the_slope_of_the_wheels_force_in_every_draw() -> None:
    """Its limits from differences of force over ratio at where each draw rests, by sorting."""
    worked, draws = plan.plan_and_draws(read_text(OPEN), draws=2000)
    assert draws is not None and worked.bounds is not None
    made = draws.made
    for state, design in (("before", made.design), ("after", designs.changed(made.design, made.changes))):
        of = rear.rear(design)
        assert of is not None and made.loads.behind_n is not None
        spring = air_spring.settle(of.chambers)
        w = rear.at_rest(of, made.loads.behind_n).travel_m

        def force_n(at: Floats, of: rear.Rear = of, spring: air_spring.EquilibratedSpring = spring) -> Floats:
            stroke, ratio, _ = leverage.at(of.linkage, at)
            return air_spring.force(spring, stroke) / ratio

        slope = (force_n(w + STEP_M) - force_n(w - STEP_M)) / (2 * STEP_M)
        told = worked.bounds.of[(state, "rear", "wheel_rate_n_per_m")]
        assert (told.low95, told.median, told.high95) == pytest.approx(quantiles(slope, made.weights), rel=1.5e-2), (
            state
        )
        said = (worked.before if state == "before" else worked.after).rear
        assert said is not None and said.wheel_rate_n_per_m == told.median
    assert told.low95 < 0.97 * told.median, "a rate that is known to a hair would show nothing"
    json = plan.plan(read_text(OPEN), draws=2000).as_json()["after"]["rear"]
    assert {"wheel_rate_n_per_m", "wheel_rate_n_per_m_low95", "wheel_rate_n_per_m_high95"} <= set(json)


def test_of_an_exact_shock_it_is_the_slope_of_the_printed_curve() -> None:
    for name in ("rear-shock", "coil-shock-and-its-shelf"):
        bench = topout.read(topout.examples()[name])
        before, curve = topout.plan(bench).before, topout.curve(bench, points=2001, end="rear")
        assert isinstance(curve, RearCurve) and curve.wheel_travel_m is not None and curve.wheel_force_n is not None
        assert before.sag is not None and isinstance(before.sag.rear, RearSag) and before.rear is not None
        assert before.sag.rear.travel_m is not None
        i = int(np.searchsorted(curve.wheel_travel_m, before.sag.rear.travel_m))
        rise = np.diff(curve.wheel_force_n[i - 1 : i + 1]) / np.diff(curve.wheel_travel_m[i - 1 : i + 1])
        assert before.rear.wheel_rate_n_per_m == pytest.approx(float(rise[0]), rel=2e-3), name


def test_the_bands_along_the_travel_are_those_of_single_curves() -> None:
    """Terminal and page: each point's limits against the exact curves of forty draws written as files of their own."""
    bench = inexact.as_it_is(read_text(OPEN))
    told = of_draws.curve_behind(bench, points=12, count=1500)
    _, draws = plan.plan_and_draws(read_text(OPEN), draws=1500)
    assert told.bounds is not None and draws is not None and told.wheel_rate_n_per_m is not None
    both = bands.behind(draws, points=12)
    assert both is not None and both[0].wheel_rate is not None and told.wheel_travel_m is not None
    own, page = told.bounds.bands[("wheel_rate_n_per_m",)], both[0].wheel_rate
    for limit, of in ((own.low95, page.low95), (own.median, page.middle), (own.high95, page.high95)):
        assert limit[:-2] == pytest.approx(
            of[:-2], rel=0.05
        )  # two draws of a thousand each; the bumper's edge left out
    made = drawn.draw(bench, 1500)
    curve = rear.rear(made.design)
    assert curve is not None
    rates = []
    for one in range(0, len(made.weights), max(1, len(made.weights) // 40)):
        spring = air_spring.settle(curve.chambers.take(slice(one, one + 1)))
        w = np.linspace(0.0, float(curve.end_m[one]), 1201)
        stroke, ratio, _ = leverage.at(curve.linkage.take(slice(one, one + 1)), w[:, None])
        force = (air_spring.force(spring, stroke) / ratio)[:, 0]
        rates.append(np.interp(0.5, np.linspace(0.0, 1.0, 1200), np.diff(force) / np.diff(w)))
    inside = (
        np.interp(0.5 * told.wheel_travel_m[-1], told.wheel_travel_m, own.low95),
        np.interp(0.5 * told.wheel_travel_m[-1], told.wheel_travel_m, own.high95),
    )
    assert np.mean([inside[0] <= each <= inside[1] for each in rates]) > 0.8
    lone = read_text(re.sub(r"leverage = .*\n", "", OPEN))
    without = of_draws.curve_behind(inexact.as_it_is(lone), points=5, count=500)
    assert without.wheel_rate_n_per_m is None and without.bounds is not None and without.progression is None
