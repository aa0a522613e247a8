"""The bound of the benchmark counts what it says: 1,206 powers and 16.6 kB of results a plan."""

import numpy as np
import pytest

import bound


def test_work_of_the_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    assert bound.POWERS == 1206
    assert round(bound.VALUES * 8 / 1e3, 1) == 16.6
    done = []
    real = np.power

    def counted(base: np.ndarray, exponent: float, out: np.ndarray) -> None:
        done.append(base.size)
        real(base, exponent, out=out)

    monkeypatch.setattr(bound.np, "power", counted)
    held = bound.Bound(700)
    held.run()
    assert sum(done) == 1206 * 700
    assert np.array_equal(held.kept[:256], held.source) and held.kept.all()
    assert held.kept.shape == (700, bound.VALUES)
