"""The pressure by mass: the file's own rider keeps the pressure, every other one the sag, by the plan's own road."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from at_once import all_pass
from made_up import FRAME, sag_found, weights
from topout.bench_file.model import BenchFile, Coil
from topout.bench_file.read import read_text
from topout.bench_file.write import write
from topout.physics import air_spring, geometry, sag
from topout.planner import design as designs
from topout.planner import drawn, inputs, rear
from topout.planner.by_mass import as_left, behind, by_mass, in_front
from topout.planner.plan import plan
from topout.planner.results import RearSag

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
MASSES = np.array([45.0, 60.0, 74.0, 81.0, 95.0, 120.0])


@cache
def forks() -> list[tuple[str, BenchFile]]:
    found = []
    for path in sorted(EXAMPLES.glob("*.toml")):
        bench = read_text(path.read_text("utf-8"))
        if bench.fork and bench.fork.air and not by_mass(bench, MASSES).lacking:
            found.append((path.name, bench))
    return found


def test_each_mass_sits_as_deep_as_the_files_own() -> None:
    assert len(forks()) >= 2
    all_pass(each_mass_sits_as_deep, [(name, (name, bench)) for name, bench in forks()])


def each_mass_sits_as_deep(name: str, bench: BenchFile) -> None:
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
    for kg, pa in list(zip(told.mass_kg, told.pressure_gauge_pa, strict=True))[
        ::3
    ]:  # their own, one between, the heaviest
        with_it = replace(
            bench, found=None, change=None, rider=replace(bench.rider, mass_kg=float(kg)),
            fork=replace(bench.fork, air=replace(bench.fork.air, pressure_gauge_pa=float(pa))),
        )  # fmt: skip
        sag = plan(with_it).before.sag
        assert sag is not None and sag.front is not None and told.sag_m is not None
        assert sag.front.travel_m == pytest.approx(told.sag_m, abs=1e-7), (name, kg)


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
        told = behind(as_left(bench), np.array([82.0, *MASSES[::2]]))
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
        assert tried >= 4
        lacks = behind(replace(bench, bike=None, shock=replace(shock, leverage=None)), MASSES)
        assert {"[shock] leverage", "[bike] mass", "[bike] unsprung_rear"} <= set(lacks.lacking)
        assert np.isnan(lacks.pressure_gauge_pa).all() and lacks.rate_n_per_m is None


OPEN = """
[rider]
mass = "82 kg"
front_share = 0.42

[bike]
mass = "15 kg"
unsprung_front = "3.0 kg"
unsprung_rear = "3.5 kg"

[shock]
stroke = "55 mm"
body = "40 mm"
sag = "16 mm"
leverage = [["0 mm", 2.85], ["35 mm", 2.70], ["70 mm", 2.56], ["105 mm", 2.43], ["140.5 mm", 2.33]]

[shock.air]
spacers = 1
pressure = "150 psi"
pressure_limit = "178 psi"

[change.shock]
spacers = 2
pressure = "160 psi"
"""
PSI = 6894.757293168361


def test_a_shock_that_was_drawn_is_set_for_each_mass_within_limits() -> None:
    """Second way: each draw's own stroke at each mass by halving over the pressure, the limits by sorting."""
    bench = read_text(OPEN)
    told = behind(bench, np.array([70.0, 82.0, 90.0, 95.0]), 1500)
    assert told.known is not None and told.sag is not None and told.sag.low95 < told.sag.median < told.sag.high95
    psi = [(one.low95 / PSI, one.median / PSI, one.high95 / PSI) for one in told.known if one is not None]
    low, middle, high = psi[1]
    assert middle == pytest.approx(160.0, abs=0.1) and high - low < 1.1, (
        "their own row is what is set, to the gauge's mark"
    )
    worked = plan(bench, draws=1500).after.sag
    assert worked is not None and isinstance(worked.rear, RearSag) and worked.rear.stroke_m is not None
    assert told.sag.median == pytest.approx(worked.rear.stroke_m, abs=1e-9), (
        "the sag of the plan, the one found counted"
    )
    made = drawn.draw(bench, 1500)
    after = designs.changed(made.design, made.changes)
    own = made.loads.behind_n
    assert after.shock is not None and own is not None
    wanted_m = rear.at_rest(rear.rear(after), own).stroke_m  # type: ignore[arg-type]
    heavier_n = (own / 9.80665 + 3.5) / (82.0 + 15.0) * (95.0 + 15.0) * 9.80665 - 3.5 * 9.80665
    least, most = np.zeros_like(own), np.full_like(own, 40e5)
    for _ in range(40):
        half = 0.5 * (least + most)
        pumped = replace(after, shock=replace(after.shock, air=replace(after.shock.air, pressure_gauge_pa=half)))
        deeper = rear.at_rest(rear.rear(pumped), heavier_n).stroke_m > wanted_m  # type: ignore[arg-type]
        least, most = np.where(deeper, half, least), np.where(deeper, most, half)
    shown = made.gauge.shown_pa(0.5 * (least + most))
    shown, weights = shown[np.isfinite(wanted_m)], made.weights[np.isfinite(wanted_m)]
    order = np.argsort(shown)
    passed = np.cumsum(weights[order]) / np.sum(weights)
    by_sorting = [float(shown[order][np.searchsorted(passed, share)]) / PSI for share in (0.025, 0.5, 0.975)]
    assert psi[3] == pytest.approx(by_sorting, abs=0.25)
    assert psi[3][2] - psi[3][0] > 2.0, "a shock known to a hair would show nothing"
    assert psi[2][1] < 178.0 < psi[2][2] and told.over == (False, False, True, True), "one that may be above it is over"


