"""What a workshop can't know, drawn from what forks usually are. All ranges: physics.md 12, common practice, no source.

Nothing here is known: whatever is drawn from this room is named as assumed, and what is measured takes its place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topout.uncertainty.doubt import Doubt
from topout.units import PSI_PA

if TYPE_CHECKING:
    from topout.uncertainty.draws import Floats

WALL_M: Final = (0.0015, 0.0025)  # of a stanchion
INNER_TUBE_SHARE: Final = 0.25  # of forks hold their air in a tube inside the stanchion
INNER_TUBE_M: Final = (0.002, 0.004)  # that much less bore
SHAFT_M: Final = (0.008, 0.012)
RATIO: Final = (1.9, 4.0)  # main volume at full extension over that at the solid stop, with what is fitted
LEAST_COLUMN_M: Final = 0.014  # of the main chamber at the solid stop
NEGATIVE_SHARE: Final = (0.15, 0.5)  # of the main volume
PORT_AT_REST_SHARE: Final = 0.6  # of forks have their port at full extension
PORT_M: Final = (0.0, 0.006)  # the others, further in
SPACER_M3: Final = (6e-6, 11e-6)
FRICTION_N: Final = (8.0, 25.0)
LEGS_M3: Final = (250e-6, 600e-6)
LEGS_LEAST: Final = 1.25  # times what the travel and 20 mm more take
LEGS_MORE_TRAVEL_M: Final = 0.020
ROD_M: Final = 0.010  # two of them in the lower legs
BUMPER_M: Final = (0.005, 0.010)
BUMPER_N_PER_M: Final = (40e3, 120e3)
BUMPER_POWER: Final = 2.0
FRONT_SHARE: Final = (0.41, 0.015)  # mean, standard uncertainty
OTHER_POSTURE: Final = 0.03  # the latter where the sag was found in another posture than the share is of
TAPE_M: Final = 0.0005  # standard uncertainty of a travel read with a tape
RING_M: Final = 0.0005  # of a sag read from the ring
POSTURE_M: Final = 0.001  # of the rider standing on the bike once more
GAUGE_GAIN: Final = 0.0075  # standard uncertainty, common to all readings of one gauge
GAUGE_ZERO_PA: Final = 0.5 * PSI_PA  # 0.5 psi, common to all readings of one gauge
GAUGE_MARK_PA: Final = PSI_PA  # a pump's gauge has a mark a psi, and is read to half of one
GAUGE_READ_PA: Final = GAUGE_MARK_PA / 12.0**0.5  # the standard uncertainty of that
# The same as doubts of a value, for those that are written without their own.
FRONT_SHARE_DOUBT: Final = Doubt("u", FRONT_SHARE[1], "0.015")
TAPE_DOUBT: Final = Doubt("u", TAPE_M, "0.5 mm")
OTHER_POSTURE_DOUBT: Final = Doubt("u", OTHER_POSTURE, "0.03")


def sag_doubt(settles: int) -> Doubt:
    """How far the mean of so many settles may be off, ring and posture anew each time.

    settles [1] (one) 1 and more → [m] (one). Raises nothing. Source: physics.md 12, common practice, no source.
    """
    return Doubt("u", math.hypot(RING_M, POSTURE_M) / math.sqrt(settles), "")


@dataclass(frozen=True, slots=True)
class Outside:
    """What is seen of a fork from outside: the stanchions' diameter and the travel [m], exact or as drawn, (count,)."""

    stanchion_m: Floats | float
    travel_m: Floats | float


# What may be left out, each with the words by which a bench file names it.
MAY_BE_LEFT_OUT: Final = (
    "fork.air.bore", "fork.air.shaft", "fork.air.positive_volume", "fork.air.negative_volume",
    "fork.air.port_position", "fork.air.spacer_volume", "fork.friction", "fork.lower_legs", "fork.bumper",
)  # fmt: skip


def chambers(
    outside: Outside,
    known: Mapping[str, Floats],
    oil_m3: Floats | float,
    grease_m3: Floats | float,
    spacers: float,
    seed: int,
    count: int,
) -> dict[str, Floats]:
    """Bore, shaft, volumes, port, friction, lower legs and bumper of forks that look like this from outside.

    What stands in `known` is taken as it is, and what hangs on it is drawn to fit: a volume for the bore that is known.

    outside [SI] (…) above 0; known [SI] (count,) each, by the words of `MAY_BE_LEFT_OUT` in SI; oil_m3, grease_m3
    [m³] (…) 0 and more; spacers [1] (one) 0 to 20; seed, count [1] (one) 0 and more → [SI] (count,) each by its word.
    Raises nothing. Source: physics.md 12, common practice, no source.
    """

    from topout.uncertainty import draws  # the ranges alone are asked for without a draw

    def drawn(name: str, low_high: tuple[float, float]) -> Floats:
        return draws.uniform(draws.stream(seed, name), *low_high, count)

    def of(name: str, make: Floats) -> Floats:
        return known.get(name, make)

    inner = draws.stream(seed, "inner tube").random(count) < INNER_TUBE_SHARE
    wall_m = 2.0 * drawn("wall", WALL_M) + np.where(inner, drawn("inner tube's bore", INNER_TUBE_M), 0.0)
    bore_m = of("fork.air.bore", outside.stanchion_m - wall_m)
    shaft_m = of("fork.air.shaft", drawn("shaft", SHAFT_M))
    piston_m2 = 0.25 * np.pi * bore_m**2
    spacer_m3 = of("fork.air.spacer_volume", drawn("spacer", SPACER_M3))
    end_m = np.maximum(outside.travel_m / (drawn("ratio", RATIO) - 1.0), LEAST_COLUMN_M)
    taken_m3 = oil_m3 + (spacers * spacer_m3 if spacers else 0.0)
    positive_m3 = of("fork.air.positive_volume", piston_m2 * (outside.travel_m + end_m) + taken_m3)
    negative_m3 = of(
        "fork.air.negative_volume", drawn("negative", NEGATIVE_SHARE) * (positive_m3 - taken_m3) + grease_m3
    )
    at_rest = draws.stream(seed, "port at rest").random(count) < PORT_AT_REST_SHARE
    port_m = of("fork.air.port_position", np.where(at_rest, 0.0, drawn("port", PORT_M)))
    legs_m2 = 2.0 * 0.25 * np.pi * (outside.stanchion_m**2 - ROD_M**2) * np.ones(count)
    least_m3 = LEGS_LEAST * legs_m2 * (outside.travel_m + LEGS_MORE_TRAVEL_M)
    return {
        "fork.air.bore": bore_m,
        "fork.air.shaft": shaft_m,
        "fork.air.positive_volume": positive_m3,
        "fork.air.negative_volume": negative_m3,
        "fork.air.port_position": port_m,
        "fork.air.spacer_volume": spacer_m3,
        "fork.friction": of("fork.friction", drawn("friction", FRICTION_N)),
        "fork.lower_legs.air_volume": of("fork.lower_legs.air_volume", np.maximum(drawn("legs", LEGS_M3), least_m3)),
        "fork.lower_legs.area": of("fork.lower_legs.area", legs_m2),
        "fork.bumper.length": of("fork.bumper.length", drawn("bumper", BUMPER_M)),
        "fork.bumper.rate": of("fork.bumper.rate", drawn("bumper's rate", BUMPER_N_PER_M)),
        "fork.bumper.power": of("fork.bumper.power", np.full(count, BUMPER_POWER)),
    }
