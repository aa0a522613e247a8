"""Wheel radius from bead seat and tyre, and the load of the clearance test.

Sources: bead seats as reproduced from ISO 5775-1/-2 in an encyclopaedia article or from memory, row by row in
04_tyre_sizes.csv (the standard itself was not read); the load as read in TBIS 4210-6:2019, whose text follows ISO 4210-6
(04_iso4210_fork.csv).
"""

import math
import re
from pathlib import Path

import pytest

from topout.bench_file.model import Fork, keys
from topout.physics import clearance

from .tables import Row, check, rows

ROOT = Path(__file__).resolve().parents[2]
TYRES = rows("04_tyre_sizes.csv")


@pytest.mark.parametrize("row", [r for r in TYRES if r["expected_overall_diameter_mm"]], ids=lambda r: r["id"])
def test_radius_from_bead_seat_and_height(row: Row) -> None:
    bead_m, height_m = (
        float(row["expected_bead_seat_diameter_mm"]) / 1e3,
        float(row["expected_section_height_mm"]) / 1e3,
    )
    radius_m = float(clearance.radius_m(bead_m, height_m))
    check(row, "overall_diameter_mm", 2e3 * radius_m)
    check(row, "circumference_mm", 2e3 * math.pi * radius_m)


@pytest.mark.parametrize("row", [r for r in TYRES if r["expected_radius_change_mm"]], ids=lambda r: r["id"])
def test_radius_between_two_bead_seats(row: Row) -> None:
    old, new = (float(row[f"bead_seat_{which}_mm"]) / 1e3 for which in ("from", "to"))
    change_m = float(clearance.radius_m(new, 0.05)) - float(clearance.radius_m(old, 0.05))
    check(row, "radius_change_mm", change_m * 1e3)


def test_every_bead_seat_in_our_own_files_is_one_of_the_standards() -> None:
    known = {float(r["expected_bead_seat_diameter_mm"]) for r in TYRES if r["expected_bead_seat_diameter_mm"]}
    used = set()
    for path in [*ROOT.glob("examples/*.toml"), *ROOT.glob("tests/reference/*.toml")]:
        used |= {float(n) for n in re.findall(r'bead_seat\s*=\s*"([\d.]+) mm"', path.read_text(encoding="utf-8"))}
    assert used and used <= known, used - known


def test_the_load_that_overtravel_is_for_is_the_standards() -> None:
    """The bench file's own words for ``overtravel`` name the force of the tyre-clearance test, 2,800 N."""
    (row,) = [r for r in rows("04_iso4210_fork.csv") if r["quantity"] == "tyre_clearance_force"]
    words = keys(Fork)["overtravel"][1].says
    named = re.search(r"([\d,]+) N", words)
    assert named and float(named[1].replace(",", "")) == float(row["expected_value"])
