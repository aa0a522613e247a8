"""The ways to build, by number: each number is one choice of every dimension; their changes as columns.

Nothing is kept for a way but its number, so that a million of them take no more room than a chunk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile, Change, Fork, Wheel
from topout.physics.gas import Floats
from topout.planner.design import Changes
from topout.planner.options.choices import Choice, Choices

Numbers = np.ndarray[Any, np.dtype[np.int64]]
_WHEELS: Final = ("front_wheel", "rear_wheel")
DIMENSIONS: Final = 6


@dataclass(frozen=True, slots=True)
class Ways:
    """All ways to build a bike that a question leaves: what is asked for, and the choices beside it."""

    bench: BenchFile
    choices: Choices

    def __len__(self) -> int:
        return math.prod(self.choices.shape)

    def chosen(self, number: int) -> tuple[Choice, ...]:
        """The choices of one way, in the order of the dimensions.

        number [1] (one) 0 to the count of ways → [SI] (6) choices. Raises nothing. Source: none needed, bookkeeping.
        """
        index = np.unravel_index(number, self.choices.shape)
        return tuple(of[int(k)] for of, k in zip(self.choices.dimensions, index, strict=True))

    def column(self, numbers: Numbers, dimension: int, attribute: str) -> Floats:
        """One attribute of the choices that ways make in one dimension.

        numbers [1] (n,) of ways; dimension [1] (one) 0 to 5; attribute [-] (one) a word → [SI] (n,). Raises nothing.
        Source: none needed, bookkeeping.
        """
        values = np.array([getattr(each, attribute) for each in self.choices.dimensions[dimension]], dtype=float)
        result: Floats = values[np.unravel_index(numbers, self.choices.shape)[dimension]]
        return result

    def cost(self, numbers: Numbers) -> Floats:
        """What the parts of ways cost, infinite where that is not known.

        numbers [1] (n,) of ways → [1] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        result: Floats = sum((self.column(numbers, k, "cost") for k in range(DIMENSIONS)), np.zeros(numbers.shape))
        return result

    def days(self, numbers: Numbers) -> Floats:
        """How long ways wait for their parts, infinite where that is not known.

        numbers [1] (n,) of ways → [1] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        result: Floats = np.max([self.column(numbers, k, "days") for k in range(DIMENSIONS)], axis=0)
        return result

    def changes(self, numbers: Numbers, asked_for: Changes) -> Changes:
        """The changes of ways as columns, each way on every draw of what is asked for; the pressure stays as asked for or fitted.

        numbers [1] (n,) of ways; asked_for [SI] (D,) the file's own change → [SI] (n·D,) way by way. Raises nothing. Source:
        none needed, bookkeeping.
        """
        draws = asked_for.asked.travel_m.size
        one = asked_for.take(np.tile(np.arange(draws), numbers.size))
        rows = np.repeat(numbers, draws)
        asked, fork, was = one.asked, self.bench.fork or Fork(), self.bench.change or Change()
        travel_m, spacers, offset_m = (self.column(rows, dimension, "value") for dimension in range(3))
        # What is fitted, or asked for, is no choice: it stays as uncertain as it is.
        chosen = (travel_m != fork.travel_m) & (travel_m != was.travel_m)
        base_m = _base_travel_m(self.bench)
        named = {
            "travel_m": np.where(chosen, travel_m, asked.travel_m),
            "spacers": spacers if fork.air is not None else asked.spacers,
            "offset_m": np.where(np.isnan(offset_m), asked.offset_m, offset_m),
            # a fork length that is asked for is that of the travel asked for; a shaft moves both
            "fork_length_m": asked.fork_length_m + np.where(chosen, travel_m - base_m, 0.0),
        }
        volume_m3 = self.column(rows, 1, "volume_m3")
        air = replace(
            one.air,
            spacers=np.full(rows.size, np.nan),
            spacer_volume_m3=np.where(np.isnan(volume_m3), one.air.spacer_volume_m3, volume_m3),
        )
        wheels = {}
        for dimension, name in ((3, "front_wheel"), (4, "rear_wheel")):
            height_m, wheel = self.column(rows, dimension, "value"), getattr(one, name)
            wheels[name] = replace(wheel, tyre_height_m=np.where(np.isnan(height_m), wheel.tyre_height_m, height_m))
        rate = self.column(rows, 5, "value")
        coil = replace(one.coil, rate_n_per_m=np.where(np.isnan(rate), one.coil.rate_n_per_m, rate))
        return replace(one, asked=replace(asked, **named), air=air, coil=coil, **wheels)

    def change(self, number: int, pressure_gauge_pa: float | None) -> Change:
        """One way as the `[change]` of a bench file, with the pressure to set.

        number [1] (one) of a way; pressure_gauge_pa [Pa gauge] (one) or None → [SI] (one). Raises nothing. Source: none
        needed, bookkeeping.
        """
        travel, spacers, offset, front, rear, spring = self.chosen(number)
        was, fork = self.bench.change or Change(), self.bench.fork or Fork()
        named = {k: v for k, v in (was.air or {}).items() if k not in ("spacers", "pressure_gauge_pa")}
        if not math.isnan(spacers.volume_m3):
            named["spacer_volume_m3"] = spacers.volume_m3
        length_m = was.fork_length_m
        if length_m is not None:
            length_m += travel.value - _base_travel_m(self.bench)
        wheels: dict[str, Any] = {}
        for name, tyre in zip(_WHEELS, (front, rear), strict=True):
            wheel = getattr(was, name)
            wheels[name] = wheel if math.isnan(tyre.value) else replace(wheel or Wheel(), tyre_height_m=tyre.value)
        return replace(
            was,
            travel_m=travel.value if was.travel_m is not None or travel.value != fork.travel_m else None,
            spacers=int(spacers.value) if fork.air and self._counts(int(spacers.value)) else was.spacers,
            pressure_gauge_pa=pressure_gauge_pa,
            offset_m=was.offset_m if math.isnan(offset.value) else offset.value,
            fork_length_m=length_m,
            air=named or None,
            coil=was.coil if math.isnan(spring.value) else {"rate_n_per_m": spring.value},
            **wheels,
        )

    def _counts(self, spacers: int) -> bool:
        """Whether a count of spacers is a change, or was asked for."""
        was, air = self.bench.change or Change(), (self.bench.fork or Fork()).air
        asked = was.spacers is not None or "spacers" in (was.air or {})
        return asked or air is None or spacers != air.spacers


def _base_travel_m(bench: BenchFile) -> float:
    """The travel that a fork length asked for belongs to."""
    asked, fork = bench.change or Change(), bench.fork or Fork()
    travel_m = asked.travel_m if asked.travel_m is not None else fork.travel_m
    return math.nan if travel_m is None else travel_m
