"""The pressure by mass: the file's own rider keeps the pressure, every other one the sag, by the plan's own road."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from topout.bench_file.model import BenchFile, Coil
from topout.bench_file.read import read_text
from topout.planner.by_mass import behind, by_mass
from topout.planner.plan import plan

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
MASSES = np.array([45.0, 60.0, 74.0, 81.0, 95.0, 120.0])


def forks() -> list[tuple[str, BenchFile]]:
    found = []
    for path in sorted(EXAMPLES.glob("*.toml")):
        bench = read_text(path.read_text("utf-8"))
        if bench.fork and bench.fork.air and not by_mass(bench, MASSES).lacking:
            found.append((path.name, bench))
    return found


@pytest.mark.parametrize(("name", "bench"), forks())
def test_each_mass_sits_as_deep_as_the_files_own(name: str, bench: BenchFile) -> None:
    assert (
        bench.rider is not None
        and bench.rider.mass_kg is not None
        and bench.fork is not None
        and bench.fork.air is not None
    )
    own = bench.rider.mass_kg
    told = by_mass(bench, np.array([own, *MASSES]))
    assert told.pressure_gauge_pa[0] == pytest.approx(bench.fork.air.pressure_gauge_pa, rel=1e-6), name
    assert np.all(np.diff(told.pressure_gauge_pa[1:]) > 0), "a heavier rider needs more"
    for kg, pa in zip(told.mass_kg, told.pressure_gauge_pa, strict=True):
        with_it = replace(
            bench, found=None, change=None, rider=replace(bench.rider, mass_kg=float(kg)),
            fork=replace(bench.fork, air=replace(bench.fork.air, pressure_gauge_pa=float(pa))),
        )  # fmt: skip
        sag = plan(with_it).before.sag
        assert sag is not None and sag.front is not None and told.sag_m is not None
        assert sag.front.travel_m == pytest.approx(told.sag_m, abs=1e-7), (name, kg)


def test_there_are_forks_to_try() -> None:
    assert len(forks()) >= 2


def test_above_the_makers_limit_and_without_a_mass_it_says_so() -> None:
    _, bench = forks()[0]
    assert bench.fork is not None and bench.fork.air is not None
    limited = replace(
        bench,
        fork=replace(bench.fork, air=replace(bench.fork.air, pressure_limit_gauge_pa=bench.fork.air.pressure_gauge_pa)),
    )
    assert bench.rider is not None and bench.rider.mass_kg is not None
    own = bench.rider.mass_kg
    assert by_mass(limited, np.array([own - 5, own, own + 5])).over == (False, False, True)
    for lacks in (
        replace(bench, rider=None),
        replace(bench, bike=None),
        replace(bench, frame=None),
        replace(bench, fork=None),
    ):
        told = by_mass(lacks, MASSES)
        assert told.lacking and np.isnan(told.pressure_gauge_pa).all() and told.sag_m is None, lacks


def test_a_shocks_riders_each_use_as_much_stroke_as_the_files_own() -> None:
    """By the plan's own road, on air by pressure, on a coil by its rate and by its preload."""
    air = read_text((EXAMPLES / "rear-shock.toml").read_text("utf-8"))
    assert air.shock is not None and air.rider is not None
    on_coil = replace(air, shock=replace(air.shock, air=None, coil=Coil(rate_n_per_m=80e3, preload_m=0.003)))
    for bench in (air, on_coil):
        shock = bench.shock
        assert shock is not None
        told = behind(bench, np.array([82.0, *MASSES]))
        of = {name: getattr(told, name) for name in ("pressure_gauge_pa", "rate_n_per_m", "preload_m")}
        own = (
            {"pressure_gauge_pa": 150 * 6894.757293168361} if shock.air else {"rate_n_per_m": 80e3, "preload_m": 0.003}
        )
        tried = 0
        for name, fitted in own.items():
            assert of[name][0] == pytest.approx(fitted, rel=1e-7), name
            for kg, value in zip(told.mass_kg, of[name], strict=True):
                if not np.isfinite(value):
                    continue
                table = "air" if shock.air else "coil"
                held = replace(shock, **{table: replace(getattr(shock, table), **{name: float(value)})})
                with_it = replace(bench, change=None, rider=replace(air.rider, mass_kg=float(kg)), shock=held)
                sag = plan(with_it).before.sag
                assert sag is not None and sag.rear is not None
                assert sag.rear.stroke_m == pytest.approx(told.sag_m, abs=1e-7), (name, kg)
                tried += 1
        assert tried >= 7
        lacks = behind(replace(bench, bike=None, shock=replace(shock, leverage=None)), MASSES)
        assert {"[shock] leverage", "[bike] mass", "[bike] unsprung_rear"} <= set(lacks.lacking)
        assert np.isnan(lacks.pressure_gauge_pa).all() and lacks.rate_n_per_m is None
