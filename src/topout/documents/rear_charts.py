"""What a rear shock does, as small pictures: force, leverage ratio and wheel rate along the rear wheel's travel. Where the shock
is not known exactly its force is a band, that 19 of 20 shocks that fit lie in.

Before dashed, after solid, sag marked on each. Without a leverage there is one picture, the shock's force along its stroke:
nothing is drawn against a wheel travel that nobody knows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.documents.band_charts import BandSide
from topout.documents.chart_labels import step_of
from topout.documents.chart_marks import Marks, Room, width_of
from topout.documents.svg import Drawing
from topout.physics.gas import Floats
from topout.planner.facts import FORCES_SAID_TO
from topout.planner.open_state import limits
from topout.planner.open_to import forces
from topout.planner.results import RearCurve
from topout.uncertainty.intervals import Interval
from topout.units import BENCH, NO_BREAK, System, digits, to_si

WIDTH: Final = 356
TEXT_PX: Final = 18


@dataclass(frozen=True, slots=True)
class Behind:
    """One state of a rear end: "before" or "after", its curve, and the stroke at sag [m], None where it is not known."""

    name: str
    curve: RearCurve
    stroke_m: float | None


@dataclass(frozen=True, slots=True)
class _Line:
    """A state's line in a picture: x [mm], y in SI, and x at sag."""

    name: str
    x: Floats
    y: Floats
    sag_x: float | None

    @property
    def sag_y(self) -> float | None:
        """The value at sag."""
        return None if self.sag_x is None else float(np.interp(self.sag_x, self.x, self.y))


def force(states: Sequence[Behind], name: str, system: System = BENCH) -> Drawing | None:
    """Slow force at the wheel along its travel; at the shock along its stroke where no leverage is known."""
    at_wheel = all(each.curve.wheel_force_n is not None for each in states)
    lines = [_line(each, each.curve.wheel_force_n if at_wheel else each.curve.force_n, at_wheel) for each in states]
    what = "force at the wheel" if at_wheel else "force of the shock"
    return _drawn(
        lines, what, "force", "N", FORCES_SAID_TO, name, system, at_wheel=at_wheel, at_end=True, from_zero=True
    )


def bands(of: Sequence[BandSide], at_wheel: bool, name: str, system: System = BENCH) -> Drawing | None:
    """Slow force at the wheel, or without a leverage at the shock, as bands: before dashed, after solid on the wash."""
    what = "force at the wheel" if at_wheel else "force of the shock"

    def said(known: Interval) -> str:
        least, most = forces(known, system)
        return f"{least.partition(NO_BREAK)[0]} to {most}"

    return _banded(of, what, "force", "N", said, " at the end", name, system, at_wheel=at_wheel)


def rate_bands(of: Sequence[BandSide], name: str, system: System = BENCH) -> Drawing | None:
    """Wheel rate along the wheel's travel as bands, up to where the bumper begins to outgrow it."""

    def said(known: Interval) -> str:
        _, least, most = limits(known, "rate", "N/mm", system)
        return f"at sag {least.partition(NO_BREAK)[0]} to {most.partition(NO_BREAK)[0]}"

    return _banded(of, "wheel rate", "rate", "N/mm", said, "", name, system, at_wheel=True, cut=True)


