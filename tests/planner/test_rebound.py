"""The rebound to start from follows the spring's rate at sag, against a difference of forces and the critical damping of a
mass on a spring."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import topout
from topout.planner import rebound

EXAMPLES = (
    "longer-travel",
    "load-from-the-sag-found",
    "port-further-in",
    "separate-valve",
    "gas-damper",
    "another-chassis",
)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_rate_is_the_slope_of_the_force_at_sag(name: str) -> None:
    """Second way: the plan's sag, and the slope of the printed curve there by a central difference."""
    bench = topout.read(topout.examples()[name])
    plan = topout.plan(bench, curves=True)
    rates = []
    for state, curve in ((plan.before, plan.curve_before), (plan.after, plan.curve_after)):
        assert state.sag is not None and state.sag.front is not None and curve is not None
        at, forces, travel_m = state.sag.front.travel_m, curve.force_n, curve.travel_m
        i = int((travel_m < at).sum())
        (x0, x1, x2), (f0, f1, f2) = travel_m[i - 1 : i + 2], forces[i - 1 : i + 2]
        rates.append(  # the slope at sag of the parabola through three points beside it
            f0 * (2 * at - x1 - x2) / ((x0 - x1) * (x0 - x2))
            + f1 * (2 * at - x0 - x2) / ((x1 - x0) * (x1 - x2))
            + f2 * (2 * at - x0 - x1) / ((x2 - x0) * (x2 - x1))
        )
    told = rebound.rebound(bench, 8)
    assert told.rate_ratio is not None and told.damping_ratio is not None
    assert told.rate_ratio.median == pytest.approx(rates[1] / rates[0], rel=2e-3)
    assert told.damping_ratio.median == pytest.approx(math.sqrt(told.rate_ratio.median), rel=1e-12)
    assert told.clicks == round(8 / told.damping_ratio.median)


def test_critical_damping_is_that_of_the_textbook() -> None:
    """checks/09, VIB-05: 2·√(k·m) of 35 000 N/m and 60 kg; a spring four times as stiff wants twice the damping."""
    assert 2.0 * math.sqrt(35000.0 * 60.0) == pytest.approx(2898.275349, rel=1e-9)
    assert math.sqrt(4 * 35000.0 * 60.0) / math.sqrt(35000.0 * 60.0) == 2.0


def test_a_stiffer_spring_wants_fewer_clicks_and_nothing_changes_nothing() -> None:
    bench = topout.read(topout.examples()["longer-travel"])
    assert bench.change is not None
    firmer = replace(bench, change=replace(bench.change, travel_m=None, pressure_gauge_pa=9e5))
    told = rebound.rebound(firmer, 10)
    assert told.clicks is not None and told.clicks < 10
    as_it_is = rebound.rebound(replace(bench, change=None), 10)
    assert as_it_is.clicks == 10 and as_it_is.damping_ratio is not None and as_it_is.damping_ratio.median == 1.0


def test_clicks_stay_within_the_range_and_are_not_made_up() -> None:
    bench = topout.read(topout.examples()["longer-travel"])
    assert bench.change is not None
    softer = replace(bench, change=replace(bench.change, travel_m=None, pressure_gauge_pa=1.5e5))
    free = rebound.rebound(softer, 10).clicks
    assert free is not None and free > 10
    assert rebound.rebound(softer, 10, 10).clicks == 10
    assert rebound.rebound(softer).clicks is None and rebound.rebound(softer, 0).clicks == 0
