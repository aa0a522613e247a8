"""Travel change by air shaft as shipped: its order, its holds, its words, for every kind of negative chamber."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from functools import cache
from importlib import resources

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.plans import AMBIENT, PSI, a_plan
from topout.errors import FaultsFound
from topout.planner import variables
from topout.planner.judge import Gauge, NotKnown, band
from topout.planner.plan_numbers import conditions as conditions_of
from topout.planner.variables import VOCABULARY
from topout.procedures import words
from topout.procedures.check import FORBIDDEN, VERBS
from topout.procedures.library import shipped_keys, text_of
from topout.procedures.model import CONDITIONS, Procedure
from topout.procedures.read import pinned, read, shipped
from topout.procedures.roles import HOLD_JUDGED

TODAY = shipped_keys()
EARLIER = sorted(file.name for file in resources.files("topout.procedures").joinpath("data", "earlier").iterdir())
VARIANT = "inflate-before-lower-legs"
NEGATIVES = CONDITIONS["negative"]
GAUGE = Gauge(PSI, 100 * PSI, 1.0)
TAKEN = {
    "full-length": 0.171, "new-shaft": 0.262, "ring-depth": 0.0072, "rebound-clicks": 9.0, "compression-clicks": 4.0,
    "axle-to-crown": 0.541, "hose_loss": 0.8 * PSI, "hold-start-pressure": 73 * PSI, "hold-start-temperature": 291.15,
    "hold-temperature": 292.15, "round_pressure": 20 * PSI, "round_reading": 15 * PSI, "spacers-found": 1.0, "free-length": 0.21,
}  # fmt: skip


@cache
def the_change() -> Procedure:
    """The travel change by another air shaft: read once, when a test asks."""
    return shipped("travel-change-by-air-shaft", VOCABULARY).procedure


@cache
def every() -> list[Procedure]:
    return [shipped(key, VOCABULARY).procedure for key in TODAY]


def earlier_text(name: str) -> str:
    return resources.files("topout.procedures").joinpath("data", "earlier", name).read_text(encoding="utf-8")


HANDS = {
    "main-vent", "main-vent-port", "main-vent-coil", "empty-at-rest", "empty-at-rest-coil", "empty-by-shaft", "empty-by-shaft-coil", "ring-seated", "tug",
    "negative-look", "second-vent", "both-empty", "second-look", "brake", "axle", "stem", "dry-look", "dry-empty",
}  # fmt: skip


def keys(negative: str = "self-equalising", variants: frozenset[str] = frozenset()) -> list[str]:
    return [step.key for step in the_change().applying(conditions_of(a_plan(negative)), variants)]


def test_a_separate_negative_valve_is_let_out_first() -> None:
    found = keys("separate-valve")
    order = ["wheel-out", "negative-vent", "negative-core-out", "main-vent-port", "ten-strokes", "empty-at-rest"]
    assert [found.index(key) for key in order] == sorted(found.index(key) for key in order)
    assert found.index("fill-main") < found.index("fill-negative") < found.index("leak-start")


@pytest.mark.parametrize("negative", ["coil", "none", "not-known"])
def test_what_stands_in_place_of_a_chamber_of_air(negative: str) -> None:
    found = keys(negative)
    assert "negative-vent" not in found
    assert ("empty-at-rest-coil" if negative == "coil" else "empty-at-rest") in found


@pytest.mark.parametrize("negative", NEGATIVES)
def test_both_hold_points_stand_before_circlip_and_seal_head_are_touched(negative: str) -> None:
    found = keys(negative)
    at_rest = found.index("empty-at-rest-coil" if negative == "coil" else "empty-at-rest")
    by_shaft = "empty-by-shaft-coil" if negative == "coil" else "empty-by-shaft"
    order = [at_rest, *(found.index(key) for key in ("cap-off", "foot-bolts", by_shaft, "ring-out"))]
    assert order == sorted(order)
    for each in the_change().steps():
        if each.key in (found[at_rest], by_shaft):
            assert each.hold and each.stop is not None and each.stop.shows == "trapped-chamber"
            assert "Leave the circlip and the seal head alone." in each.stop.text
            assert any("maker’s sheet" in way for way in each.stop.ways)
            assert any("specialist" in way for way in each.stop.ways)


def test_the_cap_comes_off_right_after_empty_and_what_was_counted_shows_while_all_is_open() -> None:
    found = keys()
    at = found.index("empty-at-rest")
    assert found[at + 1 : at + 4] == ["cap-off", "spacers-out", "bore-wiped"]
    assert found.index("bore-wiped") < found.index("shaft-out") < found.index("spacers-in")


def test_the_brake_is_bagged_before_air_and_the_fork_washed_before_it_is_opened() -> None:
    found = keys()
    order = ["wash", "brake-bagged", "main-vent-port", "cap-off", "turn-over", "foot-bolts", "drain"]
    assert [found.index(key) for key in order] == sorted(found.index(key) for key in order)


def test_a_loose_spacer_ring_is_kept_and_put_back_before_the_circlip_is_judged() -> None:
    found = {each.key: each for each in the_change().steps()}
    assert "Kept on the bench" in found["ring-out"].evidence[0].options
    back = found["spacer-ring-back"].evidence[0]
    assert "Left over" in set(back.options) - set(back.passes)
    order = keys()
    assert order.index("ring-out") < order.index("close") < order.index("spacer-ring-back") < order.index("ring-seated")
    assert not any("depth" in e.label.lower() for s in the_change().steps() for e in s.evidence)  # it proves nothing


def test_the_holds_are_those_that_earn_their_keep() -> None:
    """Air out, empty twice, new shaft, piston, circlip with photo, tug, full stroke, filling, length, brake, axle, stem, left."""
    holds = {each.key for each in the_change().steps() if each.hold and not each.key.startswith("dry-")}
    assert holds == {
        "new-shaft-length", "main-vent", "main-vent-port", "main-vent-coil", "empty-at-rest", "empty-at-rest-coil", "empty-by-shaft", "empty-by-shaft-coil",
        "close", "close-coil", "close-none", "ring-seated", "tug", "full-stroke", "full-stroke-bench", "fill", "fill-main", "length",
        "brake", "axle", "stem", "left-pressure", "left-negative-pressure", "negative-look", "second-vent", "both-empty", "second-look", "fill-second",
        "left-second-pressure", "shock-too-pressure", "shock-too-preload",
    }  # fmt: skip
    assert {each.key for each in the_change().steps() if not each.may_skip} == HANDS


def test_brake_axle_and_stem_go_on_while_the_leak_hold_runs() -> None:
    (group,) = [each for each in the_change().groups if each.meanwhile]
    found = keys()
    assert {"brake", "axle", "stem"} <= {each.key for each in group.steps}
    assert found.index("leak-end") < found.index("brake") < found.index("left-pressure")


def test_a_figure_is_never_asked_where_as_the_sheet_says_is_all_anybody_knows() -> None:
    """Torques are ticks with the family's figure beside them; of numbers only oil, and the shaft, have one of the sheet."""
    for each in the_change().steps():
        for evidence in each.evidence:
            if evidence.dimension == "torque":
                raise AssertionError(f"{each.key} asks for a torque")
            if evidence.service.startswith("torque."):
                assert evidence.kind in ("tick", "choice"), each.key
    wanted = {
        "torque.foot-bolt", "torque.top-cap", "torque.caliper", "torque.axle", "torque.stem", "torque.seal-head",
        "torque.valve-core", "oil.lower-left", "oil.lower-right", "grease.seals", "grease.wipers", "length.air-shaft",
    }  # fmt: skip
    assert wanted <= {e.service for s in the_change().steps() for e in s.evidence}


