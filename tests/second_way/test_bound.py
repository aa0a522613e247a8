"""The bound of the benchmark writes what it says: 16.6 kB of results a plan with its curves, 0.5 kB without."""

import numpy as np
import pytest

import bound


@pytest.mark.parametrize(("values", "kilobytes"), [(bound.CURVES, 16.6), (bound.SCALARS, 0.5)])
def test_work_of_the_bound(values: int, kilobytes: float) -> None:
    assert round(values * 8 / 1e3, 1) == kilobytes
    held = bound.Writing(700, values)
    assert not held.kept.any()
    held.run()
    assert np.array_equal(held.kept[:256], held.source) and np.array_equal(held.kept[512:], held.source[:188])
    assert held.kept.all() and held.kept.shape == (700, values)
