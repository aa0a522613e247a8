"""A bench file parsed once into what is whole: a spring, a stance, or what is missing for it. Nothing here is half there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import Air, BenchFile, Fork
from topout.physics import geometry
from topout.physics.air_spring import Chambers
from topout.physics.geometry import AxleFrame
from topout.planner import inputs, missing
from topout.planner.inputs import Bikes


@dataclass(frozen=True, slots=True)
class Missing:
    """The keys without which there is none, as a person finds them: "[fork.air] bore"."""

    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Spring:
    """A fork whose spring is described whole, its travel ending where a coil binds; `bikes` is the same bike as columns of shape (1,)."""

    fork: Fork
    air: Air | None  # None on a coil
    travel_m: float
    pressure_gauge_pa: float
    bikes: Bikes

    @property
    def chambers(self) -> Chambers:
        """What is fitted, arrays of shape (1,).

        nothing → [SI] (1,). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.bikes.chambers


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """A bike whose frame is described whole, with the rear wheel at sag and at full extension, arrays of shape (1,)."""

    at_sag: AxleFrame
    unloaded: AxleFrame


SpringOrMissing: TypeAlias = Spring | Missing
StandingOrMissing: TypeAlias = Standing | Missing


def spring(bench: BenchFile, bikes: Bikes | None = None) -> SpringOrMissing:
    """The bike's air spring, or the keys that it lacks. `bikes` is the same bike as columns, where they are at hand.

    bench [SI] (one) as read; bikes [SI] (1,) the same bike, or None → [SI] (one) or the keys that lack. Raises nothing.
    Source: bench-file.md.
    """
    fork = bench.fork or Fork()
    lacks = missing.for_spring(bench)
    gauge_pa = 0.0 if calls_for.on_coil(bench) else (fork.air or Air()).pressure_gauge_pa
    if lacks or fork.travel_m is None or gauge_pa is None:
        return Missing(tuple(lacks))
    of = bikes or inputs.bikes_of([bench])
    return Spring(fork, fork.air, float(of.chambers.travel_m[0]), gauge_pa, of)


def standing(bench: BenchFile, bikes: Bikes | None = None) -> StandingOrMissing:
    """How the bike stands, or the keys that its frame lacks. `bikes` as for `spring`.

    bench [SI] (one) as read; bikes [SI] (1,) the same bike, or None → [SI] (1,) or the keys that lack. Raises nothing.
    Source: physics.md 6.
    """
    if lacks := missing.for_stance(bench):
        return Missing(tuple(lacks))
    of = bikes or inputs.bikes_of([bench])
    unloaded = replace(of.fitted, rear_sag_m=np.zeros(1))
    return Standing(geometry.axle_frame(of.chart, of.fitted), geometry.axle_frame(of.chart, unloaded))
