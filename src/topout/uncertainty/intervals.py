"""What many draws say: median and 95 % limits, each draw with its weight, and how many draws that is worth."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np

from topout.uncertainty.draws import Floats

POINTS: Final = (0.5, 0.025, 0.975)
Name = TypeVar("Name", bound=Hashable)
_AT_ONCE: Final = 40_000  # numbers that are sorted in one call


@dataclass(frozen=True, slots=True)
class Interval:
    """A quantity as it is known: its median, the limits that hold 95 %, and the standard uncertainty, all in one unit."""

    median: float
    low95: float
    high95: float
    standard: float

    @property
    def half_width(self) -> float:
        """Half of what lies between the limits.

        nothing → [SI] (one) 0 and more. Raises nothing. Source: none needed, bookkeeping.
        """
        return 0.5 * (self.high95 - self.low95)


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """Intervals one beside the other, along the travel: arrays of shape (rows,), NaN where too few draws have the number."""

    median: Floats
    low95: Floats
    high95: Floats
    standard: Floats


def band(values: Floats, weights: Floats | None = None) -> Band:
    """The interval of each row.

    values [SI] (rows, n) any, NaN where a draw gives none; weights [1] (n,) 0 and more, None for equal ones → [SI]
    (rows,). Raises nothing. Source: JCGM 101:2008 7.5 to 7.7.
    """
    none = Interval(np.nan, np.nan, np.nan, np.nan)
    found = [one or none for one in each(list(values), weights)]
    return Band(*(np.array([getattr(one, name) for one in found]) for name in Interval.__slots__))


def points(values: Floats, shares: Sequence[float]) -> Floats:
    """The points of each row below which these shares of its values lie, by `numpy.percentile`'s own rule.

    From one sort, which costs a quarter of what looking for each of the values does (numpy sorts with vectors, and looks without).

    values [SI] (…, n) any, not NaN; shares [1] (k) 0 to 1 → [SI] (k, …). Raises nothing. Source: Hyndman and Fan 1996, their rule 7.
    """
    ordered = np.sort(values, axis=-1)
    last = values.shape[-1] - 1
    found = []
    for share in shares:
        low = min(int(share * last), max(last - 1, 0))
        part = share * last - low
        found.append((1.0 - part) * ordered[..., low] + part * ordered[..., min(low + 1, last)])
    return np.array(found)


def median(values: Floats) -> Floats:
    """The median of each row; numpy's own would bring in its masked arrays, which cost a plan more than its sorting.

    values [SI] (…, n) any, none NaN or all → [SI] (…). Raises nothing. Source: none needed, the middle of what is ordered.
    """
    result: Floats = points(values, (0.5,))[0]
    return result


def effective(weights: Floats) -> float:
    """How many draws of equal weight these are worth: (Σw)²/Σw².

    weights [1] (n,) 0 and more → [1] (one) 0 to n. Raises nothing. Source: Kish 1965.
    """
    square = float(np.sum(weights**2))
    return float(np.sum(weights)) ** 2 / square if square > 0.0 else 0.0


def interval(values: Floats, weights: Floats | None = None) -> Interval | None:
    """Median, 2.5 and 97.5 % points and standard uncertainty; None where more than one draw in twenty gives no value.

    A draw that gives none (NaN: the spring locks, no pressure does it) is left out, as long as it is rare.

    values [SI] (n,) any, NaN where a draw gives none; weights [1] (n,) 0 and more, None for equal ones → [SI] (one) or
    None. Raises nothing. Source: JCGM 101:2008 7.5 to 7.7.
    """
    return each([values], weights)[0]


def each(rows: Sequence[Floats], weights: Floats | None = None) -> list[Interval | None]:
    """The interval of each of many rows of the same draws, as `interval` tells it: some rows at a time, as a plan has a hundred.

    rows [SI] (any) (n,) each, NaN where a draw gives none; weights [1] (n,) 0 and more, None for equal ones → [SI] (any) or None
    each. Raises nothing. Source: JCGM 101:2008 7.5 to 7.7.
    """
    found: list[Interval | None] = [None] * len(rows)
    if not rows:
        return found
    share = np.ones(rows[0].shape) if weights is None else weights
    whole = float(share.sum())
    if whole <= 0.0:
        return found
    spread: list[int] = []
    for place, values in enumerate(rows):
        one = float(values[0])
        if np.min(values) == one == np.max(values) and math.isfinite(one):  # exact: most of a stance is
            found[place] = Interval(one, one, one, 0.0)
        elif np.isfinite(values).all():
            spread.append(place)
        else:
            known = np.isfinite(values)
            if float(share[known].sum()) >= 0.95 * whole:
                found[place] = interval(values[known], share[known])
    share = share / whole
    most = max(1, _AT_ONCE // len(share))
    for first in range(0, len(spread), most):
        some = spread[first : first + most]
        for place, one_of in zip(some, _told(np.array([rows[place] for place in some]), share), strict=True):
            found[place] = one_of
    return found


def named(
    rows: Mapping[Name, Floats], weights: Floats, kept: dict[Name, tuple[Floats, Interval | None]] | None = None
) -> dict[Name, Interval]:
    """The interval of each row that has one, by its name. A row that equals the one kept under its name is not worked out again.

    rows [SI] (any) (n,) each, by name; weights [1] (n,) 0 and more; kept [SI] (any) filled here, for draws of the same weights alone, or
    None → [SI] (any) by name. Raises nothing. Source: JCGM 101:2008 7.5 to 7.7.
    """
    before = {} if kept is None else dict(kept)
    found = {name: before[name] for name in rows if name in before and np.array_equal(before[name][0], rows[name])}
    other = [name for name in rows if name not in found]
    for name, told in zip(other, each([rows[name] for name in other], weights), strict=True):
        found[name] = rows[name], told
    if kept is not None:
        kept.update(found)  # a row with its interval: another thread's move puts both in its place
    known = {name: found[name][1] for name in rows}
    return {name: told for name, told in known.items() if told is not None}


def _told(values: Floats, share: Floats) -> list[Interval]:
    """Of rows that every draw gives a number of; the draws' shares add to one."""
    order = np.argsort(values, axis=-1)
    steps, row = share[order], np.arange(len(values))
    below = np.cumsum(steps, axis=-1)
    below -= 0.5 * steps  # each draw stands in the middle of its own share
    told = []
    for point in POINTS:
        at = np.sum(below <= point, axis=-1)
        after, before = np.minimum(at, values.shape[1] - 1), np.maximum(at - 1, 0)
        low, high = (values[row, order[row, place]] for place in (before, after))
        apart = below[row, after] - below[row, before]
        told.append(
            low
            + (high - low)
            * np.where(apart > 0.0, (point - below[row, before]) / np.where(apart > 0.0, apart, 1.0), 0.0)
        )
    # Sums, not products of matrices: the library's threads cost more than these sums where others use the processors.
    mean = np.einsum("n,kn->k", share, values)
    off = values - mean[:, None]
    told.append(np.sqrt(np.einsum("n,kn,kn->k", share, off, off)))
    return [Interval(*one) for one in np.array(told).T.tolist()]


def as_json(name: str, told: Interval | None, *, exact: bool) -> dict[str, float | None]:
    """A number as programs read it: the median under its name, with what is not exact its uncertainty and limits beside.

    name [-] (one) a key; told [SI] (one) or None; exact [-] (one) yes or no → [SI] (any) by key, null where None. Raises
    nothing. Source: bench-file.md.
    """
    if told is None or exact:
        return {name: None if told is None else told.median}
    return {name: told.median} | beside(name, told.standard, told.low95, told.high95)


def beside(name: str, standard: Any, low95: Any, high95: Any) -> dict[str, Any]:
    """What stands beside a number, or a row of them, that is not exact, as programs read it.

    name [-] (one) a key; standard, low95, high95 [SI] (any) as found → [SI] (3) by key. Raises nothing. Source: bench-file.md.
    """
    return {f"{name}_u": standard, f"{name}_low95": low95, f"{name}_high95": high95}
