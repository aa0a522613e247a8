"""The small map of the ways: how far each sits from now against what it costs. A second way to the table, never the only one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from topout import units
from topout.web.jobs.core.ways import Way

WIDTH, HEIGHT = 320, 250
LEFT, RIGHT, TOP, BOTTOM = 44, 288, 44, 186
LETTER, LINE, ROUND = 10, 18, 8  # of a label, and of a dot with its rim


@dataclass(frozen=True)
class Dot:
    """A way on the map, in pixels; `label` is its number, empty where another stands in its place."""

    number: int
    name: str
    x: float
    y: float
    label: str
    known: bool  # its cost is


@dataclass(frozen=True)
class Map:
    """The dots, and what stands at the axes."""

    dots: tuple[Dot, ...]
    least: str
    most: str
    furthest: str
    unknown: bool  # a dot stands right of the axis, its cost not known
    said: str


def drawn(ways: Sequence[Way]) -> Map | None:
    """The map of ways; None where there are fewer than two to compare."""
    if len(ways) < 2:
        return None
    costs = [way.cost for way in ways if way.cost is not None]
    low, high = (min(costs), max(costs)) if costs else (0.0, 0.0)
    furthest = max(way.stance for way in ways)
    dots: list[Dot] = []
    for way in ways:
        across = RIGHT if way.cost is None else LEFT + 24 + (RIGHT - LEFT - 72) * _share(way.cost - low, high - low)
        down = TOP + (BOTTOM - TOP) * _share(way.stance, furthest)
        dots.append(Dot(way.number, way.name, round(across, 1), round(down, 1), str(way.number), way.cost is not None))
    dots = list(_labelled(dots))
    said = "; ".join(f"{way.number}, {way.name}: {units.digits(way.stance, 1)} for {way.figures[5]}" for way in ways)
    return Map(
        tuple(dots),
        units.digits(low, 0),
        units.digits(high, 0) if high > low else "",
        units.digits(furthest, 1),
        len(costs) < len(ways),
        said,
    )


def _labelled(dots: Sequence[Dot]) -> Iterator[Dot]:
    """The dots, each with its number where no dot and no other number stands in that place."""
    taken = [(dot.x - ROUND, dot.y - ROUND, dot.x + ROUND, dot.y + ROUND) for dot in dots]
    for dot in dots:
        low, high = dot.x + 11, dot.x + 11 + LETTER * len(dot.label)
        box = (low, dot.y - 6 - LINE + 4, high, dot.y - 6)
        free = all(box[2] <= a or c <= box[0] or box[3] <= b or d <= box[1] for a, b, c, d in taken)
        if free:
            taken.append(box)
        yield dot if free else replace(dot, label="")


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0.0 else 0.0
