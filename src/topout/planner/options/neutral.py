"""What keeps the stance with the wheels asked for: the fork length, and the nearest travel that exists."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import geometry, neutral
from topout.planner import design as designs
from topout.planner import inputs
from topout.planner.design import Changes, Design
from topout.planner.wanted import Neutral

_LENGTH_FOR: Final[Mapping[str, tuple[str, Any]]] = {
    "head-angle": ("head_angle_rad", neutral.length_for_head_angle_m),
    "trail": ("trail_m", neutral.length_for_trail_m),
    "bb-height": ("bb_height_m", neutral.length_for_bb_height_m),
}
_LEAST_M, _MOST_M = 0.02, 0.3  # travels that the bench file knows


def of_bench(bench: BenchFile, step_m: float, wanted: Mapping[str, float] | None = None) -> dict[str, Neutral]:
    """For head angle, trail and bottom bracket, each at full extension: the fork that keeps it with what is asked for.

    The wheels and the offset of `[change]` count, its travel and fork length don't: those are what is looked for. Travels
    come in steps from the one fitted, up to the chassis' limit; a shaft moves the length as much as the travel. With
    `wanted` those values are looked for instead of the ones that the bike has.

    bench [SI] (one) as read; step_m [m] (one) above 0; wanted [SI] (any) by name, or None → [m] (3) by name. Raises
    nothing. Source: physics.md 6; derived.
    """
    names = _LENGTH_FOR if wanted is None else wanted
    before = Design.of([bench])
    changes = Changes.of([bench])
    free = np.full(1, np.nan)
    changes = replace(changes, asked=replace(changes.asked, travel_m=free, fork_length_m=free))
    after = designs.changed(before, changes)
    both = inputs.pairs(before, after)
    if not both.framed.all():
        return {name: Neutral(None, None) for name in names}
    stands = replace(both.fitted, rear_sag_m=np.zeros_like(both.fitted.rear_sag_m))
    one, two = stands.take(0), stands.take(1)
    chart = both.chart.take(0)
    was = geometry.stance(geometry.axle_frame(chart, one), np.zeros(1))
    result = {}
    for name in names:
        kept, length_for = _LENGTH_FOR[name]
        value = was[kept] if wanted is None else np.array([wanted[name]])
        length_m = float(length_for(both.chart.take(1), two, value)[0])
        result[name] = Neutral(_known(length_m), _nearest(bench, length_m - float(two.fork_length_m[0]), step_m))
    return result


def _nearest(bench: BenchFile, longer_m: float, step_m: float) -> float | None:
    """The travel in whole steps from the one fitted that is nearest to so much longer, inside what the chassis allows."""
    fork = bench.fork
    if fork is None or fork.travel_m is None or math.isnan(longer_m):
        return None
    most_m = min(_MOST_M, fork.travel_limit_m if fork.travel_limit_m is not None else _MOST_M)
    least = math.ceil((_LEAST_M - fork.travel_m) / step_m - 1e-9)
    most = math.floor((most_m - fork.travel_m) / step_m + 1e-9)
    steps = min(max(round(longer_m / step_m), least), max(most, least))
    return round(fork.travel_m + steps * step_m, 9)


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value
