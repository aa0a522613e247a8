"""A gauge read with the fork or the shock held far in, kept on its unit for the next jobs: what it was fitted with then, and whether it still is.

The reading itself is a record of its job. What stands here may change: it is taken out when the reading is struck.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from topout import units
from topout.bench_file import checks
from topout.uncertainty import doubt
from topout.web.access.change import ChangeContext
from topout.web.book import keeping, worth
from topout.web.book.models import Unit
from topout.web.book.tables import Tables

# Of the air spring that which is set or filled at any service, and what is no part of it.
_NO_PART: Final = ("pressure", "pressure_limit", "negative_pressure", "second_pressure", "spacer_limit", "oil_on_piston", "grease_in_negative")  # fmt: skip
# Of the unit beside its air spring: a shock's stroke is no part of it, its reducers leave the chambers as they are.
_OF_UNIT: Final = {"fork": ("travel", "stanchion"), "shock": ("body",)}
_UNWRITTEN: Final[dict[str, Any]] = {"spacers": 0, "negative": "self-equalising"}


@dataclass(frozen=True)
class Kept:
    """One reading as its unit keeps it: the record's key, its job and day, what was read by which gauge; `lapsed` says why it no longer holds."""

    reading: int
    job: int
    on: datetime
    words: str
    gauge: str
    lapsed: str


def fitted(tables: Tables, noun: str) -> dict[str, Any]:
    """What a reading far in hangs on: the air spring's parts, its spacers, the unit's outside, as they are written."""
    air = _UNWRITTEN | {word: value for word, value in tables.get(f"{noun}.air", {}).items() if word not in _NO_PART}
    unit = tables.get(noun, {})
    found = {f"{noun}.{word}": unit[word] for word in _OF_UNIT[noun] if word in unit}
    return found | {f"{noun}.air.{word}": value for word, value in air.items()}


def keep(
    doing: ChangeContext, unit: Unit, reading: int, *, job: int, words: str, gauge: str, tables: Tables
) -> None:  # fmt: skip
    """Keep a reading for the unit's next jobs, with what is fitted now."""
    row = {
        "job": job,
        "at": doing.at.isoformat(),
        "words": words,
        "gauge": gauge,
        "fitted": fitted(tables, unit.what.noun),
    }
    unit.far_in = {**unit.far_in, str(reading): row}
    keeping.keep(doing, unit)


def take_out(doing: ChangeContext, unit: Unit, reading: int) -> None:
    """The reading is struck: no later job starts from it."""
    if str(reading) in unit.far_in:
        unit.far_in = {key: row for key, row in unit.far_in.items() if key != str(reading)}
        keeping.keep(doing, unit)


def kept(unit: Unit, tables: Tables | None = None) -> list[Kept]:
    """Every reading that the unit keeps, the oldest first; `tables` are what it is found with, else what the Book says."""
    now = fitted(unit.whole_tables() if tables is None else tables, unit.what.noun)
    return [
        Kept(
            int(key),
            row["job"],
            datetime.fromisoformat(row["at"]),
            row["words"],
            row["gauge"],
            _lapsed(row["fitted"], now),
        )
        for key, row in sorted(unit.far_in.items(), key=lambda one: int(one[0]))
    ]


def _lapsed(then: dict[str, Any], now: dict[str, Any]) -> str:
    """What became another since; what was not written then and is now was measured meanwhile, and changes nothing."""
    for key, was in then.items():
        here = now.get(key)
        if here is None:
            return f"{worth.label_of(key)} was {was} then and is no longer written"
        if not _same(key, was, here):
            return f"{worth.label_of(key)} was {was} then and is {here} now"
    return ""


def _same(key: str, was: Any, here: Any) -> bool:
    if was == here:
        return True
    of = checks.key_at(tuple(key.split(".")))
    if of is None or of.kind != "quantity" or not (isinstance(was, str) and isinstance(here, str)):
        return False
    try:
        one, other = (doubt.quantity(text, of.dimension)[0].value_si for text in (was, here))
    except units.UnitFault:
        return False
    return abs(one - other) <= 1e-9 * max(abs(one), abs(other))
