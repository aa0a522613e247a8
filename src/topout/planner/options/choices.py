"""What may be fitted, dimension by dimension: the bike as it is, what is asked for, and the parts of the shelf that fit.

A part is left out only where something known speaks against it: another bore, another family, another bead seat, none
there and none to be had. What `[change]` names is no question any more: it is the one choice of its dimension.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from topout.bench_file.model import BenchFile, Change, Fork, Wheel
from topout.bench_file.parts import AirShaft, CoilSpring, Part, Tyre, VolumeSpacer

TRAVEL_STEP_M: Final = 0.010  # shafts come in such steps (trade practice, no source)
STEPS_EITHER_WAY: Final = 3
MORE_SPACERS: Final = 2  # tried beyond those fitted where the maker's limit is not known
SAME_BORE_M: Final = 0.0002  # what a caliper in a bore errs by
SAME_SEAT_M: Final = 0.0005
SAME_RATE: Final = 0.005  # of a coil's rate: no press tells less
SAME_M: Final = 0.0005  # of travels and tyre heights: as good as equal on a rule
MISFIT: Final = "part-does-not-fit"
NONE_THERE: Final = "part-not-on-hand"

Lacks = Literal["", "shaft", "spacer", "offset"]


@dataclass(frozen=True, slots=True)
class Used:
    """A part of the shelf in an option: its place in the shelf from 0, the part, how many, which wheel a tyre is for."""

    number: int
    part: Part
    count: int = 1
    end: Literal["", "front", "rear"] = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice of a dimension: its value in SI (NaN: as the change has it), the part, cost and days; inf for not known."""

    value: float
    used: tuple[Used, ...] = ()
    cost: float = 0.0
    days: float = 0.0
    lacks: Lacks = ""
    volume_m3: float = math.nan  # of one spacer, where others than those fitted are among them


@dataclass(frozen=True, slots=True)
class Choices:
    """Every dimension with its choices; the ways to build are their product."""

    travels: tuple[Choice, ...]
    spacers: tuple[Choice, ...]
    offsets: tuple[Choice, ...]
    front_tyres: tuple[Choice, ...]
    rear_tyres: tuple[Choice, ...]
    springs: tuple[Choice, ...]  # of a fork on a coil
    left_out: Counter[str]  # parts of the shelf, by why

    @property
    def shape(self) -> tuple[int, ...]:
        """How many choices each dimension has.

        nothing → [1] (6). Raises nothing. Source: none needed, bookkeeping.
        """
        return tuple(len(each) for each in self.dimensions)

    @property
    def dimensions(self) -> tuple[tuple[Choice, ...], ...]:
        """The dimensions in their one order.

        nothing → [SI] (6) choices each. Raises nothing. Source: none needed, bookkeeping.
        """
        return self.travels, self.spacers, self.offsets, self.front_tyres, self.rear_tyres, self.springs


def of_bench(
    bench: BenchFile, shelf: Sequence[Part], family: str | None = None, offsets_m: Iterable[float] = ()
) -> Choices:
    """The choices that a bike and a shelf leave.

    bench [SI] (one) as read, its fork's travel given; shelf [SI] (any) parts; family [-] (one) of the fork, or None;
    offsets_m [m] (any) further ones to try → [SI] (one). Raises nothing. Source: bench-file.md; common practice, no source.
    """
    left_out: Counter[str] = Counter()
    fitting = list(usable(bench, shelf, family, left_out))
    return Choices(
        travels=tuple(_travels(bench, fitting)),
        spacers=tuple(_spacers(bench, fitting)),
        offsets=tuple(_offsets(bench, offsets_m)),
        front_tyres=tuple(_tyres(bench, fitting, "front")),
        rear_tyres=tuple(_tyres(bench, fitting, "rear")),
        springs=tuple(_springs(bench, fitting)),
        left_out=left_out,
    )


