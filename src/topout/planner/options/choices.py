"""What may be fitted, dimension by dimension: the bike as it is, what is asked for, and the parts of the shelf that fit.

A part is left out only where something known speaks against it: another bore, another family, another bead seat, another
end, none there and none to be had. What `[change]` names is no question any more: it is the one choice of its dimension, and
so is everything of an end that is not looked at.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from topout.bench_file.model import BenchFile, Change, Fork, Wheel
from topout.bench_file.parts import AirShaft, CoilSpring, Part, StrokeReducer, Tyre, VolumeSpacer
from topout.planner import limits
from topout.planner.options import rear_choices
from topout.planner.options.choice import SAME_M, Choice, Fitting, cheapest, coil_choices, had, spacer_choices
from topout.planner.options.ends import FRONT, Ends
from topout.units import PSI_PA

TRAVEL_STEP_M: Final = 0.010  # shafts come in such steps (trade practice, no source)
STEPS_EITHER_WAY: Final = 3
PRELOADS_M: Final = (
    0.0,
    0.002,
    0.004,
    0.006,
    0.008,
    0.010,
)  # what a fork's adjuster winds up (common practice, no source)
NEGATIVES: Final = (0.8, 0.9, 1.1, 1.2)  # of the pressure that is in there (ours)
NEGATIVE_MARK_PA: Final = PSI_PA
SAME_BORE_M: Final = 0.0002  # what a caliper in a bore errs by
SAME_SEAT_M: Final = 0.0005
MISFIT: Final = "part-does-not-fit"
NONE_THERE: Final = "part-not-on-hand"


@dataclass(frozen=True, slots=True)
class Choices:
    """Every dimension with its choices; the ways to build are their product."""

    travels: tuple[Choice, ...]
    spacers: tuple[Choice, ...]
    offsets: tuple[Choice, ...]
    front_tyres: tuple[Choice, ...]
    rear_tyres: tuple[Choice, ...]
    springs: tuple[Choice, ...]  # of a fork on a coil
    strokes: tuple[Choice, ...]  # of the rear shock, and what follows
    shock_spacers: tuple[Choice, ...]
    shock_springs: tuple[Choice, ...]
    preloads: tuple[Choice, ...]
    fork_preloads: tuple[Choice, ...]  # of a fork on a coil
    negatives: tuple[Choice, ...]  # the pressure of a fork's negative chamber with a valve of its own
    left_out: Counter[str]  # parts of the shelf, by why

    @property
    def shape(self) -> tuple[int, ...]:
        """How many choices each dimension has.

        nothing → [1] (12). Raises nothing. Source: none needed, bookkeeping.
        """
        return tuple(len(each) for each in self.dimensions)

    @property
    def dimensions(self) -> tuple[tuple[Choice, ...], ...]:
        """The dimensions in their one order.

        nothing → [SI] (12) choices each. Raises nothing. Source: none needed, bookkeeping.
        """
        front = (self.travels, self.spacers, self.offsets, self.front_tyres, self.rear_tyres, self.springs)
        behind = (self.strokes, self.shock_spacers, self.shock_springs, self.preloads)
        return (*front, *behind, self.fork_preloads, self.negatives)


def of_bench(bench: BenchFile, shelf: Sequence[Part], ends: Ends = FRONT, offsets_m: Iterable[float] = ()) -> Choices:
    """The choices that a bike and a shelf leave at the ends that are looked at.

    bench [SI] (one) as read, its fork's travel given; shelf [SI] (any) parts; ends [-] (one) which, and of which family;
    offsets_m [m] (any) further ones to try → [SI] (one). Raises nothing. Source: bench-file.md; common practice, no source.
    """
    left_out: Counter[str] = Counter()
    fitting = list(usable(bench, shelf, ends, left_out))
    in_front = [(number, part) for number, part in fitting if ends.front and fits(bench, part, "front", ends)]
    behind = [(number, part) for number, part in fitting if ends.rear and fits(bench, part, "rear", ends)]
    tyres = fitting if ends.front else []
    fork, change = bench.fork or Fork(), bench.change or Change()
    return Choices(
        travels=tuple(_travels(bench, in_front, ends.front)),
        spacers=tuple(_spacers(bench, in_front, ends.front)),
        offsets=tuple(_offsets(bench, offsets_m if ends.front else ())),
        front_tyres=tuple(_tyres(bench, tyres, "front")),
        rear_tyres=tuple(_tyres(bench, tyres, "rear")),
        springs=tuple(coil_choices(fork.coil, bool(change.coil), in_front)),
        strokes=tuple(rear_choices.strokes(bench, behind, ends.rear)),
        shock_spacers=tuple(rear_choices.spacers(bench, behind, ends.rear)),
        shock_springs=tuple(rear_choices.springs(bench, behind)),
        preloads=tuple(rear_choices.preloads(bench, ends.rear)),
        fork_preloads=tuple(_preloads(bench, ends.front)),
        negatives=tuple(_negatives(bench, ends.front)),
        left_out=left_out,
    )


def usable(
    bench: BenchFile, shelf: Sequence[Part], ends: Ends = FRONT, left_out: Counter[str] | None = None
) -> Iterator[tuple[int, Part]]:
    """The parts against which nothing known speaks, with their places; the others are counted by why.

    A part that is for the other end alone is no part of the question, and is not counted.

    bench [SI] (one) as read; shelf [SI] (any) parts; ends [-] (one) which, and of which family; left_out [1] (any) counts by
    why, or None → [SI] (any) places and parts. Raises nothing. Source: common practice, no source.
    """
    left_out = Counter() if left_out is None else left_out
    for number, part in enumerate(shelf):
        asked = [end for end, looked in (("front", ends.front), ("rear", ends.rear)) if looked and _is_for(part, end)]
        if not asked:
            continue
        if not any(fits(bench, part, end, ends) for end in asked):
            left_out[MISFIT] += 1
        elif part.on_hand == 0 and part.waiting_days is None:
            left_out[NONE_THERE] += 1
        else:
            yield number, part


def _is_for(part: Part, end: str) -> bool:
    """Whether a part could be meant for an end at all; tyres are looked at with the fork, at either wheel."""
    if isinstance(part, Tyre):
        return end == "front"
    if part.end is not None and part.end != end:
        return False
    return not isinstance(part, AirShaft if end == "rear" else StrokeReducer)


def fits(bench: BenchFile, part: Part, end: str, ends: Ends) -> bool:
    """Whether nothing known speaks against a part at an end.

    bench [SI] (one) as read; part [SI] (one) of the shelf; end [-] (one) front or rear; ends [-] (one) whose families →
    [-] (one). Raises nothing. Source: common practice, no source.
    """
    if isinstance(part, Tyre):
        return end == "front" and any(_tyre_fits(bench, part, wheel) for wheel in ("front", "rear"))
    if not _is_for(part, end):
        return False
    unit = bench.fork if end == "front" else bench.shock
    air, coil = (None, None) if unit is None else (unit.air, unit.coil)
    family = ends.family if end == "front" else ends.rear_family
    if isinstance(part, StrokeReducer):
        return unit is not None and _of_family(part, family)
    if not isinstance(part, CoilSpring if coil is not None else AirShaft | VolumeSpacer) or not _of_family(
        part, family
    ):
        return False
    if part.bore_m is None or air is None:
        return True
    if air.bore_m is not None:
        return abs(part.bore_m - air.bore_m) <= SAME_BORE_M
    outside_m = bench.fork.stanchion_m if end == "front" and bench.fork else bench.shock.body_m if bench.shock else None
    return outside_m is None or part.bore_m < outside_m


def _of_family(part: Part, family: str | None) -> bool:
    return not (family and part.family) or family.casefold() == part.family.casefold()


def _tyre_fits(bench: BenchFile, tyre: Tyre, end: str) -> bool:
    return tyre.end in (None, end) and seat_fits(bench, tyre, end)


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


def _travels(bench: BenchFile, fitting: Fitting, looked: bool) -> Iterator[Choice]:
    """The travel asked for, or every shaft of the shelf and every usual step beside the one fitted."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    fitted_m = fork.travel_m or math.nan
    shafts = []
    for number, part in fitting:
        if isinstance(part, AirShaft) and part.gives_m is not None and abs(part.gives_m - fitted_m) > SAME_M:
            taken = had(number, part)
            assert taken is not None, "a part that is neither there nor to be had was left out before"
            shafts.append(Choice(part.gives_m, *taken))
    shafts = list(cheapest(shafts))
    if change.travel_m is not None:
        by_shaft = [each for each in shafts if abs(each.value - change.travel_m) <= SAME_M and change.by == "shaft"]
        longer = abs(change.travel_m - fitted_m) > SAME_M
        yield from by_shaft or [Choice(change.travel_m, lacks="shaft" if longer and change.by == "shaft" else "")]
        return
    yield Choice(fitted_m)
    if not looked or change.air or change.coil:  # another spring is asked for, and its travel is then no question
        return
    yield from shafts
    for k in range(-STEPS_EITHER_WAY, STEPS_EITHER_WAY + 1):
        step_m = fitted_m + k * TRAVEL_STEP_M
        if k and 0.02 <= step_m <= 0.3 and not any(abs(each.value - step_m) <= SAME_M for each in shafts):
            yield Choice(step_m, (), math.inf, math.inf, "shaft")