def test_the_variant_is_off_has_its_reason_and_adds_its_steps_between_tug_and_cap() -> None:
    plain, dry = keys(), keys(variants=frozenset({VARIANT}))
    added = [key for key in dry if key not in plain]
    assert the_change().variants[0].why
    assert all(key.startswith("dry-") for key in added) and len(added) == 14
    first = dry.index("dry-clamp")
    assert dry[first - 1] == "tug" and dry[first + 14] == "spacers-in"
    assert [key for key in dry if key in plain] == plain
    order = [
        "dry-clamp", "dry-box", "dry-clear", "dry-shield", "dry-confirm-first", "dry-pump-first", "dry-look",
        "dry-confirm-second", "dry-pump-second", "dry-off", "dry-core-out", "dry-empty",
    ]  # fmt: skip
    assert [added.index(key) for key in order] == sorted(added.index(key) for key in order)


@pytest.mark.parametrize("reads", [(20, 39, 59, 69, 69), (40, 73, 73)])
def test_a_blocked_port_shows_in_the_drop_and_does_not_pass(reads: tuple[float, ...]) -> None:
    """Readings that lose nothing, or a mark, where the plan expects the chambers to share: never passed, on any gauge."""
    plan = a_plan()
    fill = next(each.evidence[0] for each in the_change().steps() if each.key == "fill")
    for gauge in (GAUGE, Gauge(5 * PSI, 300 * PSI, 4.0)):
        for pumped, expected in ((20, 16.0), (40, 32.2), (73, 65.3)):
            here = {"round_pressure": pumped * PSI, "round_reading": expected * PSI, "gauge_mark": gauge.mark_pa}
            span = band(fill, variables.numbers(plan, TAKEN | here), gauge)
            blocked = [read for read in (*reads, pumped, pumped - 1) if read >= pumped - 1]
            if pumped - expected >= gauge.mark_pa / PSI:
                assert not any(span.holds(read * PSI) for read in blocked)
            assert span.holds(expected * PSI)


