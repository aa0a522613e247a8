"""A rear shock of which only the can's outside is known: what is drawn, what is said of it, and what is refused.

Ranges: trade.md 4, the rest common practice, no source. Whether 95 % is 95 %: tests/within.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from topout.bench_file import read
from topout.cli import plan_table
from topout.errors import FaultsFound
from topout.physics import air_spring
from topout.physics.air_spring import Chambers
from topout.planner import bands, bounds, drawn, held_in, inexact, plan, rear_bounds, typical_can
from topout.planner.known_to import Bounds
from topout.uncertainty.intervals import interval
from topout.units import BENCH

PSI = 6894.757293168361
G = 9.80665
AMBIENT = 101325.0
CAN = """
[rider]
mass = "82 kg"
[bike]
mass = "15 kg"
unsprung_front = "3.0 kg"
unsprung_rear = "3.5 kg"
[shock]
stroke = "55 mm"
body = "52 mm"
sag = "12 mm"
leverage = [["0 mm", 2.5], ["137.5 mm", 2.5]]
[change.shock]
stroke = "52.5 mm"
[shock.air]
pressure = "140 psi"
"""
WHOLE = """bore = "44 ± 0.5 mm"
shaft = "33 mm u 0.2 mm"
positive_volume = "130 ml ± 2 %"
negative_volume = "40 ml within 3 ml"
port_position = "2 mm +/- 0.5 mm"
[shock.damper]
rod = "10 mm"
gas_pressure = "14 ± 2 bar"
gas_volume = "18 ml"
[shock.bumper]
length = "7 mm"
rate = "90 N/mm within 10 N/mm"
"""
ANSWERS = ("rear-keep-sag", "rear-keep-sag-share", "rear-sag", "rear-end-force")


@cache
def answered(text: str, draws: int = 2_000) -> Bounds:
    return bounds.answer(read.read_text(text), draws).bounds


def test_the_outside_alone_says_the_pressure_for_the_same_sag_and_leaves_the_end_open() -> None:
    told = answered(CAN)
    assert set(told.answers) == set(ANSWERS)
    assert {"shock.air.bore", "shock.damper", "shock.friction", "rider.front_share"} <= set(told.assumed)
    assert "shock.air.spacer_volume" not in told.assumed  # none is fitted
    keep, share = told.answers["rear-keep-sag"], told.answers["rear-keep-sag-share"]
    assert (
        keep.low95 <= 140 * PSI <= keep.high95 and keep.half_width < 0.6 * PSI
    )  # it springs as before up to there: half a mark
    assert share.median > keep.high95
    end = told.answers["rear-end-force"]
    assert end.half_width > 0.2 * end.median
    assert told.depends_on["rear-end-force"] and {each.kind for each in told.next} >= {
        "gauge",
        "syringe",
        "caliper",
        "scale",
    }


def test_a_can_is_drawn_from_the_ranges_that_bikes_are_made_of_to_look_whether_95_is_95() -> None:
    """The other author of these ranges is tests/within/shocks.py; each is reached at both ends, and evenly."""
    outside, stroke, count = 0.052, 0.055, 20_000
    made = typical_can.cans(typical_can.Outside(outside, stroke), {}, (0.0, 0.0), 0.0, 5, count)
    bore, main = made["shock.air.bore"], made["shock.air.positive_volume"]
    column = main / (np.pi / 4 * bore**2) - stroke
    shut = made["shock.air.port_position"]
    for name, drawn_, low, high in (
        ("wall and sleeve", outside - bore, 2 * 0.0015, 2 * 0.003 + 0.008), ("negative", made["shock.air.negative_volume"] / main, 0.15, 0.5),
        ("port", shut[shut > 0.0], 0.0, 0.006), ("spacer", made["shock.air.spacer_volume"], 4e-6, 15e-6),
        ("friction", made["shock.friction"], 15.0, 60.0), ("rod", made["shock.damper.rod"], 0.008, 0.013),
        ("gas", made["shock.damper.gas_pressure"], 5e5, 20e5), ("bumper", made["shock.bumper.length"], 0.004, 0.008),
        ("rate", made["shock.bumper.rate"], 60e3, 250e3), ("ratio", 1 + stroke / column[column > 0.0101], 1.9, 4.5),
    ):  # fmt: skip
        room = 0.02 * (high - low) if name != "wall and sleeve" else 0.1 * (high - low)
        assert low - 1e-9 <= np.min(drawn_) < low + room and high - room < np.max(drawn_) <= high * (1 + 1e-9), name
    assert np.mean(shut == 0.0) == pytest.approx(0.4, abs=0.02)
    assert np.mean(outside - bore > 2 * 0.003) == pytest.approx(0.4, abs=0.02), "with a second tube inside"


def test_the_same_file_draws_the_same() -> None:
    one, two = (json.dumps(plan.plan(read.read_text(CAN), draws=600).as_json()) for _ in range(2))
    assert one == two


def test_the_json_has_limits_beside_each_number_of_the_rear() -> None:
    answer = plan.plan(read.read_text(CAN), draws=600).as_json()
    assert {"pressure_pa", "pressure_pa_u", "pressure_pa_low95", "pressure_pa_high95"} <= set(
        answer["rear"]["keep"]["sag"]
    )
    for table, word in ((answer["after"]["rear"], "end_force_n"), (answer["after"]["sag"]["rear"], "stroke_m")):
        assert table[f"{word}_low95"] < table[word] < table[f"{word}_high95"]
    gap = answer["difference"]["rear"]["end_force_n"]
    assert answer["difference"]["rear"]["end_force_n_low95"] < gap
    assert answer["drawn"]["assumed"] and not answer["drawn"]["redrawn"]
    codes = {(w["code"], w["state"]) for w in answer["warnings"]}
    assert ("charged-negative", "before") in codes  # nobody saw the port


def test_what_can_hurt_is_the_high_side() -> None:
    made = drawn.draw(read.read_text(CAN), 600)
    told = plan.plan(read.read_text(CAN), draws=600)
    assert (
        told.rear is not None
        and told.rear.hazard_before is not None
        and told.rear.hazard_before.cap_force_n is not None
    )
    assert made.design.shock is not None
    air = made.design.shock.air
    cap = interval(air.pressure_gauge_pa * np.pi / 4 * air.bore_m**2, made.weights)
    assert cap is not None and told.rear.hazard_before.cap_force_n == pytest.approx(cap.high95, rel=1e-9)


def test_every_key_of_a_shock_may_carry_its_own_uncertainty() -> None:
    """The four ways to write one, each drawn by its own spread."""
    text = CAN.replace('body = "52 mm"\n', 'friction = "25 N u 5 N"\n').replace('"55 mm"', '"55 ± 0.5 mm"') + WHOLE
    bench = read.read_text(text)
    made = drawn.draw(bench, 4_000)
    shock = made.design.shock
    assert shock is not None and not made.assumed
    spreads = {
        "bore": (shock.air.bore_m, 0.5e-3 / 1.96), "body": (shock.air.shaft_m, 0.2e-3), "main": (shock.air.positive_volume_m3, 2.6e-6 / 1.96),
        "negative": (shock.air.negative_volume_m3, 3e-6 / 3**0.5), "port": (shock.air.port_position_m, 0.5e-3 / 1.96),
        "gas": (shock.damper.gas_pressure_gauge_pa, 2e5 / 1.96), "rate": (shock.bumper.rate_n_per_m, 1e4 / 3**0.5),
        "friction": (shock.unit.friction_n, 5.0), "stroke": (shock.unit.stroke_m, 0.5e-3 / 1.96),
    }  # fmt: skip
    for name, (values, standard) in spreads.items():
        assert np.std(values) == pytest.approx(standard, rel=0.12), name
    assert set(answered(text).answers) == set(ANSWERS)


def test_a_whole_shock_without_one_is_exact() -> None:
    exact = re.sub(r'"([\d.]+)( [a-zA-Z/]+)? (?:±|u|within|\+/-) [\d.]+ ?([a-zA-Z/%]*)"', _alone, WHOLE)
    text = CAN.replace('body = "52 mm"\n', 'friction = "25 N"\n') + exact
    assert not inexact.is_drawn(read.read_text(text))
    assert plan.plan(read.read_text(text), draws=600).as_json()["drawn"] is None


def _alone(of: re.Match[str]) -> str:
    return f'"{of[1]}{of[2] or " " + of[3]}"'


def test_without_its_outside_a_missing_key_is_missing_as_before() -> None:
    bench = read.read_text(CAN.replace('body = "52 mm"\n', ""))
    assert not inexact.is_drawn(bench)
    answer = plan.plan(bench, draws=600).as_json()
    assert answer["drawn"] is None and answer["after"]["rear"]["end_force_n"] is None


def test_a_sag_that_no_shock_of_that_outside_shows_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawn, "TO_REFUSE", 4_000)
    with pytest.raises(FaultsFound) as told:
        answered(CAN.replace('sag = "12 mm"', 'sag = "50 mm"'))
    assert [fault.location for fault in told.value.faults] == ["[shock] sag"]


def test_a_reducer_leaves_less_than_the_stroke() -> None:
    with pytest.raises(FaultsFound, match="a reducer leaves less"):
        read.read_text(CAN.replace('stroke = "52.5 mm"', 'stroke = "57.5 mm"'))


def test_weights_say_what_plain_rejection_says() -> None:
    """Shocks drawn with their rider, set on the wheel, and kept where the ring would show what was found: no weights, no planner
    but the ranges themselves. 12.0 mm is read to half a millimetre."""
    n, chance = 60_000, np.random.default_rng(8)
    made = typical_can.cans(typical_can.Outside(0.052, 0.055), {}, (0.0, 0.0), 0.0, 77, n)
    one = np.ones(n)
    pressure = 140 * PSI + chance.uniform(-0.5, 0.5, n) * PSI
    true = pressure * (1 + 0.0075 * chance.standard_normal(n)) + 0.5 * PSI * chance.standard_normal(n)
    rod_m2 = np.pi / 4 * made["shock.damper.rod"] ** 2

    def spring(stroke: float) -> air_spring.EquilibratedSpring:
        return air_spring.settle(Chambers(
            ambient_pa=AMBIENT * one, exponent=1.3 * one, travel_m=stroke * one, bore_m=made["shock.air.bore"],
            shaft_m=made["shock.air.shaft"], pressure_pa=true + AMBIENT, positive_m3=made["shock.air.positive_volume"],
            negative_m3=made["shock.air.negative_volume"], gas_negative=one > 0, equalises=one > 0, negative_pa=AMBIENT * one,
            port_m=made["shock.air.port_position"], port_end_m=made["shock.air.port_position"], coil_rate_n_per_m=0 * one,
            coil_m=0 * one, legs_m3=one, legs_m2=0 * one, rod_m2=rod_m2, damper_m3=made["shock.damper.gas_volume"],
            damper_pa=made["shock.damper.gas_pressure"] + AMBIENT, contact_m=stroke - made["shock.bumper.length"],
            bumper_m=made["shock.bumper.length"], bumper_n_per_m=made["shock.bumper.rate"], bumper_power=2 * one,
            top_out_m=one, top_out_n_per_m=0 * one, top_out_power=one, spring_n_per_m=0 * one, preload_m=0 * one,
            bind_m=np.inf * one, second_m3=0 * one, second_pa=AMBIENT * one,
        ))  # fmt: skip

    share = 0.41 + 0.015 * chance.standard_normal(n)
    load = (97.0 * (1 - share) - 3.5) * G * 2.5  # at the shock, the ratio stays
    was, after = spring(0.055), spring(0.0525)

    def rests(of: air_spring.EquilibratedSpring, by: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
        low, high = np.zeros(n), of.fit.travel_m.copy()
        for _ in range(22):
            middle = 0.5 * (low + high)
            further = air_spring.force(of, middle) < by
            low, high = np.where(further, middle, low), np.where(further, high, middle)
        return np.asarray(0.5 * (low + high))

    stands = rests(was, load + chance.uniform(-1, 1, n) * made["shock.friction"])
    shown = stands + np.hypot(0.0005, 0.0005) * chance.standard_normal(n)
    kept = np.abs(shown - 0.012) < 0.00025
    assert kept.sum() > 1_500
    plainly = {
        "rear-sag": rests(after, load)[kept],
        "rear-end-force": air_spring.force(after, after.fit.travel_m)[kept],
    }
    told = answered(CAN, 8_000).answers
    for name, values in plainly.items():
        one_way, other = interval(values), told[name]
        assert one_way is not None
        for point in ("median", "low95", "high95"):
            assert getattr(other, point) == pytest.approx(getattr(one_way, point), abs=0.16 * one_way.half_width), (
                name,
                point,
            )


def test_what_the_syringe_is_said_to_leave_is_what_it_leaves() -> None:
    """`next` by regression against refitting with the reading simulated: the median volume written down."""
    made = drawn.draw(read.read_text(CAN), 2_000)
    assert made.design.shock is not None
    air, middle = made.design.shock.air, {}
    for name in ("bore_m", "shaft_m", "positive_volume_m3"):
        found = interval(getattr(air, name), made.weights)
        assert found is not None
        middle[name] = found.median
    now = answered(CAN)
    said = next(each for each in now.next if each.kind == "syringe").half_width["rear-end-force"]
    read_so = (
        f'bore = "{middle["bore_m"] * 1e3:.2f} mm u 0.05 mm"\nshaft = "{middle["shaft_m"] * 1e3:.2f} mm u 0.05 mm"\n'
        f'positive_volume = "{middle["positive_volume_m3"] * 1e6:.1f} ml u 2 %"\n'
    )
    left = answered(CAN + read_so).answers["rear-end-force"]
    assert left.half_width < now.answers["rear-end-force"].half_width
    assert left.half_width / said == pytest.approx(1.0, abs=0.6)


READING = (
    '[[found.reading]]\nend = "rear"\ntravel = "{} mm"\npressure = "{:.0f} psi"\nhose = "3 ml"\nstart = "30 psi"\n'
)


def test_what_the_gauge_held_in_is_said_to_leave_is_what_it_leaves() -> None:
    """`next` by regression against refitting with five figures that the gauge may show; the end it leaves is weighed, not fitted."""
    now = answered(CAN)
    said = next(each for each in now.next if each.kind == "gauge")
    assert (
        said.travel_m is not None
        and said.shows_pa is not None
        and said.hold_n is not None
        and said.start_pa is not None
    )
    assert said.start_pa == pytest.approx(30 * PSI)
    made = drawn.draw(read.read_text(CAN), 2_000)
    true_pa, force_n, _ = held_in.held(made, said.travel_m, said.start_pa, end="rear")
    assert np.sum(made.weights[true_pa > said.shows_pa]) <= 0.03 * np.sum(made.weights), "on the high side"
    assert np.sum(made.weights[force_n > said.hold_n]) <= 0.03 * np.sum(made.weights), "on the high side"
    shown = made.gauge.shown_pa(true_pa) / PSI
    order = np.argsort(shown)
    at = np.interp(np.linspace(0.1, 0.9, 5), np.cumsum(made.weights[order]) / np.sum(made.weights), shown[order])
    left = [answered(CAN + READING.format(round(said.travel_m * 1e3), each)).answers["rear-end-force"].half_width for each in at]  # fmt: skip
    assert np.mean(left) < 0.7 * now.answers["rear-end-force"].half_width
    assert said.half_width["rear-end-force"] / np.mean(left) == pytest.approx(1.0, abs=0.3)
    low, high = said.between["rear-end-force"]
    assert low < 1.5 * min(left) and high > 0.67 * max(left)


def test_no_travel_is_proposed_past_what_gauge_or_shock_are_for() -> None:
    limited = CAN + 'pressure_limit = "145 psi"\n'
    for text in (CAN, limited):
        bench = read.read_text(text)
        made, begins = drawn.draw(bench, 2_000), held_in.of_unit(bench, end="rear")
        assert begins.most_pa == pytest.approx((145 if text is limited else 240) * PSI)
        found = rear_bounds.of_draws(made, made.design)
        assert found is not None
        low = replace(begins, most_pa=70 * PSI)
        places = [
            [at for kind, at, *_ in rear_bounds.readings(made, found, b) if kind == "gauge"] for b in (begins, low)
        ]
        assert len(places[1]) < len(places[0]) == len(rear_bounds.HELD_AT)


def test_a_reading_of_the_shock_says_nothing_of_the_load_in_front() -> None:
    """The twin of a file without it: the fork's load stays assumed, and no sag found is asked for."""
    fork = '[fork]\ntravel = "150 mm"\n[fork.air]\nbore = "34 mm"\nshaft = "10 mm"\npositive_volume = "240 ml"\nnegative_volume = "50 ml"\npressure = "70 psi"\n'
    told = [plan.plan(read.read_text(fork + CAN.replace('[bike]', 'front_share = 0.42\n[bike]') + more), draws=1_000) for more in ("", READING.format(35, 70))]  # fmt: skip
    assert [[w.code for w in each.warnings if w.code in ("load-assumed", "missing-input")] for each in told][0] == [
        w.code for w in told[1].warnings if w.code in ("load-assumed", "missing-input")
    ]
    one, two = (each.bounds.answers["rear-end-force"].half_width for each in told if each.bounds is not None)
    assert two < 0.8 * one


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (CAN + READING.format(56, 90), "held in by less than the stroke is expected"),
        (CAN.replace("[shock.air]\npressure = \"140 psi\"", '[shock.coil]\nrate = "70 N/mm"') + READING.format(35, 70), "a coil has no pressure"),
        ('[rider]\nmass = "82 kg"\n' + READING.format(35, 70), "the file has none"),
        (CAN + READING.format(35, 70).replace('"rear"', '"back"'), "front"),
    ],
)  # fmt: skip
def test_a_reading_that_can_not_be_of_the_shock_is_refused(text: str, says: str) -> None:
    with pytest.raises(FaultsFound) as found:
        read.read_text(text)
    assert len(found.value.faults) == 1 and says in str(found.value.faults[0]), [str(f) for f in found.value.faults]


