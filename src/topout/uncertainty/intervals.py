"""What many draws say: median and 95 % limits, each draw with its weight, and how many draws that is worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topout.uncertainty.draws import Floats

POINTS: Final = (0.5, 0.025, 0.975)


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
    each = [interval(row, weights) or none for row in values]
    return Band(*(np.array([getattr(one, name) for one in each]) for name in Interval.__slots__))


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
    known = np.isfinite(values)
    share = np.ones(values.shape) if weights is None else weights
    whole = float(share.sum())
    kept = float(share[known].sum())
    if whole <= 0.0 or kept < 0.95 * whole:
        return None
    values, share = values[known], share[known] / kept
    one = float(values[0])
    if np.min(values) == one == np.max(values):  # exact: most of a stance is
        return Interval(one, one, one, 0.0)
    order = np.argsort(values)
    ordered, steps = values[order], share[order]
    below = np.cumsum(steps) - 0.5 * steps  # each draw stands in the middle of its own share
    median, low, high = (float(each) for each in np.interp(POINTS, below, ordered))
    # Sums, not products of matrices: the library's threads cost more than these sums where others use the processors.
    mean = float(np.sum(share * values))
    standard = float(np.sqrt(np.sum(share * (values - mean) ** 2)))
    return Interval(median, low, high, standard)


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
