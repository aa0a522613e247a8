"""Each warning at its limit, beyond it and short of it. Limits: docs/bench-file.md."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from planner.fork import bench
from topout.bench_file import read, write
from topout.bench_file.model import Air, BenchFile
from topout.planner import limits, load, state
from topout.planner.design import Design
from topout.planner.plan import plan
from topout.units import PSI_PA


def raised(file: BenchFile) -> set[tuple[str, str]]:
    return {(w.code, w.state) for w in plan(file).warnings}


def codes(file: BenchFile) -> set[str]:
    return {code for code, _ in raised(file)}


def test_a_quiet_bike_is_warned_of_its_assumed_load_alone() -> None:
    assert codes(bench(change="spacers = 1")) == {"load-assumed"}


@pytest.mark.parametrize(
    ("room_mm", "over_mm", "warned"),
    [("526", "0", True), ("526.1", "0", False), ("528", "2", True), ("528.1", "2", False)],
)
def test_tyre_to_crown_at_six_millimetres(room_mm: str, over_mm: str, warned: bool) -> None:
    fork = f'travel = "150 mm"\ntyre_room = "{room_mm} mm"\novertravel = "{over_mm} mm"'
    assert (("tyre-crown", "before") in raised(bench(fork=fork))) is warned


def test_brace_and_frame_look_at_the_same_limit() -> None:
    assert ("tyre-brace", "after") in raised(bench(fork='+brace_room = "376 mm"'))
    assert ("tyre-brace", "after") not in raised(bench(fork='+brace_room = "376.1 mm"'))
    assert ("tyre-frame", "after") in raised(bench(frame='+rear_tyre_room = "376 mm"'))
    assert ("tyre-frame", "after") not in raised(bench(frame='+rear_tyre_room = "376.1 mm"'))


def test_a_taller_tyre_is_warned_of_after_and_not_before() -> None:
    file = bench(fork='travel = "150 mm"\ntyre_room = "528 mm"', change__front_wheel='radius = "374 mm"')
    assert ("tyre-crown", "after") in raised(file)
    assert ("tyre-crown", "before") not in raised(file)


@pytest.mark.parametrize(("psi", "warned"), [("70", False), ("69.9", True)])
def test_pressure_limit_is_passed_not_reached(psi: str, warned: bool) -> None:
    assert ("pressure-limit" in codes(bench(fork__air=f'+pressure_limit = "{psi} psi"'))) is warned


@pytest.mark.parametrize(("limit", "warned"), [("150", False), ("149.9", True)])
def test_travel_and_fork_length_limits(limit: str, warned: bool) -> None:
    assert ("travel-limit" in codes(bench(fork=f'+travel_limit = "{limit} mm"'))) is warned
    length = float(limit) + 390
    assert ("fork-length" in codes(bench(frame=f'+fork_length_limit = "{length} mm"'))) is warned


def test_spacers_beyond_the_makers_count() -> None:
    assert ("spacer-limit", "after") in raised(bench(fork__air="+spacer_limit = 2", change="spacers = 3"))
    assert "spacer-limit" not in codes(bench(fork__air="+spacer_limit = 2", change="spacers = 2"))


def test_bottom_bracket_and_head_angle_by_a_longer_fork() -> None:
    assert {"bb-change", "head-angle-change"} <= codes(bench(change='fork_length = "565 mm"'))
    assert not {"bb-change", "head-angle-change"} & codes(bench(change='fork_length = "550 mm"'))


@pytest.mark.parametrize(("mm", "warned"), [(7.999, False), (8.0, True), (-8.0, True), (-7.999, False)])
def test_a_bottom_bracket_at_the_limit_and_a_hair_short_of_it(mm: float, warned: bool) -> None:
    said = list(limits.of_change(*_stances(0.0, mm * 1e-3, 0.0)))
    assert [w.code for w in said] == ["bb-change"] * warned
    assert all(("higher" in w.text) == (mm > 0) for w in said)


@pytest.mark.parametrize(("degrees", "warned"), [(0.9999, False), (1.0, True), (-1.0, True), (-0.9999, False)])
def test_a_head_angle_at_the_limit_and_a_hair_short_of_it(degrees: float, warned: bool) -> None:
    said = list(limits.of_change(*_stances(0.0, 0.0, math.radians(degrees))))
    assert [w.code for w in said] == ["head-angle-change"] * warned
    assert all(("steeper" in w.text) == (degrees > 0) for w in said)


def _stances(before_m: float, after_m: float, turn_rad: float) -> Any:
    """Two unloaded stances of which only bottom bracket and head angle are looked at."""
    return tuple(
        SimpleNamespace(unloaded=SimpleNamespace(bb_height_m=height_m, head_angle_rad=angle_rad))
        for height_m, angle_rad in ((before_m, 0.0), (after_m, turn_rad))
    )


@pytest.mark.parametrize(("sag_mm", "beyond"), [(149.9, False), (150.0, True)])
def test_a_sag_of_the_whole_travel_is_past_it(sag_mm: float, beyond: bool) -> None:
    """Without friction and a bumper the lost travel is 0: 150 mm of sag is the end of 150 mm of travel itself."""
    file = bench(found=f'sag = "{sag_mm} mm"\npressure = "70 psi"')
    found = load.loads(Design.of([file]))
    assert bool(found.beyond[0]) is beyond and math.isnan(float(found.load.axial_n[0])) is beyond


def test_a_port_further_in_keeps_the_negative_charged() -> None:
    file = bench(fork__air='+port_position = "4 mm"')
    assert {("charged-negative", "before"), ("charged-negative", "after")} <= raised(file)
    assert "charged-negative" not in codes(bench(fork__air='+port_length = "3 mm"'))
    assert "charged-negative" not in codes(bench())


@pytest.mark.parametrize("port_mm", [4, 5, 6, 7, 8, 9])
def test_lost_travel_at_two_millimetres(port_mm: int) -> None:
    file = bench(fork__air=f'+port_position = "{port_mm} mm"')
    assert ("lost-travel" in codes(file)) is (state.curve(file).lost_travel_m >= 0.002)


def test_both_sides_of_the_limit_of_lost_travel_are_tried() -> None:
    lost = [state.curve(bench(fork__air=f'+port_position = "{mm} mm"')).lost_travel_m for mm in (4, 9)]
    assert lost[0] < 0.002 < lost[1]


def test_a_piston_spacer_takes_the_port_out_of_reach() -> None:
    change = 'travel = "140 mm"\nby = "piston-spacer"\nspacer_solid_volume = "2 ml"'
    answer = plan(bench(change=change))
    assert ("port-out-of-reach", "after") in {(w.code, w.state) for w in answer.warnings}
    assert answer.after.sag is not None and answer.before.sag is not None
    # the negative chamber does not fill: the spring is stiffer at the start and sags less
    assert answer.after.sag.front is not None and answer.before.sag.front is not None
    assert answer.after.sag.front.travel_m < answer.before.sag.front.travel_m


def test_a_chamber_that_locks_after_the_change_gives_nothing() -> None:
    answer = plan(bench(fork__air='bore = "34 mm"\nshaft = "10 mm"\npositive_volume = "150 ml"\nnegative_volume = "50 ml"\nspacer_volume = "8 ml"\npressure = "70 psi"', change="spacers = 3"))  # fmt: skip
    assert ("hydraulic-lock", "after") in {(w.code, w.state) for w in answer.warnings}
    assert answer.after.end_force_n is None and answer.after.sag is None and answer.hazard_after is None
    assert answer.keep.curve.pressure_pa is None
    assert answer.after.geometry is not None and answer.after.geometry.sagged is None
    assert answer.before.end_force_n is not None


def test_what_is_missing_is_named_and_the_rest_computed() -> None:
    answer = plan(bench(rider="-"))
    named = {w.text.split(" is not given")[0] for w in answer.warnings if w.code == "missing-input"}
    assert named == {"[rider]"}
    assert answer.before.sag is None and answer.keep.sag.pressure_pa is None
    assert answer.keep.end_force.pressure_pa is not None and answer.before.geometry is not None
    assert "no-pressure" not in {w.code for w in answer.warnings}


def test_the_sag_found_stands_in_for_the_rider() -> None:
    answer = plan(bench(rider="-", bike="-", found='sag = "33 mm"\npressure = "70 psi"'))
    front = answer.before.sag.front if answer.before.sag else None
    assert front is not None and front.travel_m == pytest.approx(0.033, abs=1e-12)
    assert front.implied_share is None and "load-assumed" not in {w.code for w in answer.warnings}


def test_a_share_that_cannot_be_is_doubted() -> None:
    assert "load-implausible" in codes(bench(found='sag = "70 mm"\npressure = "70 psi"'))
    assert "load-implausible" not in codes(bench(found='sag = "33 mm"\npressure = "70 psi"'))


@pytest.mark.parametrize(
    ("share", "doubted"), [(0.2999, True), (0.30, False), (0.55, False), (0.5501, True), (None, False)]
)
def test_an_implied_share_at_the_limits_and_a_hair_beyond(share: float | None, doubted: bool) -> None:
    assert ("load-implausible" in {w.code for w in limits.of_load(True, share)}) is doubted


@pytest.mark.parametrize(
    ("share", "usual"),
    [(0.0999, False), (0.10, False), (0.1001, True), (0.25, True), (0.3499, True), (0.35, False), (0.3501, False)],
)
def test_a_share_of_sag_at_the_limits_and_a_hair_inside(share: float, usual: bool) -> None:
    """A limit met counts as outside; so it does for the bike whose sag was found: 52.5 mm of 150 mm is 35 %."""
    assert limits.sag_is_usual(share) is usual
    found = codes(bench(found=f'sag = "{150 * share:.6g} mm"\npressure = "70 psi"'))
    assert ("sag-range" not in found) is usual


def test_a_chart_that_does_not_close() -> None:
    assert "chart-open" in codes(bench(frame='+wheelbase = "1300 mm"'))
    assert "chart-open" not in codes(bench())


def test_sag_out_of_range_and_no_pressure_for_a_sag_of_nothing() -> None:
    light = bench(rider='mass = "12 kg"\nfront_share = 0.15', bike='mass = "5 kg"\nunsprung_front = "2 kg"')
    assert {("sag-range", "before"), ("no-pressure", "change")} <= raised(light)


def test_no_pressure_says_why() -> None:
    """The sentence is true of the bike: a sag of 0, a sag of all the travel, of all the new travel, or out of range."""

    def said(file: BenchFile) -> list[str]:
        return [w.text for w in plan(file).warnings if w.code == "no-pressure"]

    light = bench(rider='mass = "12 kg"\nfront_share = 0.15', bike='mass = "5 kg"\nunsprung_front = "2 kg"')
    assert said(light) == [f"No pressure gives the same sag{share}: as it is, sag is 0." for share in (" in %", "")]
    heavy = bench(rider='mass = "250 kg"\nfront_share = 0.9', fork__air="+" + 'oil_on_piston = "0 ml"')
    heavy_air = replace(heavy, fork=replace(heavy.fork, air=replace(heavy.fork.air, pressure_gauge_pa=0.0)))  # type: ignore[union-attr,type-var]
    assert said(heavy_air)[:2] == [
        f"No pressure gives the same sag{share}: as it is, sag is the whole travel." for share in (" in %", "")
    ]
    short = said(bench(found='sag = "120 mm"\npressure = "70 psi"', change='travel = "100 mm"'))
    assert (
        next(text for text in short if "same sag:" in text).replace("\u00a0", " ").replace("\u202f", " ")
        == "No pressure gives the same sag: 120 mm of sag is the whole travel after the change, or more."
    )
    above = said(bench(fork__air='+pressure_limit = "870 psi"', change='spacers = 0\ntravel = "60 mm"'))
    assert all(text.replace("\u00a0", " ").endswith("none from 0 to 60 bar does.") for text in above)


@pytest.mark.parametrize("psi", ["0", "1", "70"])
@pytest.mark.parametrize("missing", ["", "positive_volume", "negative_volume"])
def test_a_port_further_in_charges_at_no_pressure_and_with_volumes_missing(psi: str, missing: str) -> None:
    """At 0 psi on the main gauge the port's place was at ambient times V_p(0)/V_p(x_e): more than nothing is shut in."""
    lines = ['bore = "34 mm"', 'shaft = "10 mm"', 'positive_volume = "240 ml"', 'negative_volume = "50 ml"']
    kept = [line for line in lines if not (missing and line.startswith(missing))]
    air = "\n".join([*kept, f'pressure = "{psi} psi"', 'port_position = "4 mm"'])
    assert {("charged-negative", "before"), ("charged-negative", "after")} <= raised(bench(fork__air=air))
    at_end = "\n".join([*kept, f'pressure = "{psi} psi"'])
    assert "charged-negative" not in codes(bench(fork__air=at_end))


