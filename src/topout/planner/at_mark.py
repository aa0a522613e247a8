"""A pressure that was worked out, as a gauge can show it: the one rounding of page, terminal, sheet and tag.

What was typed or read stands as it was; what a program reads has every digit.
"""

from __future__ import annotations

from typing import Final

from topout.units import System, beside_decimals, factor, number, other, plain

# Where nobody says which gauge it is: 1 psi, 0.01 bar. Common practice, no source.
_DECIMALS: Final = {"psi": 0, "bar": 2, "kPa": 0, "MPa": 3, "Pa": -3}
_FINEST: Final = 3  # decimals that a mark may have


def decimals(unit: str) -> int:
    """Decimals that a gauge in this unit can show.

    unit [-] (one) of pressure → [1] (one) below 0 for tens. Raises nothing. Source: common practice, no source.
    """
    return _DECIMALS[unit]


def figure(gauge_pa: float, unit: str, mark_pa: float | None = None) -> tuple[float, int]:
    """The number in a unit, and its decimals: to the gauge's own mark where that is known and a round figure there.

    gauge_pa [Pa gauge] (one) any; unit [-] (one) of pressure; mark_pa [Pa] (one) above 0, or None → [-] (2) the number in
    the unit, its decimals. Raises nothing. Source: common practice, no source.
    """
    usual = _DECIMALS[unit]
    mark = 0.0 if mark_pa is None else mark_pa / factor("pressure", unit)
    places = next((n for n in range(_FINEST + 1) if mark and abs(mark - round(mark, n)) < 1e-6 * mark), None)
    if places is None:
        return number(gauge_pa, "pressure", unit, usual), usual
    marks = round(number(gauge_pa, "pressure", unit, 12) / mark)
    return round(marks * mark, places), places


def show(gauge_pa: float, unit: str, mark_pa: float | None = None, *, second: bool = False) -> str:
    """The same with its unit; with `second` also as a gauge in the other system would show it.

    gauge_pa [Pa gauge] (one) any; unit [-] (one) of pressure; mark_pa [Pa] (one) above 0, or None; second [-] (one) yes or
    no → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    value, places = figure(gauge_pa, unit, mark_pa)
    beside = other("pressure", unit) if second else None
    if beside is None:
        return plain(value, unit, places)
    there, finest = figure(gauge_pa, beside, mark_pa)
    coarser = beside_decimals([gauge_pa], "pressure", unit, beside, places)
    if coarser < finest:
        there, finest = number(gauge_pa, "pressure", beside, coarser), coarser
    return f"{plain(value, unit, places)} · {plain(there, beside, finest)}"


def show_in(system: System, gauge_pa: float, mark_pa: float | None = None, *, second: bool = False) -> str:
    """The same in somebody's own units.

    system [-] (one) theirs; gauge_pa [Pa gauge] (one) any; mark_pa [Pa] (one) above 0, or None; second [-] (one) yes or no →
    [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return show(gauge_pa, system.unit("pressure", "psi"), mark_pa, second=second and system.beside)
