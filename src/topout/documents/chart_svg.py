"""A chart's specification as SVG with classes, for the page.

Draws the marks that charts.py uses (line, rule, point, text on linear scales with given domains and fixed padding)
and nothing else: anything unknown is an error, not a guess. The library that draws any specification takes 55 ms and
more a picture on two shared cores, this 1 ms; tests/documents/test_charts.py holds the places of both together.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from topout.documents.svg import Drawing, Point

_ANCHORS = {"left": "start", "center": "middle", "right": "end"}


def draw(spec: dict[str, Any], name: str, classes: str = "") -> Drawing:
    """The drawing of a specification of charts.py; `name` begins the ids inside it.

    Raises ValueError for a mark that charts.py does not use.
    """
    padding, width, height = spec["padding"], spec["width"], spec["height"]
    (x0, x1), (y0, y1) = (spec["encoding"][axis]["scale"]["domain"] for axis in "xy")

    def place(x: float, y: float) -> Point:
        return padding["left"] + (x - x0) / (x1 - x0) * width, padding["top"] + (y1 - y) / (y1 - y0) * height

    words = spec["usermeta"]
    drawing = Drawing(
        name,
        width + padding["left"] + padding["right"],
        height + padding["top"] + padding["bottom"],
        words["title"],
        words["says"],
        words["text_px"],
        classes,
    )
    for layer in spec["layer"]:
        _layer(drawing, layer, place)
    return drawing


def _layer(drawing: Drawing, layer: dict[str, Any], place: Callable[[float, float], Point]) -> None:
    mark, rows = layer["mark"], layer["data"]["values"]
    cls = " ".join(mark["style"])
    if mark["type"] == "line":
        drawing.polyline(cls, [place(row["x"], row["y"]) for row in rows], layer.get("name", ""))
        return
    for row in rows:
        at = place(row["x"], row["y"])
        if mark["type"] == "rule":
            drawing.line(cls, at, place(row["x2"], row["y2"]))
        elif mark["type"] == "point":
            drawing.circle(cls, at, math.sqrt(mark["size"] / math.pi))
        elif mark["type"] == "text":
            drawing.text(at, row["text"], cls, _ANCHORS[mark["align"]])
        else:
            raise ValueError(f"chart_svg draws line, rule, point and text, not {mark['type']!r}")