def usable(
    bench: BenchFile, shelf: Sequence[Part], family: str | None, left_out: Counter[str] | None = None
) -> Iterator[tuple[int, Part]]:
    """The parts against which nothing known speaks, with their places; the others are counted by why.

    bench [SI] (one) as read; shelf [SI] (any) parts; family [-] (one) of the fork, or None; left_out [1] (any) counts by
    why, or None → [SI] (any) places and parts. Raises nothing. Source: common practice, no source.
    """
    left_out = Counter() if left_out is None else left_out
    for number, part in enumerate(shelf):
        if not _fits(bench, part, family):
            left_out[MISFIT] += 1
        elif part.on_hand == 0 and part.waiting_days is None:
            left_out[NONE_THERE] += 1
        else:
            yield number, part


def _fits(bench: BenchFile, part: Part, family: str | None) -> bool:
    fork = bench.fork or Fork()
    if isinstance(part, Tyre):
        return any(seat_fits(bench, part, end) for end in ("front", "rear"))
    if not isinstance(part, CoilSpring if fork.coil is not None else AirShaft | VolumeSpacer):
        return False
    if family and part.family and family.casefold() != part.family.casefold():
        return False
    if part.bore_m is None or fork.air is None:
        return True
    if fork.air.bore_m is not None:
        return abs(part.bore_m - fork.air.bore_m) <= SAME_BORE_M
    return fork.stanchion_m is None or part.bore_m < fork.stanchion_m


def seat_fits(bench: BenchFile, tyre: Tyre, end: str) -> bool:
    """Whether a tyre sits on a wheel: one whose radius was measured has no bead seat, so that no tyre's height says its radius.

    bench [SI] (one) as read; tyre [SI] (one) a part; end [-] (one) front or rear → [-] (one). Raises nothing. Source:
    bench-file.md; ISO 5775-1.
    """
    seat_m = _seat_m(bench, end)
    return seat_m is not None and (tyre.bore_m is None or abs(tyre.bore_m - seat_m) <= SAME_SEAT_M)


def _wheels(bench: BenchFile, end: str) -> tuple[Wheel, Wheel]:
    return getattr(bench, f"{end}_wheel") or Wheel(), getattr(bench.change, f"{end}_wheel", None) or Wheel()


def _seat_m(bench: BenchFile, end: str) -> float | None:
    fitted, asked = _wheels(bench, end)
    if asked.radius_m is not None:
        return None
    return asked.bead_seat_m if asked.bead_seat_m is not None else fitted.bead_seat_m


def _had(
    number: int, part: Part, count: int = 1, end: Literal["", "front", "rear"] = ""
) -> tuple[tuple[Used], float, float] | None:
    """So many of a part: what is used, cost and days; None where so many are neither there nor to be had."""
    if part.on_hand < count and part.waiting_days is None:
        return None
    days = 0.0 if part.on_hand >= count else float(part.waiting_days or 0)
    return (Used(number, part, count, end),), math.inf if part.cost is None else count * part.cost, days


def _cheapest(choices: Iterable[Choice]) -> Iterator[Choice]:
    """Of choices that do the same, those that none of the others beats in cost and days alike."""
    kept: list[Choice] = []
    for each in sorted(choices, key=lambda one: (one.cost, one.days)):
        same = [k for k in kept if abs(k.value - each.value) < 1e-9 and _equal(k.volume_m3, each.volume_m3)]
        if not any(k.cost <= each.cost and k.days <= each.days for k in same):
            kept.append(each)
    return iter(kept)


def _equal(one: float, other: float) -> bool:
    return one == other or (math.isnan(one) and math.isnan(other))


