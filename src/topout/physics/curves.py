"""Whole curves of many configurations at once, written into arrays that are already there.

Same relations as `air_spring`, in the order that costs least: the force of a chamber on its piston, A·p, is raised to
the polytropic exponent, so area, volume and amount fold into one constant a row; the rate needs no new power, F²/K.
Rows with a port length, damper gas, top-out bumper or negative coil are mended afterwards, on those rows alone.
A test holds it to `air_spring` element by element.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topout.physics import air_spring, bumper
from topout.physics.air_spring import Settled
from topout.physics.gas import Floats

_NO_AREA_M2: Final = 1e-30  # stands for an absent chamber: keeps logarithms finite, adds nothing that a double can hold


@dataclass(frozen=True, slots=True)
class Curves:
    """Slow and fast force [N], rate [N/m], main and negative pressure [Pa abs]; arrays (rows, points)."""

    force_n: Floats
    force_fast_n: Floats
    rate_n_per_m: Floats
    positive_pa: Floats
    negative_pa: Floats

    @classmethod
    def empty(cls, *shape: int) -> Curves:
        """Room for curves, not yet filled."""
        return cls(*(np.empty(shape) for _ in range(5)))

    def rows(self, index: Any) -> Curves:
        """A view of some rows (any numpy slice)."""
        return Curves(*(getattr(self, name)[index] for name in self.__slots__))


class Scratch:
    """Two work arrays, kept from block to block so that no new memory is touched."""

    def __init__(self, rows: int, points: int) -> None:
        self._a, self._b = np.empty((rows, points)), np.empty((rows, points))

    def take(self, rows: int) -> tuple[Floats, Floats]:
        """Both, for so many rows."""
        return self._a[:rows], self._b[:rows]


def fill(s: Settled, share: Floats, out: Curves, scratch: Scratch) -> None:
    """Write the curves of rows (m,) at `share` (points,) of each row's own travel into `out` (m, points)."""
    fit = s.fit
    ambient, n, end = fit.ambient_pa, fit.exponent, fit.travel_m
    force, fast, rate = out.force_n, out.force_fast_n, out.rate_n_per_m
    work, log = scratch.take(len(end))
    positive_m2 = s.positive_m2
    negative_m2 = np.maximum(s.negative_m2, _NO_AREA_M2)
    legs_m2 = np.maximum(fit.legs_m2, _NO_AREA_M2)
    legs = ambient * fit.legs_m3

    # main chamber straight into the results
    _volume(fit.positive_m3, -s.positive_m2 * end, share, work)
    np.divide(s.main_in[:, None], work, out=out.positive_pa)
    np.multiply(out.positive_pa, positive_m2[:, None], out=force)
    np.multiply(force, force, out=rate)
    rate *= (1.0 / s.main_in)[:, None]
    _raise(force, n, positive_m2 * s.main_in / fit.positive_m3, positive_m2 * s.main_out / fit.positive_m3, fast)

    # negative chamber pulls the other way
    _volume(fit.negative_m3, s.negative_m2 * end, share, work)
    np.divide(s.negative_in[:, None], work, out=out.negative_pa)
    np.multiply(out.negative_pa, negative_m2[:, None], out=work)
    force -= work
    start = negative_m2 / fit.negative_m3
    _raise(work, n, start * s.negative_in, start * s.negative_out, log)
    fast -= log
    work *= work
    work *= (1.0 / s.negative_in)[:, None]
    rate += work

    # lower legs
    _volume(fit.legs_m3, -fit.legs_m2 * end, share, work)
    np.divide((legs * legs_m2)[:, None], work, out=work)
    force += work
    start = legs_m2 * ambient
    _raise(work, n, start, start, log)
    fast += log
    work *= work
    work *= (1.0 / legs)[:, None]
    rate += work

    outside = (ambient * (s.positive_m2 - s.negative_m2 + fit.legs_m2))[:, None]
    force -= outside
    fast -= outside
    _add_bumper(s, share, out)
    _mend(s, share, out)


def _volume(at_start: Floats, by_end: Floats, share: Floats, into: Floats) -> None:
    np.multiply(by_end[:, None], share, out=into)
    into += at_start[:, None]


def _raise(force: Floats, n: Floats, settled_n: Floats, start_n: Floats, into: Floats) -> None:
    """start·(force/settled)ⁿ: both forces at full extension, of the amount in `force` and of the one a stroke starts from."""
    np.log(force, out=into)
    into *= n[:, None]
    into += (np.log(start_n) - n * np.log(settled_n))[:, None]
    np.exp(into, out=into)


def _add_bumper(s: Settled, share: Floats, out: Curves) -> None:
    fit = s.fit
    if not fit.bumper_n_per_m.any():
        return
    first = int(np.searchsorted(share, np.min(1.0 - fit.bumper_m * (fit.bumper_n_per_m > 0) / fit.travel_m) - 1e-9))
    x = fit.travel_m[:, None] * share[first:]
    crush, slope = bumper.force_and_rate(
        x - (fit.travel_m - fit.bumper_m)[:, None],
        fit.bumper_m[:, None],
        fit.bumper_n_per_m[:, None],
        fit.bumper_power[:, None],
    )
    out.force_n[:, first:] += crush
    out.force_fast_n[:, first:] += crush
    out.rate_n_per_m[:, first:] += slope


def _mend(s: Settled, share: Floats, out: Curves) -> None:
    """The rows with something rarer, taken again through `air_spring` or added to."""
    fit = s.fit
    if s.ported is not None:
        rows = s.ported[0]
        part = air_spring.settle(fit.take(rows))
        last = int(np.searchsorted(share, np.max(part.fit.port_end_m / part.fit.travel_m) + 1e-9))
        x = (part.fit.travel_m[:, None] * share[:last]).T
        gas_there = air_spring.pressures(part, x)
        slow = gas_there[:2] + air_spring.usual_force(part, x, *gas_there)
        for whole, piece in zip((out.positive_pa, out.negative_pa, out.force_n, out.rate_n_per_m), slow, strict=True):
            whole[rows, :last] = piece.T
    rarer = np.zeros(len(fit.travel_m), dtype=bool)
    for found in (s.damped, s.topped, s.coiled):
        if found is not None:
            rarer[found[0]] = True
    rows = np.nonzero(rarer)[0]
    if rows.size:
        part = air_spring.settle(fit.take(rows))
        x = (part.fit.travel_m[:, None] * share).T
        force, rate, fast = out.force_n[rows].T, out.rate_n_per_m[rows].T, out.force_fast_n[rows].T
        air_spring.add_rarer(part, x, force, rate)
        air_spring.add_rarer(part, x, fast)
        out.force_n[rows], out.rate_n_per_m[rows], out.force_fast_n[rows] = force.T, rate.T, fast.T
