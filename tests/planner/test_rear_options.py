"""The search behind: its front and what it leaves out, held against plans made one by one, at air cans, coils and both ends."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

import topout
from planner import rear_shelves, shelves
from planner.rear_shelves import AIR, COIL, asking
from topout.bench_file.model import BenchFile, Change, ShockChange, Wheel
from topout.bench_file.parts import CoilSpring, Part, StrokeReducer, Tyre, VolumeSpacer
from topout.errors import FaultsFound
from topout.planner import drawn as drawing
from topout.planner import rear_plan
from topout.planner.design import Changes, changed
from topout.planner.options import broken, choices, front
from topout.planner.options import ends as ends_of
from topout.planner.options import search as searching
from topout.planner.options.answer import options
from topout.planner.options.ends import Ends
from topout.planner.plan import plan
from topout.planner.wanted import Wanted
from topout.units import PSI_PA

HARD = frozenset(broken.OF_SHOCK) - {"no-pressure"}
REAR = Ends(front=False, rear=True)
# What each count of spacers takes of the shelf: 2 of 8 ml for 7 and at once, one of 8 and one that is waited for are not mixed.
SMALL: tuple[Part, ...] = (
    VolumeSpacer(kind="volume spacer", gives_m3=8e-6, bore_m=0.046, cost=7.0, on_hand=2),
    VolumeSpacer(kind="volume spacer", gives_m3=8.5e-6, bore_m=0.0346, cost=1.0, on_hand=9),
    StrokeReducer(kind="stroke reducer", gives_m=0.0025, cost=6.0, on_hand=1),
    CoilSpring(kind="coil", end="rear", gives_n_per_m=80e3, cost=3.0),
)


def axes(bench: BenchFile, was: Any, at: Any) -> tuple[float, float]:
    """Stance and curve of a plan beside the bike as it is, from the plan's own figures: straight lines between 2,001 points."""
    gap = at.difference["geometry"]["sagged"]
    stance = math.sqrt(gap["head_angle_deg"] ** 2 + (gap["bb_height_m"] / 8e-3) ** 2 + (gap["trail_m"] / 8e-3) ** 2)
    a, b = was.shock_before, at.shock_after
    assert bench.shock is not None and bench.shock.bumper is not None and bench.shock.bumper.length_m is not None
    stroke = min(a.travel_m[-1], b.travel_m[-1]) - bench.shock.bumper.length_m
    w = np.linspace(0.0, float(np.interp(stroke, a.travel_m, a.wheel_travel_m)), 2001)
    one, two = (np.interp(w, each.wheel_travel_m, each.wheel_force_n) for each in (a, b))
    return stance, math.sqrt(np.trapezoid((two - one) ** 2, w) / np.trapezoid(one**2, w))


