"""Draws against what others printed: JCGM 101:2008 through the code that a plan propagates with, and SciPy's distributions."""

from __future__ import annotations

import csv
import importlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from topout.uncertainty import draws
from topout.uncertainty.doubt import Doubt, Way
from topout.uncertainty.intervals import effective, interval

REFERENCE = Path(__file__).parent.parent / "reference"
ROWS, INPUTS = (
    list(csv.DictReader((REFERENCE / f"10_gum_{name}.csv").read_text(encoding="utf-8").splitlines()))
    for name in ("uncertainty", "inputs")
)
MILLION = 1_000_000


def stats() -> Any:
    """SciPy's distributions: fetched where they are used, since every worker collects this room."""
    return importlib.import_module("scipy.stats")


def row(name: str) -> dict[str, str]:
    return next(each for each in ROWS if each["id"] == name)


def near(name: str, value: float) -> None:
    """JCGM's figure, to the tolerance that the table states for this many draws."""
    wanted = row(name)
    expected = float(wanted["reference_value"] or wanted["expected_value"])
    assert value == pytest.approx(expected, abs=float(wanted["tolerance_abs"])), name


@pytest.mark.parametrize(("example", "shape"), [("922", "normal"), ("923", "rectangular")])
def test_sums_of_jcgm_101(example: str, shape: str) -> None:
    """JCGM 101:2008, 9.2.2 and 9.2.3, Tables 2 and 3 (tests/reference/10_gum_uncertainty.csv)."""
    total = np.zeros(MILLION)
    for each in (each for each in INPUTS if each["example"] == f"GUM-S1-9.2.{example[-1]}"):
        chance = draws.stream(20081, each["variable"])
        assert each["distribution"] == shape
        if shape == "normal":
            total += draws.normal(chance, float(each["value"]), float(each["standard_uncertainty"]), MILLION)
        else:
            half = float(each["half_width"])
            total += draws.uniform(chance, float(each["value"]) - half, float(each["value"]) + half, MILLION)
    found = interval(total)
    assert found is not None
    near(f"GUMS1-{example}-u", found.standard)
    near(f"GUMS1-{example}-low", found.low95)
    near(f"GUMS1-{example}-high", found.high95)


def test_correlated_inputs_of_the_gum() -> None:
    """JCGM 100:2008, H.2: resistance and reactance from correlated means; drawn apart, u(R) would be 0.194."""
    seen = {
        name: np.array(
            [float(each["value"]) for each in INPUTS if each["kind"] == "observation" and each["variable"] == name]
        )
        for name in ("V", "I", "phi")
    }
    table = np.array([seen["V"], seen["I"], seen["phi"]])
    v, i, phi = draws.correlated(draws.stream(5, "H.2"), table.mean(axis=1), np.cov(table) / 5, MILLION)
    for name, values in (("R", v / i * np.cos(phi)), ("X", v / i * np.sin(phi)), ("Z", v / i)):
        found = interval(values)
        assert found is not None
        near(f"GUM-H2-{name}", float(values.mean()))
        near(f"GUM-H2-u{name}", found.standard)
    seen_as = {"R": v / i * np.cos(phi), "X": v / i * np.sin(phi), "Z": v / i}
    for one, other in ("RX", "RZ", "XZ"):
        near(f"GUM-H2-r{one}{other}", float(np.corrcoef(seen_as[one], seen_as[other])[0, 1]))


def test_the_inverse_normal_is_scipys() -> None:
    shares = np.concatenate([np.logspace(-12, -1, 400), np.linspace(0.05, 0.95, 901), 1 - np.logspace(-12, -1, 400)])
    assert draws.inverse_normal(shares) == pytest.approx(stats().norm.ppf(shares), rel=1e-13, abs=1e-13)


@pytest.mark.parametrize("count", [1, 2, 7, 2000])
def test_one_draw_lies_in_each_part(count: int) -> None:
    drawn = np.sort(draws.uniform(draws.stream(1, "a"), 2.0, 5.0, count))
    assert ((drawn - 2.0) / 3.0 * count).astype(int).tolist() == list(range(count))
    assert np.isfinite(draws.normal(draws.stream(1, "a"), 0.0, 1.0, count)).all()


def test_a_stream_is_its_seed_and_its_name_and_nothing_else() -> None:
    one = draws.normal(draws.stream(3, "bore"), 0, 1, 500)
    assert (one == draws.normal(draws.stream(3, "bore"), 0, 1, 500)).all()
    for other in (draws.normal(draws.stream(3, "shaft"), 0, 1, 500), draws.normal(draws.stream(4, "bore"), 0, 1, 500)):
        assert abs(np.corrcoef(one, other)[0, 1]) < 0.15


