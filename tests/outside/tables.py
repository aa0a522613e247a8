"""Reading tests/reference, and its rule for when a value passes."""

from __future__ import annotations

import csv
from pathlib import Path

REFERENCE = Path(__file__).resolve().parent.parent / "reference"

Row = dict[str, str]


def rows(name: str) -> list[Row]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        found = list(csv.DictReader(file))
    assert found, f"{name} has no rows"
    return found


def tolerance(row: Row, column: str) -> float:
    """How far from ``expected_<column>`` a value may be."""
    expected = float(row[f"expected_{column}"])
    own = [row.get(f"tolerance_{kind}_{column}") or "" for kind in ("abs", "rel")]
    absolute, relative = own if any(own) else (row["tolerance_abs"], row["tolerance_rel"])
    return max(float(absolute or 0), float(relative or 0) * abs(expected))


def check(row: Row, column: str, got: float) -> None:
    expected, allowed = float(row[f"expected_{column}"]), tolerance(row, column)
    assert abs(got - expected) <= allowed, f"{row['id']} {column}: {got!r}, expected {expected!r} within {allowed:g}"
