"""Reads what page, terminal and sheet print back into numbers, by nothing of the program's own: digits, units, words."""

from __future__ import annotations

import re
from decimal import Decimal

NUMBER = re.compile(r"([+\u2212]?\d[\d\u202f]*(?:\.\d+)?)\u00a0?([^\d\s·]*)")


def decimal(text: str) -> Decimal:
    """A printed number."""
    return Decimal(text.replace("\u202f", "").replace("\u2212", "-").replace("+", ""))


def quantities(cell: str) -> list[tuple[Decimal, str]]:
    """A printed cell, "31.0 mm · 1.22 in", as numbers with their units."""
    return [(decimal(number), unit) for number, unit in NUMBER.findall(cell)]


def wrong_differences(cells: tuple[str, str, str]) -> list[str]:
    """Where the third cell is not the second less the first, in any unit shown."""
    was, now, gap = (quantities(cell) for cell in cells)
    if not was or not now:
        return [] if not gap else [f"a difference of nothing: {cells}"]
    if not len(was) == len(now) == len(gap):
        return [f"not the same units: {cells}"]
    return [str(cells) for one, two, three in zip(was, now, gap, strict=True) if two[0] - one[0] != three[0]]


def facts_of_answer(text: str) -> dict[str, object]:
    """What the sentence of page and terminal says: sag, how much more, per cent at the end, degrees, the set part."""
    found: dict[str, object] = {}
    flat = text.replace("\u00a0", " ").replace("\n", " ")
    if m := re.search(
        r"[Ss]ag ([\d.]+) mm(?: \(the O-ring shows ([\d.]+) mm\))?, (?:([\d.]+) mm (more|less) than now|as now)", flat
    ):
        found["sag"] = Decimal(m[1])
        found["ring"] = Decimal(m[2] or m[1])
        found["sag_gap"] = Decimal(0) if not m[3] else Decimal(m[3]) * (1 if m[4] == "more" else -1)
    if m := re.search(r"[Bb]ottom-out force (?:(\d+) % (higher|lower)|as now)", flat):
        found["percent"] = Decimal(0) if not m[1] else Decimal(m[1]) * (1 if m[2] == "higher" else -1)
    if m := re.search(r"the head angle (?:([\d.]+)° (steeper|slacker)|as now)", flat):
        found["angle"] = Decimal("0.0") if not m[1] else Decimal(m[1]) * (1 if m[2] == "steeper" else -1)
    return found


def facts_of_sheet(changed: str, stands: str) -> dict[str, object]:
    """The same of the sheet's sentences."""
    found: dict[str, object] = {}
    flat = changed.replace("\u00a0", " ")
    if m := re.search(
        r"you use ([\d.]+) mm of it(?: \(the O-ring shows ([\d.]+) mm\))?, (?:([\d.]+) mm (more|less) than before|as before)",
        flat,
    ):
        found["sag"] = Decimal(m[1])
        found["ring"] = Decimal(m[2] or m[1])
        found["sag_gap"] = Decimal(0) if not m[3] else Decimal(m[3]) * (1 if m[4] == "more" else -1)
    if m := re.search(r"The last part is (?:(\d+) % (firmer|softer)|as firm as before)", flat):
        found["percent"] = Decimal(0) if not m[1] else Decimal(m[1]) * (1 if m[2] == "firmer" else -1)
    if stands:
        m = re.search(r"[Hh]ead angle ([\d.]+)° (steeper|slacker)", stands.replace("\u00a0", " "))
        found["angle"] = Decimal("0.0") if not m else Decimal(m[1]) * (1 if m[2] == "steeper" else -1)
    return found
