"""Service data of a family: what the maker's sheet says, each value with its sheet, who read it, and when.

Rows are never changed: a correction is a new row with a reason that points at the one before it (the database refuses
anything else). `service_of` and `save_service` are what the steps use, the form and the demo as well. The names of the
values, their dimension and their words stand in `procedures.service.FIELDS` and nowhere else.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from topout import units
from topout.errors import Fault, FaultsFound
from topout.procedures.service import FIELDS, Field
from topout.units import Typed, UnitFault
from topout.web.access.change import ChangeContext
from topout.web.book import keeping, kinds
from topout.web.book.models import Family, ServiceValue
from topout.web.fields import WordsField, with_unit, written

MOST_PRESSURE = "pressure.limit"
BY_TRAVEL = frozenset({"length.air-shaft"})  # one value for each travel
GROUPS = {
    "torque": "Torques", "oil": "Oil", "grease": "Grease", "size": "Seals and rings", "tools": "Tools", "parts": "Parts that fit",
    "length": "Lengths", "pressure": "Pressures", "play": "Play", "interval": "Service intervals",
}  # fmt: skip
# dimension -> lowest and highest value of any sheet, what a sheet says on most days, all in the field's unit
RANGES = {
    "torque": (0.05, 120.0, (0.2, 60.0)), "volume": (0.0, 1000.0, (0.2, 200.0)), "length": (0.01, 600.0, (0.02, 400.0)),
    "pressure": (0.0, 870.0, (20.0, 500.0)),
}  # fmt: skip
LETTERS = 200
_WORDS = WordsField(letters=LETTERS, required=False)


@dataclass(frozen=True)
class Known:
    """One value that stands: its name, as typed, in SI where it is a number, and where it comes from."""

    name: str
    text: str
    value_si: float | None
    unit: str
    source: str
    row: ServiceValue

    @property
    def words(self) -> str:
        """As a person writes it: 5.6 N·m."""
        return written(self.text) if self.value_si is not None else self.text


def field(name: str) -> Field:
    """The field of a name; raises FaultsFound naming what there is."""
    found = FIELDS.get(name)
    if found is None:
        raise FaultsFound([Fault(name, f"no such field of the service data. There are {', '.join(FIELDS)}.")])
    return found


def standing(family: Family) -> dict[tuple[str, int], ServiceValue]:
    """The row that stands for each name and travel in mm (0 where it does not go by travel), one query."""
    rows = ServiceValue.objects.filter(family=family).select_related("read_by").order_by("number")
    return {(row.name, row.travel_mm): row for row in rows}


def service_of(family: Family | None, travel_m: float | None = None) -> dict[str, Known]:
    """What the sheets of a family say, by name; values that go by travel are those of `travel_m`.

    A value that was taken out again by a correction is not there; a unit without a family has none.
    """
    return {} if family is None else by_name(standing(family).values(), travel_m)


def by_name(rows: Iterable[ServiceValue], travel_m: float | None = None) -> dict[str, Known]:
    """The same from rows of one family, oldest first; a later row of the same value stands before an earlier one."""
    travel_mm = 0 if travel_m is None else round(travel_m * 1e3)
    newest = {row.name: row for row in rows if row.travel_mm == (travel_mm if row.name in BY_TRAVEL else 0)}
    return {
        name: Known(name, row.text, row.value_si, row.unit, row.source, row) for name, row in newest.items() if row.text
    }


def save_service(
    doing: ChangeContext, family: Family, name: str, text: str, source: str, *, travel_mm: int = 0, reason: str = ""
) -> ServiceValue:
    """Keep what a sheet says. What stands is corrected by a new row, which needs a reason; an empty text takes it out.

    Raises FaultsFound with every finding: an unknown name, a value that is none, no source, a correction without a reason.
    """
    assert doing.who is not None
    of = field(name)
    faults = []
    old = standing(family).get((name, travel_mm))
    cleaned = []
    for place, words in ((name, text), ("source", source), ("reason", reason)):
        try:
            cleaned.append(_WORDS.clean(words))
        except ValidationError as found:
            raise FaultsFound([Fault(place, str(found.messages[0]))]) from None
    text, source, reason = cleaned
    typed = None
    if text and of.dimension:
        try:
            typed = _judged(of, text)
            text = with_unit(typed)
        except UnitFault as fault:
            faults.append(Fault(name, str(fault), text))
    if not source:
        faults.append(Fault("source", "say which sheet it stands in: its title, number and date."))
    if (name in BY_TRAVEL) != (travel_mm > 0):
        faults.append(
            Fault(name, "goes by the travel: say which." if name in BY_TRAVEL else "does not go by the travel.")
        )
    if old is None and not text:
        faults.append(Fault(name, "nothing is written."))
    if old is not None and not reason:
        faults.append(Fault("reason", f"{written(old.text) or 'nothing'} stands already; say why it is corrected."))
    if faults:
        raise FaultsFound(faults)
    kept: ServiceValue = ServiceValue.objects.create(
        family=family, name=name, travel_mm=travel_mm, number=old.number + 1 if old else 1, text=text,
        value_si=typed.value_si if typed else None, unit=typed.unit if typed else "", source=source, read_by=doing.who, at=doing.at, replaces=old, reason=reason,
    )  # fmt: skip
    if name == MOST_PRESSURE:
        _limit(doing, family, old.text if old is not None else "", text)
    return kept


def _limit(doing: ChangeContext, family: Family, was: str, now: str) -> None:
    """What a sheet says a unit may be pumped to is the limit of its family, which plan, steps and release go by.

    A lower one that stands there stays, as long as no sheet had said it: somebody read it elsewhere.
    """
    kind = kinds.KINDS[family.kind]
    air, tables = f"{kind.noun}.air", copy.deepcopy(family.tables)
    if air not in kind.tables:
        return
    table = tables.setdefault(air, {})
    stands = str(table.get("pressure_limit", ""))
    if stands != was and (not now or _pa(now) >= _pa(stands)):
        return
    table.pop("pressure_limit", None)
    if now:
        table["pressure_limit"] = now
    family.tables = {name: held for name, held in tables.items() if held}
    keeping.keep(doing, family)


def _pa(text: str) -> float:
    return units.parse(text, "pressure").value_si


def _judged(of: Field, text: str) -> Typed:
    """A number within what any sheet says; a bare one counts in the field's unit. Raises UnitFault in the words of every box."""
    typed = units.parse(text, of.dimension, of.unit)
    low, high, _ = RANGES[of.dimension]
    if not units.to_si(low, of.unit, of.dimension) <= typed.value_si <= units.to_si(high, of.unit, of.dimension):
        raise UnitFault(f"{low:g} to {high:g} {of.unit} is expected.")
    return typed
