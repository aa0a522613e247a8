"""The slow force as sums of hyperbolas, where the spring has no kink: a few divisions give it with its first three slopes.

A chamber that shrinks pushes K/(l − x), one that grows pulls K/(l + x), K the amount p·V of its gas and l its room over its
area. So it is between the port's inner edge, or the end of a top-out bumper, and the bumper's contact; a negative coil adds a
piece of a line. `air_spring` says the same for every spring at every travel; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Bools, Floats

_NO_AREA_M2: Final = 1e-30  # stands for an absent chamber: its hyperbola is then nothing that a double can hold


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Smooth:
    """Amounts [J] and rooms over areas [m] of main chamber, negative one and those that shrink beside (lower legs, damper gas,
    where any row has them); what the outside takes off [N]; rate and length of the negative coil; and the travel between which
    that is the whole force. Arrays of one shape."""

    main_j: Floats
    main_m: Floats
    negative_j: Floats
    negative_m: Floats
    beside: tuple[tuple[Floats, Floats], ...]
    outside_n: Floats
    coil: tuple[Floats, Floats] | None
    from_m: Floats
    upto_m: Floats

    def take(self, index: Any) -> Smooth:
        """The same for a part of the rows (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        coil = None if self.coil is None else (self.coil[0][index], self.coil[1][index])
        return Smooth(
            self.main_j[index], self.main_m[index], self.negative_j[index], self.negative_m[index],
            tuple((amount_j[index], room_m[index]) for amount_j, room_m in self.beside),
            self.outside_n[index], coil, self.from_m[index], self.upto_m[index],
        )  # fmt: skip


def of(s: EquilibratedSpring) -> Smooth:
    """A spring's hyperbolas. A row with a second chamber, or on a coil that carries, has none: nothing between its ends.

    s [SI] (…) settled → [SI] (…). Raises nothing. Source: physics.md 2.
    """
    fit, ambient = s.fit, s.fit.ambient_pa
    outside_n = ambient * (s.positive_m2 - s.negative_m2 + fit.legs_m2)
    beside = []
    if fit.legs_m2.any():
        beside.append((ambient * fit.legs_m3, fit.legs_m3 / np.maximum(fit.legs_m2, _NO_AREA_M2)))
    if s.damped is not None:
        beside.append((fit.damper_pa * fit.damper_m3, fit.damper_m3 / np.maximum(fit.rod_m2, _NO_AREA_M2)))
        outside_n = outside_n + ambient * fit.rod_m2
    coil = None if s.coiled is None else (fit.coil_rate_n_per_m, fit.coil_m)
    upto_m = np.where(fit.bumper_n_per_m > 0.0, np.minimum(fit.contact_m, fit.travel_m), fit.travel_m)
    from_m = np.zeros_like(upto_m)
    if s.ported is not None:
        from_m[s.ported] = fit.port_end_m[s.ported]
    if s.topped is not None:
        from_m[s.topped] = np.maximum(from_m[s.topped], fit.top_out_m[s.topped])
    for other in (s.second, s.sprung):
        if other is not None:
            from_m[other], upto_m[other] = np.inf, -np.inf
    return Smooth(
        s.main_in, fit.positive_m3 / np.maximum(s.positive_m2, _NO_AREA_M2),
        s.negative_in, fit.negative_m3 / np.maximum(s.negative_m2, _NO_AREA_M2),
        tuple(beside), outside_n, coil, from_m, upto_m,
    )  # fmt: skip


def with_slopes(of: Smooth, x: Floats, main_j: Floats | None = None) -> tuple[Floats, Floats, Floats, Floats]:
    """Force [N] and the terms of its series about x: F′, F″/2, F‴/6, the coil's kink left out of the last two.

    of [SI] (…) of a settled spring; x [m] (…) between its ends; main_j [J] (…) another amount in the main chamber's place → [SI]
    (…) each, newtons over metres to the power of its order. Raises nothing. Source: derived from physics.md 2.
    """
    near = 1.0 / (of.main_m - x)
    force = (of.main_j if main_j is None else main_j) * near
    first = force * near
    second = first * near
    third = second * near
    np.add(of.negative_m, x, out=near)
    np.divide(1.0, near, out=near)
    part = of.negative_j * near
    force -= part
    for into, sign in ((first, 1), (second, -1), (third, 1)):
        part *= near
        if sign > 0:
            into += part
        else:
            into -= part
    for amount_j, room_m in of.beside:
        np.subtract(room_m, x, out=near)
        np.divide(1.0, near, out=near)
        np.multiply(amount_j, near, out=part)
        force += part
        for into in (first, second, third):
            part *= near
            into += part
    force -= of.outside_n
    if of.coil is not None:
        rate, length_m = of.coil
        np.subtract(length_m, x, out=near)
        np.maximum(near, 0.0, out=near)
        np.greater(near, 0.0, out=part, casting="unsafe")
        part *= rate
        first += part
        part *= near
        force -= part
    return force, first, second, third


def gas_n(of: Smooth, x: Floats, main_near: Floats | None = None, negative_near: Floats | None = None) -> Floats:
    """Force [N] without the negative coil.

    of [SI] (…) of a settled spring; x [m] (…) between its ends; main_near, negative_near [SI] (…) 1/(l − x) and 1/(l + x) of the
    two chambers where they are known → [N] (…). Raises nothing. Source: physics.md 2.
    """
    force = of.main_j / (of.main_m - x) if main_near is None else of.main_j * main_near
    force -= of.negative_j / (of.negative_m + x) if negative_near is None else of.negative_j * negative_near
    for amount_j, room_m in of.beside:
        part = room_m - x
        force += np.divide(amount_j, part, out=part)
    force -= of.outside_n
    return force


def start_m(of: Smooth, load_n: Floats, near_m: Floats) -> Floats:
    """A start for where the force is the load: the root for both chambers alone, or the main one and the coil, lower legs and
    damper gas as they push at a travel near it.

    of [SI] (…) of a settled spring; load_n [N] (…) any; near_m [m] (…) 0 to the travel → [m] (…) any. Raises nothing. Source:
    derived, a quadratic; a start for the roots alone.
    """
    push_n = load_n + of.outside_n
    for amount_j, room_m in of.beside:
        push_n -= amount_j / (room_m - near_m)
    per_m = 1.0 / of.negative_m
    curve = push_n * per_m
    slope = (of.main_j + of.negative_j) * per_m + push_n * (1.0 - of.main_m * per_m)
    least = of.main_j - of.negative_j * (of.main_m * per_m) - push_n * of.main_m
    root = np.sqrt(np.maximum(slope * slope - 4.0 * curve * least, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        result: Floats = np.where(slope < 0.0, (root - slope) / (2.0 * curve), -2.0 * least / (slope + root))
        if of.coil is not None:
            at = np.nonzero((of.coil[0] > 0.0) & (result < of.coil[1]))
            if at[0].size:
                rate, main_m = of.coil[0][at], of.main_m[at]
                free_n = push_n[at] + rate * of.coil[1][at]
                half, rest = free_n + rate * main_m, free_n * main_m - of.main_j[at]
                result[at] = 2.0 * rest / (half + np.sqrt(np.maximum(half * half - 4.0 * rate * rest, 0.0)))
    return result


def inside(of: Smooth, x: Floats, before_m: Floats) -> Bools:
    """Whether x, stepped to from `before_m`, lies where the force is this, and on the same side of the coil's end.

    of [SI] (…) of a settled spring; x, before_m [m] (…) any → [-] (…). Raises nothing. Source: physics.md 2.
    """
    result = (x >= of.from_m) & (x <= of.upto_m)
    if of.coil is not None:
        result &= (x < of.coil[1]) == (before_m < of.coil[1])
    return result