def test_an_own_valve_charges_where_it_holds_pressure() -> None:
    for psi, charged in (("0", False), ("0.1", True), ("60", True)):
        file = bench(fork__air=f'+negative = "separate-valve"\nnegative_pressure = "{psi} psi"')
        assert ("charged-negative" in codes(file)) is charged


def test_the_range_of_sag_is_written_as_everywhere() -> None:
    light = bench(rider='mass = "12 kg"\nfront_share = 0.15', bike='mass = "5 kg"\nunsprung_front = "2 kg"')
    text = next(w.text for w in plan(light).warnings if w.code == "sag-range")
    assert text == "Sag is 0.0\u00a0% of the travel; 10 to 35\u00a0% is common practice."


def test_every_code_has_a_name_for_the_page() -> None:
    assert len(limits.CODES) == 22 and all(limits.CODES.values())


@pytest.mark.parametrize(
    ("end_n", "column_mm", "expected"),
    [(2799.0, 20.0, 0), (2800.0, 20.0, 1), (2000.0, 10.0, 1), (2000.0, 10.1, 0), (3100.0, 8.0, 2), (None, math.nan, 0)],
)
def test_a_nearly_locked_fork(end_n: float | None, column_mm: float, expected: int) -> None:
    """At 2,800 N, the load of ISO 4210-6, and at a column of 10 mm exactly it is warned of."""
    warned = list(limits.of_end(end_n, column_mm / 1e3, "after", Air(spacers=1)))
    assert [w.code for w in warned] == ["nearly-locked"] * expected
    assert all("Fewer volume spacers" in w.text for w in warned)


