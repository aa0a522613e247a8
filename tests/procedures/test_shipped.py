"""Travel change by air shaft as shipped: its order, its holds, its words, for every kind of negative chamber."""

from __future__ import annotations

import itertools
import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.plans import AMBIENT, PSI, a_plan
from topout.planner import variables
from topout.planner.judge import Gauge, NotKnown, band
from topout.planner.plan_numbers import conditions as conditions_of
from topout.planner.variables import VOCABULARY
from topout.procedures import words
from topout.procedures.check import FORBIDDEN, VERBS
from topout.procedures.model import CONDITIONS
from topout.procedures.read import shipped

PROCEDURE = shipped("travel-change-by-air-shaft", VOCABULARY).procedure
VARIANT = "inflate-before-lower-legs"
NEGATIVES = CONDITIONS["negative"]
GAUGE = Gauge(PSI, 100 * PSI, 1.0)
TAKEN = {
    "full-length": 0.171, "new-shaft": 0.262, "ring-depth": 0.0072, "rebound-clicks": 9.0, "compression-clicks": 4.0,
    "axle-to-crown": 0.541, "hose_loss": 0.8 * PSI, "hold-start-pressure": 73 * PSI, "hold-start-temperature": 291.15,
    "hold-temperature": 292.15, "round_pressure": 20 * PSI, "round_reading": 15 * PSI, "spacers-found": 1.0, "free-length": 0.21,
}  # fmt: skip

# The order of the job, clause by clause; each stands after the one before it.
ORDER = [
    "frame-limit", "chassis-limit", "wheel-limit", "new-shaft-length", "old-shaft-length",
    "found-temperature", "found-pressure", "exposed-length", "found-spacers", "found-clicks", "found-sag",
    "wheel-off-ground", "full-length", "eyes", "rag", "main-vent-port", "ten-strokes", "core-out", "empty-at-rest",
    "brake-bagged", "foot-bolts", "legs-off", "empty-by-hand", "ring-out", "shaft-out", "old-shaft-tag",
    "bore-clean", "bore", "port", "seals", "grease", "close", "ring-in", "ring-seated", "tug",
    "spacers-in", "oil-on-piston", "cap-by-hand", "cap-torque", "legs-on", "bath-oil", "washers", "foot-torque",
    "core-still-out", "full-stroke", "crown-gap", "brace-gap", "full-lock", "core-in", "fill", "exposed-after",
    "leak-end", "brake", "axle", "stem", "left-pressure", "left-exposed", "left-sag", "found-and-left", "release",
]  # fmt: skip


def keys(negative: str = "self-equalising", variants: frozenset[str] = frozenset()) -> list[str]:
    return [step.key for step in PROCEDURE.applying(conditions_of(a_plan(negative)), variants)]


def step(key: str) -> object:
    return next(each for each in PROCEDURE.steps() if each.key == key)


@pytest.mark.parametrize("negative", NEGATIVES)
def test_every_kind_of_fork_has_at_least_forty_steps(negative: str) -> None:
    assert len(keys(negative)) >= 40


def test_the_order_is_the_order_of_the_work() -> None:
    found = keys()
    assert [found.index(key) for key in ORDER] == sorted(found.index(key) for key in ORDER)


def test_a_separate_negative_valve_is_let_out_first() -> None:
    found = keys("separate-valve")
    order = [
        "full-length",
        "eyes",
        "negative-vent",
        "negative-core-out",
        "main-vent",
        "ten-strokes-valves",
        "core-out",
        "empty-at-rest",
    ]
    assert [found.index(key) for key in order] == sorted(found.index(key) for key in order)
    assert found.index("fill-main") < found.index("fill-negative") < found.index("leak-start")
    assert "port" not in found


@pytest.mark.parametrize("negative", ["coil", "none"])
def test_what_stands_in_place_of_a_chamber_of_air(negative: str) -> None:
    found = keys(negative)
    assert "negative-vent" not in found and "port" not in found
    assert ("empty-at-rest-coil" if negative == "coil" else "empty-at-rest") in found


