"""What one value of a bench file means: by its kind of key, in SI, or why it is none and what it may have been.

Each reader takes the key and what TOML gave, and raises UnitFault with the sentence that stands at the key. A quantity or a
number may carry its own uncertainty, "265 ± 5 ml", "0.42 ± 0.02"; whoever has no room for it refuses it in words.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any, Final

from topout import units
from topout.bench_file import model, say
from topout.uncertainty import doubt
from topout.uncertainty.doubt import Doubt

MAX_LETTERS: Final = 200  # of a text value


def _in_range(key: model.Key, value: float) -> bool:
    assert key.low_si is not None and key.high_si is not None
    slack = 1e-12 * max(abs(key.low_si), abs(key.high_si))  # "30 cm" is 300 mm, to the last bit or not
    return key.low_si - slack <= value <= key.high_si + slack


COUNTED: Final = "that is counted, not measured: a whole number without an uncertainty is expected."


def doubted(key: model.Key, raw: Any) -> tuple[Any, Doubt | None]:
    """What a value means, and how far it may be off where the file says so. Raises UnitFault."""
    if key.kind not in ("quantity", "number") or not isinstance(raw, str) or not units.UNCERTAIN.search(raw):
        return READERS[key.kind](key, raw), None
    if key.kind == "quantity":
        typed, off = doubt.quantity(raw, key.dimension, key.unit)
        value = _judged(key, typed)
    else:
        read, off = doubt.number(raw)
        value = _number(key, read)
    assert key.low_si is not None and key.high_si is not None
    if off is not None and off.amount_si > key.high_si - key.low_si:
        raise units.UnitFault(
            f"{say.noun(key.word)} is {say.limits(key)}: an uncertainty wider than that says nothing."
        )
    return value, off


def _quantity(key: model.Key, raw: Any) -> float:
    if isinstance(raw, (int, float)) and not isinstance(raw, bool):
        _finite(key, raw)
        number = say.plain_number(Decimal(repr(raw)))
        if len(number) > units.DIGITS_MAX:
            raise units.UnitFault(f"{say.noun(key.word)} is {say.limits(key)}.")
        raise units.UnitFault(f"needs a unit, {units.with_units(number, key.dimension, key.unit)}.")
    if not isinstance(raw, str):
        raise units.UnitFault(f"a value with a unit is expected, as in {units.example(key.dimension)}.")
    return _judged(key, units.parse(raw, key.dimension, usual=key.unit))


_NO_SAG: Final = " What does not sag tells no load: leave it out, or let some air out and measure again."


def _judged(key: model.Key, typed: units.Typed) -> float:
    """A quantity in SI, where it lies in its key's range."""
    # A rider's name for a wheel is no bead seat, also where it lies in range: 27.5 in would be 698.5 mm.
    nominal = key.word == "bead_seat" and typed.unit == "in" and typed.number in model.BEAD_SEATS_MM
    if nominal or not _in_range(key, typed.value_si):
        question = _NO_SAG if key.word == "sag" and typed.value_si == 0.0 else _question(key, typed)
        unit = "" if key.word == "bead_seat" else typed.unit  # a bead seat is called by its millimetres
        raise units.UnitFault(f"{say.noun(key.word)} is {say.limits(key, unit)}.{question}")
    return typed.value_si


def _question(key: model.Key, typed: units.Typed) -> str:
    """Ask for the slip that would explain the value: a sign, a decimal place, the other unit."""
    number = Decimal(repr(typed.number))
    if key.word == "bead_seat" and (seat := model.BEAD_SEATS_MM.get(float(number))) is not None:
        return f" A wheel of {say.plain_number(number)} in sits on {seat} mm: write that."
    usual_first = typed.unit == key.unit and key.dimension not in ("pressure", "mass", "temperature")
    others = [(number, unit) for unit in units.TABLE[key.dimension] if unit != typed.unit]
    places = [(number.scaleb(n), typed.unit) for n in (1, -1, 2, -2, 3, -3)]
    tries = [(-number, typed.unit), *(places + others if usual_first else others + places)]
    for value, unit in tries:
        if value > 0 and _in_range(key, units.to_si(float(value), unit, key.dimension)):
            return f" Is it {say.plain_number(value)} {unit}?"
    return ""


def _finite(key: model.Key, raw: float) -> None:
    if not math.isfinite(raw):
        raise units.UnitFault(f"{say.noun(key.word)} is {say.limits(key)}.")


def _unquoted(key: model.Key, raw: str) -> units.UnitFault:
    """A number in quotes: what it is to be, or what else is amiss with it."""
    text = raw.strip()
    if units.UNCERTAIN.search(text):
        return units.UnitFault(COUNTED)
    try:
        number = units.parse_number(re.sub(r"^([+-]?\d+),(\d+)$", r"\1.\2", text))
    except units.UnitFault:
        return units.UnitFault(f"a {'whole ' if key.kind == 'count' else ''}number is expected, {say.limits(key)}.")
    if not _in_range(key, number):
        return units.UnitFault(f"{say.noun(key.word)} is {say.limits(key)}, without quotes.")
    point = "write a decimal point, and a number" if "," in text else "a number stands"
    return units.UnitFault(f"{point} without quotes: {key.word} = {say.plain_number(number)}")


