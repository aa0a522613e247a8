"""Nodes and weights of Gauss–Legendre quadrature, without a library: importing numpy's own takes longer than a plan."""

from __future__ import annotations

from functools import cache

import numpy as np

from topout.physics.gas import Floats


@cache
def gauss_legendre(count: int) -> tuple[Floats, Floats]:
    """Nodes and weights on 0 … 1, exact for polynomials up to degree 2·count − 1.

    count [1] (one) 2 and more → [1] (count,) nodes, weights that sum to 1. Raises nothing. Source: Golub and Welsch, Math.
    Comp. 23, 1969, from the Jacobi matrix; checked against NumPy's own.
    """
    k = np.arange(1.0, count)
    beside = k / np.sqrt(4.0 * k * k - 1.0)
    x, vectors = np.linalg.eigh(np.diag(beside, 1) + np.diag(beside, -1))
    return 0.5 * (x + 1.0), vectors[0] ** 2
