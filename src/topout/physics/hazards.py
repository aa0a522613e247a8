"""What can hurt: forces on retained parts and energy shut in, at the highest pressure a chamber may hold."""

from __future__ import annotations

import math

import numpy as np

from topout.physics import air_spring, gas
from topout.physics.air_spring import Settled
from topout.physics.gas import G0_M_PER_S2, Floats


def at_full_extension(s: Settled) -> tuple[Floats, Floats, Floats]:
    """Force on the top cap, on seal head and ring [N], and energy shut in [J], fork at full extension; shape (…).

    Cap g·A of its bore; ring the larger of g_p·A_p (the piston topped out on the seal head) and g_n·A_n. At full
    extension the negative chamber is at its smallest, so its pressure is at its highest. What is absent holds ambient
    and no energy. Energy is the sum over main
    and negative chamber, lower legs (at ambient there) and damper gas, each expanding isothermally to ambient.
    """
    fit, ambient = s.fit, s.fit.ambient_pa
    zero = np.zeros_like(fit.travel_m)
    main, negative = air_spring.pressures(s, zero)
    cap = np.maximum(main - ambient, 0.0) * s.positive_m2
    ring = np.maximum(cap, (negative - ambient) * s.negative_m2)
    energy = gas.stored_energy_j(main, fit.positive_m3, ambient)
    energy += gas.stored_energy_j(negative, fit.negative_m3, ambient)
    energy += gas.stored_energy_j(fit.damper_pa, fit.damper_m3, ambient)
    return cap, ring, energy


def trapped_negative(s: Settled, x: Floats) -> tuple[Floats, Floats]:
    """Force [N] on seal head and ring and energy [J] of a negative chamber still charged, main one empty, at travel x.

    The amount is the last settled one; never what a gauge on the main side shows.
    """
    ambient = s.fit.ambient_pa
    negative_m3 = s.fit.negative_m3 + s.negative_m2 * x
    negative = s.negative_out / negative_m3
    return (negative - ambient) * s.negative_m2, gas.stored_energy_j(negative, negative_m3, ambient)


def rounded_up(value: float, figures: int = 2) -> float:
    """A danger rounded up to two figures: 443.2 → 450, 31.6 → 32; 0 stays 0."""
    if value <= 0.0:
        return 0.0
    unit = 10.0 ** (math.floor(math.log10(value)) - figures + 1)
    return math.ceil(value / unit - 1e-9) * unit


def fall_height_m(energy_j: float, mass_kg: float = 10.0) -> float:
    """Height [m] from which a mass falls to bring the same energy: E/(m·g₀)."""
    return energy_j / (mass_kg * G0_M_PER_S2)
