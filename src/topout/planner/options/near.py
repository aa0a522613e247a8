"""How near an option comes to what is wanted: a sag, a force at the end, a figure of the stance; else to the bike as it is.

The words for what may be wanted are those of `topout target` (`planner.wanted`).
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from topout.errors import Fault, FaultsFound
from topout.physics import air_spring, geometry
from topout.physics.gas import Floats
from topout.planner import keep, limits
from topout.planner.design import Design
from topout.planner.options.ends import Ends
from topout.planner.options.states import TRAIL_CHANGE_M, Before, Builds, States
from topout.planner.options.world import World
from topout.planner.wanted import INSIDE_STROKE, INSIDE_TRAVEL, Wanted

SAG_SHARE: Final = 0.05  # what a rider must learn again, as a degree of head angle is (common practice, no source)
END_SHARE: Final = 0.10  # of the force at the end


def judge(of: World, wanted: Wanted) -> None:
    """Raise FaultsFound where a sag is wanted that is not inside any travel or stroke; all that is wrong at once.

    of [SI] (one) the bikes; wanted [SI] (one) any → nothing. Raises FaultsFound where a sag lies beyond the end. Source: none needed, bookkeeping.
    """
    faults = []
    if wanted.sag_m is not None and wanted.sag_m >= float(np.max(of.design.fork.travel_m)):
        faults.append(Fault("--target", INSIDE_TRAVEL))
    shock = of.design.shock
    if wanted.rear_sag_m is not None and shock is not None and wanted.rear_sag_m >= float(np.max(shock.unit.stroke_m)):
        faults.append(Fault("--target", INSIDE_STROKE))
    if faults:
        raise FaultsFound(faults)


def for_spring_pa(of: World, was: Before, built: Builds, wanted: Wanted) -> Floats:
    """The true gauge pressures [Pa] of the fork that give what is wanted of it, the sag before the force at the end.

    of [SI] (one) D draws; was [SI] (D,) before; built [SI] (n·D,) way by way; wanted [SI] (one) something of the spring → [Pa
    gauge] (n·D,) NaN where none in range does. Raises nothing. Source: physics.md 2 and 7, linear in the pressure.
    """
    which = np.tile(np.arange(len(of)), len(built.after) // len(of))
    travel_m = built.after.fork.travel_m
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spring = air_spring.settle(air_spring.computable(built.bikes.chambers))
        if wanted.sag_m is not None or wanted.sag_share is not None:
            at_m = (
                np.full_like(travel_m, wanted.sag_m)
                if wanted.sag_m is not None
                else (wanted.sag_share or 0.0) * travel_m
            )
            stand = geometry.axle_frame(built.bikes.chart, built.bikes.fitted)
            return keep.at_load(spring, stand, of.loads.load.take(which), at_m)
        return keep.at_end_force(spring, built.end_force_n, _end_n(was, wanted)[which])


def _end_n(was: Before, wanted: Wanted) -> Floats:
    """The force [N] that is wanted at the end of the travel, (D,)."""
    if wanted.end_force_n is not None:
        return np.full_like(was.end_force_n, wanted.end_force_n)
    return was.end_force_n + (wanted.end_force_more_n or 0.0)


def miss(wanted: Wanted, of: World, was: Before, after: Design, rows: Any, at: States, rear_share: Floats) -> Floats:
    """How far settings lie from what is wanted, in what a rider must learn again, draw by draw.

    √Σ of: sag by 5 % of travel or stroke, the force at the end by 10 %, head angle by 1°, bottom bracket and trail by 8 mm,
    those three at full extension as `topout target` has them.

    wanted [SI] (one) something; of [SI] (one) D draws; was [SI] (D,) before; after [SI] (m·D,) builds; rows [1] (n,) the build
    of each setting; at [SI] (n, D) the settings; rear_share [1] (n, D) of the stroke at sag → [1] (n, D). Raises nothing.
    Source: common practice, no source.
    """
    draws = len(of)
    index = rows[:, None] * draws + np.arange(draws)
    travel_m = after.fork.travel_m[index]
    gaps = []
    if wanted.sag_share is not None:
        gaps.append((at.share - wanted.sag_share) / SAG_SHARE)
    if wanted.sag_m is not None:
        gaps.append((at.sag_m - wanted.sag_m) / travel_m / SAG_SHARE)
    if wanted.end_force_n is not None or wanted.end_force_more_n is not None:
        end_n = _end_n(was, wanted)
        gaps.append((at.end_force_n / end_n - 1.0) / END_SHARE)
    if wanted.rear_share is not None:
        gaps.append((rear_share - wanted.rear_share) / SAG_SHARE)
    if wanted.rear_sag_m is not None and after.shock is not None:
        gaps.append((rear_share - wanted.rear_sag_m / after.shock.unit.stroke_m[index]) / SAG_SHARE)
    if wanted.head_angle_rad is not None:
        gaps.append((at.unloaded["head_angle_rad"] - wanted.head_angle_rad) / limits.HEAD_ANGLE_CHANGE_RAD)
    if wanted.trail_m is not None:
        gaps.append((at.unloaded["trail_m"] - wanted.trail_m) / TRAIL_CHANGE_M)
    if wanted.bb_height_m is not None:
        gaps.append((at.unloaded["bb_height_m"] - wanted.bb_height_m) / limits.BB_CHANGE_M)
    result: Floats = np.sqrt(sum((gap**2 for gap in gaps), np.zeros(at.share.shape)))
    return result


def of_both_ends(ends: Ends, front: Floats, rear: Floats) -> Floats:
    """How far the springs lie from those before: of the end that is looked at, of both the root of the sum of squares.

    ends [-] (one) that are looked at; front, rear [1] (n, D) 0 and more → [1] (n, D). Raises nothing. Source: none needed, a definition.
    """
    if not ends.rear:
        return front
    return np.hypot(front, rear) if ends.front else rear
