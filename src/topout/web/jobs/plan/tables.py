"""The tables of the plan page: before, after, difference as the planner sums them up; the values of the pictures."""

from __future__ import annotations

import numpy as np

from topout.documents.charts import Side
from topout.units import needed, number
from topout.web.jobs.core.figures import FORCES_SAID_TO, Summary
from topout.web.jobs.plan.rows import NONE, Cell, Row, cell, cells_of, name_of, rows_of, split


def compared(of: Summary) -> list[Row]:
    """What is set, the air spring, the spring, the room; each under its title, empty groups left out."""
    rows: list[Row] = []
    for title, group in of.groups:
        if group:
            rows.append(Row(title, group=True))
            for fact in group:
                rows += rows_of(fact)
    return rows


def stances(of: Summary) -> list[Row]:
    """Unloaded and at sag, three figures each; empty without a frame."""
    at_sag = {fact.key: cells_of(fact) for fact in of.sagged}
    return [Row(name_of(fact), cells_of(fact) + at_sag.get(fact.key, ())) for fact in of.unloaded]


def along_the_travel(sides: tuple[Side, ...]) -> list[Row]:
    """Forces at every 20 mm and at the ends: slow and fast of each state; a dash where a line is not drawn."""
    if not sides:
        return []
    ends = {side.end_mm for side in sides}
    stops = sorted({float(mm) for mm in np.arange(0, max(ends), 20)} | ends)
    columns: list[list[Cell]] = []
    for side in sides:
        x = side.curve.travel_m * 1e3
        for y, start in ((side.curve.force_n, 0.0), (side.fast_n, side.fast_from_m * 1e3)):
            at = np.interp(stops, x, y)
            drawn = [start - 1e-9 <= mm <= side.end_mm + 1e-9 for mm in stops]
            columns.append([_newton(float(v)) if ok else NONE for v, ok in zip(at, drawn, strict=True)])
    names = [_stop(mm * 1e-3) for mm in stops]
    return [Row(name, tuple(column[i] for column in columns)) for i, name in enumerate(names)]


def _newton(force_n: float) -> Cell:
    return cell(number(force_n, "force", "N", FORCES_SAID_TO))


def _stop(travel_m: float) -> str:
    places = needed([travel_m], "length", "mm")
    one = cell(number(travel_m, "length", "mm", places), places)
    return one.whole + one.fraction


__all__ = ["Cell", "Row", "along_the_travel", "compared", "split", "stances"]