def test_a_drop_is_judged_to_marks_not_to_the_class() -> None:
    fill = next(each.evidence[0] for each in the_change().steps() if each.key == "fill")
    here = {"round_pressure": 40 * PSI, "round_reading": 32.2 * PSI, "gauge_mark": PSI}
    for percent in (0.5, 4.0):
        span = band(fill, variables.numbers(a_plan(), TAKEN | here), Gauge(PSI, 300 * PSI, percent))
        assert span.low_si == pytest.approx(30.2 * PSI) and span.high_si == pytest.approx(34.2 * PSI)


def test_what_the_gauge_can_not_show_is_not_asked_of_it() -> None:
    fill = next(each.evidence[0] for each in the_change().steps() if each.key == "fill")
    here = {"round_pressure": 73 * PSI, "round_reading": 72.7 * PSI, "gauge_mark": PSI}
    assert band(fill, variables.numbers(a_plan(), TAKEN | here), GAUGE).holds(73 * PSI)


def test_the_full_stroke_is_judged_by_the_length_that_body_weight_reaches() -> None:
    """Independent: bumper k·l·(δ/l)², lower legs p·A·(V/(V−A·x)−1), suction of the negative chamber; brute force over x."""
    made = a_plan()
    assert made.after is not None
    legs, area, rate, length = 390e-6, 1570e-6, 70e3, 0.008
    after = replace(
        made.after, legs_m3=np.array([legs]), legs_m2=np.array([area]), contact_m=made.after.travel_m - length, bumper_m=np.array([length]),
        bumper_n_per_m=np.array([rate]), bumper_power=np.array([2.0]),
    )  # fmt: skip
    found = variables.numbers(replace(made, after=after), {})["full_stroke"]
    annulus = math.pi * (0.034**2 - 0.010**2) / 4
    best = 0.0
    for tenth in range(1401):
        x = tenth * 1e-4
        push = AMBIENT * area * (legs / (legs - area * x) - 1)
        push += rate * length * (max(0.0, x - (0.140 - length)) / length) ** 2
        push += annulus * AMBIENT * (1 - (48e-6 + annulus * 0.003) / (48e-6 + annulus * x)) if x > 0.003 else 0.0
        if push > 700.0:
            break
        best = x
    assert found == pytest.approx(best, abs=3e-4) and found < 0.140
    assert variables.numbers(made, {})["full_stroke"] == pytest.approx(0.140)  # nothing known that pushes back


@pytest.mark.parametrize(
    ("set_psi", "first", "second"), [(73, 1e5, 3e5), (30, 1e5, 30 * PSI), (12, 12 * PSI, 12 * PSI)]
)
def test_the_variant_stops_at_1_bar_then_at_3_bar_or_the_set_pressure(
    set_psi: float, first: float, second: float
) -> None:
    plan = a_plan(set_pressure=set_psi * PSI)
    found = variables.numbers(plan, TAKEN, the_change().definitions)
    high = {}
    for each in the_change().steps():
        if each.key in ("dry-pump-first", "dry-pump-second"):
            high[each.key] = band(each.evidence[0], found).high_si
    assert high == {"dry-pump-first": pytest.approx(first), "dry-pump-second": pytest.approx(second)}
    # Force with the piston topped out on the seal head, g·A of the bore, and at the port's account g_n·A_n; never less.
    assert found["second_ring_force"] is not None
    assert found["second_ring_force"] >= second * math.pi * 0.034**2 / 4 * (1 - 1e-12)