def test_readings_that_no_shock_shows_are_named() -> None:
    with pytest.raises(FaultsFound) as found:
        answered(CAN + READING.format(35, 40))
    assert "40\u00a0psi" in str(found.value.faults[0]) and "no shock with this can and this stroke" in str(
        found.value.faults[0]
    )


def test_the_terminal_says_what_is_known_and_what_is_not() -> None:
    bench = read.read_text(CAN)
    text = " ".join(plan_table.plan(bench, plan.plan(bench, draws=600), BENCH).split())
    assert "How firm the end of the shock is: not known yet. Between" in text
    assert "One reading helps: at 30 psi, hold the shock" in text and "a press holds it, never a strap or hands" in text
    assert "drawn from what such shocks usually are" in text
    assert "Not known: the fork" in text and "the shock’s sag, in mm" not in text.partition("Not known:")[2]


def test_the_band_of_the_wheel_ends_where_the_plan_says() -> None:
    """Two ways: the band from its own thousand at shares of the stroke, the end from every draw by the evaluation."""
    for text, name in ((CAN, "wheel_end_force_n"), (re.sub(r"leverage = .*\n", "", CAN), "end_force_n")):
        worked, draws = plan.plan_and_draws(read.read_text(text), draws=4_000)
        assert draws is not None and worked.bounds is not None
        both = bands.behind(draws)
        assert both is not None
        for state, of in zip(("before", "after"), both, strict=True):
            band = of.force
            assert (of.wheel_rate is None) == (name == "end_force_n"), (
                "without a leverage nobody knows the wheel's rate"
            )
            end = worked.bounds.of[(state, "rear", name)]
            told = (band.low95[-1], band.middle[-1], band.high95[-1])
            assert told == pytest.approx((end.low95, end.median, end.high95), rel=0.06), (name, state)