@pytest.mark.parametrize(
    ("air", "force", "column"),
    [
        (Air(pressure_gauge_pa=9e5, pressure_limit_gauge_pa=8e5, spacers=1, oil_on_piston_m3=4e-6),
         "Less pressure, then fewer volume spacers, then less oil on the piston.", "Fewer volume spacers, then less oil on the piston."),
        (Air(pressure_gauge_pa=9e5, pressure_limit_gauge_pa=8e5), "Less pressure.", ""),
        (Air(pressure_gauge_pa=7e5, pressure_limit_gauge_pa=8e5, spacers=2), "Fewer volume spacers.", "Fewer volume spacers."),
        (Air(pressure_gauge_pa=7e5, oil_on_piston_m3=4e-6), "Less oil on the piston.", "Less oil on the piston."),
        (Air(pressure_gauge_pa=7e5), "Less pressure.", ""),
        (None, "A softer spring.", ""),
    ],
)  # fmt: skip
def test_what_helps_a_nearly_locked_fork_is_what_is_in_it(air: Air | None, force: str, column: str) -> None:
    """A pressure over its limit comes down first; oil comes out where there is some. No pressure makes the column longer."""
    texts = [w.text for w in limits.of_end(3100.0, 0.008, "before", air)]
    assert [text.partition("\xa0N. ")[2] for text in texts[:1]] == [force]
    assert [text.partition("common practice.")[2].strip() for text in texts[1:]] == [column]


