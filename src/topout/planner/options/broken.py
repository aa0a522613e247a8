"""Hard limits: what excludes an option, as codes. Each limit's number stands in `planner.limits`, or in the maker's file.

Where an option is drawn many times, a limit that more than one draw in twenty breaks excludes it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from topout.bench_file.model import Air, BenchFile, Fork, Shock
from topout.bench_file.parts import CoilSpring
from topout.physics import air_spring
from topout.physics.gas import Bools, Floats
from topout.planner import design as designs
from topout.planner import fitted, limits
from topout.planner.columns import is_word
from topout.planner.design import Design
from topout.planner.evaluate import Named
from topout.planner.inputs import Bikes
from topout.planner.options.ends import FRONT, Ends
from topout.planner.rear import Rear

MOST_SHARE: Final = 0.05  # of the draws
OF_BUILD: Final = (
    "hydraulic-lock", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length", "travel-limit", "spacer-limit",
    "port-out-of-reach", "coil-bind",
)  # fmt: skip
OF_SETTING: Final = ("no-pressure", "pressure-limit", "sag-range", "lost-travel")
OF_SHOCK: Final = (
    "no-pressure", "pressure-limit", "sag-range", "lost-travel", "hydraulic-lock", "spacer-limit", "port-out-of-reach", "coil-bind",
)  # fmt: skip
_ROOMS: Final = {
    "tyre-crown": "tyre_to_crown_m", "tyre-brace": "tyre_to_brace_m", "tyre-frame": "rear_tyre_to_frame_m",
}  # fmt: skip


def over_limit(value: Floats, limit: float | None) -> Bools:
    """Where a value lies beyond a maker's limit, by the rule of `limits.over`; nowhere without a limit.

    value [SI] (…) any; limit [SI] (one) one unit, or None → [-] (…). Raises nothing. Source: the makers' limits in the file.
    """
    if limit is None:
        return np.zeros(np.shape(value), dtype=bool)
    return np.asarray(value > limit * (1.0 + limits.EXACTLY))


def of_build(bench: BenchFile, after: Design, bikes: Bikes, room: Named) -> dict[str, Bools]:
    """What a build breaks whatever its pressure, one code a limit.

    bench [SI] (one) as read; after, bikes [SI] (n,) the same; room [m] (n,) by name → [-] (n,) by code. Raises nothing.
    Source: the makers' limits in the file; common practice, no source.
    """
    fork = bench.fork or Fork()
    reached = fitted.port_reached(after.air.port_position_m, after.air.port_length_m, after.fork.travel_m)
    result = {
        "hydraulic-lock": air_spring.locked(bikes.chambers),
        "fork-length": over_limit(
            designs.fork_length_m(after), bench.frame.fork_length_limit_m if bench.frame else None
        ),
        "travel-limit": over_limit(after.fork.travel_m, fork.travel_limit_m),
        "spacer-limit": over_limit(after.air.spacers, _of_air(bench, "spacer_limit")),
        "coil-bind": after.fork.travel_m > after.coil.bind_m * (1.0 + limits.EXACTLY),
        "port-out-of-reach": is_word(after.air.negative, "negative", "self-equalising") & ~np.asarray(reached),
    }
    for code, name in _ROOMS.items():
        result[code] = room[name] - fork.overtravel_m <= limits.TYRE_GAP_M + limits.EXACTLY  # not known: not broken
    return result


def of_shock(bench: BenchFile, after: Design, end: Rear) -> dict[str, Bools]:
    """What a shock breaks whatever its pressure, one code a limit.

    bench [SI] (one) as read; after [SI] (n,) with shocks, their change done; end [SI] (n,) the same's rear ends → [-] (n,) by
    code. Raises nothing. Source: the makers' limits in the file; physics.md 2.
    """
    of = after.shock
    assert of is not None
    reached = fitted.port_reached(of.air.port_position_m, of.air.port_length_m, of.unit.stroke_m)
    air = bench.shock.air if bench.shock is not None else None
    limit = air.pressure_limit_gauge_pa if air is not None else None
    own_valve = is_word(of.air.negative, "negative", "separate-valve")
    return {
        "hydraulic-lock": air_spring.locked(end.chambers),
        "spacer-limit": over_limit(of.air.spacers, air.spacer_limit if air is not None else None),
        "coil-bind": of.unit.stroke_m > of.coil.bind_m * (1.0 + limits.EXACTLY),
        "port-out-of-reach": is_word(of.air.negative, "negative", "self-equalising")
        & ~np.asarray(reached)
        & ~of.on_coil,
        "pressure-limit": own_valve & over_limit(of.air.negative_pressure_gauge_pa, limit),
    }


def of_shock_setting(bench: BenchFile, set_gauge_pa: Floats, share: Floats, lost_m: Floats) -> dict[str, Bools]:
    """What a pressure in the can breaks, one code a limit; sag is a share of the stroke.

    bench [SI] (one) as read; set_gauge_pa [Pa gauge] (n, 1) as the gauge shows it, NaN on a coil; share [1] (n, D) of the
    stroke at sag; lost_m [m] (n, D) of it → [-] (n, D) by code. Raises nothing. Source: the makers' limits in the file; common
    practice, no source.
    """
    air = bench.shock.air if bench.shock is not None else None
    limit = air.pressure_limit_gauge_pa if air is not None else None
    return _of_pressure(limit, set_gauge_pa, share, lost_m)


def of_setting(bench: BenchFile, set_gauge_pa: Floats, share: Floats, lost_m: Floats) -> dict[str, Bools]:
    """What a pressure breaks, one code a limit.

    bench [SI] (one) as read; set_gauge_pa [Pa gauge] (n, 1) or (n, D) as the gauge shows it; share [1] (n, D) of the
    travel at sag; lost_m [m] (n, D) 0 and more → [-] (n, D) by code. Raises nothing. Source: the makers' limits in the file; common
    practice, no source.
    """
    return _of_pressure(_of_air(bench, "pressure_limit_gauge_pa"), set_gauge_pa, share, lost_m)


def _of_pressure(limit: float | None, set_gauge_pa: Floats, share: Floats, lost_m: Floats) -> dict[str, Bools]:
    low, high = limits.SAG_SHARE_LOW + limits.EXACTLY, limits.SAG_SHARE_HIGH - limits.EXACTLY
    return {
        "pressure-limit": np.broadcast_to(over_limit(set_gauge_pa, limit), share.shape),
        "sag-range": ~((share > low) & (share < high)),
        "lost-travel": ~(lost_m < limits.LOST_TRAVEL_M - limits.EXACTLY),
    }


def often(broken: Bools) -> Bools:
    """Where more than one draw in twenty breaks it.

    broken [-] (n, D) yes or no → [-] (n,). Raises nothing. Source: none needed, the rule of bench-file.md.
    """
    return np.asarray(broken.mean(axis=-1) > MOST_SHARE)


def not_looked_at(bench: BenchFile, ends: Ends = FRONT) -> tuple[str, ...]:
    """The limits that this file can't be held against, since it does not say them: codes, those of the shock with "rear-".

    bench [SI] (one) as read; ends [-] (one) that are looked at → [-] (any) words. Raises nothing. Source: bench-file.md.
    """
    return (*(_not_in_front(bench) if ends.front else ()), *(_not_behind(bench) if ends.rear else ()))


def _not_behind(bench: BenchFile) -> tuple[str, ...]:
    shock = bench.shock or Shock()
    air, coil = shock.air, shock.coil
    others = any(isinstance(part, CoilSpring) and part.bind_m is None for part in bench.shelf)
    known = {
        "rear-coil-bind": coil is None or (coil.bind_m is not None and not others),
        "rear-pressure-limit": air is None or coil is not None or air.pressure_limit_gauge_pa is not None,
        "rear-spacer-limit": air is None or coil is not None or air.spacer_limit is not None,
    }
    return tuple(code for code, is_known in known.items() if not is_known)


def _not_in_front(bench: BenchFile) -> tuple[str, ...]:
    fork, frame = bench.fork or Fork(), bench.frame
    known = {
        "coil-bind": fork.coil is None or fork.coil.bind_m is not None,
        "pressure-limit": fork.air is None or _of_air(bench, "pressure_limit_gauge_pa") is not None,
        "tyre-crown": fork.tyre_room_m is not None and _radius_known(bench, "front"),
        "tyre-brace": fork.brace_room_m is not None and _radius_known(bench, "front"),
        "tyre-frame": frame is not None and frame.rear_tyre_room_m is not None and _radius_known(bench, "rear"),
        "fork-length": frame is not None and frame.fork_length_limit_m is not None,
        "travel-limit": fork.travel_limit_m is not None,
        "spacer-limit": fork.air is None or _of_air(bench, "spacer_limit") is not None,
    }
    return tuple(code for code, is_known in known.items() if not is_known)


def _radius_known(bench: BenchFile, end: str) -> bool:
    return (fitted.front_radius_m if end == "front" else fitted.rear_radius_m)(bench) is not None


def _of_air(bench: BenchFile, name: str) -> float | None:
    """A maker's limit of the air spring: of the part that is asked for, else of the one fitted."""
    air = (bench.fork.air if bench.fork else None) or Air()
    named = (bench.change.air if bench.change else None) or {}
    found: float | None = named.get(name, getattr(air, name))
    return found
