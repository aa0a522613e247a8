"""What is fitted: lengths and radii with the chart standing in, ambient pressure, and whether a port is reached.

Each rule stands once and takes floats or columns, NaN where a value is not known; the functions of a bench file ask it
for one bike and answer None there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from topout.bench_file.model import Air, BenchFile, Fork, Frame, Shock, Wheel
from topout.physics import clearance, gas, geometry
from topout.physics.gas import Number
from topout.planner.columns import first_known

# How a unit stands that nothing holds in, by its noun, as the trade says it.
STANDS_AT: Final[Mapping[str, str]] = {"fork": "full extension", "shock": "free length"}


def ambient_from_pa(given_abs_pa: Number, altitude_m: Number) -> Number:
    """Ambient pressure [Pa abs]: as given, or from the altitude [m], 0 m where that is not known either.

    given_abs_pa [Pa abs] (…) any; altitude_m [m] (…) −400 to 6,000 → [Pa abs] (…). Raises nothing. Source: US Standard
    Atmosphere 1976.
    """
    return first_known(given_abs_pa, gas.ambient_abs_pa(first_known(altitude_m, 0.0)))


def radius_from_m(radius_m: Number, bead_seat_m: Number, tyre_height_m: Number, chart_m: Number) -> Number:
    """A wheel's outer radius [m]: as measured, from bead seat and tyre, or the chart's.

    radius_m, bead_seat_m, tyre_height_m, chart_m [m] (…) above 0 → [m] (…). Raises nothing. Source: physics.md 8.
    """
    return first_known(radius_m, clearance.radius_m(bead_seat_m, tyre_height_m), chart_m)


def length_from_m(along_m: Number, straight_m: Number, offset_m: Number) -> Number:
    """A fork's length along the steering axis [m]: as given, or from the straight line.

    along_m, straight_m, offset_m [m] (…) any → [m] (…). Raises nothing. Source: physics.md 6.
    """
    return first_known(along_m, geometry.along_axis_m(straight_m, offset_m))


def port_reached(position_m: Number, length_m: Number, travel_m: Number) -> Number:
    """Whether the piston comes past a port within its travel [m]; taken to where the travel is not known.

    position_m, length_m, travel_m [m] (…) any → [-] (…). Raises nothing. Source: physics.md 2.
    """
    return ~(np.asarray(position_m) > travel_m) & (np.asarray(position_m) + length_m >= 0.0)


def ambient_abs_pa(bench: BenchFile) -> float:
    """Ambient pressure [Pa abs] where it is worked on: as given, or from the altitude, 0 m where left out.

    bench [SI] (one) as read → [Pa abs] (one). Raises nothing. Source: US Standard Atmosphere 1976.
    """
    conditions = bench.conditions
    return float(ambient_from_pa(_known(conditions.ambient_abs_pa), _known(conditions.altitude_m)))


def front_radius_m(bench: BenchFile) -> float | None:
    """The front wheel's outer radius [m], None where neither wheel nor chart gives it.

    bench [SI] (one) as read → [m] (one) or None. Raises nothing. Source: physics.md 8.
    """
    return _wheel_radius_m(bench.front_wheel, bench.frame.front_radius_m if bench.frame else None)


def rear_radius_m(bench: BenchFile) -> float | None:
    """The rear wheel's outer radius [m], None where neither wheel nor chart gives it.

    bench [SI] (one) as read → [m] (one) or None. Raises nothing. Source: physics.md 8.
    """
    return _wheel_radius_m(bench.rear_wheel, bench.frame.rear_radius_m if bench.frame else None)


def _wheel_radius_m(wheel: Wheel | None, chart_m: float | None) -> float | None:
    w = wheel or Wheel()
    return _or_none(radius_from_m(_known(w.radius_m), _known(w.bead_seat_m), _known(w.tyre_height_m), _known(chart_m)))


def chart_fork_length_m(frame: Frame) -> float | None:
    """The chart's fork length along the steering axis [m].

    frame [SI] (one) as read → [m] (one) or None. Raises nothing. Source: physics.md 6.
    """
    return _length_m(frame.fork_length_m, frame.fork_length_straight_m, frame.fork_offset_m)


def fork_offset_m(bench: BenchFile) -> float | None:
    """The fork's offset [m]; the chart's where the fork gives none.

    bench [SI] (one) as read → [m] (one) or None. Raises nothing. Source: bench-file.md.
    """
    own = bench.fork.offset_m if bench.fork else None
    return own if own is not None else (bench.frame.fork_offset_m if bench.frame else None)


def fork_length_m(bench: BenchFile) -> float | None:
    """The fork's length along the steering axis [m]; the chart's where the fork gives none.

    bench [SI] (one) as read → [m] (one) or None. Raises nothing. Source: physics.md 6.
    """
    fork = bench.fork or Fork()
    own = _length_m(fork.length_m, fork.length_straight_m, fork_offset_m(bench))
    return own if own is not None else (chart_fork_length_m(bench.frame) if bench.frame else None)


def _length_m(along_m: float | None, straight_m: float | None, offset_m: float | None) -> float | None:
    return _or_none(length_from_m(_known(along_m), _known(straight_m), _known(offset_m)))


def port_in_reach(fork: Fork, air: Air) -> bool:
    """Whether the piston comes past an equalisation port within its travel; taken to where the travel is not known.

    fork, air [SI] (one) as read → [-] (one). Raises nothing. Source: physics.md 2.
    """
    return _in_reach(air, fork.travel_m)


def shock_port_in_reach(shock: Shock, air: Air) -> bool:
    """The same of a rear shock, within its stroke.

    shock, air [SI] (one) as read → [-] (one). Raises nothing. Source: physics.md 2.
    """
    return _in_reach(air, shock.stroke_m)


def _in_reach(air: Air, travel_m: float | None) -> bool:
    if air.negative != "self-equalising":
        return False
    return bool(port_reached(air.port_position_m or 0.0, air.port_length_m, _known(travel_m)))


def _known(value: float | None) -> float:
    return math.nan if value is None else value


def _or_none(value: Number) -> float | None:
    return None if np.isnan(value) else float(value)
