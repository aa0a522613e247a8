"""What to set or fit for something that is asked for: a sag, a force at the end of the travel, a figure of the stance.

Force is linear in the absolute filling pressure, so each pressure is one division (`keep`). A force at the end is reached
by pressure alone, or by volume spacers with the sag left where it is; both are said, with what each does to the other. Head angle, trail
and bottom bracket follow from the fork's length, in closed form.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics.gas import Floats
from topout.planner import change, inexact, keep, leans_on, limits, missing, shock_alone, target_coil, target_rear
from topout.planner import fits as fits_of
from topout.planner.design import Design
from topout.planner.fits import Fits, fits
from topout.planner.options import neutral
from topout.planner.options.choices import TRAVEL_STEP_M
from topout.planner.wanted import (
    BY_PRESSURE,
    BY_SPACERS,
    INSIDE_TRAVEL,
    Neutral,
    StanceTarget,
    Target,
    Targets,
    Wanted,
    Way,
)  # fmt: skip

MOST_SPACERS: Final = 6  # are tried where the file has no limit


def targets(bench: BenchFile, wanted: Wanted, draws: int = inexact.AT_REST) -> Targets:
    """The pressure, or spacers with their pressure, that give what is asked on the bike after its change.

    bench [SI] (one) as read; wanted [SI] (one) at least one thing; draws [1] (one) 1 and more → [SI] (one). Raises
    FaultsFound where a key lacks, a sag is not within the travel, or the sag found can't be. Source: physics.md 2 and 7,
    derived: linear in the pressure.
    """
    stance = tuple(
        StanceTarget(name, wanted.stance[name], fork, _passed_m(bench, fork))
        for name, fork in neutral.of_bench(bench, TRAVEL_STEP_M, wanted.stance).items()
    )
    alone = shock_alone.by_stroke(bench) if wanted.at_rear else None
    apart, rearward = alone is not None, alone or bench
    if not wanted.of_spring:
        if not wanted.at_rear:
            _judge_stance(bench)
            return Targets((), stance, None, False)
        behind = fits(rearward, draws, "rear")
        _judge(behind, behind, wanted)
        taken = leans_on.of_answer(rearward, None, lambda _: {}, leans_on.OF_CAN)
        asked = tuple(target_rear.targets(rearward, behind, wanted, by_stroke=apart))
        return Targets((), stance, None, behind.made is not None, asked, taken, apart)
    changed = change.changed(bench)
    of = fits(bench, draws)
    behind = of if alone is None else fits(alone, draws, "rear")
    _judge(of, behind, wanted)
    drawn = of.made is not None or behind.made is not None
    rear = tuple(target_rear.targets(rearward, behind, wanted, by_stroke=apart))
    on_coil = calls_for.on_coil(changed)
    also = (*leans_on.OF_SPRING, *(leans_on.OF_CAN if wanted.at_rear else ()))
    taken = leans_on.of_answer(bench, of.made, lambda each: _figures(each, wanted, on_coil), also)
    if on_coil:
        return Targets(tuple(target_coil.targets(of, wanted)), stance, None, drawn, rear, taken, apart)
    fork = changed.fork
    air = fork.air if fork is not None else None
    limit = air.pressure_limit_gauge_pa if air is not None else None
    most = air.spacer_limit if air is not None and air.spacer_limit is not None else MOST_SPACERS
    found = []
    travel_m = of.after.fork.travel_m
    if wanted.sag_m is not None:
        found.append(_of_sag("sag", of, np.full(len(of.after), wanted.sag_m), limit))
    if wanted.sag_share is not None:
        found.append(_of_sag("sag-share", of, wanted.sag_share * travel_m, limit))
    if wanted.end_force_n is not None:
        found.append(_of_end("end-force", of, np.full(len(of.after), wanted.end_force_n), limit, most))
    if wanted.end_force_more_n is not None:
        found.append(_of_end("end-force", of, fits_of.end_force_n(of.before) + wanted.end_force_more_n, limit, most))
    return Targets(tuple(found), stance, limit, drawn, rear, taken, apart)


def _figures(of: Fits, wanted: Wanted, on_coil: bool) -> dict[str, Floats]:
    """What each thing that is asked for takes on these bikes by pressure alone; on a coil how they rest and end as they are."""
    ends_n = fits_of.end_force_n(of.after)
    if on_coil:
        return {"sag_m": fits_of.rests_m(of, of.after), "end_force_n": ends_n}
    found = {}
    if wanted.sag_m is not None:
        found["set_sag_pa"] = fits_of.for_sag_pa(of, of.after, np.full(len(of.after), wanted.sag_m))
    if wanted.sag_share is not None:
        found["set_share_pa"] = fits_of.for_sag_pa(of, of.after, wanted.sag_share * of.after.fork.travel_m)
    wanted_n = None if wanted.end_force_n is None else np.full(len(of.after), wanted.end_force_n)
    if wanted.end_force_more_n is not None:
        wanted_n = fits_of.end_force_n(of.before) + wanted.end_force_more_n
    if wanted_n is not None:
        found["set_end_pa"] = keep.at_end_force(fits_of.settled(of.after), ends_n, wanted_n)
    return found


def _passed_m(bench: BenchFile, fork: Neutral) -> float | None:
    """The frame's limit, where the fork that is asked for would be longer."""
    limit_m = bench.frame.fork_length_limit_m if bench.frame is not None else None
    return limit_m if limits.over(fork.fork_length_m, limit_m) else None