def _spacers(bench: BenchFile, fitting: Fitting, looked: bool) -> Iterator[Choice]:
    """How many spacers are in the fork: those asked for, or none to as many as may be."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    air, named = fork.air, change.air or {}
    if air is None:
        yield Choice(0.0)
        return
    asked = change.spacers if change.spacers is not None else named.get("spacers")
    volume_m3 = named.get("spacer_volume_m3") or air.spacer_volume_m3
    limit = named.get("spacer_limit") if named.get("spacer_limit") is not None else air.spacer_limit
    if volume_m3 is None and fork.stanchion_m is not None and air.spacers:
        volume_m3 = math.nan  # of those fitted: drawn
    yield from spacer_choices(air, air.spacers if not looked and asked is None else asked, volume_m3, limit, fitting)


def _preloads(bench: BenchFile, looked: bool) -> Iterator[Choice]:
    """How far the fork's coil is wound up: as asked for or as it is, and what its adjuster can do."""
    fork, change = bench.fork or Fork(), bench.change or Change()
    yield Choice(math.nan)
    if fork.coil is not None and fork.air is None and looked and "preload_m" not in (change.coil or {}):
        yield from (Choice(each) for each in PRELOADS_M if abs(each - fork.coil.preload_m) > SAME_M)


def _negatives(bench: BenchFile, looked: bool) -> Iterator[Choice]:
    """The pressure of a negative chamber with a valve of its own: as asked for or as it is, and what is tried beside it, none above
    the maker's limit of the spring."""
    air, change = (bench.fork or Fork()).air, bench.change or Change()
    yield Choice(math.nan)
    named = change.air or {}
    kind = named.get("negative", air.negative if air is not None else None)
    fitted_pa = air.negative_pressure_gauge_pa if air is not None else None
    if kind != "separate-valve" or air is None or fitted_pa is None or not looked or change.coil:
        return
    if "negative_pressure_gauge_pa" in named:
        return
    limit_pa = named.get("pressure_limit_gauge_pa", air.pressure_limit_gauge_pa)
    for share in NEGATIVES:
        tried_pa = round(fitted_pa * share / NEGATIVE_MARK_PA) * NEGATIVE_MARK_PA
        if tried_pa != fitted_pa and not limits.over(tried_pa, limit_pa):
            yield Choice(tried_pa)


