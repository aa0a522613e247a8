"""A choice of one dimension of a search, from what is fitted or a part of the shelf, and the choices that both ends have alike."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from topout.bench_file.model import Air, Coil
from topout.bench_file.parts import CoilSpring, Part, VolumeSpacer

MORE_SPACERS: Final = 2  # tried beyond those fitted where the maker's limit is not known
SAME_RATE: Final = 0.005  # of a coil's rate: no press tells less
SAME_M: Final = 0.0005  # of travels and tyre heights: as good as equal on a rule

Lacks = Literal["", "shaft", "spacer", "offset", "shock-spacer", "reducer"]
Fitting = list[tuple[int, Part]]


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
    bind_m: float = math.nan  # of a coil from the shelf: pressed in so far from its free length its coils touch


def had(
    number: int, part: Part, count: int = 1, end: Literal["", "front", "rear"] = ""
) -> tuple[tuple[Used], float, float] | None:
    """So many of a part: what is used, cost and days; None where so many are neither there nor to be had.

    number [1] (one) its place on the shelf; part [SI] (one) of it; count [1] (one) 1 and more; end [-] (one) of a tyre, else
    nothing → [SI] (3) or None. Raises nothing. Source: none needed, bookkeeping.
    """
    if part.on_hand < count and part.waiting_days is None:
        return None
    days = 0.0 if part.on_hand >= count else float(part.waiting_days or 0)
    return (Used(number, part, count, end),), math.inf if part.cost is None else count * part.cost, days


def cheapest(choices: Iterable[Choice]) -> Iterator[Choice]:
    """Of choices that do the same, those that none of the others beats in cost and days alike.

    choices [SI] (any) of one dimension → [SI] (any) fewer. Raises nothing. Source: none needed, bookkeeping.
    """
    kept: list[Choice] = []
    for each in sorted(choices, key=lambda one: (one.cost, one.days)):
        same = [k for k in kept if _alike(k, each)]
        if not any(k.cost <= each.cost and k.days <= each.days for k in same):
            kept.append(each)
    return iter(kept)


def _alike(one: Choice, other: Choice) -> bool:
    """Whether two choices do the same."""
    beside = ((one.volume_m3, other.volume_m3), (one.bind_m, other.bind_m))
    return abs(one.value - other.value) < 1e-9 and all(a == b or (math.isnan(a) and math.isnan(b)) for a, b in beside)


def spacer_choices(
    air: Air, asked: int | None, volume_m3: float | None, limit: int | None, fitting: Fitting, lacks: Lacks = "spacer"
) -> Iterator[Choice]:
    """How many spacers, at either end: so many, or none to as many as may be; beyond those fitted each from the shelf.

    air [SI] (one) as fitted; asked [1] (one) 0 and more, None for any; volume_m3 [m³] (one) of one of those fitted, NaN where it
    is drawn, None where it is not known; limit [1] (one) the maker's, or None; fitting [SI] (any) parts of the shelf; lacks [-]
    (one) what is lacking where none lies there → [SI] (any) choices. Raises nothing. Source: common practice, no source.
    """
    most = limit if limit is not None else air.spacers + MORE_SPACERS
    for count in range(max(most, air.spacers) + 1) if asked is None else (asked,):
        more = count - air.spacers
        if more <= 0:
            yield Choice(float(count))
            continue
        found = []
        for number, part in fitting:
            if isinstance(part, VolumeSpacer) and part.gives_m3 is not None:
                taken = had(number, part, more)
                if taken is not None and not (air.spacers and volume_m3 is not None and math.isnan(volume_m3)):
                    whole = air.spacers * (volume_m3 or 0.0) + more * part.gives_m3
                    found.append(Choice(float(count), *taken, volume_m3=whole / count))
                elif taken is not None:
                    found.append(Choice(float(count), *taken))
        found = list(cheapest(found))
        if found:
            yield from found
        elif asked is not None:
            yield Choice(float(count), lacks=lacks)
        elif volume_m3 is not None:
            yield Choice(float(count), (), math.inf, math.inf, lacks)


def coil_choices(coil: Coil | None, asked: bool, fitting: Fitting) -> Iterator[Choice]:
    """The coil fitted or asked for, and every other of the shelf, at either end.

    coil [SI] (one) as fitted, or None; asked [-] (one) whether the change names it; fitting [SI] (any) parts of the shelf →
    [SI] (any) choices. Raises nothing. Source: common practice, no source.
    """
    yield Choice(math.nan)
    if coil is None or asked:
        return
    fitted = coil.rate_n_per_m or math.nan
    found = []
    for number, part in fitting:
        if isinstance(part, CoilSpring) and part.gives_n_per_m is not None:
            taken = had(number, part)
            if taken is not None and abs(part.gives_n_per_m - fitted) > SAME_RATE * fitted:
                bind_m = math.nan if part.bind_m is None else part.bind_m
                found.append(Choice(part.gives_n_per_m, *taken, bind_m=bind_m))
    yield from cheapest(found)
