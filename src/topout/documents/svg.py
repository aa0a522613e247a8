"""A small pen for SVG: shapes with classes only, so that page, dark theme and paper share one drawing.

Coordinates are pixels, x to the right, y down, written to a tenth. On a page the stylesheet (pictures.css) gives the
classes their ink; `for_paper` puts the same rules into the file, for paper and for viewers that know no stylesheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from itertools import pairwise
from typing import Final

Point = tuple[float, float]

# The light inks of style.css; a test compares them, and the rules below with pictures.css.
INKS: Final = {
    "paper": "#ffffff", "ink": "#211c16", "soft": "#51483c", "line": "#8b8070", "carbon": "#2a3da8", "wash": "#e3e5f2",
}  # fmt: skip

# class -> property -> value; an ink's name stands for its colour. Order matters: a later class goes over an earlier one.
RULES: Final[dict[str, dict[str, str | float | tuple[float, ...]]]] = {
    "ax": {"stroke": "ink", "stroke-width": 1, "fill": "none"},
    "dim": {"stroke": "soft", "stroke-width": 1, "fill": "none"},
    "cb": {"stroke": "soft", "fill": "none", "stroke-dasharray": (9, 5)},
    "ca": {"stroke": "carbon", "fill": "none"},
    "spread": {"fill": "wash"},
    "slow": {"stroke-width": 3},
    "fast": {"stroke-width": 1.5},
    "hair": {"stroke-width": 1},
    "mb": {"fill": "paper", "stroke": "soft", "stroke-width": 2},
    "ma": {"fill": "carbon", "stroke": "paper", "stroke-width": 1.5},
    "ground": {"stroke": "ink", "stroke-width": 2},
    "rule": {"stroke": "ink", "stroke-width": 2},
    "now": {"stroke": "carbon", "stroke-width": 3},
    "keepmark": {"fill": "carbon"},
    "sb": {"stroke": "soft", "stroke-width": 1.25, "fill": "none", "stroke-dasharray": (6, 4)},
    "sa": {"stroke": "carbon", "stroke-width": 1.75, "fill": "none"},
    "thin": {"stroke-width": 1},
    "wheel": {"stroke-width": 2.25},
    "tube": {"fill": "paper"},
    "pedal": {"stroke-width": 4},
    "ring": {"fill": "none", "stroke-width": 1},
    "axis": {"stroke-width": 1},
    "win": {"fill": "none", "stroke": "ink", "stroke-width": 1},
    "t": {"fill": "ink"},
    "tb": {"fill": "soft"},
    "ta": {"fill": "carbon", "font-weight": 600},
    "let": {"font-weight": 700},
    "sm2": {"fill": "soft"},
}


LONG = 20  # points


def number(value: float) -> str:
    """A coordinate to a tenth of a pixel, without needless digits."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


@lru_cache(4096)
def _tenths(value: int) -> str:
    """A whole number of tenths: 25 -> "2.5", -9 -> "-.9"."""
    return number(value / 10).replace("0.", ".", 1) if abs(value) < 10 and value else number(value / 10)


