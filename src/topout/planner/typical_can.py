"""What a workshop can't know of a rear shock's air can, drawn from what cans usually are: the outside says the bore, no more.

An air can slides on a damper body that is wider than any fork's shaft. Ranges: trade.md 4 where it has them (bore, body, volume,
pressure), else common practice, no source. What is measured takes a range's place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topout.uncertainty.doubt import Doubt

if TYPE_CHECKING:
    from topout.uncertainty.draws import Floats

WALL_M: Final = (0.0015, 0.003)  # of the can
SLEEVE_SHARE: Final = 0.4  # of cans have a second tube inside, the chamber reaching round it
SLEEVE_M: Final = (0.003, 0.008)  # that much less bore
BODY_M: Final = (0.028, 0.040)  # the damper body that the can slides on (trade.md 4)
ROOM_M: Final = 0.006  # of bore left beside it, for the seal head
LEAST_OF_BORE: Final = 0.6  # of a bore so small that no such body goes in
RATIO: Final = (1.9, 4.5)  # main volume at full extension over that at the end of the stroke, with what is fitted
LEAST_COLUMN_M: Final = 0.010  # of the main chamber at the end of the stroke
NEGATIVE_SHARE: Final = (0.15, 0.5)  # of the main volume
PORT_AT_REST_SHARE: Final = 0.4  # of cans have their port at full extension
PORT_M: Final = (0.0, 0.006)  # the others, further in
SPACER_M3: Final = (4e-6, 15e-6)
FRICTION_N: Final = (15.0, 60.0)
ROD_M: Final = (0.008, 0.013)  # of the damper
GAS_PA: Final = (5e5, 20e5)  # behind it, gauge
GAS_M3: Final = (15e-6, 40e-6)
GAS_LEAST: Final = 1.5  # times what the rod takes of it
BUMPER_M: Final = (0.004, 0.008)
BUMPER_N_PER_M: Final = (60e3, 250e3)
BUMPER_POWER: Final = 2.0
RING_M: Final = 0.0005  # standard uncertainty of a stroke read from the ring
POSTURE_M: Final = 0.0005  # of the rider sitting on the bike once more, in stroke
SAG_DOUBT: Final = Doubt("u", float(np.hypot(RING_M, POSTURE_M)), "")

# What may be left out, each with the words by which a bench file names it.
MAY_BE_LEFT_OUT: Final = (
    "shock.air.bore", "shock.air.shaft", "shock.air.positive_volume", "shock.air.negative_volume",
    "shock.air.port_position", "shock.air.spacer_volume", "shock.friction", "shock.damper", "shock.bumper",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Outside:
    """What is seen of a shock from outside: the can's diameter and the stroke [m], exact or as drawn, (count,)."""

    body_m: Floats | float
    stroke_m: Floats | float


def cans(
    outside: Outside,
    known: Mapping[str, Floats],
    taken: tuple[Floats | float, Floats | float],
    spacers: float,
    seed: int,
    count: int,
) -> dict[str, Floats]:
    """Bore, damper body, volumes, port, friction, damper gas and bumper of shocks that look like this from outside.

    What stands in `known` is taken as it is, and what hangs on it is drawn to fit: a volume for the bore that is known.

    outside [SI] (…) above 0; known [SI] (count,) each, by the words of `MAY_BE_LEFT_OUT` in SI; taken [m³] (2) of (…) 0 and more,
    oil on the piston and grease in the negative chamber; spacers [1] (one) 0 to 20; seed, count [1] (one) 0 and more → [SI]
    (count,) each by its word. Raises nothing. Source: trade.md 4; common practice, no source.
    """

    from topout.uncertainty import draws  # the ranges alone are asked for without a draw

    def drawn(name: str, low_high: tuple[float, float]) -> Floats:
        return draws.uniform(draws.stream(seed, f"can's {name}"), *low_high, count)

    def of(name: str, make: Floats) -> Floats:
        return known.get(name, make)

    def share(name: str) -> Floats:
        return draws.stream(seed, f"can's {name}").random(count)

    oil_m3, grease_m3 = taken
    sleeved = np.where(share("sleeve") < SLEEVE_SHARE, drawn("sleeve's bore", SLEEVE_M), 0.0)
    bore_m = of("shock.air.bore", outside.body_m - 2.0 * drawn("wall", WALL_M) - sleeved)
    most_m = np.minimum(np.maximum(bore_m - ROOM_M, LEAST_OF_BORE * bore_m), BODY_M[1])
    least_m = np.minimum(BODY_M[0], LEAST_OF_BORE * most_m)
    least_m = np.where(most_m > BODY_M[0], BODY_M[0], least_m)
    body_m = of("shock.air.shaft", least_m + (most_m - least_m) * drawn("damper body", (0.0, 1.0)))
    piston_m2 = 0.25 * np.pi * bore_m**2
    spacer_m3 = of("shock.air.spacer_volume", drawn("spacer", SPACER_M3))
    end_m = np.maximum(outside.stroke_m / (drawn("ratio", RATIO) - 1.0), LEAST_COLUMN_M)
    out_m3 = oil_m3 + (spacers * spacer_m3 if spacers else 0.0)
    positive_m3 = of("shock.air.positive_volume", piston_m2 * (outside.stroke_m + end_m) + out_m3)
    negative_m3 = drawn("negative", NEGATIVE_SHARE) * (positive_m3 - out_m3) + grease_m3
    port_m = np.where(share("port at rest") < PORT_AT_REST_SHARE, 0.0, drawn("port", PORT_M))
    rod_m = of("shock.damper.rod", drawn("rod", ROD_M))
    least_m3 = GAS_LEAST * 0.25 * np.pi * rod_m**2 * outside.stroke_m
    return {
        "shock.air.bore": bore_m,
        "shock.air.shaft": body_m,
        "shock.air.positive_volume": positive_m3,
        "shock.air.negative_volume": of("shock.air.negative_volume", negative_m3),
        "shock.air.port_position": of("shock.air.port_position", port_m),
        "shock.air.spacer_volume": spacer_m3,
        "shock.friction": of("shock.friction", drawn("friction", FRICTION_N)),
        "shock.damper.rod": rod_m,
        "shock.damper.gas_pressure": of("shock.damper.gas_pressure", drawn("gas", GAS_PA)),
        "shock.damper.gas_volume": of("shock.damper.gas_volume", np.maximum(drawn("gas volume", GAS_M3), least_m3)),
        "shock.bumper.length": of("shock.bumper.length", drawn("bumper", BUMPER_M)),
        "shock.bumper.rate": of("shock.bumper.rate", drawn("bumper's rate", BUMPER_N_PER_M)),
        "shock.bumper.power": of("shock.bumper.power", np.full(count, BUMPER_POWER)),
    }
