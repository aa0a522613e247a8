"""From a bench file to columns: what is fitted, as arrays that the models take.

A change is applied to the file first (`changed`), so that the state after is a bench file like the one before; then
`bikes` lays any number of files side by side. Parts that a file does not describe are named by `missing`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from topout.bench_file.model import Air, BenchFile, Bumper, Fork, Frame, Wheel
from topout.physics import clearance, gas, geometry
from topout.physics.air_spring import Chambers
from topout.physics.geometry import Chart, Fitted
from topout.physics.sag import Friction


@dataclass(frozen=True, slots=True)
class Bikes:
    """One state of any number of bikes, arrays of shape (n,); room for tyres is NaN where it is not given."""

    chambers: Chambers
    chart: Chart
    fitted: Fitted
    friction: Friction
    crown_room_m: np.ndarray[Any, np.dtype[np.float64]]
    brace_room_m: np.ndarray[Any, np.dtype[np.float64]]
    frame_room_m: np.ndarray[Any, np.dtype[np.float64]]

    def take(self, index: Any) -> Bikes:
        """The same for a part of the bikes (any numpy index)."""
        return Bikes(
            self.chambers.take(index), self.chart.take(index), self.fitted.take(index), self.friction.take(index),
            self.crown_room_m[index], self.brace_room_m[index], self.frame_room_m[index],
        )  # fmt: skip


def ambient_abs_pa(bench: BenchFile) -> float:
    """Ambient pressure [Pa abs] where it is worked on: as given, or from the altitude, 0 m where left out."""
    conditions = bench.conditions
    if conditions.ambient_abs_pa is not None:
        return conditions.ambient_abs_pa
    return float(gas.ambient_abs_pa(conditions.altitude_m or 0.0))


def wheel_radius_m(wheel: Wheel | None, chart_m: float | None) -> float | None:
    """Outer radius [m]: as measured, from bead seat and tyre, or the chart's."""
    if wheel is not None and wheel.radius_m is not None:
        return wheel.radius_m
    if wheel is not None and wheel.bead_seat_m is not None and wheel.tyre_height_m is not None:
        return float(clearance.radius_m(wheel.bead_seat_m, wheel.tyre_height_m))
    return chart_m


def front_radius_m(bench: BenchFile) -> float | None:
    """The front wheel's outer radius [m], None where neither wheel nor chart gives it."""
    return wheel_radius_m(bench.front_wheel, bench.frame.front_radius_m if bench.frame else None)


def rear_radius_m(bench: BenchFile) -> float | None:
    """The rear wheel's outer radius [m], None where neither wheel nor chart gives it."""
    return wheel_radius_m(bench.rear_wheel, bench.frame.rear_radius_m if bench.frame else None)


def chart_fork_length_m(frame: Frame) -> float | None:
    """The chart's fork length along the steering axis [m]."""
    return _length(frame.fork_length_m, frame.fork_length_straight_m, frame.fork_offset_m)


def fork_offset_m(bench: BenchFile) -> float | None:
    """The fork's offset [m]; the chart's where the fork gives none."""
    if bench.fork is not None and bench.fork.offset_m is not None:
        return bench.fork.offset_m
    return bench.frame.fork_offset_m if bench.frame else None


def fork_length_m(bench: BenchFile) -> float | None:
    """The fork's length along the steering axis [m]; the chart's where the fork gives none."""
    if bench.fork is not None:
        own = _length(bench.fork.length_m, bench.fork.length_straight_m, fork_offset_m(bench))
        if own is not None:
            return own
    return chart_fork_length_m(bench.frame) if bench.frame else None


def _length(along_m: float | None, straight_m: float | None, offset_m: float | None) -> float | None:
    if along_m is not None:
        return along_m
    if straight_m is not None and offset_m is not None:
        return float(geometry.along_axis_m(straight_m, offset_m))
    return None


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
    for name in ("front_wheel", "rear_wheel"):
        wheel: Wheel | None = getattr(change, name)
        if wheel is not None:
            after = replace(after, **{name: _changed_wheel(getattr(bench, name), wheel)})
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


