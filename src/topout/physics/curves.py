"""Whole curves of many configurations at once, written into arrays that are already there.

Same relations as `air_spring`, in the order that costs least. The rate needs no new power: with the force of a chamber
on its piston f = A·p it is f²/K. The gas force of a quick stroke is smooth, so it is raised to the polytropic exponent
at 40 Chebyshev points and carried to all points by one fixed matrix, on rows whose volumes shrink to no less than a
sixth (the error there is rounding, 1e-14 of the largest force); the others are raised point by point. Rows with a port
length, damper gas, top-out bumper, coil or second chamber are mended afterwards, on those rows alone.
A test holds it to `air_spring` element by element.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from topout.physics import air_spring, bumper
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats

_NO_AREA_M2: Final = 1e-30  # stands for an absent chamber: keeps logarithms finite, adds nothing that a double can hold
_NODES: Final = 40
_MOST_RATIO: Final = 6.0  # interpolation error ((√r+1)/(√r−1))^−40: 4e-15 at this ratio of volumes


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Curves:
    """Slow and fast force [N], rate [N/m], main and negative pressure [Pa abs]; arrays (rows, points)."""

    force_n: Floats
    force_fast_n: Floats
    rate_n_per_m: Floats
    positive_pa: Floats
    negative_pa: Floats

    @classmethod
    def empty(cls, *shape: int) -> Curves:
        """Room for curves, not yet filled.

        shape [1] (any) lengths of the axes → [SI] (shape) not yet filled. Raises nothing. Source: none needed,
        bookkeeping.
        """
        return cls(*(np.empty(shape) for _ in range(5)))

    def rows(self, index: Any) -> Curves:
        """A view of some rows (any numpy slice).

        index [1] (any) a numpy slice → [SI] (those rows) a view. Raises nothing. Source: none needed, bookkeeping.
        """
        return Curves(*(getattr(self, name)[index] for name in self.__slots__))


class Scratch:
    """Work arrays, kept from block to block so that no new memory is touched."""

    def __init__(self, rows: int, points: int) -> None:
        self.work = np.empty((rows, points))
        self.nodes = np.empty((2, rows, _NODES))


@lru_cache(maxsize=8)
def _carry(points: int) -> tuple[Floats, Floats]:
    """Chebyshev points on 0…1 and the matrix (nodes, points) that carries values there to equally spaced points.

    Barycentric interpolation at Chebyshev points of the first kind (Berrut and Trefethen, SIAM Review 46, 2004).
    """
    angle = (2.0 * np.arange(_NODES) + 1.0) * np.pi / (2.0 * _NODES)
    nodes = 0.5 * (1.0 - np.cos(angle))
    weights = np.where(np.arange(_NODES) % 2, -1.0, 1.0) * np.sin(angle)
    away = np.linspace(0.0, 1.0, points) - nodes[:, None]
    hit = away == 0.0
    parts = weights[:, None] / np.where(hit, 1.0, away)
    parts[:, hit.any(axis=0)] = 0.0
    parts[hit] = 1.0
    return nodes, parts / parts.sum(axis=0)


def fill(s: EquilibratedSpring, points: int, out: Curves, scratch: Scratch) -> None:
    """Write the curves of rows (m,) at equally spaced points of each row's own travel into `out` (m, points).

    s [SI] (m,) settled; points [1] (one) 2 and more; out [SI] (m, points) written into; scratch [SI] (m, points) or
    larger → nothing. Raises nothing. Source: physics.md 1 and 2; Berrut and Trefethen, SIAM Review 46, 2004, for the
    interpolation.
    """
    share = np.linspace(0.0, 1.0, points)
    _slow(s, share, out, scratch.work[: len(s.fit.travel_m)])
    _fast(s, share, out, scratch)
    _add_bumper(s, share, out)
    _mend(s, share, out)


def _slow(s: EquilibratedSpring, share: Floats, out: Curves, work: Floats) -> None:
    """Pressures, slow gas force and rate: main chamber straight into the results, then the others."""
    fit, force, rate = s.fit, out.force_n, out.rate_n_per_m
    swept = np.maximum(s.positive_m2, _NO_AREA_M2) * fit.travel_m
    np.subtract((fit.positive_m3 / swept)[:, None], share, out=work)
    np.divide((s.main_in / swept)[:, None], work, out=out.positive_pa)
    np.multiply(out.positive_pa, s.positive_m2[:, None], out=force)
    np.multiply(force, force, out=rate)
    rate *= (1.0 / s.main_in)[:, None]
    force -= _outside_n(s)

    swept = np.maximum(s.negative_m2, _NO_AREA_M2) * fit.travel_m
    np.add((fit.negative_m3 / swept)[:, None], share, out=work)
    np.divide((s.negative_in / swept)[:, None], work, out=out.negative_pa)
    np.multiply(out.negative_pa, s.negative_m2[:, None], out=work)
    force -= work
    work *= work
    work *= (1.0 / s.negative_in)[:, None]
    rate += work

    if fit.legs_m2.any():
        swept = np.maximum(fit.legs_m2, _NO_AREA_M2) * fit.travel_m
        legs = fit.ambient_pa * fit.legs_m3
        np.subtract((fit.legs_m3 / swept)[:, None], share, out=work)
        np.divide((legs * fit.legs_m2 / swept)[:, None], work, out=work)
        force += work
        work *= work
        work *= (1.0 / legs)[:, None]
        rate += work


def _fast(s: EquilibratedSpring, share: Floats, out: Curves, scratch: Scratch) -> None:
    fit, end = s.fit, s.fit.travel_m
    shrink = np.maximum(
        fit.positive_m3 / (fit.positive_m3 - s.positive_m2 * end), fit.legs_m3 / (fit.legs_m3 - fit.legs_m2 * end)
    )
    grow = (fit.negative_m3 + s.negative_m2 * end) / fit.negative_m3
    steep = np.nonzero(~(np.maximum(shrink, grow) <= _MOST_RATIO))[0]
    nodes, carry = _carry(len(share))
    at_nodes, work = (array[: len(end)] for array in scratch.nodes)
    _quick(s, nodes, at_nodes, work)
    np.matmul(at_nodes, carry, out=out.force_fast_n)
    if steep.size:
        whole = np.empty((steep.size, len(share)))
        _quick(s.take(steep), share, whole, np.empty_like(whole))
        out.force_fast_n[steep] = whole


def _quick(s: EquilibratedSpring, share: Floats, into: Floats, work: Floats) -> None:
    """Gas force [N] of a quick stroke from full extension: Σ ±A·(p₀·(V₀/V)ⁿ − p_a) over main, negative, lower legs."""
    fit, n = s.fit, s.fit.exponent
    main_m2, negative_m2, legs_m2 = (np.maximum(m2, _NO_AREA_M2) for m2 in (s.positive_m2, s.negative_m2, fit.legs_m2))
    chambers = (
        (np.subtract, fit.positive_m3, main_m2, main_m2 * s.main_out / fit.positive_m3, into),
        (np.add, fit.negative_m3, negative_m2, negative_m2 * s.negative_out / fit.negative_m3, work),
        (np.subtract, fit.legs_m3, legs_m2, legs_m2 * fit.ambient_pa, work),
    )
    for place, (moved, at_start_m3, area_m2, start_n, array) in enumerate(chambers):
        at_start = at_start_m3 / (area_m2 * fit.travel_m)
        moved(at_start[:, None], share, out=array)
        np.log(array, out=array)
        array *= -n[:, None]
        array += (np.log(start_n) + n * np.log(at_start))[:, None]
        np.exp(array, out=array)
        if place == 1:
            into -= work
        elif place == 2:
            into += work
    into -= _outside_n(s)


def _outside_n(s: EquilibratedSpring) -> Floats:
    """What the outside pressure takes off the forces of the gas [N], shape (m, 1)."""
    return (s.fit.ambient_pa * (s.positive_m2 - s.negative_m2 + s.fit.legs_m2))[:, None]


def _add_bumper(s: EquilibratedSpring, share: Floats, out: Curves) -> None:
    fit = s.fit
    if not fit.bumper_n_per_m.any():
        return
    own = np.where(fit.bumper_n_per_m > 0, 1.0 - fit.contact_m / fit.travel_m, 0.0)
    first = int(np.searchsorted(share, 1.0 - _longest(own) - 1e-9))
    x = fit.travel_m[:, None] * share[first:]
    crush, slope = bumper.force_and_rate(
        x - fit.contact_m[:, None],
        fit.bumper_m[:, None],
        fit.bumper_n_per_m[:, None],
        fit.bumper_power[:, None],
    )
    out.force_n[:, first:] += crush
    out.force_fast_n[:, first:] += crush
    out.rate_n_per_m[:, first:] += slope


def _longest(shares: Floats) -> float:
    """The largest share of the travel, rows left out whose own is not known."""
    return float(np.max(np.fmax(shares, 0.0), initial=0.0))


def _mend(s: EquilibratedSpring, share: Floats, out: Curves) -> None:
    """The rows with something optional, taken again through `air_spring` or added to."""
    fit = s.fit
    if s.ported is not None:
        rows = s.ported[0]
        part = s.take(rows)
        last = int(np.searchsorted(share, _longest(part.fit.port_end_m / part.fit.travel_m) + 1e-9))
        x = (part.fit.travel_m[:, None] * share[:last]).T
        plain = replace(part, damped=None, topped=None, coiled=None, sprung=None)  # those come below, on all points
        force, rate, main, _ = air_spring.force_and_rate(plain, x)
        _, negative = air_spring.pressures(plain, x)
        out.force_n[rows, :last], out.rate_n_per_m[rows, :last] = force.T, rate.T
        out.positive_pa[rows, :last], out.negative_pa[rows, :last] = main.T, negative.T
    optional = np.zeros(len(fit.travel_m), dtype=bool)
    reach = 0.0  # share of the travel after which none of them acts; damper gas acts everywhere
    ends = ((s.damped, fit.travel_m), (s.sprung, fit.travel_m), (s.topped, fit.top_out_m), (s.coiled, fit.coil_m))
    for found, ends_m in ends:
        if found is not None:
            optional[found[0]] = True
            reach = max(reach, _longest(ends_m[found] / fit.travel_m[found]))
    rows = np.nonzero(optional)[0]
    if rows.size:
        part = s.take(rows)
        last = int(np.searchsorted(share, reach + 1e-9, side="right"))
        at = (rows, slice(last))
        x = (part.fit.travel_m[:, None] * share[:last]).T
        force, rate, fast = out.force_n[at].T, out.rate_n_per_m[at].T, out.force_fast_n[at].T
        air_spring.add_optional_terms(part, x, force, rate)
        air_spring.add_optional_terms(part, x, fast, exponent=part.fit.exponent)
        out.force_n[at], out.rate_n_per_m[at], out.force_fast_n[at] = force.T, rate.T, fast.T
    if s.second is not None:
        rows = s.second[0]
        part = s.take(rows)
        x = (part.fit.travel_m[:, None] * share).T
        force, rate, main, _ = air_spring.force_and_rate(part, x)
        out.force_n[rows], out.rate_n_per_m[rows], out.positive_pa[rows] = force.T, rate.T, main.T
        out.force_fast_n[rows] = air_spring.force_fast(part, x, np.zeros(rows.size)).T