def _judge_stance(bench: BenchFile) -> None:
    """A figure of the stance needs the frame's chart."""
    lacking = missing.for_stance(bench)
    if lacking:
        raise FaultsFound([missing.needed(place) for place in lacking])


def _judge(of: Fits, behind: Fits, wanted: Wanted) -> None:
    """A sag that is asked for lies inside the travel, or the shock's stroke: all that is wrong at once."""
    shortest = float(np.min(of.after.fork.travel_m))
    faults = list(target_rear.faults(behind, wanted))
    if wanted.sag_m is not None and not 0.0 < wanted.sag_m < shortest:
        faults.insert(0, Fault("--sag", INSIDE_TRAVEL))
    if faults:
        raise FaultsFound(faults)


def _of_sag(asked: str, of: Fits, rests_m: Floats, limit: float | None) -> Target:
    way = _way(BY_PRESSURE, of, of.after, fits_of.for_sag_pa(of, of.after, rests_m), limit)
    wanted = of.told(rests_m if asked == "sag" else rests_m / of.after.fork.travel_m)
    return Target(asked, wanted, () if way is None else (way,))


def _of_end(asked: str, of: Fits, wanted_n: Floats, limit: float | None, most: int) -> Target:
    """By pressure alone, then by the spacers that come nearest, the sag left where the bike after the change has it."""
    by_pressure = keep.at_end_force(fits_of.settled(of.after), fits_of.end_force_n(of.after), wanted_n)
    ways = [_way(BY_PRESSURE, of, of.after, by_pressure, limit)]
    told, rests_m = of.told(wanted_n), fits_of.rests_m(of, of.after)
    tried = []
    for count in range(most + 1):
        with_them = replace(of.after, air=replace(of.after.air, spacers=np.full(len(of.after), float(count))))
        way = _way(BY_SPACERS, of, with_them, fits_of.for_sag_pa(of, with_them, rests_m), limit)
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
    rests_m = fits_of.rests_m(of, filled)
    return Way(
        by,
        round(float(np.nanmedian(np.nan_to_num(design.air.spacers)))),
        told,
        None,
        None,
        of.told(rests_m),
        of.told(rests_m / filled.fork.travel_m),
        of.told(fits_of.end_force_n(filled)),
        limits.over(told.median, limit),
    )
