"""The ways to build, by number: each number is one choice of every dimension; their changes as columns.

Nothing is kept for a way but its number, so that a million of them take no more room than a chunk.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations, product
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile, Change, End, Fork, Shock, ShockChange, Wheel
from topout.bench_file.parts import VolumeSpacer
from topout.physics.gas import Bools, Floats
from topout.planner.columns import ShockAsked, first_known
from topout.planner.design import Changes
from topout.planner.options.choice import Choice
from topout.planner.options.choices import Choices

Numbers = np.ndarray[Any, np.dtype[np.int64]]
_WHEELS: Final = ("front_wheel", "rear_wheel")
TRAVEL, SPACERS, OFFSET, FRONT_TYRE, REAR_TYRE, SPRING, STROKE, SHOCK_SPACERS, SHOCK_SPRING, PRELOAD = range(10)
FORK_PRELOAD, NEGATIVE = 10, 11
DIMENSIONS: Final = 12


def _taken_m3(choice: Choice) -> Iterator[float]:
    """What each volume spacer takes that a choice has from the shelf."""
    for used in choice.used:
        if isinstance(used.part, VolumeSpacer) and used.part.gives_m3 is not None:
            yield used.part.gives_m3


@dataclass(frozen=True, slots=True)
class Ways:
    """All ways to build a bike that a question leaves: what is asked for, and the choices beside it."""

    bench: BenchFile
    choices: Choices
    _shared: list[tuple[int, int, Bools, Floats]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_shared", list(_shared(self.choices)))

    def __len__(self) -> int:
        return math.prod(self.choices.shape)

    def chosen(self, number: int) -> tuple[Choice, ...]:
        """The choices of one way, in the order of the dimensions.

        number [1] (one) 0 to the count of ways → [SI] (12) choices. Raises nothing. Source: none needed, bookkeeping.
        """
        index = np.unravel_index(number, self.choices.shape)
        return tuple(of[int(k)] for of, k in zip(self.choices.dimensions, index, strict=True))

    def spacers_m3(self, number: int) -> dict[End, float]:
        """What each of the volume spacers takes that one way puts in, at the ends for which several kinds lie there.

        number [1] (one) 0 to the count of ways → [m³] (2) at most, by end. Raises nothing. Source: none needed, bookkeeping.
        """
        chosen = self.chosen(number)
        found: dict[End, float] = {}
        ends: tuple[tuple[End, int], ...] = (("front", SPACERS), ("rear", SHOCK_SPACERS))
        for end, dimension in ends:
            kinds = {volume_m3 for each in self.choices.dimensions[dimension] for volume_m3 in _taken_m3(each)}
            if len(kinds) > 1:
                found.update((end, volume_m3) for volume_m3 in _taken_m3(chosen[dimension]))
        return found

    def column(self, numbers: Numbers, dimension: int, attribute: str) -> Floats:
        """One attribute of the choices that ways make in one dimension.

        numbers [1] (n,) of ways; dimension [1] (one) 0 to 11; attribute [-] (one) a word → [SI] (n,). Raises nothing.
        Source: none needed, bookkeeping.
        """
        choices = self.choices.dimensions[dimension]
        if len(choices) == 1:
            return np.full(numbers.shape, float(getattr(choices[0], attribute)))
        values = np.array([getattr(each, attribute) for each in choices], dtype=float)
        result: Floats = values[self._place(numbers, dimension)]
        return result

    def _place(self, numbers: Numbers, dimension: int) -> Any:
        """Which choice of a dimension each way makes."""
        shape = self.choices.shape
        return numbers // math.prod(shape[dimension + 1 :]) % shape[dimension]

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
        result = self.column(numbers, 0, "days")
        for k in range(1, DIMENSIONS):
            result = np.maximum(result, self.column(numbers, k, "days"))
        for one, other, _, days in self._shared:
            result = np.maximum(result, self._of_both(numbers, one, other, days))
        return result

    def stroke_given_up_m(self, numbers: Numbers) -> Floats:
        """How much stroke ways give up that nobody asked to give up [m].

        numbers [1] (n,) of ways → [m] (n,) 0 and more. Raises nothing. Source: none needed, bookkeeping.
        """
        asked = (self.bench.change or Change()).shock
        shock = self.bench.shock
        if shock is None or shock.stroke_m is None or (asked is not None and asked.stroke_m is not None):
            return np.zeros(numbers.shape)
        left_m: Floats = first_known(self.column(numbers, STROKE, "value"), shock.stroke_m)
        return shock.stroke_m - left_m

    def too_few(self, numbers: Numbers) -> Bools:
        """Which ways take one part of the shelf in two places, of which so many are neither there nor to be had.

        numbers [1] (n,) of ways → [-] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        result = np.zeros(numbers.shape, dtype=bool)
        for one, other, none, _ in self._shared:
            result |= self._of_both(numbers, one, other, none)
        return result

    def _of_both(self, numbers: Numbers, one: int, other: int, table: Any) -> Any:
        return table[self._place(numbers, one), self._place(numbers, other)]

    def changes(self, numbers: Numbers, asked_for: Changes) -> Changes:
        """The changes of ways as columns, each way on every draw of what is asked for; the pressure stays as asked for or fitted.

        numbers [1] (n,) of ways; asked_for [SI] (D,) the file's own change → [SI] (n·D,) way by way. Raises nothing. Source:
        none needed, bookkeeping.
        """
        draws = asked_for.asked.travel_m.size
        one = asked_for.take(np.tile(np.arange(draws), numbers.size))
        rows = np.repeat(numbers, draws)
        asked, fork, was = one.asked, self.bench.fork or Fork(), self.bench.change or Change()
        travel_m, spacers, offset_m = (self.column(rows, dimension, "value") for dimension in (TRAVEL, SPACERS, OFFSET))
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
        volume_m3 = self.column(rows, SPACERS, "volume_m3")
        air = replace(
            one.air,
            spacers=np.full(rows.size, np.nan),
            spacer_volume_m3=np.where(np.isnan(volume_m3), one.air.spacer_volume_m3, volume_m3),
            negative_pressure_gauge_pa=first_known(
                self.column(rows, NEGATIVE, "value"), one.air.negative_pressure_gauge_pa
            ),
        )
        wheels = {}
        for dimension, name in ((FRONT_TYRE, "front_wheel"), (REAR_TYRE, "rear_wheel")):
            height_m, wheel = self.column(rows, dimension, "value"), getattr(one, name)
            wheels[name] = replace(wheel, tyre_height_m=np.where(np.isnan(height_m), wheel.tyre_height_m, height_m))
        rate, bind_m = self.column(rows, SPRING, "value"), self.column(rows, SPRING, "bind_m")
        preload_m = first_known(self.column(rows, FORK_PRELOAD, "value"), one.coil.preload_m)
        wound_m = first_known(preload_m, fork.coil.preload_m if fork.coil is not None else 0.0)
        coil = replace(
            one.coil,
            rate_n_per_m=np.where(np.isnan(rate), one.coil.rate_n_per_m, rate),
            preload_m=preload_m,
            bind_m=first_known(bind_m - wound_m, one.coil.bind_m),
        )
        return replace(one, asked=replace(asked, **named), air=air, coil=coil, shock=self._behind(one, rows), **wheels)

    def _behind(self, one: Changes, rows: Numbers) -> ShockAsked:
        """What the ways ask of the shock; what is fitted, or asked for, stays as uncertain as it is."""
        asked, shock = one.shock, self.bench.shock
        if shock is None:
            return asked
        was = (self.bench.change or Change()).shock or ShockChange()
        stroke_m, rate = self.column(rows, STROKE, "value"), self.column(rows, SHOCK_SPRING, "value")
        chosen = (stroke_m != shock.stroke_m) & (stroke_m != was.stroke_m)
        preload_m = first_known(self.column(rows, PRELOAD, "value"), asked.preload_m)
        wound_m = first_known(preload_m, shock.coil.preload_m if shock.coil is not None else 0.0)
        return replace(
            asked,
            stroke_m=np.where(chosen, stroke_m, asked.stroke_m),
            spacers=first_known(self.column(rows, SHOCK_SPACERS, "value"), asked.spacers),
            spacer_volume_m3=first_known(self.column(rows, SHOCK_SPACERS, "volume_m3"), asked.spacer_volume_m3),
            rate_n_per_m=first_known(rate, asked.rate_n_per_m),
            preload_m=preload_m,
            bind_m=first_known(self.column(rows, SHOCK_SPRING, "bind_m") - wound_m, asked.bind_m),
        )

    def change(self, number: int, pressure_gauge_pa: float | None, rear_gauge_pa: float | None = None) -> Change:
        """One way as the `[change]` of a bench file, with the pressures to set.

        number [1] (one) of a way; pressure_gauge_pa, rear_gauge_pa [Pa gauge] (one) of fork and shock, or None → [SI] (one).
        Raises nothing. Source: none needed, bookkeeping.
        """
        travel, spacers, offset, front, rear, spring, *behind, wound, negative = self.chosen(number)
        was, fork = self.bench.change or Change(), self.bench.fork or Fork()
        named = {k: v for k, v in (was.air or {}).items() if k not in ("spacers", "pressure_gauge_pa")}
        if not math.isnan(spacers.volume_m3):
            named["spacer_volume_m3"] = spacers.volume_m3
        if not math.isnan(negative.value):
            named["negative_pressure_gauge_pa"] = negative.value
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
            coil=self._coil(was.coil, spring, wound),
            shock=self._shock_change(behind, rear_gauge_pa),
            **wheels,
        )

    def _coil(self, was: dict[str, Any] | None, spring: Choice, wound: Choice) -> dict[str, Any] | None:
        """The fork's coil after a way, as `[change.coil]` names it; as asked for where the way has none of its own."""
        fork, named = self.bench.fork or Fork(), dict(was or {})
        if not math.isnan(wound.value):
            named["preload_m"] = wound.value
        if not math.isnan(spring.value):
            named["rate_n_per_m"] = spring.value
            if not math.isnan(spring.bind_m):
                fitted_m = fork.coil.preload_m if fork.coil is not None else 0.0
                named["bind_m"] = spring.bind_m - named.get("preload_m", fitted_m)
        return named or None

    def _shock_change(self, behind: list[Choice], gauge_pa: float | None) -> ShockChange | None:
        """What a way changes behind, as `[change.shock]`; None where that is nothing."""
        stroke, spacers, spring, preload = behind
        was, shock = (self.bench.change or Change()).shock or ShockChange(), self.bench.shock or Shock()
        wound_m = was.preload_m if math.isnan(preload.value) else preload.value
        held_m = wound_m if wound_m is not None else shock.coil.preload_m if shock.coil is not None else 0.0
        fitted = shock.air.spacers if shock.air is not None else 0
        told = replace(
            was,
            stroke_m=was.stroke_m if math.isnan(stroke.value) or stroke.value == shock.stroke_m else stroke.value,
            spacers=was.spacers if math.isnan(spacers.value) or spacers.value == fitted else int(spacers.value),
            spacer_volume_m3=was.spacer_volume_m3 if math.isnan(spacers.volume_m3) else spacers.volume_m3,
            pressure_gauge_pa=was.pressure_gauge_pa if gauge_pa is None else gauge_pa,
            rate_n_per_m=was.rate_n_per_m if math.isnan(spring.value) else spring.value,
            preload_m=wound_m,
            bind_m=was.bind_m if math.isnan(spring.bind_m) else spring.bind_m - held_m,
        )
        return None if told == ShockChange() else told

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


def _shared(choices: Choices) -> Iterator[tuple[int, int, Bools, Floats]]:
    """Dimensions in which one part of the shelf may be taken in both, and for each pair of choices whether there are too few
    of it, and how long more are waited for."""
    dimensions = choices.dimensions
    taken = [[{used.number: used for used in each.used} for each in of] for of in dimensions]
    for one, other in combinations(range(DIMENSIONS), 2):
        if not {n for each in taken[one] for n in each} & {n for each in taken[other] for n in each}:
            continue
        none = np.zeros((len(taken[one]), len(taken[other])), dtype=bool)
        days = np.zeros(none.shape)
        for (i, a), (j, b) in product(enumerate(taken[one]), enumerate(taken[other])):
            for number in a.keys() & b.keys():
                part = a[number].part
                if a[number].count + b[number].count > part.on_hand:
                    none[i, j] |= part.waiting_days is None
                    days[i, j] = max(days[i, j], float(part.waiting_days or 0))
        yield one, other, none, days
