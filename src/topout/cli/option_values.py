"""What an option's value may be: a quantity with its unit, a count, one of a few words; a wrong one is a line.

Only argparse is imported here, the rest where it is used: `topout --help` needs no more.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence

TYPE_CHECKING = False  # typing's own costs its import
if TYPE_CHECKING:
    from typing import TypeVar

    Read = TypeVar("Read", float, dict[str, float])


def shown(word: str) -> str:
    """A word of the command line, short, and harmless to a terminal."""
    cut = word if len(word) <= 40 else word[:39] + "…"
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in cut)


def quantity(
    dimension: str, unit: str, low: float, high: float | Callable[[], float], noun: str
) -> Callable[[str], float]:
    """A reader for an option's value; limits in `unit`, both ends included. A `high` that stands elsewhere is asked for where it counts."""

    def read(text: str) -> float:
        from topout.planner import wanted_words

        most = high() if callable(high) else high
        return _read(lambda: wanted_words.within(text, dimension, unit, low, most, noun), text)

    return read


def whole(low: int, high: int, what: str = "a whole number") -> Callable[[str], int]:
    """A reader for a count, both ends included."""

    def read(text: str) -> int:
        if not re.fullmatch(r"\d{1,9}", text.strip(), re.ASCII) or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f'"{shown(text)}": {what} is expected, {low} to {high}.')
        return int(text)

    return read


def one_of(words: Sequence[str]) -> Callable[[str], str]:
    """A reader for one of a closed list of words."""

    def read(text: str) -> str:
        if text not in words:
            listed = ", ".join(f'"{word}"' for word in words)
            raise argparse.ArgumentTypeError(f'"{shown(text)}": one of {listed} is expected.')
        return text

    return read


def wanted(name: str) -> Callable[[str], dict[str, float]]:
    """A reader for something that is wanted: the attribute of `Wanted` and its value."""

    def read(text: str) -> dict[str, float]:
        from topout.planner import wanted_words

        return _read(lambda: wanted_words.read(wanted_words.WORDS[name], text), text)

    return read


def named_wanted(text: str) -> dict[str, float]:
    """The same, named in front of its value: "rear sag 30 %"."""
    from topout.planner import wanted_words

    return _read(lambda: wanted_words.read_named(text), text)


def _read(what: Callable[[], Read], text: str) -> Read:
    """What was read, or a line of the command line's that says what is wrong with it."""
    from topout.planner import wanted_words

    try:
        return what()
    except wanted_words.WrongWord as fault:
        raise argparse.ArgumentTypeError(f'"{shown(text)}": {fault}') from None
