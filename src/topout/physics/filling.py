"""Filling the air spring: pump, stroke, hose; the readings to expect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from topout.physics import air_spring, sag, second_chamber
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import Number


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


def seen_by_valve_m3(s: EquilibratedSpring, main_pa: float | None = None) -> float:
    """Volume [m³] at the valve at full extension: main chamber, and the negative one where the port is open there.

    Where the main chamber is at more than a second one was set to, the floating piston gives way to the hose's air too, as
    if that chamber's whole room were there.

    Here and below `s` is one configuration, arrays of shape (1,).

    s [SI] (1,) settled; main_pa [Pa abs] (one) above 0, or None for the one it settled at → [m³] (one). Raises nothing. Source: physics.md 3.
    """
    fit = s.fit
    open_at_rest = fit.equalises.item() and fit.port_m.item() == 0.0
    at_pa = fit.pressure_pa.item() if main_pa is None else main_pa
    behind = fit.second_m3.item() if at_pa > fit.second_pa.item() else 0.0
    return fit.positive_m3.item() + (fit.negative_m3.item() if open_at_rest else 0.0) + behind


def stroke(s: EquilibratedSpring, pumped_to_pa: float, negative_amount_j: float) -> tuple[float, float]:
    """Main reading [Pa abs] at full extension after one stroke past the port, and the negative amount p·V [J] then.

    The stroke pools both amounts at the port and shares them by volume where they part coming out. Without a port
    that the piston reaches nothing moves; one that is open at full extension has let the pump fill both already.

    s [SI] (1,) settled; pumped_to_pa [Pa abs] (one) above 0; negative_amount_j [J] (one) above 0 → [Pa abs], [J] (one)
    each. Raises nothing. Source: physics.md 3.
    """
    fit = s.fit
    if not fit.equalises.item():
        return pumped_to_pa, negative_amount_j
    port_m, main_m3 = fit.port_m.item(), fit.positive_m3.item()
    at_port_m3 = main_m3 - s.positive_m2.item() * port_m
    negative_m3 = fit.negative_m3.item() + s.negative_m2.item() * port_m
    if port_m == 0.0:
        return pumped_to_pa, pumped_to_pa * negative_m3
    behind = fit.second_pa.item(), fit.second_m3.item()
    amount = _amount_j(pumped_to_pa, main_m3, *behind) + negative_amount_j
    pooled = _pressure_pa(amount, at_port_m3 + negative_m3, *behind)
    return _pressure_pa(amount - pooled * negative_m3, main_m3, *behind), pooled * negative_m3


def _amount_j(pressure_pa: float, volume_m3: float, second_pa: float, second_m3: float) -> float:
    return float(second_chamber.amount_j(*(np.array(each) for each in (pressure_pa, volume_m3, second_pa, second_m3))))


def _pressure_pa(amount_j: float, volume_m3: float, second_pa: float, second_m3: float) -> float:
    each = (np.array(value) for value in (amount_j / volume_m3, volume_m3, second_pa, second_m3))
    return float(second_chamber.pressure_abs_pa(*each))


def rests_short_m(fit: Chambers, main_pa: float, negative_amount_j: float) -> float:
    """Lost travel [m] after a stroke that left `main_pa` [Pa abs] at full extension.

    Past a port both chambers parted at one pressure: that is the settled state of this reading. Without one the
    negative chamber holds its own amount p·V [J].

    fit [SI] (1,) not locked; main_pa [Pa abs] (one) above 0; negative_amount_j [J] (one) above 0 → [m] (one) 0 to the
    travel. Raises nothing. Source: physics.md 2 and 3.
    """
    shut = replace(fit, pressure_pa=np.array([main_pa]), negative_pa=negative_amount_j / fit.negative_m3)
    return float(sag.lost_travel_m(air_spring.settle(shut)).item())
