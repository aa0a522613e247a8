"""The filling schedule: pump, stroke, read; how often, and what to expect each time.

Where the chambers' volumes are not known nothing can be expected; then the readings judge each other (`Filling`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.errors import OutOfRange
from topout.physics import air_spring, filling
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats
from topout.planner import inputs, limits
from topout.planner.far_in import Gauge
from topout.planner.known_to import Bounds
from topout.planner.results import Default
from topout.uncertainty.intervals import Interval
from topout.units import PSI_PA

MOST_ROUNDS: Final = 30  # to the final pressure; beyond that the schedule says that it does not settle
# Without volumes (ours, no source): no chamber beside the main one takes more than half of what one round pumped in, and
# once all is level a stroke and the empty hose of a pump take a few in a hundred, never a tenth.
MOST_OF_A_ROUND: Final = 0.5
MOST_WHEN_LEVEL: Final = 0.1


@dataclass(frozen=True, slots=True)
class FillRound:
    """One round, gauge pressures [Pa]: pumped to, left after one stroke (true), what a gauge pushed on reads, lost travel [m].

    `negative_to_gauge_pa` is what the negative chamber is then pumped to through its own valve; None where it is not.
    `second_to_gauge_pa` is what a second chamber is pumped to before the first round's main one, which is empty then.
    """

    pumped_to_gauge_pa: float
    after_stroke_gauge_pa: float
    reading_gauge_pa: float | None
    lost_travel_m: float
    negative_to_gauge_pa: float | None = None
    second_to_gauge_pa: float | None = None
    limits: Mapping[str, Interval] = field(default_factory=dict)  # of the words of its JSON, where something was drawn


@dataclass(frozen=True, slots=True)
class Schedule:
    """Rounds in order; `settled_after` counts them, None where 30 rounds at the final pressure don't do."""

    rounds: tuple[FillRound, ...]
    settled_after: int | None
    bounds: Bounds | None = None  # how far it is known, where something was drawn; then each number is a median
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    limit_gauge_pa: float | None = None  # the maker's

    @property
    def most_gauge_pa(self) -> float:
        """The highest pressure that anything is pumped to.

        nothing → [Pa gauge] (one) above 0. Raises nothing. Source: none needed, bookkeeping.
        """
        pumped = (each for r in self.rounds for each in (r.pumped_to_gauge_pa, r.negative_to_gauge_pa))
        return max(each for each in pumped if each is not None)

    def as_json(self) -> dict[str, Any]:
        """The object that `topout inflate --json` prints.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        rounds = []
        for r in self.rounds:
            row: dict[str, float] = {"pumped_to_pa": r.pumped_to_gauge_pa, "after_stroke_pa": r.after_stroke_gauge_pa}
            if r.reading_gauge_pa is not None:
                row["reading_pa"] = r.reading_gauge_pa
            if r.negative_to_gauge_pa is not None:
                row["negative_to_pa"] = r.negative_to_gauge_pa
            if r.second_to_gauge_pa is not None:
                row["second_to_pa"] = r.second_to_gauge_pa
            row["lost_travel_m"] = r.lost_travel_m
            for word, found in r.limits.items():
                row |= {f"{word}_u": found.standard, f"{word}_low95": found.low95, f"{word}_high95": found.high95}
            rounds.append(row)
        plain: dict[str, Any] = {"rounds": rounds, "settled_after": self.settled_after, "drawn": None}
        told = plain if self.bounds is None else self.bounds.beside(plain)
        told["over_limit"] = (
            None if self.limit_gauge_pa is None else limits.over(self.most_gauge_pa, self.limit_gauge_pa)
        )
        return told | {"defaults": [each.as_json() for each in self.defaults]}


def schedule(
    bench: BenchFile,
    to_gauge_pa: float,
    stops_gauge_pa: Sequence[float] = (),
    gauge_step_pa: float = PSI_PA,
    hose_m3: float = 0.0,
) -> Schedule:
    """Fill from ambient: one round per stop, then rounds to `to_gauge_pa` until a stroke costs less than the gauge shows.

    The pump is off during each stroke; pushing it on again costs what its hose takes: reading = true / (1 + V_h/V).
    Both chambers start at ambient, fork at full extension. A negative chamber with its own valve is filled through it to
    its own reading once the main one holds its final pressure: before, nothing but the negative air would pull the fork in.
    A second chamber is filled first, the main one empty.
    `bench` must describe its air spring and not be locked.
    Raises OutOfRange where a stop is not below the final pressure or the stops do not rise.

    bench [SI] (one) as read and whole; to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge] (any) rising,
    below it; gauge_step_pa [Pa] (one) above 0; hose_m3 [m³] (one) 0 and more → [SI] (one). Raises OutOfRange at a stop
    that does not rise or is not below the last. Source: physics.md 3.
    """
    check_stops(to_gauge_pa, stops_gauge_pa)
    s = air_spring.settle(inputs.bikes_of([bench]).chambers)
    air = bench.fork.air if bench.fork is not None else None
    own = air.negative_pressure_gauge_pa if air is not None and air.negative == "separate-valve" else None
    own_pa = None if own is None else np.array([own])
    limit_pa = None if air is None else air.pressure_limit_gauge_pa
    rounds: list[FillRound] = []
    for each in filled(s, to_gauge_pa, stops_gauge_pa, own_pa, hose_m3):
        after = each.after_gauge_pa.item()
        read = None if each.reading_gauge_pa is None else each.reading_gauge_pa.item()
        behind = air.second_pressure_gauge_pa if air is not None and not rounds else None
        lost_m, own_to = each.lost_m.item(), own if each.last else None
        rounds.append(FillRound(each.pumped_gauge_pa, after, read, lost_m, own_to, behind))
        if each.last and each.pumped_gauge_pa - after < gauge_step_pa:
            return Schedule(tuple(rounds), len(rounds), limit_gauge_pa=limit_pa)
    return Schedule(tuple(rounds), None, limit_gauge_pa=limit_pa)


def check_stops(to_gauge_pa: float, stops_gauge_pa: Sequence[float]) -> None:
    """Whether stops on the way rise and lie below the last pressure.

    to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge] (any) rising, below it → nothing. Raises OutOfRange at a
    stop that does not. Source: none needed, bookkeeping.
    """
    last = 0.0
    for stop in stops_gauge_pa:
        if not last < stop < to_gauge_pa:
            raise OutOfRange("a stop", stop, "Pa gauge", last, to_gauge_pa)
        last = stop


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """One round of n forks, arrays of shape (n,): gauge pressures as the gauge shows them, and the lost travel [m].

    `last` from the first round at the final pressure on.
    """

    pumped_gauge_pa: float
    after_gauge_pa: Floats
    reading_gauge_pa: Floats | None
    lost_m: Floats
    last: bool


def filled(
    s: EquilibratedSpring,
    to_gauge_pa: float,
    stops_gauge_pa: Sequence[float],
    own_gauge_pa: Floats | None,
    hose_m3: float,
    gauge: Gauge | None = None,
) -> Iterator[Filled]:
    """Round after round from ambient: one at each stop, then at most 30 at the final pressure.

    s [SI] (n,) settled; to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge] (any) rising, below it;
    own_gauge_pa [Pa gauge] (n,) of the negative chamber's own valve, or None; hose_m3 [m³] (one) 0 and more; gauge [SI]
    (n,) that shows them, or None for a true one → [SI] (n,) each. Raises nothing. Source: physics.md 3.
    """
    ambient = s.fit.ambient_pa
    negative_j = ambient * s.fit.negative_m3
    for count, to in enumerate([*stops_gauge_pa, *[to_gauge_pa] * MOST_ROUNDS], 1):
        last = count > len(stops_gauge_pa)
        shown = np.full(ambient.shape, to)
        true = shown if gauge is None else gauge.true_pa(shown)
        left, negative_j = filling.stroke(s, true + ambient, negative_j)
        if own_gauge_pa is not None and last:
            negative_j = (own_gauge_pa + ambient) * s.fit.negative_m3
        after = left - ambient
        read = after / filling.hose_factor(hose_m3, filling.seen_by_valve_m3(s, left)) if hose_m3 > 0.0 else None
        short = filling.rests_short_m(s.fit, left, negative_j)
        if gauge is not None:
            after, read = gauge.shown_pa(after), None if read is None else gauge.shown_pa(read)
        yield Filled(to, after, read, short, last)


def stops_below(to_gauge_pa: float, every_pa: float) -> list[float]:
    """The pressures on the way to the final one, so far apart [Pa gauge].

    to_gauge_pa [Pa gauge] (one) above 0; every_pa [Pa] (one) above 0 → [Pa gauge] (any) rising, below it. Raises
    nothing. Source: none needed, bookkeeping.
    """
    count = int(to_gauge_pa / every_pa - 1e-6)
    return [every_pa * n for n in range(1, count + 1) if every_pa * n < to_gauge_pa * (1 - 1e-9)]


@dataclass(frozen=True, slots=True)
class Filling:
    """A filling without known volumes: nothing is expected of a stroke, so its readings are held against each other.

    Stops so far apart, then rounds to the final pressure until two of them running read the same. `shares`: a second
    chamber fills through a port. Gauge pressures [Pa]; `read` holds what the gauge showed after each round so far.
    """

    to_gauge_pa: float
    every_pa: float
    shares: bool
    read: tuple[float, ...] = ()

    def pumped_to(self, step_pa: float) -> tuple[float, ...]:
        """What each round is pumped to: those read, and those that are still due as far as that can be said.

        step_pa [Pa] (one) what the gauge can tell, above 0 → [Pa gauge] (any) rising. Raises nothing. Source: physics.md 3.
        """
        stops = stops_below(self.to_gauge_pa, self.every_pa)
        at_target = self.read[len(stops) :]
        level = next(
            (n for n in range(2, len(at_target) + 1) if _level(at_target[n - 2], at_target[n - 1], step_pa)), None
        )
        return (*stops, *[self.to_gauge_pa] * (level or max(2, len(at_target) + 1)))

    def span(self, n: int, mark_pa: float, step_pa: float) -> tuple[float, float]:
        """What round `n` (from 1) may read [Pa gauge], both ends in it, from the rounds read before it.

        Air put in stays in: it reads more than before, never more than it was pumped to. Where a port shares it, the first
        stroke must cost what the gauge shows; and a round at the final pressure is level, that is reads as the one
        before it, only where its stroke cost clearly less of the pressure than the first stroke did. A blocked port with a
        pump's empty hose costs the same share every time, and never gets there.

        n [-] (one) 1 and more; mark_pa, step_pa [Pa] (one) above 0 → [Pa gauge] (2). Raises nothing. Source: physics.md 3,
        the shares ours.
        """
        pumped = self.pumped_to(step_pa)[n - 1]
        before = self.read[n - 2] if n > 1 else 0.0
        high = pumped - 2 * mark_pa if self.shares and n == 1 else pumped + mark_pa
        low = before + (pumped - before) * (1 - MOST_OF_A_ROUND) - mark_pa
        if n - len(stops_below(self.to_gauge_pa, self.every_pa)) >= 2:
            low = max(before - mark_pa, min(self._level_from(pumped, mark_pa), before + step_pa))
        return low, high

    def _level_from(self, pumped: float, mark_pa: float) -> float:
        """The least that a round at the final pressure may show where it counts as level."""
        least = pumped * (1 - MOST_WHEN_LEVEL)
        if not self.shares or not self.read:
            return least
        first = self.pumped_to(mark_pa)[0]
        return max(least, pumped - (first - self.read[0] - 2 * mark_pa) * pumped / first)


def _level(before: float, reading: float, step_pa: float) -> bool:
    """Whether a round read what the one before it read, as far as the gauge can tell."""
    return reading - before < step_pa * (1 - 1e-6)
