"""Engraved rules: a quantity with a scale, ticks outward, marks on it. Here the pressure rule with the four keeps."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from topout.documents.svg import Drawing
from topout.planner import at_mark, facts
from topout.units import BENCH, NO_BREAK, PSI_PA, System, digits, from_si, other, to_si

LEAST_SPAN_PSI: Final = 20.0
UPRIGHT_BELOW: Final = 560  # pixels of width: a phone
UPRIGHT_PX: Final = 250.0
NAMES: Final = {key.replace("_", "-"): words for key, words in facts.KEEPS.items()}


def pressure_rule(
    keeps: Mapping[str, float | None],
    set_pa: float,
    width: float,
    name: str = "pressures",
    classes: str = "",
    system: System = BENCH,
) -> Drawing:
    """A rule of gauge pressures, the reader's unit above, the other below: what each keep would set, and what is set.

    Inputs in Pa gauge.

    A keep that no pressure holds is left out; the table beside says so. On a phone it stands upright: no width would hold the
    names side by side.
    """
    first = system.unit("pressure", "psi")
    psi = {word: from_si(pa, "psi", "pressure") for word, pa in keeps.items() if pa is not None}
    set_psi = from_si(set_pa, "psi", "pressure")
    low, high = _span([*psi.values(), set_psi])
    said = ", ".join(
        f"{NAMES[word]} {at_mark.show_in(system, value * PSI_PA)}"
        for word, value in sorted(psi.items(), key=lambda kv: kv[1])
    )
    title = (
        f"Pressures that keep one thing: {said or 'none'}; set is {system.show(set_pa, 'pressure', 'psi', trim=True)}"
    )
    words = f"set {system.show(set_pa, 'pressure', 'psi', trim=True).partition(NO_BREAK)[0]}"
    if width < UPRIGHT_BELOW:
        return _upright(
            Drawing(name, width, UPRIGHT_PX, title, "", 18, classes), psi, set_psi, (low, high), words, first
        )
    size, left, right = 20, 12.0, width - 12.0

    def at(value_psi: float) -> float:
        return left + (value_psi - low) / (high - low) * (right - left)

    names = _rows({word: at(value) for word, value in psi.items()}, at(set_psi), size, left, right)
    line = 62.0 + 26.0 * max((name.row for name in names.values()), default=0)
    drawing = Drawing(name, width, line + 70, title, "", size, classes)
    base = line + 30
    drawing.line("rule", (left, base), (right, base))
    busy = [at(v) for v in (*psi.values(), set_psi)]
    for unit, side in ((first, -1), (other("pressure", first) or first, 1)):
        each_psi = from_si(to_si(1.0, unit, "pressure"), "psi", "pressure")
        span = (low / each_psi, high / each_psi)
        _ticks(drawing, lambda value, one=each_psi: at(value * one), span, base, side, unit, busy if side < 0 else ())  # type: ignore[misc]
    for word, value in psi.items():
        x, y = at(value), line - 20 - 26.0 * names[word].row
        drawing.line("ca hair", (x, y + 6), (x, base))
        drawing.path("keepmark", f"M{x:.1f} {base:.1f}l-6 -11h12z", f"keep-{word}")
        drawing.text((names[word].left, y), NAMES[word])
    x = at(set_psi)
    drawing.line("now", (x, 24), (x, base + 14), "set")
    half = 0.32 * size * len(words)
    drawing.text((min(max(x, left + half), right - half), 17), words, "t ta", "middle")
    return drawing


def _upright(
    drawing: Drawing, psi: Mapping[str, float], set_psi: float, span: tuple[float, float], set_words: str, unit: str
) -> Drawing:
    """The rule on a phone: pressures grow upwards, the reader's unit left of the line, the names in a column right of it."""
    low, high = span
    size, top, bottom = drawing.text_px, 44.0, drawing.height - 20.0
    line, names = 52.0, 78.0
    each_psi = from_si(to_si(1.0, unit, "pressure"), "psi", "pressure")

    def at(value_psi: float) -> float:
        return bottom - (value_psi - low) / (high - low) * (bottom - top)

    drawing.line("rule", (line, top), (line, bottom))
    drawing.text((line, top - 18), unit, "t sm2", "middle")
    step = _step((high - low) / each_psi, (bottom - top) * 2, size)  # lines of text stand closer than columns of it
    for i in range(math.ceil(low / each_psi / step - 1e-9), math.floor(high / each_psi / step + 1e-9) + 1):
        y = at(i * step * each_psi)
        drawing.line("ax", (line, y), (line - 12, y))
        drawing.text((line - 18, y + 0.36 * size), digits(i * step, 0 if step >= 1 else 1), "t sm2", "end")
    marks = sorted([*((value, word) for word, value in psi.items()), (set_psi, "")], key=lambda mark: -mark[0])
    rows = _apart([at(value) for value, _ in marks], 1.45 * size, top, bottom)
    for (value, word), row in zip(marks, rows, strict=True):
        y = at(value)
        if word:
            drawing.line("ca hair", (line, y), (names - 6, row))
            drawing.path("keepmark", f"M{line:.1f} {y:.1f}l11 -6v12z", f"keep-{word}")
            drawing.text((names, row + 0.36 * size), NAMES[word])
        else:
            drawing.line("now", (line - 14, y), (line + 20, y), "set")
            drawing.line("ca hair", (line + 20, y), (names - 6, row))
            drawing.text((names, row + 0.36 * size), set_words, "t ta")
    return drawing