def test_each_is_read_without_a_finding() -> None:
    """Every rule for a workshop's own text holds for ours: a process that walks by one looks at its words no more."""
    for key in TODAY:
        assert read(text_of(key), key, VOCABULARY, f"{key}.toml") == shipped(key, VOCABULARY).procedure, key


def test_every_step_is_one_action_in_few_words() -> None:
    for each in (step for procedure in every() for step in procedure.steps()):
        first = each.do.split()[0].lower()
        assert first in VERBS, each.do
        assert len(each.do.split()) <= 20 and not re.search(r"\band\b|\bthen\b|;", each.do), each.do
        assert not any(re.search(rf", {verb}\b", each.do) for verb in VERBS), each.do


def test_every_text_is_plain_and_short_and_no_number_stands_without_its_unit() -> None:
    for each in (step for procedure in every() for step in procedure.steps()):
        texts = [each.do, each.detail, each.caution, each.why, each.good, *(e.label for e in each.evidence)]
        texts += [option for e in each.evidence for option in e.options]
        if each.stop is not None:
            texts += [each.stop.title, each.stop.text, *each.stop.ways]
        for text in texts:
            assert not FORBIDDEN.search(text), text
            for sentence in re.split(r"(?<=[.!?])\s+", words.whole(text)):
                assert len(sentence.split()) <= 20, sentence
            bare = re.sub(r"\{[^}]*\}", "", text)
            for number in re.finditer(r"\d+(?:\.\d+)?", bare):
                assert re.match(r"\s(mm|bar|psi|kg|N|%|minutes|times|N·m|N·cm|in-lb)", bare[number.end() :]), text


def test_every_group_has_at_most_nine_steps_beside_its_holds_and_says_when_it_is_complete() -> None:
    for group in (group for procedure in every() for group in procedure.groups):
        assert group.steps and sum(not each.hold for each in group.steps) <= 9 and group.complete.endswith("complete.")


@pytest.mark.parametrize("negative", NEGATIVES)
def test_every_sentence_and_band_of_a_job_can_be_written_out(negative: str) -> None:
    plan = a_plan(negative)
    found = variables.numbers(plan, TAKEN, the_change().definitions)
    own = the_change().names
    for each in the_change().applying(conditions_of(plan), frozenset({VARIANT})):
        for text in (each.do, each.detail, each.caution, each.why, *(e.label for e in each.evidence)):
            for match in words.NAME_IN_TEXT.finditer(text):
                assert found[match.group(1)] is not None, (each.key, match.group(1))
            said = words.fill_in(text, found, own, second=True)
            assert "{" not in said and not re.search(r"\bnan\b|\binf\b", said)
        assert len(words.fill_in(each.do, found, own)) <= 60
        for evidence in each.evidence:
            if evidence.kind == "number" and HOLD_JUDGED not in evidence.roles:
                assert band(evidence, found, GAUGE).bounded, evidence.key


def test_the_trapped_chamber_is_that_of_physics_9() -> None:
    """Settled at a port 3 mm in: p_e·V_p(3) = p·V_p(0); the negative chamber then holds p_e·V_n(3)/V_n(0) at full length."""
    plan = a_plan()
    piston, annulus = math.pi * 0.034**2 / 4, math.pi * (0.034**2 - 0.010**2) / 4
    main = (238 - 8 - 4) * 1e-6
    at_port = (70 * PSI + AMBIENT) * main / (main - piston * 0.003)
    charged = at_port * (48e-6 + annulus * 0.003) / 48e-6
    ratio = charged / AMBIENT
    found = variables.numbers(plan, {})
    assert found["trapped_force"] == pytest.approx((charged - AMBIENT) * annulus, rel=1e-12)
    assert found["trapped_energy"] == pytest.approx(AMBIENT * 48e-6 * (ratio * math.log(ratio) - ratio + 1), rel=1e-12)
    for negative in ("coil", "none"):
        assert variables.numbers(a_plan(negative, 0.0), {})["trapped_force"] is None


def test_a_limit_that_the_card_does_not_have_is_written_as_its_words() -> None:
    plan = a_plan(fork_length_limit_m=None, travel_limit_m=None, pressure_limit_gauge_pa=None)
    found = variables.numbers(plan, TAKEN | {"hose_loss": None}, the_change().definitions)
    said = {
        each.key: words.fill_in(f"{each.detail} {each.caution}", found, the_change().names)
        for each in the_change().steps()
    }
    assert "against the frame maker’s limit." in said["frame-limit"]
    assert "against the chassis’ limit." in said["shaft-fits"]
    assert "never above the maker’s highest pressure." in said["core-in"]
    assert "pushed on again, its hose takes its share." in said["leak-start"]


