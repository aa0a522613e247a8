"""The search: what is on its front and why the rest is out, held against plans made one by one and brute force."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from scipy.integrate import quad

import topout
from planner.shelves import AIR, BENCH, FORK, drawn, shelves
from topout.bench_file.model import BenchFile, Change, Wheel
from topout.bench_file.parts import AirShaft, CoilSpring, Part, Tyre, VolumeSpacer
from topout.physics import air_spring
from topout.planner import design as designs
from topout.planner import drawn as drawing
from topout.planner import evaluate, inputs
from topout.planner.design import Changes, Design
from topout.planner.options import broken, choices, front, states
from topout.planner.options import search as searching
from topout.planner.options.answer import options
from topout.planner.options.ends import Ends
from topout.planner.plan import plan
from topout.units import PSI_PA

HARD = frozenset((*broken.OF_BUILD, *broken.OF_SETTING)) - {"no-pressure"}
SMALL: tuple[Part, ...] = (
    AirShaft(kind="air shaft", gives_m=0.14, bore_m=0.0346, cost=104.0),
    AirShaft(kind="air shaft", gives_m=0.16, bore_m=0.0346, cost=90.0, on_hand=0, waiting_days=3),
    AirShaft(kind="air shaft", gives_m=0.13, bore_m=0.032, cost=10.0),
    VolumeSpacer(kind="volume spacer", gives_m3=11e-6, cost=9.0, on_hand=2),
    Tyre(kind="tyre", gives_m=0.062, bore_m=0.584, cost=55.0),
    Tyre(kind="tyre", gives_m=0.052, bore_m=0.622, cost=40.0),
)


def _by_hand(bench: BenchFile, shelf: tuple[Part, ...]) -> tuple[list[tuple[float, ...]], Counter[str]]:
    """Every setting tried as a plan of its own: (stance, curve, cost, days, travel, spacers, pressure) and what excluded how many."""
    travels = {0.15: (0.0, 0.0), 0.14: (104.0, 0.0), 0.16: (90.0, 3.0)}
    travels |= {m: (math.inf, math.inf) for m in (0.12, 0.13, 0.17, 0.18)}
    counts: dict[int, tuple[float, float, float | None]] = {0: (0, 0, None), 1: (0, 0, None)}
    counts |= {2: (9.0, 0, (8.5e-6 + 11e-6) / 2), 3: (18.0, 0, (8.5e-6 + 22e-6) / 3), 4: (math.inf, math.inf, None)}
    rears = {None: 0.0} | ({0.062: 55.0} if SMALL[-2] in shelf else {})
    found: list[tuple[float, ...]] = []
    excluded = Counter[str]()
    was = plan(bench, curves=True)
    for (travel, (c1, d1)), (count, (c2, d2, each)), (rear, c3) in itertools.product(
        travels.items(), counts.items(), rears.items()
    ):
        change = replace(
            bench.change or Change(), travel_m=travel, spacers=count, rear_wheel=Wheel(tyre_height_m=rear) if rear else None,
            air={"spacer_volume_m3": each} if each else None,
        )  # fmt: skip
        here = plan(replace(bench, change=change))
        kept = [here.keep.sag_share, here.keep.sag, here.keep.curve, here.keep.end_force]
        pressures: list[float] = []
        for keep in kept:
            if keep.pressure_pa is None:
                excluded["no-pressure"] += 1
            else:
                pressures.append(round(keep.pressure_pa / PSI_PA) * PSI_PA)
        assert AIR.pressure_gauge_pa is not None
        pressures.append(AIR.pressure_gauge_pa)
        for pressure in {round(p): p for p in pressures}.values():
            at = plan(replace(bench, change=replace(change, pressure_gauge_pa=pressure)), curves=True)
            broken_here = {w.code for w in at.warnings if w.state == "after"} & HARD
            excluded.update(
                broken_here & set(broken.OF_BUILD) or broken_here
            )  # no pressure mends a build that can't be
            if not broken_here:
                found.append((*_axes(was, at), c1 + c2 + c3, max(d1, d2), travel, count, pressure))
    return found, excluded


def _axes(was: Any, at: Any) -> tuple[float, float]:
    gap = at.difference["geometry"]["sagged"]
    stance = math.sqrt(gap["head_angle_deg"] ** 2 + (gap["bb_height_m"] / 8e-3) ** 2 + (gap["trail_m"] / 8e-3) ** 2)
    a, b = was.curve_before, at.curve_after
    assert FORK.bumper is not None
    end = min(a.travel_m[-1], b.travel_m[-1]) - FORK.bumper.length_m

    x = np.linspace(0.0, end, 4001)
    one, two = np.interp(x, a.travel_m, a.force_n), np.interp(x, b.travel_m, b.force_n)
    square, whole = np.trapezoid((two - one) ** 2, x), np.trapezoid(one**2, x)
    return stance, math.sqrt(square / whole)


@pytest.mark.parametrize(
    "shelf", [SMALL[:-2] + SMALL[-1:], pytest.param(SMALL, marks=pytest.mark.soak)], ids=["one tyre", "two tyres"]
)
def test_the_search_finds_what_plans_made_one_by_one_find(shelf: tuple[Part, ...]) -> None:
    bench = replace(BENCH, shelf=shelf, change=Change(front_wheel=Wheel(bead_seat_m=0.622, tyre_height_m=0.058)))
    by_hand, excluded = _by_hand(bench, shelf)
    found = searching.search(bench)
    # The tyre for the wheel that is asked for is no question, and 4 spacers are more than lie there.
    assert {code: n for code, n in found.excluded.items() if code != choices.MISFIT} == dict(excluded)
    assert found.excluded[choices.MISFIT] == 1
    got = {
        (round(w.chosen(int(k))[0].value, 3), int(w.chosen(int(k))[1].value), round(float(p)), round(float(c), 3))
        for w in [found.ways]
        for k, p, c in zip(found.front.way, found.front.set_gauge_pa, found.front.cost, strict=True)
    }
    steps = [
        (round(s / front.STANCE_STEP), round(c / front.CURVE_STEP), cost, days) for s, c, cost, days, *_ in by_hand
    ]
    unbeaten = {
        (round(row[4], 3), row[5], round(row[6]), round(row[2], 3))
        for row, one in zip(by_hand, steps, strict=True)
        if not any(_beats(other, one) for other in steps)
        and not any(_beats(other[:4], row[:4]) for other, same in zip(by_hand, steps, strict=True) if same == one)
    }
    assert got == unbeaten
    assert len(got) > 5
    was = plan(bench, curves=True)
    for each in options(bench).options:  # the figures are the plan's own, to the last bit
        alone = plan(replace(bench, change=each.change), curves=True)
        assert each.difference == alone.difference
        stance, curve = _axes(was, alone)
        assert each.stance == pytest.approx(stance, rel=1e-9, abs=1e-9)
        assert each.curve == pytest.approx(curve, rel=5e-3, abs=2e-4)  # the second way goes along straight lines


def _beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


FRONT = settings(max_examples=2, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))


@FRONT
@given(shelf=shelves(200))
def test_nothing_on_the_front_breaks_a_limit_or_is_beaten(shelf: list[Part]) -> None:
    front_holds(shelf)


@pytest.mark.soak
@settings(FRONT, max_examples=60, derandomize=False)
@given(shelf=shelves(200))
def test_nothing_of_more_shelves_on_the_front_breaks_a_limit_or_is_beaten(shelf: list[Part]) -> None:
    front_holds(shelf)


def front_holds(shelf: list[Part]) -> None:
    found = searching.search(BENCH, shelf, ends=Ends(family="Corrie 36"))
    every = front.empty()
    for first in range(0, len(found.ways), 500):
        numbers = np.arange(first, min(first + 500, len(found.ways)))
        some, _, _ = searching.chunk(found.question, numbers)
        every = every.beside(some)
    points, best = (np.stack((r.stance, r.curve, r.cost, r.days), axis=1) for r in (every, found.front))
    for point in best:
        assert not ((points <= point).all(axis=1) & (points < point).any(axis=1)).any()
    for k in range(0, len(found.front), max(1, len(found.front) // 6)):
        change = found.ways.change(int(found.front.way[k]), float(found.front.set_gauge_pa[k]))
        warned = plan(replace(BENCH, change=change)).warnings
        assert not {w.code for w in warned if w.state == "after"} & HARD
        for used in (used for each in found.ways.chosen(int(found.front.way[k])) for used in each.used):
            part = used.part
            assert shelf[used.number] is part
            assert part.family in (None, "Corrie 36") or isinstance(part, Tyre)
            assert isinstance(part, Tyre) or part.bore_m in (None, AIR.bore_m)
            assert part.on_hand >= used.count or part.waiting_days is not None


def test_unbeaten_is_what_comparing_each_with_each_says() -> None:
    chance = np.random.default_rng(3)
    for _ in range(40):
        points = chance.integers(0, 5, size=(chance.integers(0, 60), 4)).astype(float)
        points[chance.random(points.shape) < 0.1] = np.inf
        each = [not any(_beats(tuple(q), tuple(p)) for q in points) for p in points]
        assert front.unbeaten(points).tolist() == each


def test_chunks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = searching.search(BENCH)
    monkeypatch.setattr(searching, "ROWS", 7)
    parts = searching.search(BENCH)
    assert parts.excluded == whole.excluded and parts.tried == whole.tried
    for name in ("way", "setting", "set_gauge_pa", "stance", "curve", "cost", "days"):
        assert np.array_equal(getattr(parts.front, name), getattr(whole.front, name)), name


def test_what_is_asked_for_is_no_question() -> None:
    change = Change(travel_m=0.14, spacers=2, pressure_gauge_pa=66 * PSI_PA, rear_wheel=Wheel(tyre_height_m=0.06))
    answer = options(replace(BENCH, change=change))
    assert [(o.travel_m, o.spacers, o.pressure_set_gauge_pa, o.keep) for o in answer.options] == [
        (0.14, 2, 66 * PSI_PA, None)
    ] * len(answer.options)
    assert answer.options and {o.rear_tyre_height_m for o in answer.options} == {0.06}


def test_a_bore_a_family_and_a_count_that_speak_against_a_part() -> None:
    shaft = AirShaft(kind="air shaft", gives_m=0.14)
    shelf = (
        replace(shaft, bore_m=0.0350), replace(shaft, bore_m=0.0347), replace(shaft, family="fell 34", bore_m=0.0346),
        replace(shaft, on_hand=0), replace(shaft, family="CORRIE 36"),
    )  # fmt: skip
    found = choices.of_bench(BENCH, shelf, Ends(family="Corrie 36"))
    assert found.left_out == {choices.MISFIT: 2, choices.NONE_THERE: 1}
    assert [used.number for each in found.travels for used in each.used] == [1]  # the other one does no more


def test_a_cost_that_is_not_known_counts_as_the_highest() -> None:
    shelf = (
        AirShaft(kind="air shaft", gives_m=0.14, marking="dear", cost=500.0),
        AirShaft(kind="air shaft", gives_m=0.14),
    )
    found = choices.of_bench(BENCH, shelf)
    assert [each.used[0].part.marking for each in found.travels if each.used] == ["dear"]
    (only,) = (each for each in choices.of_bench(BENCH, shelf[1:]).travels if each.used)
    assert math.isinf(only.cost)


# ------------------------------------------------------------------ drawn


def test_drawn_options_are_ranked_by_their_medians_and_left_out_by_one_draw_in_twenty() -> None:
    bench = drawn()
    found = searching.search(bench, draws=400)
    assert found.excluded["sag-range"] > 0
    made = drawing.draw(bench, 12_000, seed=91)  # other draws than the search's own
    picked = np.random.default_rng(1).choice(len(made.weights), 4_000, p=made.weights / made.weights.sum())
    design, loads, gauge = made.design.take(picked), made.loads.take(picked), made.gauge.take(picked)
    was = evaluate.evaluate(inputs.pairs(design, design), loads.load, points=None, store_curves=False)
    for k in range(min(len(found.front), 6)):
        change = found.ways.change(int(found.front.way[k]), None)
        changes = Changes.of([replace(bench, change=change)]).take(np.zeros(4_000, dtype=int))
        pressed = gauge.true_pa(np.full(4_000, float(found.front.set_gauge_pa[k])))
        after = designs.changed(design, replace(changes, asked=replace(changes.asked, pressure_gauge_pa=pressed)))
        at = evaluate.evaluate(inputs.pairs(design, after), loads.load, points=None, store_curves=False)
        share = at.sag_m[1] / after.fork.travel_m
        out = ~((share > 0.10) & (share < 0.35)) | (at.lost_m[1] >= 0.002)
        assert out.mean() <= 0.075  # of 4,000 others, where at most 5 % of the 400 did
        gaps = {
            name: (at.sagged[name][1] - was.sagged[name][0]) for name in ("head_angle_rad", "bb_height_m", "trail_m")
        }
        stance = np.sqrt(
            np.degrees(gaps["head_angle_rad"]) ** 2 + (gaps["bb_height_m"] / 8e-3) ** 2 + (gaps["trail_m"] / 8e-3) ** 2
        )
        assert found.front.stance[k] == pytest.approx(np.median(stance), abs=0.06)


def test_options_that_draws_cannot_tell_apart_say_so() -> None:
    answer = options(drawn(), draws=300)
    assert answer.assumed and answer.draws == 300
    said = {each.number: set(each.alike) for each in answer.options}
    assert any(said.values())
    assert all(number in said[other] for number, others in said.items() for other in others if other in said)


def test_a_limit_that_no_draw_moves_is_one_for_drawn_forks_too() -> None:
    assert BENCH.frame is not None
    short = replace(drawn(), frame=replace(BENCH.frame, fork_length_limit_m=0.5261))
    answer = options(short, draws=100)
    assert answer.excluded["fork-length"] > 0
    assert max(each.travel_m for each in answer.options) <= 0.15 + 1e-9


def test_of_a_fork_whose_bore_is_drawn_a_part_wider_than_the_stanchion_is_left_out() -> None:
    shelf = [
        AirShaft(kind="air shaft", gives_m=0.14, bore_m=0.039),
        AirShaft(kind="air shaft", gives_m=0.13, bore_m=0.034),
    ]
    assert choices.of_bench(drawn(), shelf).left_out == {choices.MISFIT: 1}


def test_the_spring_before_is_compared_over_the_travel_both_have() -> None:
    design = Design.of([BENCH])
    longer = designs.changed(design, Changes.of([replace(BENCH, change=Change(travel_m=0.17))]))
    was, after = (air_spring.computable(inputs.bikes(each).chambers) for each in (design, longer))
    pair = air_spring.computable(inputs.pairs(longer, longer).chambers)
    got = states.curve_off(was, air_spring.settle(was), np.zeros(1, dtype=int), pair)
    one, two = (air_spring.settle(each) for each in (was, after))
    square = quad(
        lambda x: float(air_spring.force(two, np.array([x]))[0] - air_spring.force(one, np.array([x]))[0]) ** 2,
        0,
        0.142,
    )[0]
    whole = quad(lambda x: float(air_spring.force(one, np.array([x]))[0]) ** 2, 0, 0.142)[0]
    assert got[0, 0] == pytest.approx(math.sqrt(square / whole), rel=1e-4, abs=1e-9)


def test_a_fork_on_a_coil_gets_the_springs_of_the_shelf() -> None:
    bench = topout.read(topout.examples()["coil-fork"])
    assert bench.fork is not None and bench.fork.coil is not None and bench.fork.coil.rate_n_per_m is not None
    fitted = bench.fork.coil.rate_n_per_m
    shelf: list[Part] = [
        CoilSpring(kind="coil", gives_n_per_m=fitted * share, cost=cost)
        for share, cost in ((1.0, 1.0), (1.1, 30.0), (1.2, 20.0))
    ]
    shelf.append(AirShaft(kind="air shaft", gives_m=0.15, cost=5.0))
    asked = replace(bench, change=Change(rear_wheel=Wheel(radius_m=0.36)), shelf=tuple(shelf))
    answer = options(asked)
    assert answer.excluded[choices.MISFIT] == 1
    rates = {round(each.rate_n_per_m / fitted, 3) for each in answer.options if each.rate_n_per_m}
    assert 1.0 in rates and rates <= {1.0, 1.1, 1.2}
    every = searching.search(asked)
    assert len(every.ways.choices.springs) == 3
    for each in answer.options:
        alone = plan(replace(asked, change=each.change, shelf=()))
        assert each.difference == alone.difference
        assert each.pressure_gauge_pa is None and each.keep is None
        assert not {w.code for w in alone.warnings if w.state == "after"} & HARD
