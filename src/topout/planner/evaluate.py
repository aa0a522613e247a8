"""Thousands of plans in one call: before and after side by side, arrays in, arrays out.

Two block sizes, both measured (docs/models.md): scalars and roots in blocks of 2,048 plans, curves in blocks of 512
inside them, written where they are wanted. Memory beyond inputs and results does not grow with the number of plans.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any, Final

import numpy as np

from topout.physics import air_spring, clearance, curves, geometry, hazards, sag
from topout.physics.air_spring import Chambers, Settled
from topout.physics.curves import Curves, Scratch
from topout.physics.gas import Bools, Floats
from topout.physics.sag import Load
from topout.planner import keep
from topout.planner.stack import Bikes
from topout.records import dataclass

SCALAR_BLOCK: Final = 2048
CURVE_BLOCK: Final = 512
POINTS: Final = 201
STANCE_NAMES: Final = (
    "head_angle_rad", "seat_angle_rad", "reach_m", "stack_m", "bb_height_m", "wheelbase_m", "front_centre_m",
    "trail_m", "mechanical_trail_m", "wheel_flop_m",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Evaluation:
    """Results of n plans; state axis first (before, after). NaN where a state is locked or a keep does not exist.

    sag_m, low_m, high_m, lost_m, load_n, end_force_n, shares…: (2, n); `unloaded` and `sagged`: (10, 2, n) in the order
    of STANCE_NAMES; `room_m`: (3, 2, n) crown, brace, frame; `hazard`: (3, 2, n) cap force, ring force, energy;
    `keep_gauge_pa`: (4, n) sag, sag share, end force, curve. `curves` (2, n, points) where asked for.
    """

    sag_m: Floats
    low_m: Floats
    high_m: Floats
    lost_m: Floats
    load_n: Floats
    end_force_n: Floats
    unloaded: Floats
    sagged: Floats
    room_m: Floats
    hazard: Floats
    keep_gauge_pa: Floats
    curves: Curves | None

    @classmethod
    def empty(cls, n: int, points: int | None) -> Evaluation:
        """Room for the results of n plans."""
        kept = None if points is None else Curves.empty(2, n, points)
        shapes = [(2, n)] * 6 + [(10, 2, n)] * 2 + [(3, 2, n)] * 2 + [(4, n)]
        parts: list[Any] = [*(np.empty(shape) for shape in shapes), kept]
        return cls(*parts)


def locked(fit: Chambers) -> Bools:
    """Where a volume runs out within the travel: main, negative, lower legs or damper gas. Shape of the chambers."""
    end = fit.travel_m
    return np.asarray(
        (fit.positive_m3 - 0.25 * np.pi * fit.bore_m**2 * end <= 0.0)
        | (fit.gas_negative & (fit.negative_m3 <= 0.0))
        | (fit.legs_m3 - fit.legs_m2 * end <= 0.0)
        | (fit.damper_m3 - fit.rod_m2 * end <= 0.0)
    )


def evaluate(
    pairs: Bikes,
    load: Load,
    *,
    kept: bool = True,
    points: int | None = POINTS,
    out: Evaluation | None = None,
    scalar_block: int = SCALAR_BLOCK,
    curve_block: int = CURVE_BLOCK,
) -> Evaluation:
    """Evaluate n plans. `pairs` has arrays of shape (2, n) (`stack.pairs`), `load` of shape (n,).

    kept: the curves are part of the result; else they pass through one reused buffer and only scalars are kept.
    points: of each curve; None computes no curve at all.
    out: an earlier result of the same shape to write into, so that no new memory is touched.
    Locked states give NaN, nothing raises. Checked against `plain` scripts and SciPy to 1e-9 (tests/second_way).
    """
    n = pairs.chambers.travel_m.shape[1]
    result = out if out is not None else Evaluation.empty(n, points if kept else None)
    if points is not None:
        rows = min(curve_block, n)
        scratch = Scratch(rows, points)
        buffer = None if result.curves is not None else Curves.empty(rows, points)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for first in range(0, n, scalar_block):
            block = slice(first, min(first + scalar_block, n))
            settled = _scalars(pairs.take((slice(None), block)), load.take(block), result, block)
            if points is None:
                continue
            for state in (0, 1):
                for start in range(0, block.stop - block.start, curve_block):
                    part = settled.take((state, slice(start, start + curve_block)))
                    count = len(part.fit.travel_m)
                    if result.curves is not None:
                        into = result.curves.rows((state, slice(first + start, first + start + count)))
                    else:
                        assert buffer is not None
                        into = buffer.rows(slice(0, count))
                    curves.fill(part, points, into, scratch)
    return result


def _scalars(pairs: Bikes, load: Load, out: Evaluation, block: slice) -> Settled:
    """Everything but the curves of one block of plans, written into `out`; the settled gas goes back."""
    stuck = locked(pairs.chambers)
    fit = pairs.chambers
    if stuck.any():
        fit = replace(fit, pressure_pa=np.where(stuck, np.nan, fit.pressure_pa))
    settled = air_spring.settle(fit)
    fitted = pairs.fitted
    unloaded = geometry.stand(pairs.chart, replace(fitted, rear_sag_m=np.zeros_like(fitted.rear_sag_m)))
    loaded = geometry.stand(pairs.chart, fitted) if fitted.rear_sag_m.any() else unloaded
    end = fit.travel_m
    at = (slice(None), block)
    sag_m, low_m, high_m = sag.at_rest_m(settled, loaded, load, pairs.friction)
    out.sag_m[at], out.low_m[at], out.high_m[at] = sag_m, low_m, high_m
    out.lost_m[at] = np.where(stuck, np.nan, sag.lost_travel_m(settled))
    sin, _ = geometry.head_angle_sine(loaded, sag_m)
    out.load_n[at] = load.axial_n + load.vertical_n * sin
    end_force = air_spring.force(settled, end)
    out.end_force_n[at] = end_force
    _write(out.unloaded, at, geometry.stance(unloaded, np.zeros_like(end)).values())
    _write(out.sagged, at, geometry.stance(loaded, sag_m).values())
    tyre, rear_tyre = fitted.front_radius_m, fitted.rear_radius_m
    rooms = (
        clearance.tyre_to_crown_m(pairs.crown_room_m, end, tyre),
        clearance.tyre_to_fixed_m(pairs.brace_room_m, tyre),
        clearance.tyre_to_fixed_m(pairs.frame_room_m, rear_tyre),
    )
    _write(out.room_m, at, rooms)
    _write(out.hazard, at, hazards.at_full_extension(settled))
    before, after = settled.take(0), settled.take(1)
    stand_after = geometry.Stand(
        loaded.chart.take(1), loaded.fitted.take(1), *(getattr(loaded, f.name)[1] for f in fields(loaded)[2:])
    )
    resting = np.where((sag_m[0] > 0.0) & (sag_m[0] < end[0]), sag_m[0], np.nan)
    keeps = (
        keep.at_load(after, stand_after, load, resting),
        keep.at_load(after, stand_after, load, resting / end[0] * end[1]),
        keep.at_end_force(after, end_force[1], end_force[0]),
        keep.at_curve(before, after),
    )
    for row, value in enumerate(keeps):
        out.keep_gauge_pa[row, block] = value
    return settled


def _write(into: Floats, at: tuple[slice, slice], values: Iterable[Any]) -> None:
    for row, value in enumerate(values):
        into[(row, *at)] = value
