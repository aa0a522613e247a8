"""The paper of a chart and the marks on it: what charts.py and chart_labels.py put together, drawn with the pen of svg.py.

x is millimetres of travel, y is newtons, said in the reader's own units; places are pixels from the plot's upper left corner, x to the right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from topout.documents.svg import Drawing, Point
from topout.physics.gas import Floats
from topout.planner.results import Curve, EndSag
from topout.units import BENCH, System, to_si

Anchor = Literal["start", "middle", "end"]
START, MIDDLE, END = get_args(Anchor)


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
        if self.curve.force_fast_from_sag_n is None or self.sag is None:
            return 0.0
        return self.sag.travel_m

    @property
    def end_mm(self) -> float:
        """Travel in mm."""
        return float(self.curve.travel_m[-1]) * 1e3


def width_of(words: str, text_px: int) -> float:
    """A safe guess of a text's width: Inter's figures are 0.62 em, its letters less on average."""
    return 0.57 * text_px * len(words)


class Marks:
    """Draws marks of one chart on its drawing; remembers what its words cover."""

    def __init__(
        self, drawing: Drawing, where: Room, x_span: float, y_low: float, y_high: float, system: System = BENCH
    ) -> None:
        self.drawing, self.room, self.system = drawing, where, system
        self.x_unit, self.y_unit = system.unit("length", "mm"), system.unit("force", "N")
        self.mm_each = to_si(1.0, self.x_unit, "length") * 1e3  # of the reader's unit of length
        self.newton_each = to_si(1.0, self.y_unit, "force")  # of the reader's unit of force
        self.x_span, self.y_low, self.y_high = x_span, y_low, y_high
        self.taken: list[tuple[float, float, float, float]] = []  # left, right, top, bottom of the words so far

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
        """A line through data; x and y have one shape, (n,)."""
        across = self.room.left + x / self.x_span * self.room.plot_width
        down = self.room.top + (self.y_high - y) / (self.y_high - self.y_low) * self.room.plot_height
        self.drawing.polyline(style, zip(across.tolist(), down.tolist(), strict=True), name)

    def rule_px(self, style: str, left: float, top: float, right: float, bottom: float) -> None:
        """A straight line between two places in pixels."""
        self.drawing.line(style, self._at(left, top), self._at(right, bottom))

    def point(self, style: str, x: float, y: float, radius: float) -> None:
        """A dot at a place in data, its radius in pixels."""
        self.drawing.circle(style, self._at(self.x_px(x), self.y_px(y)), radius)

    def text_px(self, style: str, x: float, y: float, words: str, anchor: Anchor = "start") -> None:
        """Text on its baseline, at a place in pixels."""
        wide = width_of(words, self.room.text_px)
        left = x - {START: 0.0, MIDDLE: wide / 2, END: wide}[anchor]
        self.taken.append((left, left + wide, y - 0.8 * self.room.text_px, y + 0.2 * self.room.text_px))
        self.drawing.text(self._at(x, y), words, style, anchor)

    def _at(self, x: float, y: float) -> Point:
        return self.room.left + x, self.room.top + y
