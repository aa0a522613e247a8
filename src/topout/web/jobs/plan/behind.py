"""The plan page of a rear shock: what is set on the left, its answer on the right. It is worked out, not put to use yet."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from topout.documents import charts
from topout.documents.charts import Side
from topout.units import digits, show
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.fields import WRITTEN, TwoWays, with_point
from topout.web.jobs.core import behind
from topout.web.jobs.core.behind import Behind
from topout.web.jobs.plan.answer import SIZES
from topout.web.jobs.plan.boxes import BARE_NUMBER
from topout.web.jobs.plan.rows import Row, rows_of
from topout.web.jobs.plan.words import Said, warnings
from topout.web.jobs.records.models import Job

# box -> label, dimension, unit, the table and key it changes
BOXES: Final = {
    "pressure": ("Pressure", "pressure", "psi", "shock.air", "pressure"),
    "spacers": ("Volume spacers", "", "", "shock.air", "spacers"),
    "rate": ("Coil rate", "rate", "N/mm", "shock.coil", "rate"),
    "preload": ("Preload", "length", "mm", "shock.coil", "preload"),
}
_EVERY_M: Final = 0.005  # of the stroke, in the table of values


@dataclass(frozen=True, slots=True)
class Box:
    """One box: its name, label, unit, what stands in it, and what is fitted."""

    name: str
    label: str
    unit: str
    text: str
    now: str


def page(request: HttpRequest, job: Job) -> HttpResponse:
    """The page, answered for what stands in its boxes; an empty box leaves what is fitted."""
    fitted = behind.tables(job)
    boxes, asked = _boxes(request, fitted)
    faults: list[str] = []
    found: Behind | None = None
    try:
        found = behind.answer(fitted, {"change.shock": asked} if asked else {})
    except behind.FaultsFound as bad:
        faults = [bench_tables.in_words(str(fault)) for fault in bad.faults]
    context: dict[str, Any] = {"nav": "bench", "job": job, "boxes": boxes, "faults": faults, "answer": found}
    if found is not None:
        context |= _laid_out(found)
    return render(request, "jobs/plan_behind.html", context, status=422 if faults else 200)


def _boxes(request: HttpRequest, fitted: bench_tables.Tables) -> tuple[list[Box], dict[str, Any]]:
    boxes, asked = [], {}
    for name, (label, dimension, usual, table, key) in BOXES.items():
        if table not in fitted:
            continue
        unit = preferences.unit(dimension, usual) if dimension else ""
        text = request.GET.get(name, "").strip()[:40]
        now = fitted[table].get(key)
        boxes.append(Box(name, label, WRITTEN.get(unit, unit), text, "" if now is None else f"now {now}"))
        if text:
            plain = text
            with suppress(TwoWays):  # what may part thousands the reader asks about
                plain = with_point(text)
            bare = bool(BARE_NUMBER.fullmatch(plain))
            asked[key] = f"{plain} {unit}" if unit and bare else int(plain) if plain.isdecimal() else plain
    return boxes, asked


def _laid_out(found: Behind) -> dict[str, Any]:
    """Tables and pictures of an answer."""
    rows: list[Row] = []
    rear = found.told.rear
    for title, group in rear.groups if rear is not None else ():
        if group:
            rows.append(Row(title, group=True))
            for fact in group:
                rows += rows_of(fact)
    told: list[Said] = warnings(found.told)
    sides = tuple(
        Side(name, curve, None)
        for name, curve in (("before", found.before), ("after", found.after))
        if curve is not None
    )
    system = preferences.system()
    drawn = [
        charts.force(sides, charts.room(px), f"shock{cls}", cls, system).svg() for cls, px in SIZES.items()
    ] if sides else []  # fmt: skip
    lacking = [each.words for each in found.told.lacking if each.place.startswith(("[shock", "[rider", "[bike"))]
    return {"rows": rows, "warnings": told, "drawn": drawn, "values": _values(found), "lacking": lacking}


def _values(found: Behind) -> list[tuple[str, ...]]:
    """The picture's values, and what the wheel has of them: every 5 mm of stroke after the change."""
    curve = found.after
    if curve is None:
        return []
    system = preferences.system()
    stops = np.unique(np.append(np.arange(0.0, curve.travel_m[-1], _EVERY_M), curve.travel_m[-1]))

    def at(values: Any, dimension: str, unit: str, decimals: int | None = None) -> list[str]:
        if values is None:
            return ["–"] * len(stops)
        each = np.interp(stops, curve.travel_m, values)
        if not dimension:
            return [digits(float(value), 2) for value in each]
        return [show(float(value), dimension, system.unit(dimension, unit), decimals=decimals) for value in each]

    return list(
        zip(
            at(curve.travel_m, "length", "mm"), at(curve.force_n, "force", "N", -1), at(curve.wheel_travel_m, "length", "mm"),
            at(curve.ratio, "", ""), at(curve.wheel_travel_m, "length", "mm"), at(curve.wheel_force_n, "force", "N", -1),
            at(curve.wheel_rate_n_per_m, "rate", "N/mm"),
            strict=True,
        )
    )  # fmt: skip
