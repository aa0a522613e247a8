"""The keeps of the plan page: what each would set, as the gauge can show it, and what that would cost."""

from __future__ import annotations

from dataclasses import dataclass

from topout.units import NO_BREAK, digits, from_si
from topout.web.jobs.core.figures import Held, Plan
from topout.web.jobs.plan.tables import GRAIN_N, NONE, Cell, cell, front


@dataclass(frozen=True, slots=True)
class KeepRow:
    """What one keep would set, and what it would cost."""

    key: str
    name: str
    pressure: Cell
    bar: str
    sag: Cell
    end: Cell
    set_to: str  # the text for the pressure's box; "" where no pressure holds it
    button: str
    now: bool  # whether the box says so already


def keeps(plan: Plan, held: dict[str, Held | None], unit: str, set_pa: float | None) -> list[KeepRow]:
    """The four rows in the order of their table; the button sets what the gauge can show."""
    sag = front(plan.before, "travel_m", 1e3)
    share, end = front(plan.before, "share", 100), plan.before.end_force_n
    names = {
        "sag": f"the sag{f', {digits(sag, 1)}{NO_BREAK}mm' if sag is not None else ''}",
        "sag_share": f"the sag share{f', {digits(share, 1)}{NO_BREAK}%' if share is not None else ''}",
        "end_force": f"the end force{f', {cell(end, grain=GRAIN_N).whole}{NO_BREAK}N' if end is not None else ''}",
        "curve": "the curve",
    }
    rows = []
    for key, name in names.items():
        one = held.get(key)
        if one is None:
            rows.append(KeepRow(key, name, NONE, "–", NONE, NONE, "", "", False))
            continue
        in_unit = from_si(one.pressure_gauge_pa, unit, "pressure")
        places = {"psi": 0, "bar": 2, "MPa": 3}.get(unit, 0)
        text = f"{in_unit:.{places}f}"
        same = set_pa is not None and abs(from_si(set_pa, unit, "pressure") - float(text)) < 1e-6
        rows.append(
            KeepRow(
                key, name, cell(from_si(one.pressure_gauge_pa, "psi", "pressure"), 1),
                digits(from_si(one.pressure_gauge_pa, "bar", "pressure"), 2),
                cell(None if one.sag_m is None else one.sag_m * 1e3, 1), cell(one.end_force_n, grain=GRAIN_N),
                text, f"Set {text}", same,
            )
        )  # fmt: skip
    return rows
