"""Unit factors against NIST SP 811 and against pint.

Source: NIST SP 811 (2008 ed.), appendix B.8, as transcribed in 03_units_sp811.csv; pint as a second opinion on every
entry of our table, those that the appendix does not list included.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from topout import units

from .tables import Row, check, rows, tolerance

if TYPE_CHECKING:
    import pint

ENTRIES: list[tuple[str, str]] = [(dimension, unit) for dimension, table in units.TABLE.items() for unit in table]
SP811 = {row["unit"]: row for row in rows("03_units_sp811.csv")}
SI_UNIT = {
    "length": "m", "volume": "m^3", "area": "m^2", "pressure": "Pa", "force": "N",
    "rate": "N/m", "mass": "kg", "angle": "rad", "temperature": "K", "torque": "N*m",
}  # fmt: skip


NOT_IN_THE_TABLE = {"N*m", "N*cm", "lbf*ft"}  # torques of the bench; pint alone has them here


def spelled(unit: str) -> str:
    """Our name of a unit as pint and the table spell it."""
    return unit.replace("\N{MIDDLE DOT}", "*")


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    import pint  # here: every worker collects this room

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize(("dimension", "unit"), [e for e in ENTRIES if spelled(e[1]) not in NOT_IN_THE_TABLE], ids=str)
def test_factor_and_offset_as_sp811_has_them(dimension: str, unit: str) -> None:
    row: Row = SP811[spelled(unit)]  # it holds every unit that a bench file may say
    assert row["unit_si"] == SI_UNIT[dimension]
    factor, offset = units.TABLE[dimension][unit]
    check(row, "factor", factor)
    if row["expected_factor_printed"]:
        check(row, "factor_printed", factor)
    if row["expected_offset"]:
        check(row, "offset", offset)
    else:
        assert offset == 0


@pytest.mark.parametrize(("dimension", "unit"), ENTRIES, ids=str)
def test_pint_says_the_same(registry: pint.UnitRegistry[float], dimension: str, unit: str) -> None:
    for value in (0.0, 1.0, 37.25):
        theirs = registry.Quantity(value, spelled(unit)).to(SI_UNIT[dimension]).magnitude
        assert units.to_si(value, unit, dimension) == pytest.approx(theirs, rel=1e-12, abs=1e-12)


def test_standard_gravity() -> None:
    row = SP811["standard_gravity"]
    assert abs(units.G0_M_PER_S2 - float(row["expected_factor"])) <= tolerance(row, "factor")
