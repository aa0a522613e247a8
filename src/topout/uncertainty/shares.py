"""Whose doubt an answer's doubt is: the share of its variance that each input brings by itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, TypeAlias

import numpy as np

from topout.uncertainty.draws import Floats

_LEAST_A_BIN: Final = 40.0  # effective draws a bin, so that a bin's mean says more than its own chance
_MOST_BINS: Final = 50


Order: TypeAlias = np.ndarray[Any, np.dtype[np.intp]]
# The draws in the order of an input, the part each is in, their weights, and those of the parts.
Cut: TypeAlias = tuple[Order, Order, Floats, Floats] | None  # None where all draws have one value


def variance_shares(
    inputs: Mapping[str, Floats], answer: Floats, weights: Floats | None = None, cuts: dict[str, Cut] | None = None
) -> dict[str, float]:
    """First-order variance shares Var(E[Y|X])/Var(Y) of each input, from the draws that there are.

    The draws are cut into parts of equal weight along each input; the spread of the parts' means, less what chance alone
    would spread them, is the input's share (the correlation ratio of Pearson 1905, corrected). Inputs that hang together
    share what they bring, so that shares may add to more than one.

    inputs [SI] (n,) each, by name; answer [SI] (n,) NaN where a draw gives none; weights [1] (n,) 0 and more, None for
    equal ones; cuts [1] (any) what further answers of the same inputs and weights need not work out again, empty at first, or None → [1]
    (one) each, 0 to 1. Raises nothing. Source: Saltelli and others 2008 (Global Sensitivity Analysis);
    Pearson 1905.
    """
    known = np.isfinite(answer)
    whole_known = bool(known.all())
    share = np.ones(answer.shape) if weights is None else weights
    y = answer
    if not whole_known:
        share, y = share[known], answer[known]
    whole = float(share.sum())
    square = float(np.sum(share**2))
    if whole <= 0.0 or square <= 0.0:
        return dict.fromkeys(inputs, 0.0)
    worth = whole**2 / square
    share = share / whole
    mean = float(np.sum(share * y))
    variance = float(np.sum(share * (y - mean) ** 2))
    parts = int(min(max(worth // _LEAST_A_BIN, 2), _MOST_BINS))
    kept = cuts if cuts is not None and whole_known else {}
    result = {}
    for name, values in inputs.items():
        result[name] = 0.0
        if variance <= (1e-12 * mean) ** 2:  # no more than the figures' own rounding
            continue
        if name not in kept:
            x = values if whole_known else values[known]
            kept[name] = None if np.ptp(x) == 0.0 else _cut(x, share, parts)
        cut = kept[name]
        if cut is None:
            continue
        order, place, ordered, weight = cut
        filled = weight > 0.0
        means = np.bincount(place, ordered * y[order], parts)[filled] / weight[filled]
        between = float(np.sum(weight[filled] * (means - mean) ** 2))
        chance = (filled.sum() - 1) / max(worth - 1.0, 1.0)
        result[name] = float(np.clip((between / variance - chance) / max(1.0 - chance, 1e-9), 0.0, 1.0))
    return result


def _cut(x: Floats, share: Floats, parts: int) -> Cut:
    order = np.argsort(x)
    lined_up = x[order]
    if (lined_up[1:] == lined_up[:-1]).any():  # equal ones in their own order on every processor
        order = np.argsort(x, kind="stable")
    ordered = share[order]
    place = np.minimum((parts * (np.cumsum(ordered) - 0.5 * ordered)).astype(int), parts - 1)
    weight: Any = np.bincount(place, ordered, parts)  # of floats where it is weighted, which its type does not say
    return order, place, ordered, weight
