"""What is asked for is reached: put back into the bike, the pressure gives the sag or the force that was asked."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import topout
from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.planner import landing, load, replies, target
from topout.planner.design import Design
from topout.planner.results import Plan
from topout.planner.wanted import BY_SPACERS, Wanted
from topout.units import BENCH

EXAMPLES = (
    "longer-travel",
    "load-from-the-sag-found",
    "port-further-in",
    "separate-valve",
    "gas-damper",
    "piston-spacer",
)


def example(name: str) -> BenchFile:
    return topout.read(topout.examples()[name])


def filled(bench: BenchFile, gauge_pa: float, spacers: int | None) -> Plan:
    """The plan of the same change with this pressure and these spacers."""
    assert bench.change is not None and spacers is not None
    return topout.plan(replace(bench, change=replace(bench.change, pressure_gauge_pa=gauge_pa, spacers=spacers)))


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("wanted", [Wanted(sag_share=0.2), Wanted(sag_m=0.03)])
def test_the_pressure_gives_the_sag_asked(name: str, wanted: Wanted) -> None:
    (found,) = target.targets(example(name), wanted).targets
    (way,) = found.ways
    assert way.pressure_gauge_pa is not None
    sag = filled(example(name), way.pressure_gauge_pa.median, way.spacers).after.sag
    assert sag is not None and sag.front is not None
    reached = sag.front.share if wanted.sag_m is None else sag.front.travel_m
    assert reached == pytest.approx(wanted.sag_share or wanted.sag_m, rel=1e-9)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_force_at_the_end_is_reached_and_spacers_leave_the_sag(name: str) -> None:
    bench = example(name)
    as_it_is = topout.plan(bench)
    assert as_it_is.before.end_force_n is not None and as_it_is.after.sag is not None and as_it_is.after.sag.front
    (found,) = target.targets(bench, Wanted(end_force_more_n=-52.0)).targets
    first, *others = found.ways
    assert first.pressure_gauge_pa is not None
    reached = filled(bench, first.pressure_gauge_pa.median, first.spacers).after.end_force_n
    assert reached == pytest.approx(as_it_is.before.end_force_n - 52.0, rel=1e-9)
    if name == "piston-spacer":  # its sag after the change is nought, which no pressure keeps
        assert not others
        return
    assert others and {way.by for way in others} == {BY_SPACERS}
    for way in others:
        assert way.pressure_gauge_pa is not None and way.end_force_n is not None
        after = filled(bench, way.pressure_gauge_pa.median, way.spacers).after
        assert after.sag is not None and after.sag.front is not None
        assert after.sag.front.travel_m == pytest.approx(as_it_is.after.sag.front.travel_m, rel=1e-9)
        assert after.end_force_n == pytest.approx(way.end_force_n.median, rel=1e-9)


def test_the_nearest_spacers_stand_first() -> None:
    """Every count up to the file's limit worked out by the plan itself: no other comes nearer."""
    bench = example("longer-travel")
    assert bench.change is not None and bench.fork is not None and bench.fork.air is not None
    (found,) = target.targets(bench, Wanted(end_force_n=2150.0)).targets
    nearest = next(way for way in found.ways if way.by == BY_SPACERS)
    by_hand = {}
    for count in range((bench.fork.air.spacer_limit or target.MOST_SPACERS) + 1):
        sag_asked = replace(bench, change=replace(bench.change, spacers=count))
        kept = target.targets(sag_asked, Wanted(sag_m=topout.plan(bench).after.sag.front.travel_m)).targets[0].ways  # type: ignore[union-attr]
        if kept and kept[0].end_force_n is not None:
            by_hand[count] = abs(kept[0].end_force_n.median - 2150.0)
    assert nearest.spacers == min(by_hand, key=by_hand.__getitem__)


def test_over_the_makers_limit_is_marked() -> None:
    bench = example("longer-travel")
    assert bench.fork is not None and bench.fork.air is not None
    tight = replace(bench, fork=replace(bench.fork, air=replace(bench.fork.air, pressure_limit_gauge_pa=3e5)))
    assert not target.targets(bench, Wanted(sag_share=0.2)).targets[0].ways[0].over
    assert target.targets(tight, Wanted(sag_share=0.2)).targets[0].ways[0].over


def test_what_can_not_be_asked_is_refused() -> None:
    with pytest.raises(FaultsFound, match="inside the travel"):
        target.targets(example("longer-travel"), Wanted(sag_m=0.2))
    bench = example("longer-travel")
    with pytest.raises(FaultsFound, match="rider"):
        target.targets(replace(bench, rider=None, found=None), Wanted(sag_share=0.2))