@pytest.mark.parametrize("negative", NEGATIVES)
def test_both_hold_points_stand_before_ring_and_seal_head_are_touched(negative: str) -> None:
    found = keys(negative)
    at_rest = found.index("empty-at-rest-coil" if negative == "coil" else "empty-at-rest")
    assert (
        at_rest
        < found.index("foot-bolts")
        < found.index("empty-by-hand")
        < found.index("ring-rag")
        < found.index("ring-out")
    )
    for each in PROCEDURE.steps():
        if each.key in (found[at_rest], "empty-by-hand"):
            assert each.hold and each.stop is not None and each.stop.shows == "trapped-chamber"
            assert "Leave the ring and the seal head alone." in each.stop.text
            assert any("maker’s sheet" in way for way in each.stop.ways) and any(
                "specialist" in way for way in each.stop.ways
            )


def test_the_hold_points_that_come_backs_ask_for_are_there() -> None:
    holds = {each.key for each in PROCEDURE.steps() if each.hold}
    wanted = {
        "old-shaft-measured", "close", "ring-seated", "tug", "spacers-out", "spacers-in", "full-stroke", "crown-gap", "brace-gap",
        "full-lock", "fill", "top-out", "exposed-after", "leak-end", "oil-spot", "brake", "axle", "stem", "left-pressure", "release",
    }  # fmt: skip
    assert wanted <= holds


def test_the_variant_is_off_and_adds_its_steps_between_tug_and_cap() -> None:
    plain, dry = keys(), keys(variants=frozenset({VARIANT}))
    added = [key for key in dry if key not in plain]
    assert all(key.startswith("dry-") for key in added) and len(added) == 14
    first = dry.index("dry-clamp")
    assert dry[first - 1] == "tug" and dry[first + 14] == "cap-off" and [key for key in dry if key in plain] == plain
    order = [
        "dry-clamp", "dry-box", "dry-clear", "dry-shield", "dry-confirm-first", "dry-pump-first", "dry-look",
        "dry-confirm-second", "dry-pump-second", "dry-off", "dry-core-out", "dry-empty",
    ]  # fmt: skip
    assert [added.index(key) for key in order] == sorted(added.index(key) for key in order)


@pytest.mark.parametrize(
    ("set_psi", "first", "second"), [(73, 1e5, 3e5), (30, 1e5, 30 * PSI), (12, 12 * PSI, 12 * PSI)]
)
def test_the_variant_stops_at_1_bar_then_at_3_bar_or_the_set_pressure(
    set_psi: float, first: float, second: float
) -> None:
    plan = a_plan(set_pressure=set_psi * PSI)
    found = variables.numbers(plan, TAKEN, PROCEDURE.definitions)
    high = {}
    for each in PROCEDURE.steps():
        if each.key in ("dry-pump-first", "dry-pump-second"):
            high[each.key] = band(each.evidence[0], found).high_si
    assert high == {"dry-pump-first": pytest.approx(first), "dry-pump-second": pytest.approx(second)}
    # Force with the piston topped out on the seal head, g·A of the bore, and at the port's account g_n·A_n; never less.
    assert found["second_ring_force"] is not None
    assert found["second_ring_force"] >= second * math.pi * 0.034**2 / 4 * (1 - 1e-12)


def test_every_step_is_one_action_in_few_words() -> None:
    for each in PROCEDURE.steps():
        first = each.do.split()[0].lower()
        assert first in VERBS, each.do
        assert len(each.do.split()) <= 20 and not re.search(r"\band\b|\bthen\b|;", each.do), each.do
        assert not any(re.search(rf", {verb}\b", each.do) for verb in VERBS), each.do