OPEN_FORK = (
    weights() + FRAME + '[fork]\ntravel = "150 mm"\nstanchion = "36 mm"\n[fork.air]\nspacers = 1\npressure = "72 psi"\npressure_limit = "89.3 psi"\n'
    + sag_found() + '[change]\ntravel = "160 mm"\npressure = "74 psi"\n'
)  # fmt: skip


def test_a_fork_that_was_drawn_is_set_for_each_mass_within_limits() -> None:
    """Second way: each draw's own sag under each mass by halving over the pressure, the limits by sorting."""
    bench = read_text(OPEN_FORK)
    told = in_front(bench, np.array([62.0, 82.0, 96.0, 102.0]), 1500)
    assert told.known is not None and told.sag is not None and told.sag.low95 < told.sag.median < told.sag.high95
    psi = [(one.low95 / PSI, one.median / PSI, one.high95 / PSI) for one in told.known if one is not None]
    assert psi[1][1] == pytest.approx(74.0, abs=0.1) and psi[1][2] - psi[1][0] < 1.1, "their own row is what is set"
    worked = plan(bench, draws=1500).after.sag
    assert worked is not None and worked.front is not None
    assert told.sag.median == pytest.approx(worked.front.travel_m, abs=1e-9), "the sag of the plan"
    made = drawn.draw(bench, 1500)
    after = designs.changed(made.design, made.changes)
    own, share = made.loads.load, made.loads.implied_share

    def rests(pressure_pa: Any, times: Any) -> Any:
        bikes = inputs.bikes(replace(after, air=replace(after.air, pressure_gauge_pa=pressure_pa)))
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        load = sag.Load(own.axial_n * times, own.vertical_n * times, own.side_n * times)
        settled = air_spring.settle(air_spring.computable(bikes.chambers))
        return sag.at_rest_m(settled, stand, load, bikes.friction)[0]

    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        wanted = rests(after.air.pressure_gauge_pa, np.ones(len(share)))
        for number, kg in ((0, 62.0), (3, 102.0)):
            times = ((kg + 15.0) * share - 3.0) / ((82.0 + 15.0) * share - 3.0)
            least, most = np.zeros_like(share), np.full_like(share, 20e5)
            for _ in range(40):
                half = 0.5 * (least + most)
                deeper = rests(half, times) > wanted
                least, most = np.where(deeper, half, least), np.where(deeper, most, half)
            shown, there = made.gauge.shown_pa(0.5 * (least + most)), np.isfinite(wanted)
            shown, weights = shown[there], made.weights[there]
            order = np.argsort(shown)
            passed = np.cumsum(weights[order]) / np.sum(weights)
            by_sorting = [float(shown[order][np.searchsorted(passed, at)]) / PSI for at in (0.025, 0.5, 0.975)]
            assert psi[number] == pytest.approx(by_sorting, abs=0.25), kg
    assert psi[3][2] - psi[3][0] > 1.5, "a fork known to a hair would show nothing"
    assert psi[2][1] < 89.3 < psi[2][2] and told.over == (False, False, True, True), "one that may be above it is over"


def test_what_a_drawn_fork_lacks_is_named_and_its_share_may_be_drawn() -> None:
    bench = read_text(OPEN_FORK)
    assert by_mass(bench, MASSES).known is not None, "as it stands in the Book, no sag found and no share written"
    for part, place in (("rider", "[rider] mass"), ("bike", "[bike] mass"), ("frame", "[frame] head_angle")):
        told = by_mass(replace(bench, **{part: None}), MASSES)  # type: ignore[arg-type]
        assert any(each.startswith(place.partition("]")[0]) for each in told.lacking), (part, told.lacking)
        assert told.known is None and np.isnan(told.pressure_gauge_pa).all()


def test_a_fork_with_an_uncertainty_tells_its_table_with_limits() -> None:
    bench = read_text((EXAMPLES / "longer-travel.toml").read_text("utf-8"))
    text = write(bench)
    bore = re.search(r'bore = "([\d.]+) mm"', text)
    assert bore is not None
    told = by_mass(read_text(text.replace(bore[0], f'bore = "{bore[1]} mm ± 0.4 mm"', 1)), MASSES)
    exact = by_mass(bench, MASSES)
    assert told.known is not None
    for one, pa in zip(told.known, exact.pressure_gauge_pa, strict=True):
        assert one is not None and one.low95 < pa < one.high95


def test_the_sag_found_and_what_is_set_hold_an_exact_shock_too() -> None:
    """The sheet's table told the sag of the weights where another was found, and the plan beside it that of the one found."""
    air = read_text((EXAMPLES / "rear-shock.toml").read_text("utf-8"))
    assert air.shock is not None and air.shock.sag_m is None
    found = replace(air, shock=replace(air.shock, sag_m=0.015))
    told, worked = behind(found, np.array([82.0])), plan(found).after.sag
    assert worked is not None and isinstance(worked.rear, RearSag)
    assert told.sag_m == pytest.approx(worked.rear.stroke_m, abs=1e-9) and told.known is None
    assert told.pressure_gauge_pa[0] == pytest.approx(150 * PSI, rel=1e-9)
    left = as_left(found)
    assert left.change is None and left.shock is not None and left.shock.sag_m is None
    without = behind(left, np.array([82.0])).sag_m
    assert without is not None and told.sag_m is not None and abs(without - told.sag_m) > 1e-3