def missing_for_spring(bench: BenchFile) -> list[str]:
    """The keys that a force would need and the file does not give."""
    fork = bench.fork
    if fork is None:
        return ["[fork]"]
    if fork.air is None:
        return ["[fork.air]"] + (["[fork] travel"] if fork.travel_m is None else [])
    air, lacking = fork.air, []
    if fork.travel_m is None:
        lacking.append("[fork] travel")
    needs = ["bore_m", "shaft_m", "positive_volume_m3", "pressure_gauge_pa"]
    if air.negative in ("self-equalising", "separate-valve"):
        needs.append("negative_volume_m3")
    if air.negative == "separate-valve":
        needs.append("negative_pressure_gauge_pa")
    if air.negative == "coil":
        needs.append("negative_coil")
    if air.spacers:
        needs.append("spacer_volume_m3")
    words = {f.name: f.metadata["key"].word for f in fields(Air)}
    lacking += [f"[fork.air] {words[name]}" for name in needs if getattr(air, name) is None]
    for word, table in (("lower_legs", fork.lower_legs), ("damper", fork.damper), ("bumper", fork.bumper), ("top_out", fork.top_out)):
        if table is not None:
            lacking += [
                f"[fork.{word}] {f.metadata['key'].word}" for f in fields(table) if getattr(table, f.name) is None
            ]
    return lacking


def missing_for_stance(bench: BenchFile) -> list[str]:
    """The keys that the geometry would need and the file does not give."""
    frame = bench.frame
    if frame is None:
        return ["[frame]"]
    lacking = [
        f"[frame] {f.metadata['key'].word}"
        for f in fields(frame)
        if f.metadata["key"].needed and getattr(frame, f.name) is None
    ]
    if frame.fork_length_m is None and frame.fork_length_straight_m is None:
        lacking.append("[frame] fork_length")
    return lacking


def missing_for_load(bench: BenchFile) -> list[str]:
    """The keys that a load would need and the file does not give; none where the sag found stands in for them."""
    if bench.found is not None:
        return [
            f"[found] {word}"
            for word, value in (("sag", bench.found.sag_m), ("pressure", bench.found.pressure_gauge_pa))
            if value is None
        ]
    lacking = []
    rider, bike = bench.rider, bench.bike
    if rider is None:
        return ["[rider]"]
    if rider.mass_kg is None:
        lacking.append("[rider] mass")
    if rider.front_share is None:
        lacking.append("[rider] front_share")
    if bike is None:
        return [*lacking, "[bike]"]
    if bike.mass_kg is None:
        lacking.append("[bike] mass")
    if bike.unsprung_front_kg is None:
        lacking.append("[bike] unsprung_front")
    return lacking


_ABSENT = Bumper(length_m=1.0, rate_n_per_m=0.0, power=1.0)
# Stands in where a file has no frame: nothing computed from it is ever given out.
_ANY_FRAME = Frame(
    head_angle_rad=1.15, seat_angle_rad=1.3, reach_m=0.45, stack_m=0.62, chainstay_m=0.435, bb_drop_m=0.03,
    fork_length_m=0.53, fork_offset_m=0.044, front_radius_m=0.37, rear_radius_m=0.37,
)  # fmt: skip
_ANY_FORK = Fork(travel_m=0.1)
_ANY_AIR = Air(bore_m=0.03, shaft_m=0.01, positive_volume_m3=2e-4, pressure_gauge_pa=4e5, negative="none")


