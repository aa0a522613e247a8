"""What a reading to come would leave of an answer's doubt, told from draws alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple, TypeAlias

import numpy as np

from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import points

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
        values = np.array([answers[name][known] for name in names])
        if len(terms) < 2:  # of several readings each answer has its own order
            parts = _parted(terms[0] if terms else None, values.shape[1])
            rest = _off_the_lines(np.take(values, parts, axis=1), [term[parts] for term in terms])
        else:
            along = _along(values, terms)
            parts = np.array([_parted(each, values.shape[1]) for each in along])
            rest = _off_the_lines(
                np.array([value[own] for value, own in zip(values, parts, strict=True)]),
                [np.take(term, parts) for term in terms],
            )
        ends = 0.5 * points(_width(rest), (0.5, 0.1, 0.9))
        found |= {name: Left(*each) for name, each in zip(names, ends.T.tolist(), strict=True)}
    return found


def _parted(along: Floats | None, count: int) -> Parts:
    """The draws in parts that read alike, (parts, n); where nothing is read, in one."""
    parts = 1 if along is None else _PARTS
    order = np.arange(count) if along is None else np.argsort(along)
    return order[: count - count % parts].reshape(parts, -1)


def _width(values: Floats) -> Floats:
    """What lies between the 2.5 and 97.5 % points of each row."""
    low, high = points(values, (0.025, 0.975))
    result: Floats = high - low
    return result


def _off_the_lines(values: Floats, terms: list[Floats]) -> Floats:
    """What lines in the terms leave over of values, but for a number common to each row, the last axis."""
    rest, lines = values, list[Floats]()
    for term in terms:
        x = term - (np.einsum("...n->...", term) / term.shape[-1])[..., None]
        for other in lines:
            x -= _in(x, other)
        rest = rest - _in(rest, x)
        lines.append(x)
    return rest


def _in(values: Floats, line: Floats) -> Floats:
    """The part of values that a multiple of a line, centred, is, row by row."""
    square = np.einsum("...n,...n->...", line, line)
    along = np.einsum("...n,...n->...", values, line)
    result: Floats = line * (along / np.where(square > 0.0, square, 1.0))[..., None]
    return result


def _along(answers: Floats, terms: list[Floats]) -> Floats:
    """What orders draws by several readings, for each answer: what best tells its place among all."""
    n = answers.shape[1]
    ranks = np.empty_like(answers)
    for rank, answer in zip(ranks, answers, strict=True):
        rank[np.argsort(answer)] = np.arange(n)
    ranks /= n
    ranks -= 0.5
    told = np.array([*terms, *(term * term - 1.0 for term in terms)])
    products, wanted = np.einsum("an,bn->ab", told, told), np.einsum("an,kn->ak", told, ranks)
    result: Floats = np.einsum("ak,an->kn", np.linalg.lstsq(products, wanted, rcond=1e-10)[0], told)
    return result
