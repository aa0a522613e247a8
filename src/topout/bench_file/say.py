"""How a finding in a bench file is said: its place, what was written, what the key holds, the nearest known word."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Final

from topout import units
from topout.bench_file.model import Key

MAX_SHOWN: Final = 40  # letters of what was written; more would hide the sentence
# Nouns that take no article: "travel is 20 to 300 mm", but "a bore is 10 to 80 mm".
_BARE: Final = {
    "travel", "overtravel", "friction", "friction_per_bar", "friction_side", "temperature", "altitude", "reach", "stack",
    "sag", "oil_on_piston", "grease_in_negative", "ambient_pressure", "pressure", "negative_pressure", "gas_pressure",
    "tyre_room", "brace_room", "rear_tyre_room", "mass", "unsprung_front", "unsprung_rear", "bb_drop", "spacers",
}  # fmt: skip


def place(path: Iterable[str]) -> str:
    """`("fork", "air", "bore")` -> `[fork.air] bore`; a word alone is itself; of one of several, `[[shelf]] gives`."""
    *table, word = (shown_word(part) for part in path)
    if table and table[-1].isdecimal():
        return f"[[{'.'.join(table[:-1])}]] {word}"
    return f"[{'.'.join(table)}] {word}" if table else word


def table_place(path: Iterable[str]) -> str:
    """`("fork", "air")` -> `[fork.air]`."""
    return f"[{'.'.join(shown_word(part) for part in path)}]"


def _cut(text: str, most: int = MAX_SHOWN) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def plain(text: str, most: int = MAX_SHOWN) -> str:
    """Short, and nothing that moves a terminal's cursor or turns a line round: such letters as their codes."""
    short = _cut(text, most)
    return short if short.isprintable() else "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in short)


def shown_word(word: str) -> str:
    """A word of the file, short and harmless; one that would need quotes there gets them."""
    bare = word.isascii() and word.replace("_", "").replace("-", "").isalnum()
    return _cut(word) if bare else f'"{plain(word)}"'


def written(raw: Any) -> str:
    """A value as it stands in the file: text in quotes, numbers as they are, the rest by what it is."""
    if isinstance(raw, str):
        return f'"{plain(raw)}"'
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, dict):
        return "{…}"
    if isinstance(raw, list):
        return "[…]"
    return plain(str(raw))


# What pulls against the main chamber, as a mechanic says it.
NEGATIVES: Final = {
    "self-equalising": "fills itself through a port", "separate-valve": "has a valve of its own",
    "coil": "a coil spring", "none": "none",
}  # fmt: skip


def noun(word: str) -> str:
    """`bore` -> `a bore`, `travel` -> `travel`."""
    said = word.replace("_", " ").replace("bb ", "bottom-bracket ")
    if word in _BARE:
        return said
    return ("an " if said[0] in "aeiou" and not said.startswith("un") else "a ") + said


def plain_number(value: float | Decimal) -> str:
    """A number in its fewest digits, without an exponent or trailing zeros."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(f"{value:.12g}")))
    text = f"{exact:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def limits(key: Key, typed: str = "") -> str:
    """`10 to 80 mm`, `0 to 20`: the key's range in its usual unit; pressures in bar too, as people ask in either.

    Where the other system's unit was typed the range is said in that, rounded inwards.
    """
    assert key.low_si is not None and key.high_si is not None
    if key.kind != "quantity":
        return f"{plain_number(key.low_si)} to {plain_number(key.high_si)}"
    unit = "bar" if key.dimension == "pressure" and key.unit == "psi" else key.unit
    if typed and typed == units.other(key.dimension, key.unit) and key.dimension != "pressure":
        step = 10.0 ** -units.decimals_of(typed)
        least, most = (units.from_si(v, typed, key.dimension) / step for v in (key.low_si, key.high_si))
        inside = (math.ceil(least - 1e-9) * step, math.floor(most + 1e-9) * step)
        return f"{' to '.join(plain_number(round(each, 9)) for each in inside)} {typed}"
    low, high = (plain_number(units.from_si(v, unit, key.dimension)) for v in (key.low_si, key.high_si))
    return f"{low} to {high} {unit}"


def either(words: list[str]) -> str:
    """`a`, `a or b`, `a, b or c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known key most like the one written; None where none is near."""
    return nearest_of(word.lower().replace(" ", "_").replace("-", "_"), known)


def nearest_of(word: str, known: Iterable[str]) -> str | None:
    """The known word most like the one written; None where none is near."""
    if len(word) > MAX_SHOWN:
        return None
    import difflib  # wanted only where something is wrong

    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return found[0] if found else None


def millimetres(value: float) -> str:
    """A length as a sentence has it."""
    return f"{plain_number(round(value * 1e3, 2))} mm"
