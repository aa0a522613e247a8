"""Random linkages as frames have them: tables of ratio or of stroke, some falling, some rising in places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topout.physics.gas import Floats


@dataclass(frozen=True)
class Table:
    """One table: wheel travels [m] from 0, ratios [1] or strokes [m] there."""

    travel_m: Floats
    value: Floats
    of_stroke: bool


def tables(count: int, seed: int = 20261129) -> list[Table]:
    """That many tables, of 2 to 12 points, 100 to 220 mm of wheel travel, ratios from 1.8 to 3.6."""
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(count):
        points = int(rng.integers(2, 13))
        end = rng.uniform(0.10, 0.22)
        travel = np.linspace(0.0, end, points)
        if points > 2:
            travel[1:-1] += rng.uniform(-0.35, 0.35, points - 2) * end / (points - 1)
        first, progression = rng.uniform(2.3, 3.6), rng.uniform(-0.05, 0.35)
        ratio = first * (1.0 - progression * (travel / end) ** rng.uniform(0.7, 2.0)) + rng.normal(0, 0.02, points)
        if rng.random() < 0.5:
            made.append(Table(travel, ratio, False))
        else:  # strokes by the trapezoid of 1/r: a table that rises, whatever it was made from
            steps = np.diff(travel) * 0.5 * (1.0 / ratio[1:] + 1.0 / ratio[:-1])
            made.append(Table(travel, np.concatenate(([0.0], np.cumsum(steps))), True))
    return made


def padded(made: list[Table]) -> tuple[Floats, Floats, np.ndarray]:
    """The tables side by side, NaN after each one's last point."""
    width = max(len(table.travel_m) for table in made)
    travel, value = np.full((2, len(made), width), np.nan)
    for row, table in enumerate(made):
        travel[row, : len(table.travel_m)] = table.travel_m
        value[row, : len(table.value)] = table.value
    return travel, value, np.array([table.of_stroke for table in made])
