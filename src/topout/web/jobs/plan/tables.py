"""The tables of the plan page: before, after, difference as the planner sums them up; the values of the pictures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from topout.documents.band_charts import BandSide
from topout.documents.charts import Side
from topout.units import System, needed, number, to_si
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


def along_the_travel(sides: tuple[Side, ...], system: System) -> list[Row]:
    """Forces at every 20 mm, or inch, and at the ends: slow and fast of each state; a dash where a line is not drawn."""
    if not sides:
        return []
    stops = _stops({side.end_mm for side in sides}, system)
    columns: list[list[Cell]] = []
    for side in sides:
        x = side.curve.travel_m * 1e3
        for y, start in ((side.curve.force_n, 0.0), (side.fast_n, side.fast_from_m * 1e3)):
            at = np.interp(stops, x, y)
            drawn = [start - 1e-9 <= mm <= side.end_mm + 1e-9 for mm in stops]
            columns.append([_force(float(v), system) if ok else NONE for v, ok in zip(at, drawn, strict=True)])
    names = [_stop(mm * 1e-3, system) for mm in stops]
    return [Row(name, tuple(column[i] for column in columns)) for i, name in enumerate(names)]


def along_the_bands(sides: Sequence[BandSide], system: System) -> list[Row]:
    """Least and most of the slow force at the same places, of each state."""
    if not sides:
        return []
    stops = _stops({side.end_mm for side in sides}, system)
    columns: list[list[Cell]] = []
    for side in sides:
        for y in (side.band.low95, side.band.high95):
            at = np.interp(stops, side.band.travel_m * 1e3, y)
            columns.append(
                [
                    _force(float(v), system) if mm <= side.end_mm + 1e-9 else NONE
                    for mm, v in zip(stops, at, strict=True)
                ]
            )
    return [Row(_stop(mm * 1e-3, system), tuple(column[i] for column in columns)) for i, mm in enumerate(stops)]


def _stops(ends: set[float], system: System) -> list[float]:
    """Every 20 mm, or inch, and the ends [mm]."""
    unit = system.unit("length", "mm")
    every = 20.0 if unit == "mm" else to_si(1.0, unit, "length") * 1e3
    return sorted({float(mm) for mm in np.arange(0, max(ends), every)} | ends)


def _force(force_n: float, system: System) -> Cell:
    return cell(system.number(force_n, "force", "N", FORCES_SAID_TO))


def _stop(travel_m: float, system: System) -> str:
    unit = system.unit("length", "mm")
    places = needed([travel_m], "length", unit)
    one = cell(number(travel_m, "length", unit, places), places)
    return one.whole + one.fraction


__all__ = ["Cell", "Row", "along_the_bands", "along_the_travel", "compared", "split", "stances"]
