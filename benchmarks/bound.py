"""(w), what nothing can be faster than that keeps its results: writing them, measured beside the core.

A plan with its curves is 16.6 kB (2,010 curve values and 60 scalars), one without 0.5 kB, written to memory that has been touched
before. The old bound (e) counted 1,206 powers that the core no longer takes.
"""

from __future__ import annotations

import numpy as np

CURVES = 5 * 201 * 2 + 60  # 2,070 doubles, 16.6 kB
SCALARS = 60
BLOCK = 256  # plans whose results are written at a time


class Writing:
    """Buffers for the results of ``n`` plans of so many values, touched once."""

    def __init__(self, n: int, values: int) -> None:
        rng = np.random.default_rng(1976)
        self.n = n
        self.source = rng.uniform(size=(min(BLOCK, n), values))
        # A million plans go through one reused buffer, as the core's curves do.
        self.kept = np.zeros((min(n, 10_000), values))

    def run(self) -> None:
        """All the results of n plans written."""
        for start in range(0, self.n, BLOCK):
            first = start % len(self.kept)
            block = self.kept[first : first + min(BLOCK, self.n - start)]
            block[...] = self.source[: len(block)]