def test_a_fork_with_too_many_spacers_is_nearly_locked() -> None:
    """The column is what the volumes leave: 245 ml less spacers and oil over a 34.6 mm bore, less the travel."""
    spacers = {
        w.text for w in plan(bench(found='sag = "33 mm"\npressure = "70 psi"')).warnings if w.code == "nearly-locked"
    }
    assert not spacers
    crowded = read.read_text(write.write(bench()).replace("spacers = 1", "spacers = 8"))
    air, travel = crowded.fork.air, crowded.fork.travel_m  # type: ignore[union-attr]
    left = (air.positive_volume_m3 - 8 * air.spacer_volume_m3 - air.oil_on_piston_m3) / (
        math.pi / 4 * air.bore_m**2
    ) - travel
    assert ("nearly-locked" in codes(crowded)) is (left <= 0.010 or (plan(crowded).before.end_force_n or 0) >= 2800)


def test_a_gauge_that_drifted_is_named_by_how_much() -> None:
    """Question 2 of the counter: a gauge 24 psi too high puts the load out of all reason; the warning finds the 24."""
    true = bench(found='sag = "42 mm"\npressure = "70 psi"')
    share = plan(true).before.sag.front.implied_share  # type: ignore[union-attr]
    usual = replace(true, rider=replace(true.rider, front_share=share))  # type: ignore[type-var]
    drifted = replace(usual, found=replace(usual.found, pressure_gauge_pa=94 * PSI_PA))  # type: ignore[type-var]
    texts = [w.text for w in plan(drifted).warnings if w.code == "load-implausible"]
    assert len(texts) == 1 and "24\N{NO-BREAK SPACE}psi too much" in texts[0] and "nothing attached" in texts[0]
    assert not [w for w in plan(usual).warnings if w.code == "load-implausible"]
