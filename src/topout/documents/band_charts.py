"""What is not known exactly, as pictures: the slow force as bands along the travel, and the end that each reading leaves.

Inks and axes are those of `charts`: before dashed, hollow, soft; after solid, filled, carbon, on the wash. A band holds 19
of 20 forks that fit. x is millimetres or the gauge's own unit, y is newtons.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.documents.chart_labels import axes, ink, step_of, text_style
from topout.documents.chart_marks import Marks, Room, width_of
from topout.documents.svg import Drawing
from topout.planner.bands import Band
from topout.planner.held_in import Leaves
from topout.planner.open_to import forces
from topout.uncertainty.intervals import Interval
from topout.units import BENCH, NO_BREAK, System, digits, from_si, to_si

CAP_PX: Final = 7.0  # half a bar's end


@dataclass(frozen=True, slots=True)
class BandSide:
    """One state in a picture: its name ("before", "after"), its band, what is said of it (its end; of a rate that at sag), and the
    travel of the sag that was read."""

    name: str
    band: Band
    known: Interval
    sag_m: float | None = None

    @property
    def end_mm(self) -> float:
        """Travel in mm."""
        return float(self.band.travel_m[-1]) * 1e3


def bands(sides: tuple[BandSide, ...], where: Room, name: str, classes: str = "", system: System = BENCH) -> Drawing:
    """The slow force of one or two states as bands, their ends in newtons, the sag found marked.

    `name` begins the ids inside the drawing, `classes` are those of the whole of it.
    """
    span = max(side.end_mm for side in sides)
    high = max(float(np.max(side.band.high95)) for side in sides)
    low = min(0.0, *(float(np.min(side.band.low95)) for side in sides))
    title = "Slow spring force along the travel, as bands, before and after"
    said = [f"{side.name.capitalize()}: {_spoken(side.known, system)} at {_mm(side.end_mm, system)}." for side in sides]
    says = f"Nineteen of twenty forks that fit what is known lie in these bands. {' '.join(said)}"
    height = where.top + where.plot_height + where.bottom
    drawing = Drawing(name, where.width, height, title, says, where.text_px, classes)
    marks = Marks(drawing, where, span, low, max(high, 1.0), system)
    for side in sides:
        if side.name == "after":
            there, back = _places(marks, side, side.band.high95), _places(marks, side, side.band.low95)[::-1]
            drawing.polygon("spread", [*there, *back], "spread")
    axes(marks, sides)
    for side in sides:
        x = side.band.travel_m * 1e3
        for edge, y in (("low", side.band.low95), ("high", side.band.high95)):
            marks.line(f"{ink(side)} fast", x, y, f"{side.name}-{edge}")
            marks.point("mb" if side.name == "before" else "ma", side.end_mm, float(y[-1]), 4)
    for side in sides:
        if side.sag_m is not None:
            at = side.sag_m * 1e3
            middle = float(np.interp(at, side.band.travel_m * 1e3, side.band.middle))
            marks.rule_px(f"{ink(side)} hair", marks.x_px(at), marks.y_px(middle), marks.x_px(at), marks.y_px(0))
            marks.point("mb" if side.name == "before" else "ma", at, middle, 5)
            if side is sides[0]:
                marks.text_px(
                    "t",
                    min(18.0, marks.x_px(at)),
                    marks.y_px(middle) - (3.6 if where.tall else 2.4) * where.text_px,
                    f"sag found, {_mm(at, system)}",
                )
    _ends(marks, sides)
    return drawing


def _ends(marks: Marks, sides: tuple[BandSide, ...]) -> None:
    """The limits at the ends: beside the picture where there is room, else in its empty upper left."""
    size, right = marks.room.text_px, marks.room.plot_width
    top = -1.25 * size * len(sides) if marks.room.above else 0.0
    for i, side in enumerate(reversed(sides)):
        low, high = forces(side.known, marks.system)
        words = f"{side.name}, {low.partition(NO_BREAK)[0]} to {high}"
        height = marks.y_px(float(side.band.high95[-1]))
        if marks.room.tall:
            edge = right - 40 if marks.room.above else max(width_of(words, size) + 4, 0.62 * right)
            marks.text_px(text_style(side), edge, top + 1.25 * size * i + 0.35 * size, words, "end")
        elif side.name == "after":
            pieces = (side.name, f"{low.partition(NO_BREAK)[0]} to", high)
            for line, piece in enumerate(pieces):
                marks.text_px(text_style(side), right + 14, max(height, 0.0) + (0.4 + 1.2 * line) * size, piece)
        else:
            marks.text_px(text_style(side), marks.x_px(side.end_mm) - 16, max(height, 0.0) + 0.3 * size, words, "end")


def readings(
    now: Interval, of: tuple[Leaves, ...], travel_m: float, unit: str, where: Room, name: str, classes: str = "",
    system: System = BENCH,
) -> Drawing:  # fmt: skip
    """For each reading that the gauge may show with the fork held in, the end of the travel that it would leave.

    `now` is what is known without one [N], `unit` the gauge's own. A dot is the middle, a line holds 19 of 20.
    """
    shown = [from_si(each.shows_pa, unit, "pressure") for each in of]
    places = 0 if all(abs(v - round(v)) < 1e-6 for v in shown) else 2
    ends = [now, *(each.end_n for each in of)]
    each_n = to_si(1.0, system.unit("force", "N"), "force")  # a scale in round numbers of the reader's unit
    lowest, highest = min(e.low95 for e in ends) / each_n, max(e.high95 for e in ends) / each_n
    step = step_of((highest - lowest) / 3.2)
    low, high = step * float(np.floor(lowest / step)), step * float(np.ceil(highest / step))
    at = system.show(travel_m, "length", "mm", decimals=0)
    title = f"The end of the travel after the change that one reading would leave, the fork held in by {at}"
    said = "; ".join(f"{digits(v, places)} {unit}: {_spoken(e.end_n, system)}" for v, e in zip(shown, of, strict=True))
    flat = Room(where.width, 228, where.left, 24, 36, where.bottom, where.text_px, where.tall)
    height = flat.top + flat.plot_height + flat.bottom
    says = f"Without a reading {_spoken(now, system)}. {said}."
    drawing = Drawing(name, where.width, height, title, says, where.text_px, classes)
    marks = Marks(drawing, flat, 1.0, low * each_n, high * each_n, system)
    size, foot, wide = flat.text_px, flat.plot_height, flat.plot_width
    marks.rule_px("ax", 0, foot, 0, 0)
    for value in np.arange(low, high + step / 2, step).tolist():
        y = marks.y_px(value * each_n)
        marks.rule_px("ax", -8, y, 0, y)
        marks.text_px("t", -12, y + 0.36 * size, digits(value, 0), "end")
    marks.text_px("t", 4 - flat.left, size - flat.top + 2, f"bottom-out force after, {marks.y_unit}")
    first = 2.4 * size
    _bar(marks, "cb", first / 2 + 6, now, "now")
    marks.text_px("t", first / 2 + 6, foot + 10 + size, "now", "middle")
    begin = first + 2.0 * size
    pitch = (wide - begin - size) / max(len(of) - 1, 1)
    every = max(1, int(np.ceil(2.6 * size / max(pitch, 1.0))))
    marks.rule_px("ax", begin, foot, begin + pitch * (len(of) - 1), foot)
    for i, (reading, one) in enumerate(zip(shown, of, strict=True)):
        x = begin + pitch * i
        marks.rule_px("ax", x, foot, x, foot + 10)
        if i % every == 0:
            marks.text_px("t", x, foot + 10 + size, digits(reading, places), "middle")
        _bar(marks, "ca", x, one.end_n, f"at-{digits(reading, places)}")
        drawing.circle("ma", (flat.left + x, flat.top + marks.y_px(one.end_n.median)), 4.5 if flat.tall else 6)
    words = f"the gauge will show, {unit}"
    marks.text_px("t", 0 if flat.tall else begin, foot + 34 + size, words if flat.tall else f"{words}, in by {at}")
    return drawing


def _bar(marks: Marks, style: str, x: float, one: Interval, part: str) -> None:
    """An upright line from limit to limit; the one before has ends, so that it stays another one in grey."""
    top, bottom = marks.y_px(one.high95), marks.y_px(one.low95)
    left, down = marks.room.left, marks.room.top
    marks.drawing.line(f"{style} slow", (left + x, down + top), (left + x, down + bottom), part)
    if style == "cb":
        for y in (top, bottom):
            marks.rule_px("ax", x - CAP_PX, y, x + CAP_PX, y)


def _places(
    marks: Marks, side: BandSide, y: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
) -> list[tuple[float, float]]:
    left, down = marks.room.left, marks.room.top
    x = side.band.travel_m * 1e3
    return [(left + marks.x_px(float(a)), down + marks.y_px(float(b))) for a, b in zip(x, y, strict=True)]


def _spoken(one: Interval, system: System) -> str:
    low, high = forces(one, system)
    return f"{low.partition(NO_BREAK)[0]} to {high}".replace(NO_BREAK, " ")


def _mm(mm: float, system: System) -> str:
    return system.show(mm / 1e3, "length", "mm", decimals=0)
