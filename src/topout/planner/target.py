"""What to set or fit for something that is asked for: a sag, a force at the end of the travel, a figure of the stance.

Force is linear in the absolute filling pressure, so each pressure is one division (`keep`). A force at the end is reached
by pressure alone, or by volume spacers with the sag left where it is; both are said, with what each does to the other. Head angle, trail
and bottom bracket follow from the fork's length, in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import Floats
from topout.planner import change, drawn, inputs, keep, limits, missing
from topout.planner.design import Design
from topout.planner.fits import Fits, fits
from topout.planner.options import neutral
from topout.planner.options.choices import TRAVEL_STEP_M
from topout.planner.options.neutral import Neutral
from topout.uncertainty.intervals import Interval

MOST_SPACERS: Final = 6  # are tried where the file has no limit
BY_PRESSURE: Final = "pressure"
BY_SPACERS: Final = "spacers"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked for; any of these, None for what is not."""

    sag_m: float | None = None
    sag_share: float | None = None
    end_force_n: float | None = None
    end_force_more_n: float | None = None  # against the bike as it is
    head_angle_rad: float | None = None  # these three with the fork at full extension
    trail_m: float | None = None
    bb_height_m: float | None = None

    @property
    def stance(self) -> dict[str, float]:
        """What is asked of the stance, by the names that the options use.

        nothing → [SI] (3) at most, by name. Raises nothing. Source: none needed, bookkeeping.
        """
        asked = {"head-angle": self.head_angle_rad, "trail": self.trail_m, "bb-height": self.bb_height_m}
        return {name: value for name, value in asked.items() if value is not None}

    @property
    def of_spring(self) -> bool:
        """Whether anything is asked of the spring.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return any(each is not None for each in (self.sag_m, self.sag_share, self.end_force_n, self.end_force_more_n))


@dataclass(frozen=True, slots=True)
class Way:
    """One way to what is asked: the spacers, the gauge pressure to set [Pa], and the sag [m] and end force [N] that it gives.

    `over` where the pressure lies above the maker's limit.
    """

    by: str
    spacers: int
    pressure_gauge_pa: Interval | None
    sag_m: Interval | None
    share: Interval | None
    end_force_n: Interval | None
    over: bool


@dataclass(frozen=True, slots=True)
class Target:
    """One thing asked for, the value wanted [SI], and the ways to it, best first; none where nothing within range does it."""

    asked: str
    wanted: Interval | None
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class StanceTarget:
    """A figure of the stance asked for [SI], the fork length [m] that gives it, and the nearest travel [m] that exists.

    `limit_m` is the frame maker's, where that length lies above it.
    """

    asked: str
    wanted: float
    fork: Neutral
    limit_m: float | None


@dataclass(frozen=True, slots=True)
class Targets:
    """The answers to everything that was asked."""

    targets: tuple[Target, ...]
    stance: tuple[StanceTarget, ...]
    limit_gauge_pa: float | None
    drawn: bool

    def as_json(self) -> dict[str, Any]:
        """The object that `topout target --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        rows = [(each, way) for each in self.targets for way in each.ways or (None,)]
        return {
            "ways": [
                {"asked": each.asked, **self._number("wanted", each.wanted), **self._way(way)} for each, way in rows
            ],
            "stance": {
                each.asked: {
                    "wanted": each.wanted,
                    "fork_length_m": each.fork.fork_length_m,
                    "travel_m": each.fork.travel_m,
                    "over_limit": each.limit_m is not None,
                }
                for each in self.stance
            },
        }

    def _way(self, way: Way | None) -> dict[str, Any]:
        """A way's numbers, all of them null where none does it."""
        if way is None:
            names = ("by", "spacers", "over_limit", "pressure_pa", "travel_m", "share", "end_force_n")
            return dict.fromkeys(names)
        return {
            "by": way.by, "spacers": way.spacers, "over_limit": way.over,
            **self._number("pressure_pa", way.pressure_gauge_pa), **self._number("travel_m", way.sag_m),
            **self._number("share", way.share), **self._number("end_force_n", way.end_force_n),
        }  # fmt: skip

    def _number(self, name: str, told: Interval | None) -> dict[str, float | None]:
        if told is None or not self.drawn:
            return {name: None if told is None else told.median}
        limits95 = {f"{name}_u": told.standard, f"{name}_low95": told.low95, f"{name}_high95": told.high95}
        return {name: told.median, **limits95}


def targets(bench: BenchFile, wanted: Wanted, draws: int = drawn.AT_REST) -> Targets:
    """The pressure, or spacers with their pressure, that give what is asked on the bike after its change.

    bench [SI] (one) as read; wanted [SI] (one) at least one thing; draws [1] (one) 1 and more → [SI] (one). Raises
    FaultsFound where a key lacks, a sag is not within the travel, or the sag found can't be. Source: physics.md 2 and 7,
    derived: linear in the pressure.
    """
    stance = tuple(
        StanceTarget(name, wanted.stance[name], fork, _passed_m(bench, fork))
        for name, fork in neutral.of_bench(bench, TRAVEL_STEP_M, wanted.stance).items()
    )
    if not wanted.of_spring:
        _judge_stance(bench)
        return Targets((), stance, None, False)
    missing.refuse_coil(change.changed(bench))
    of = fits(bench, draws)
    fork = change.changed(bench).fork
    air = fork.air if fork is not None else None
    limit = air.pressure_limit_gauge_pa if air is not None else None
    most = air.spacer_limit if air is not None and air.spacer_limit is not None else MOST_SPACERS
    _judge(of, wanted)
    found = []
    travel_m = of.after.fork.travel_m
    if wanted.sag_m is not None:
        found.append(_of_sag("sag", of, np.full(len(of.after), wanted.sag_m), limit))
    if wanted.sag_share is not None:
        found.append(_of_sag("sag-share", of, wanted.sag_share * travel_m, limit))
    if wanted.end_force_n is not None:
        found.append(_of_end("end-force", of, np.full(len(of.after), wanted.end_force_n), limit, most))
    if wanted.end_force_more_n is not None:
        found.append(_of_end("end-force", of, _end_force_n(of.before) + wanted.end_force_more_n, limit, most))
    return Targets(tuple(found), stance, limit, of.made is not None)


def _passed_m(bench: BenchFile, fork: Neutral) -> float | None:
    """The frame's limit, where the fork that is asked for would be longer."""
    limit_m = bench.frame.fork_length_limit_m if bench.frame is not None else None
    return limit_m if limits.over(fork.fork_length_m, limit_m) else None


def _judge_stance(bench: BenchFile) -> None:
    """A figure of the stance needs the frame's chart."""
    lacking = missing.for_stance(bench)
    if lacking:
        raise FaultsFound([Fault(place, "is needed for this.") for place in lacking])


def _judge(of: Fits, wanted: Wanted) -> None:
    """A sag that is asked for lies inside the travel."""
    shortest = float(np.min(of.after.fork.travel_m))
    if wanted.sag_m is not None and not 0.0 < wanted.sag_m < shortest:
        raise FaultsFound([Fault("--sag", "a sag lies inside the travel. Ask for less.")])


def _of_sag(asked: str, of: Fits, rests_m: Floats, limit: float | None) -> Target:
    way = _way(BY_PRESSURE, of, of.after, _for_sag(of, of.after, rests_m), limit)
    wanted = of.told(rests_m if asked == "sag" else rests_m / of.after.fork.travel_m)
    return Target(asked, wanted, () if way is None else (way,))


def _of_end(asked: str, of: Fits, wanted_n: Floats, limit: float | None, most: int) -> Target:
    """By pressure alone, then by the spacers that come nearest, the sag left where the bike after the change has it."""
    by_pressure = keep.at_end_force(_settled(of.after), _end_force_n(of.after), wanted_n)
    ways = [_way(BY_PRESSURE, of, of.after, by_pressure, limit)]
    told = of.told(wanted_n)
    tried = []
    for count in range(most + 1):
        with_them = replace(of.after, air=replace(of.after.air, spacers=np.full(len(of.after), float(count))))
        way = _way(BY_SPACERS, of, with_them, _for_sag(of, with_them, _rests_m(of, of.after)), limit)
        if way is not None and way.end_force_n is not None and told is not None:
            tried.append((abs(way.end_force_n.median - told.median), way))
    ways += [way for _, way in sorted(tried, key=lambda each: each[0])[:2]]
    return Target(asked, told, tuple(way for way in ways if way is not None))


def _way(by: str, of: Fits, design: Design, true_gauge_pa: Floats, limit: float | None) -> Way | None:
    """What a pressure gives on these bikes; None where none in range does it on nearly all of them."""
    told = of.told(of.shown_pa(true_gauge_pa))
    if told is None:
        return None
    filled = replace(design, air=replace(design.air, pressure_gauge_pa=true_gauge_pa))
    rests_m = _rests_m(of, filled)
    return Way(
        by,
        round(float(np.nanmedian(np.nan_to_num(design.air.spacers)))),
        told,
        of.told(rests_m),
        of.told(rests_m / filled.fork.travel_m),
        of.told(_end_force_n(filled)),
        limits.over(told.median, limit),
    )


def _settled(design: Design) -> air_spring.EquilibratedSpring:
    return air_spring.settle(air_spring.computable(inputs.bikes(design).chambers))


def _end_force_n(design: Design) -> Floats:
    """Slow force at the end of the travel [N], NaN where a chamber locks."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = _settled(design)
        return air_spring.force(settled, settled.fit.travel_m)


def _rests_m(of: Fits, design: Design) -> Floats:
    """The sag of these bikes under the loads [m]."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        return sag.at_rest_m(_settled(design), stand, of.loads.load, bikes.friction)[0]


def _for_sag(of: Fits, design: Design, rests_m: Floats) -> Floats:
    """The true gauge pressure at which these bikes rest so far in [Pa], NaN where none in range does it."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        return keep.at_load(_settled(design), stand, of.loads.load, rests_m)
