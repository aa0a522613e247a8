"""The preload of a fork's coil and the pressure of a negative chamber with a valve of its own, as candidates: against plans made one by one."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import topout
from topout.bench_file.model import BenchFile, Change
from topout.bench_file.parts import CoilSpring
from topout.planner import change as changes
from topout.planner.options import choices, words
from topout.planner.options.answer import options

PSI = 6894.757293168361


def off(bench: BenchFile, asked: Change) -> tuple[float, float]:
    """How far a change sits and springs from the bike as it is: second way, from its plan and its curves."""
    of = replace(bench, change=asked)
    plan = topout.plan(of)
    one, two = plan.before.geometry, plan.after.geometry
    assert one is not None and two is not None and one.sagged is not None and two.sagged is not None
    stance = math.hypot(
        math.degrees(two.sagged.head_angle_rad - one.sagged.head_angle_rad),
        (two.sagged.bb_height_m - one.sagged.bb_height_m) / 8e-3,
        (two.sagged.trail_m - one.sagged.trail_m) / 8e-3,
    )
    was, now = topout.curve(replace(bench, change=None), 4001), topout.curve(changes.changed(of), 4001)
    fork, after = bench.fork, changes.changed(of).fork
    assert fork is not None and after is not None and fork.travel_m is not None and after.travel_m is not None
    bumper_m = (fork.bumper.length_m or 0.0) if fork.bumper is not None else 0.0
    x = np.linspace(0.0, min(fork.travel_m, after.travel_m) - bumper_m, 4001)
    f, g = (np.interp(x, each.travel_m, each.force_n) for each in (was, now))
    return stance, math.sqrt(float(np.trapezoid((g - f) ** 2, x) / np.trapezoid(f**2, x)))


def unbeaten(every: dict[Any, tuple[float, float]]) -> set[Any]:
    return {
        k
        for k, (a, b) in every.items()
        if not any(
            c <= a + 1e-9 and d <= b + 1e-9 and (c < a - 1e-9 or d < b - 1e-9) for other, (c, d) in every.items() if other != k
        )
    }  # fmt: skip


def test_a_forks_coil_is_wound_up_by_every_step_and_those_stand_that_no_other_beats() -> None:
    bench = topout.read(topout.examples()["coil-fork"])
    assert bench.fork is not None and bench.fork.coil is not None and bench.fork.travel_m is not None
    asked = Change(travel_m=bench.fork.travel_m + 0.01, coil={"rate_n_per_m": 7500.0})
    found = options(replace(bench, change=asked))
    steps = {round(each, 4) for each in choices.PRELOADS_M} | {round(bench.fork.coil.preload_m, 4)}
    every = {
        step: off(bench, replace(asked, coil={"rate_n_per_m": 7500.0, "preload_m": step}))
        for step in steps
        if topout.plan(
            replace(bench, change=replace(asked, coil={"rate_n_per_m": 7500.0, "preload_m": step}))
        ).after.sag
    }
    told = {round(each.preload_m or 0.0, 4): each for each in found.options}
    assert set(told) == unbeaten(every) and len(told) > 1, (set(told), every)
    for step, each in told.items():
        assert (each.stance, each.curve) == pytest.approx(every[step], abs=2e-4)
        wound = "of preload" in words.sets(each)
        assert wound == (abs(step - bench.fork.coil.preload_m) > 1e-6) == (words.keeps(each) == "wound up to that")
        assert each.as_json()["preload_m"] == pytest.approx(step)
    named = options(replace(bench, change=replace(asked, coil={"rate_n_per_m": 7500.0, "preload_m": 0.003})))
    assert {each.preload_m for each in named.options} == {0.003}, "what is asked for is no question"


def test_a_wound_up_coil_of_the_shelf_touches_so_much_sooner() -> None:
    """Excluded where its coils would touch: by the travel that is left after the preload."""
    bench = topout.read(topout.examples()["coil-fork"])
    assert bench.fork is not None and bench.fork.travel_m is not None
    part = CoilSpring(kind="coil", gives_n_per_m=8000.0, bind_m=bench.fork.travel_m + 0.005, on_hand=1, cost=1.0)
    asked = Change(travel_m=bench.fork.travel_m)
    found = options(replace(bench, change=replace(asked, offset_m=0.051), shelf=(part,)))
    fitted = {round(each.preload_m or 0.0, 4) for each in found.options if each.rate_n_per_m == 8000.0}
    assert found.excluded.get("coil-bind") == sum(each > 0.005 for each in choices.PRELOADS_M), found.excluded
    assert all(each <= 0.005 for each in fitted)


def test_a_negative_chamber_of_its_own_is_tried_at_other_pressures_none_above_the_limit() -> None:
    bench = topout.read(topout.examples()["separate-valve"])
    assert bench.fork is not None and bench.fork.air is not None and bench.fork.travel_m is not None
    air = bench.fork.air
    fitted = air.negative_pressure_gauge_pa
    assert fitted is not None and air.pressure_gauge_pa is not None
    asked = Change(travel_m=bench.fork.travel_m, spacers=0, pressure_gauge_pa=air.pressure_gauge_pa)
    tried = {fitted, *(round(fitted * share / PSI) * PSI for share in choices.NEGATIVES)}
    for limit, left in ((None, tried), (1.05 * fitted, {each for each in tried if each <= 1.05 * fitted})):
        of = replace(bench, fork=replace(bench.fork, air=replace(air, pressure_limit_gauge_pa=limit)), change=asked)
        found = options(of)
        every = {}
        for pa in left:
            named = replace(asked, air={"negative_pressure_gauge_pa": pa})
            plan = topout.plan(replace(of, change=named))
            short = any(each.code == "lost-travel" and each.state == "after" for each in plan.warnings)
            if not short and not any(each.code == "sag-range" and each.state == "after" for each in plan.warnings):
                every[round(pa)] = off(of, named)
        told = {round(each.negative_pressure_gauge_pa or 0.0): each for each in found.options}
        assert set(told) == unbeaten(every), (limit, set(told), every)
        for pa, each in told.items():
            assert (each.stance, each.curve) == pytest.approx(every[pa], abs=2e-4)
            assert ("in the negative chamber" in words.sets(each)) == (pa != round(fitted))
            given = (each.change.air or {}).get("negative_pressure_gauge_pa")
            assert given is None if pa == round(fitted) else given == pytest.approx(pa, abs=1.0)
    own = replace(bench, change=replace(asked, air={"negative_pressure_gauge_pa": 0.9 * fitted}))
    assert {round(each.negative_pressure_gauge_pa or 0.0) for each in options(own).options} == {round(0.9 * fitted)}
