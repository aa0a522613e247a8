"""The bike that is asked about: one, or as many draws of it as fit what is known, each as likely as the others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.bench_file import checks
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics.gas import Floats
from topout.planner import bounds, drawn, inexact, load, rear
from topout.planner.design import Changes, Design
from topout.planner.drawn import Drawn
from topout.planner.far_in import Gauge
from topout.planner.options.ends import FRONT, Ends

EXACT: Final = Gauge(np.zeros(1), np.zeros(1))
PICKED_FROM: Final = 10  # draws for each that is picked by its weight


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """D bikes that may be the one asked about, their loads and the gauge as each has it; one bike where all is known.

    The rear wheel of `design` stands where it rests behind a shock. `forked` says whether the fork's spring and load are known:
    without them the stance is that of a fork at full extension, before and after alike.
    """

    bench: BenchFile
    design: Design
    changes: Changes  # what the file asks for, as each draw has it
    loads: load.Loads
    gauge: Gauge
    assumed: tuple[str, ...]  # the keys that were drawn from usual ranges
    stands_for: BenchFile  # the same, what was drawn by its median
    made: Drawn | None  # the draws that these were picked from, where something was drawn
    forked: bool

    def __len__(self) -> int:
        return len(self.design)

    @property
    def uncertain(self) -> bool:
        """Whether anything was drawn.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.made is not None


def of_bench(bench: BenchFile, draws: int, ends: Ends = FRONT) -> World:
    """The bike, or so many draws of it, of equal weight: each stands as often as its weight says.

    bench [SI] (one) as read; draws [1] (one) 1 and more; ends [-] (one) what is looked at → [SI] (draws,) or (1,). Raises
    FaultsFound where the spring or the load of such an end lacks a key, or the sag found can't be. Source: physics.md 12;
    Kitagawa 1996 for the picking.
    """
    in_front = (
        inexact.lacking(bench, checks.missing(bench, *checks.needs_of_sag(bench))) if bench.fork is not None else []
    )
    lacking = [*in_front] if ends.front else []
    if ends.front and bench.fork is None:
        lacking += checks.missing(bench, *checks.NEEDS["sag"])
    if ends.rear:
        lacking += inexact.lacking(bench, _lacking_behind(bench))
    if lacking:
        raise FaultsFound(list(dict.fromkeys(lacking)))
    forked = bench.fork is not None and not in_front
    if not inexact.is_drawn(bench):
        design = Design.of([bench])
        loads = load.loads(design)
        load.of_one(bench, loads)  # says where the sag found can't be
        return World(
            bench, rear.stood(design, loads.behind_n), Changes.of([bench]), loads, EXACT, (), bench, None, forked
        )
    made = drawn.draw(bench, PICKED_FROM * draws)
    below = np.cumsum(made.weights) / np.sum(made.weights)
    picked = np.minimum(np.searchsorted(below, (np.arange(draws) + 0.5) / draws), below.size - 1)
    loads = made.loads.take(picked)
    return World(
        bench,
        rear.stood(made.design.take(picked), loads.behind_n),
        made.changes.take(picked),
        loads,
        made.gauge.take(picked),
        made.assumed,
        bounds.stands_for(bench, made),
        made,
        forked,
    )


def _lacking_behind(bench: BenchFile) -> Iterator[Fault]:
    """The keys without which nobody knows what the rear wheel has of the shock, and where it rests."""
    yield from checks.missing(bench, *checks.needs_behind(bench))
    yield from checks.unlevered(bench)
    if bench.shock is not None and bench.shock.sag_m is None:
        yield from checks.missing(bench, "rider", "bike")
        if bench.bike is not None and bench.bike.unsprung_rear_kg is None:
            yield checks.lacks(("bike", "unsprung_rear"), "to know the load on the rear wheel")
    yield from checks.missing(bench, "frame?")


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
