"""What can hurt: forces on retained parts and energy shut in, at the highest pressure a chamber may hold."""

from __future__ import annotations

import math

import numpy as np

from topout.physics import coil, gas, second_chamber
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import G0_M_PER_S2, Floats


def at_full_extension(fit: Chambers) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Force on the top cap, on seal head and ring [N], and energy shut in [J], fork at full extension: all of it, that of air or coil, that of the damper's gas; shape (…).

    Cap g·A of its bore, with the second chamber's pressure where one lies behind it and has more, and what a coil pushes
    there wound up; ring the larger of g_p·A_p (the piston topped out on the seal head) and g_n·A_n. At full
    extension the negative chamber is at its smallest, so its pressure is at its highest. What is absent holds ambient
    and no energy. Energy is the sum over main and negative chamber, lower legs (at ambient there) and damper gas, each
    expanding isothermally to ambient; a second chamber's and what a coil's preload holds on top. The damper's gas stands apart
    too: it stays shut in whatever is let out or wound back.

    Each from its own inputs, NaN where one of those is not known: the cap needs bore and pressure; the ring the same,
    and where the negative chamber can hold more than the main one its shaft and volumes; the energy all volumes.

    fit [SI] (…) not locked → [N], [N], [J], [J], [J] (…) NaN where not known. Raises nothing. Source: physics.md 9.
    """
    ambient, main = fit.ambient_pa, fit.pressure_pa
    piston_m2 = 0.25 * np.pi * fit.bore_m**2
    annulus_m2 = piston_m2 - 0.25 * np.pi * fit.shaft_m**2
    open_at_rest = fit.equalises & (fit.port_m == 0.0)
    # Where the chambers parted at the port coming out, the negative one was let grow smaller since, the main one larger.
    at_port_m3 = fit.positive_m3 - piston_m2 * fit.port_m
    amount = second_chamber.amount_j(main, fit.positive_m3, fit.second_pa, fit.second_m3)
    parted = second_chamber.pressure_abs_pa(amount / at_port_m3, at_port_m3, fit.second_pa, fit.second_m3)
    squeezed = parted * (fit.negative_m3 + annulus_m2 * fit.port_m) / fit.negative_m3
    negative = np.where(fit.equalises, np.where(open_at_rest, main, squeezed), fit.negative_pa)
    topped_n = np.maximum(main - ambient, 0.0) * piston_m2
    behind = np.where(fit.second_m3 == 0.0, main, np.maximum(main, fit.second_pa))
    cap = np.maximum(behind - ambient, 0.0) * piston_m2 + fit.spring_n_per_m * fit.preload_m
    own = fit.gas_negative & ~open_at_rest & ~(negative <= ambient)
    ring = np.where(own, np.maximum(topped_n, (negative - ambient) * annulus_m2), topped_n)
    energy = gas.stored_energy_j(main, fit.positive_m3, ambient)
    energy = energy + np.where(fit.gas_negative, gas.stored_energy_j(negative, fit.negative_m3, ambient), 0.0)
    energy = energy + gas.stored_energy_j(behind, fit.second_m3, ambient)
    energy = energy + coil.preload_energy_j(fit.spring_n_per_m, fit.preload_m)
    damper = gas.stored_energy_j(fit.damper_pa, fit.damper_m3, ambient)
    return cap, ring, energy + damper, energy, damper


def trapped_negative(s: EquilibratedSpring, x: Floats) -> tuple[Floats, Floats]:
    """Force [N] on seal head and ring and energy [J] of a negative chamber still charged, main one empty, at travel x.

    The amount is the last settled one; never what a gauge on the main side shows.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [N], [J] (…) each. Raises nothing. Source: physics.md 9.
    """
    ambient = s.fit.ambient_pa
    negative_m3 = s.fit.negative_m3 + s.negative_m2 * x
    negative = s.negative_out / negative_m3
    return (negative - ambient) * s.negative_m2, gas.stored_energy_j(negative, negative_m3, ambient)


def rounded_up(value: float, figures: int = 2) -> float:
    """A danger rounded up to two figures: 443.2 → 450, 31.6 → 32; 0 stays 0.

    value [SI] (one) any; figures [1] (one) 1 and more → [SI] (one) 0 where nothing is above 0. Raises nothing. Source:
    physics.md 9.
    """
    if value <= 0.0:
        return 0.0
    unit = 10.0 ** (math.floor(math.log10(value)) - figures + 1)
    return math.ceil(value / unit - 1e-9) * unit


def fall_height_m(energy_j: float, mass_kg: float = 10.0) -> float:
    """Height [m] from which a mass falls to bring the same energy: E/(m·g₀).

    energy_j [J] (one) 0 and more; mass_kg [kg] (one) above 0 → [m] (one). Raises nothing. Source: physics.md 9, E =
    m·g₀·h.
    """
    return energy_j / (mass_kg * G0_M_PER_S2)


def column_m(fit: Chambers) -> Floats:
    """Length [m] of the air left over the piston at the solid stop, the bore's area throughout.

    fit [SI] (…) any → [m] (…) NaN where a value is not known, and on a coil, which has none. Raises nothing. Source:
    physics.md 2.
    """
    bore_m = np.where(fit.bore_m > 0.0, fit.bore_m, np.nan)
    return fit.positive_m3 / (0.25 * np.pi * bore_m**2) - fit.travel_m
