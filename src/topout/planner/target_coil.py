"""What is asked of a fork on a coil: another spring, wound up as this one is, or this one wound up otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from topout.physics import geometry
from topout.physics.gas import Floats
from topout.planner import fits as fits_of
from topout.planner import inputs, keep_coil
from topout.planner.columns import Coil
from topout.planner.fits import Fits
from topout.planner.wanted import BY_PRELOAD, BY_RATE, Target, Wanted, Way


def targets(of: Fits, wanted: Wanted) -> Iterator[Target]:
    """The answer to everything that is asked of the spring.

    of [SI] (n,) bikes on coils after their change; wanted [SI] (one) at least one thing → [SI] (any) answers. Raises
    nothing. Source: physics.md 2 and 7, derived: linear in rate and preload.
    """
    travel_m = of.after.fork.travel_m
    nothing = np.full(len(of.after), np.nan)
    if wanted.sag_m is not None:
        yield _target("sag", "sag", of, np.full(len(of.after), wanted.sag_m), nothing)
    if wanted.sag_share is not None:
        yield _target("sag-share", "sag", of, wanted.sag_share * travel_m, nothing)
    if wanted.end_force_n is not None:
        yield _target("end-force", "end_force", of, nothing, np.full(len(of.after), wanted.end_force_n))
    if wanted.end_force_more_n is not None:
        end_n = fits_of.end_force_n(of.before) + wanted.end_force_more_n
        yield _target("end-force", "end_force", of, nothing, end_n)


def _target(asked: str, held: str, of: Fits, rests_m: Floats, end_n: Floats) -> Target:
    bikes = inputs.bikes(of.after)
    spring, stand = fits_of.settled(of.after), geometry.axle_frame(bikes.chart, bikes.fitted)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = keep_coil.settings(spring, spring, stand, of.loads.load, keep_coil.Wanted(rests_m, rests_m, end_n))
    rate, preload = found[held, "rate_n_per_m"], found[held, "preload_m"]
    coil = of.after.coil
    ways = (
        _way(BY_RATE, of, rate, replace(coil, rate_n_per_m=rate)),
        _way(BY_PRELOAD, of, preload, replace(coil, preload_m=preload)),
    )
    asked_for = {"sag": rests_m, "sag-share": rests_m / of.after.fork.travel_m}.get(asked, end_n)
    return Target(asked, of.told(asked_for), tuple(way for way in ways if way is not None))


def _way(by: str, of: Fits, setting: Floats, coil: Coil) -> Way | None:
    """What a setting gives; None where none in range does it on nearly all bikes."""
    told = of.told(setting)
    if told is None:
        return None
    fitted = replace(of.after, coil=coil)
    rests_m = fits_of.rests_m(of, fitted)
    share = of.told(rests_m / fitted.fork.travel_m)
    rate, preload = (told, None) if by == BY_RATE else (None, told)
    return Way(by, None, None, rate, preload, of.told(rests_m), share, of.told(fits_of.end_force_n(fitted)), False)
