"""What programs call: one bench file in, one answer out, as frozen dataclasses in SI. `import topout` shows the same names.

Where a value carries an uncertainty, or something is drawn beside `[fork] stanchion`, each number is a median and `bounds` has its
limits, by its place in the JSON; in an exact file `bounds` is None.

Pressures are absolute unless the name says gauge. What can't be computed for want of a key raises FaultsFound, which
names every key; `plan` alone computes what it can and warns of the rest. The command line is a reader of these functions.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from topout.bench_file import calls_for, checks
from topout.bench_file import read as reader
from topout.bench_file.model import BenchFile, End
from topout.errors import Fault, FaultsFound
from topout.planner import fits, inexact, state
from topout.planner import plan as planner
from topout.planner.results import Curve, Geometry, Plan, Sag
from topout.units import PSI_PA

if TYPE_CHECKING:
    from topout.bench_file.parts import Part
    from topout.planner.fill import Schedule
    from topout.planner.landing import Landing
    from topout.planner.options.option import Options
    from topout.planner.rebound import Rebound
    from topout.planner.ride import Ridden
    from topout.planner.wanted import Targets
    from topout.planner.ways import Ways

POINTS = state.POINTS


def _require(bench: BenchFile, *tables: str, also: Sequence[Fault] = ()) -> None:
    """Raise FaultsFound that names every key these tables lack, but those that are drawn; `also` what else is lacking."""
    faults = [*inexact.lacking(bench, checks.missing(bench, *tables)), *also]
    if faults:
        raise FaultsFound(faults)


def read(path: str | os.PathLike[str]) -> BenchFile:
    """Read a bench file from a disk or a pipe.

    Raises FaultsFound with every finding, each with its line; `str()` of it is fit to show.

    >>> import topout
    >>> bench = topout.read(topout.examples()["longer-travel"])
    >>> round(bench.fork.travel_m, 3), round(bench.change.travel_m, 3)
    (0.15, 0.16)
    """
    return reader.read(path)


def curve(bench: BenchFile, points: int = POINTS, *, end: End | None = None) -> Curve:
    """The spring's force along the travel: arrays of shape (points,), equally spaced, both ends included.

    `end` is "front", "rear" or, where None, what the file has, the front first. At the rear a `RearCurve`: `travel_m` is the
    shock's stroke, and with a leverage it has what the wheel has of it.
    Raises FaultsFound where the spring's tables lack a key; ValueError for fewer than two points.

    >>> import topout
    >>> bench = topout.read(topout.examples()["longer-travel"])
    >>> curve = topout.curve(bench, points=4)
    >>> [round(float(at), 3) for at in curve.travel_m]
    [0.0, 0.05, 0.1, 0.15]
    >>> bool((curve.force_n[1:] > curve.force_n[:-1]).all())
    True
    """
    if points < 2:
        raise ValueError("a curve has two points at the least: both ends")
    from topout.planner import of_draws

    if fits.end_of(bench, end) == "rear":
        _require(bench, *checks.needs_behind(bench))
        return of_draws.curve_behind(bench, points)
    _require(bench, *checks.NEEDS["curve"])
    return of_draws.curve(bench, points)


def sag(bench: BenchFile) -> Sag:
    """Where both ends rest under the rider; the load from the sag found, else from rider, bike and frame.

    Raises FaultsFound where a key lacks, or the sag found lies beyond the travel.

    >>> import topout
    >>> sag = topout.sag(topout.read(topout.examples()["load-from-the-sag-found"]))
    >>> round(sag.front.travel_m, 4), round(sag.front.share, 2)
    (0.036, 0.24)
    """
    _require(bench, *checks.needs_of_sag(bench), also=checks.lacks_behind(bench))
    from topout.planner import of_draws

    return of_draws.sag(bench)


def geometry(bench: BenchFile) -> Geometry:
    """How the bike stands, at full extension and (where a load is known, else None) at sag. Angles in radians.

    Raises FaultsFound where `[frame]` lacks a key.

    >>> import math, topout
    >>> stands = topout.geometry(topout.read(topout.examples()["longer-travel"]))
    >>> round(math.degrees(stands.unloaded.head_angle_rad), 1)
    65.5
    >>> stands.sagged.head_angle_rad > stands.unloaded.head_angle_rad
    True
    """
    _require(bench, *checks.NEEDS["geometry"])
    from topout.planner import of_draws

    result = of_draws.stance(bench)
    assert result is not None, "the frame is whole"
    return result


def plan(bench: BenchFile, *, curves: bool = False) -> Plan:
    """The bike as it is, as `[change]` would have it, what differs, what to set. With `curves` both force curves too.

    What can't be computed is None, and a warning `missing-input` names the key. `keep` holds gauge pressures.
    Where `[fork] stanchion` is given, what a workshop can't know is drawn (`bounds` says how far the answer is known then).
    Raises FaultsFound where the sag found lies beyond the travel.

    >>> import topout
    >>> bench = topout.read(topout.examples()["longer-travel"])
    >>> answer = topout.plan(bench)
    >>> answer.after.sag.front.travel_m > answer.before.sag.front.travel_m
    True
    >>> round(answer.keep.sag_share.pressure_pa / 6894.757)  # psi
    65
    >>> [warned.code for warned in answer.warnings]
    ['load-assumed']
    """
    return planner.plan(bench, curves=curves, draws=inexact.AT_REST)


def inflate(
    bench: BenchFile,
    to_gauge_pa: float | None = None,
    *,
    stops_gauge_pa: Sequence[float] = (),
    gauge_step_pa: float = PSI_PA,
    hose_m3: float = 0.0,
) -> Schedule:
    """The readings to expect while filling to a gauge pressure [Pa], the file's own where None; stops on the way rise.

    `gauge_step_pa` is what the gauge can show; with a hose [m³] each round has what a gauge pushed on again reads.
    Raises FaultsFound where `[fork]` or `[fork.air]` lacks a key, OutOfRange at a stop that does not rise or is not
    below the last pressure.

    >>> import topout
    >>> bench = topout.read(topout.examples()["port-further-in"])
    >>> filling = topout.inflate(bench, 70 * 6894.757, hose_m3=3e-6)
    >>> filling.settled_after
    3
    >>> [round(each.after_stroke_gauge_pa / 6894.757, 1) for each in filling.rounds]
    [57.2, 67.7, 69.6]
    """
    fork = bench.fork
    if to_gauge_pa is not None and fork is not None and fork.air is not None:
        set_to = replace(bench, fork=replace(fork, air=replace(fork.air, pressure_gauge_pa=to_gauge_pa)))
        # what the file's pressure may be off says nothing of the one that is asked for
        bench = replace(set_to, doubts=tuple(off for off in bench.doubts if off.key != "fork.air.pressure"))
    if fork is None and bench.shock is not None:
        raise FaultsFound(
            [Fault("[shock]", "the filling schedule is a fork’s; a shock is filled by the steps of its job.")]
        )
    _require(bench, *checks.NEEDS["inflate"])
    if calls_for.on_coil(bench):
        raise FaultsFound([Fault("[fork.coil]", "this fork stands on a coil: there is nothing to pump.")])
    assert bench.fork is not None and bench.fork.air is not None and bench.fork.air.pressure_gauge_pa is not None
    from topout.planner import of_draws

    return of_draws.schedule(bench, bench.fork.air.pressure_gauge_pa, stops_gauge_pa, gauge_step_pa, hose_m3)


def target(
    bench: BenchFile,
    *,
    sag_m: float | None = None,
    sag_share: float | None = None,
    end_force_n: float | None = None,
    end_force_more_n: float | None = None,
    head_angle_rad: float | None = None,
    trail_m: float | None = None,
    bb_height_m: float | None = None,
    rear_sag_m: float | None = None,
    rear_share: float | None = None,
) -> Targets:
    """What to set or fit for what is asked of the bike after its change; ways to it, best first.

    `end_force_more_n` is against the bike as it is; the stance is that at full extension, reached by a fork's length; a rear sag is one of
    the shock's stroke.

    Raises FaultsFound where a key lacks or a sag is not inside the travel.

    >>> import topout
    >>> bench = topout.read(topout.examples()["longer-travel"])
    >>> found = topout.target(bench, sag_share=0.2).targets[0]
    >>> round(found.ways[0].pressure_gauge_pa.median / 6894.757)  # psi
    68
    """
    from topout.planner import target as of_target
    from topout.planner.wanted import Wanted

    wanted = Wanted(
        sag_m=sag_m,
        sag_share=sag_share,
        end_force_n=end_force_n,
        end_force_more_n=end_force_more_n,
        head_angle_rad=head_angle_rad,
        trail_m=trail_m,
        bb_height_m=bb_height_m,
        rear_sag_m=rear_sag_m,
        rear_share=rear_share,
    )
    return of_target.targets(bench, wanted)


def ways(bench: BenchFile) -> Ways:
    """The travel that `[change]` asks for by another shaft, a spacer under the air piston, another chassis, side by side.

    Of a fork of which something is drawn each figure is the middle, with its limits in the `of` of its way.

    Raises FaultsFound where a key lacks or no other travel is asked for.

    >>> import topout
    >>> found = topout.ways(topout.read(topout.examples()["piston-spacer"]))
    >>> [way.by for way in found.ways]
    ['shaft', 'piston-spacer', 'chassis']
    >>> found.ways[1].positive_m3 < found.ways[0].positive_m3  # the spacer takes room from the main chamber
    True
    """
    from topout.planner import ways as of_ways

    return of_ways.ways(bench)


def landing(bench: BenchFile, *, end: End | None = None) -> Landing:
    """The drop that just uses all the travel of one end by its spring alone, before and after the change.

    `end` is "front", "rear" or, where None, what the file has, the front first. Raises FaultsFound where a key lacks.

    >>> import topout
    >>> drop = topout.landing(topout.read(topout.examples()["longer-travel"]))
    >>> drop.after.median > drop.before.median
    True
    """
    from topout.planner import landing as of_landing

    return of_landing.landing(bench, end=end)


def ride(
    bench: BenchFile, *, temperature_k: float | None = None, altitude_m: float | None = None, end: End | None = None
) -> Ridden:
    """What becomes of the bike after its change where it is ridden, and the gauge pressure to set here for the same sag.

    Temperature [K] and height [m] of the file's `[ride]`, or these; `end` as in `landing`: at the rear `sag_m` is of the shock's
    stroke. Raises FaultsFound where a key lacks.

    >>> import topout
    >>> winter = topout.ride(topout.read(topout.examples()["longer-travel"]), temperature_k=268.15)
    >>> round((winter.there.gauge_pa.median - winter.here.gauge_pa.median) / 6894.757)  # psi
    -7
    """
    from topout.bench_file.model import Ride
    from topout.planner import ride as of_ride

    where = bench.ride or Ride()
    if temperature_k is not None:
        where = replace(where, temperature_k=temperature_k)
    if altitude_m is not None:
        where = replace(where, altitude_m=altitude_m)
    return of_ride.ride(replace(bench, ride=where), end=end)


def rebound(
    bench: BenchFile, clicks: int | None = None, in_all: int | None = None, *, end: End | None = None
) -> Rebound:
    """Where to start with the rebound after the change: clicks from closed as they were, scaled by the spring's rate at sag.

    Critical damping grows as the square root of the rate; at the rear, `end` as in `landing`, of the wheel's rate, and as the
    square of the leverage ratio. A start to be ridden, no setting. Raises FaultsFound where a key lacks.

    >>> import topout
    >>> start = topout.rebound(topout.read(topout.examples()["longer-travel"]), clicks=8)
    >>> round(start.damping_ratio.median, 2), start.clicks
    (1.0, 8)
    """
    from topout.planner import rebound as of_rebound

    return of_rebound.rebound(bench, clicks, in_all, end=end)


def options(
    bench: BenchFile,
    shelf: Sequence[Part] | None = None,
    *,
    limit: int | None = None,
    family: str | None = None,
    rear_family: str | None = None,
    end: Literal["front", "rear", "both"] | None = None,
    wanted: Mapping[str, float] | None = None,
    offsets_m: Sequence[float] = (),
    gauge_step_pa: float = PSI_PA,
) -> Options:
    """What to fit and set so that the bike sits and springs as it did, with what `[change]` asks for; the nearest first.

    What `[change]` does not name may change: travel, volume spacers, tyres, pressure, behind the shock's stroke, spacers, coil,
    preload and pressure, by the parts of the file's `[[shelf]]` or those given; `end` says at which end, None at those that
    `[change]` or `wanted` names. With `wanted` (the keywords of `target`) the nearest to that comes first. `offsets_m` are tried too. Options that break a limit are counted in `excluded`; those left are the ones
    that no other beats in stance at sag, spring curve, cost and waiting time. `neutral` has the fork length and the travel
    that keep head angle, trail or bottom bracket. `gauge_step_pa` is what the gauge can show, `family` and `rear_family` are fork's and shock's own.
    Raises FaultsFound where the spring or the load lacks a key; ValueError for a limit below one.

    >>> import topout
    >>> bench = topout.read(topout.examples()["parts-on-the-shelf"])
    >>> answer = topout.options(bench, limit=3)
    >>> [(round(each.travel_m, 3), each.spacers, each.cost) for each in answer.options]
    [(0.12, 0, None), (0.13, 3, 191.0), (0.13, 1, 173.0)]
    >>> round(answer.neutral["head-angle"].travel_m, 3)
    0.13
    """
    from topout.planner.options import answer
    from topout.planner.wanted import Wanted

    if limit is not None and limit < 1:
        raise ValueError("one option is the least that can be asked for")
    return answer.options(
        bench, shelf, limit=limit, family=family, rear_family=rear_family, end=end, wanted=Wanted(**(wanted or {})),
        offsets_m=offsets_m, gauge_mark_pa=gauge_step_pa,
    )  # fmt: skip