@dataclass(slots=True)
class Drawing:
    """An SVG being drawn; `title` and `says` are its name and its text for those who can't see it."""

    name: str
    width: float
    height: float
    title: str
    says: str = ""
    text_px: float = 20
    classes: str = ""
    body: list[str] = field(default_factory=list)

    def line(self, cls: str, a: Point, b: Point, part: str = "") -> None:
        """A straight line; `part` names it for tests and for people who read the file."""
        (x1, y1), (x2, y2) = a, b
        self.body.append(
            f'<line class="{cls}"{_part(part)} x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"/>'
        )

    def circle(self, cls: str, centre: Point, radius: float, part: str = "") -> None:
        """A circle."""
        x, y = centre
        self.body.append(f'<circle class="{cls}"{_part(part)} cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>')

    def polygon(self, cls: str, points: Iterable[Point], part: str = "") -> None:
        """A closed shape with straight edges."""
        self.path(cls, "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points) + "Z", part)

    def polyline(self, cls: str, points: Iterable[Point], part: str = "") -> None:
        """An open line through points. A long one says how far it goes from point to point: half as many digits to send."""
        told = [(round(10 * x), round(10 * y)) for x, y in points]
        if len(told) <= LONG:
            return self.path(cls, "M" + "L".join([f"{x / 10} {y / 10}" for x, y in told]), part)
        (x, y), *_ = told
        steps = [f"{_tenths(b[0] - a[0])} {_tenths(b[1] - a[1])}" for a, b in pairwise(told)]
        self.path(cls, f"M{x / 10} {y / 10}l" + " ".join(steps).replace(" -", "-"), part)

    def path(self, cls: str, d: str, part: str = "") -> None:
        """A path as it stands."""
        self.body.append(f'<path class="{cls}"{_part(part)} d="{d}"/>')

    def rect(self, cls: str, corner: Point, width: float, height: float, part: str = "") -> None:
        """An upright rectangle; `corner` is the upper left."""
        x, y = corner
        self.body.append(
            f'<rect class="{cls}"{_part(part)} x="{number(x)}" y="{number(y)}" '
            f'width="{number(width)}" height="{number(height)}"/>'
        )

    def text(self, at: Point, words: str | Sequence[tuple[str, str]], cls: str = "t", anchor: str = "start") -> None:
        """A line of text on its baseline; words in several inks are (class, words) pairs."""
        if isinstance(words, str):
            inside = escape(words)
        else:
            inside = "".join(
                f'<tspan class="{inner}">{escape(piece)}</tspan>' if inner else escape(piece) for inner, piece in words
            )
        where = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self.body.append(f'<text class="{cls}" x="{number(at[0])}" y="{number(at[1])}"{where}>{inside}</text>')

    def open_window(self, width: float, height: float) -> None:
        """What follows, up to `close_window`, is cut at a window's edges."""
        self.body.append(
            f'<clipPath id="{self.name}-c"><rect x="1" y="1" width="{number(width - 2)}" height="{number(height - 2)}"/>'
            f'</clipPath><g clip-path="url(#{self.name}-c)">'
        )

    def close_window(self) -> None:
        """Ends what `open_window` began."""
        self.body.append("</g>")

    def svg(self) -> str:
        """The finished picture, to be put into a page."""
        said = f"{self.name}-t" + (f" {self.name}-d" if self.says else "")
        desc = f'<desc id="{self.name}-d">{escape(self.says)}</desc>' if self.says else ""
        cls = f"fig {self.classes}".strip()
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{cls}" viewBox="0 0 {number(self.width)} {number(self.height)}" '
            f'width="{number(self.width)}" height="{number(self.height)}" role="img" aria-labelledby="{said}">'
            f'<title id="{self.name}-t">{escape(self.title)}</title>{desc}' + "\n".join(self.body) + "</svg>"
        )

    def for_paper(self) -> str:
        """The same picture with its inks inside."""
        svg = self.svg()
        cut = svg.index(">") + 1
        return svg[:cut] + f"<style>{paper_rules(self.text_px)}</style>" + svg[cut:]


def _part(part: str) -> str:
    return f' data-part="{part}"' if part else ""


def paper_rules(text_px: float) -> str:
    """The rules of the classes as a stylesheet, in the light inks."""
    rules = [f"text{{font:400 {number(text_px)}px Inter,sans-serif;fill:{INKS['ink']}}}"]
    for name, rule in RULES.items():
        rules.append(f".{name}{{" + ";".join(f"{key}:{_value(value)}" for key, value in rule.items()) + "}")
    rules.append(".sa.axis{stroke-dasharray:14 3 2 3}.cb.fast{stroke-dasharray:6 4}.cb.hair{stroke-dasharray:3 3}")
    return "".join(rules)


def _value(value: str | float | tuple[float, ...]) -> str:
    if isinstance(value, tuple):
        return " ".join(number(v) for v in value)
    return INKS.get(value, value) if isinstance(value, str) else number(value)
