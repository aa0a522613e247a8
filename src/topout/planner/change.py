"""A change applied to a bench file, so that the state after is a bench file like the one before."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from topout.bench_file.model import Air, BenchFile, Fork, Wheel
from topout.planner.fitted import fork_length_m


def changed(bench: BenchFile) -> BenchFile:
    """The bike after the change; what the change does not name stays, the pressure too.

    Shaft: chambers as they are, the fork as much longer as the travel. Piston spacer of thickness Δ = S − S′: top-out
    moves in by Δ, so main chamber − A_p·Δ, negative + A_n·Δ less the spacer itself, port Δ nearer to full extension.
    Chassis: as the change's own [change.air] says. Room at the crown grows with the fork.
    """
    change = bench.change
    if change is None:
        return bench
    after = bench
    if bench.fork is not None:
        after = replace(after, fork=_changed_fork(bench, bench.fork))
    if change.front_wheel is not None:
        after = replace(after, front_wheel=_changed_wheel(bench.front_wheel, change.front_wheel))
    if change.rear_wheel is not None:
        after = replace(after, rear_wheel=_changed_wheel(bench.rear_wheel, change.rear_wheel))
    if bench.fork is None and (change.fork_length_m is not None or change.offset_m is not None):
        after = replace(after, fork=Fork(length_m=change.fork_length_m, offset_m=change.offset_m))
    return replace(after, change=None)


def _changed_wheel(old: Wheel | None, new: Wheel) -> Wheel:
    """A wheel's size is one thing: naming any of it replaces the size, but a tyre alone keeps its bead seat."""
    if new.radius_m is not None:
        size = {"bead_seat_m": None, "tyre_height_m": None, "radius_m": new.radius_m}
    else:
        size = {
            "bead_seat_m": new.bead_seat_m or (old.bead_seat_m if old else None),
            "tyre_height_m": new.tyre_height_m or (old.tyre_height_m if old else None),
            "radius_m": None,
        }
        if new.bead_seat_m is None and new.tyre_height_m is None:
            size["radius_m"] = old.radius_m if old else None
    sag = new.sag_m if new.sag_m is not None else (old.sag_m if old else None)
    return Wheel(**size, sag_m=sag)


def _changed_fork(bench: BenchFile, fork: Fork) -> Fork:
    change = bench.change
    assert change is not None
    longer_m = 0.0
    if change.travel_m is not None and fork.travel_m is not None:
        longer_m = change.travel_m - fork.travel_m
    length = fork_length_m(bench)
    new_length = change.fork_length_m
    if new_length is None and length is not None:
        new_length = length + longer_m
    room = fork.tyre_room_m
    if room is not None and length is not None and new_length is not None:
        room = room + (new_length - length)
    elif room is not None:
        room = room + longer_m
    return replace(
        fork,
        travel_m=change.travel_m if change.travel_m is not None else fork.travel_m,
        length_m=new_length,
        length_straight_m=None,
        offset_m=change.offset_m if change.offset_m is not None else fork.offset_m,
        tyre_room_m=room,
        air=_changed_air(bench, fork.air, longer_m) if fork.air is not None else None,
    )


def _changed_air(bench: BenchFile, air: Air, longer_m: float) -> Air:
    change = bench.change
    assert change is not None
    new: dict[str, Any] = {}
    if change.by == "piston-spacer" and longer_m != 0.0 and air.bore_m is not None and air.shaft_m is not None:
        piston_m2 = 0.25 * np.pi * air.bore_m**2
        annulus_m2 = piston_m2 - 0.25 * np.pi * air.shaft_m**2
        solid = change.spacer_solid_volume_m3 or 0.0
        solid = solid if longer_m < 0.0 else -solid  # a spacer taken out gives its own volume back
        if air.positive_volume_m3 is not None:
            new["positive_volume_m3"] = air.positive_volume_m3 + piston_m2 * longer_m
        if air.negative_volume_m3 is not None:
            new["negative_volume_m3"] = air.negative_volume_m3 - annulus_m2 * longer_m - solid
        new["port_position_m"] = air.port_position_m + longer_m
    if change.spacers is not None:
        new["spacers"] = change.spacers
    if change.pressure_gauge_pa is not None:
        new["pressure_gauge_pa"] = change.pressure_gauge_pa
    return replace(air, **(new | (change.air or {})))
