"""Tyre against crown, brace and frame at the end of travel."""

from __future__ import annotations

from topout.physics.gas import Number


def radius_m(bead_seat_m: Number, tyre_height_m: Number) -> Number:
    """Outer radius of a tyre [m]: bead seat diameter / 2 + tyre height. Bead seats as reproduced from ISO 5775-1.

    bead_seat_m, tyre_height_m [m] (…) above 0 → [m] (…). Raises nothing. Source: physics.md 8; bead seats as reproduced
    from ISO 5775-1.
    """
    return 0.5 * bead_seat_m + tyre_height_m


def tyre_to_crown_m(room_m: Number, travel_m: Number, tyre_radius_m: Number) -> Number:
    """Gap [m] bottomed: room from axle to crown underside at full extension, less travel and tyre.

    A longer shaft lengthens room and travel alike and leaves the gap; a wheel or tyre does not.

    room_m, travel_m, tyre_radius_m [m] (…) above 0 → [m] (…) below 0 where they touch. Raises nothing. Source:
    physics.md 8.
    """
    return room_m - travel_m - tyre_radius_m


def tyre_to_fixed_m(room_m: Number, tyre_radius_m: Number) -> Number:
    """Gap [m] to a part that keeps its distance from the axle: the brace, or the frame at full rear travel.

    room_m, tyre_radius_m [m] (…) above 0 → [m] (…) below 0 where they touch. Raises nothing. Source: physics.md 8.
    """
    return room_m - tyre_radius_m
