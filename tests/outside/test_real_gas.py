"""How wrong the ideal gas is, against the equation of state of dry air.

Source: Lemmon, Jacobsen, Penoncello and Friend, J. Phys. Chem. Ref. Data 29 (2000) 331-385, as CoolProp computes it and as
01_gas_real_air_Z.csv tabulates it. The numbers stand in docs/models.md; a test reads them there.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from .tables import Row, check, rows

MODELS = Path(__file__).resolve().parents[2] / "docs" / "models.md"


def error_pct(kelvin: float, abs_pa: float) -> float:
    """Ideal density less real density, in per cent of the real one."""
    from CoolProp.CoolProp import PropsSI  # here: two seconds that every worker would pay at collecting

    gas_constant = PropsSI("GAS_CONSTANT", "Air") / PropsSI("MOLARMASS", "Air")
    ideal = abs_pa / (gas_constant * kelvin)
    return 100.0 * (ideal / PropsSI("D", "T", kelvin, "P", abs_pa, "Air") - 1.0)


@pytest.mark.parametrize("row", rows("01_gas_real_air_Z.csv"), ids=lambda r: r["id"])
def test_error_of_the_ideal_gas(row: Row) -> None:
    check(row, "ideal_gas_density_error_pct", error_pct(float(row["T_K"]), float(row["p_bar_abs"]) * 1e5))


def worst_over_the_range() -> tuple[float, float]:
    errors = [error_pct(t, p) for t in np.linspace(263.15, 313.15, 11) for p in np.linspace(1e5, 25e5, 25)]
    return min(errors), max(errors)


def test_worst_error_over_the_whole_range() -> None:
    low, high = worst_over_the_range()
    assert low == pytest.approx(-1.63, abs=0.005)  # 25 bar, -10 degC
    assert -0.03 < high < 0.0  # 1 bar, 40 degC: the ideal gas always holds too little


def test_the_docs_state_the_numbers_computed_here() -> None:
    text = MODELS.read_text(encoding="utf-8").replace("\N{MINUS SIGN}", "-")
    typical, worst = error_pct(293.15, 10e5), worst_over_the_range()[0]
    stated = {float(n) for n in re.findall(r"(-\d+\.\d+)\N{NO-BREAK SPACE}?\s?%", text)}
    assert round(typical, 2) in stated, f"docs/models.md should state {typical:.2f} % at 10 bar and 20 degC"
    assert round(worst, 2) in stated, f"docs/models.md should state {worst:.2f} % at 25 bar and -10 degC"
