"""Whole curves of many bikes against `air_spring`, element by element."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from second_way import bikes
from topout.bench_file import read
from topout.physics import air_spring, spring_terms
from topout.physics.curves import Curves, Scratch, fill
from topout.planner import inputs

NUMBERS = range(60)


@pytest.fixture(scope="module")
def settled() -> air_spring.EquilibratedSpring:
    benches = [read.read_text(bikes.text(bikes.bike(number))) for number in NUMBERS]
    return air_spring.settle(inputs.bikes_of(benches).chambers)


@pytest.mark.parametrize("points", [2, 21, 201])
def test_curves_are_those_of_the_air_spring(settled: air_spring.EquilibratedSpring, points: int) -> None:
    rows = len(settled.fit.travel_m)
    out = Curves.empty(rows, points)
    fill(settled, points, out, Scratch(rows, points))
    x = np.linspace(0.0, 1.0, points)[:, None] * settled.fit.travel_m
    force, rate, main, _ = air_spring.force_and_rate(settled, x)
    _, negative = air_spring.pressures(settled, x)
    fast = air_spring.force_fast(settled, x, np.zeros(rows))
    wanted = {
        "force_n": force, "force_fast_n": fast, "rate_n_per_m": rate, "positive_pa": main, "negative_pa": negative,
    }  # fmt: skip
    for name, value in wanted.items():
        largest = np.abs(value).max(axis=0)
        assert (np.abs(getattr(out, name).T - value) <= 2e-13 * largest).all(), name


def test_a_steep_spring_is_raised_point_by_point(settled: air_spring.EquilibratedSpring) -> None:
    """Main chamber shrinking to a fortieth: Chebyshev points would be off by parts in a thousand there."""
    fit = settled.fit
    area = 0.25 * np.pi * fit.bore_m**2
    kept: dict[str, Any] = {name: getattr(fit, name) for name in air_spring.Chambers.__dataclass_fields__}
    tight = air_spring.Chambers(**kept | {"positive_m3": area * fit.travel_m * 40.0 / 39.0})
    s = air_spring.settle(tight)
    rows = len(fit.travel_m)
    out = Curves.empty(rows, 201)
    fill(s, 201, out, Scratch(rows, 201))
    x = np.linspace(0.0, 1.0, 201)[:, None] * fit.travel_m
    fast = air_spring.force_fast(s, x, np.zeros(rows))
    assert (np.abs(out.force_fast_n.T - fast) <= 1e-12 * np.abs(fast).max(axis=0)).all()


def test_a_volume_that_is_gone_at_full_travel_to_its_last_drop_locks(settled: air_spring.EquilibratedSpring) -> None:
    """None of it left is no gas to press on; the same and a hair more is."""
    fit = settled.take(np.nonzero((settled.fit.legs_m2 > 0.0) & (settled.fit.rod_m2 > 0.0))[0]).fit
    assert fit.travel_m.size > 5 and not air_spring.locked(fit).any()
    gone = {
        "positive_m3": 0.25 * np.pi * fit.bore_m**2 * fit.travel_m, "legs_m3": fit.legs_m2 * fit.travel_m,
        "damper_m3": fit.rod_m2 * fit.travel_m, "negative_m3": np.zeros_like(fit.travel_m),
    }  # fmt: skip
    for name, volume in gone.items():
        rows = fit.gas_negative if name == "negative_m3" else np.ones_like(fit.gas_negative)
        gone_at: dict[str, Any] = {name: volume}
        more: dict[str, Any] = {name: volume * (1 + 1e-12) + 1e-15}
        assert (air_spring.locked(replace(fit, **gone_at)) == rows).all(), name
        assert not air_spring.locked(replace(fit, **more)).any(), name


def test_terms_sum_to_the_force(settled: air_spring.EquilibratedSpring) -> None:
    x = np.linspace(0.0, 1.0, 33)[:, None] * settled.fit.travel_m
    parts = spring_terms.terms(settled, x)
    assert set(parts) == {
        "positive_n", "negative_n", "second_n", "lower_legs_n", "damper_gas_n", "bumper_n", "top_out_n", "coil_n",
    }  # fmt: skip
    total = np.sum(list(parts.values()), axis=0)
    assert total == pytest.approx(air_spring.force(settled, x), rel=1e-11, abs=1e-9)


def test_rate_is_the_slope_of_the_force(settled: air_spring.EquilibratedSpring) -> None:
    """Central differences, away from the kinks at ports, coil ends and bumpers of power 1."""
    travel = settled.fit.travel_m
    x = np.linspace(0.013, 0.987, 41)[:, None] * travel
    h = 1e-6 * travel
    _, rate, _, _ = air_spring.force_and_rate(settled, x)
    slope = (air_spring.force(settled, x + h) - air_spring.force(settled, x - h)) / (2 * h)
    near = np.zeros(x.shape, dtype=bool)
    fit = settled.fit
    for place in (fit.port_m, fit.port_end_m, fit.coil_m, fit.top_out_m, fit.travel_m - fit.bumper_m):
        near |= np.abs(x - place) < 3 * h
    assert np.where(near, 0.0, (slope - rate) / rate) == pytest.approx(np.zeros(x.shape), abs=1e-5)
