"""Every procedure that comes with the tool: read once more as the technician would, clause by clause against the trade's list."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import pytest

from procedures.plans import PSI, a_plan
from procedures.test_docs import DOCS
from topout.planner import variables
from topout.planner.judge import Gauge, band
from topout.planner.plan_numbers import PlanNumbers, conditions
from topout.planner.variables import VOCABULARY
from topout.procedures import words
from topout.procedures.library import shared_keys, shipped_keys
from topout.procedures.model import CONDITIONS, Name, Procedure
from topout.procedures.read import shipped
from topout.units import BENCH, System


class Shipped(Mapping[str, Procedure]):
    """By key, each read when a test asks for it: every worker collects this room, one of them runs it."""

    def __getitem__(self, key: str) -> Procedure:
        return shipped(key, VOCABULARY).procedure

    def __iter__(self) -> Iterator[str]:
        return iter(shipped_keys())

    def __len__(self) -> int:
        return len(shipped_keys())


ALL = Shipped()
OTHERS = [key for key in ALL if key != "travel-change-by-air-shaft"]
TEXT = DOCS.read_text(encoding="utf-8")


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def rows(key: str) -> list[tuple[str, list[str]]]:
    """(clause, keys of steps) of the table of a procedure in docs/procedures.md."""
    table = TEXT[TEXT.index(f"### `{key}`") :].split("| --- | --- |\n", 1)[1].split("\n\n", 1)[0].splitlines()
    return [(line.split("|")[1].strip(), re.findall(r"`([a-z-]+)`", line.split("|")[2])) for line in table]


def order(procedure: Procedure, job: dict[str, str]) -> list[str]:
    return [each.key for each in procedure.applying(job)]


@pytest.mark.parametrize("key", OTHERS)
def test_the_table_of_the_docs_tells_every_step_once_in_the_order_of_the_file(key: str) -> None:
    told = [step for _, keys in rows(key) for step in keys]
    assert sorted(told) == sorted(each.key for each in ALL[key].steps())
    clause = {step: number for number, (_, keys) in enumerate(rows(key)) for step in keys}
    walked = [clause[each.key] for each in ALL[key].steps()]
    assert walked == sorted(walked)


def test_a_coil_stays_in_only_where_a_plan_leaves_its_rate_and_travel_as_they_are() -> None:
    stays = PlanNumbers(planned=True, spring_n_per_m=5e4, set_spring_n_per_m=5e4, old_travel_m=0.15, new_travel_m=0.15)
    assert conditions(stays)["spring"] == "stays"
    none = {"set_spring_n_per_m": None, "spring_n_per_m": None}
    others: list[dict[str, Any]] = [{"new_travel_m": 0.14}, {"set_spring_n_per_m": 5.5e4}, {"planned": False}, none]
    for more in others:
        assert conditions(replace(stays, **more))["spring"] == "out", more


@pytest.mark.parametrize("key", ALL)
@pytest.mark.parametrize("bike", CONDITIONS["bike"])
def test_no_plan_at_all_still_makes_whole_sentences(key: str, bike: str) -> None:
    """A fork by post that nobody knows: the careful steps, every name written as its words, nothing as a guess."""
    plan = PlanNumbers(bike_here=bike == "here")
    procedure, found = ALL[key], variables.numbers(PlanNumbers(), {}, ALL[key].definitions)
    steps = procedure.applying(conditions(plan))
    assert conditions(plan)["negative"] == "not-known" and steps
    for step in steps:
        for text in (step.do, step.detail, step.caution, step.why, *(each.label for each in step.evidence)):
            said = words.fill_in(text, found, procedure.names)
            assert "{" not in said and not re.search(r"\bnan\b|\binf\b", said), (key, step.key)
    left = {each.key for each in procedure.left_out(conditions(plan))}
    assert left == {each.key for each in procedure.steps() if each.needs and bike == "away"} - {
        each.key for each in procedure.steps() if not each.applies(conditions(plan) | {"bike": "here"})
    }


@pytest.mark.parametrize("key", ALL)
def test_what_was_read_once_feeds_the_card_once(key: str) -> None:
    """No reading of the card is given by two steps of one job: nothing is asked twice."""
    for combination in itertools.product(CONDITIONS["negative"], CONDITIONS["spacers"], CONDITIONS["bike"]):
        job = conditions(a_plan()) | dict(zip(("negative", "spacers", "bike"), combination, strict=True))
        cards = [e.card for step in ALL[key].applying(job) for e in step.evidence if e.card is not None]
        assert len(cards) == len(set(cards)), (key, sorted(set(card for card in cards if cards.count(card) > 1)))


@pytest.mark.parametrize("key", ALL)
def test_it_defers_to_the_maker_and_asks_for_no_torque(key: str) -> None:
    procedure = ALL[key]
    assert "maker" in procedure.summary or key == "return-to-rider"
    assert not any(e.dimension == "torque" for step in procedure.steps() for e in step.evidence)


def test_the_air_can_is_not_unscrewed_before_it_stands_at_its_free_length() -> None:
    can = ALL["rear-shock-air-can"]
    found = order(can, conditions(PlanNumbers()))
    assert found.index("eye-to-eye") < found.index("shock-vent") < found.index("free-length") < found.index("can-off")
    stop = next(each for each in can.steps() if each.key == "free-length")
    assert (
        stop.hold and not stop.may_skip and stop.stop is not None and stop.stop.title == "Stop. Do not unscrew the can."
    )
    ways = " ".join(stop.stop.ways)
    assert "Only where the maker’s sheet says so" in ways and "at most the label’s maximum" in ways
    assert "charged, do not open" in ways and "fixture" in ways
    assert {"Stays short", "Sucks itself in"} == set(stop.evidence[0].options) - set(stop.evidence[0].passes)


def test_a_step_of_the_pump_is_a_round_figure_of_the_units_that_are_read() -> None:
    """50 psi are 3.45 bar and 345 kPa, 5 psi are 0.345 bar (by the standard's 6,894.757 Pa): nobody counts so much at a pump."""
    pumps = [step for each in ALL.values() for step in each.steps() if "{pump_step}" in step.do + step.detail]
    assert len({step.key for step in pumps}) >= 4
    assert not any(re.search(r"\d psi", step.do + step.detail) for each in ALL.values() for step in each.steps())
    found = variables.numbers(PlanNumbers(), {})
    for system, unit, pump, trim in (
        (System(), "", "50 psi", "5 psi"),
        (System(bar=True), "", "3 bar", "0.3 bar"),
        (System(), "kPa", "300 kPa", "30 kPa"),
    ):
        said = words.fill_in(
            "{pump_step}, {trim_step}",
            found,
            variables.NAMES,
            system=system,
            units={"pressure": unit} if unit else None,
        )
        assert plain(said) == f"{pump}, {trim}"


def test_what_a_can_does_is_worked_out_from_its_outside() -> None:
    """200 psi on 50 mm: p·π/4·D² = 2,708 N, by hand; energy p_a·V·(r·ln r − r + 1) in 50 × 80 mm, for the same."""
    read = {"found-pressure": 200 * PSI, "can-diameter": 0.050, "can-length": 0.080}
    found = variables.numbers(PlanNumbers(), read)
    assert found["can_force"] == pytest.approx(200 * 6894.757 * math.pi * 0.025**2, rel=1e-6)
    assert found["can_force"] == pytest.approx(2707.6, abs=0.1)
    ratio, room = (200 * 6894.757 + 101325) / 101325, math.pi * 0.025**2 * 0.080
    assert found["can_energy"] == pytest.approx(101325 * room * (ratio * math.log(ratio) - ratio + 1), rel=1e-6)
    for role in read:
        lacking = variables.numbers(PlanNumbers(), {k: v for k, v in read.items() if k != role})
        assert lacking["can_energy"] is None


def test_brake_axle_and_stem_are_proved_before_the_rider_gets_on() -> None:
    found = order(ALL["return-to-rider"], conditions(PlanNumbers()))
    assert max(found.index(key) for key in ("brake", "axle", "stem")) < found.index("rider-mass") < found.index("sag")


def test_the_leak_test_reads_at_rest_moving_and_over_a_night() -> None:
    steps = {each.key: each for each in ALL["leak-test"].steps()}
    waits = {key: each.wait.minutes for key, each in steps.items() if each.wait is not None}
    assert waits["leak-start"] == 5 and waits["leak-end"] == 30 and waits["night-read"] == 480
    found = variables.numbers(
        a_plan(), {"hold-start-pressure": 80 * PSI, "hold-start-temperature": 295.15, "hold-temperature": 291.15}
    )
    by_hand = (80 * PSI + 101325) * 291.15 / 295.15 - 101325
    night = band(steps["night-read"].evidence[1], found, Gauge(PSI, 100 * PSI, 1.0))
    assert night.expect_si == pytest.approx(by_hand) and night.low_si == pytest.approx(0.98 * by_hand)
    moving = band(steps["moving-read"].evidence[1], found, Gauge(PSI, 100 * PSI, 1.0))
    assert moving.low_si == pytest.approx(by_hand - PSI)


def test_with_the_spacers_unchanged_nothing_is_opened() -> None:
    procedure = ALL["pressure-and-spacers"]
    job = conditions(a_plan()) | {"spacers": "unchanged"}
    assert not any(step.has("opens") or step.has("air-out") for step in procedure.applying(job))
    assert {"cap-off", "spacers-out", "spacers-in"} <= set(order(procedure, job | {"spacers": "changed"}))


@pytest.mark.parametrize("key", ["fork-annual", "coil-fork-annual"])
def test_a_damper_that_may_hold_gas_is_left_alone(key: str) -> None:
    steps = {each.key: each for each in ALL[key].steps()}
    gas = steps["damper-gas"]
    assert gas.hold and not gas.may_skip and gas.stop is not None and "Not known" not in gas.evidence[0].passes
    found = order(ALL[key], conditions(PlanNumbers()))
    assert (
        found.index("damper-gas") < found.index("damper-out") < found.index("damper-oil") < found.index("damper-cycled")
    )
    (answer,) = gas.evidence
    assert [each for each in answer.passes if answer.meaning(each) != "opened"] == ["Stays shut, goes to its maker"]
    shut = order(
        ALL[key],
        conditions(PlanNumbers())
        | ALL[key].answered([(("damper-gas", "damper-gas"), "Stays shut, goes to its maker")]),
    )
    assert set(found) ^ set(shut) == {
        "damper-out", "shims", "damper-seals", "damper-oil", "bleed", "compensator", "damper-cycled", "damper-in",
        "damper-whole", "damper-whole-in",
    }  # fmt: skip
    assert shut.index("damper-gas") < shut.index("damper-whole") < shut.index("damper-whole-in") < shut.index("legs-on")


def test_brake_and_disc_are_covered_before_the_air_is_let_out() -> None:
    """By a step of its own, or where the wheel stays in by the first step that lets any out."""
    said, done = set(), set()
    for key, negative, more in itertools.product(ALL, CONDITIONS["negative"], ({}, {"spacers": "unchanged"})):
        if "fork" not in ALL[key].units:
            continue
        steps = ALL[key].applying(conditions(a_plan(negative)) | {"second": "here"} | more)
        out = [n for n, each in enumerate(steps) if each.key in ("negative-vent", "set-second") or each.has("air-out")]
        bagged = [n for n, each in enumerate(steps) if each.key == "brake-bagged"]
        told = [bool(re.search("[Aa] bag over.* brake.*, wheel off the ground", steps[n].detail)) for n in out]
        if out and not bagged:
            assert told[0], (key, steps[out[0]].key, steps[out[0]].detail)
            said.add(key)
        elif out:
            assert bagged[0] < out[0] and not any(told), (key, "said again where it was done")
            done.add(key)
    assert said == {"pressure-and-spacers", "clearance"} and "travel-change-by-air-shaft" in done


def test_a_spring_is_unwound_before_anything_behind_it_is_opened() -> None:
    """For each coil procedure and each job it may become: the hold first, then cap, foot bolts, retainer; loaded at the end."""
    coil = [key for key, each in ALL.items() if all(unit.startswith("coil-") for unit in each.units)]
    assert sorted(coil) == [
        "coil-clearance", "coil-fork-annual", "coil-lower-legs", "coil-shock-spring", "coil-spring-change", "return-to-rider-coil",
    ]  # fmt: skip
    for key, spring, travel, bike in itertools.product(coil, ("out", "stays"), ("longer", "same"), ("here", "away")):
        job = conditions(PlanNumbers()) | {"spring": spring, "travel": travel, "bike": bike}
        steps = ALL[key].applying(job)
        opens = [n for n, each in enumerate(steps) if each.has("opens") or each.has("ring-out")]
        unwound = [n for n, each in enumerate(steps) if each.has("spring-unwound")]
        assert not opens or unwound and unwound[0] < opens[0], (key, job)
        for n in unwound:
            assert steps[n].hold and not steps[n].may_skip
            stop = steps[n].stop
            assert stop is not None and stop.shows == "loaded-spring" and "prybar" in f"{stop.text}"
            said = f"{steps[n].detail} {steps[n].caution}"
            assert "{spring_force}" in said and "{spring_energy}" in said
        assert not any(each.has("pumps") or each.has("air-out") for each in steps)


def test_what_a_wound_up_spring_does_is_worked_out_from_rate_and_preload() -> None:
    """By hand: 7.5 N/mm × 20 mm = 150 N, half of that over 20 mm 1.5 J; read on the job it stands before plan and card."""
    plan = PlanNumbers(
        spring_n_per_m=7500.0, preload_m=0.020, set_spring_n_per_m=9000.0, set_preload_m=0.010, new_travel_m=0.14
    )
    found = variables.numbers(plan, {})
    assert found["spring_force"] == pytest.approx(150.0) and found["spring_energy"] == pytest.approx(1.5)
    assert found["new_spring_force"] == pytest.approx(90.0) and found["bind_wanted"] == pytest.approx(0.150)
    read = variables.numbers(plan, {"spring-rate": 70e3, "preload": 0.002, "stroke": 0.055})
    assert read["spring_force"] == pytest.approx(140.0) and read["spring_energy"] == pytest.approx(0.14)
    assert read["bind_wanted_of_stroke"] == pytest.approx(0.057)
    for lacking in (PlanNumbers(spring_n_per_m=7500.0), PlanNumbers(preload_m=0.02)):
        assert variables.numbers(lacking, {})["spring_force"] is None


def test_a_coil_shocks_damper_stays_shut() -> None:
    shock = ALL["coil-shock-spring"]
    steps = {each.key: each for each in shock.steps()}
    assert "never drilled" in steps["damper-outside"].caution and steps["damper-dry"].wait is not None
    assert steps["damper-dry"].wait.minutes == 30 and steps["damper-dry"].wait.after == "damper-stroked"
    assert [each.key for each in shock.steps() if each.has("opens")] == ["retainer-out"]


@pytest.mark.parametrize("key", ["rear-shock-air-can", "coil-shock-spring"])
def test_nothing_lets_the_gas_out_of_a_shocks_damper(key: str) -> None:
    """“A reservoir chamber has its own valve: that too” let it out at the vent: gone, the damper is one for the gas rig."""
    steps = ALL[key].steps()
    told = [
        sentence
        for step in steps
        for text in (step.do, step.detail, step.caution)
        for sentence in re.split(r"(?<=[.!?])\s+", text)
        if "reservoir" in sentence and "valve" in sentence
    ]
    assert told and all(re.search(r"leave it shut|left alone", sentence) for sentence in told), told


def test_a_can_is_home_before_the_first_air_and_faces_are_out_of_its_line() -> None:
    """Its tick could be passed over, “not done, because…”, and 250 psi pumped behind a can on half its thread."""
    can = {each.key: each for each in ALL["rear-shock-air-can"].steps()}
    home, first = can["can-on"], can["shock-inflate"]
    assert home.hold and not home.may_skip and home.evidence[0].passes == ("Home, as the sheet says",)
    assert set(home.evidence[0].options) > set(home.evidence[0].passes)
    found = order(ALL["rear-shock-air-can"], conditions(PlanNumbers()))
    assert found.index("can-on") < found.index("can-core-in") < found.index("shock-inflate")
    assert "out of its line" in first.caution and "{pressure_limit}" in first.detail, "the limit is known by the Book"


def test_a_shocks_leak_hold_looks_at_what_a_shock_has() -> None:
    """Nobody strokes a can at 200 psi by hand, nor has it a cap or feet."""
    can, fork = ({each.key: each for each in ALL[key].steps()} for key in ("rear-shock-air-can", "air-spring-reseal"))
    for key, of in (("can", can), ("cap", fork)):
        assert of["soap"].do == f"Look for bubbles at the soaped valve, {key}."
        assert of["soap"].evidence[0].label == f"Soaped valve, {key}"
    assert "Leaned on" in can["cycle"].detail and "feet" not in can["cycle"].detail
    assert "feet" in fork["cycle"].detail


def test_oil_of_the_damper_in_a_can_is_no_clean_can() -> None:
    (seen,) = next(each for each in ALL["rear-shock-air-can"].steps() if each.key == "can-body").evidence
    assert "Damper oil in the can" in set(seen.options) - set(seen.passes)


def test_a_shocks_spring_is_held_by_some_preload_and_its_retainer_in_its_seat() -> None:
    """Wanted 2 mm and 2 mm either way let none at all pass: the retainer drops out of a loose spring."""
    steps = {each.key: each for each in ALL["coil-shock-spring"].steps()}
    (preload,) = steps["collar-set"].evidence
    for wanted_m, least_m in ((0.002, 0.0005), (0.001, 0.0005), (0.004, 0.002)):
        held = band(preload, {"new_preload": wanted_m}, None)
        assert held.low_si == pytest.approx(least_m) and held.high_si == pytest.approx(wanted_m + 0.002)
    assert steps["retainer-in"].hold and not steps["retainer-in"].may_skip
    assert "turned back" in steps["old-preload"].detail, "past where it first touches nobody sees before it is turned"


@pytest.mark.parametrize("key", ["rear-shock-air-can", "coil-shock-spring"])
def test_a_shock_comes_out_and_goes_back_with_what_bites_said(key: str) -> None:
    steps = {each.key: each for each in ALL[key].steps()}
    out = steps["shock-out" if key == "rear-shock-air-can" else "coil-shock-out"]
    assert "the rear drops" in out.caution
    (eyes,) = [each for each in steps.values() if "eye-to-eye" in each.key and each.key.endswith("eye-to-eye")]
    assert "Bushings in both eyes: no play." in eyes.detail
    bottomed = steps["frame-bottomed" if key == "rear-shock-air-can" else "coil-frame-bottomed"]
    assert "nothing carries it now" in bottomed.caution
    assert "Climb switch open." in steps["shock-clicks"].detail and "clockwise" in steps["shock-clicks"].detail
    cards = {each.card for step in steps.values() for each in step.evidence}
    assert {("as-found", "compression"), ("as-left", "compression")} <= cards
    assert "remote’s cable" in steps["shock-bolts"].detail


def test_what_a_coil_is_wound_up_against_is_closed_or_nothing_is_wound_up() -> None:
    """A cap crossed, a retainer off its seat: “not done, because…” led to the preload, and it was thrown there or under the rider."""
    wound = {
        step.key: step for each in ALL.values() for step in each.steps() if step.has("loads") and not step.has("pumps")
    }
    assert {"coil-cap-on", "retainer-in"} <= set(wound)
    for step in wound.values():
        assert step.hold and not step.may_skip, step.key


def test_the_docs_list_the_shared_groups_and_every_procedure() -> None:
    for key in (*shared_keys(), *shipped_keys()):
        assert f"`{key}`" in TEXT, key


@pytest.mark.parametrize("key", ALL)
def test_a_sentence_of_which_nothing_is_known_reads_as_a_sentence(key: str) -> None:
    """“Set the preload: the preload to set past touching” stood where nobody had read one; “the spacers that came out came out”."""
    for step in ALL[key].steps():
        for text in (step.do, step.detail, step.caution, step.why, step.good):
            said = words.fill_in(text, dict.fromkeys(ALL[key].names), ALL[key].names)
            assert not re.search(r"[\[\]{}]|\s[.,;:]|\.\s*\.|: *$", said), (step.key, said)
            assert not re.search(r"\b(\w+ \w+) \1\b|noted before\.|to set past|It was the", said), (step.key, said)


def test_the_preload_is_set_past_touching_only_where_somebody_knows_how_far() -> None:
    step = next(each for each in ALL["coil-shock-spring"].steps() if each.key == "collar-set")
    names = ALL["coil-shock-spring"].names
    assert words.fill_in(step.do, {"new_preload": None}, names) == "Set the preload."
    assert plain(words.fill_in(step.do, {"new_preload": 0.005}, names)) == "Set the preload: 5 mm past touching."


def test_a_length_of_the_text_itself_is_said_in_the_readers_units() -> None:
    """“Pushed in by 30 mm” stood in a workshop whose rules are marked in inches."""
    inches = System(metric=False)

    def said(text: str, system: System) -> str:
        return plain(
            words.fill_in(
                text, {"coil_length": 0.0254}, {"coil_length": Name("length", "mm", "its length")}, system=system
            )
        )

    wheel = "A wheel of 3 kg pulls 27 N over {coil_length}, pushed in by 30 mm; 6 mm or more."
    assert said(wheel, BENCH) == "A wheel of 3 kg pulls 27 N over 25.4 mm, pushed in by 30 mm; 6 mm or more."
    # 3 kg 6.61 lb, 27 N 6.07 lbf, 30 mm 1.181 in, 6 mm 0.236 in (NIST SP 811)
    assert said(wheel, inches) == "A wheel of 6.6 lb pulls 6.1 lbf over 1 in, pushed in by 1.2 in; 0.24 in or more."
    for kept in ("Turn to 40 N/mm.", "At most 3 bar.", "A hose M 5 m5.", "Leg 1.30 mmx", "10 kinds", "2 marks"):
        assert said(kept, inches) == kept
    for procedure in ALL.values():
        for step in procedure.steps():
            for text in (step.do, step.detail, step.caution, step.why, step.good):
                assert not re.search(r"\d (mm|kg|N)\b", words.given(text, inches)), (step.key, text)


def test_a_shock_is_photographed_as_it_came_in_the_frame_or_alone() -> None:
    for key in ("rear-shock-air-can", "coil-shock-spring"):
        step = next(each for each in ALL[key].steps() if each.key == "shock-photo")
        assert step.needs == "" and "frame" not in step.do + step.detail