def by_hand(bench: BenchFile) -> tuple[list[tuple[float, ...]], Counter[str]]:
    """Every setting behind tried as a plan of its own: (stance, curve, cost, days, stroke, spacers, pressure), what excluded how many."""
    assert bench.shock is not None and bench.shock.air is not None and bench.shock.stroke_m is not None
    fitted = bench.shock.air.pressure_gauge_pa
    assert fitted is not None
    strokes = {bench.shock.stroke_m: 0.0, bench.shock.stroke_m - 0.0025: 6.0}
    counts = {
        0: (0.0, None),
        1: (0.0, None),
        2: (7.0, 7e-6),
        3: (14.0, 22e-6 / 3),
        4: (math.inf, None),
        5: (math.inf, None),
    }
    found: list[tuple[float, ...]] = []
    excluded = Counter[str]()
    was = plan(bench, curves=True)
    for (stroke, c1), (count, (c2, each)) in itertools.product(strokes.items(), counts.items()):
        asked = ShockChange(stroke_m=stroke, spacers=count, spacer_volume_m3=each)
        here = plan(replace(bench, change=replace(bench.change or Change(), shock=asked)))
        assert here.rear is not None
        kept = [getattr(here.rear.keep, name).pressure_pa for name in ("sag_share", "sag", "curve", "end_force")]
        shown = [None if pa is None else round(pa / PSI_PA) * PSI_PA for pa in kept] + [fitted]
        if {w.code for w in here.warnings if w.state == "after"} & {"hydraulic-lock", "spacer-limit"}:
            excluded.update(
                f"rear-{code}"
                for code in {w.code for w in here.warnings if w.state == "after"} & {"hydraulic-lock", "spacer-limit"}
                for _ in {None if pa is None else round(pa) for pa in shown}
            )
            continue
        excluded["rear-no-pressure"] += shown.count(None)
        for pressure in {round(p): p for p in shown if p is not None}.values():
            there = replace(bench.change or Change(), shock=replace(asked, pressure_gauge_pa=pressure))
            at = plan(replace(bench, change=there), curves=True)
            broken_here = {w.code for w in at.warnings if w.state == "after"} & HARD
            excluded.update(f"rear-{code}" for code in broken_here)
            if not broken_here:
                cost, days = c1 + c2, math.inf if math.isinf(c2) else 0.0
                found.append((*axes(bench, was, at), cost, days, stroke, count, pressure))
    return found, excluded


def beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(a <= b for a, b in zip(one, other, strict=True)) and one != other


@pytest.mark.parametrize("pressure_limit_psi", [pytest.param(350.0, marks=pytest.mark.soak), 160.0])
def test_the_search_behind_finds_what_plans_made_one_by_one_find(pressure_limit_psi: float) -> None:
    assert AIR.shock is not None and AIR.shock.air is not None
    can = replace(AIR.shock.air, pressure_limit_gauge_pa=pressure_limit_psi * PSI_PA)
    smaller = Change(
        rear_wheel=Wheel(radius_m=0.362)
    )  # a rear wheel that sits lower: less sag behind would make up for it
    bench = replace(AIR, shelf=SMALL, change=smaller, shock=replace(AIR.shock, air=can))
    all_by_hand, excluded = by_hand(bench)
    found = searching.search(bench, ends=REAR)
    # A fork's spacer and a coil do not fit the can.
    assert found.excluded[choices.MISFIT] == 2
    assert {code: n for code, n in found.excluded.items() if code != choices.MISFIT} == {
        k: n for k, n in excluded.items() if n
    }
    got = {
        (round(w.chosen(int(k))[6].value, 4), int(w.chosen(int(k))[7].value), round(float(p)), float(c))
        for w in [found.ways]
        for k, p, c in zip(found.front.way, found.front.rear_set_gauge_pa, found.front.cost, strict=True)
    }
    steps = [
        (round(s / front.STANCE_STEP), round(c / front.CURVE_STEP), cost, days) for s, c, cost, days, *_ in all_by_hand
    ]
    unbeaten = {
        (round(row[4], 4), row[5], round(row[6]), row[2])
        for row, one in zip(all_by_hand, steps, strict=True)
        if not any(beats(other, one) for other in steps)
        and not any(beats(other[:4], row[:4]) for other, same in zip(all_by_hand, steps, strict=True) if same == one)
    }
    assert got == unbeaten
    assert len(got) > 1
    was = plan(bench, curves=True)
    for each in options(bench, end="rear").options:  # the figures are the plan's own, to the last bit
        alone = plan(replace(bench, change=each.change), curves=True)
        assert each.difference == alone.difference
        stance, curve = axes(bench, was, alone)
        assert each.stance == pytest.approx(stance, rel=1e-9, abs=1e-9)
        assert each.curve == pytest.approx(curve, rel=5e-3, abs=3e-4)


FRONT = settings(max_examples=2, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))


@FRONT
@given(shelf=rear_shelves.shelves(200))
def test_nothing_on_the_front_behind_breaks_a_limit_or_is_beaten(shelf: list[Part]) -> None:
    front_behind_holds(shelf)