def test_every_text_is_plain_and_short_and_no_number_stands_without_its_unit() -> None:
    for each in PROCEDURE.steps():
        texts = [each.do, each.detail, each.caution, each.why, each.good, *(e.label for e in each.evidence)]
        texts += [option for e in each.evidence for option in e.options]
        if each.stop is not None:
            texts += [each.stop.title, each.stop.text, *each.stop.ways]
        for text in texts:
            assert not FORBIDDEN.search(text), text
            for sentence in re.split(r"(?<=[.!?])\s+", text):
                assert len(sentence.split()) <= 20, sentence
            bare = re.sub(r"\{[^}]*\}", "", text)
            for number in re.finditer(r"\d+(?:\.\d+)?", bare):
                assert re.match(r"\s(mm|bar|psi|kg|N|%|minutes|times|N·m|N·cm|in-lb)", bare[number.end() :]), text


def test_every_group_has_at_most_nine_steps_and_says_when_it_is_complete() -> None:
    for group in PROCEDURE.groups:
        assert 1 <= len(group.steps) <= 9 and group.complete.endswith("complete.")


@pytest.mark.parametrize("negative", NEGATIVES)
def test_every_sentence_and_band_of_a_job_can_be_written_out(negative: str) -> None:
    plan = a_plan(negative)
    found = variables.numbers(plan, TAKEN, PROCEDURE.definitions)
    own = PROCEDURE.names
    for each in PROCEDURE.applying(conditions_of(plan), frozenset({VARIANT})):
        for text in (each.do, each.detail, each.caution, each.why, *(e.label for e in each.evidence)):
            for match in words.NAME_IN_TEXT.finditer(text):
                assert found[match.group(1)] is not None, (each.key, match.group(1))
            said = words.fill_in(text, found, own, second=True)
            assert "{" not in said and not re.search(r"\bnan\b|\binf\b", said)
        assert len(words.fill_in(each.do, found, own)) <= 60
        for evidence in each.evidence:
            if evidence.kind == "number":
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
    found = variables.numbers(plan, TAKEN | {"hose_loss": None}, PROCEDURE.definitions)
    said = {
        each.key: words.fill_in(f"{each.detail} {each.caution}", found, PROCEDURE.names) for each in PROCEDURE.steps()
    }
    assert "against the frame maker’s limit." in said["frame-limit"]
    assert "against the chassis’ limit, for this chassis" in said["chassis-limit"]
    assert "never above the maker’s highest pressure." in said["core-in"]
    assert "pushed on again, its hose takes its share." in said["leak-start"]


def test_before_the_lower_legs_the_room_without_the_new_spacers_counts() -> None:
    """Spacers go in later: 8 ml more room than after, so the energy shown is that of the larger chamber."""
    plan = a_plan()
    found = variables.numbers(plan, TAKEN, PROCEDURE.definitions)
    pressure, room = AMBIENT + 3e5, (238 - 8 - 4) * 1e-6
    piston, annulus = math.pi * 0.034**2 / 4, math.pi * (0.034**2 - 0.010**2) / 4
    charged = pressure * room / (room - piston * 0.003) * (48e-6 + annulus * 0.003) / 48e-6
    wanted = 0.0
    for ratio, volume in ((pressure / AMBIENT, room), (charged / AMBIENT, 48e-6)):
        wanted += AMBIENT * volume * (ratio * math.log(ratio) - ratio + 1)
    assert found["second_energy"] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("negative", NEGATIVES)
def test_drawn_in_while_the_main_side_is_let_out_closes_every_later_step(negative: str) -> None:
    """physics 9: a unit that is drawn in when vented has a charged negative chamber."""
    conditions = conditions_of(a_plan(negative))
    (vent,) = [each for each in PROCEDURE.applying(conditions) if each.key.startswith("main-vent")]
    (answer,) = vent.evidence
    assert vent.hold and vent.stop is not None and vent.stop.shows == "trapped-chamber"
    assert [option for option in answer.options if option not in answer.passes][-1].startswith("It drew itself in")


