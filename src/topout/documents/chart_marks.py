"""The paper of a chart, and the marks on it in data units: what charts.py and chart_labels.py put together.

A mark's look is written out in its Vega-Lite definition in the light inks; the classes it came from stay in `style`,
so that the page's stylesheet can give the same mark its inks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

import numpy as np

from topout.documents.svg import INKS, RULES
from topout.physics.gas import Floats
from topout.planner.results import Curve, EndSag

Spec = dict[str, Any]
Anchor = Literal["start", "middle", "end"]
START, MIDDLE, END = get_args(Anchor)
SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v5.json"  # a name, never fetched


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


def width_of(words: str, text_px: int) -> float:
    """A safe guess of a text's width: Inter's figures are 0.62 em, its letters less on average."""
    return 0.57 * text_px * len(words)


class Marks:
    """Collects marks in data units; layers of one look are put together."""

    def __init__(self, where: Room, x_span: float, y_low: float, y_high: float) -> None:
        self.room, self.x_span, self.y_low, self.y_high = where, x_span, y_low, y_high
        self.layers: list[Spec] = []
        self.taken: list[
            tuple[float, float, float, float]
        ] = []  # left, right, top, bottom of the words so far, in pixels
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

    def rule_px(self, style: str, left: float, top: float, right: float, bottom: float) -> None:
        """A straight line between two places in pixels."""
        row = {"x": self.x(left), "y": self.y(top), "x2": self.x(right), "y2": self.y(bottom)}
        self._rows("rule", style).append({k: round(v, 4) for k, v in row.items()})

    def point(self, style: str, x: float, y: float, radius: float) -> None:
        row = {"x": round(x, 4), "y": round(y, 4)}
        self._rows("point", style, f"{np.pi * radius**2:.4f}").append(row)

    def text_px(self, style: str, x: float, y: float, words: str, anchor: Anchor = "start") -> None:
        """Text on its baseline, at a place in pixels."""
        row = {"x": round(self.x(x), 4), "y": round(self.y(y), 4), "text": words}
        wide = width_of(words, self.room.text_px)
        left = x - {START: 0.0, MIDDLE: wide / 2, END: wide}[anchor]
        self.taken.append((left, left + wide, y - 0.8 * self.room.text_px, y + 0.2 * self.room.text_px))
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
