"""Intervals of many rows and what a reading leaves, each by a second way: row by row, by `numpy.interp`, `percentile` and `polyfit`."""

from __future__ import annotations

import numpy as np
import pytest

from topout.uncertainty import intervals, left
from topout.uncertainty.draws import Floats


def by_interp(values: Floats, weights: Floats) -> list[float] | None:
    """Median, limits and standard uncertainty of one row, each draw in the middle of its own share."""
    known = np.isfinite(values)
    if weights[known].sum() < 0.95 * weights.sum():
        return None
    values, share = values[known], weights[known] / weights[known].sum()
    order = np.argsort(values)
    below = np.cumsum(share[order]) - 0.5 * share[order]
    mean = float(np.average(values, weights=share))
    spread = float(np.sqrt(np.average((values - mean) ** 2, weights=share)))
    return [*(float(np.interp(p, below, values[order])) for p in intervals.POINTS), spread]


@pytest.mark.parametrize("n", [1, 2, 7, 400, 50_000])
def test_many_rows_are_told_as_each_alone(n: int) -> None:
    chance = np.random.default_rng(12)
    weights = chance.uniform(0.0, 1.0, n)
    rows = [3e5 + 2e4 * chance.standard_normal(n) for _ in range(5)]
    rows.append(np.full(n, 0.15))
    rows.append(np.round(chance.normal(size=n), 1))  # many are equal
    rows.append(np.where(np.arange(n) < 0.02 * n, np.nan, rows[0]))
    rows.append(np.where(np.arange(n) < 0.2 * n, np.nan, rows[0]))
    for one, row in zip(intervals.each(rows, weights), rows, strict=True):
        wanted = by_interp(row, weights)
        if wanted is None:
            assert one is None
        else:
            assert one is not None
            told = [one.median, one.low95, one.high95, one.standard]
            assert told == pytest.approx(wanted, rel=1e-12, abs=1e-9 * one.standard + 1e-12 * abs(one.median))
            alone = intervals.interval(row, weights)
            assert alone is not None
            assert told == pytest.approx([alone.median, alone.low95, alone.high95, alone.standard], rel=1e-13)
    assert (intervals.each(rows, weights)[-1] is None) == (by_interp(rows[-1], weights) is None)


@pytest.mark.parametrize("n", [1, 2, 3, 20, 195])
def test_points_are_those_of_numpy(n: int) -> None:
    values = np.random.default_rng(13).normal(size=(4, 3, n))
    shares = (0.0, 0.025, 0.1, 0.5, 0.975, 1.0)
    assert intervals.points(values, shares) == pytest.approx(np.quantile(values, shares, axis=-1), rel=1e-13, abs=1e-15)
    assert intervals.median(values) == pytest.approx(np.median(values, axis=-1), rel=1e-15)


def straight(of: Floats, *terms: Floats) -> Floats:
    """What is left of one part of the draws once a line in each of the readings is taken out, by least squares."""
    beside = np.array([np.ones(len(of)), *terms]).T
    rest: Floats = of - beside @ np.linalg.lstsq(beside, of, rcond=None)[0]
    return rest


def test_what_a_reading_leaves_is_what_lines_over_twentieths_leave() -> None:
    n, chance = 4_000, np.random.default_rng(14)
    truth = chance.normal(size=n)
    answer = 4e5 + 2e4 * (truth + 0.3 * truth**3) + 5e3 * chance.normal(size=n)
    read = truth + 0.1 * chance.normal(size=n)
    order = np.argsort(read).reshape(20, -1)
    widths = [float(np.ptp(np.percentile(straight(answer[part], read[part]), (2.5, 97.5)))) for part in order]
    wanted = [0.5 * float(np.percentile(widths, at)) for at in (50, 10, 90)]
    found = left.half_widths({"one": answer, "none": np.full(n, np.nan)}, [read])
    assert found["one"] == pytest.approx(wanted, rel=1e-10)
    assert np.isnan(found["none"]).all()


def test_where_nothing_is_read_all_draws_are_one_part() -> None:
    """No reading, or one that every draw gives alike, tells nothing apart: what is left is what lies between the ends of all."""
    answer = np.random.default_rng(16).normal(size=999)
    half = 0.5 * float(np.ptp(np.percentile(answer, (2.5, 97.5))))
    for readings in ([], [np.full(999, 7.0)]):
        assert left.half_widths({"one": answer}, readings)["one"] == pytest.approx([half] * 3, rel=1e-12)


def test_what_two_readings_leave_is_what_lines_over_twentieths_leave() -> None:
    """Ordered by what best tells the answer's place among all: the readings and their squares, by least squares."""
    n, chance = 4_000, np.random.default_rng(15)
    one, other = chance.normal(size=(2, n))
    answers = {"a": one + 0.5 * other**2 + 0.1 * chance.normal(size=n), "b": other - one + 0.2 * chance.normal(size=n)}
    read = [each + 0.1 * chance.normal(size=n) for each in (one, other)]
    x, y = ((each - each.mean()) / each.std() for each in read)
    terms = np.array([x, y, x * x - 1.0, y * y - 1.0]).T
    found = left.half_widths(answers, read)
    for name, answer in answers.items():
        rank = np.argsort(np.argsort(answer)) / n - 0.5
        along = terms @ np.linalg.lstsq(terms, rank, rcond=None)[0]
        order = np.argsort(along).reshape(20, -1)
        widths = [float(np.ptp(np.percentile(straight(answer[p], x[p], y[p]), (2.5, 97.5)))) for p in order]
        wanted = [0.5 * float(np.percentile(widths, at)) for at in (50, 10, 90)]
        assert found[name] == pytest.approx(wanted, rel=1e-6)
