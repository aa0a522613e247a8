"""What a reading to come would leave of an answer's doubt, told from draws alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple, TypeAlias

import numpy as np

from topout.uncertainty.draws import Floats

LEAST_KNOWN: Final = 400  # draws that have an answer and a reading
Parts: TypeAlias = np.ndarray[tuple[int, int], np.dtype[np.intp]]
_PARTS: Final = 20  # of the draws, two hundred each


class Left(NamedTuple):
    """Half-width of 95 % that a reading leaves of an answer [SI]: as a rule, and what eight of ten of its figures leave, from and to."""

    half: float
    least: float
    most: float


def half_width(answer: Floats, readings: Sequence[Floats]) -> float:
    """Half-width of 95 % that is left of one answer once the readings are known, as `half_widths` tells it.

    answer [SI] (n,) any, NaN where a draw gives none; readings [SI] (any) (n,) each → [SI] (one) NaN where too few draws have both.
    Raises nothing. Source: physics.md 12; the parts are ours.
    """
    return half_widths({"": answer}, readings)[""].half


def half_widths(answers: Mapping[str, Floats], readings: Sequence[Floats]) -> dict[str, Left]:
    """Half-width of 95 % that is left of each answer once the readings are known, of draws that count alike: the middle one of twenty,
    with the second from either end, for it hangs on what is read.

    Each twentieth of the draws reads nearly the same; what a line in the readings leaves over there is its doubt. One rule for all
    would not do: of a fork that may nearly lock the end is far off for the few that read high, and known for the others. What answers
    known by the same draws have in common is worked out once: this is asked with each move of the plan page.

    answers [SI] (n,) each, by name, NaN where a draw gives none; readings [SI] (any) (n,) each, as every draw would give it → [SI] (3)
    each by name, NaN where too few draws have both. Raises nothing. Source: physics.md 12; the parts are ours.
    """
    read = np.ones_like(next(iter(answers.values())), dtype=bool) if answers else np.ones(0, dtype=bool)
    for each in readings:
        read &= np.isfinite(each)
    alike: dict[bytes, list[str]] = {}
    masks = {name: read & np.isfinite(answer) for name, answer in answers.items()}
    for name, known in masks.items():
        alike.setdefault(known.tobytes(), []).append(name)
    found = dict.fromkeys(answers, Left(*[float("nan")] * 3))
    for names in alike.values():
        known = masks[names[0]]
        if known.sum() < LEAST_KNOWN:
            continue
        terms = [each[known] for each in readings]
        terms = [(term - term.mean()) / spread for term in terms if (spread := float(term.std())) > 0.0]
        one_order = len(terms) < 2  # of several readings each answer has its own
        for group in [names] if one_order else [[name] for name in names]:
            values = np.array([answers[name][known] for name in group])
            order = _parted(_along(values[0], terms) if terms else None, values.shape[1])
            rest = _centred(values[:, order])
            lines: list[Floats] = []
            for term in terms:
                x = _centred(term[order])
                for other in lines:
                    x = x - _in(x, other)
                rest = rest - _in(rest, x)
                lines.append(x)
            ends = 0.5 * np.percentile(_width(rest), (50.0, 10.0, 90.0), axis=-1)
            found |= {name: Left(*each) for name, each in zip(group, ends.T.tolist(), strict=True)}
    return found


def _parted(along: Floats | None, count: int) -> Parts:
    """The draws in parts that read alike, (parts, n); where nothing is read, in one."""
    parts = 1 if along is None else _PARTS
    order = np.arange(count) if along is None else np.argsort(along)
    return order[: count - count % parts].reshape(parts, -1)


def _width(values: Floats) -> Floats:
    """What lies between the 2.5 and 97.5 % points of each row: `numpy.percentile`'s own rule, both from one partition."""
    last = values.shape[-1] - 1
    at = [(share * last, min(int(share * last), last - 1)) for share in (0.025, 0.975)]
    parted = np.partition(values, [place for _, low in at for place in (low, low + 1)], axis=-1)
    ends = [parted[..., low] + (place - low) * (parted[..., low + 1] - parted[..., low]) for place, low in at]
    result: Floats = ends[1] - ends[0]
    return result


def _centred(values: Floats) -> Floats:
    result: Floats = values - values.mean(axis=-1, keepdims=True)
    return result


def _in(values: Floats, line: Floats) -> Floats:
    """The part of centred values that a multiple of a line is, row by row."""
    square = np.sum(line * line, axis=-1, keepdims=True)
    result: Floats = line * (np.sum(values * line, axis=-1, keepdims=True) / np.where(square > 0.0, square, 1.0))
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
