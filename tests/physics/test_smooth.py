"""The hyperbolas of `smooth` against `air_spring` on many bikes, and the roots found by them against halving."""

from __future__ import annotations

import numpy as np
import pytest

from second_way import bikes
from topout.bench_file import read
from topout.physics import air_spring, sag, smooth
from topout.physics.air_spring import EquilibratedSpring
from topout.planner import inputs

NUMBERS = range(150)


@pytest.fixture(scope="module")
def settled() -> EquilibratedSpring:
    benches = [read.read_text(bikes.text(bikes.bike(number))) for number in NUMBERS]
    return air_spring.settle(inputs.bikes_of(benches).chambers)


def test_the_force_and_its_slopes_are_those_of_the_air_spring(settled: EquilibratedSpring) -> None:
    """Slopes by five-point differences of the next lower one; the coil's end lies nowhere near the places looked at."""
    of = smooth.of(settled)
    rows = np.nonzero(of.from_m < of.upto_m)[0]
    assert rows.size > 140
    of, s = of.take(rows), settled.take(rows)
    step_m = 1e-4
    x = of.from_m + (of.upto_m - of.from_m) * np.linspace(0.02, 0.98, 29)[:, None]
    assert of.coil is not None and len(of.beside) == 2
    x = np.where(np.abs(x - of.coil[1]) < 3 * step_m, x + 6 * step_m, x)
    x = np.minimum(x, of.upto_m - 2 * step_m)
    force, rate, _, _ = air_spring.force_and_rate(s, x)
    got = smooth.with_slopes(of, x)
    assert (np.abs(got[0] - force) <= 1e-12 * np.abs(force).max(axis=0)).all()
    assert (np.abs(got[1] - rate) <= 1e-12 * np.abs(rate).max(axis=0)).all()
    coil_n = of.coil[0] * np.maximum(of.coil[1] - x, 0.0)
    assert (np.abs(smooth.gas_n(of, x) - coil_n - force) <= 1e-12 * np.abs(force).max(axis=0)).all()
    for order in (2, 3):  # F″/2 and F‴/6
        below = [smooth.with_slopes(of, x + k * step_m)[order - 1] for k in (-2, -1, 1, 2)]
        slope = (below[0] - 8.0 * below[1] + 8.0 * below[2] - below[3]) / (12.0 * step_m) / order
        assert (np.abs(got[order] - slope) <= 1e-4 * np.abs(slope) + 1e-6 * np.abs(got[order]).max(axis=0)).all(), order


def test_lost_travel_is_where_halving_finds_the_force_gone(settled: EquilibratedSpring) -> None:
    travel_m = settled.fit.travel_m
    low, high = np.zeros_like(travel_m), travel_m.copy()
    for _ in range(60):
        middle = 0.5 * (low + high)
        below = air_spring.force(settled, middle) < 0.0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    wanted = np.where(air_spring.force(settled, np.zeros_like(travel_m)) < 0.0, 0.5 * (low + high), 0.0)
    assert (wanted > 0.0).sum() > 10
    assert np.abs(sag.lost_travel_m(settled) - wanted).max() < 1e-13