def test_a_locked_build_has_no_way() -> None:
    found = target.targets(example("locks-with-five-spacers"), Wanted(sag_share=0.2))
    assert found.targets[0].ways == ()
    assert landing.landing(example("locks-with-five-spacers")).after is None


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_mass_dropped_from_there_just_uses_the_travel(name: str) -> None:
    """Second way: the sprung mass's motion onto the curve of the quick stroke, integrated in time to where it stops."""
    bench = example(name)
    told = landing.landing(bench).before
    assert told is not None and bench.fork is not None and bench.fork.travel_m is not None
    curve = topout.curve(bench, points=4001)
    weight_n = float(load.loads(Design.of([bench])).load.side_n[0])
    # The axis turns as it sinks; the drop is reckoned with its angle half-way in.
    mass_kg = weight_n / 9.80665
    sink = bench.fork.travel_m
    sin = np.sin(_half_way_angle_rad(bench))

    def motion(_: float, state: np.ndarray) -> list[float]:
        down_m, speed = state
        push_n = float(np.interp(down_m / sin, curve.travel_m, curve.force_fast_n)) / sin
        return [speed, 9.80665 - push_n / mass_kg]

    def stops(_: float, state: np.ndarray) -> float:
        return float(state[1])

    stops.terminal = True  # type: ignore[attr-defined]

    def deepest_m(drop_m: float) -> float:
        start = [0.0, float(np.sqrt(2.0 * 9.80665 * drop_m))]
        end = solve_ivp(motion, (0.0, 2.0), start, events=stops, rtol=1e-9, atol=1e-10, max_step=1e-3)
        return float(end.y_events[0][0][0]) / sin

    assert deepest_m(0.98 * told.median) < sink and deepest_m(0.9999 * told.median) == pytest.approx(sink, rel=1e-3)


def _half_way_angle_rad(bench: BenchFile) -> float:
    """The head angle with the fork half its travel in, by a plan for a fork that much shorter."""
    assert bench.fork is not None and bench.fork.travel_m is not None
    shorter = replace(bench, found=None, change=None)
    length_m = bench.fork.length_m if bench.fork.length_m is not None else bench.frame.fork_length_m  # type: ignore[union-attr]
    assert length_m is not None
    shorter = replace(shorter, fork=replace(bench.fork, length_m=length_m - 0.5 * bench.fork.travel_m))
    return topout.geometry(shorter).unloaded.head_angle_rad


def test_what_is_not_known_exactly_has_limits_around_the_exact_answer() -> None:
    """A rider known to ± 4 kg: the middle is the exact file's answer, and the limits are those of the two masses."""
    exact = example("longer-travel")
    text = topout.examples()["longer-travel"].read_text("utf-8")
    assert 'mass = "80 kg"' in text
    loose = {
        mass: read.read_text(text.replace('mass = "80 kg"', f'mass = "{mass}"'))
        for mass in ("80 ± 4 kg", "76 kg", "84 kg")
    }
    told = target.targets(loose["80 ± 4 kg"], Wanted(sag_share=0.2)).targets[0].ways[0].pressure_gauge_pa
    one, lighter, heavier = (
        target.targets(bench, Wanted(sag_share=0.2)).targets[0].ways[0].pressure_gauge_pa
        for bench in (exact, loose["76 kg"], loose["84 kg"])
    )
    assert told and one and lighter and heavier
    assert told.median == pytest.approx(one.median, rel=0.01)
    assert told.low95 < lighter.median and told.high95 > heavier.median  # the front share is loose too
    drop = landing.landing(loose["80 ± 4 kg"])
    assert drop.drawn and drop.after is not None and drop.after.low95 < drop.after.median < drop.after.high95


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize(
    ("wanted", "figure"),
    [
        (Wanted(head_angle_rad=math.radians(64.6)), "head_angle_rad"),
        (Wanted(trail_m=0.118), "trail_m"),
        (Wanted(bb_height_m=0.345), "bb_height_m"),
    ],
)
def test_a_fork_of_that_length_gives_the_stance_asked(name: str, wanted: Wanted, figure: str) -> None:
    bench = example(name)
    (found,) = target.targets(bench, wanted).stance
    assert found.fork.fork_length_m is not None and bench.change is not None and bench.fork is not None
    longer = replace(bench, change=replace(bench.change, travel_m=None, fork_length_m=found.fork.fork_length_m))
    stands = topout.plan(longer).after.geometry
    assert stands is not None
    assert getattr(stands.unloaded, figure) == pytest.approx(found.wanted, rel=1e-9)
    assert found.fork.travel_m is not None and bench.fork.travel_m is not None
    steps = (found.fork.travel_m - bench.fork.travel_m) / 0.010
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_a_stance_needs_no_spring_but_its_frame() -> None:
    bench = example("longer-travel")
    assert bench.fork is not None
    bare = replace(bench, fork=replace(bench.fork, air=None), rider=None, found=None)
    assert target.targets(bare, Wanted(trail_m=0.118)).stance[0].fork.fork_length_m is not None
    with pytest.raises(FaultsFound, match="frame"):
        target.targets(replace(bare, frame=None), Wanted(trail_m=0.118))


def test_a_fork_beyond_the_frames_limit_is_named_not_advised() -> None:
    bench = example("longer-travel")
    assert bench.frame is not None
    tight = replace(bench, frame=replace(bench.frame, fork_length_limit_m=0.55))
    told = replies.to_targets(target.targets(tight, Wanted(head_angle_rad=math.radians(64.0))), BENCH)
    assert told.first[0].startswith("! ") and "limit of 550 mm" in told.first[0].replace("\xa0", " ")
    free = replies.to_targets(target.targets(bench, Wanted(head_angle_rad=math.radians(65.4))), BENCH)
    assert "fit a fork" in free.first[0]


