"""The rear end held to plain springs, SciPy's cubic and generic roots: sag, force and rate at the wheel, both ends together."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq, root

from second_way.shocks import G0, Shocked, bikes
from topout import api
from topout.bench_file import model
from topout.bench_file.model import BenchFile
from topout.physics import coil
from topout.planner import load, rear, rear_plan
from topout.planner.design import Design

# Some of the bikes daily, all of them in the soak.
SAMPLE = pytest.mark.parametrize("many", [8, pytest.param(500, marks=pytest.mark.soak)])


@cache
def made() -> list[Shocked]:
    """The bikes: made when the first test asks, since every worker collects this room."""
    return bikes(500)


@cache
def design() -> Design:
    return Design.of([each.bench for each in made()])


@cache
def loads() -> Any:
    return load.loads(design())


def _sag(bench: BenchFile) -> Any:
    return api.sag(bench)


def _curve(bench: BenchFile, points: int = 201) -> Any:
    return api.curve(bench, points, end="rear")


def _plan(bench: BenchFile) -> Any:
    return api.plan(bench)


def _rests_m(of: Shocked, friction_n: float = 0.0) -> float:
    """Wheel travel at rest by SciPy's bracketing root; the ends stand for roots outside."""
    stroke_end = of.bench.shock.stroke_m if of.bench.shock else 0.0
    end = (
        brentq(lambda w: of.stroke_m(w) - stroke_end, 0.5 * of.wheel_end_m, of.wheel_end_m)
        if of.stroke_m(of.wheel_end_m) >= stroke_end
        else of.wheel_end_m
    )

    def short(w: float) -> float:
        return (of.force_n(of.stroke_m(w)) - friction_n) / of.ratio(w) - of.load_n

    if short(0.0) >= 0:
        return 0.0
    return float(end if short(end) <= 0 else brentq(short, 0.0, end, xtol=1e-14, rtol=1e-14))


@pytest.mark.parametrize("one_in", [5, pytest.param(1, marks=pytest.mark.soak)])
def test_500_rear_ends_rest_where_a_generic_solver_finds_them(one_in: int) -> None:
    end, load_n = rear.rear(design()), loads().behind_n
    assert end is not None and load_n is not None
    found = rear.at_rest(end, load_n)
    assert_allclose(loads().behind_n, [each.load_n for each in made()], rtol=1e-12)
    inside = 0
    for row, each in list(enumerate(made()))[::one_in]:
        for friction, values in (
            (0.0, found.travel_m),
            (-each.friction_n, found.low_m),
            (each.friction_n, found.high_m),
        ):
            wanted = _rests_m(each, friction)
            inside += 0 < wanted < 0.99 * each.wheel_end_m
            assert values[row] == pytest.approx(wanted, abs=2e-8), (
                row,
                friction,
            )  # the whole stroke is rounded to 10 µm
    assert inside > 1300 / one_in  # not the ends alone


def test_wheel_force_and_rate_are_the_slopes_of_the_shocks_energy() -> None:
    """Virtual work on 500 linkages: the work of the shock along its stroke, differentiated by the wheel's travel."""
    for each in made()[::20]:
        curve = _curve(each.bench, 41)
        w, step = curve.wheel_travel_m, 1e-6
        knots = np.array([pair[0] for pair in (each.bench.shock.leverage or each.bench.shock.leverage_stroke)])
        bumper = each.bench.shock.bumper
        crush = math.inf if bumper is None else each.bench.shock.stroke_m - bumper.length_m
        for i in range(2, 39):
            if np.abs(knots - w[i]).min() < 5e-6 or abs(curve.travel_m[i] - crush) < 5e-6 or curve.travel_m[i] < 0.003:
                continue

            def at_wheel(x: float, of: Shocked = each) -> float:
                return of.force_n(of.stroke_m(x)) / of.ratio(x)

            s = [each.stroke_m(w[i] + d) for d in (-step, step)]
            by_work = each.force_n(each.stroke_m(w[i])) * (s[1] - s[0]) / (2 * step)
            assert curve.wheel_force_n[i] == pytest.approx(by_work, rel=1e-5)
            rate = (at_wheel(w[i] + step) - at_wheel(w[i] - step)) / (2 * step)
            assert curve.wheel_rate_n_per_m[i] == pytest.approx(rate, rel=2e-4, abs=2.0)