def _spring_row(bench: BenchFile) -> tuple[float, ...]:
    """One bike's Chambers in the order of their fields."""
    whole = not missing_for_spring(bench)
    fork = bench.fork if whole and bench.fork is not None else _ANY_FORK
    air = fork.air if fork.air is not None else _ANY_AIR
    ambient = ambient_abs_pa(bench)
    has_gas = air.negative in ("self-equalising", "separate-valve")
    equalises = port_in_reach(fork, air)
    negative_pa = ambient
    if air.negative == "separate-valve" and air.negative_pressure_gauge_pa is not None:
        negative_pa = air.negative_pressure_gauge_pa + ambient
    coil = air.negative_coil if air.negative == "coil" else None
    legs, damper = fork.lower_legs, fork.damper
    bumper, top_out = fork.bumper or _ABSENT, fork.top_out or _ABSENT
    first = max(air.port_position_m, 0.0)
    return (
        ambient, bench.conditions.fast_exponent, fork.travel_m, air.bore_m, air.shaft_m,
        (air.pressure_gauge_pa or 0.0) + ambient,
        (air.positive_volume_m3 or 0.0) - air.spacers * (air.spacer_volume_m3 or 0.0) - air.oil_on_piston_m3,
        (air.negative_volume_m3 or 0.0) - air.grease_in_negative_m3 if has_gas else 1.0,
        has_gas, equalises, negative_pa,
        first if equalises else 0.0, max(air.port_position_m + air.port_length_m, first) if equalises else 0.0,
        coil.rate_n_per_m if coil else 0.0, coil.length_m if coil else 0.0,
        legs.air_volume_m3 if legs else 1.0, legs.area_m2 if legs else 0.0,
        0.25 * np.pi * damper.rod_m**2 if damper else 0.0, damper.gas_volume_m3 if damper else 1.0,
        damper.gas_pressure_gauge_pa + ambient if damper else ambient,
        bumper.length_m, bumper.rate_n_per_m, bumper.power, top_out.length_m, top_out.rate_n_per_m, top_out.power,
    )  # type: ignore[return-value, operator]  # fmt: skip


def port_in_reach(fork: Fork, air: Air) -> bool:
    """Whether the piston comes past an equalisation port within its travel."""
    if air.negative != "self-equalising" or fork.travel_m is None:
        return False
    return air.port_position_m + air.port_length_m >= 0.0 and air.port_position_m <= fork.travel_m


def _stance_row(bench: BenchFile) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """One bike's Chart and Fitted in the order of their fields; a stand-in frame where the file has none."""
    known = not missing_for_stance(bench)
    frame = bench.frame if known and bench.frame is not None else _ANY_FRAME
    length = chart_fork_length_m(frame)
    values = (
        frame.head_angle_rad, frame.seat_angle_rad, frame.reach_m, frame.stack_m, frame.chainstay_m, frame.bb_drop_m,
        length, frame.fork_offset_m, frame.front_radius_m, frame.rear_radius_m,
    )  # fmt: skip
    chart = Chart(*values)  # type: ignore[arg-type]
    drop = geometry.drop_below_rear_axle_m(
        float(frame.bb_drop_m or 0.0), frame.bb_drop_from, float(frame.front_radius_m or 0.0),
        float(frame.rear_radius_m or 0.0), chart,
    )  # fmt: skip
    of = bench if known else replace(bench, frame=frame, fork=None, front_wheel=None, rear_wheel=None)
    rear_sag = (bench.rear_wheel.sag_m if bench.rear_wheel else None) or 0.0
    fitted = (fork_length_m(of), fork_offset_m(of), front_radius_m(of), rear_radius_m(of), rear_sag)
    return (*values[:5], drop, *values[6:]), fitted  # type: ignore[return-value]


def pairs(benches: Sequence[BenchFile]) -> Bikes:
    """Bench files with their changes, before and after: arrays of shape (2, n)."""
    both = bikes([*benches, *map(changed, benches)])
    return both.take(np.arange(2 * len(benches)).reshape(2, -1))


def bikes(benches: Sequence[BenchFile]) -> Bikes:
    """Lay bench files side by side, one state each (apply `changed` for the state after). Arrays of shape (n,)."""
    spring = [np.array(column) for column in zip(*map(_spring_row, benches), strict=True)]
    rows = [_stance_row(bench) for bench in benches]
    chart = Chart(*(np.array(column, dtype=float) for column in zip(*(r[0] for r in rows), strict=True)))
    fitted = Fitted(*(np.array(column, dtype=float) for column in zip(*(r[1] for r in rows), strict=True)))
    forks = [bench.fork or _ANY_FORK for bench in benches]
    friction = Friction(
        np.array([f.friction_n for f in forks]),
        np.array([f.friction_per_bar_n / 1e5 for f in forks]),
        np.array([f.friction_side for f in forks]),
    )

    def room(values: list[float | None]) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.array([np.nan if v is None else v for v in values])

    return Bikes(
        Chambers(*spring),
        chart,
        fitted,
        friction,
        room([f.tyre_room_m for f in forks]),
        room([f.brace_room_m for f in forks]),
        room([bench.frame.rear_tyre_room_m if bench.frame else None for bench in benches]),
    )