@pytest.mark.parametrize("wanted", [Wanted(sag_share=0.2), Wanted(sag_m=0.03), Wanted(end_force_n=2000.0)])
def test_a_coil_gets_its_rate_or_its_preload(wanted: Wanted) -> None:
    """Put back into the bike, the plan's own sag and end force are those that were asked for."""
    bench = example("coil-fork")
    (found,) = target.targets(bench, wanted).targets
    assert [way.by for way in found.ways][0] == "rate" and bench.change is not None
    for way in found.ways:
        setting = {"rate_n_per_m": way.rate_n_per_m.median} if way.rate_n_per_m else {"preload_m": way.preload_m.median}  # type: ignore[union-attr]
        plan = topout.plan(replace(bench, change=replace(bench.change, coil={**(bench.change.coil or {}), **setting})))
        assert plan.after.sag is not None and plan.after.sag.front is not None
        reached = {
            "sag-share": plan.after.sag.front.share, "sag": plan.after.sag.front.travel_m, "end-force": plan.after.end_force_n,
        }[found.asked]  # fmt: skip
        assert found.wanted is not None and reached == pytest.approx(found.wanted.median, rel=1e-9)


@pytest.mark.parametrize("wanted", [Wanted(rear_share=0.28), Wanted(rear_sag_m=0.012)])
def test_the_shock_rests_where_it_is_asked_to(wanted: Wanted) -> None:
    """Put back into the bike, the plan's own rear sag is the one asked for, of the stroke; the wheel's share is another."""
    bench = example("rear-shock")
    (found,) = target.targets(bench, wanted).rear
    assert found.pressure_gauge_pa is not None and found.rate_n_per_m is None and bench.change is not None
    assert (
        found.share_of_stroke is not None and found.share_of_wheel_travel is not None and bench.change.shock is not None
    )
    set_so = replace(bench.change.shock, pressure_gauge_pa=found.pressure_gauge_pa.median)
    rear = topout.plan(replace(bench, change=replace(bench.change, shock=set_so))).after.sag
    assert rear is not None and rear.rear is not None and found.wheel_m is not None
    assert rear.rear.share_of_stroke == pytest.approx(found.share_of_stroke.median, rel=1e-9)
    assert rear.rear.share_of_wheel_travel == pytest.approx(found.share_of_wheel_travel.median, rel=1e-9)
    assert rear.rear.travel_m == pytest.approx(found.wheel_m.median, rel=1e-9)
    assert found.share_of_wheel_travel.median > found.share_of_stroke.median + 0.01  # a linkage that falls


def test_the_coil_rate_of_the_trade_for_a_rear_sag() -> None:
    """trade.md 10 row 17, derived there: 80 kg, 65 % behind, ratio 2.5, 30 % of 60 mm want 70.8 N/mm (404 lb/in)."""
    text = """
    [rider]
    mass = "77 kg"
    front_share = 0.35
    [bike]
    mass = "3 kg"
    unsprung_front = "0 kg"
    unsprung_rear = "0 kg"
    [frame]
    head_angle = "65 deg"
    reach = "475 mm"
    stack = "630 mm"
    chainstay = "438 mm"
    bb_drop = "28 mm"
    fork_length = "556 mm"
    fork_offset = "44 mm"
    front_radius = "371 mm"
    rear_radius = "371 mm"
    [shock]
    length = "230 mm"
    stroke = "60 mm"
    leverage = [["0 mm", 2.5], ["150 mm", 2.5]]
    [shock.coil]
    rate = "60 N/mm"
    """
    (found,) = target.targets(read.read_text(text), Wanted(rear_share=0.30)).rear
    assert found.rate_n_per_m is not None and found.pressure_gauge_pa is None
    assert found.rate_n_per_m.median == pytest.approx(70.8e3, rel=0.005)


def test_a_rear_sag_needs_a_shock_and_lies_inside_its_stroke() -> None:
    with pytest.raises(FaultsFound, match="shock"):
        target.targets(example("longer-travel"), Wanted(rear_share=0.3))
    with pytest.raises(FaultsFound, match="inside the shock"):
        target.targets(example("rear-shock"), Wanted(rear_sag_m=0.08))


def test_a_sag_out_of_range_at_both_ends_is_named_at_both_at_once() -> None:
    with pytest.raises(FaultsFound) as told:
        target.targets(example("rear-shock"), Wanted(sag_m=0.29, rear_sag_m=0.08, end_force_n=1500.0))
    assert [fault.location for fault in told.value.faults] == ["--sag", "--rear-sag"]
    with pytest.raises(FaultsFound) as told:
        target.targets(example("longer-travel"), Wanted(sag_m=0.29, rear_share=0.3))
    assert [fault.location for fault in told.value.faults] == ["--sag", "[shock]"]
