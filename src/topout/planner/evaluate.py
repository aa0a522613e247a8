"""Thousands of plans in one call: before and after side by side, arrays in, arrays out.

Two block sizes, both measured (docs/models.md): scalars and roots in blocks of at most 4,096 plans, all alike, curves in
blocks of 512 inside them, written where they are wanted. Memory beyond inputs and results does not grow with the number of plans.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeAlias

import numpy as np

from topout.physics import air_spring, clearance, curves, geometry, hazards, sag
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.curves import Curves, Scratch
from topout.physics.gas import Bools, Floats
from topout.physics.sag import Load
from topout.planner import keep
from topout.planner.hazard import Hazard
from topout.planner.inputs import Bikes
from topout.planner.keeps import Keeps
from topout.planner.results import Clearance, Stance

SCALAR_BLOCK: Final = 4096
CURVE_BLOCK: Final = 512
POINTS: Final = 201
Named: TypeAlias = dict[str, Floats]  # arrays of (2, n), or (n,) for the keeps, by the names that the results bear


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Evaluation:
    """Results of n plans; state axis first (before, after). NaN where a state is locked, where something that a number
    needs is not known, or where a keep does not exist.

    Arrays of (2, n); those of one kind by the names of `results`: `unloaded` and `sagged` of Stance, `room` of Clearance,
    `hazard` of Hazard, and (n,) each `keep_gauge_pa` of Keeps. `curves` (2, n, points) where asked for.
    """

    sag_m: Floats
    low_m: Floats
    high_m: Floats
    lost_m: Floats
    load_n: Floats
    end_force_n: Floats
    unloaded: Named
    sagged: Named
    room: Named
    hazard: Named
    keep_gauge_pa: Named
    curves: Curves | None
    on_coil: dict[tuple[str, str], Floats] = field(
        default_factory=dict
    )  # of those on a coil: (keep, what is set) → (n,)

    @classmethod
    def empty(cls, n: int, points: int | None) -> Evaluation:
        """Room for the results of n plans.

        n [1] (one) 1 and more; points [1] (one) 2 and more, or None → [SI] (2, n) not yet filled. Raises nothing.
        Source: none needed, bookkeeping.
        """
        both = (2, n)
        return cls(
            sag_m=np.empty(both),
            low_m=np.empty(both),
            high_m=np.empty(both),
            lost_m=np.empty(both),
            load_n=np.empty(both),
            end_force_n=np.empty(both),
            unloaded=_room_for(Stance, both),
            sagged=_room_for(Stance, both),
            room=_room_for(Clearance, both),
            hazard=_room_for(Hazard, both),
            keep_gauge_pa=_room_for(Keeps, (n,)),
            curves=None if points is None else Curves.empty(2, n, points),
        )


def _room_for(result: type, shape: tuple[int, ...]) -> Named:
    return {name: np.empty(shape) for name in result.__slots__}  # type: ignore[attr-defined]


def evaluate(
    pairs: Bikes,
    load: Load,
    *,
    store_curves: bool = True,
    points: int | None = POINTS,
    keeps: bool = True,
    out: Evaluation | None = None,
    scalar_block: int = SCALAR_BLOCK,
    curve_block: int = CURVE_BLOCK,
) -> Evaluation:
    """Evaluate n plans. `pairs` has arrays of shape (2, n) (`inputs.pairs`), `load` of shape (n,).

    store_curves: the curves are part of the result; else they pass through one reused buffer and only scalars are kept.
    points: of each curve; None computes no curve at all.
    keeps: without them the two states of a pair may be any two of one load; their pressures are then NaN.
    out: an earlier result of the same shape to write into, so that no new memory is touched.
    Locked states give NaN, nothing raises. Checked against `plain` scripts and SciPy to 1e-9 (tests/second_way).

    pairs [SI] (2, n) any; load [N] (n,) any; store_curves, keeps [-] (one) yes or no; points [1] (one) 2 and more, or None; out [SI]
    (2, n) an earlier result, or None; scalar_block, curve_block [1] (one) 1 and more → [SI] (2, n) NaN where locked or
    not known. Raises nothing. Source: physics.md 2, 6, 7, 8 and 9.
    """
    n = pairs.chambers.travel_m.shape[1]
    if out is not None:
        out.on_coil.clear()
    result = out if out is not None else Evaluation.empty(n, points if store_curves else None)
    if points is not None:
        rows = min(curve_block, n)
        scratch = Scratch(rows, points)
        buffer = None if result.curves is not None else Curves.empty(rows, points)
    rows_at_once = -(-n // -(-n // scalar_block)) if n else 1
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for first in range(0, n, rows_at_once):
            block = slice(first, min(first + rows_at_once, n))
            settled = _scalars(pairs.take((slice(None), block)), load.take(block), result, block, keeps)
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


def _scalars(pairs: Bikes, load: Load, out: Evaluation, block: slice, with_keeps: bool) -> EquilibratedSpring:
    """Everything but the curves of one block of plans, written into `out`; the settled gas goes back."""
    fit = air_spring.computable(pairs.chambers)
    settled = air_spring.settle(fit)
    fitted = pairs.fitted
    unloaded = geometry.axle_frame(pairs.chart, replace(fitted, rear_sag_m=np.zeros_like(fitted.rear_sag_m)))
    loaded = geometry.axle_frame(pairs.chart, fitted) if fitted.rear_sag_m.any() else unloaded
    end = fit.travel_m
    at = (slice(None), block)
    sag_m, low_m, high_m = sag.at_rest_m(settled, loaded, load, pairs.friction)
    out.sag_m[at], out.low_m[at], out.high_m[at] = sag_m, low_m, high_m
    out.lost_m[at] = sag.lost_travel_m(settled)
    sin, _ = geometry.head_angle_sine(loaded, sag_m)
    out.load_n[at] = load.axial_n + load.vertical_n * sin
    end_force = air_spring.force(settled, end)
    out.end_force_n[at] = end_force
    _write(out.unloaded, at, geometry.stance(unloaded, np.zeros_like(end)), where=pairs.framed)
    _write(out.sagged, at, geometry.stance(loaded, sag_m), where=pairs.framed)
    tyre, rear_tyre = fitted.front_radius_m, fitted.rear_radius_m
    rooms = {
        "tyre_to_crown_m": clearance.tyre_to_crown_m(pairs.crown_room_m, end, tyre),
        "tyre_to_brace_m": clearance.tyre_to_fixed_m(pairs.brace_room_m, tyre),
        "rear_tyre_to_frame_m": clearance.tyre_to_fixed_m(pairs.frame_room_m, rear_tyre),
    }
    _write(out.room, at, rooms)
    can_hurt = dict(zip(out.hazard, hazards.at_full_extension(pairs.chambers), strict=True))
    _write(out.hazard, at, can_hurt, where=~air_spring.locked(pairs.chambers))
    if not with_keeps:
        for values in out.keep_gauge_pa.values():
            values[block] = np.nan
        return settled
    before, after = settled.take(0), settled.take(1)
    stand_after = loaded.take(1)
    resting = np.where((sag_m[0] > 0.0) & (sag_m[0] < end[0]), sag_m[0], np.nan)
    keeps = {
        "sag": keep.at_load(after, stand_after, load, resting),
        "sag_share": keep.at_load(after, stand_after, load, resting / end[0] * end[1]),
        "end_force": keep.at_end_force(after, end_force[1], end_force[0]),
        "curve": keep.at_curve(before, after),
    }
    _write(out.keep_gauge_pa, block, keeps)
    if after.sprung is not None:
        from topout.planner import keep_coil  # a plan without a coil starts without it

        rows = after.sprung[0]
        wanted = keep_coil.Wanted(resting, resting / end[0] * end[1], end_force[0])
        wanted = keep_coil.Wanted(*(getattr(wanted, name)[rows] for name in keep_coil.Wanted.__slots__))
        told = keep_coil.settings(before.take(rows), after.take(rows), stand_after.take(rows), load.take(rows), wanted)
        for name, values in told.items():
            whole = out.on_coil.setdefault(name, np.full(len(out.keep_gauge_pa["sag"]), np.nan))
            whole[block][rows] = values
    return settled


def _write(into: Named, at: Any, values: Named, where: Bools | None = None) -> None:
    """Write each array to its name; NaN where it is not to be given out."""
    for name, value in values.items():
        into[name][at] = value if where is None or where.all() else np.where(where, value, np.nan)