def test_energy_and_terms_are_those_of_the_force() -> None:
    for each in made()[::25]:
        curve = _curve(each.bench, 2001)
        assert_allclose(sum(curve.terms.values()), curve.force_n, rtol=1e-12)
        assert_allclose(curve.force_n, [each.force_n(s) for s in curve.travel_m], rtol=1e-9, atol=1e-6)
        assert curve.energy_j == pytest.approx(np.trapezoid(curve.force_n, curve.travel_m), rel=3e-6)
        # the same energy at the wheel: nothing is lost in a linkage
        assert curve.energy_j == pytest.approx(np.trapezoid(curve.wheel_force_n, curve.wheel_travel_m), rel=1e-4)


def _both(bench: BenchFile) -> BenchFile:
    return replace(
        bench, found=model.Found(sag_m=0.036, pressure_gauge_pa=5e5), rider=replace(bench.rider, front_share=None)
    )


@SAMPLE
def test_both_ends_together_are_the_root_of_both_equations(many: int) -> None:
    """A front that was calibrated leaves the rear its weight, which the head angle says, which the rear's sag says."""
    for each in made()[:many]:
        bench = _both(each.bench)
        answer = _sag(bench)
        assert answer.front is not None and answer.rear is not None
        axial = answer.front.load_n

        def off(w: np.ndarray, of: Shocked = each, file: BenchFile = bench, along: float = axial) -> list[float]:
            stood = replace(file, shock=None, rear_wheel=model.Wheel(sag_m=float(w[0])))
            sin = math.sin(_sag(stood).head_angle_rad or 0.0)
            left = (file.rider.mass_kg + 15.0 - 3.0 - 3.5) * G0 - along / sin
            return [(of.force_n(of.stroke_m(float(w[0]))) / of.ratio(float(w[0])) - left) / 1000]

        if not 0.002 < answer.rear.travel_m < 0.95 * each.wheel_end_m:
            continue
        found = root(off, [0.9 * answer.rear.travel_m], tol=1e-13)
        assert abs(found.fun[0]) < 1e-10 and answer.rear.travel_m == pytest.approx(float(found.x[0]), abs=1e-9)
        share = answer.front.implied_share
        weight = (bench.rider.mass_kg + 15.0) * G0
        carried = answer.rear.load_n + 3.5 * G0 + share * weight
        assert carried == pytest.approx(weight, rel=1e-12)


def test_the_repetition_takes_the_error_down_tenfold_each_turn() -> None:
    """So that the twenty turns of `load.loads` are more than ever needed: 1e-8 N is there after thirteen."""
    files = [_both(each.bench) for each in made()]
    both = Design.of(files)
    standing, steps = both, []
    last: Any = None
    axial, at_m, _ = load._calibrated(both, None)
    for _ in range(14):
        side = load._upright(standing, axial, at_m)
        behind = rear.weight_left_n(both, side)
        if last is not None:
            steps.append(np.abs(behind - last))
        standing, last = rear.stood(both, behind), behind
    first = steps[0] > 1e-6
    assert first.sum() > 400
    for before, after in zip(steps, steps[1:], strict=False):
        big = before > 1e-7
        assert (after[big] <= before[big] / 10).all()
    assert (steps[-1] < 1e-8).all()
    found: Any = load.loads(both)
    assert_allclose(found.behind_n, last, atol=1e-8)


@SAMPLE
def test_a_sag_found_behind_is_where_it_rests_and_says_its_load(many: int) -> None:
    for each in made()[:many]:
        was = _sag(each.bench).rear
        if was is None or not 0.002 < was.travel_m < 0.9 * each.wheel_end_m:
            continue
        by_stroke = replace(each.bench, rider=None, shock=replace(each.bench.shock, sag_m=was.stroke_m), fork=None)
        by_wheel = replace(each.bench, rider=None, rear_wheel=model.Wheel(sag_m=was.travel_m), fork=None)
        for bench in (by_stroke, by_wheel):
            again = _sag(bench).rear
            assert again.travel_m == pytest.approx(was.travel_m, abs=1e-10)
            assert again.load_n == pytest.approx(each.load_n, rel=1e-7)


