"""What the plan page says of the rear end: pictures at the wheel with their values, what keeps what, what can hurt.

A share of the stroke is no share of the wheel's travel: each is named where it stands, and the wheel's is not said where no
leverage is known.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.documents import plan_pictures, rear_charts
from topout.documents.plan_pictures import BehindSides
from topout.units import digits, show
from topout.web.access import preferences
from topout.web.jobs.core import figures
from topout.web.jobs.core.figures import Answered, Fact, KeepTo, NotYet, Plan, RearCurve, Summary, Usual
from topout.web.jobs.plan.rows import Row, rows_of

EVERY_M: Final = 0.005  # of the stroke, in the table of values
BANDS_EVERY_M: Final = 0.020  # of the wheel's travel, in that of bands


@dataclass(frozen=True, slots=True)
class RearKeep:
    """What keeps one thing as it was: in words, what does it, and what its button puts into which box ("" where none does)."""

    words: str
    said: str
    beside: str
    box: str
    set_to: str
    over: bool
    now: bool


@dataclass(frozen=True)
class BehindAnswer:
    """The rear part of an answer, worked out when a template asks for it."""

    file: BenchFile = field(repr=False)
    changed: BenchFile = field(repr=False)
    plan: Plan = field(repr=False)
    told: Summary = field(repr=False)
    pressure_unit: str
    mark_pa: float | None = None  # of the gauge that the pressure was found with, where that is known
    draws: Answered | None = field(repr=False, default=None)  # of a plan of which something was drawn

    @cached_property
    def linked(self) -> bool:
        """Whether the frame's leverage is known."""
        shock = self.file.shock
        return shock is not None and bool(shock.leverage or shock.leverage_stroke)

    @cached_property
    def open(self) -> bool:
        """Whether the shock's own force is not known exactly: what it does is then told with its limits."""
        return self.draws is not None and figures.open_to.is_open_behind(self.draws.bounds)

    @cached_property
    def spreads(self) -> BehindSides:
        """The bands of both states, before with the sag that was found in it; none where the shock is known."""
        return plan_pictures.behind(self.draws) if self.open and self.draws is not None else BehindSides()

    @cached_property
    def firm(self) -> NotYet | None:
        """How firm the end of the shock is, where that is not known yet."""
        return None if self.draws is None else figures.open_to.end_behind(self.draws.bounds, preferences.system())

    @cached_property
    def usual(self) -> list[Usual]:
        """What was drawn of it, the largest doubt first."""
        shock = self.file.shock
        if self.draws is None or shock is None or shock.body_m is None:
            return []
        return figures.usual.drawn_behind(self.draws.bounds, shock.body_m, preferences.system())

    @cached_property
    def open_keeps(self) -> list[tuple[KeepTo, str]]:
        """What to set behind, to keep one thing as it was, each with its limits and the box that it goes into."""
        shock = self.changed.shock
        if not self.open or self.draws is None or shock is None:
            return []
        if shock.coil is not None:
            unit = preferences.unit("rate", "N/mm")
            return [
                (one, "shock_rate") for one in figures.open_to.keeps_behind(self.draws.said, unit, None, on_coil=True)
            ]
        limit_pa = shock.air.pressure_limit_gauge_pa if shock.air is not None else None
        return [
            (one, "shock_pressure")
            for one in figures.open_to.keeps_behind(self.draws.said, self.pressure_unit, limit_pa)
        ]

    @cached_property
    def states(self) -> list[rear_charts.Behind]:
        """Before and after, as far as their springs can be worked out; of a shock that was drawn the one that stands for it."""
        found: list[rear_charts.Behind] = []
        for name, curve, state in (
            ("before", self.plan.shock_before, self.plan.before),
            ("after", self.plan.shock_after, self.plan.after),
        ):
            rear = state.sag.rear if state.sag is not None else None
            if curve is not None:
                found.append(rear_charts.Behind(name, curve, rear.stroke_m if rear is not None else None))
        return found

    @cached_property
    def force(self) -> str:
        system = preferences.system()
        if self.open:
            drawing = rear_charts.bands(self.spreads.force, self.linked, "rear-force", system)
        else:
            drawing = rear_charts.force(self.states, "rear-force", system)
        return drawing.svg() if drawing is not None else ""

    @cached_property
    def ratio(self) -> str:
        drawing = rear_charts.ratio(self.states, "rear-ratio", preferences.system())
        return drawing.svg() if drawing is not None else ""

    @cached_property
    def rate(self) -> str:
        system = preferences.system()
        if self.open:
            drawing = rear_charts.rate_bands(self.spreads.rate, "rear-rate", system)
        else:
            drawing = rear_charts.rate(self.states, "rear-rate", system)
        return drawing.svg() if drawing is not None else ""

    @property
    def pairs(self) -> str:
        """Where the leverage comes from: "from eight pairs of the frame’s sheet"."""
        shock = self.file.shock
        table = (shock.leverage or shock.leverage_stroke) if shock is not None else None
        return f"from {len(table)} pairs of the frame’s sheet" if table else ""

    @cached_property
    def values(self) -> list[tuple[str, ...]]:
        """Values of the pictures: stroke, the shock's force before and after; with a leverage what the wheel has of it."""
        if self.open:
            return self._along_the_bands()
        if not self.states:
            return []
        last = self.states[-1].curve
        stops = np.unique(np.append(np.arange(0.0, last.travel_m[-1], EVERY_M), last.travel_m[-1]))
        columns = [_at(stops, last, last.travel_m, "length", "mm")]
        columns += [_at(stops, each.curve, each.curve.force_n, "force", "N", -1) for each in self.states]
        if last.wheel_travel_m is not None:
            columns += [
                _at(stops, last, last.wheel_travel_m, "length", "mm"), _at(stops, last, last.ratio, "", ""),
                *(_at(stops, each.curve, each.curve.wheel_force_n, "force", "N", -1) for each in self.states),
                *(_at(stops, each.curve, each.curve.wheel_rate_n_per_m, "rate", "N/mm", 1) for each in self.states),
            ]  # fmt: skip
        return list(zip(*columns, strict=True))

    def _along_the_bands(self) -> list[tuple[str, ...]]:
        if not self.spreads.force:
            return []
        system = preferences.system()
        last = self.spreads.force[-1].band.travel_m
        stops = np.unique(np.append(np.arange(0.0, last[-1], BANDS_EVERY_M), last[-1]))
        columns = [[show(float(m), "length", system.unit("length", "mm")) for m in stops]]
        for sides, dimension, unit, decimals in (
            (self.spreads.force, "force", "N", -1),
            (self.spreads.rate, "rate", "N/mm", 0),
        ):
            for each in sides:
                for values in (each.band.low95, each.band.high95):
                    at = np.interp(stops, each.band.travel_m, values)
                    columns.append([system.show(float(v), dimension, unit, decimals=decimals) for v in at])
        if (ratio := self._ratio_beside()) is not None:
            columns.append([digits(float(v), 2) for v in np.interp(stops, *ratio)])
        return list(zip(*columns, strict=True))

    def _ratio_beside(self) -> tuple[Any, Any] | None:
        """The ratio along the wheel's travel, drawn as a line beside the bands."""
        curve = self.states[-1].curve if self.linked and self.states else None
        return None if curve is None or curve.ratio is None else (curve.wheel_travel_m, curve.ratio)

    @property
    def heads(self) -> list[str]:
        """Of the values' columns."""
        if self.open:
            sides = [f"{each.name}, {limit}" for each in self.spreads.force for limit in ("from", "to")]
            rates = [f"rate {each.name}, {limit}" for each in self.spreads.rate for limit in ("from", "to")]
            beside = ["ratio"] if self._ratio_beside() is not None else []
            return ["Rear wheel travel" if self.linked else "Stroke", *sides, *rates, *beside]
        names = [each.name for each in self.states]
        heads = ["Stroke", *(f"shock, {name}" for name in names)]
        if self.states and self.states[-1].curve.wheel_travel_m is not None:
            heads += [
                "wheel travel",
                "ratio",
                *(f"wheel, {name}" for name in names),
                *(f"rate, {name}" for name in names),
            ]
        return heads

    @cached_property
    def rows(self) -> list[Row]:
        """Before, after, difference."""
        rows: list[Row] = []
        for title, group in self.told.rear.groups if self.told.rear is not None else ():
            if group:
                rows.append(Row(title, group=True))
                for fact in group:
                    rows += rows_of(fact)
        return rows

    @cached_property
    def under(self) -> list[tuple[str, str, str]]:
        """Sag of both ends beside the picture of the bike: words, before, after. Each share says what it is a share of."""
        told = []
        rear = self.told.rear
        if rear is not None and rear.of_stroke.known:
            told.append(("shock sag", rear.of_stroke, f"of stroke, {rear.stroke_used.says('after')}"))
        if rear is not None and rear.of_wheel.known:
            told.append(("rear wheel", rear.of_wheel, "of its travel"))
        share = next((fact for fact in self.told.listed() if fact.key == "share"), None)
        if share is not None and share.known:
            told.append(("fork sag", share, f"of travel, {self.told.sag.says('after')}"))
        return [(words, _number(fact), f"{fact.says('after')} {more}") for words, fact, more in told]

    @cached_property
    def keeps(self) -> list[RearKeep]:
        """What keeps sag, feel and bottom-out force; the same sag is the same share as long as the stroke stays."""
        rear = self.plan.rear
        if rear is None or self.open or not self.states:
            return []
        each = (
            ("same sag", rear.keep.sag),
            ("same feel", rear.keep.curve),
            ("same bottom-out force", rear.keep.end_force),
        )
        return [self._keep(words, one.pressure_pa, one.rate_n_per_m) for words, one in each]

    def _keep(self, words: str, pressure_pa: float | None, rate_n_per_m: float | None) -> RearKeep:
        shock, system = self.changed.shock, preferences.system()
        if shock is not None and shock.coil is not None:
            unit = system.unit("rate", "N/mm")
            if rate_n_per_m is None:
                return RearKeep(words, "no spring does", "", "", "", False, False)
            figure = show(rate_n_per_m, "rate", unit, decimals=1 if unit == "N/mm" else 0)
            same = shock.coil.rate_n_per_m is not None and show(shock.coil.rate_n_per_m, "rate", unit) == figure
            return RearKeep(words, figure, "", "shock_rate", _plain(figure), False, same)
        air = shock.air if shock is not None else None
        if pressure_pa is None or air is None:
            return RearKeep(words, "no pressure does", "", "", "", False, False)
        unit = self.pressure_unit
        set_to = figures.gauge_can_show(pressure_pa, unit, self.mark_pa)
        over = air.pressure_limit_gauge_pa is not None and pressure_pa > air.pressure_limit_gauge_pa * (1 + 1e-9)
        now = (
            air.pressure_gauge_pa is not None
            and figures.gauge_can_show(air.pressure_gauge_pa, unit, self.mark_pa) == set_to
        )
        first, _, second = figures.at_mark.show_in(system, pressure_pa, self.mark_pa, second=True).partition(" · ")
        return RearKeep(words, first, second, "shock_pressure", set_to, over, now)


def _plain(figure: str) -> str:
    return figure.partition("\N{NO-BREAK SPACE}")[0].replace("\N{NARROW NO-BREAK SPACE}", "")


def _number(fact: Fact) -> str:
    return fact.number("before") if fact.before_si is not None else ""


def _at(stops: Any, curve: RearCurve, values: Any, dimension: str, unit: str, decimals: int | None = None) -> list[str]:
    """Values at places of the stroke, in words."""
    system = preferences.system()
    each = np.interp(stops, curve.travel_m, values)
    if not dimension:
        return [digits(float(value), 2) for value in each]
    return [show(float(value), dimension, system.unit(dimension, unit), decimals=decimals) for value in each]
