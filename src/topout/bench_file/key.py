"""One key of the bench file, and the dataclass fields that carry it: what a table's reader, writer and form are made from."""

from __future__ import annotations

from dataclasses import Field, dataclass, field
from typing import Any, Final, Literal

from topout.units import to_si

MOST_PRESSURE_BAR: Final = 60  # no air spring and no gas charge holds as much
MOST_PRESSURE_PA: Final = to_si(MOST_PRESSURE_BAR, "bar", "pressure")
Kind = Literal["quantity", "number", "count", "choice", "text", "coil", "pairs", "readings", "parts"]


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the file: its word, kind, dimension with the unit written first, limits in SI, choices, need."""

    word: str
    kind: Kind
    dimension: str = ""
    unit: str = ""
    low_si: float | None = None
    high_si: float | None = None
    choices: tuple[str, ...] = ()
    needed: bool = False
    says: str = ""


def entry(default: Any, key: Key) -> Any:
    """A field with its entry of the bench file."""
    return field(default=default, metadata={"key": key})


def quantity(
    word: str,
    dimension: str,
    unit: str,
    low: float,
    high: float,
    says: str,
    *,
    default: float | None = None,
    needed: bool = False,
) -> Any:
    """A field for a quantity; limits and default in `unit`, kept in SI."""
    si = None if default is None else to_si(default, unit, dimension)
    key = Key(
        word, "quantity", dimension, unit, to_si(low, unit, dimension), to_si(high, unit, dimension), (), needed, says
    )
    return entry(si, key)


def number(word: str, low: float, high: float, says: str, *, default: float | None = None, needed: bool = False) -> Any:
    """A field for a plain number."""
    return entry(default, Key(word, "number", "", "", low, high, (), needed, says))


def count(word: str, low: int, high: int, says: str, *, default: int | None = None) -> Any:
    """A field for a whole number."""
    return entry(default, Key(word, "count", "", "", low, high, (), False, says))


def choice(word: str, choices: tuple[str, ...], says: str, *, default: str | None = None) -> Any:
    """A field for one of a closed list of words."""
    return entry(default, Key(word, "choice", choices=choices, says=says))


def text(word: str, says: str) -> Any:
    """A field for words."""
    return entry(None, Key(word, "text", says=says))


def pairs(word: str, second: str, says: str) -> Any:
    """A field for a list of pairs, a wheel travel and a `second`: "ratio", a plain number, or "stroke", a length."""
    return entry(None, Key(word, "pairs", choices=(second,), says=says))


def key_of(f: Field[Any]) -> Key | None:
    """The Key of a dataclass field, None for a field that is a table of its own."""
    found = f.metadata.get("key")
    return found if isinstance(found, Key) else None
