"""Which values of an air spring somebody guessed: `[guessed] fork = "bore, shaft"` says so of `[fork.air]`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from topout.bench_file.key import text

NOUNS: Final = ("fork", "shock")
# The keys of an air spring that can be drawn, each with its attribute in the model.
WORDS: Final = {
    "bore": "bore_m", "shaft": "shaft_m", "positive_volume": "positive_volume_m3", "negative_volume": "negative_volume_m3",
    "port_position": "port_position_m", "spacer_volume": "spacer_volume_m3",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Guessed:
    """Which of the values that stand in the file somebody guessed: what can hurt is then taken from all that fit."""

    fork: str | None = text("fork", "keys of [fork.air] of which the values are guesses, with commas between")
    shock: str | None = text("shock", "the same of [shock.air]")


def words(said: str) -> tuple[str, ...]:
    """The words of a list with commas."""
    return tuple(word.strip() for word in said.split(",") if word.strip())


def keys(guessed: Guessed | None, noun: str, unit: Any) -> frozenset[str]:
    """The keys of a unit's air spring that its file calls guesses, "fork.air.bore"; of a value that stands nowhere it says nothing.

    `unit` is the file's table of that noun, or None.
    """
    said = getattr(guessed, noun) if guessed is not None else None
    if not said or unit is None or unit.air is None:
        return frozenset()
    return frozenset(f"{noun}.air.{word}" for word in words(said) if getattr(unit.air, WORDS[word]) is not None)
