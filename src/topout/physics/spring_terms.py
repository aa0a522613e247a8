"""Each part of the slow force by its name, and what one pascal more in the main chamber adds to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from topout.physics import air_spring, bumper, coil
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import Floats


def terms(s: EquilibratedSpring, x: Floats) -> dict[str, Floats]:
    """Each part of the slow force [N] at x by name, each computed alone; they sum to the force.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [N] (…) by name. Raises nothing. Source: physics.md 2.
    """
    fit, ambient = s.fit, s.fit.ambient_pa
    main, negative = air_spring.pressures(s, x)
    zero = np.zeros_like(x)
    second_n = zero
    if s.second is not None:
        # What the floating piston's giving way takes off the main gas's push, alone as V_2·(p_2 − K/V)/(V + V_2).
        at, d = air_spring.places(s, s.second)
        second_n = zero.copy()
        (room_m3, _), behind_m3, set_pa = air_spring.main_room_m3(s, x), fit.second_m3[d], fit.second_pa[d]
        alone = np.where(main[at] < set_pa, main[at], main[at] + (main[at] - set_pa) * behind_m3 / room_m3)
        second_n[at] = s.positive_m2[d] * behind_m3 * np.minimum(set_pa - alone, 0.0) / (room_m3 + behind_m3)
        main[at] = alone
    legs = ambient * fit.legs_m3 / (fit.legs_m3 - fit.legs_m2 * x)
    damper = fit.damper_pa * fit.damper_m3 / (fit.damper_m3 - fit.rod_m2 * x)
    crush, _ = bumper.force_and_rate(x - fit.contact_m, fit.bumper_m, fit.bumper_n_per_m, fit.bumper_power)
    topped, _ = bumper.force_and_rate(fit.top_out_m - x, fit.top_out_m, fit.top_out_n_per_m, fit.top_out_power)
    pulled = fit.coil_rate_n_per_m * np.maximum(fit.coil_m - x, 0.0)
    return {
        "positive_n": (main - ambient) * s.positive_m2,
        "negative_n": 0.0 - (negative - ambient) * s.negative_m2 - pulled,  # no minus before a zero
        "second_n": second_n,
        "lower_legs_n": (legs - ambient) * fit.legs_m2 + zero,
        "damper_gas_n": (damper - ambient) * fit.rod_m2 + zero,
        "bumper_n": crush,
        "top_out_n": -topped + 0.0,
        "coil_n": coil.force_n(x, fit.spring_n_per_m, fit.preload_m),
    }


def force_per_pa(s: EquilibratedSpring, x: Floats) -> Floats:
    """a(x) = ∂F/∂P [m²] at x: what one more pascal in the main chamber, settled, adds to the slow force.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [m²] (…). Raises nothing. Source: derived from physics.md 2.
    """
    main_m3 = s.fit.positive_m3 - s.positive_m2 * x
    negative_m3 = s.fit.negative_m3 + s.negative_m2 * x
    result = s.positive_m2 * s.main_per_pa / main_m3 - s.negative_m2 * s.negative_per_pa / negative_m3
    if s.ported is not None:
        at, p = air_spring.places(s, s.ported)
        xp, fit = x[at], s.fit
        out_per_pa = fit.positive_m3[p]
        port_m3 = fit.positive_m3[p] - s.positive_m2[p] * fit.port_m[p]
        negative_out = out_per_pa / port_m3 * (fit.negative_m3[p] + s.negative_m2[p] * fit.port_m[p])
        apart = s.positive_m2[p] * out_per_pa / main_m3[at] - s.negative_m2[p] * negative_out / negative_m3[at]
        pooled = (s.positive_m2[p] - s.negative_m2[p]) * (out_per_pa + negative_out) / (main_m3[at] + negative_m3[at])
        result[at] = np.where(xp < fit.port_m[p], apart, np.where(xp > fit.port_end_m[p], result[at], pooled))
    if s.second is not None:
        at, d = air_spring.places(s, s.second)
        result[at] = _per_pa_by_difference(s.fit.take(d), x[at])
    return result


def _per_pa_by_difference(fit: Chambers, x: Floats) -> Floats:
    """∂F/∂P [m²] as a difference over P·10⁻⁵: exact but for rounding, force being linear in P on either side of a kink."""
    step = 1e-5 * fit.pressure_pa
    less, more = (
        air_spring.force(air_spring.settle(replace(fit, pressure_pa=fit.pressure_pa + by)), x) for by in (-step, step)
    )
    result: Floats = (more - less) / (2.0 * step)
    return result
