"""A keep does what it says: the plan at its pressure holds the property."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from planner.fork import bench
from topout.bench_file.model import BenchFile
from topout.cli import plan_table
from topout.planner import change, keep, kept, state
from topout.planner.plan import plan
from topout.planner.results import Plan
from topout.units import BENCH

CHANGES = {
    "longer": 'travel = "160 mm"\nspacers = 2',
    "shorter": 'travel = "130 mm"\nspacers = 0',
    "offset": 'offset = "37 mm"\nspacers = 2',
}


def at(file: BenchFile, pressure_gauge_pa: float | None) -> Plan:
    assert file.change is not None and pressure_gauge_pa is not None
    return plan(replace(file, change=replace(file.change, pressure_gauge_pa=pressure_gauge_pa)))


@pytest.mark.parametrize("asked", CHANGES.values(), ids=CHANGES)
@pytest.mark.parametrize("found", ["-", 'sag = "36 mm"\npressure = "70 psi"'], ids=["assumed", "found"])
@pytest.mark.parametrize(
    "air", ["", '\nport_position = "3 mm"', '\nport_length = "4 mm"'], ids=["at-end", "in", "long"]
)
def test_each_keep_holds_its_property(asked: str, found: str, air: str) -> None:
    file = bench(change=asked, fork__air="+" + air.strip(), found=found)
    first = plan(file)
    before = first.before.sag.front if first.before.sag else None
    assert before is not None
    sag = at(file, first.keep.sag.pressure_pa).after.sag
    assert sag is not None and sag.front is not None
    assert sag.front.travel_m == pytest.approx(before.travel_m, abs=1e-11)
    share = at(file, first.keep.sag_share.pressure_pa).after.sag
    assert share is not None and share.front is not None
    assert share.front.share == pytest.approx(before.share, abs=1e-10)
    held = at(file, first.keep.end_force.pressure_pa)
    assert held.after.end_force_n == pytest.approx(first.before.end_force_n, rel=1e-11)


@pytest.mark.parametrize("asked", CHANGES.values(), ids=CHANGES)
@pytest.mark.parametrize("air", ["", 'port_position = "3 mm"', 'port_length = "4 mm"'], ids=["at-end", "in", "long"])
def test_curve_keep_is_the_least_of_the_integral(asked: str, air: str) -> None:
    """Against a parabola through the integral on 20,001 points at three pressures."""
    file = bench(change=asked, fork__air="+" + air)
    kept = plan(file).keep.curve.pressure_pa
    assert kept is not None and file.fork is not None and file.fork.travel_m is not None
    after = change.changed(file)
    assert after.fork is not None and after.fork.travel_m is not None and after.fork.air is not None
    end = min(file.fork.travel_m, after.fork.travel_m)
    points = 20_001

    def integral(pressure: float) -> float:
        assert after.fork is not None and after.fork.air is not None
        spring = replace(after, fork=replace(after.fork, air=replace(after.fork.air, pressure_gauge_pa=pressure)))
        x = np.linspace(0.0, end, points)
        forces = []
        for one in (file, spring):
            curve = state.curve(one, points)
            forces.append(np.interp(x, curve.travel_m, curve.force_n))
        return float(np.trapezoid((forces[1] - forces[0]) ** 2, x))

    p = np.array([kept - 4e4, kept, kept + 4e4])
    parabola = np.polyfit(p - kept, [integral(one) for one in p], 2)
    assert -parabola[1] / (2 * parabola[0]) == pytest.approx(0.0, abs=1e-5 * kept)


def test_nothing_changed_keeps_the_pressure() -> None:
    file = bench()
    answer = plan(file)
    assert file.fork is not None and file.fork.air is not None
    for one in (answer.keep.sag, answer.keep.sag_share, answer.keep.end_force, answer.keep.curve):
        assert one.pressure_pa == pytest.approx(file.fork.air.pressure_gauge_pa, rel=1e-11)


def test_the_nodes_are_those_of_gauss_and_legendre() -> None:
    x, weights = np.polynomial.legendre.leggauss(len(keep._UNIT_NODES))
    assert keep._UNIT_NODES == pytest.approx(0.5 * (x + 1.0), abs=1e-14)
    assert keep._UNIT_WEIGHTS == pytest.approx(0.5 * weights, abs=1e-14)


@pytest.mark.parametrize(
    ("sag_mm", "limit_psi", "marks"),
    [
        ("12", "200", ("10 to 35",)), ("56", "200", ("10 to 35",)), ("33", "60", ("above the maker’s limit of 60",)),
        ("12", "60", ("above the maker’s limit of 60", "10 to 35")), ("33", "200", ()),
    ],
)  # fmt: skip
def test_a_keep_says_what_is_wrong_with_it_at_the_terminal_too(
    sag_mm: str, limit_psi: str, marks: tuple[str, ...]
) -> None:
    """The pressure that keeps everything as it is: 70 psi, whatever speaks against that."""
    file = bench(fork__air=f'+pressure_limit = "{limit_psi} psi"', found=f'sag = "{sag_mm} mm"\npressure = "70 psi"')
    result = plan(file)
    text = plan_table.plan(file, result, BENCH).replace("\u00a0", " ")
    for one in kept.said(file, result):
        assert len(one.marks) == len(marks) and all(mark in said for mark, said in zip(marks, one.marks, strict=True))
        assert one.over is (limit_psi == "60")
        lines = [" ".join(line.split()) for line in re.split(r"\n(?=! |\n)", text)]
        for mark in one.marks:
            own = [line for line in lines if line.endswith(f": {mark}.".replace("\u00a0", " "))]
            assert len(own) == 1 and f"for the {one.words}" in own[0], "each thing that is wrong is said once"
    assert text.count(" !") >= (4 if marks else 0)


def test_nothing_is_set_where_no_spring_is_computed_or_it_locks() -> None:
    """The terminal said "Set …" for both."""
    air = 'bore = "34 mm"\nshaft = "10 mm"\nnegative_volume = "50 ml"\nspacer_volume = "8 ml"\npressure = "70 psi"'
    for file in (bench(fork__air=air), bench(fork__air=air + '\npositive_volume = "150 ml"', change="spacers = 3")):
        text = plan_table.plan(file, plan(file), BENCH)
        assert "Set 7" not in text and "nothing is set" in " ".join(text.lower().split())
        assert "\nSet\n" not in text, "nor is a group of figures called that"


def test_dangers_come_first_and_gaps_in_one_closing_line() -> None:
    file = bench(fork__air='+pressure_limit = "60 psi"', rider="-", change='fork_length = "565 mm"')
    lines = [line for line in plan_table.plan(file, plan(file), BENCH).splitlines() if line]
    warned = [line for line in lines if line.startswith("! ")]
    assert warned[0].startswith("! Pressure.") and lines[0] == warned[0]
    names = [line.split(".")[0] for line in warned]
    assert names.index("! Pressure") < names.index("! Bottom bracket")
    assert lines[-1].startswith("Not known:") and "the rider’s weight ([rider])" in lines[-1]
    assert sum("not given" in line or "Not known" in line for line in lines) == 1
