"""How each value of a unit, a bike or a rider is known: measured here, from the maker's sheet, a guess; else from its family, or nobody said.

Kept by key ("fork.air.bore" → "read"). It looks different wherever it stands, without colour: a filled mark, half a one, a
hollow one with a dotted line.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import cache
from typing import Final

from topout.units import NO_BREAK
from topout.web.book import tables as bench_tables
from topout.web.book.models import Bike, Rider, Unit
from topout.web.book.tables import Tables

WORTHS: Final = {"read": "measured here", "sheet": "maker’s sheet", "typical": "a guess"}
FAMILY: Final = "family"
_WHOSE: Final = {
    "Rider": "rider’s ",
    "Weights": "bike’s ",
    "Front wheel": "front wheel’s ",
    "Rear wheel": "rear wheel’s ",
    "Air in the lower legs": "lower legs’ ",
    "Gas behind the damper’s rod": "damper’s ",
    "Bumper at the end of the travel": "bumper’s ",
    "Bumper at the end of the stroke": "bumper’s ",
    "Bumper at full extension": "top-out bumper’s ",
}
MARKS: Final = {**WORTHS, FAMILY: "from the family"}
# On paper, where no style sheet draws them: shapes, not colours. The half one is drawn by the sheet's template.
ON_PAPER: Final = {"read": "●", "sheet": "◐", FAMILY: "◇", "typical": "○"}


def after(was: Tables, now: Tables, worth: Mapping[str, str], known_by: str) -> dict[str, str]:
    """What is known of the values now: those that were written or changed are known by `known_by` ("": nobody said)."""
    kept = {}
    for key, value in _every(now):
        one = worth.get(key, "") if dict(_every(was)).get(key) == value else known_by
        if one in WORTHS:
            kept[key] = one
    return kept


def facts(row: Unit | Bike | Rider) -> list[tuple[str, list[tuple[str, str, str, str]]]]:
    """What is known of it, for the eye: title; label, value, its mark ("" where nobody said) and the mark's words."""
    own, whole = dict(_every(row.tables)), row.whole_tables() if isinstance(row, Unit) else row.tables
    marks = {_name(key): row.worth.get(key, "") if key in own else FAMILY for key, _ in _every(whole)}
    found = []
    for title, rows in bench_tables.facts(whole):
        said = [(label, words, marks.get((title, label), "")) for label, words in rows]
        found.append((title, [(label, words, mark, MARKS.get(mark, "")) for label, words, mark in said]))
    return found


def named(row: Unit | Bike | Rider) -> dict[str, list[str]]:
    """By its mark, label and value of everything that is known so: "bore 34.6 mm", "rider’s mass 82 kg"; "" where nobody said."""
    found: dict[str, list[str]] = {mark: [] for mark in MARKS}
    for title, rows in facts(row):
        for label, words, mark, _ in rows:
            found.setdefault(mark, []).append(f"{_WHOSE.get(title, '')}{label[:1].lower()}{label[1:]} {words}")
    return found


def on_paper(rows: Collection[Unit | Bike | Rider]) -> tuple[str, ...]:
    """How the values of these are known, a sentence for each of the four marks that any of them has: "● Measured here: bore 34.6 mm."."""
    each = [named(row) for row in rows]
    told = {mark: [words for known in each for words in known[mark]] for mark in ON_PAPER}
    return tuple(
        f"{ON_PAPER[mark]}{NO_BREAK}{MARKS[mark][:1].upper()}{MARKS[mark][1:]}: {', '.join(words)}."
        for mark, words in told.items()
        if words
    )


def label_of(key: str) -> str:
    """A key as people read it: "Air spring, bore"."""
    title, label = _name(key)
    return f"{title}, {label[:1].lower()}{label[1:]}" if title else label


@cache
def _name(key: str) -> tuple[str, str]:
    """Title and label of a key, as `bench_tables.facts` has them."""
    table = max((name for name in bench_tables.TITLES if key.startswith(f"{name}.")), key=len, default="")
    return bench_tables.TITLES.get(table, ""), bench_tables.label(key.removeprefix(f"{table}."), table)


def _every(tables: Tables) -> Iterator[tuple[str, object]]:
    """Every value of flat tables by its key; a coil's by its own two."""
    for table, values in tables.items():
        for word, value in values.items():
            if isinstance(value, dict):
                yield from ((f"{table}.{word}.{inner}", one) for inner, one in value.items())
            else:
                yield f"{table}.{word}", value