def _travels(bench: BenchFile, fitting: list[tuple[int, Part]]) -> Iterator[Choice]:
    """The travel asked for, or every shaft of the shelf and every usual step beside the one fitted."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    fitted_m = fork.travel_m or math.nan
    shafts = []
    for number, part in fitting:
        if isinstance(part, AirShaft) and part.gives_m is not None and abs(part.gives_m - fitted_m) > SAME_M:
            had = _had(number, part)
            assert had is not None, "a part that is neither there nor to be had was left out before"
            shafts.append(Choice(part.gives_m, *had))
    shafts = list(_cheapest(shafts))
    if change.travel_m is not None:
        by_shaft = [each for each in shafts if abs(each.value - change.travel_m) <= SAME_M and change.by == "shaft"]
        longer = abs(change.travel_m - fitted_m) > SAME_M
        yield from by_shaft or [Choice(change.travel_m, lacks="shaft" if longer and change.by == "shaft" else "")]
        return
    yield Choice(fitted_m)
    if change.air or change.coil:  # another spring is asked for, and its travel is then no question
        return
    yield from shafts
    for k in range(-STEPS_EITHER_WAY, STEPS_EITHER_WAY + 1):
        step_m = fitted_m + k * TRAVEL_STEP_M
        if k and 0.02 <= step_m <= 0.3 and not any(abs(each.value - step_m) <= SAME_M for each in shafts):
            yield Choice(step_m, (), math.inf, math.inf, "shaft")


def _spacers(bench: BenchFile, fitting: list[tuple[int, Part]]) -> Iterator[Choice]:
    """How many spacers: those asked for, or none to as many as may be; beyond those fitted each from the shelf."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    air, named = fork.air, change.air or {}
    if air is None:
        yield Choice(0.0)
        return
    asked = change.spacers if change.spacers is not None else named.get("spacers")
    volume_m3 = named.get("spacer_volume_m3") or air.spacer_volume_m3
    limit = named.get("spacer_limit") if named.get("spacer_limit") is not None else air.spacer_limit
    most = limit if limit is not None else air.spacers + MORE_SPACERS
    if volume_m3 is None and fork.stanchion_m is not None and air.spacers:
        volume_m3 = math.nan  # of those fitted: drawn
    for count in range(max(most, air.spacers) + 1) if asked is None else (asked,):
        more = count - air.spacers
        if more <= 0:
            yield Choice(float(count))
            continue
        found = []
        for number, part in fitting:
            if isinstance(part, VolumeSpacer) and part.gives_m3 is not None:
                had = _had(number, part, more)
                if had is not None and not (air.spacers and volume_m3 is not None and math.isnan(volume_m3)):
                    whole = air.spacers * (volume_m3 or 0.0) + more * part.gives_m3
                    found.append(Choice(float(count), *had, volume_m3=whole / count))
                elif had is not None:
                    found.append(Choice(float(count), *had))
        found = list(_cheapest(found))
        if found:
            yield from found
        elif asked is not None:
            yield Choice(float(count), lacks="spacer")
        elif volume_m3 is not None:
            yield Choice(float(count), (), math.inf, math.inf, "spacer")


def _offsets(bench: BenchFile, offsets_m: Iterable[float]) -> Iterator[Choice]:
    """The offset asked for or fitted, and further ones; each of those is another fork, which no shelf holds."""
    yield Choice(math.nan)
    if bench.change is None or bench.change.offset_m is None:
        for offset_m in dict.fromkeys(offsets_m):
            yield Choice(offset_m, (), math.inf, math.inf, "offset")


def _tyres(bench: BenchFile, fitting: list[tuple[int, Part]], end: Literal["front", "rear"]) -> Iterator[Choice]:
    """The tyre fitted or asked for; where none is asked for, every tyre of the shelf that sits on this wheel."""
    fitted, asked = _wheels(bench, end)
    tyres = []
    for number, part in fitting:
        if isinstance(part, Tyre) and part.gives_m is not None and seat_fits(bench, part, end):
            had = _had(number, part, end=end)
            if had is not None:
                tyres.append(Choice(part.gives_m, *had))
    if asked.tyre_height_m is not None or asked.radius_m is not None:
        same = [each for each in tyres if abs(each.value - (asked.tyre_height_m or math.nan)) <= SAME_M]
        yield from list(_cheapest(same)) or [Choice(math.nan)]
        return
    yield Choice(math.nan)
    yield from _cheapest(each for each in tyres if abs(each.value - (fitted.tyre_height_m or math.nan)) > SAME_M)


def _springs(bench: BenchFile, fitting: list[tuple[int, Part]]) -> Iterator[Choice]:
    """The coil fitted or asked for, and every other of the shelf; how far another one's coils may go nobody knows."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    yield Choice(math.nan)
    if fork.coil is None or change.coil:
        return
    fitted = fork.coil.rate_n_per_m or math.nan
    found = []
    for number, part in fitting:
        if isinstance(part, CoilSpring) and part.gives_n_per_m is not None:
            had = _had(number, part)
            if had is not None and abs(part.gives_n_per_m - fitted) > SAME_RATE * fitted:
                found.append(Choice(part.gives_n_per_m, *had))
    yield from _cheapest(found)
