"""The linkage held to SciPy: its cubic, its quadrature, its root; force and rate at the wheel to the shock's energy."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from second_way import linkages
from topout.physics import leverage
from topout.physics.quadrature import gauss_legendre

MADE = linkages.tables(500)
LINKAGE = leverage.linkage(*linkages.padded(MADE))
SHARES = np.linspace(0.0, 1.0, 23)
ENDS = np.array([table.travel_m[-1] for table in MADE])
TRAVEL = SHARES[:, None] * ENDS


def test_the_cubic_is_scipys() -> None:
    for row, table in enumerate(MADE):
        slopes = PchipInterpolator(table.travel_m, table.value).derivative()(table.travel_m)
        own = LINKAGE.slope[row, : len(slopes)]
        assert_allclose(own, slopes, rtol=1e-9, atol=1e-12 * np.abs(table.value).max() / table.travel_m[-1])


def test_stroke_ratio_and_its_change_are_those_of_scipys_cubic() -> None:
    stroke, ratio, change = leverage.at(LINKAGE, TRAVEL)
    for row, table in enumerate(MADE):
        cubic = PchipInterpolator(table.travel_m, table.value)
        w = TRAVEL[:, row]
        inner = np.abs(w[:, None] - table.travel_m).min(axis=1) > 1e-9  # at a point the curvature has two sides
        if table.of_stroke:
            slope, curve = cubic(w, 1), cubic(w, 2)
            wanted = cubic(w), 1.0 / slope, -curve / slope**2
        else:
            parts = [
                quad(lambda x, of=cubic: 1.0 / of(x), a, b, epsabs=1e-14, epsrel=1e-13)[0]
                for a, b in zip(table.travel_m, table.travel_m[1:], strict=False)
            ]
            known = np.concatenate(([0.0], np.cumsum(parts)))
            place = np.clip(np.searchsorted(table.travel_m, w, side="right") - 1, 0, len(parts) - 1)
            rest = [
                quad(lambda x, of=cubic: 1.0 / of(x), table.travel_m[p], x, epsabs=1e-14)[0]
                for p, x in zip(place, w, strict=True)
            ]
            wanted = known[place] + rest, cubic(w), cubic(w, 1)
        assert_allclose(stroke[:, row], wanted[0], rtol=1e-9, atol=1e-13)
        assert_allclose(ratio[:, row], wanted[1], rtol=1e-9)
        assert_allclose(change[inner, row], wanted[2][inner], rtol=1e-7, atol=1e-7)


def test_wheel_travel_is_found_from_the_stroke_and_back() -> None:
    stroke, _, _ = leverage.at(LINKAGE, TRAVEL)
    assert_allclose(leverage.wheel_travel_m(LINKAGE, stroke), TRAVEL, rtol=0, atol=1e-12)
    for row in range(0, 500, 25):
        one = LINKAGE.take(slice(row, row + 1))
        wanted = stroke[11, row]
        root = brentq(
            lambda w, of=one, s=wanted: float(leverage.at(of, np.array([w]))[0][0]) - s, 0.0, ENDS[row], xtol=1e-15
        )
        assert leverage.wheel_travel_m(one, np.array([wanted]))[0] == pytest.approx(root, abs=1e-12)


def test_force_and_rate_at_the_wheel_are_the_slopes_of_the_springs_energy() -> None:
    """Virtual work: E(s(w)) differentiated by w once and twice, with a spring of known energy E = ½k(s+p)² + c·s³."""
    k, p, c = 68_000.0, 0.004, 3.0e6
    step = 2e-6
    w = (0.03 + 0.94 * SHARES[:, None]) * ENDS
    nearest = np.abs(w[..., None] - LINKAGE.travel_m)
    away = ~(np.nanmin(nearest, axis=-1) < 4 * step)

    def energy(at: np.ndarray) -> np.ndarray:
        s, _, _ = leverage.at(LINKAGE, at)
        return 0.5 * k * (s + p) ** 2 + c * s**3

    s, _, _ = leverage.at(LINKAGE, w)
    force, rate = leverage.at_wheel(LINKAGE, w, k * (s + p) + 3 * c * s**2, k + 6 * c * s)
    by_work = (energy(w + step) - energy(w - step)) / (2 * step)
    assert_allclose(force[away], by_work[away], rtol=2e-7)
    up, down = (
        leverage.at_wheel(
            LINKAGE, x, k * (leverage.at(LINKAGE, x)[0] + p) + 3 * c * leverage.at(LINKAGE, x)[0] ** 2, 0.0 * x
        )[0]
        for x in (w + step, w - step)
    )
    assert_allclose(rate[away], ((up - down) / (2 * step))[away], rtol=1e-5)


def test_past_the_table_the_last_ratio_stays() -> None:
    stroke, ratio, change = leverage.at(LINKAGE, 1.01 * ENDS)
    at_end, last, _ = leverage.at(LINKAGE, ENDS)
    assert_allclose(ratio, last, rtol=1e-14)
    assert_allclose(stroke, at_end + 0.01 * ENDS / last, rtol=1e-12)
    assert (change == 0.0).all()
    assert_allclose(leverage.wheel_travel_m(LINKAGE, stroke), 1.01 * ENDS, rtol=1e-12)


@pytest.mark.parametrize("spread", [0.0, 0.02, 0.1, 0.4])
def test_the_stroke_is_the_ratios_integral_however_few_nodes_it_takes(spread: float) -> None:
    """SciPy's own cubic and its adaptive quadrature, on tables whose ratio changes little or much from point to point."""
    chance = np.random.default_rng(7)
    travel_m = np.linspace(0.0, 0.17, 6)
    for _ in range(10):
        ratios = 2.7 * np.exp(chance.uniform(-spread, spread, 6) / 2)
        made = leverage.linkage(travel_m, ratios, np.array(False))
        assert int(made.nodes) == 2 if spread == 0.0 else 4 <= int(made.nodes) <= 12
        cubic = PchipInterpolator(travel_m, ratios)
        for w in chance.uniform(0.0, 0.17, 5):
            parts = [*travel_m[travel_m < w], w]
            wanted = sum(
                quad(lambda x, of=cubic: 1.0 / of(x), *each, epsabs=1e-16, epsrel=1e-13)[0] for each in pairwise(parts)
            )
            assert float(leverage.at(made, np.array(w))[0]) == pytest.approx(wanted, abs=1e-14)