@pytest.mark.soak
@settings(FRONT, max_examples=60, derandomize=False)
@given(shelf=rear_shelves.shelves(200))
def test_nothing_of_more_shelves_on_the_front_behind_breaks_a_limit_or_is_beaten(shelf: list[Part]) -> None:
    front_behind_holds(shelf)


def front_behind_holds(shelf: list[Part]) -> None:
    ends = Ends(front=False, rear=True, family="Fell 34", rear_family="Corrie 36")
    for bench in (replace(AIR, change=None), COIL):
        found = searching.search(bench, shelf, ends=ends)
        # What the fork breaks as it is no option behind can mend: its own are asked of a plan without the change.
        own = {w.text for w in plan(replace(bench, change=None)).warnings}
        every = front.empty()
        for first in range(0, len(found.ways), 500):
            numbers = np.arange(first, min(first + 500, len(found.ways)))
            every = every.beside(searching.chunk(found.question, numbers)[0])
        points, best = (np.stack((r.stance, r.curve, r.cost, r.days), axis=1) for r in (every, found.front))
        for point in best:
            assert not ((points <= point).all(axis=1) & (points < point).any(axis=1)).any()
        for k in range(0, len(found.front), max(1, len(found.front) // 6)):
            rear_pa = float(found.front.rear_set_gauge_pa[k])
            change = found.ways.change(int(found.front.way[k]), None, None if math.isnan(rear_pa) else rear_pa)
            warned = plan(replace(bench, change=change)).warnings
            assert not {w.code for w in warned if w.state == "after" and w.text not in own} & HARD
            for used in (used for each in found.ways.chosen(int(found.front.way[k])) for used in each.used):
                part = used.part
                assert shelf[used.number] is part and part.end in (None, "rear")
                assert part.family in (None, "Corrie 36")
                assert part.bore_m in (None, 0.046)
                assert part.on_hand >= used.count or part.waiting_days is not None


def test_a_coil_that_would_bind_is_left_out_however_it_is_wound_up() -> None:
    found = searching.search(COIL, ends=REAR)
    # 65 N/mm goes 55.5 mm: at a stroke of 55 mm not with 1, 2 or 3 mm of preload, at 52.5 mm with all of them.
    assert found.excluded["rear-coil-bind"] == 3
    every = searching.chunk(found.question, np.arange(len(found.ways)))[0]
    soft = [found.ways.chosen(int(k)) for k in every.way if found.ways.chosen(int(k))[8].value == 65e3]
    assert soft and {round(each[6].value, 6) for each in soft} == {0.0525}
    answer = options(COIL, end="rear", wanted=Wanted(rear_share=0.30))
    assert answer.options and "rear-coil-bind" in answer.not_looked_at  # of 88 N/mm nobody knows where it binds
    for each in answer.options:
        alone = plan(replace(COIL, change=each.change, shelf=()))
        assert each.difference == alone.difference and each.rear is not None and each.rear.pressure_set_gauge_pa is None


def test_what_is_asked_of_the_shock_is_no_question() -> None:
    asked = asking(AIR, stroke_m=0.0525, spacers=2, pressure_gauge_pa=140 * PSI_PA)
    answer = options(asked)
    assert answer.ends == REAR
    assert [
        (o.rear.stroke_m, o.rear.spacers, o.rear.pressure_set_gauge_pa, o.rear.keep) for o in answer.options if o.rear
    ] == [(0.0525, 2, 140 * PSI_PA, None)] * len(answer.options)
    assert answer.options and {u.part.kind for o in answer.options for u in o.parts} == {
        "volume spacer",
        "stroke reducer",
    }


def test_more_spacers_asked_for_than_the_can_takes_leave_no_way() -> None:
    too_many = options(asking(AIR, spacers=6))
    assert not too_many.options and too_many.excluded["rear-spacer-limit"] > 0


def test_stroke_that_nobody_asked_to_give_up_comes_last() -> None:
    strokes = [each.rear.stroke_m for each in options(AIR, end="rear").options if each.rear]
    assert len(set(strokes)) > 1 and strokes == sorted(strokes, reverse=True)


def test_two_ways_that_nobody_can_tell_apart_say_so_and_two_ends_are_told_apart() -> None:
    spacer = VolumeSpacer(kind="volume spacer", gives_m3=8e-6, bore_m=0.046, cost=7.0)
    shelf = (
        spacer,
        replace(spacer, gives_m3=8.05e-6, cost=3.0, on_hand=0, waiting_days=2),
        replace(spacer, gives_m3=16e-6, cost=1.0, on_hand=0, waiting_days=9),
    )
    answer = options(asking(replace(AIR, shelf=shelf), spacers=2), end="rear")
    by_cost: dict[float | None, list[Any]] = {}
    for each in answer.options:
        by_cost.setdefault(each.cost, []).append(each)
    assert set(by_cost) == {7.0, 3.0, 1.0}
    assert any(other.number in each.alike for each in by_cost[7.0] for other in by_cost[3.0])
    assert not any(other.number in each.alike for each in by_cost[7.0] for other in by_cost[1.0])
    # Over the travel both have a shorter stroke springs alike; at its end it does not.
    every = options(asking(AIR, spacers=2), end="rear").options
    ends_n = [each.plan.after.rear.wheel_end_force_n for each in every if each.plan.after.rear]
    assert len(ends_n) == len(every) and len({each.rear.stroke_m for each in every if each.rear}) > 1
    for each, one in zip(every, ends_n, strict=True):
        for other in each.alike:
            assert one and abs((ends_n[other - 1] or 0.0) / one - 1.0) < 0.04, (each.number, other)


# ------------------------------------------------------------------ what is wanted


@pytest.mark.parametrize(("bench", "end"), [(AIR, "rear"), (COIL, "rear"), (AIR, "both")])
def test_the_first_is_the_nearest_to_what_is_wanted_of_all_that_may_be(bench: BenchFile, end: Any) -> None:
    asked = replace(bench, change=None, shelf=bench.shelf if end == "rear" else ())
    answer = options(asked, end=end, wanted=Wanted(rear_share=0.28, sag_share=0.20 if end == "both" else None))
    misses = []
    for each in answer.options[:5]:
        sag = plan(replace(asked, change=each.change, shelf=())).after.sag
        assert (
            sag is not None and sag.rear is not None and sag.rear.share_of_stroke is not None and sag.front is not None
        )
        behind, ahead = (sag.rear.share_of_stroke - 0.28) / 0.05, (sag.front.share or 0.0) - 0.20
        misses.append(math.hypot(behind, ahead / 0.05 if end == "both" else 0.0))
        assert each.miss == pytest.approx(misses[-1], abs=1e-9)
    found = searching.search(asked, ends=answer.ends, wanted=answer.wanted)
    every = searching.chunk(found.question, np.arange(len(found.ways)))[0]
    whole = every.stance[every.given_up_m == 0.0]
    assert answer.options[0].miss is not None and answer.options[0].miss <= float(whole.min()) + front.STANCE_STEP
    if bench is AIR:  # a gauge of 1 psi comes as near as that
        assert misses[0] < 0.15 and answer.options[0].rear is not None and answer.options[0].rear.keep == "wanted"


@pytest.mark.parametrize(
    "wanted",
    [{"end_force_more_n": -52.0}, {"end_force_n": 1500.0}, {"sag_m": 0.030}, {"head_angle_rad": math.radians(64.0)}],
)
def test_what_topout_target_takes_is_reached_in_front(wanted: dict[str, float]) -> None:
    bench = replace(shelves.BENCH, change=None)
    answer = options(bench, wanted=Wanted(**wanted))
    first = plan(replace(bench, change=answer.options[0].change))
    assert first.after.geometry is not None and first.after.sag is not None and first.after.sag.front is not None
    assert first.before.end_force_n is not None and first.after.end_force_n is not None
    off = {
        "end_force_more_n": abs(first.after.end_force_n - first.before.end_force_n + 52.0) / 25.0,
        "end_force_n": abs(first.after.end_force_n - 1500.0) / 25.0,
        "sag_m": abs(first.after.sag.front.travel_m - 0.030) / 0.4e-3,
        # a shaft of 10 mm steps and the frame's limit come no nearer than half a degree
        "head_angle_rad": abs(first.after.geometry.unloaded.head_angle_rad - math.radians(64.0)) / math.radians(1.2),
    }
    (name,) = wanted
    assert off[name] < 1.0, (off, answer.options[0].miss)


def test_what_can_not_be_wanted_is_said() -> None:
    for bench, end, wanted, said in (
        (shelves.BENCH, None, Wanted(rear_share=0.3), "[shock]"),
        (AIR, "front", Wanted(rear_share=0.3), "reached at the shock, which is not looked at"),
        (AIR, "rear", Wanted(sag_share=0.3), "reached at the fork, which"),
        (AIR, "rear", Wanted(head_angle_rad=1.1), "reached at the fork, which"),
        (AIR, None, Wanted(rear_sag_m=0.06), "inside the shock’s stroke"),
        (AIR, None, Wanted(sag_m=0.2), "inside the travel"),
    ):
        with pytest.raises(FaultsFound) as raised:
            options(bench, end=end, wanted=wanted)  # type: ignore[arg-type]
        assert said in str(raised.value), said


# ------------------------------------------------------------------ both ends, and the front of a bike with a shock


def test_both_ends_together_are_what_plans_of_both_say() -> None:
    tyre = Tyre(kind="tyre", gives_m=0.056, bore_m=0.622, cost=40.0)
    wheels = replace(
        AIR,
        front_wheel=Wheel(bead_seat_m=0.622, tyre_height_m=0.060),
        rear_wheel=Wheel(bead_seat_m=0.622, tyre_height_m=0.060),
    )
    bench = replace(wheels, shelf=(*SMALL, tyre), change=Change(travel_m=0.14, spacers=2, shock=ShockChange(spacers=2)))
    found = searching.search(bench, ends=Ends(rear=True))
    every = searching.chunk(found.question, np.arange(len(found.ways)))[0]
    points = np.stack((every.stance, every.curve, every.cost, every.days), axis=1)
    for point in np.stack((found.front.stance, found.front.curve, found.front.cost, found.front.days), axis=1):
        assert not ((points <= point).all(axis=1) & (points < point).any(axis=1)).any()
    # One tyre lies there: in front or behind, never both.
    both = [w for w in (found.ways.chosen(int(k)) for k in every.way) if w[3].used and w[4].used]
    assert not both and found.excluded[choices.NONE_THERE] > 0
    was = plan(replace(bench, change=None), curves=True)
    answer = options(bench, end="both")
    assert answer.options and {o.pressure_set_gauge_pa is None for o in answer.options} == {False}
    for each in answer.options:
        alone = plan(replace(bench, change=each.change, shelf=()), curves=True)
        assert each.difference == alone.difference
        stance, behind = axes(bench, was, alone)
        assert each.stance == pytest.approx(stance, rel=1e-9, abs=1e-9)
        assert was.curve_before is not None and alone.curve_after is not None
        x = np.linspace(0.0, 0.14, 2001)
        one, two = (np.interp(x, c.travel_m, c.force_n) for c in (was.curve_before, alone.curve_after))
        ahead = math.sqrt(np.trapezoid((two - one) ** 2, x) / np.trapezoid(one**2, x))
        assert each.curve == pytest.approx(math.hypot(ahead, behind), rel=1e-2, abs=5e-4)


def test_the_front_of_a_bike_with_a_shock_stands_on_its_rear_sag() -> None:
    softer = ShockChange(pressure_gauge_pa=135 * PSI_PA)  # asked for behind, so no question there
    bench = replace(AIR, change=Change(travel_m=0.16, shock=softer), shelf=())
    answer = options(bench, end="front")
    assert answer.ends == ends_of.FRONT and answer.options
    ranked = searching.search(bench, ends=Ends()).front.stance  # what they are ranked by is what is said of them
    for each, near in zip(answer.options, ranked, strict=True):
        assert each.rear is None and each.stance == pytest.approx(float(near), rel=1e-9)
        assert each.difference == plan(replace(bench, change=each.change)).difference
        gap = each.difference["geometry"]["sagged"]
        stance = math.hypot(gap["head_angle_deg"], gap["bb_height_m"] / 8e-3, gap["trail_m"] / 8e-3)
        assert each.stance == pytest.approx(stance, rel=1e-9)


def test_a_shock_whose_fork_nobody_knows_stands_with_the_fork_extended() -> None:
    bench = replace(AIR, fork=None)
    answer = options(bench)
    assert not answer.forked and answer.ends == REAR and answer.options
    was = topout.geometry(replace(bench, change=None, shelf=()))
    assert answer.options[0].facts["head_angle"].before_si != pytest.approx(was.unloaded.head_angle_rad, abs=1e-3)
    for each in answer.options[:4]:
        assert each.facts["head_angle"].both and each.stance > 0.0
        assert each.rear is not None and "fork" not in each.given_up


def test_chunks_change_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = replace(AIR, change=None)
    whole = searching.search(bench, ends=REAR)
    monkeypatch.setattr(searching, "ROWS", 7)
    parts = searching.search(bench, ends=REAR)
    assert parts.excluded == whole.excluded and parts.tried == whole.tried
    for name in ("way", "setting", "rear_set_gauge_pa", "stance", "curve", "cost", "days"):
        assert np.array_equal(getattr(parts.front, name), getattr(whole.front, name)), name


# ------------------------------------------------------------------ drawn


def test_drawn_cans_are_ranked_by_their_medians_and_left_out_by_one_draw_in_twenty() -> None:
    known = rear_shelves.drawn()
    assert known.shock is not None
    # Sag behind a third of the stroke: what keeps it passes 35 % in more than one draw in twenty, in fewer than half.
    bench = replace(known, shock=replace(known.shock, sag_m=0.0186), change=Change(rear_wheel=Wheel(radius_m=0.362)))
    found = searching.search(bench, ends=REAR, wanted=Wanted(rear_share=0.31), draws=300)
    assert found.excluded["rear-sag-range"] > 0
    made = drawing.draw(bench, 12_000, seed=91)  # other draws than the search's own
    picked = np.random.default_rng(1).choice(len(made.weights), 4_000, p=made.weights / made.weights.sum())
    design, loads, gauge = made.design.take(picked), made.loads.take(picked), made.gauge.take(picked)
    assert len(found.front) and loads.behind_n is not None
    for k in range(min(len(found.front), 5)):
        change = found.ways.change(int(found.front.way[k]), None, None)
        changes = Changes.of([replace(bench, change=change)]).take(np.zeros(4_000, dtype=int))
        pressed = gauge.true_pa(np.full(4_000, float(found.front.rear_set_gauge_pa[k])))
        after = changed(design, replace(changes, shock=replace(changes.shock, pressure_gauge_pa=pressed)))
        at = rear_plan.evaluate(design, after, loads.behind_n)
        assert at is not None
        share = at.rests.stroke_m[1] / at.of.chambers.travel_m[1]
        out = ~((share > 0.10) & (share < 0.35)) | (at.lost_m[1] >= 0.002)
        assert out.mean() <= 0.075  # of 4,000 others, where at most 5 % of the 300 did
    answer = options(bench, end="rear", wanted=Wanted(rear_share=0.31), draws=300)
    assert answer.draws == 300 and any(key.startswith("shock.air") for key in answer.assumed)
    for each in answer.options:
        assert each.rear is not None and each.facts["rear_share"].both and each.plan.rear is not None