@SAMPLE
def test_each_keep_holds_what_it_says(many: int) -> None:
    tried = 0
    for each in made()[:many]:
        shock = each.bench.shock
        if shock.air is not None:
            changed = replace(each.bench, change=model.Change(shock=model.ShockChange(spacers=shock.air.spacers + 1)))
        else:
            changed = replace(each.bench, change=model.Change(shock=model.ShockChange(preload_m=0.004)))
        plan = _plan(changed)
        for name in ("sag", "sag_share", "end_force"):
            keep = getattr(plan.rear.keep, name)
            if keep.pressure_pa is None and keep.rate_n_per_m is None:
                continue
            tried += 1
            asked = replace(changed.change.shock, pressure_gauge_pa=keep.pressure_pa, rate_n_per_m=keep.rate_n_per_m)
            kept = _plan(replace(changed, change=model.Change(shock=asked)))
            if name == "end_force":
                assert kept.after.rear.end_force_n == pytest.approx(kept.before.rear.end_force_n, rel=1e-9)
            else:
                assert kept.after.sag.rear.stroke_m == pytest.approx(kept.before.sag.rear.stroke_m, abs=1e-10)
                assert kept.after.sag.rear.share_of_stroke == pytest.approx(
                    kept.before.sag.rear.share_of_stroke, abs=1e-8
                )
    assert tried > 1.6 * many


def test_a_batch_of_rear_ends_is_each_of_them_alone() -> None:
    together = rear_plan.evaluate(design(), design(), loads().behind_n)
    for row in range(0, 500, 20):
        one = design().take(slice(row, row + 1))
        alone = rear_plan.evaluate(one, one, loads().behind_n[row : row + 1])
        for name in ("end_force_n", "wheel_end_force_n", "lost_m"):
            assert_allclose(getattr(alone, name)[:, 0], getattr(together, name)[:, row], rtol=1e-13)
        assert_allclose(alone.rests.travel_m[:, 0], together.rests.travel_m[:, row], rtol=1e-12)
        for name, value in alone.keep_gauge_pa.items():
            assert_allclose(value[0], together.keep_gauge_pa[name][row], rtol=1e-9)


def test_the_trades_coil() -> None:
    """trade.md 10 row 17, derived there: 80 kg, 65 % behind, leverage 2.5, 30 % of 60 mm: 70.8 N/mm, 404 lb/in."""
    rate = float(coil.rate_for(np.array(80 * 0.65 * G0), np.array(2.5), np.array(0.30 * 0.060), np.array(0.0)))
    assert rate / 1e3 == pytest.approx(70.8, rel=5e-3)
    assert rate / 175.12683524647636 == pytest.approx(404, rel=5e-3)
    shock = model.Shock(stroke_m=0.060, coil=model.Coil(rate_n_per_m=60e3), leverage=((0.0, 2.5), (0.150, 2.5)))
    bench = model.BenchFile(
        rider=model.Rider(mass_kg=80.0 - 3.0, front_share=0.35),
        bike=model.Bike(mass_kg=3.0, unsprung_front_kg=0.0, unsprung_rear_kg=0.0), shock=shock,
    )  # fmt: skip
    with_it = replace(bench, shock=replace(shock, coil=model.Coil(rate_n_per_m=rate)))
    assert _sag(with_it).rear.share_of_stroke == pytest.approx(0.30, abs=1e-12)
    assert _sag(with_it).rear.share_of_wheel_travel == pytest.approx(0.30, abs=1e-12)  # a leverage that stays: the same


def test_the_trades_wheel_rate() -> None:
    """trade.md 4, derived: 70 N/mm at a leverage of 2.5 is 11.2 N/mm at the wheel; 30 % against 27 % of sag is 11 % stiffer."""
    shock = model.Shock(stroke_m=0.060, coil=model.Coil(rate_n_per_m=70e3), leverage=((0.0, 2.5), (0.150, 2.5)))
    curve = _curve(model.BenchFile(shock=shock))
    assert_allclose(curve.wheel_rate_n_per_m, 11.2e3, rtol=1e-9)
    assert curve.progression == pytest.approx(0.0, abs=1e-12)
    assert curve.wheel_travel_m[-1] == pytest.approx(0.150)