def test_one_linkage_alone_is_the_same_as_among_many() -> None:
    for row in (0, 7, 251, 499):
        table = MADE[row]
        alone = leverage.linkage(table.travel_m[None], table.value[None], np.array([table.of_stroke]))
        among = leverage.at(LINKAGE.take(slice(row, row + 1)), TRAVEL[:, row : row + 1])
        for one, other in zip(leverage.at(alone, TRAVEL[:, row : row + 1]), among, strict=True):
            assert_allclose(
                one, other, rtol=3e-14
            )  # among many the quadrature takes as many nodes as the one that needs most


def test_without_a_table_nothing_is_known() -> None:
    none = np.full((1, 3), np.nan)
    empty = leverage.linkage(none, none, np.array([False]))
    for value in leverage.at(empty, np.array([0.02])):
        assert np.isnan(value).all()
    assert np.isnan(leverage.wheel_travel_m(empty, np.array([0.02]))).all()


def test_the_quadrature_is_numpys() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(12)
    own, shares = gauss_legendre(12)
    assert_allclose(own, 0.5 * (nodes + 1.0), atol=1e-15)
    assert_allclose(shares, 0.5 * weights, atol=1e-15)


def test_the_trades_figures_of_leverage() -> None:
    """trade.md 10 row 18 (a forum's numbers, worked out) and section 4, derived: 30 % of stroke on 2.75 falling to 2.2."""
    assert 140 / 55 == pytest.approx(2.545, rel=1e-3)
    one = leverage.linkage(np.array([[0.0, 0.140]]), np.array([[2.9, 2.3]]), np.array([False]))
    assert leverage.progression(one, np.array([0.140]))[0] == pytest.approx(0.207, abs=1e-3)
    along_stroke = np.linspace(0.0, 0.06, 41)  # falling evenly along the stroke: w = ∫r ds, a parabola
    ratio = 2.75 - 0.55 * along_stroke / 0.06
    travel = 2.75 * along_stroke - 0.275 * along_stroke**2 / 0.06
    for table, value, share in ((travel, ratio, 0.3233), (np.array([0.0, 0.15]), np.array([2.75, 2.2]), 0.3238)):
        falling = leverage.linkage(table[None], value[None], np.array([False]))
        stroke = leverage.at(falling, table[-1:])[0]
        wheel = leverage.wheel_travel_m(falling, 0.30 * stroke)
        assert wheel[0] / table[-1] == pytest.approx(share, abs=5e-5)