@pytest.mark.parametrize("way", ["±", "u", "within"])
def test_draws_past_what_is_allowed_are_drawn_anew(way: Way) -> None:
    """Against SciPy's truncated distributions, and against drawing again by hand."""
    off = Doubt(way, 2.0, "")
    drawn, outside = draws.doubted(draws.stream(6, way), 10.0, off, (9.0, 13.0), 200_000)
    spread = off.standard_si
    whole = stats().uniform(8.0, 4.0) if way == "within" else stats().norm(10.0, spread)
    assert outside == pytest.approx(whole.cdf(9.0) + whole.sf(13.0), abs=1e-12)
    assert np.min(drawn) >= 9.0 and np.max(drawn) <= 13.0
    low, high = whole.cdf(9.0), whole.cdf(13.0)
    for share in (0.025, 0.3, 0.5, 0.975):
        assert np.quantile(drawn, share) == pytest.approx(whole.ppf(low + share * (high - low)), abs=1e-3)
    again = np.random.default_rng(3)
    plain = again.uniform(8.0, 12.0, 400_000) if way == "within" else again.normal(10.0, spread, 400_000)
    plain = plain[(plain >= 9.0) & (plain <= 13.0)]
    assert drawn.mean() == pytest.approx(plain.mean(), abs=0.01)
    assert drawn.std() == pytest.approx(plain.std(), abs=0.01)


def test_nothing_is_drawn_of_what_is_exact() -> None:
    drawn, outside = draws.doubted(draws.stream(1, "a"), 9.0, Doubt("±", 0.0, ""), (9.0, 9.0), 5)
    assert set(drawn) == {9.0} and outside == 0.0


@pytest.mark.parametrize("way", ["±", "u", "within"])
@pytest.mark.parametrize("more", [0.0, 0.3])
def test_likelihood_is_the_density_of_both_errors_together(way: Way, more: float) -> None:
    """Against SciPy: the density of reading error plus what comes on top, by numerical convolution."""
    off = Doubt(way, 1.0, "")
    beside = np.array([-1.4, -0.9, -0.2, 0.0, 0.5, 0.99, 1.2])
    own = stats().uniform(-1.0, 2.0) if way == "within" else stats().norm(0.0, off.standard_si)
    if more:
        grid = np.linspace(-8 * more, 8 * more, 20_001)
        top = stats().norm(0.0, more).pdf(grid)
        density = np.array([np.trapezoid(own.pdf(b - grid) * top, grid) for b in (*beside, 0.0)])
    else:
        density = own.pdf((*beside, 0.0))
    assert draws.likelihood(beside, off, more) == pytest.approx(density[:-1] / density[-1], rel=2e-3, abs=1e-6)
    assert draws.likelihood(np.array([0.0, 0.1]), Doubt(way, 0.0, "")).tolist() == [1.0, 0.0]


def test_a_covariance_with_a_negative_direction_is_refused() -> None:
    with pytest.raises(ValueError, match="no negative direction"):
        draws.correlated(draws.stream(1, "a"), np.zeros(2), np.array([[1.0, 2.0], [2.0, 1.0]]), 10)


def test_weights_say_what_repeating_would() -> None:
    values = np.array([3.0, 1.0, 4.0, 1.5, 9.0, 2.6, 5.0])
    times = np.array([4, 1, 7, 3, 2, 9, 5])
    weighted = interval(values, times.astype(float))
    repeated = np.repeat(values, times)
    assert weighted is not None
    assert weighted.standard == pytest.approx(float(repeated.std()))
    assert effective(times.astype(float)) == pytest.approx(times.sum() ** 2 / (times**2).sum())
    assert effective(np.ones(40)) == pytest.approx(40.0)
    assert effective(np.zeros(40)) == 0.0


def test_weighted_limits_against_the_distribution_they_stand_for() -> None:
    """Draws of a uniform, weighted by a normal density, are that normal: its own quantiles are the second way."""
    x = draws.uniform(draws.stream(2, "x"), -8.0, 8.0, 200_000)
    found = interval(x, np.exp(-0.5 * (x - 1.0) ** 2))
    assert found is not None
    wanted = stats().norm(1.0, 1.0)
    assert found.median == pytest.approx(1.0, abs=0.01)
    assert (found.low95, found.high95) == pytest.approx((wanted.ppf(0.025), wanted.ppf(0.975)), abs=0.02)
    assert found.standard == pytest.approx(1.0, abs=0.01)


def test_what_too_many_draws_can_not_say_is_not_said() -> None:
    values = np.arange(100.0)
    values[:5] = np.nan
    assert interval(values) is not None
    values[5] = np.nan
    assert interval(values) is None
    assert interval(np.array([1.0, 2.0]), np.zeros(2)) is None