def _banded(
    of: Sequence[BandSide], what: str, dimension: str, usual: str, said_of: Callable[[Interval], str], where: str, name: str,
    system: System, *, at_wheel: bool, cut: bool = False,
) -> Drawing | None:  # fmt: skip
    """One picture of bands: axes, both states, and in words what is known of each."""
    if not of:
        return None
    unit = system.unit(dimension, usual)
    each = to_si(1.0, unit, dimension)
    high = max(float(np.max(one.band.high95)) for one in of)
    if cut:  # in the bumper the rate runs off; four times the most at sag shows all that is ridden
        high = min(high, 4.0 * max(one.known.high95 for one in of))
    low = min(0.0, *(float(np.min(one.band.low95)) for one in of))
    step = step_of((high - low) / each / 3.0) * each
    along = "rear wheel travel" if at_wheel else "stroke"
    room = Room(WIDTH, 150, 62, 16, 40, 62, TEXT_PX, tall=True)
    drawing = Drawing(name, WIDTH, room.top + room.plot_height + room.bottom, "", "", TEXT_PX, "")
    span = max(float(one.band.travel_m[-1]) for one in of) * 1e3
    bottom, top = step * np.floor(low / step + 1e-9), step * np.ceil(high / step - 1e-9)
    marks = Marks(drawing, room, span, float(bottom), float(top), system)
    for one in of:
        if one.name == "after":
            edges = (np.minimum(one.band.high95, top), np.minimum(one.band.low95, top)[::-1])
            xs = (one.band.travel_m, one.band.travel_m[::-1])
            places = [(x, y) for a, b in zip(xs, edges, strict=True) for x, y in zip(a * 1e3, b, strict=True)]
            drawing.polygon(
                "spread", [(room.left + marks.x_px(x), room.top + marks.y_px(y)) for x, y in places], "spread"
            )
    _axes(marks, what, unit, step, each, along)
    told = []
    for line, one in enumerate(of):
        before = one.name == "before"
        for edge, y in (("low", one.band.low95), ("high", one.band.high95)):
            seen = y <= top * (1 + 1e-9)
            marks.line("cb fast" if before else "ca fast", one.band.travel_m[seen] * 1e3, y[seen], f"{one.name}-{edge}")
        if one.sag_m is not None:
            middle = float(np.interp(one.sag_m, one.band.travel_m, one.band.middle))
            marks.point("mb" if before else "ma", one.sag_m * 1e3, middle, 6 if before else 5)
        said = f"{one.name} {said_of(one.known)}"
        marks.text_px("t tb" if before else "t ta", 12, (0.9 + 1.25 * line) * TEXT_PX, said)
        found = "" if one.sag_m is None else f", sag found {system.show(one.sag_m, 'length', 'mm', decimals=0)}"
        told.append(f"{said}{where}{found}")
    told_of = "the rear wheel’s travel" if at_wheel else "the shock’s stroke"
    drawing.title = f"{what.capitalize()} along {told_of}, as bands. {'. '.join(told)}.".replace(NO_BREAK, " ")
    drawing.says = "Nineteen of twenty shocks that fit what is known lie in these bands."
    return drawing


def ratio(states: Sequence[Behind], name: str, system: System = BENCH) -> Drawing | None:
    """The leverage ratio along the wheel's travel; a plan does not change it, so one line is drawn."""
    lines = [_line(each, each.curve.ratio, True) for each in states[-1:] if each.curve.ratio is not None]
    return _drawn(lines, "leverage ratio", "", "", 2, name, system, at_wheel=True)


def rate(states: Sequence[Behind], name: str, system: System = BENCH) -> Drawing | None:
    """Wheel rate along the wheel's travel, the change of ratio counted in; up to where the bumper begins to outgrow it."""
    lines = [
        _line(each, each.curve.wheel_rate_n_per_m, True) for each in states if each.curve.wheel_rate_n_per_m is not None
    ]
    return _drawn(lines, "wheel rate", "rate", "N/mm", 1, name, system, at_wheel=True, from_zero=True, cut=True)


def _line(of: Behind, values: Floats | None, at_wheel: bool) -> _Line:
    curve = of.curve
    x = curve.wheel_travel_m if at_wheel else curve.travel_m
    assert x is not None and values is not None
    sag_x = None if of.stroke_m is None else float(np.interp(of.stroke_m, curve.travel_m, x)) * 1e3
    return _Line(of.name, x * 1e3, values, sag_x)


