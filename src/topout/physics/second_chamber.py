"""A second positive chamber behind a floating piston of the bore's own area, its stop on the main side.

While the main pressure is below the one the second chamber was set to, the floating piston stands on its stop and the
main chamber is alone; from there on both have one pressure. `alone_pa` is the pressure that the main gas would have with
the floating piston held on its stop, `volume_m3` the room it has then.
"""

from __future__ import annotations

import numpy as np

from topout.physics import gas
from topout.physics.gas import Floats


def amount_j(pressure_pa: Floats, volume_m3: Floats, second_pa: Floats, second_m3: Floats) -> Floats:
    """Amount p·V [J] of main gas at a pressure: p·V, and where the floating piston has given way also what it left.

    p·V_p + V_2·max(p − p_2, 0): the second gas shrinks to p_2·V_2/p, and the main one has the rest of V_2.

    pressure_pa, second_pa [Pa abs] (…) above 0; volume_m3, second_m3 [m³] (…) 0 and more → [J] (…). Raises nothing.
    Source: physics.md 2, any thermodynamics textbook.
    """
    return pressure_pa * volume_m3 + second_m3 * np.maximum(pressure_pa - second_pa, 0.0)


def pressure_abs_pa(alone_pa: Floats, volume_m3: Floats, second_pa: Floats, second_m3: Floats) -> Floats:
    """Slow pressure [Pa abs] of the main chamber: alone below p_2, else (K_p + K_2)/(V_p + V_2).

    alone_pa, second_pa [Pa abs] (…) above 0; volume_m3, second_m3 [m³] (…) 0 and more → [Pa abs] (…). Raises nothing.
    Source: physics.md 2.
    """
    both = (alone_pa * volume_m3 + second_pa * second_m3) / (volume_m3 + second_m3)
    return np.where(alone_pa < second_pa, alone_pa, both)


def fast_abs_pa(
    start_pa: Floats, start_m3: Floats, volume_m3: Floats, second_pa: Floats, second_m3: Floats, exponent: Floats
) -> Floats:
    """Pressure [Pa abs] of a quick stroke from gas settled at `start_pa`, the main chamber's room then `start_m3`.

    p^(1/n)·V of either gas stays. Where the floating piston has given way at the start, the main gas has room beyond its
    stop, and coming out it stands on it again at the pressure that the second gas then has.

    start_pa, second_pa [Pa abs] (…) above 0; start_m3, volume_m3, second_m3 [m³] (…) 0 and more; exponent [1] (…) 1 to
    1.4 → [Pa abs] (…). Raises nothing. Source: physics.md 1 and 2.
    """
    main, second, on_stop = _contents(start_pa, start_m3, second_pa, second_m3, exponent)
    alone = (main / volume_m3) ** exponent
    return np.where(alone < on_stop, alone, ((main + second) / (volume_m3 + second_m3)) ** exponent)


def _contents(
    start_pa: Floats, start_m3: Floats, second_pa: Floats, second_m3: Floats, exponent: Floats
) -> tuple[Floats, Floats, Floats]:
    """p^(1/n)·V of both gases, and the second one's pressure with the floating piston on its stop."""
    shrunk_m3 = second_m3 * np.minimum(second_pa / start_pa, 1.0)
    root = 1.0 / exponent
    second = np.maximum(second_pa, start_pa) ** root * shrunk_m3
    main = start_pa**root * (start_m3 + second_m3 - shrunk_m3)
    return main, second, (second / second_m3) ** exponent


def slow_work_j(amount: Floats, from_m3: Floats, to_m3: Floats, second_pa: Floats, second_m3: Floats) -> Floats:
    """∫ p dV [J] while the main chamber's room shrinks from one volume to another, isothermal.

    amount [J] (…) p·V of the main gas with the floating piston on its stop; from_m3, to_m3 [m³] (…) above 0, shrinking;
    second_pa [Pa abs] (…) above 0; second_m3 [m³] (…) 0 and more → [J] (…). Raises nothing. Source: derived from
    physics.md 2, by integration.
    """
    lifts_m3 = np.clip(amount / second_pa, to_m3, from_m3)
    alone = amount * np.log(from_m3 / lifts_m3)
    both = (amount + second_pa * second_m3) * np.log((lifts_m3 + second_m3) / (to_m3 + second_m3))
    return alone + both


def fast_work_j(
    start_pa: Floats, from_m3: Floats, to_m3: Floats, second_pa: Floats, second_m3: Floats, exponent: Floats
) -> Floats:
    """∫ p dV [J] of a quick stroke from gas settled at `start_pa`, the main chamber's room shrinking.

    start_pa, second_pa [Pa abs] (…) above 0; from_m3, to_m3, second_m3 [m³] (…) above 0, shrinking; exponent [1] (…) 1
    to 1.4 → [J] (…). Raises nothing. Source: derived from physics.md 1 and 2, by integration.
    """
    main, second, on_stop = _contents(start_pa, from_m3, second_pa, second_m3, exponent)
    lifts_m3 = np.clip(main / on_stop ** (1.0 / exponent), to_m3, from_m3)
    at_start, at_lift = (main / from_m3) ** exponent, ((main + second) / (lifts_m3 + second_m3)) ** exponent
    alone = gas.work_of_compression_j(at_start, from_m3, from_m3 / lifts_m3, exponent)
    both_m3 = lifts_m3 + second_m3
    result: Floats = alone + gas.work_of_compression_j(at_lift, both_m3, both_m3 / (to_m3 + second_m3), exponent)
    return result
