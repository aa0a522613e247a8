"""(e), the bound of the speed study: what numpy itself needs at the least for one plan, measured beside the core.

1,206 powers (three chambers, 201 points, before and after) at numpy's own speed on data in cache, plus writing 16.6 kB of
results (2,010 curve values and 60 scalars) to memory that has been touched before.
"""

from __future__ import annotations

import numpy as np

POWERS = 3 * 201 * 2
VALUES = 5 * 201 * 2 + 60  # 2,070 doubles, 16.6 kB
BLOCK = 256  # plans whose results are written at a time


class Bound:
    """Buffers for ``n`` plans, touched once."""

    def __init__(self, n: int) -> None:
        rng = np.random.default_rng(1976)
        self.n = n
        self.base = rng.uniform(0.3, 3.0, 201 * 24)  # 38.6 kB with its result 77 kB: in cache
        self.result = np.empty_like(self.base)
        self.source = rng.uniform(size=(min(BLOCK, n), VALUES))
        # A million plans go through one reused buffer, as the core's curves do.
        self.kept = np.zeros((min(n, 10_000), VALUES))

    def powers(self) -> None:
        """All the powers of n plans."""
        left = POWERS * self.n
        while left > 0:
            count = min(left, self.base.size)
            np.power(self.base[:count], 1.3, out=self.result[:count])
            left -= count

    def writes(self) -> None:
        """All the results of n plans written."""
        for start in range(0, self.n, BLOCK):
            first = start % len(self.kept)
            block = self.kept[first : first + min(BLOCK, self.n - start)]
            block[...] = self.source[: len(block)]

    def run(self) -> None:
        self.powers()
        self.writes()
