"""What stands on a chart beside its lines: axes, sag, the labels at the lines' ends, each clear of the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from topout.documents.chart_marks import END, MIDDLE, START, Marks, Side, width_of
from topout.planner.facts import FORCES_SAID_TO
from topout.units import BENCH, NO_BREAK, System, digits, show

LAST_WIDER: Final = 1.15  # the label of the state after is bold: its figures are that much wider


class Ended(Protocol):
    """A state as axes need it: its name, and its travel in mm."""

    @property
    def name(self) -> str: ...

    @property
    def end_mm(self) -> float: ...


def ink(side: Ended) -> str:
    return "cb" if side.name == "before" else "ca"


def text_style(side: Ended) -> str:
    return "t tb" if side.name == "before" else "t ta"


def force_said(newton: float, system: System = BENCH) -> str:
    """A force as the plan says it, with its unit: a spring is not known better than that."""
    return system.show(newton, "force", "N", decimals=FORCES_SAID_TO)


def step_of(about: float) -> float:
    """The next of 1, 2, 5 × 10ⁿ at or above `about`."""
    power = 10.0 ** np.floor(np.log10(max(about, 1e-9)))
    return float(next(m * power for m in (1, 2, 5, 10) if m * power >= about * (1 - 1e-9)))


def axes(marks: Marks, sides: Sequence[Ended]) -> None:
    where, size = marks.room, marks.room.text_px
    base, right = marks.y_px(0), where.plot_width
    foot = where.plot_height
    marks.rule_px("ax", 0, base, right, base)
    marks.rule_px("ax", 0, foot, 0, 0)
    long = marks.x_span >= 80
    major, parts = ((50.0 if long else 20.0), 5) if marks.x_unit == "mm" else ((1.0 if long else 0.5), 4)
    ends = sorted({round(side.end_mm, 3): side for side in sides}.items())
    places = [marks.x_px(end) for end, _ in ends]
    said = [marks.system.show(end / 1e3, "length", "mm", trim=True).partition(NO_BREAK)[0] for end, _ in ends]
    wides = [width_of(words, size) for words in said]
    crowded = len(places) == 2 and places[1] - places[0] < 0.6 * sum(wides) + 0.15 * size
    label_room = max(2.6 * size, 1.1 * max(wides))
    gap = last = float("inf")  # where two labels side by side part, and where the last plain one may stand
    if crowded:
        gap = min((places[0] + places[1]) / 2, right + where.right - 0.15 * size - wides[1] * LAST_WIDER)
        last = gap - wides[0] - 1.7 * size
    for at in np.arange(0, marks.x_span / marks.mm_each, major / parts).tolist():
        is_major = abs(at / major - round(at / major)) < 1e-9
        x = marks.x_px(at * marks.mm_each)
        marks.rule_px("ax", x, base, x, base + (10 if is_major else 5))
        if is_major and x < last and all(abs(x - place) > label_room for place in places):
            marks.text_px("t", x, base + 10 + size, digits(at, 0 if at == int(at) else 1), "middle")
    for i, ((_, side), place, words) in enumerate(zip(ends, places, said, strict=True)):
        marks.rule_px("ax", place, base, place, base + 10)
        at, anchor = place, MIDDLE
        if crowded:  # side by side, parted in the middle between the two ends
            at, anchor = gap + (0.15 * size if i else -0.15 * size), START if i else END
        marks.text_px("t" if len(ends) == 1 else text_style(side), at, base + 10 + size, words, anchor)
    marks.text_px("t", 0, base + 34 + size, f"travel used, {marks.x_unit}")
    step = step_of((marks.y_high - marks.y_low) / marks.newton_each / 3.2)
    low, high = marks.y_low / marks.newton_each, marks.y_high / marks.newton_each
    for value in np.arange(step * np.ceil(low / step), high + 1e-6, step).tolist():
        y, half = marks.y_px(value * marks.newton_each), marks.y_px((value - step / 2) * marks.newton_each)
        marks.rule_px("ax", -8, y, 0, y)
        marks.text_px("t", -12, y + 0.36 * size, digits(value, 0), "end")
        if half < base and value > 0:
            marks.rule_px("ax", -5, half, 0, half)
    marks.text_px("t", 4 - where.left, size - where.top + 2, f"force, {marks.y_unit}")


def sags(marks: Marks, sides: tuple[Side, ...]) -> None:
    """Sag on the slow lines, with a line down to the axis, and said in words above the lines."""
    shown = [(side, side.sag) for side in sides if side.sag is not None]
    if not shown:
        return
    size, base = marks.room.text_px, marks.y_px(0)
    tops = []
    for side, sag in shown:
        x = sag.travel_m * 1e3
        y = float(np.interp(x, side.curve.travel_m * 1e3, side.curve.force_n))
        before = side.name == "before"
        marks.rule_px("cb hair" if before else "ca hair", marks.x_px(x), marks.y_px(y), marks.x_px(x), base)
        marks.point("mb" if before else "ma", x, y, 6 if before else 5)
        tops.append((marks.x_px(x), marks.y_px(y)))
    lines: list[tuple[str, str]] = []
    loads = [sag.load_n for _, sag in shown if sag.load_n is not None]
    lines.append(("t", f"sag at {force_said(loads[-1], marks.system)}" if loads else "sag"))
    for side, sag in shown:
        words = f"{side.name} {marks.system.show(sag.travel_m, 'length', 'mm')}".strip()
        if not marks.room.tall and sag.share is not None:
            words += f", {show(sag.share, 'share', '%', decimals=1)}"
        lines.append((text_style(side), words))
    left = min(18.0, tops[-1][0])
    wide = max(width_of(words, size) for _, words in lines)
    above = min(tops[-1][1] - 24, _lowest_clear(marks, sides, left, left + wide) - 10)
    first = above - 1.2 * size * (len(lines) - 1)
    taken = 1.25 * size * 2 * len(sides) if marks.room.tall and not marks.room.above else 0.0  # the ends' labels
    first = max(first, taken + size)
    for i, (style, words) in enumerate(lines):
        marks.text_px(style, left, first + 1.2 * size * i, words)
    marks.rule_px(
        "ax",
        tops[-1][0],
        tops[-1][1] - 9,
        tops[-1][0],
        min(first + 1.2 * size * (len(lines) - 1) + 8, tops[-1][1] - 10),
    )


def _lowest_clear(marks: Marks, sides: tuple[Side, ...], left: float, right: float) -> float:
    """The height in pixels of the highest line between two places."""
    tops = []
    for side in sides:
        x = side.curve.travel_m * 1e3
        inside = (x >= marks.x(left)) & (x <= marks.x(right))
        for y in (side.curve.force_n, side.fast_n):
            if inside.any():
                tops.append(marks.y_px(float(np.nanmax(y[inside]))))
    return min(tops, default=marks.room.plot_height)


def ends(marks: Marks, sides: tuple[Side, ...]) -> None:
    """Marks and labels at the lines' ends: left of the shorter state's ends where nothing is in the way, else right."""
    size, right = marks.room.text_px, marks.room.plot_width
    column: list[_End] = []
    for side in sides:
        for speed, y in (("fast", side.fast_n), ("slow", side.curve.force_n)):
            newton = float(y[-1])
            marks.point("mb" if side.name == "before" else "ma", side.end_mm, newton, 4)
            name = f"{side.name}, {speed}" if side.name else speed
            said = force_said(newton, marks.system)
            end = _End(marks.x_px(side.end_mm), marks.y_px(newton), text_style(side), name, said)
            wide = width_of(end.words, size)
            beside = None if marks.room.tall or right - end.x <= 12 else _left_of(marks, sides, end, wide)
            if beside is None:
                column.append(end)
            else:
                marks.text_px(end.style, *beside, end.words, "end")
    column.sort(key=lambda end: end.y)
    (_inside if marks.room.tall else _beside)(marks, sides, column)


@dataclass(frozen=True, slots=True)
class _End:
    """Where a line ends in pixels, and what is said there."""

    x: float
    y: float
    style: str
    name: str
    force: str

    @property
    def words(self) -> str:
        return f"{self.name} {self.force}"


def _left_of(marks: Marks, sides: tuple[Side, ...], end: _End, wide: float) -> tuple[float, float] | None:
    """A place left of an end where the label touches no line, None where there is none near it."""
    for away in (18.0, 26.0, 36.0):
        for lift in (0.3, 0.0, -0.3):
            x, y = end.x - away, end.y + lift * marks.room.text_px
            if _clear(marks, sides, x - wide, x + 4, y - 0.3 * marks.room.text_px):
                return x, y
    return None


def _beside(marks: Marks, sides: tuple[Side, ...], column: list[_End]) -> None:
    """Labels of two lines in the right margin, pushed apart, with a hairline to an end that is not beside its label."""
    size, right = marks.room.text_px, marks.room.plot_width
    tops = [end.y for end in column]
    for i in range(1, len(tops)):
        tops[i] = max(tops[i], tops[i - 1] + 2.5 * size)
    over = max(0.0, tops[-1] + 1.2 * size - marks.room.plot_height) if tops else 0.0
    for top, end in zip(tops, column, strict=True):
        place = top - over
        if abs(place - end.y) > 0.5 * size or right - end.x > 6:
            marks.rule_px("dim", end.x + 6, end.y, right + 11, place)
        marks.text_px(end.style, right + 14, place + 0.2 * size, end.name)
        marks.text_px(end.style, right + 14, place + 1.4 * size, end.force)


def _inside(marks: Marks, sides: tuple[Side, ...], column: list[_End]) -> None:
    """On a phone: one line each in the empty upper left of the plot, with a hairline to the end."""
    size = marks.room.text_px
    lowest = marks.y(1.25 * size * len(column))
    steep = [
        marks.x_px(float(np.interp(lowest, y, side.curve.travel_m * 1e3)))
        for side in sides
        for y in (side.curve.force_n, side.fast_n)
        if float(y[-1]) > lowest
    ]
    widest = max(width_of(end.words, size) for end in column)
    edge = max(min(steep, default=marks.room.plot_width) - 14, min(widest + 4, marks.room.plot_width - 12))
    top = 0.0
    if marks.room.above:
        top, edge = -1.25 * size * len(column), marks.room.plot_width - 40
    for i, end in enumerate(column):
        y = top + 1.25 * size * i
        marks.rule_px("dim", edge + 4, y, end.x - 5, end.y)
        marks.text_px(end.style, edge, y + 0.35 * size, end.words, "end")


def _clear(marks: Marks, sides: tuple[Side, ...], left: float, right: float, y_px: float) -> bool:
    """Whether no line runs through a label between two places at a height, and it stays inside the plot."""
    top, bottom = y_px - 0.5 * marks.room.text_px, y_px + 0.5 * marks.room.text_px
    if left < 0 or any(
        left < other[1] + 8 and right > other[0] - 8 and top < other[3] and bottom > other[2] for other in marks.taken
    ):
        return False
    low, high = marks.y(y_px + 0.4 * marks.room.text_px), marks.y(y_px - 0.5 * marks.room.text_px)
    for side in sides:
        x = side.curve.travel_m * 1e3
        inside = (x >= marks.x(left)) & (x <= marks.x(right))
        for speed, y in (("slow", side.curve.force_n), ("fast", side.fast_n)):
            drawn = inside & ((x >= side.fast_from_m * 1e3) if speed == "fast" else True)
            if drawn.any() and float(np.max(y[drawn])) > low and float(np.min(y[drawn])) < high:
                return False
    return True
