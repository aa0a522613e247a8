"""What each keep gives, against the plan with that pressure asked for: two ways to one number."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from topout.bench_file.model import BenchFile, Change
from topout.bench_file.read import read
from topout.planner.kept import held
from topout.planner.plan import plan
from web.plan_cast import HOLLIN


def cases() -> dict[str, BenchFile]:
    bench = read(HOLLIN)
    return {
        "mock-up": bench,
        "no rider": replace(bench, found=None, rider=None),
        "assumed load": replace(bench, found=None),
        "own air": replace(
            bench, change=replace(bench.change or Change(), air={"pressure_gauge_pa": 5e5, "spacers": 0})
        ),
    }


@pytest.mark.parametrize("name", list(cases()))
def test_a_keep_gives_what_the_plan_at_its_pressure_gives(name: str) -> None:
    bench = cases()[name]
    keeps = plan(bench).keep
    found = held(bench, keeps)
    for f in fields(keeps):
        pressure = getattr(keeps, f.name).pressure_pa
        one = found[f.name]
        if pressure is None:
            assert one is None
            continue
        asked = bench.change or Change()
        air = {k: v for k, v in (asked.air or {}).items() if k != "pressure_gauge_pa"} or None
        again = plan(replace(bench, change=replace(asked, pressure_gauge_pa=pressure, air=air))).after
        assert one is not None and one.end_force_n == pytest.approx(again.end_force_n, rel=1e-9)
        front = again.sag.front if again.sag is not None else None
        if front is None:
            assert one.sag_m is None
        else:
            assert one.sag_m == pytest.approx(front.travel_m, rel=1e-9)