def test_before_the_lower_legs_the_room_without_the_new_spacers_counts() -> None:
    """Spacers go in later: 8 ml more room than after, so the energy shown is that of the larger chamber."""
    plan = a_plan()
    found = variables.numbers(plan, TAKEN, the_change().definitions)
    pressure, room = AMBIENT + 3e5, (238 - 8 - 4) * 1e-6
    piston, annulus = math.pi * 0.034**2 / 4, math.pi * (0.034**2 - 0.010**2) / 4
    charged = pressure * room / (room - piston * 0.003) * (48e-6 + annulus * 0.003) / 48e-6
    wanted = 0.0
    for ratio, volume in ((pressure / AMBIENT, room), (charged / AMBIENT, 48e-6)):
        wanted += AMBIENT * volume * (ratio * math.log(ratio) - ratio + 1)
    assert found["second_energy"] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("negative", NEGATIVES)
def test_sucked_in_while_the_main_side_is_let_out_closes_every_later_step(negative: str) -> None:
    """physics 9: a unit that is drawn in when vented has a charged negative chamber."""
    conditions = conditions_of(a_plan(negative))
    (vent,) = [each for each in the_change().applying(conditions) if each.key.startswith("main-vent")]
    (answer,) = vent.evidence
    assert vent.hold and not vent.may_skip and vent.stop is not None and vent.stop.shows == "trapped-chamber"
    assert [option for option in answer.options if option not in answer.passes]


@pytest.mark.parametrize("drawn_mm", [0, 12, 30, 33])
def test_a_coil_that_pulls_less_than_its_reach_is_no_danger(drawn_mm: float) -> None:
    rest = next(each for each in the_change().steps() if each.key == "empty-at-rest-coil").evidence[1]
    span = band(rest, variables.numbers(a_plan("coil"), TAKEN, the_change().definitions), GAUGE)
    assert span.holds(drawn_mm * 1e-3) and not span.holds(0.034)


@settings(max_examples=200, deadline=None)
@given(st.floats(5, 300), st.floats(0, 12))
def test_dangers_are_written_rounded_up_to_two_figures(psi: float, port_mm: float) -> None:
    found = variables.numbers(a_plan(port_m=port_mm * 1e-3, pressure=psi * PSI), {})
    for key in ("trapped_force", "trapped_energy", "cap_force"):
        exact = found[key]
        assert exact is not None
        number, unit = words.written(VOCABULARY.names[key], exact).split("\N{NO-BREAK SPACE}")
        shown = float(number.replace("\N{NARROW NO-BREAK SPACE}", ""))
        assert unit in ("N", "J") and exact * (1 - 1e-6) <= shown <= exact * 1.1 + 0.1


def test_a_band_with_a_number_that_is_not_there_is_not_judged() -> None:
    evidence = next(each.evidence[0] for each in the_change().steps() if each.key == "length")
    with pytest.raises(NotKnown, match="new exposed length is not known yet"):
        band(evidence, variables.numbers(a_plan(), {}), GAUGE)
    fill = next(each.evidence[0] for each in the_change().steps() if each.key == "fill")
    with pytest.raises(NotKnown, match="the gauge"):
        band(fill, variables.numbers(a_plan(), TAKEN), None)


@settings(max_examples=300, deadline=None)
@given(st.floats(-1, 1), st.sampled_from(["full-stroke", "length", "brace-gap", "oil-on-piston"]))
def test_both_ends_of_a_band_pass_and_a_hair_beyond_does_not(share: float, key: str) -> None:
    evidence = next(each.evidence[0] for each in the_change().steps() if each.key == key)
    span = band(evidence, variables.numbers(a_plan(), TAKEN, the_change().definitions), GAUGE)
    assert span.low_si is not None and span.high_si is not None
    middle, half = (span.low_si + span.high_si) / 2, (span.high_si - span.low_si) / 2
    assert span.holds(middle + share * half) and span.holds(span.low_si) and span.holds(span.high_si)
    beyond = half * 1.0001 + 1e-9
    assert not span.holds(middle + beyond) and not span.holds(middle - beyond)
    assert not any(span.holds(value) for value in (math.nan, math.inf, -math.inf))


