"""The rounds of a filling as a step page shows them: a column each, the staircase where the plan says what to expect."""

from __future__ import annotations

from typing import Any

from topout.procedures import words
from topout.units import digits, number
from topout.web.jobs.core import steps
from topout.web.jobs.plan import gaps
from topout.web.jobs.steps import pictures
from topout.web.jobs.steps.pictures import RoundDrawn
from topout.web.jobs.steps.progress import Progress, Slot

_COLUMNS = 6  # rounds that the table of a filling shows at once


def _column(here: Progress, pressure_pa: float, unit: str) -> str:
    """A pressure in the table of a filling: as finely as its gauge is read."""
    places = 1 if steps.fine(here.instrument) and unit == "psi" else {"psi": 0, "kPa": 0}.get(unit, 2)
    return digits(number(pressure_pa, "pressure", unit, places), places)


def rounds(here: Progress, slot: Slot, unit: str) -> dict[str, Any]:
    """The rounds as columns, in the gauge's unit, and the staircase on them where the plan says what to expect."""
    every = [each for each in here.slots if each.step is slot.step]
    first = max(0, min(slot.round - 1 - 2, len(every) - _COLUMNS))
    shown = every[first : first + _COLUMNS]
    evidence = slot.step.evidence[0]
    drawn, columns = [], []
    for each in shown:
        span = None
        if each.filling is None:
            try:
                span = here.band(each, evidence, here.found(each))
            except steps.NotKnown:
                return {"unknown": True}
        entry = here.latest.get(each.key)
        row = entry.evidence["answers"].get(evidence.key, {}) if entry else {}
        read = row.get("value_si")
        assert each.pumped_to_pa is not None
        expect = "" if span is None or span.expect_si is None else _column(here, span.expect_si, unit)
        if span is not None:
            assert span.expect_si is not None and span.low_si is not None and span.high_si is not None
            drawn.append(RoundDrawn(each.pumped_to_pa, span.expect_si, span.low_si, span.high_si, read))
        columns.append(
            {
                "round": each.round, "now": each is slot,
                "pump": _column(here, each.pumped_to_pa, unit),
                "expect": expect,
                "read": "" if read is None else _column(here, read, unit),
            }
        )  # fmt: skip
    top = here.plan.set_pressure_gauge_pa
    assert top is not None  # rounds of filling are of a plan
    label = words.quantity(top, "pressure", unit, 0 if unit == "psi" else 2)
    return {
        "unit": unit, "columns": columns, "total": len(every),
        "gaps": [] if slot.filling is None else gaps.of_steps(here.job, here.frozen),
    } | ({} if slot.filling is not None else {
        "wide": pictures.staircase(drawn, top, label, wide=True, name="fill-wide"),
        "narrow": pictures.staircase(drawn, top, label, wide=False, name="fill-narrow"),
    })  # fmt: skip
