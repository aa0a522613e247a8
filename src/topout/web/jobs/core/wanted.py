"""What is wanted of a bike in place of how it is: boxes by the words of `topout target`, read in the workshop's units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from topout.planner import wanted_words
from topout.planner.wanted import Wanted
from topout.planner.wanted_words import WORDS, Word, WrongWord
from topout.web.access import preferences
from topout.web.fields import WRITTEN, TwoWays, with_point

NOTHING: Final = Wanted()
LETTERS: Final = 40  # as long as anyone types


@dataclass(frozen=True)
class WantedBox:
    """A box for something that is wanted."""

    name: str
    label: str
    text: str
    fault: str


def _name(word: Word) -> str:
    return f"want_{word.name.replace('-', '_')}"


NAMES: Final = tuple(_name(word) for word in WORDS.values())


def _text(sent: Mapping[str, str], word: Word) -> str:
    return str(sent.get(_name(word), ""))[:LETTERS].replace("\0", "").strip()


def read(sent: Mapping[str, str]) -> tuple[Wanted, list[tuple[str, str]]]:
    """What is wanted, and what is wrong with it, by box."""
    found: dict[str, float] = {}
    faults = []
    for word in WORDS.values():
        text = _text(sent, word)
        if not text:
            continue
        try:
            found |= wanted_words.read(word, with_point(text), preferences.unit(word.dimension, word.unit))
        except (WrongWord, TwoWays) as fault:
            faults.append((_name(word), f"{word.label}, “{text}”: {fault}"))
    return Wanted(**found), faults


def boxes(sent: Mapping[str, str], forked: bool, behind: bool, faults: Mapping[str, str]) -> list[WantedBox]:
    """The boxes of what may be wanted of this bike: of its fork, of its shock."""
    result = []
    for word in WORDS.values():
        if behind if word.rear else forked:
            unit = preferences.unit(word.dimension, word.unit)
            label = f"{word.label}, {'% or ' if word.share else ''}{WRITTEN.get(unit, unit)}"
            result.append(WantedBox(_name(word), label, _text(sent, word), faults.get(_name(word), "")))
    return result
