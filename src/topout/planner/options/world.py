"""The bike that is asked about: one, or as many draws of it as fit what is known, each as likely as the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.bench_file import checks
from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.physics.gas import Floats
from topout.planner import bounds, drawn, load, typical
from topout.planner.design import Changes, Design
from topout.planner.far_in import Gauge

EXACT: Final = Gauge(np.zeros(1), np.zeros(1))
PICKED_FROM: Final = 10  # draws for each that is picked by its weight


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """D bikes that may be the one asked about, their loads and the gauge as each has it; one bike where all is known."""

    bench: BenchFile
    design: Design
    changes: Changes  # what the file asks for, as each draw has it
    loads: load.Loads
    gauge: Gauge
    assumed: tuple[str, ...]  # the keys that were drawn from usual ranges
    uncertain: bool
    stands_for: BenchFile  # the same, what was drawn by its median

    def __len__(self) -> int:
        return len(self.design)


def of_bench(bench: BenchFile, draws: int) -> World:
    """The bike, or so many draws of it, of equal weight: each stands as often as its weight says.

    bench [SI] (one) as read; draws [1] (one) 1 and more → [SI] (draws,) or (1,). Raises FaultsFound where spring or load
    lacks a key, or the sag found can't be. Source: physics.md 12; Kitagawa 1996 for the picking.
    """
    uncertain = drawn.is_drawn(bench)
    lacking = [
        fault
        for fault in checks.missing(bench, *checks.needs_of_sag(bench))
        if not (uncertain and _is_drawn(fault.key))
    ]
    if lacking:
        raise FaultsFound(lacking)
    if not uncertain:
        design = Design.of([bench])
        loads = load.loads(design)
        load.of_one(bench, loads)  # says where the sag found can't be
        return World(bench, design, Changes.of([bench]), loads, EXACT, (), False, bench)
    made = drawn.draw(bench, PICKED_FROM * draws)
    below = np.cumsum(made.weights) / np.sum(made.weights)
    picked = np.minimum(np.searchsorted(below, (np.arange(draws) + 0.5) / draws), below.size - 1)
    gauge = made.gauge.take(picked)
    return World(
        bench,
        made.design.take(picked),
        made.changes.take(picked),
        made.loads.take(picked),
        gauge,
        made.assumed,
        True,
        bounds.stands_for(bench, made),
    )


def _is_drawn(key: str) -> bool:
    return any(key.startswith(each) for each in (*typical.MAY_BE_LEFT_OUT, "rider.front_share"))


def middle(values: Floats) -> Floats:
    """The median of the draws that give a value, along the last axis; NaN where more than one in twenty gives none.

    values [SI] (…, D) NaN where a draw gives none → [SI] (…). Raises nothing. Source: JCGM 101:2008 7.5.
    """
    if values.shape[-1] == 1:
        return values[..., 0]
    known = np.isfinite(values).sum(axis=-1)
    ordered = np.sort(values, axis=-1)  # what is not known comes last
    low, high = np.maximum(known - 1, 0) // 2, np.maximum(known // 2, 0)
    high = np.minimum(high, values.shape[-1] - 1)
    both = (np.take_along_axis(ordered, k[..., None], axis=-1)[..., 0] for k in (low, high))
    half: Floats = 0.5 * sum(both, np.zeros(known.shape))
    return np.where(known >= 0.95 * values.shape[-1], half, np.nan)