def _apart(places: Sequence[float], least: float, top: float, bottom: float) -> list[float]:
    """Places down a column, in order, at least so far apart, near where they belong and inside."""
    rows: list[float] = []
    for place in places:
        rows.append(max(place, top, rows[-1] + least if rows else top))
    for i in range(len(rows) - 1, -1, -1):
        rows[i] = min(rows[i], bottom if i == len(rows) - 1 else rows[i + 1] - least)
    return rows


def _span(values: list[float]) -> tuple[float, float]:
    """Ends on whole fives, at least 20 psi apart, 2 psi of air beside the outermost mark; never below zero."""
    low, high = 5 * math.floor((min(values) - 2) / 5), 5 * math.ceil((max(values) + 2) / 5)
    while high - low < LEAST_SPAN_PSI:
        low, high = low - 5, high + 5
    return float(max(low, 0)), float(high)


@dataclass(frozen=True, slots=True)
class _Name:
    """Where a name stands: its row (0 nearest the rule), left and right edge in pixels."""

    row: int
    left: float
    right: float


def _rows(places: dict[str, float], set_x: float, size: int, left: float, right: float) -> dict[str, _Name]:
    """A place for each name, low and above its line where that can be, so that none touches another or a line.

    Tries one row, then two, then more; with four names there is room in four rows at the latest.
    """
    wide = {name: 0.58 * size * len(NAMES[name]) for name in places}
    order = sorted(places, key=lambda name: places[name])

    def fits(name: str, at: _Name, placed: dict[str, _Name]) -> bool:
        if at.left < left or at.right > right or at.left - 5 < set_x < at.right + 5:
            return False
        for word, o in placed.items():
            touches = o.row == at.row and o.left < at.right + 10 and o.right > at.left - 10
            struck = o.row > at.row and at.left - 2 < places[word] < at.right + 2
            strikes = at.row > o.row and o.left - 2 < places[name] < o.right + 2
            if touches or struck or strikes:
                return False
        return True

    def place(i: int, rows: int, placed: dict[str, _Name]) -> dict[str, _Name] | None:
        if i == len(order):
            return placed
        name = order[i]
        for row in range(rows):
            for share in (0.5, 0.93, 0.07, 0.75, 0.25, 1.2, -0.2):  # how much of the name stands left of its line
                edge = places[name] - share * wide[name]
                at = _Name(row, edge, edge + wide[name])
                if fits(name, at, placed):
                    found = place(i + 1, rows, placed | {name: at})
                    if found is not None:
                        return found
        return None

    for rows in range(1, 5):
        found = place(0, rows, {})
        if found is not None:
            return found
    # All four within a name's width of the line of what is set: one below the other, the lines through them.
    return {name: _Name(i, max(left, places[name] - wide[name]), 0.0) for i, name in enumerate(order)}


def _step(span: float, px: float, size: float) -> float:
    """The smallest of 1, 2, 5 × 10ⁿ whose labels don't touch."""
    least = span * 3.4 * size / px
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least * (1 - 1e-9))


def _ticks(
    drawing: Drawing, scale: Callable[[float], float], span: tuple[float, float], base: float, side: int, unit: str,
    busy: Sequence[float] = (),
) -> None:  # fmt: skip
    """Ticks and labels on one side of the rule: `side` −1 above, 1 below; no label where a line of `busy` runs."""
    low, high = span
    size = drawing.text_px
    step = _step(high - low, scale(high) - scale(low), size)
    minor = step / 5 if f"{step:.0e}"[0] == "5" else step / 2
    for i in range(math.ceil(low / minor - 1e-9), math.floor(high / minor + 1e-9) + 1):
        major = abs(i * minor / step - round(i * minor / step)) < 1e-6
        x = scale(i * minor)
        drawing.line("ax", (x, base), (x, base + side * (12 if major else 6)))
    free, first = 0.0, True
    for i in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1):
        words = digits(i * step, 0 if step >= 1 else 1) + (f"{NO_BREAK}{unit}" if first else "")
        half = 0.31 * size * len(words)
        x = min(max(scale(i * step), half), drawing.width - half)
        if x - half < free or any(x - half - 3 < line < x + half + 3 for line in busy):
            continue
        drawing.text((x, base + (-18 if side < 0 else 32)), words, "t sm2", "middle")
        free, first = x + half + 10, False
