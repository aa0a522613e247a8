"""The force along the travel, and its difference, as drawings with classes: one for page, file and paper (decision 5).

Range-frame axes with ticks outward, no grid, legend or border; lines are labelled at their ends. Before: dashed,
hollow, soft ink; after: solid, filled, carbon; slow thick, fast thin. Axes and words are in the reader's units.
"""

from __future__ import annotations

import numpy as np

from topout.documents.chart_labels import axes, ends, force_said, ink, sags, step_of
from topout.documents.chart_marks import Marks, Room, Side, room, width_of
from topout.documents.svg import Drawing
from topout.planner.facts import FORCES_SAID_TO
from topout.units import BENCH, NO_BREAK, System, digits, to_si

__all__ = ["Room", "Side", "difference", "force", "room"]


def force(sides: tuple[Side, ...], where: Room, name: str, classes: str = "", system: System = BENCH) -> Drawing:
    """Slow and fast force of one or two states along the travel, sag marked, ends labelled with their forces.

    `name` begins the ids inside the drawing, `classes` are those of the whole of it, `system` is what it is read in.
    """
    span = max(side.end_mm for side in sides)
    high = max(float(np.nanmax(f)) for side in sides for f in (side.curve.force_n, side.fast_n))
    low = min(0.0, *(float(np.nanmin(side.curve.force_n)) for side in sides))
    title = "Spring force along the travel" + (", before and after" if len(sides) > 1 else "")
    drawing = _sheet(name, where, title, _says(sides, system), classes)
    marks = Marks(drawing, where, span, low, max(high, 1.0), system)
    axes(marks, sides)
    for side in sides:
        mark = ink(side)
        x = side.curve.travel_m * 1e3
        from_sag = x >= side.fast_from_m * 1e3 - 1e-9
        marks.line(f"{mark} slow", x, side.curve.force_n, f"{side.name or 'one'}-slow")
        start = np.interp(side.fast_from_m * 1e3, x, side.fast_n)
        fast_x = np.concatenate(([side.fast_from_m * 1e3], x[from_sag]))
        fast_y = np.concatenate(([start], side.fast_n[from_sag]))
        marks.line(f"{mark} fast", fast_x, fast_y, f"{side.name or 'one'}-fast")
    sags(marks, sides)
    ends(marks, sides)
    return drawing


def difference(
    before: Side, after: Side, until_mm: float, where: Room, name: str, classes: str = "", system: System = BENCH
) -> Drawing:
    """Slow force after less before, from full extension to `until_mm`, on the same x scale as `force`."""
    span = max(before.end_mm, after.end_mm)
    x = np.linspace(0.0, until_mm, 101)
    new, old = (np.interp(x, side.curve.travel_m * 1e3, side.curve.force_n) for side in (after, before))
    y = new - old
    low, high = min(0.0, float(np.min(y))), max(0.0, float(np.max(y)))
    if high - low < 20:  # a plan that changes nothing still has a scale: 20 N is a hair's breadth on the force
        low, high = low - (20 - (high - low)) / 2, high + (20 - (high - low)) / 2
    each = to_si(1.0, system.unit("force", "N"), "force")  # a scale in round numbers of the reader's unit
    step = step_of((high - low) / each / 2) * each
    low, high = step * np.floor(low / step), step * np.ceil(high / step)
    flat = Room(where.width, 78, where.left, where.right, 14, 14, where.text_px, where.tall)
    drawing = _sheet(name, flat, "", f"From 0 to {_mm(until_mm, system)}.", classes)
    marks = Marks(drawing, flat, span, float(low), float(high), system)
    zero = marks.y_px(0)
    marks.rule_px("ax", 0, zero, marks.room.plot_width, zero)
    for value in np.arange(low, high + step / 2, step):
        marks.rule_px("ax", -8, marks.y_px(value), 0, marks.y_px(value))
        marks.text_px("t", -12, marks.y_px(value) + 0.36 * flat.text_px, digits(float(value / each), 0), "end")
    marks.line("ca slow", x, y, "difference")
    at = int(np.argmax(np.abs(y)))
    same = abs(float(y[at])) < 0.5
    at = len(x) - 1 if same else at
    at_mm, most_n = x[at].item(), y[at].item()
    marks.point("ma", at_mm, most_n, 4)
    pair = (0.0, most_n)
    if at_mm >= max(before.end_mm, after.end_mm) - 1e-9:  # both forces are said there: whoever subtracts finds the same
        pair = (float(old[at]), float(new[at]))
    force_told = system.show_change(*pair, "force", "N", decimals=FORCES_SAID_TO)
    said = "none" if same else f"{force_told} at {_mm(at_mm, system)}"
    end = marks.x_px(at_mm)
    label_y = min(max(marks.y_px(most_n) + 6, flat.text_px), flat.plot_height)
    if same:
        marks.text_px("t ta", end, marks.y_px(0) - 10, said, "end")
    else:
        short = said.split(" at ")[0]
        right = flat.plot_width + flat.right - end - 14
        beside = next(
            (words for words in (said, short) if not flat.tall and width_of(words, flat.text_px) <= right), ""
        )
        if beside:
            marks.text_px("t ta", end + 14, label_y, beside)
        else:
            marks.text_px("t ta", end - 12, label_y, short, "end")
    beyond = abs(low) >= high  # the words stand on the side where the line goes, near the axis where it is still small
    words = "after − before" if flat.tall else f"after − before, slow, {marks.y_unit}"
    if 14 + width_of(words, flat.text_px) < end - (80 if flat.tall else 0):
        marks.text_px("t", 14, flat.plot_height - 2 if beyond else flat.text_px, words)
    drawing.title = f"Difference in slow force, after less before: {said}"
    return drawing


def _mm(mm: float, system: System) -> str:
    """A place along the travel as it is said: to the millimetre, or its like."""
    return system.show(mm / 1e3, "length", "mm", decimals=0)


def _sheet(name: str, where: Room, title: str, says: str, classes: str) -> Drawing:
    """An empty drawing with room for the margins and the plot."""
    height = where.top + where.plot_height + where.bottom
    return Drawing(name, where.width, height, title, says, where.text_px, classes)


def _says(sides: tuple[Side, ...], system: System) -> str:
    """The picture in words, with its numbers."""
    parts = []
    for side in sides:
        name = (side.name or "this fork").capitalize()
        slow, fast = (force_said(float(y[-1]), system) for y in (side.curve.force_n, side.fast_n))
        parts.append(f"{name}: {slow} slow and {fast} fast at {_mm(side.end_mm, system)}.")
        if side.sag is not None:
            parts.append(f"Sag {system.show(side.sag.travel_m, 'length', 'mm')}.")
    return " ".join(parts).replace(NO_BREAK, " ")
