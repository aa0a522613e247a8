"""A maker's limit that the Book had of a unit or a frame while a job was in the workshop: one raised or taken out does not go unsaid.

The Book may be changed by anybody at the bench, and a limit that was read wrong has to be. What was planned or left over the one
that stood takes an owner's signed reason all the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

from topout.units import UnitFault, parse, show
from topout.web.book.models import Bike, Family, Unit

# What is limited -> the key of the Book's tables, and its dimension; "" for a count.
LIMITS: Final = {
    "pressure": ("pressure_limit", "pressure"), "spacers": ("spacer_limit", ""), "travel": ("travel_limit", "length"),
    "fork length": ("fork_length_limit", "length"),
}  # fmt: skip
_WHOLE: Final = ("psi", "kPa", "Pa", "mm")


def limits(tables: dict[str, dict[str, Any]], of: str) -> Iterator[float]:
    """The limits of a kind in these tables [SI]; a count as it is."""
    word, dimension = LIMITS[of]
    for table in tables.values():
        if word in table:
            try:
                yield parse(str(table[word]), dimension).value_si if dimension else float(table[word])
            except (UnitFault, ValueError):
                continue


def limits_pa(tables: dict[str, dict[str, Any]]) -> Iterator[float]:
    """The pressure limits [Pa gauge] in a unit's tables."""
    return limits(tables, "pressure")


def now_pa(unit: Unit | None) -> float | None:
    """The pressure limit [Pa gauge] that the Book has of a unit now; None where it has none."""
    return min(limits_pa(unit.whole_tables()), default=None) if unit is not None else None


def said(limit: float, of: str, unit: str) -> str:
    """A limit in words: whole where its gauge or rule is read so."""
    dimension = LIMITS[of][1]
    return show(limit, dimension, unit, decimals=0 if unit in _WHOLE else None) if dimension else f"{limit:g}"


def over(
    row: Unit | Bike | None, since: datetime, value_si: float, said_in: str, now_si: float | None, of: str = "pressure"
) -> str:
    """That a figure is over a limit that is not the one of now, in a sentence; "" where it is not, or today's limit says so."""
    if row is None or now_si is not None and value_si > now_si * (1 + 1e-9):
        return ""
    was = min((limit for tables in _since(row, since) for limit in limits(tables, of)), default=None)
    if was is None or value_si <= was * (1 + 1e-9):
        return ""
    shown = said(was, of, said_in)
    return f"over the limit of {shown} that the Book had while this job was here; it was raised or taken out since."


def _since(row: Unit | Bike, since: datetime) -> Iterator[dict[str, dict[str, Any]]]:
    """The tables of a unit as they were from then on, and of each family that it had; of a bike its own."""
    if isinstance(row, Bike):
        for _, tables in _versions(row, since, "tables"):
            yield tables
        return
    families = set()
    for _, tables, family in _versions(row, since, "tables", "family_id"):
        families.add(family)
        yield tables
    for each in Family.objects.filter(pk__in=families):
        for _, tables in _versions(each, since, "tables"):
            yield tables


def _versions(row: Unit | Bike | Family, since: datetime, *fields: str) -> Iterator[tuple[Any, ...]]:
    """What stood in a row from then on, the newest first, with when it was written; what stood there already is the last."""
    for kept in row.history.order_by("-history_id").values_list("history_date", *fields):
        yield kept
        if kept[0] <= since:
            return
