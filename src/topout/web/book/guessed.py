"""Which values of the air springs are known as guesses in the Book, as a bench file says it, and out of one."""

from __future__ import annotations

from collections.abc import Collection

from topout.bench_file import guesses
from topout.bench_file.model import BenchFile
from topout.web.book.models import Unit
from topout.web.book.tables import Tables

TYPICAL = "typical"  # the mark of a guess, a key of `worth.WORTHS`


def keys(unit: Unit | None, measured: Collection[str] = ()) -> frozenset[str]:
    """The keys of a unit's air spring that somebody guessed and typed, "fork.air.bore"; not what was `measured` since."""
    worth = unit.worth if unit is not None else {}
    return frozenset(key for key, mark in worth.items() if mark == TYPICAL and ".air." in key) - set(measured)


def table(guessed: Collection[str], tables: Tables) -> Tables:
    """The same as the table of a bench file that holds these `tables`: what stands in none of them is no guess."""
    named = {}
    for noun in guesses.NOUNS:
        air = tables.get(f"{noun}.air", {})
        found = [word for word in guesses.WORDS if f"{noun}.air.{word}" in guessed and word in air]
        if found:
            named[noun] = ", ".join(found)
    return {"guessed": named} if named else {}


def worth_of(bench: BenchFile, noun: str) -> dict[str, str]:
    """How the values of a unit from a bench file are known: its guesses."""
    return dict.fromkeys(sorted(guesses.keys(bench.guessed, noun, getattr(bench, noun))), TYPICAL)
