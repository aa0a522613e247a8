"""Single questions about a job's bike after its change, answered in the workshop's units."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from topout.bench_file.model import BenchFile, End, Ride
from topout.errors import FaultsFound
from topout.planner import landing, rebound, replies, ride, target, ways, ways_words
from topout.planner.inexact import MOVING
from topout.planner.replies import Reply
from topout.planner.wanted import Wanted
from topout.web.access import preferences
from topout.web.jobs.core import lacks


@dataclass(frozen=True, slots=True)
class Answered:
    """What is said to one question, or why nothing can be: the faults in words."""

    reply: Reply | None = None
    faults: tuple[str, ...] = ()


def of_target(
    bench: BenchFile,
    *,
    sag_m: float | None,
    sag_share: float | None,
    end_force_n: float | None,
    head_angle_rad: float | None,
    trail_m: float | None,
    rear_sag_m: float | None,
    rear_share: float | None,
) -> Answered | None:
    """What to set for what is asked, None where nothing is."""
    wanted = Wanted(
        sag_m=sag_m, sag_share=sag_share, end_force_n=end_force_n, head_angle_rad=head_angle_rad, trail_m=trail_m,
        rear_sag_m=rear_sag_m, rear_share=rear_share,
    )  # fmt: skip
    if wanted == Wanted():
        return None
    return _answered(lambda: replies.to_targets(target.targets(bench, wanted, MOVING), preferences.system()))


def of_ride(bench: BenchFile, where: Ride, end: End) -> Answered:
    """What becomes of one end elsewhere; what is left out is as it is worked on."""
    there = replace(bench, ride=where)
    return _answered(lambda: replies.to_ride(ride.ride(there, MOVING, end), preferences.system()))


def of_rebound(bench: BenchFile, clicks: int | None, in_all: int | None, end: End) -> Answered:
    """Where to start with the rebound."""
    return _answered(
        lambda: replies.to_rebound(rebound.rebound(bench, clicks, in_all, MOVING, end), preferences.system())
    )


def of_landing(bench: BenchFile, end: End) -> Answered:
    """The drop that uses all the travel of one end."""
    return _answered(lambda: replies.to_landing(landing.landing(bench, MOVING, end), preferences.system()))


def of_ways(bench: BenchFile) -> Answered | None:
    """The travel asked for by each way it can be changed; None where no other is asked for, or a coil carries."""
    fork, asked = bench.fork, bench.change
    if fork is None or fork.air is None or asked is None or asked.coil or asked.travel_m in (None, fork.travel_m):
        return None
    return _answered(lambda: ways_words.to_ways(ways.ways(bench, MOVING), preferences.system()))


def _answered(work_out: Callable[[], Reply]) -> Answered:
    try:
        return Answered(work_out())
    except FaultsFound as found:
        return Answered(faults=tuple(lacks.said(found.faults)))