@pytest.mark.parametrize("drawn_mm", [0, 12, 30, 33])
def test_a_coil_that_pulls_less_than_its_reach_is_no_danger(drawn_mm: float) -> None:
    rest = next(each for each in PROCEDURE.steps() if each.key == "empty-at-rest-coil").evidence[1]
    span = band(rest, variables.numbers(a_plan("coil"), TAKEN, PROCEDURE.definitions), GAUGE)
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
    evidence = next(each.evidence[0] for each in PROCEDURE.steps() if each.key == "exposed-after")
    with pytest.raises(NotKnown, match="new exposed length is not known yet"):
        band(evidence, variables.numbers(a_plan(), {}), GAUGE)
    fill = next(each.evidence[0] for each in PROCEDURE.steps() if each.key == "fill")
    with pytest.raises(NotKnown, match="the gauge"):
        band(fill, variables.numbers(a_plan(), TAKEN), None)


@settings(max_examples=300, deadline=None)
@given(st.floats(-1, 1), st.sampled_from(["ring-depth-after", "full-stroke", "exposed-after", "brace-gap"]))
def test_both_ends_of_a_band_pass_and_a_hair_beyond_does_not(share: float, key: str) -> None:
    evidence = next(each.evidence[0] for each in PROCEDURE.steps() if each.key == key)
    span = band(evidence, variables.numbers(a_plan(), TAKEN, PROCEDURE.definitions), GAUGE)
    assert span.low_si is not None and span.high_si is not None
    middle, half = (span.low_si + span.high_si) / 2, (span.high_si - span.low_si) / 2
    assert span.holds(middle + share * half) and span.holds(span.low_si) and span.holds(span.high_si)
    beyond = half * 1.0001 + 1e-9
    assert not span.holds(middle + beyond) and not span.holds(middle - beyond)
    assert not any(span.holds(value) for value in (math.nan, math.inf, -math.inf))


def test_limits_of_the_come_backs() -> None:
    """Full stroke ± 2 mm, bare stanchion 3 mm, 6 mm clear, under 1 % in 30 minutes; filling two marks plus the class."""
    found = variables.numbers(a_plan(), TAKEN, PROCEDURE.definitions)
    spans = {
        e.key: band(e, found, GAUGE)
        for s in PROCEDURE.applying(conditions_of(a_plan()))
        for e in s.evidence
        if e.kind == "number"
    }
    assert spans["full-stroke"].low_si == pytest.approx(0.138) and spans["full-stroke"].high_si == pytest.approx(0.142)
    assert spans["exposed-after"].low_si == pytest.approx(0.158)
    assert spans["crown-gap"].low_si == pytest.approx(0.009) and spans["brace-gap"].low_si == pytest.approx(0.006)
    assert spans["fill-reading"].high_si == pytest.approx((15 + 2 + 1) * PSI)
    leak = spans["leak-end-pressure"]
    assert leak.expect_si is not None and leak.low_si == pytest.approx(0.99 * leak.expect_si)
    assert leak.expect_si == pytest.approx((73 * PSI + AMBIENT) * 292.15 / 291.15 - AMBIENT)
    waits = {s.key: s.wait.minutes for s in PROCEDURE.steps() if s.wait is not None}
    assert waits == {"leak-start": 5, "leak-end": 30, "after-strokes": 5}


def test_conditions_cover_every_plan_once() -> None:
    """Whatever the plan, each thing is done once: alternatives of one step never both apply, and one of them does."""
    for combination in itertools.product(*CONDITIONS.values()):
        conditions = dict(zip(CONDITIONS, combination, strict=True))
        found = [each.key for each in PROCEDURE.applying(conditions)]
        assert len(found) == len(set(found))
        for alternatives in (
            {"spacers-in", "spacers-back"}, {"oil-on-piston", "no-oil-on-piston"}, {"empty-at-rest", "empty-at-rest-coil"},
            {"ten-strokes", "ten-strokes-valves", "ten-strokes-coil", "ten-strokes-none"},
            {"main-vent", "main-vent-open", "main-vent-port", "main-vent-coil"}, {"close", "close-coil", "close-none"},
            {"fill", "fill-main"},
        ):  # fmt: skip
            assert len(alternatives & set(found)) == 1
