"""A pressure that was worked out is said as a gauge can show it: to the mark of the one used, else to the usual mark."""

from __future__ import annotations

from pathlib import Path

import pytest

from topout.bench_file.read import read
from topout.cli import plan_table
from topout.planner import at_mark, kept
from topout.planner.plan import plan
from topout.units import BAR_PA, BENCH, PSI_PA, System

EXAMPLE = Path(__file__).parents[2] / "examples" / "another-chassis.toml"


@pytest.mark.parametrize(
    ("psi", "unit", "mark_pa", "says"),
    [
        (70.7, "psi", None, "71\u00a0psi"),
        (70.7, "psi", PSI_PA, "71\u00a0psi"),
        (70.7, "psi", 2 * PSI_PA, "70\u00a0psi"),
        (70.7, "psi", 5 * PSI_PA, "70\u00a0psi"),
        (70.7, "psi", 0.5 * PSI_PA, "70.5\u00a0psi"),
        (70.7, "psi", 0.1 * PSI_PA, "70.7\u00a0psi"),
        (70.7, "psi", 0.1 * BAR_PA, "71\u00a0psi"),  # 1.45 psi is no mark of a scale in psi
        (70.7, "bar", None, "4.87\u00a0bar"),
        (70.7, "bar", 0.1 * BAR_PA, "4.9\u00a0bar"),
        (70.7, "bar", 0.05 * BAR_PA, "4.85\u00a0bar"),
        (70.7, "kPa", None, "487\u00a0kPa"),
    ],
)
def test_to_the_mark_of_the_gauge_else_to_the_usual_one(
    psi: float, unit: str, mark_pa: float | None, says: str
) -> None:
    assert at_mark.show(psi * PSI_PA, unit, mark_pa) == says


@pytest.mark.parametrize("system", [BENCH, System(metric=False, bar=False, beside=False), System(bar=True)])
def test_no_keep_at_the_terminal_is_finer_than_a_mark(system: System) -> None:
    """The example said 62.9, 72.0, 71.0 and 50.1 psi of a gauge that nobody named."""
    bench = read(EXAMPLE)
    result = plan(bench)
    text = plan_table.plan(bench, result, system)
    for one in kept.said(bench, result, system=system):
        first = one.pressure.partition(" · ")[0]
        assert first in text
        digits = first.partition("\u00a0")[0]
        assert ("." not in digits) if system.unit("pressure", "psi") == "psi" else len(digits.partition(".")[2]) == 2
    assert result.as_json()["keep"]["sag"]["pressure_pa"] == result.keep.sag.pressure_pa, "a program reads every digit"


def test_the_button_sets_what_the_table_says() -> None:
    bench = read(EXAMPLE)
    result = plan(bench)
    for mark_pa in (None, 2 * PSI_PA, 0.5 * PSI_PA):
        for one in kept.said(bench, result, mark_pa=mark_pa):
            assert one.pressure.startswith(f"{one.set_to('psi')}\u00a0psi")
