"""What is fitted, read off a bench file: lengths and radii with the chart standing in, and whether a port is reached."""

from __future__ import annotations

from topout.bench_file.model import Air, BenchFile, Fork, Frame, Wheel
from topout.physics import clearance, gas, geometry


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


def port_in_reach(fork: Fork, air: Air) -> bool:
    """Whether the piston comes past an equalisation port within its travel; taken to where the travel is not known."""
    if air.negative != "self-equalising":
        return False
    inside = fork.travel_m is None or air.port_position_m <= fork.travel_m
    return inside and air.port_position_m + air.port_length_m >= 0.0
