"""The keeps of the plan page: what each would set, as the gauge can show it, what that would cost, what speaks against it."""

from __future__ import annotations

from dataclasses import dataclass

from topout.units import from_si, other
from topout.web.access import preferences
from topout.web.jobs.core.figures import Kept, at_mark
from topout.web.jobs.plan.rows import NONE, Cell, split


@dataclass(frozen=True, slots=True)
class KeepRow:
    """What one keep would set, what it would cost, and what speaks against it."""

    key: str
    name: str
    pressure: Cell
    bar: str
    sag: Cell
    end: Cell
    set_to: str  # the text for the pressure's box; "" where no pressure holds it
    button: str
    now: bool  # whether the box says so already
    over: bool = False  # whether its pressure lies above the maker's limit
    marks: tuple[str, ...] = ()
    known: bool = True  # whether what is to be kept is


def keeps(found: tuple[Kept, ...], unit: str, set_pa: float | None) -> list[KeepRow]:
    """The four rows in the order of the planner; the button sets what the gauge can show and says where that is too much."""
    rows = []
    for one in found:
        name = f"{one.words}{f', {one.holds}' if one.holds else ''}"
        if one.pressure_pa is None:
            rows.append(KeepRow(one.key, name, NONE, NONE.whole, NONE, NONE, "", "", False, known=one.known))
            continue
        text = one.set_to(unit)
        same = set_pa is not None and abs(from_si(set_pa, unit, "pressure") - float(text)) < 1e-6
        button = f"Set {text}, over the limit" if one.over else f"Set {text}"
        figures, beside = (_figure(at_mark.show(one.pressure_pa, each, one.mark_pa)) for each in pressures())
        rows.append(
            KeepRow(
                one.key, name, figures, beside.whole + beside.fraction,
                _figure(one.sag), _figure(one.end_force), text, button, same, one.over, one.marks,
            )
        )  # fmt: skip
    return rows


def pressures() -> tuple[str, str]:
    """The units of the two columns of pressures, the workshop's first."""
    first = preferences.unit("pressure", "psi")
    return first, other("pressure", first) or "psi"


def heads() -> dict[str, str]:
    """The units of the table's columns."""
    first, second = pressures()
    return {
        "first": first,
        "second": second,
        "length": preferences.unit("length", "mm"),
        "force": preferences.unit("force", "N"),
    }


def _figure(said: str) -> Cell:
    """The digits of what is said; the column's head has the unit."""
    return split(said.partition("\N{NO-BREAK SPACE}")[0])