def _number(key: model.Key, raw: Any) -> float:
    if isinstance(raw, str):
        raise _unquoted(key, raw)
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        raise units.UnitFault(f"a number is expected, {say.limits(key)}.")
    _finite(key, raw)
    if _in_range(key, raw):
        return float(raw)
    question = ""
    number = Decimal(repr(raw))
    for value in (-number, number.scaleb(-2), number.scaleb(-1), number.scaleb(1)):
        if value > 0 and _in_range(key, float(value)):
            question = f" Is it {say.plain_number(value)}?"
            break
    raise units.UnitFault(f"{say.noun(key.word)} is {say.limits(key)}.{question}")


def _count(key: model.Key, raw: Any) -> int:
    if isinstance(raw, str):
        raise _unquoted(key, raw)
    if isinstance(raw, bool) or not isinstance(raw, int) or not _in_range(key, raw):
        raise units.UnitFault(f"a whole number is expected, {say.limits(key)}.")
    return raw


def _choice(key: model.Key, raw: Any) -> str:
    if isinstance(raw, str) and raw in key.choices:
        return raw
    listed = ", ".join(f'"{c}"' for c in key.choices)
    message = f"one of {listed} is expected."
    if isinstance(raw, str):
        plain = {c.replace("-", " "): c for c in key.choices}
        near = say.nearest_of(raw.lower().replace("-", " ").replace("_", " "), plain)
        message += f' Is it "{plain[near]}"?' if near else ""
    raise units.UnitFault(message)


def _text(key: model.Key, raw: Any) -> str:
    if not isinstance(raw, str):
        raise units.UnitFault('words in quotes are expected, as in "standing".')
    if len(raw) > MAX_LETTERS:
        raise units.UnitFault(f"at most {MAX_LETTERS} letters are expected.")
    if not raw.strip():
        raise units.UnitFault("it is empty; leave the key out instead.")
    if not raw.isprintable():
        raise units.UnitFault("one line of plain letters is expected.")
    return raw


def _pairs(key: model.Key, raw: Any) -> tuple[tuple[float, float], ...]:
    """Wheel travel in m beside a ratio, or beside a stroke in m; travels grow from 0."""
    second = key.choices[0]
    example = '[["0 mm", 2.9], ["150 mm", 2.4]]' if second == "ratio" else '[["0 mm", "0 mm"], ["150 mm", "60 mm"]]'
    if not isinstance(raw, list) or len(raw) < 2 or any(not isinstance(pair, list) or len(pair) != 2 for pair in raw):
        raise units.UnitFault(f"two pairs or more are expected, as in {example}.")
    wrong: list[str] = []
    readers = (_length, _length if second == "stroke" else _ratio)

    def cell(place: int, reader: Callable[[Any], float], one: Any) -> float:
        try:
            return reader(one)
        except units.UnitFault as fault:
            wrong.append(f"pair {place}: {fault}")
            return math.nan

    found = [tuple(map(partial(cell, place), readers, pair)) for place, pair in enumerate(raw, 1)]
    for column, what in enumerate(("wheel travel", "stroke") if second == "stroke" else ("wheel travel",)):
        values = [pair[column] for pair in found]
        if values[0] < 0 or values[0] > 0:  # one that could not be read is said already, here and below
            wrong.append(f"the {what} begins at 0, not {say.written(raw[0][column])}, as in {example}.")
        grows = f"the {what} grows from pair to pair; pair {{}} has {{}}."
        for place, (before, after) in enumerate(itertools.pairwise(values), 2):
            if after <= before:
                wrong.append(grows.format(place, say.written(raw[place - 1][column])))
    if wrong:
        more = f" {len(wrong) - PAIRS_SAID} more." if len(wrong) > PAIRS_SAID else ""
        first, *others = wrong[:PAIRS_SAID]
        raise units.UnitFault(" ".join([first, *(each[0].upper() + each[1:] for each in others)]) + more)
    return tuple((travel_m, value) for travel_m, value in found)


def _length(raw: Any) -> float:
    return _quantity(TRAVEL, raw)


def _ratio(raw: Any) -> float:
    return _number(_RATIO, raw)


PAIRS_SAID: Final = 6  # faults of one table; a whole column without units is one mistake
TRAVEL: Final = model.Key("travel", "quantity", "length", "mm", 0.0, 0.5)
_RATIO: Final = model.Key("ratio", "number", low_si=0.5, high_si=6.0)
READERS: Final = {
    "quantity": _quantity, "number": _number, "count": _count, "choice": _choice, "text": _text, "pairs": _pairs,
}  # fmt: skip
