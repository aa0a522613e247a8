"""Energy that the spring takes up over its whole travel, in closed form for every exponent; friction not."""

from __future__ import annotations

import numpy as np

from topout.physics import bumper, coil, gas, second_chamber
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats


def _ends(s: EquilibratedSpring) -> tuple[Floats, Floats, Floats, Floats]:
    """Volume ratios full extension over end of travel: main, negative, lower legs, damper gas."""
    fit, end = s.fit, s.fit.travel_m
    return (
        fit.positive_m3 / (fit.positive_m3 - s.positive_m2 * end),
        fit.negative_m3 / (fit.negative_m3 + s.negative_m2 * end),
        fit.legs_m3 / (fit.legs_m3 - fit.legs_m2 * end),
        fit.damper_m3 / (fit.damper_m3 - fit.rod_m2 * end),
    )


def _without_gas(s: EquilibratedSpring) -> Floats:
    """Bumpers, coils and the outside pressure on the moving areas [J], the same slow and fast."""
    fit, end = s.fit, s.fit.travel_m
    crush = bumper.energy_j(end - fit.contact_m, fit.bumper_m, fit.bumper_n_per_m, fit.bumper_power)
    topped = bumper.energy_j(fit.top_out_m, fit.top_out_m, fit.top_out_n_per_m, fit.top_out_power)
    pulled = 0.5 * fit.coil_rate_n_per_m * (fit.coil_m**2 - np.maximum(fit.coil_m - end, 0.0) ** 2)
    outside = fit.ambient_pa * (s.positive_m2 - s.negative_m2 + fit.legs_m2 + fit.rod_m2) * end
    carried = coil.energy_j(end, fit.spring_n_per_m, fit.preload_m)
    result: Floats = crush - topped - pulled + carried - outside
    return result


def slow_j(s: EquilibratedSpring) -> Floats:
    """∫₀^S F dx [J] of the settled gas, isothermal, the port's regions each with their own amounts.

    s [SI] (…) settled → [J] (…). Raises nothing. Source: derived from physics.md 2, by integration.
    """
    fit, end = s.fit, s.fit.travel_m
    main, negative, legs, damper = _ends(s)
    gas_j = s.main_in * np.log(main) + s.negative_in * np.log(negative)
    if s.ported is not None:
        p = s.ported
        first, last = fit.port_m[p], np.minimum(fit.port_end_m[p], end[p])

        def volumes(x: Floats) -> tuple[Floats, Floats]:
            return fit.positive_m3[p] - s.positive_m2[p] * x, fit.negative_m3[p] + s.negative_m2[p] * x

        (m0, n0), (m1, n1), (m2, n2), (m3, n3) = (volumes(x) for x in (0.0 * first, first, last, end[p]))
        gas_j[p] = (
            s.main_out[p] * np.log(m0 / m1) + s.negative_out[p] * np.log(n0 / n1)
            + s.joined[p] * np.log((m1 + n1) / (m2 + n2))
            + s.main_in[p] * np.log(m2 / m3) + s.negative_in[p] * np.log(n2 / n3)
        )  # fmt: skip
    if s.second is not None:
        gas_j[s.second] = _slow_gas_j(s.take(s.second))
    gas_j += fit.ambient_pa * fit.legs_m3 * np.log(legs) + fit.damper_pa * fit.damper_m3 * np.log(damper)
    result: Floats = gas_j + _without_gas(s)
    return result


def _slow_gas_j(s: EquilibratedSpring) -> Floats:
    """The same of main and negative gas where there is a second chamber; shape of the configurations."""
    fit, end = s.fit, s.fit.travel_m
    first, last = np.minimum(fit.port_m, end), np.minimum(fit.port_end_m, end)
    behind = fit.second_pa, fit.second_m3
    (m0, n0), (m1, n1), (m2, n2), (m3, n3) = (
        (fit.positive_m3 - s.positive_m2 * x, fit.negative_m3 + s.negative_m2 * x)
        for x in (0.0 * end, first, last, end)
    )
    return (
        second_chamber.slow_work_j(s.main_out, m0, m1, *behind) + s.negative_out * np.log(n0 / n1)
        + second_chamber.slow_work_j(s.joined, m1 + n1, m2 + n2, *behind)
        + second_chamber.slow_work_j(s.main_in, m2, m3, *behind) + s.negative_in * np.log(n2 / n3)
    )  # fmt: skip


def fast_j(s: EquilibratedSpring) -> Floats:
    """∫₀^S F_fast dx [J] from the settled gas at full extension, polytropic, the port shut.

    s [SI] (…) settled → [J] (…). Raises nothing. Source: derived from physics.md 1, by integration.
    """
    fit, n = s.fit, s.fit.exponent
    main, negative, legs, damper = _ends(s)
    one = np.ones_like(fit.travel_m)
    main_j = gas.work_of_compression_j(s.main_out, one, main, n)
    if s.second is not None:
        d, p = s.second, fit.take(s.second)
        end_m3 = p.positive_m3 - s.positive_m2[d] * p.travel_m
        main_j[d] = second_chamber.fast_work_j(
            p.pressure_pa, p.positive_m3, end_m3, p.second_pa, p.second_m3, p.exponent
        )
    result: Floats = (
        main_j
        + gas.work_of_compression_j(s.negative_out, one, negative, n)
        + gas.work_of_compression_j(fit.ambient_pa, fit.legs_m3, legs, n)
        + gas.work_of_compression_j(fit.damper_pa, fit.damper_m3, damper, n)
        + _without_gas(s)
    )
    return result
