"""What to set at the rear shock for a sag that is asked for: a share of its stroke, or millimetres of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.errors import Fault
from topout.physics import air_spring, leverage
from topout.physics.gas import Floats
from topout.planner import change, keep, limits, missing, rear
from topout.planner.fits import Fits
from topout.planner.wanted import INSIDE_STROKE, RearTarget, Wanted


def faults(of: Fits, wanted: Wanted) -> Iterator[Fault]:
    """What speaks against a sag that is asked for at the rear: no shock, or one that is not inside its stroke.

    of [SI] (n,) the bikes; wanted [SI] (one) with a rear sag or without → [-] (1) at most. Raises nothing. Source:
    bench-file.md.
    """
    if not wanted.at_rear:
        return
    behind = rear.rear(of.after)
    if behind is None or of.loads.behind_n is None:
        yield missing.needed("[shock]", "is needed for a sag at the rear")
    elif wanted.rear_sag_m is not None and not 0.0 < wanted.rear_sag_m < float(np.min(behind.chambers.travel_m)):
        yield Fault("--rear-sag", INSIDE_STROKE)


def targets(bench: BenchFile, of: Fits, wanted: Wanted, *, by_stroke: bool = False) -> Iterator[RearTarget]:
    """The pressure of the can, or the coil's rate as it is wound up and its preload, at which the rear end rests so far in.

    bench [SI] (one) as read; of [SI] (n,) its bikes; wanted [SI] (one) of which `faults` finds none; by_stroke [-] (one) whether they are
    shocks alone (`shock_alone`), so that nothing is told of the wheel → [SI] (2) at most. Raises
    nothing. Source: physics.md 2 and 7, derived: linear in pressure and rate.
    """
    behind = rear.rear(of.after)
    if not wanted.at_rear or behind is None:
        return
    stroke_m = behind.chambers.travel_m
    asked = [] if wanted.rear_sag_m is None else [np.full(len(of.after), wanted.rear_sag_m)]
    asked += [] if wanted.rear_share is None else [wanted.rear_share * stroke_m]
    for at_m in asked:
        told = _target(bench, of, behind, at_m)
        without = replace(told, wheel_m=None, share_of_wheel_travel=None, wheel_end_force_n=None)
        yield without if by_stroke else told


def _target(bench: BenchFile, of: Fits, behind: rear.Rear, at_m: Floats) -> RearTarget:
    assert of.loads.behind_n is not None and of.after.shock is not None
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spring = air_spring.settle(air_spring.computable(behind.chambers))
        wheel_m = leverage.wheel_travel_m(behind.linkage, at_m)
        _, ratio, _ = leverage.at(behind.linkage, wheel_m)
        wanted_n = of.loads.behind_n * ratio
        on_coil = behind.chambers.spring_n_per_m > 0.0
        gauge_pa = np.where(on_coil, np.nan, keep.at_force(spring, at_m, wanted_n))
        rate = (
            np.where(on_coil, keep.coil_rate(spring, at_m, wanted_n), np.nan)
            if on_coil.any()
            else np.full_like(at_m, np.nan)
        )
        preload_m = keep.coil_preload(spring, at_m, wanted_n)
    shock = of.after.shock
    fitted = replace(
        shock,
        air=replace(shock.air, pressure_gauge_pa=np.where(on_coil, shock.air.pressure_gauge_pa, gauge_pa)),
        coil=replace(shock.coil, rate_n_per_m=np.where(on_coil, rate, shock.coil.rate_n_per_m)),
    )
    after = change.changed(bench).shock
    limit = after.air.pressure_limit_gauge_pa if after is not None and after.air is not None else None
    told = of.told(of.shown_pa(gauge_pa))
    as_fitted = rear.rear(replace(of.after, shock=fitted))
    assert as_fitted is not None
    return RearTarget(
        of.told(at_m), of.told(at_m / behind.chambers.travel_m), of.told(wheel_m), of.told(wheel_m / behind.end_m), told,
        of.told(rate), of.told(rear.wheel_end_force_n(as_fitted)),
        limit if told is not None and limits.over(told.median, limit) else None, of.told(preload_m),
    )  # fmt: skip
