"""A figure in the other system beside the first: as fine as that, no finer, and it adds up."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest

from topout import units
from topout.planner import at_mark
from topout.planner.facts import Fact


def figures(said: str) -> int:
    """Significant figures of what is printed, a zero at the end of a whole number counted, as a gauge's "250" is read."""
    return len(re.sub(r"[^0-9]", "", said.split(units.NO_BREAK)[0]).lstrip("0"))


@pytest.mark.parametrize(
    ("dimension", "unit", "lots"),
    [("pressure", "psi", (0.5, 9.5, 62, 70, 99.6, 145, 250, 870)), ("pressure", "bar", (0.4, 4.27, 17.24)),
     ("length", "mm", (0.5, 9, 33, 254, 546, 1226)), ("rate", "N/mm", (3, 70, 160)), ("mass", "kg", (3, 82, 120))],
)  # fmt: skip
def test_the_other_system_is_no_finer_than_the_figure_that_stands_first(
    dimension: str, unit: str, lots: tuple[float, ...]
) -> None:
    """No more figures than the first has, three at least, and as near to it as so many can be."""
    for value in lots:
        for places in (None, 0, 1):
            si = units.to_si(value, unit, dimension)
            first, second = units.show(si, dimension, unit, decimals=places, second=True).split(" · ")
            beside = units.other(dimension, unit)
            assert beside is not None
            most = max(figures(first), units.LEAST_FIGURES)
            assert figures(second) <= most or "." not in second, (first, second)
            told = float(second.split(units.NO_BREAK)[0].replace(units.THIN, ""))
            exact = units.from_si(si, beside, dimension)
            least = max(10.0 ** -units.decimals_of(beside), 10.0 ** (math.floor(math.log10(exact)) + 1 - most))
            assert abs(told - exact) <= 0.5 * least * (1 + 1e-9), (first, second, exact)


def test_the_other_system_adds_up_like_the_first() -> None:
    """17.2 − 9.9 is 7.3: of figures side by side none has more decimals than another."""
    for before, after in ((144, 250), (250, 246), (62, 70)):
        fact = Fact("p", "pressure", "pressure", "psi", 0, before * units.PSI_PA, after * units.PSI_PA)
        one, two, gap = (
            fact.says(which, second=True).split(" · ")[1].split(units.NO_BREAK)[0].replace(units.MINUS, "-")
            for which in ("before", "after", "change")
        )
        assert Decimal(two) - Decimal(one) == Decimal(gap), (one, two, gap)
    assert at_mark.show(250 * units.PSI_PA, "psi", second=True) == f"250{units.NO_BREAK}psi · 17.2{units.NO_BREAK}bar"
    assert at_mark.show(62 * units.PSI_PA, "psi", second=True) == f"62{units.NO_BREAK}psi · 4.27{units.NO_BREAK}bar"


def test_energy_in_the_other_system_is_that_of_the_published_factor() -> None:
    """Foot pound-force: 1.355 818 J (NIST Special Publication 811, appendix B.8)."""
    assert units.show(1355.818, "energy", "ft·lbf").replace(units.THIN, "") == f"1000{units.NO_BREAK}ft·lbf"
    assert units.show(200.0, "energy", "J", second=True) == f"200{units.NO_BREAK}J · 148{units.NO_BREAK}ft·lbf"


def test_an_example_in_the_other_system_has_no_more_than_four_figures() -> None:
    for mm, inches in (("2540", "100"), ("2539", "99.96"), ("254", "10.00")):
        assert units.with_units(mm, "length", "mm") == f'"{mm} mm" or "{inches} in"'