def _drawn(
    lines: Sequence[_Line], what: str, dimension: str, usual: str, decimals: int, name: str, system: System, *,
    at_wheel: bool, at_end: bool = False, from_zero: bool = False, cut: bool = False,
) -> Drawing | None:  # fmt: skip
    """One picture: axes, a line for each state, sag in words, and with `at_end` what is reached at the end."""
    if not lines:
        return None
    unit = system.unit(dimension, usual) if dimension else ""
    each = to_si(1.0, unit, dimension) if dimension else 1.0

    def said(value: float) -> str:
        return system.show(value, dimension, usual, decimals=decimals) if dimension else digits(value, decimals)

    high, low = (
        float(pick([np.nanmax(line.y) if pick is max else np.nanmin(line.y) for line in lines])) for pick in (max, min)
    )
    if cut:  # in the bumper the rate runs off; four times the rate at sag shows all that is ridden
        mids = [line.sag_y if line.sag_y is not None else float(np.median(line.y)) for line in lines]
        high = min(high, 4.0 * max(mids))
    low = min(0.0, low) if from_zero else low
    step = step_of(max(high - low, 1e-9) / each / 3.0) * each
    low, top = step * np.floor(low / step + 1e-9), step * np.ceil(high / step - 1e-9)
    room = Room(WIDTH, 150, 62, 16, 40, 62, TEXT_PX, tall=True)
    drawing = Drawing(name, WIDTH, room.top + room.plot_height + room.bottom, "", "", TEXT_PX, "")
    marks = Marks(
        drawing, room, max(float(line.x[-1]) for line in lines), float(low), float(max(top, low + step)), system
    )
    _axes(marks, what, unit, step, each, "rear wheel travel" if at_wheel else "stroke")
    told, words = [], []
    for line in lines:
        before = line.name == "before" and len(lines) > 1
        seen = line.y <= marks.y_high * (1 + 1e-9)
        marks.line("cb slow" if before else "ca slow", line.x[seen], line.y[seen], line.name)
        if line.sag_x is not None and line.sag_y is not None:
            marks.point("mb" if before else "ma", line.sag_x, line.sag_y, 6 if before else 5)
        parts = [f"{said(float(line.y[-1]))} at the end"] if at_end else [f"from {said(float(line.y[0]))}"]
        parts += [] if at_end or cut else [f"to {said(float(line.y[-1]))}"]
        parts += [] if line.sag_y is None else [f"at sag {said(line.sag_y)}"]
        told.append(f"{line.name if len(lines) > 1 else 'both states'}: {', '.join(parts)}")
        words.append((line, before))
    _words(marks, words, said, at_end=at_end)
    along = "along the rear wheel’s travel" if at_wheel else "along the shock’s stroke"
    drawing.title = f"{what.capitalize()} {along}. {'. '.join(told)}.".replace(NO_BREAK, " ")
    return drawing


def _axes(marks: Marks, what: str, unit: str, step: float, each: float, along: str) -> None:
    size, foot, right = marks.room.text_px, marks.room.plot_height, marks.room.plot_width
    marks.rule_px("ax", 0, foot, right, foot)
    marks.rule_px("ax", 0, foot, 0, 0)
    span = marks.x_span / marks.mm_each
    major = 50.0 if span >= 80 else 20.0 if span >= 8 else 1.0
    end = digits(span, 0 if marks.mm_each == 1.0 else 1)
    for at in np.arange(0.0, span, major).tolist():
        x = marks.x_px(at * marks.mm_each)
        marks.rule_px("ax", x, foot, x, foot + 8)
        if right - x > 1.4 * width_of(end, size):
            marks.text_px("t", x, foot + 10 + size, digits(at, 0), "middle")
    marks.rule_px("ax", right, foot, right, foot + 8)
    marks.text_px("t", right + 4, foot + 10 + size, end, "end")
    marks.text_px("t", 0, foot + 34 + size, f"{along}, {marks.x_unit}")
    places = max(0, int(np.ceil(-np.log10(step / each) - 1e-9)))
    for value in np.arange(marks.y_low, marks.y_high + step / 2, step).tolist():
        y = marks.y_px(value)
        marks.rule_px("ax", -8, y, 0, y)
        marks.text_px("t", -12, y + 0.36 * size, digits(float(value / each), places), "end")
    marks.text_px("t", 4 - marks.room.left, size - marks.room.top, f"{what}, {unit}" if unit else what)


def _words(marks: Marks, lines: list[tuple[_Line, bool]], said: object, *, at_end: bool) -> None:
    """What the lines say at sag and at their end, in the two upper corners, where a rising line leaves room."""
    assert callable(said)
    size, right = marks.room.text_px, marks.room.plot_width
    falls = float(lines[-1][0].y[-1]) < float(lines[-1][0].y[0])
    y = 0.9 * size
    for line, before in lines:
        shown = said(float(line.y[-1])) if at_end else None if line.sag_y is None else f"at sag {said(line.sag_y)}"
        if shown is None:
            continue
        text = f"{line.name} {shown}" if len(lines) > 1 else shown
        marks.text_px("t tb" if before else "t ta", right if falls else 12, y, text, "end" if falls else "start")
        y += 1.25 * size
