"""What may be fitted to a rear shock: stroke reducers, volume spacers, coils and how far they are wound up."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from topout.bench_file.model import BenchFile, Change, ShockChange
from topout.bench_file.parts import StrokeReducer
from topout.planner.options.choice import (
    SAME_M,
    Choice,
    Fitting,
    cheapest,
    coil_choices,
    had,
    spacer_choices,
)  # fmt: skip

MOST_REDUCERS: Final = 3
LEAST_STROKE_M: Final = 0.020  # of the bench file
PRELOADS_M: Final = (0.001, 0.002, 0.003)  # one to two turns hold a coil (trade.md 4); more is no way to mend a sag


def _asked(bench: BenchFile) -> ShockChange:
    return (bench.change or Change()).shock or ShockChange()


def strokes(bench: BenchFile, fitting: Fitting, looked: bool) -> Iterator[Choice]:
    """The stroke asked for, or the one fitted and what every reducer of the shelf leaves of it.

    bench [SI] (one) as read; fitting [SI] (any) parts of the shelf; looked [-] (one) whether the rear is → [m] (any) choices.
    Raises nothing. Source: bench-file.md.
    """
    shock, asked_m = bench.shock, _asked(bench).stroke_m
    if shock is None or shock.stroke_m is None:
        yield Choice(math.nan)
        return
    fitted_m = shock.stroke_m
    reduced = []
    for number, part in fitting:
        for count in range(1, MOST_REDUCERS + 1):
            taken = had(number, part, count)
            if isinstance(part, StrokeReducer) and part.gives_m is not None and taken is not None:
                left_m = fitted_m - count * part.gives_m
                if left_m >= LEAST_STROKE_M:
                    reduced.append(Choice(left_m, *taken))
    reduced = list(cheapest(reduced))
    if asked_m is not None:
        same = [each for each in reduced if abs(each.value - asked_m) <= SAME_M]
        yield from same or [Choice(asked_m, lacks="reducer" if fitted_m - asked_m > SAME_M else "")]
        return
    yield Choice(fitted_m)
    if looked:  # a shorter one that nobody asks for, and nothing lies there for, is no answer: it costs travel
        yield from reduced


def spacers(bench: BenchFile, fitting: Fitting, looked: bool) -> Iterator[Choice]:
    """How many spacers are in the can: those asked for, or none to as many as may be.

    bench [SI] (one) as read; fitting [SI] (any) parts of the shelf; looked [-] (one) whether the rear is → [1] (any) choices.
    Raises nothing. Source: common practice, no source.
    """
    shock, asked = bench.shock, _asked(bench)
    air = shock.air if shock is not None else None
    if shock is None or air is None or not (looked or asked.spacers is not None):
        yield Choice(math.nan)
        return
    volume_m3 = asked.spacer_volume_m3 or air.spacer_volume_m3
    if volume_m3 is None and shock.body_m is not None and air.spacers:
        volume_m3 = math.nan  # of those fitted: drawn
    yield from spacer_choices(air, asked.spacers, volume_m3, air.spacer_limit, fitting, "shock-spacer")


def springs(bench: BenchFile, fitting: Fitting) -> Iterator[Choice]:
    """The shock's coil as fitted or asked for, and every other of the shelf.

    bench [SI] (one) as read; fitting [SI] (any) parts of the shelf → [N/m] (any) choices. Raises nothing. Source: common
    practice, no source.
    """
    coil = bench.shock.coil if bench.shock is not None else None
    yield from coil_choices(coil, _asked(bench).rate_n_per_m is not None, fitting)


def preloads(bench: BenchFile, looked: bool) -> Iterator[Choice]:
    """How far the shock's coil is wound up: as asked for or as it is, and what one or two turns are.

    bench [SI] (one) as read; looked [-] (one) whether the rear is → [m] (any) choices. Raises nothing. Source: common
    practice, no source.
    """
    coil = bench.shock.coil if bench.shock is not None else None
    yield Choice(math.nan)
    if coil is None or not looked or _asked(bench).preload_m is not None:
        return
    yield from (Choice(each) for each in PRELOADS_M if abs(each - coil.preload_m) > 0.5e-3)
