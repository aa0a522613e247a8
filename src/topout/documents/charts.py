"""The force along the travel, and its difference, as Vega-Lite specifications (plain dicts).

One specification for screen and paper: `paper.py` gives it to vl-convert (SVG, PNG, PDF), `chart_svg.py` draws the
same marks as SVG with classes for the page, thirty times faster; a test holds the two together. What a mark looks
like is a Vega-Lite `style` of the same name as the class in pictures.css.

Range-frame axes with ticks outward, no grid, legend or border; lines are labelled at their ends. Before: dashed,
hollow, soft ink; after: solid, filled, carbon; slow thick, fast thin. x is millimetres, y is newtons; places given
in pixels are turned into these by the picture's own scale, so that a specification holds one pair of scales.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

import numpy as np

from topout.documents.svg import INKS, RULES
from topout.planner.results import Curve, EndSag, Floats
from topout.units import NO_BREAK, digits

Spec = dict[str, Any]
Anchor = Literal["start", "middle", "end"]
_START, _MIDDLE, _END = get_args(Anchor)

SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v5.json"  # a name, never fetched
ROUNDED_N: Final = 10  # forces are said to 10 N: a spring is not known better
FORCES_SAID_TO: Final = -1


@dataclass(frozen=True, slots=True)
class Room:
    """The paper of a picture in pixels: whole width, margins and height of the plot, size of its text."""

    width: int
    plot_height: int
    left: int
    right: int
    top: int
    bottom: int
    text_px: int
    tall: bool = False  # too narrow for long labels beside the lines
    above: bool = False  # too narrow for them inside the plot either

    @property
    def plot_width(self) -> int:
        """Width between the margins."""
        return self.width - self.left - self.right


def room(width: int) -> Room:
    """The margins for a width: 20 px text from 560 px on, 18 px (a phone, held nearer) below."""
    if width >= 560:
        return Room(width, 304, 72, 130, 30, 62, 20)
    if width < 330:  # a narrow phone, or large type: no place for the ends' labels inside the plot
        return Room(width, 240, 66, 24, 36 + 92, 58, 18, tall=True, above=True)
    return Room(width, 286, 66, 22, 36, 58, 18, tall=True)


@dataclass(frozen=True, slots=True)
class Side:
    """One state in a picture: its name ("before", "after", or "" where there is one), its curve, its sag."""

    name: str
    curve: Curve
    sag: EndSag | None = None

    @property
    def fast_n(self) -> Floats:
        """What a hit feels: from the gas settled at sag where there is a rider, else from full extension."""
        from_sag = self.curve.force_fast_from_sag_n
        return self.curve.force_fast_n if from_sag is None else from_sag

    @property
    def fast_from_m(self) -> float:
        """Where the fast line begins."""
        if self.curve.force_fast_from_sag_n is None or self.sag is None or self.sag.travel_m is None:
            return 0.0
        return self.sag.travel_m

    @property
    def end_mm(self) -> float:
        """Travel in mm."""
        return float(self.curve.travel_m[-1]) * 1e3


class _Marks:
    """Collects marks in data units; layers of one look are put together."""

    def __init__(self, where: Room, x_span: float, y_low: float, y_high: float) -> None:
        self.room, self.x_span, self.y_low, self.y_high = where, x_span, y_low, y_high
        self.layers: list[Spec] = []
        self._open: dict[tuple[str, ...], list[dict[str, Any]]] = {}

    def x(self, px: float) -> float:
        """Pixels from the left end of the x axis, as data."""
        return px / self.room.plot_width * self.x_span

    def y(self, px: float) -> float:
        """Pixels down from the top of the plot, as data."""
        return self.y_high - px / self.room.plot_height * (self.y_high - self.y_low)

    def x_px(self, x: float) -> float:
        return x / self.x_span * self.room.plot_width

    def y_px(self, y: float) -> float:
        return (self.y_high - y) / (self.y_high - self.y_low) * self.room.plot_height

    def line(self, style: str, x: Floats, y: Floats, name: str) -> None:
        across, up = np.round(x, 3).tolist(), np.round(y, 2).tolist()
        rows = [{"x": a, "y": b} for a, b in zip(across, up, strict=True)]
        mark = {"type": "line"} | _look(style, self.room.text_px)
        self.layers.append({"name": name, "data": {"values": rows}, "mark": mark, "encoding": _XY})

    def rule_px(self, style: str, x1: float, y1: float, x2: float, y2: float) -> None:
        """A straight line between two places in pixels."""
        row = {"x": self.x(x1), "y": self.y(y1), "x2": self.x(x2), "y2": self.y(y2)}
        self._rows("rule", style).append({k: round(v, 4) for k, v in row.items()})

    def point(self, style: str, x: float, y: float, radius: float) -> None:
        row = {"x": round(x, 4), "y": round(y, 4)}
        self._rows("point", style, f"{np.pi * radius**2:.4f}").append(row)

    def text_px(self, style: str, x: float, y: float, words: str, anchor: Anchor = "start") -> None:
        """Text on its baseline, at a place in pixels."""
        row = {"x": round(self.x(x), 4), "y": round(self.y(y), 4), "text": words}
        self._rows("text", style, {"start": "left", "middle": "center", "end": "right"}[anchor]).append(row)

    def _rows(self, mark: str, style: str, extra: str = "") -> list[dict[str, Any]]:
        key = (mark, style, extra)
        if key not in self._open:
            definition: Spec = {"type": mark} | _look(style, self.room.text_px)
            encoding = dict(_XY)
            if mark == "rule":
                encoding |= {"x2": {"field": "x2"}, "y2": {"field": "y2"}}
            elif mark == "point":
                definition |= {"size": float(extra), "filled": True, "opacity": 1}
            else:
                definition |= {"align": extra, "baseline": "alphabetic"}
                encoding |= {"text": {"field": "text", "type": "nominal"}}
            rows: list[dict[str, Any]] = []
            self._open[key] = rows
            self.layers.append({"data": {"values": rows}, "mark": definition, "encoding": encoding})
        return self._open[key]

    def spec(self, title: str, says: str) -> Spec:
        where = self.room
        return {
            "$schema": SCHEMA,
            "description": f"{title}. {says}" if says else title,
            "usermeta": {"title": title, "says": says, "text_px": where.text_px},
            "width": where.plot_width,
            "height": where.plot_height,
            "autosize": "none",
            "padding": {"left": where.left, "right": where.right, "top": where.top, "bottom": where.bottom},
            "background": None,
            "view": {"stroke": None},
            "config": {"font": "Inter"},
            "encoding": {
                "x": {"scale": {"domain": [0, self.x_span], "nice": False, "zero": False}, "axis": None},
                "y": {"scale": {"domain": [self.y_low, self.y_high], "nice": False, "zero": False}, "axis": None},
            },
            "layer": self.layers,
        }


_XY: Final[Spec] = {"x": {"field": "x", "type": "quantitative"}, "y": {"field": "y", "type": "quantitative"}}


_WORDS: Final = {"stroke-width": "strokeWidth", "stroke-dasharray": "strokeDash", "font-weight": "fontWeight"}
_FINER: Final = {("cb", "fast"): [6, 4], ("cb", "hair"): [3, 3]}  # dashes of thin lines, as .cb.fast and .cb.hair


def _look(style: str, text_px: int) -> Spec:
    """The properties of a mark from its classes, in the light inks; the names stay in `style` for the page."""
    names = style.split()
    look: Spec = {"style": names, "stroke": None, "fill": None}
    for name in names:
        for key, value in RULES[name].items():
            if isinstance(value, tuple):
                look[_WORDS[key]] = list(value)
            else:
                look[_WORDS.get(key, key)] = None if value == "none" else INKS.get(str(value), value)
    for pair, dash in _FINER.items():
        if set(pair) <= set(names):
            look["strokeDash"] = dash
    if "t" in names:
        look |= {"font": "Inter", "fontSize": text_px}
    return look


def force(sides: tuple[Side, ...], where: Room) -> Spec:
    """Slow and fast force of one or two states along the travel, sag marked, ends labelled in newtons."""
    span = max(side.end_mm for side in sides)
    high = max(float(np.nanmax(f)) for side in sides for f in (side.curve.force_n, side.fast_n))
    low = min(0.0, *(float(np.nanmin(side.curve.force_n)) for side in sides))
    marks = _Marks(where, span, low, max(high, 1.0))
    _axes(marks, sides)
    for side in sides:
        ink = _ink(side)
        x = side.curve.travel_m * 1e3
        from_sag = x >= side.fast_from_m * 1e3 - 1e-9
        marks.line(f"{ink} slow", x, side.curve.force_n, f"{side.name or 'one'}-slow")
        start = np.interp(side.fast_from_m * 1e3, x, side.fast_n)
        fast_x = np.concatenate(([side.fast_from_m * 1e3], x[from_sag]))
        fast_y = np.concatenate(([start], side.fast_n[from_sag]))
        marks.line(f"{ink} fast", fast_x, fast_y, f"{side.name or 'one'}-fast")
    _sags(marks, sides)
    _ends(marks, sides)
    return marks.spec("Spring force along the travel" + (", before and after" if len(sides) > 1 else ""), _says(sides))


def difference(before: Side, after: Side, until_mm: float, where: Room) -> Spec:
    """Slow force after less before, from full extension to `until_mm`, on the same x scale as `force`."""
    span = max(before.end_mm, after.end_mm)
    x = np.linspace(0.0, until_mm, 101)
    y = np.interp(x, after.curve.travel_m * 1e3, after.curve.force_n) - np.interp(
        x, before.curve.travel_m * 1e3, before.curve.force_n
    )
    low, high = min(0.0, float(y.min())), max(0.0, float(y.max()))
    if high - low < 20:  # a plan that changes nothing still has a scale: 20 N is a hair's breadth on the force
        low, high = low - (20 - (high - low)) / 2, high + (20 - (high - low)) / 2
    step = _step((high - low) / 2)
    low, high = step * np.floor(low / step), step * np.ceil(high / step)
    flat = Room(where.width, 78, where.left, where.right, 14, 14, where.text_px, where.tall)
    marks = _Marks(flat, span, float(low), float(high))
    zero = marks.y_px(0)
    marks.rule_px("ax", 0, zero, marks.room.plot_width, zero)
    for value in np.arange(low, high + step / 2, step):
        marks.rule_px("ax", -8, marks.y_px(value), 0, marks.y_px(value))
        marks.text_px("t", -12, marks.y_px(value) + 0.36 * flat.text_px, digits(float(value), 0), "end")
    marks.line("ca slow", x, y, "difference")
    at = int(np.argmax(np.abs(y)))
    same = abs(float(y[at])) < 0.5
    at = len(x) - 1 if same else at
    marks.point("ma", float(x[at]), float(y[at]), 4)
    said = (
        "none"
        if same
        else f"{digits(float(np.round(y[at], FORCES_SAID_TO)), 0, signed=True)}{NO_BREAK}N at {digits(float(x[at]), 0)}{NO_BREAK}mm"
    )
    end = marks.x_px(float(x[at]))
    label_y = min(max(marks.y_px(float(y[at])) + 6, flat.text_px), flat.plot_height)
    if same:
        marks.text_px("t ta", end + 14, marks.y_px(0) - 8, said)
    elif not flat.tall and end + 14 + _wide(said, flat.text_px) <= flat.plot_width + flat.right:
        marks.text_px("t ta", end + 14, label_y, said)
    else:
        marks.text_px("t ta", end - 12, label_y, said.split(" at ")[0], "end")
    beyond = abs(low) >= high  # the words stand on the side where the line goes, near the axis where it is still small
    words = "after − before" if flat.tall else "after − before, slow, N"
    if 14 + _wide(words, flat.text_px) < end - (80 if flat.tall else 0):
        marks.text_px("t", 14, flat.plot_height - 2 if beyond else flat.text_px, words)
    title = f"Difference in slow force, after less before: {said}"
    return marks.spec(title, f"From {digits(0, 0)} to {digits(until_mm, 0)}{NO_BREAK}mm.")


def _ink(side: Side) -> str:
    return "cb" if side.name == "before" else "ca"


def _text(side: Side) -> str:
    return "t tb" if side.name == "before" else "t ta"


def _wide(words: str, text_px: int) -> float:
    """A safe guess of a text's width: Inter's figures are 0.62 em, its letters less on average."""
    return 0.57 * text_px * len(words)


def _step(about: float) -> float:
    """The next of 1, 2, 5 × 10ⁿ at or above `about`."""
    power = 10.0 ** np.floor(np.log10(max(about, 1e-9)))
    return float(next(m * power for m in (1, 2, 5, 10) if m * power >= about * (1 - 1e-9)))


def _axes(marks: _Marks, sides: tuple[Side, ...]) -> None:
    where, size = marks.room, marks.room.text_px
    base, right = marks.y_px(0), where.plot_width
    foot = where.plot_height
    marks.rule_px("ax", 0, base, right, base)
    marks.rule_px("ax", 0, foot, 0, 0)
    major = 50 if marks.x_span >= 80 else 20
    ends = sorted({round(side.end_mm, 3): side for side in sides}.items())
    places = [marks.x_px(end) for end, _ in ends]
    crowded = len(places) == 2 and places[1] - places[0] < 2.2 * size
    label_room = 2.6 * size
    last = (places[0] + places[1]) / 2 - 3.4 * size if crowded else float("inf")
    for mm in np.arange(0, marks.x_span + 1e-6, major / 5):
        is_major = abs(mm / major - round(mm / major)) < 1e-9
        marks.rule_px("ax", marks.x_px(mm), base, marks.x_px(mm), base + (10 if is_major else 5))
        if is_major and marks.x_px(mm) < last and all(abs(marks.x_px(mm) - place) > label_room for place in places):
            marks.text_px("t", marks.x_px(mm), base + 10 + size, digits(float(mm), 0), "middle")
    for i, ((end, side), place) in enumerate(zip(ends, places, strict=True)):
        words = digits(end, 0 if abs(end - round(end)) < 0.05 else 1)
        marks.rule_px("ax", place, base, place, base + 10)
        at, anchor = place, _MIDDLE
        if crowded:  # side by side, parted in the middle between the two ends
            at, anchor = (places[0] + places[1]) / 2 + (0.15 * size if i else -0.15 * size), _START if i else _END
        marks.text_px("t" if len(ends) == 1 else _text(side), at, base + 10 + size, words, anchor)
    marks.text_px("t", 0, base + 34 + size, "travel used, mm")
    step = _step((marks.y_high - marks.y_low) / 3.2)
    for value in np.arange(step * np.ceil(marks.y_low / step), marks.y_high + 1e-6, step):
        marks.rule_px("ax", -8, marks.y_px(value), 0, marks.y_px(value))
        marks.text_px("t", -12, marks.y_px(value) + 0.36 * size, digits(float(value), 0), "end")
        if marks.y_px(value - step / 2) < base and value > 0:
            marks.rule_px("ax", -5, marks.y_px(value - step / 2), 0, marks.y_px(value - step / 2))
    marks.text_px("t", 4 - where.left, size - where.top + 2, "force, N")


def _sags(marks: _Marks, sides: tuple[Side, ...]) -> None:
    """Sag on the slow lines, with a line down to the axis, and said in words above the lines."""
    shown = [(side, side.sag) for side in sides if side.sag is not None and side.sag.travel_m is not None]
    if not shown:
        return
    size, base = marks.room.text_px, marks.y_px(0)
    tops = []
    for side, sag in shown:
        assert sag.travel_m is not None
        x = sag.travel_m * 1e3
        y = float(np.interp(x, side.curve.travel_m * 1e3, side.curve.force_n))
        before = side.name == "before"
        marks.rule_px("cb hair" if before else "ca hair", marks.x_px(x), marks.y_px(y), marks.x_px(x), base)
        marks.point("mb" if before else "ma", x, y, 6 if before else 5)
        tops.append((marks.x_px(x), marks.y_px(y)))
    lines: list[tuple[str, str]] = []
    loads = [sag.load_n for _, sag in shown if sag.load_n is not None]
    lines.append(("t", f"sag at {digits(loads[-1], 0)}{NO_BREAK}N" if loads else "sag"))
    for side, sag in shown:
        assert sag.travel_m is not None
        words = f"{side.name} {digits(sag.travel_m * 1e3, 1)}{NO_BREAK}mm".strip()
        if not marks.room.tall and sag.share is not None:
            words += f", {digits(sag.share * 100, 1)}{NO_BREAK}%"
        lines.append((_text(side), words))
    left = min(18.0, tops[-1][0])
    wide = max(_wide(words, size) for _, words in lines)
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


def _lowest_clear(marks: _Marks, sides: tuple[Side, ...], left: float, right: float) -> float:
    """The height in pixels of the highest line between two places."""
    tops = []
    for side in sides:
        x = side.curve.travel_m * 1e3
        inside = (x >= marks.x(left)) & (x <= marks.x(right))
        for y in (side.curve.force_n, side.fast_n):
            if inside.any():
                tops.append(marks.y_px(float(np.nanmax(y[inside]))))
    return min(tops, default=marks.room.plot_height)


def _ends(marks: _Marks, sides: tuple[Side, ...]) -> None:
    """Marks and labels at the lines' ends: left of the shorter state's ends where nothing is in the way, else right."""
    size, right = marks.room.text_px, marks.room.plot_width
    column: list[_End] = []
    for side in sides:
        for speed, y in (("fast", side.fast_n), ("slow", side.curve.force_n)):
            newton = float(y[-1])
            marks.point("mb" if side.name == "before" else "ma", side.end_mm, newton, 4)
            name = f"{side.name}, {speed}" if side.name else speed
            said = f"{digits(round(newton, FORCES_SAID_TO), 0)}{NO_BREAK}N"
            end = _End(marks.x_px(side.end_mm), marks.y_px(newton), _text(side), name, said)
            wide = _wide(end.words, size)
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


def _left_of(marks: _Marks, sides: tuple[Side, ...], end: _End, wide: float) -> tuple[float, float] | None:
    """A place left of an end where the label touches no line, None where there is none near it."""
    for away in (18.0, 26.0, 36.0):
        for lift in (0.3, 0.0, -0.3):
            x, y = end.x - away, end.y + lift * marks.room.text_px
            if _clear(marks, sides, x - wide, x + 4, y - 0.3 * marks.room.text_px):
                return x, y
    return None


def _beside(marks: _Marks, sides: tuple[Side, ...], column: list[_End]) -> None:
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


def _inside(marks: _Marks, sides: tuple[Side, ...], column: list[_End]) -> None:
    """On a phone: one line each in the empty upper left of the plot, with a hairline to the end."""
    size = marks.room.text_px
    lowest = marks.y(1.25 * size * len(column))
    steep = [
        marks.x_px(float(np.interp(lowest, y, side.curve.travel_m * 1e3)))
        for side in sides
        for y in (side.curve.force_n, side.fast_n)
        if float(y[-1]) > lowest
    ]
    widest = max(_wide(end.words, size) for end in column)
    edge = max(min(steep, default=marks.room.plot_width) - 14, min(widest + 4, marks.room.plot_width - 12))
    top = 0.0
    if marks.room.above:
        top, edge = -1.25 * size * len(column), marks.room.plot_width - 40
    for i, end in enumerate(column):
        y = top + 1.25 * size * i
        marks.rule_px("dim", edge + 4, y, end.x - 5, end.y)
        marks.text_px(end.style, edge, y + 0.35 * size, end.words, "end")


def _clear(marks: _Marks, sides: tuple[Side, ...], left: float, right: float, y_px: float) -> bool:
    """Whether no line runs through a label between two places at a height, and it stays inside the plot."""
    if left < 0:
        return False
    low, high = marks.y(y_px + 0.4 * marks.room.text_px), marks.y(y_px - 0.5 * marks.room.text_px)
    for side in sides:
        x = side.curve.travel_m * 1e3
        inside = (x >= marks.x(left)) & (x <= marks.x(right))
        for speed, y in (("slow", side.curve.force_n), ("fast", side.fast_n)):
            drawn = inside & ((x >= side.fast_from_m * 1e3) if speed == "fast" else True)
            if drawn.any() and float(y[drawn].max()) > low and float(y[drawn].min()) < high:
                return False
    return True


def _says(sides: tuple[Side, ...]) -> str:
    """The picture in words, with its numbers."""
    parts = []
    for side in sides:
        name = (side.name or "this fork").capitalize()
        slow, fast = (digits(round(float(y[-1]), FORCES_SAID_TO), 0) for y in (side.curve.force_n, side.fast_n))
        parts.append(f"{name}: {slow} newton slow and {fast} fast at {digits(side.end_mm, 0)} mm.")
        if side.sag is not None and side.sag.travel_m is not None:
            parts.append(f"Sag {digits(side.sag.travel_m * 1e3, 1)} mm.")
    return " ".join(parts)
