"""Filling the air spring: pump, stroke, hose; the readings to expect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from topout.physics import air_spring, sag, second_chamber
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import Floats, Number


def hose_factor(hose_m3: Number, chamber_m3: Number) -> Number:
    """g_true / g_read when an empty hose is pushed on: 1 + V_h/V, gauge pressures, V what the valve sees.

    hose_m3 [m³] (…) 0 and more; chamber_m3 [m³] (…) above 0 → [1] (…). Raises nothing. Source: physics.md 3, derived.
    """
    return 1.0 + hose_m3 / chamber_m3


def at_full_extension_pa(read_gauge_pa: Number, read_at_m: Number, fit: Chambers) -> Number:
    """What a gauge that read so much with the fork resting short would read at full extension: p·V_p(x)/V_p(0), absolute.

    read_gauge_pa [Pa gauge] (…) any; read_at_m [m] (…) 0 to the travel; fit [SI] (…) not locked → [Pa gauge] (…). Raises
    nothing. Source: physics.md 2.
    """
    piston_m2 = 0.25 * np.pi * fit.bore_m**2
    share = (fit.positive_m3 - piston_m2 * read_at_m) / fit.positive_m3
    return (read_gauge_pa + fit.ambient_pa) * share - fit.ambient_pa


def seen_by_valve_m3(s: EquilibratedSpring, main_pa: Floats | None = None) -> Floats:
    """Volume [m³] at the valve at full extension: main chamber, and the negative one where the port is open there.

    Where the main chamber is at more than a second one was set to, the floating piston gives way to the hose's air too, as
    if that chamber's whole room were there.

    s [SI] (…) settled; main_pa [Pa abs] (…) above 0, or None for the one it settled at → [m³] (…). Raises nothing. Source: physics.md 3.
    """
    fit = s.fit
    open_at_rest = fit.equalises & (fit.port_m == 0.0)
    behind = np.where((fit.pressure_pa if main_pa is None else main_pa) > fit.second_pa, fit.second_m3, 0.0)
    return fit.positive_m3 + np.where(open_at_rest, fit.negative_m3, 0.0) + behind


def stroke(s: EquilibratedSpring, pumped_to_pa: Floats, negative_amount_j: Floats) -> tuple[Floats, Floats]:
    """Main reading [Pa abs] at full extension after one stroke past the port, and the negative amount p·V [J] then.

    The stroke pools both amounts at the port and shares them by volume where they part coming out. Without a port
    that the piston reaches nothing moves; one that is open at full extension has let the pump fill both already.

    s [SI] (…) settled; pumped_to_pa [Pa abs] (…) above 0; negative_amount_j [J] (…) above 0 → [Pa abs], [J] (…)
    each. Raises nothing. Source: physics.md 3.
    """
    fit = s.fit
    main_m3, second_pa, second_m3 = fit.positive_m3, fit.second_pa, fit.second_m3
    at_port_m3 = main_m3 - s.positive_m2 * fit.port_m
    negative_m3 = fit.negative_m3 + s.negative_m2 * fit.port_m
    both_m3 = at_port_m3 + negative_m3
    amount = second_chamber.amount_j(pumped_to_pa, main_m3, second_pa, second_m3) + negative_amount_j
    pooled = second_chamber.pressure_abs_pa(amount / both_m3, both_m3, second_pa, second_m3)
    left = second_chamber.pressure_abs_pa((amount - pooled * negative_m3) / main_m3, main_m3, second_pa, second_m3)
    shared = fit.equalises & (fit.port_m > 0.0)
    filled = np.where(fit.equalises, pumped_to_pa * negative_m3, negative_amount_j)
    return np.where(shared, left, pumped_to_pa), np.where(shared, pooled * negative_m3, filled)


def rests_short_m(fit: Chambers, main_pa: Floats, negative_amount_j: Floats) -> Floats:
    """Lost travel [m] after a stroke that left `main_pa` [Pa abs] at full extension.

    Past a port both chambers parted at one pressure: that is the settled state of this reading. Without one the
    negative chamber holds its own amount p·V [J].

    fit [SI] (…) not locked; main_pa [Pa abs] (…) above 0; negative_amount_j [J] (…) above 0 → [m] (…) 0 to the
    travel. Raises nothing. Source: physics.md 2 and 3.
    """
    shut = replace(fit, pressure_pa=main_pa, negative_pa=negative_amount_j / fit.negative_m3)
    return sag.lost_travel_m(air_spring.settle(shut))
