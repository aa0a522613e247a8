"""From a bench file to columns: what is fitted, as arrays that the models take.

A change is applied to the file first (`change.changed`), then `bikes` lays any number of files side by side. Where a
file does not describe a part another stands in, and `missing` names what lacks: nothing computed from it is given out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from topout.bench_file.model import Air, BenchFile, Bumper, Fork, Frame
from topout.physics import geometry
from topout.physics.air_spring import Chambers
from topout.physics.geometry import Chart, Fitted
from topout.physics.sag import Friction
from topout.planner import missing
from topout.planner.change import changed
from topout.planner.fitted import (
    ambient_abs_pa,
    chart_fork_length_m,
    fork_length_m,
    fork_offset_m,
    front_radius_m,
    port_in_reach,
    rear_radius_m,
)
from topout.records import dataclass


@dataclass(frozen=True, slots=True, eq=False, repr=False)
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


_ABSENT = Bumper(length_m=1.0, rate_n_per_m=0.0, power=1.0)
# Stands in where a file has no frame: nothing computed from it is ever given out.
_ANY_FRAME = Frame(
    head_angle_rad=1.15, seat_angle_rad=1.3, reach_m=0.45, stack_m=0.62, chainstay_m=0.435, bb_drop_m=0.03,
    fork_length_m=0.53, fork_offset_m=0.044, front_radius_m=0.37, rear_radius_m=0.37,
)  # fmt: skip
_ANY_FORK = Fork(travel_m=0.1)
_ANY_AIR = Air(bore_m=0.03, shaft_m=0.01, positive_volume_m3=2e-4, pressure_gauge_pa=4e5, negative="none")


def _spring_row(bench: BenchFile) -> tuple[Any, ...]:
    """One bike's Chambers in the order of their fields."""
    whole = not missing.for_spring(bench)
    fork = bench.fork if whole and bench.fork is not None else _ANY_FORK
    air = fork.air if fork.air is not None else _ANY_AIR
    ambient = ambient_abs_pa(bench)
    has_gas = air.negative in ("self-equalising", "separate-valve")
    equalises = port_in_reach(fork, air)
    negative_pa = ambient
    if air.negative == "separate-valve" and air.negative_pressure_gauge_pa is not None:
        negative_pa = air.negative_pressure_gauge_pa + ambient
    coil = air.negative_coil if air.negative == "coil" else None
    legs: Any = fork.lower_legs  # whole here: what is missing of a table has been named by now
    damper: Any = fork.damper
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
    )  # fmt: skip


def _stance_row(bench: BenchFile) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    """One bike's Chart and Fitted in the order of their fields; a stand-in frame where the file has none."""
    known = not missing.for_stance(bench)
    frame = bench.frame if known and bench.frame is not None else _ANY_FRAME
    length = chart_fork_length_m(frame)
    values: tuple[Any, ...] = (
        frame.head_angle_rad, frame.seat_angle_rad, frame.reach_m, frame.stack_m, frame.chainstay_m, frame.bb_drop_m,
        length, frame.fork_offset_m, frame.front_radius_m, frame.rear_radius_m,
    )  # fmt: skip
    chart = Chart(*values)
    drop = geometry.drop_below_rear_axle_m(
        float(frame.bb_drop_m or 0.0), frame.bb_drop_from, float(frame.front_radius_m or 0.0),
        float(frame.rear_radius_m or 0.0), chart,
    )  # fmt: skip
    of = bench if known else replace(bench, frame=frame, fork=None, front_wheel=None, rear_wheel=None)
    rear_sag = (bench.rear_wheel.sag_m if bench.rear_wheel else None) or 0.0
    fitted = (fork_length_m(of), fork_offset_m(of), front_radius_m(of), rear_radius_m(of), rear_sag)
    return (*values[:5], drop, *values[6:]), fitted


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
