"""A control that moves draws no fork anew: the draws of the move before with what is asked now are those of that file drawn alone."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from planner.test_drawn import OUTSIDE
from topout.bench_file.read import read_text
from topout.planner import bands, bounds, drawn, inexact
from topout.uncertainty import intervals

ASKED = 'pressure = "64 psi"\nspacers = 2\n'
FAR = '[[found.reading]]\ntravel = "105 mm"\npressure = "76 psi"\nstart = "30 psi"\nhose = "3 ml"\n'  # several chunks are drawn


def arrays(of: Any, path: str = "") -> dict[str, Any]:
    """Every array in a table of columns, by its path."""
    if isinstance(of, np.ndarray):
        return {path: of}
    if isinstance(of, dict):
        return {name: each for key, inner in of.items() for name, each in arrays(inner, f"{path}.{key}").items()}
    if is_dataclass(of) and not isinstance(of, type):
        inner = {field.name: getattr(of, field.name) for field in fields(of) if field.name not in ("bench", "of_moves")}
        return arrays(inner, path)
    return {}


@pytest.mark.parametrize("more", ["", FAR])
def test_the_draws_of_a_move_are_those_of_its_own_file(more: str) -> None:
    first = read_text(OUTSIDE + more)
    moved = read_text(OUTSIDE.replace("[change]\n", f"[change]\n{ASKED}") + more)
    drawn.draw(first, inexact.MOVING)
    hits = drawn._last_drawn.cache_info().hits
    again, alone = drawn.draw(moved, inexact.MOVING), drawn._draw(moved, inexact.MOVING, inexact.SEED)
    assert drawn._last_drawn.cache_info().hits == hits + 1, "one more move of the same bike"
    assert again.bench == moved and again.count == alone.count and again.sizes == alone.sizes
    one, other = arrays(again), arrays(alone)
    assert one.keys() == other.keys() and len(one) > 100
    differ = [name for name in one if not np.array_equal(one[name], other[name], equal_nan=True)]
    assert not differ, differ
    if more:
        assert len(again.sizes) > 1


@pytest.mark.parametrize("more", ["", FAR])
def test_what_a_move_says_of_its_draws_is_what_its_own_file_says(more: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Readings to come and what an answer hangs on are partly kept from the move before."""
    first = read_text(OUTSIDE + more)
    moved = read_text(OUTSIDE.replace("[change]\n", f"[change]\n{ASKED}") + more)
    bands.slow_force(bounds.answer(first, inexact.MOVING))
    again = bounds.answer(moved, inexact.MOVING)
    assert again.made.of_moves is not None
    monkeypatch.setattr(drawn, "draw", lambda bench, count: drawn._draw(bench, count, inexact.SEED))
    alone = bounds.answer(moved, inexact.MOVING)
    assert alone.made.of_moves is None
    assert again.bounds.next == alone.bounds.next and len(alone.bounds.next) > 3
    assert again.bounds.depends_on == alone.bounds.depends_on and again.bounds.of == alone.bounds.of
    one, other = bands.slow_force(again), bands.slow_force(alone)
    assert one is not None and other is not None and len(arrays(one[0])) == 4
    for state in (0, 1):
        mine, theirs = arrays(one[state]), arrays(other[state])
        assert all(np.array_equal(mine[name], theirs[name]) for name in theirs)
    assert not np.array_equal(one[0].middle, one[1].middle)


def test_a_row_that_is_the_one_of_the_move_before_is_not_told_again(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = np.random.default_rng(7)
    weights, rows = chance.random(400), {name: chance.normal(size=400) for name in "abc"}
    kept: dict[str, tuple[Any, Any]] = {}
    first = intervals.named(rows, weights, kept)
    moved = {**rows, "b": rows["b"] + 1.0, "c": np.full(400, np.nan)}
    told: list[int] = []
    each = intervals.each

    def counted(some: Any, of: Any = None) -> Any:
        told.append(len(some))
        return each(some, of)

    monkeypatch.setattr(intervals, "each", counted)
    again = intervals.named(moved, weights, kept)
    assert told == [2] and again["a"] == first["a"] and "c" not in again
    assert again == intervals.named(moved, weights) and again["b"].median > first["b"].median + 0.5
    assert intervals.named(rows, weights, kept) == first