def test_limits_of_the_come_backs() -> None:
    """Full stroke ± 2 mm, exposed stanchion 3 mm, 6 mm clear; what the hold should show."""
    found = variables.numbers(a_plan(), TAKEN, the_change().definitions)
    job = conditions_of(a_plan()) | {"wheel": "changed"}
    spans = {e.key: band(e, found, GAUGE) for s in the_change().applying(job) for e in s.evidence if e.kind == "number"}
    assert spans["full-stroke"].low_si == pytest.approx(0.138) and spans["full-stroke"].high_si == pytest.approx(0.142)
    assert spans["length"].low_si == pytest.approx(0.158)
    assert spans["crown-gap"].low_si == pytest.approx(0.009) and spans["brace-gap"].low_si == pytest.approx(0.006)
    leak = spans["leak-end-pressure"]
    assert not leak.bounded, "judged by the whole hold (tests/web/test_leak_hold.py), not by a band"
    assert leak.expect_si == pytest.approx((73 * PSI + AMBIENT) * 292.15 / 291.15 - AMBIENT)
    waits = {s.key: s.wait.minutes for s in the_change().steps() if s.wait is not None}
    assert waits == {"leak-start": 5, "leak-end": 30, "oil-spot": 30, "length-after-hold": 30}


def test_conditions_cover_every_plan_once() -> None:
    """Whatever the plan, each thing is done once: alternatives of one step never both apply, and one of them does."""
    procedure = the_change()
    asked = {each.needs for each in procedure.steps()} | {name for each in procedure.steps() for name, _ in each.when}
    # What no step asks for decides nothing: of those each value stands once, in turn, beside the others' combinations.
    ways = itertools.product(*(values for name, values in CONDITIONS.items() if name in asked))
    for turn, combination in enumerate(ways):
        named = iter(combination)
        conditions = {
            name: next(named) if name in asked else values[turn % len(values)] for name, values in CONDITIONS.items()
        }
        found = [each.key for each in procedure.applying(conditions)]
        assert len(found) == len(set(found))
        for alternatives in (
            {"empty-at-rest", "empty-at-rest-coil"}, {"main-vent", "main-vent-port", "main-vent-coil"},
            {"close", "close-coil", "close-none"}, {"empty-by-shaft", "empty-by-shaft-coil"}, {"fill", "fill-main"}, {"full-stroke", "full-stroke-bench"},
        ):  # fmt: skip
            assert len(alternatives & set(found)) == 1


@pytest.mark.parametrize("key", [*TODAY, *EARLIER])
def test_every_shipped_text_is_read_the_earlier_ones_too(key: str) -> None:
    name, text = (key, text_of(key)) if key in TODAY else (key.split(".")[0], earlier_text(key))
    procedure = pinned(name, text, VOCABULARY).procedure
    steps = list(procedure.steps())
    assert any(each.roles for step in steps for each in step.evidence)
    assert all(procedure.group_of(step) in procedure.groups for step in steps)
    assert procedure.pages({name: values[0] for name, values in CONDITIONS.items()})


def test_a_text_of_before_says_what_it_said_and_its_holds_still_take_no_excuse() -> None:
    old = pinned("travel-change-by-air-shaft", earlier_text("travel-change-by-air-shaft.309a9fbc6292.toml"), VOCABULARY)
    steps = {each.key: each for each in old.procedure.steps()}
    assert len(steps) == 141 and old.procedure.version == 2
    assert all(not each.may_skip for each in steps.values() if each.hold)
    wait = steps["leak-end"].wait
    assert wait is not None and (wait.after, wait.minutes) == ("leak-start", 30)
    (pump,) = [each for each in steps["left-pressure"].evidence if each.roles == ("pump",)]
    assert pump.meaning("Pushed on to read") == "pushed-on" and pump.meaning("On while it was set") == "stayed-on"
    answers = {"exposed-length": 0.171, "leak-end-temperature": 292.0, "drain": 1.0}
    assert steps["exposed-length"].readings(answers) == {"full-length": 0.171}
    assert steps["leak-end"].readings(answers) == {"temperature": 292.0, "hold-temperature": 292.0}
    assert steps["drain"].readings(answers) == {}
    with pytest.raises(FaultsFound, match="grammar = 2 is expected"):
        read(earlier_text("travel-change-by-air-shaft.309a9fbc6292.toml"), "a", VOCABULARY)
