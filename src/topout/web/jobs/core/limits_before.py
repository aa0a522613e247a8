"""The pressure limit that the Book had of a unit while a job was in the workshop: a limit raised or taken out does not go unsaid.

The Book may be changed by anybody at the bench, and a limit that was read wrong has to be. What was planned or left over the one
that stood takes an owner's signed reason all the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from topout.units import UnitFault, parse, show
from topout.web.book.models import Family, Unit


def limits_pa(tables: dict[str, dict[str, Any]]) -> Iterator[float]:
    """The pressure limits [Pa gauge] in a unit's tables."""
    for table in tables.values():
        if "pressure_limit" in table:
            try:
                yield parse(str(table["pressure_limit"]), "pressure").value_si
            except UnitFault:
                continue


def over(unit: Unit | None, since: datetime, pressure_pa: float, said_in: str, now_pa: float | None) -> str:
    """That a pressure is over a limit that is not the one of now, in a sentence; "" where it is not, or today's limit says so."""
    if unit is None or now_pa is not None and pressure_pa > now_pa * (1 + 1e-9):
        return ""
    was = min((limit for tables in _since(unit, since) for limit in limits_pa(tables)), default=None)
    if was is None or pressure_pa <= was * (1 + 1e-9):
        return ""
    shown = show(was, "pressure", said_in, decimals=0 if said_in in ("psi", "kPa", "Pa") else None)
    return f"over the limit of {shown} that the Book had while this job was here; it was raised or taken out since."


def _since(unit: Unit, since: datetime) -> Iterator[dict[str, dict[str, Any]]]:
    """The tables of the unit as they were from then on, and of each family that it had."""
    families = set()
    for _, tables, family in _versions(unit, since, "tables", "family_id"):
        families.add(family)
        yield tables
    for row in Family.objects.filter(pk__in=families):
        for _, tables in _versions(row, since, "tables"):
            yield tables


def _versions(row: Unit | Family, since: datetime, *fields: str) -> Iterator[tuple[Any, ...]]:
    """What stood in a row from then on, the newest first, with when it was written; what stood there already is the last."""
    for kept in row.history.order_by("-history_id").values_list("history_date", *fields):
        yield kept
        if kept[0] <= since:
            return
