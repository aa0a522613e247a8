"""The spring of a fork or a shock, air or coil: from what is fitted to force and rate along the travel.

`x` is travel used: 0 at full extension, S at the solid stop. `F(x)` pushes the fork longer. Every array has the same
shape, the configurations'; `x` may have further axes in front. Force is linear in the filling pressure
P = (gauge reading at x = 0) + ambient: F = P·a(x) + b(x); the planner's keeps rest on that. With a second chamber it
is so piece by piece. A coil that carries has no gas: its bore is 0.

Sources: force balance on piston, shaft and lower legs as one free body (tests take it again in absolute pressures as
the derivative of the gas's free energy); gas laws as in any thermodynamics textbook.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from operator import attrgetter
from typing import Any, TypeAlias

import numpy as np

from topout.physics import bumper, coil, gas, second_chamber
from topout.physics.gas import Bools, Floats

Rows: TypeAlias = tuple[Any, ...]  # what np.nonzero gives


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Chambers:
    """What is fitted, one value a configuration, shape (…); SI, pressures absolute, volumes free at full extension.

    Where a part is absent its area or rate is 0 (and its volume or length 1): the term is then nothing.
    """

    ambient_pa: Floats
    exponent: Floats
    travel_m: Floats  # to the solid stop, or to where a coil binds before it
    bore_m: Floats
    shaft_m: Floats
    pressure_pa: Floats  # main chamber, read at x = 0
    positive_m3: Floats
    negative_m3: Floats
    gas_negative: Bools  # there is a negative chamber of gas; where not, its volume is 1 and holds ambient
    equalises: Bools  # and a port that the piston reaches
    negative_pa: Floats  # at x = 0, of a chamber that does not equalise; ambient where there is none
    port_m: Floats
    port_end_m: Floats
    coil_rate_n_per_m: Floats
    coil_m: Floats
    legs_m3: Floats
    legs_m2: Floats
    rod_m2: Floats
    damper_m3: Floats
    damper_pa: Floats
    contact_m: Floats  # travel at which the bumper at its end is touched
    bumper_m: Floats
    bumper_n_per_m: Floats
    bumper_power: Floats
    top_out_m: Floats
    top_out_n_per_m: Floats
    top_out_power: Floats
    # A coil that carries, how far it is wound up at full extension, the travel at which it binds.
    spring_n_per_m: Floats
    preload_m: Floats
    bind_m: Floats  # infinite where it does not
    second_m3: Floats  # second positive chamber, the floating piston on its stop
    second_pa: Floats  # as it was set there

    def take(self, index: Any) -> Chambers:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Chambers(*[value[index] for value in _FITTED(self)])


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class EquilibratedSpring:
    """Chambers with their gas settled: areas, amounts p·V [J], and which rows carry optional terms.

    Coming out the chambers part at the port's outer edge (amounts `…_out`), going in at its inner edge (`…_in`);
    between them they are one (`joined`). With no port length both are the same.
    """

    fit: Chambers
    positive_m2: Floats
    negative_m2: Floats
    main_out: Floats
    main_in: Floats
    negative_out: Floats
    negative_in: Floats
    joined: Floats
    main_per_pa: Floats  # d(main_in)/dP [m³]
    negative_per_pa: Floats
    ported: Rows | None  # rows whose port has a length, None where there are none
    damped: Rows | None
    topped: Rows | None
    coiled: Rows | None
    sprung: Rows | None
    second: Rows | None

    def take(self, index: Any) -> EquilibratedSpring:
        """The same for a part of the configurations (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        fit = self.fit.take(index)
        # A part has none of what the whole has none of: looking for it again would be half of the time this takes.
        optional = (
            None if of_whole is None else _rows(mask(fit))
            for of_whole, mask in zip(_ROWS_OF(self), _OPTIONAL_TERMS, strict=True)
        )  # fmt: skip
        parts: list[Any] = [fit, *(value[index] for value in _AMOUNTS(self)), *optional]
        return EquilibratedSpring(*parts)


_OPTIONAL_TERMS: tuple[Callable[[Chambers], Bools], ...] = (
    lambda fit: fit.equalises & (fit.port_end_m > fit.port_m),
    lambda fit: fit.rod_m2 > 0.0,
    lambda fit: fit.top_out_n_per_m > 0.0,
    lambda fit: fit.coil_rate_n_per_m > 0.0,
    lambda fit: fit.spring_n_per_m > 0.0,
    lambda fit: fit.second_m3 > 0.0,
)


def locked(fit: Chambers) -> Bools:
    """Where a volume runs out within the travel: main, negative, lower legs or damper gas. Shape of the chambers.

    fit [SI] (…) any → [-] (…) false where a value is not known. Raises nothing. Source: physics.md 2.
    """
    end = fit.travel_m
    return np.asarray(
        (fit.positive_m3 - 0.25 * np.pi * fit.bore_m**2 * end <= 0.0)
        | (fit.gas_negative & (fit.negative_m3 <= 0.0))
        | (fit.legs_m3 - fit.legs_m2 * end <= 0.0)
        | (fit.damper_m3 - fit.rod_m2 * end <= 0.0)
    )


def computable(fit: Chambers) -> Chambers:
    """The same with a pressure of NaN, and so every force, where it locks or where something of it is not known.

    fit [SI] (…) any → [SI] (…). Raises nothing. Source: physics.md 2, hydraulic lock.
    """
    known = sum(value for value in _FITTED(fit) if value.dtype != bool)
    bad = np.isnan(known) | locked(fit)
    return replace(fit, pressure_pa=np.where(bad, np.nan, fit.pressure_pa)) if bad.any() else fit


def _rows(mask: Bools) -> Rows | None:
    return np.nonzero(mask) if mask.any() else None


def settle(fit: Chambers) -> EquilibratedSpring:
    """Gas amounts once the fork has been cycled and has settled (isothermal).

    Self-equalising: the gauge reads P at x = 0, so p_e = P·V_p(0)/V_p(x_e) where they parted coming out; the sum of
    both amounts is pooled at the port's inner edge. A separate valve holds its own reading; a port that the piston
    never reaches leaves what was shut in at full extension.

    fit [SI] (…) not locked, else without meaning → [SI] (…). Raises nothing. Source: physics.md 2; any thermodynamics
    textbook.
    """
    piston_m2 = 0.25 * np.pi * fit.bore_m**2
    annulus_m2 = np.where(fit.gas_negative, piston_m2 - 0.25 * np.pi * fit.shaft_m**2, 0.0)
    main = fit.positive_m3
    at_port_m3 = main - piston_m2 * fit.port_m
    negative_at_port_m3 = fit.negative_m3 + annulus_m2 * fit.port_m
    negative_per_pa = np.where(fit.equalises, main / at_port_m3 * negative_at_port_m3, 0.0)
    pressure = fit.pressure_pa
    main_out = pressure * main
    own = np.where(fit.equalises, 0.0, fit.negative_pa * fit.negative_m3)
    negative_out = pressure * negative_per_pa + own
    optional = [_rows(mask(fit)) for mask in _OPTIONAL_TERMS]
    ported, *_, second = optional
    if second is not None:
        # The main gas may have room beyond the floating piston's stop; at the port both have the pressure it has there.
        d, behind = second, (fit.second_pa[second], fit.second_m3[second])
        main_out[d] = second_chamber.amount_j(pressure[d], main[d], *behind)
        parted = second_chamber.pressure_abs_pa(main_out[d] / at_port_m3[d], at_port_m3[d], *behind)
        negative_out[d] = np.where(fit.equalises[d], parted * negative_at_port_m3[d], negative_out[d])
    joined = main_out + negative_out
    main_in, main_per_pa = main_out, main
    negative_in, negative_in_per_pa = negative_out, negative_per_pa
    if ported is not None:
        end = fit.port_end_m[ported]
        main_end_m3 = main[ported] - piston_m2[ported] * end
        share = main_end_m3 / (main_end_m3 + fit.negative_m3[ported] + annulus_m2[ported] * end)
        main_in, main_per_pa = main_out.copy(), main.copy()
        negative_in, negative_in_per_pa = negative_out.copy(), negative_per_pa.copy()
        both_per_pa = main[ported] + negative_per_pa[ported]
        main_in[ported], negative_in[ported] = joined[ported] * share, joined[ported] * (1.0 - share)
        main_per_pa[ported], negative_in_per_pa[ported] = both_per_pa * share, both_per_pa * (1.0 - share)
        if second is not None:
            _part_at_inner_edge(fit, ported, joined, piston_m2, annulus_m2, main_in, negative_in)
    return EquilibratedSpring(
        fit, piston_m2, annulus_m2, main_out, main_in, negative_out, negative_in, joined, main_per_pa,
        negative_in_per_pa, *optional,
    )  # fmt: skip


def _part_at_inner_edge(
    fit: Chambers, ported: Rows, joined: Floats, piston_m2: Floats, annulus_m2: Floats, main: Floats, negative: Floats
) -> None:
    """Share the pooled gas between main and negative chamber where a second one may hold some of the room; in place."""
    p, end = ported, fit.port_end_m[ported]
    main_m3 = fit.positive_m3[p] - piston_m2[p] * end
    negative_m3 = fit.negative_m3[p] + annulus_m2[p] * end
    both_m3 = main_m3 + negative_m3
    there = fit.second_m3[p] > 0.0
    pressure = second_chamber.pressure_abs_pa(joined[p] / both_m3, both_m3, fit.second_pa[p], fit.second_m3[p])
    negative[p] = np.where(there, pressure * negative_m3, negative[p])
    main[p] = np.where(there, joined[p] - pressure * negative_m3, main[p])


_FITTED = attrgetter(*(f.name for f in fields(Chambers)))
_AMOUNTS = attrgetter(*(f.name for f in fields(EquilibratedSpring)[1:10]))
_ROWS_OF = attrgetter(*(f.name for f in fields(EquilibratedSpring)[10:]))


def places(s: EquilibratedSpring, rows: Rows) -> tuple[Any, Any]:
    """Numpy indices of some rows, with further axes in front and without; where they are all, of everything: nothing is copied.

    s [SI] (…) any; rows [1] (any) its own → [1] (any) both. Raises nothing. Source: none needed, bookkeeping.
    """
    return (..., ...) if rows[0].size == s.fit.travel_m.size else ((..., *rows), rows)


def pressures(s: EquilibratedSpring, x: Floats) -> tuple[Floats, Floats]:
    """Main and negative pressure [Pa abs] at x, slow (isothermal), shape of x.

    Where there is no negative chamber of gas, ambient: its space has no area and holds ambient.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [Pa abs] (…) main, negative. Raises nothing. Source: physics.md 2.
    """
    main_m3 = s.fit.positive_m3 - s.positive_m2 * x
    negative_m3 = s.fit.negative_m3 + s.negative_m2 * x
    main, negative = s.main_in / main_m3, s.negative_in / negative_m3
    if s.ported is not None:
        at, p = places(s, s.ported)
        outside, pooled = _region(s, x)
        both = s.joined[p] / (main_m3[at] + negative_m3[at])
        main[at] = np.where(outside, s.main_out[p] / main_m3[at], np.where(pooled, both, main[at]))
        negative[at] = np.where(outside, s.negative_out[p] / negative_m3[at], np.where(pooled, both, negative[at]))
    if s.second is not None:
        at, d = places(s, s.second)
        room_m3, pooled = main_room_m3(s, x)
        main[at] = second_chamber.pressure_abs_pa(main[at], room_m3, s.fit.second_pa[d], s.fit.second_m3[d])
        negative[at] = np.where(pooled, main[at], negative[at])
    return main, negative


def main_room_m3(s: EquilibratedSpring, x: Floats) -> tuple[Floats, Bools]:
    """Of the rows with a second chamber: the main gas's room, the negative chamber's in it where the port joins them.

    s [SI] (…) settled, some with a second chamber; x [m] (…) 0 to the travel → [m³], [-] (those rows). Raises nothing.
    Source: physics.md 2.
    """
    assert s.second is not None
    at, d = places(s, s.second)
    xd, fit = x[at], s.fit
    pooled = fit.equalises[d] & (fit.port_end_m[d] > fit.port_m[d]) & (xd >= fit.port_m[d]) & (xd <= fit.port_end_m[d])
    main_m3 = fit.positive_m3[d] - s.positive_m2[d] * xd
    return main_m3 + np.where(pooled, fit.negative_m3[d] + s.negative_m2[d] * xd, 0.0), pooled


def _region(s: EquilibratedSpring, x: Floats) -> tuple[Bools, Bools]:
    """Of the rows whose port has a length: where the chambers have parted coming out, and where they are one."""
    assert s.ported is not None
    at, p = places(s, s.ported)
    xp, first, last = x[at], s.fit.port_m[p], s.fit.port_end_m[p]
    return xp < first, (xp >= first) & (xp <= last)


def _slopes(s: EquilibratedSpring, x: Floats, main: Floats, negative: Floats) -> tuple[Floats, Floats]:
    """dp/dx [Pa/m] of both pressures."""
    main_m3 = s.fit.positive_m3 - s.positive_m2 * x
    negative_m3 = s.fit.negative_m3 + s.negative_m2 * x
    main_slope, negative_slope = main * s.positive_m2 / main_m3, -negative * s.negative_m2 / negative_m3
    if s.ported is not None:
        at, p = places(s, s.ported)
        _, pooled = _region(s, x)
        both = main[at] * (s.positive_m2[p] - s.negative_m2[p]) / (main_m3[at] + negative_m3[at])
        main_slope[at] = np.where(pooled, both, main_slope[at])
        negative_slope[at] = np.where(pooled, both, negative_slope[at])
    if s.second is not None:
        at, d = places(s, s.second)
        room_m3, pooled = main_room_m3(s, x)
        given_way = main[at] >= s.fit.second_pa[d]
        main_slope[at] *= np.where(given_way, room_m3 / (room_m3 + s.fit.second_m3[d]), 1.0)
        negative_slope[at] = np.where(pooled, main_slope[at], negative_slope[at])
    return main_slope, negative_slope


def force(s: EquilibratedSpring, x: Floats) -> Floats:
    """Slow force [N] at x, friction not.

    F = g_p·A_p − g_n·A_n + g_l·A_l + g_d·A_rod + F_bumper − F_top-out − F_negative coil + F_coil.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [N] (…). Raises nothing. Source: physics.md 2, force balance.
    """
    result, _ = _usual_force(s, x, *pressures(s, x))
    add_optional_terms(s, x, result)
    return result


def force_and_rate(s: EquilibratedSpring, x: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Slow force [N], its slope [N/m], main pressure [Pa abs] and its slope [Pa/m] at x; friction not.

    s [SI] (…) settled; x [m] (…) 0 to the travel → [N], [N/m], [Pa abs], [Pa/m] (…) each. Raises nothing. Source:
    physics.md 2; slopes derived.
    """
    main, negative = pressures(s, x)
    main_slope, negative_slope = _slopes(s, x, main, negative)
    result, rate = _usual_force(s, x, main, negative)
    legs_m3 = s.fit.legs_m3 - s.fit.legs_m2 * x
    rate += main_slope * s.positive_m2 - negative_slope * s.negative_m2
    rate += s.fit.ambient_pa * s.fit.legs_m3 * s.fit.legs_m2**2 / (legs_m3 * legs_m3)
    add_optional_terms(s, x, result, rate)
    return result, rate, main, main_slope


def _usual_force(s: EquilibratedSpring, x: Floats, main: Floats, negative: Floats) -> tuple[Floats, Floats]:
    """Slow force [N] of what nearly every fork has: both chambers, lower legs, bumper; and the bumper's slope [N/m]."""
    fit, ambient = s.fit, s.fit.ambient_pa
    result = main * s.positive_m2 - negative * s.negative_m2
    result += (ambient * fit.legs_m3 * fit.legs_m2) / (fit.legs_m3 - fit.legs_m2 * x)
    result -= ambient * (s.positive_m2 - s.negative_m2 + fit.legs_m2)
    crush_n, slope = bumper.force_and_rate(x - fit.contact_m, fit.bumper_m, fit.bumper_n_per_m, fit.bumper_power)
    result += crush_n
    return result, slope


def add_optional_terms(
    s: EquilibratedSpring, x: Floats, force_n: Floats, rate: Floats | None = None, *, exponent: Floats | None = None
) -> None:
    """Add damper gas, top-out bumper, negative coil and a coil that carries to `force_n` (and `rate`) in place, on the rows that have them.

    With an `exponent` the damper gas of a quick stroke.

    s [SI] (…) settled; x [m] (…) 0 to the travel; force_n [N] (…) added to in place; rate [N/m] (…) or None; exponent
    [1] (…) 1 to 1.4 or None → nothing. Raises nothing. Source: physics.md 2.
    """
    fit = s.fit
    if s.damped is not None:
        at, d = places(s, s.damped)
        damper_m3 = fit.damper_m3[d] - fit.rod_m2[d] * x[at]
        ratio = fit.damper_m3[d] / damper_m3
        damper = fit.damper_pa[d] * (ratio if exponent is None else ratio ** exponent[d])
        force_n[at] += (damper - fit.ambient_pa[d]) * fit.rod_m2[d]
        if rate is not None:
            rate[at] += damper * fit.rod_m2[d] ** 2 / damper_m3
    if s.topped is not None:
        at, t = places(s, s.topped)
        n, slope = bumper.force_and_rate(
            fit.top_out_m[t] - x[at], fit.top_out_m[t], fit.top_out_n_per_m[t], fit.top_out_power[t]
        )
        force_n[at] -= n
        if rate is not None:
            rate[at] += slope
    if s.coiled is not None:
        at, c = places(s, s.coiled)
        push_m = fit.coil_m[c] - x[at]
        force_n[at] -= fit.coil_rate_n_per_m[c] * np.maximum(push_m, 0.0)
        if rate is not None:
            rate[at] += fit.coil_rate_n_per_m[c] * (push_m >= 0.0)
    if s.sprung is not None:
        at, c = places(s, s.sprung)
        force_n[at] += coil.force_n(x[at], fit.spring_n_per_m[c], fit.preload_m[c])
        if rate is not None:
            rate[at] += fit.spring_n_per_m[c]


def force_fast(s: EquilibratedSpring, x: Floats, anchor_m: Floats) -> Floats:
    """Force [N] of a quick stroke at x: main and negative gas settled at `anchor_m`, then polytropic, the port shut.

    Lower legs and damper gas start from full extension in either case: they are worked by the same stroke, and no
    port lets them settle. `anchor_m` broadcasts against x; 0 is the settled gas at full extension.

    s [SI] (…) settled; x [m] (…) 0 to the travel; anchor_m [m] (…) 0 to the travel → [N] (…). Raises nothing. Source:
    physics.md 1.
    """
    fit, ambient, n = s.fit, s.fit.ambient_pa, s.fit.exponent
    anchor = np.broadcast_to(anchor_m, np.broadcast_shapes(anchor_m.shape, fit.travel_m.shape))
    start, negative_start = pressures(s, anchor)
    main_ratio = (fit.positive_m3 - s.positive_m2 * anchor_m) / (fit.positive_m3 - s.positive_m2 * x)
    negative_ratio = (fit.negative_m3 + s.negative_m2 * anchor_m) / (fit.negative_m3 + s.negative_m2 * x)
    main = gas.polytropic_abs_pa(start, main_ratio, n)
    if s.second is not None:
        at, d = places(s, s.second)
        start_m3, room_m3 = (fit.positive_m3[d] - s.positive_m2[d] * place[at] for place in (anchor, x))
        main[at] = second_chamber.fast_abs_pa(start[at], start_m3, room_m3, fit.second_pa[d], fit.second_m3[d], n[d])
    negative = gas.polytropic_abs_pa(negative_start, negative_ratio, n)
    legs = gas.polytropic_abs_pa(ambient, fit.legs_m3 / (fit.legs_m3 - fit.legs_m2 * x), n)
    crush, _ = bumper.force_and_rate(x - fit.contact_m, fit.bumper_m, fit.bumper_n_per_m, fit.bumper_power)
    result: Floats = (
        (main - ambient) * s.positive_m2 - (negative - ambient) * s.negative_m2 + (legs - ambient) * fit.legs_m2 + crush
    )
    add_optional_terms(s, x, result, exponent=fit.exponent)
    return result
