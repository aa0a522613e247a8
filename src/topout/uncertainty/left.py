"""What a reading to come would leave of an answer's doubt, told from draws alone."""

from __future__ import annotations

from typing import Final

import numpy as np

from topout.uncertainty.draws import Floats

LEAST_KNOWN: Final = 400  # draws that have an answer and a reading
_PARTS: Final = 20  # of the draws, two hundred each


def half_width(answer: Floats, readings: list[Floats]) -> float:
    """Half-width of 95 % that is left of an answer once the readings are known, of draws that count alike: the middle one of twenty.

    Each twentieth of the draws reads nearly the same; what a line in the readings leaves over there is its doubt. One rule for all
    would not do: of a fork that may nearly lock the end is far off for the few that read high, and known for the others.

    answer [SI] (n,) any, NaN where a draw gives none; readings [SI] (any) (n,) each, as every draw would give it → [SI] (one) NaN where
    too few draws have both. Raises nothing. Source: physics.md 12; the parts are ours.
    """
    known = np.isfinite(answer)
    for each in readings:
        known &= np.isfinite(each)
    if known.sum() < LEAST_KNOWN:
        return float("nan")
    terms = [each[known] for each in readings]
    terms = [(term - term.mean()) / spread for term in terms if (spread := float(term.std())) > 0.0]
    parts = _PARTS if terms else 1
    order = np.argsort(_along(answer[known], terms)) if terms else np.arange(int(known.sum()))
    order = order[: len(order) - len(order) % parts].reshape(parts, -1)
    rest = _centred(answer[known][order])
    lines: list[Floats] = []
    for term in terms:
        x = _centred(term[order])
        for other in lines:
            x = x - _in(x, other)
        rest = rest - _in(rest, x)
        lines.append(x)
    low, high = np.percentile(rest, (2.5, 97.5), axis=1)
    return 0.5 * float(np.median(high - low))


def _centred(values: Floats) -> Floats:
    result: Floats = values - values.mean(axis=1, keepdims=True)
    return result


def _in(values: Floats, line: Floats) -> Floats:
    """The part of centred values that a multiple of a line is, row by row."""
    square = np.sum(line * line, axis=1, keepdims=True)
    result: Floats = line * (np.sum(values * line, axis=1, keepdims=True) / np.where(square > 0.0, square, 1.0))
    return result


def _along(answer: Floats, terms: list[Floats]) -> Floats:
    """What orders draws by readings: the one reading, or of several what best tells the answer's place among all."""
    if len(terms) == 1:
        return terms[0]
    rank = np.argsort(np.argsort(answer)) / len(answer) - 0.5
    squares = [term * term - 1.0 for term in terms]
    products = np.array([[np.sum(a * b) for b in (*terms, *squares)] for a in (*terms, *squares)])
    found = np.linalg.lstsq(products, np.array([np.sum(a * rank) for a in (*terms, *squares)]), rcond=1e-10)[0]
    result: Floats = np.sum([share * term for share, term in zip(found, (*terms, *squares), strict=True)], axis=0)
    return result