def _offsets(bench: BenchFile, offsets_m: Iterable[float]) -> Iterator[Choice]:
    """The offset asked for or fitted, and further ones; each of those is another fork, which no shelf holds."""
    yield Choice(math.nan)
    if bench.change is None or bench.change.offset_m is None:
        for offset_m in dict.fromkeys(offsets_m):
            yield Choice(offset_m, (), math.inf, math.inf, "offset")


def _tyres(bench: BenchFile, fitting: Fitting, end: Literal["front", "rear"]) -> Iterator[Choice]:
    """The tyre fitted or asked for; where none is asked for, every tyre of the shelf that sits on this wheel."""
    fitted, asked = _wheels(bench, end)
    tyres = []
    for number, part in fitting:
        if isinstance(part, Tyre) and part.gives_m is not None and _tyre_fits(bench, part, end):
            taken = had(number, part, end=end)
            if taken is not None:
                tyres.append(Choice(part.gives_m, *taken))
    if asked.tyre_height_m is not None or asked.radius_m is not None:
        same = [each for each in tyres if abs(each.value - (asked.tyre_height_m or math.nan)) <= SAME_M]
        yield from list(cheapest(same)) or [Choice(math.nan)]
        return
    yield Choice(math.nan)
    yield from cheapest(each for each in tyres if abs(each.value - (fitted.tyre_height_m or math.nan)) > SAME_M)
