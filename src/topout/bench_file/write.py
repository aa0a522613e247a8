"""Writing a bench file: TOML in people's units, defaults left out; the library puts the signs, the values are ours.

What `read` made is read back equal to the last bit: each value is written with the fewest digits, in the key's usual
unit or in another of its dimension, that give the same number again. A value that was computed can lie between two
that any decimal in its units reaches (volumes, areas and angles have no unit of factor one); it is then written as
the nearest, one unit in the last place away.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any, TypeAlias

import tomli_w

from topout import units
from topout.bench_file import model
from topout.bench_file.values import TRAVEL
from topout.uncertainty.doubt import Doubt

_Doubts: TypeAlias = Mapping[str, Doubt]  # by the place of their key

_LONG = 7  # digits that nobody types; then another unit may tell the value in fewer


def write(bench: model.BenchFile) -> str:
    """The bench file's text."""
    return tomli_w.dumps(_tables(bench, model.BenchFile, "", {off.key: off for off in bench.doubts}))


def _tables(table: Any, kind: type, home: str, doubts: _Doubts) -> dict[str, Any]:
    """A table as plain words, numbers and tables inside it; the default [conditions] is left out."""
    plain = {word: _value(key, value, f"{home}{word}", doubts) for word, key, value in _entries(table, home, doubts)}
    for word, inner in model.subtables(kind).items():
        value = None if isinstance(table, dict) else getattr(table, word)
        below = f"{home}{word}."
        usual = word == "conditions" and value == model.Conditions() and not any(k.startswith(below) for k in doubts)
        if value is not None and not usual:
            plain[word] = _tables(value, inner, below, doubts)
    if "shelf" in plain:  # after the bike
        plain["shelf"] = plain.pop("shelf")
    if not plain and kind in (
        model.Bumper,
        model.CanAir,
        model.Change,
        model.Coil,
    ):  # all it says is a default, and without a key it says nothing
        plain = {
            key.word: _value(key, f.default, "", {})
            for f in fields(kind)
            if (key := model.key_of(f)) and f.default not in (None, ())
        }
    return plain


def _entries(table: Any, home: str, doubts: _Doubts) -> Iterator[tuple[str, model.Key, Any]]:
    """The keys of one table that say something: word, Key, value; a default with a doubt does."""
    if isinstance(table, dict):  # [change.air] and [change.coil] hold what they name, a default too
        of = model.NAMED_ALONE[home.split(".")[-2]]
        named = {attribute: (word, key) for word, (attribute, key) in model.keys(of).items()}
        for attribute, value in table.items():
            yield *named[attribute], value
        return
    for f in fields(table):
        key, value = model.key_of(f), getattr(table, f.name)
        if key is not None and value is not None and (value != f.default or f"{home}{key.word}" in doubts):
            yield key.word, key, value


def _value(key: model.Key, value: Any, at: str, doubts: _Doubts) -> Any:
    if key.kind == "coil":
        return _inner(value, f"{at}.", doubts)
    if key.kind == "pairs":
        of_stroke = key.choices == ("stroke",)
        return [[quantity(one, TRAVEL), quantity(two, TRAVEL) if of_stroke else two] for one, two in value]
    if key.kind in ("readings", "parts"):
        return [_inner(each, f"{at}.{number}.", doubts) for number, each in enumerate(value)]
    off = doubts.get(at)
    if key.kind == "quantity":
        written = quantity(value, key)
        return written if off is None else off.beside(written)
    return value if off is None else off.beside(repr(value))


def _inner(table: Any, home: str, doubts: _Doubts) -> dict[str, Any]:
    return {word: _value(k, v, f"{home}{word}", doubts) for word, k, v in _entries(table, home, doubts)}


def quantity(value_si: float, key: model.Key) -> str:
    """An SI value as a person writes it, `34.6 mm`: the fewest digits that are read back as the same number."""
    usual = _digits(value_si, key.unit, key.dimension)
    if usual is not None and len(usual) <= _LONG:
        return f"{usual} {key.unit}"
    exact = [] if usual is None else [(len(usual), usual, key.unit)]
    for unit in units.TABLE[key.dimension]:
        text = _digits(value_si, unit, key.dimension) if unit != key.unit else None
        if text is not None:
            exact.append((len(text), text, unit))
    if exact:
        _, text, unit = min(exact, key=lambda e: e[0])
        return f"{text} {unit}"
    return f"{units.from_si(value_si, key.unit, key.dimension)!r} {key.unit}"


def _digits(value_si: float, unit: str, dimension: str) -> str | None:
    """The shortest decimal that is `value_si` in the unit, exactly; None where no decimal is."""
    near = units.from_si(value_si, unit, dimension)
    for places in (6, 9, 12, 15, 16, 17):
        text = f"{near:.{places}g}"
        if units.to_si(float(text), unit, dimension) == value_si:
            return text
    for step in (math.inf, -math.inf):
        other = near
        for _ in range(4):
            other = math.nextafter(other, step)
            if units.to_si(other, unit, dimension) == value_si:
                return repr(other)
    return None
