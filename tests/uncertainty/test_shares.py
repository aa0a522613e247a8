"""Variance shares against values that others published."""

from __future__ import annotations

import numpy as np
import pytest

from topout.uncertainty import draws
from topout.uncertainty.shares import variance_shares


def ishigami(count: int) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Ishigami and Homma 1990: sin a + 7 sin² b + 0.1 c⁴ sin a, each input uniform on −π…π."""
    names = ("a", "b", "c")
    a, b, c = (draws.uniform(draws.stream(11, name), -np.pi, np.pi, count) for name in names)
    return {"a": a, "b": b, "c": c}, np.sin(a) + 7.0 * np.sin(b) ** 2 + 0.1 * c**4 * np.sin(a)


# First-order shares in closed form, as Saltelli and others print them (Global Sensitivity Analysis, 2008): 0.3139, 0.4424, 0.
PUBLISHED = {"a": 0.3139, "b": 0.4424, "c": 0.0}


@pytest.mark.parametrize(("count", "within"), [(20_000, 0.015), (200_000, 0.006)])
def test_ishigami(count: int, within: float) -> None:
    inputs, answer = ishigami(count)
    assert variance_shares(inputs, answer) == pytest.approx(PUBLISHED, abs=within)


def test_weights_count() -> None:
    """The same function on a wider range, weighted down to the published one."""
    names = ("a", "b", "c")
    wide = {name: draws.uniform(draws.stream(12, name), -1.5 * np.pi, 1.5 * np.pi, 300_000) for name in names}
    inside = np.all([abs(each) <= np.pi for each in wide.values()], axis=0).astype(float)
    answer = np.sin(wide["a"]) + 7.0 * np.sin(wide["b"]) ** 2 + 0.1 * wide["c"] ** 4 * np.sin(wide["a"])
    assert variance_shares(wide, answer, inside) == pytest.approx(PUBLISHED, abs=0.012)


def test_what_brings_nothing_gets_nothing() -> None:
    x = draws.normal(draws.stream(1, "x"), 0, 1, 5000)
    noise = draws.normal(draws.stream(1, "noise"), 0, 1, 5000)
    shares = variance_shares({"x": x, "noise": noise, "fixed": np.full(5000, 3.0)}, 2.0 * x)
    assert shares["x"] == pytest.approx(1.0, abs=0.01)
    assert shares["noise"] < 0.02
    assert shares["fixed"] == 0.0
    assert variance_shares({"x": x}, np.full(5000, 1.0)) == {"x": 0.0}
