"""The step engine: order, holds, blocks, what is kept, resume, time, variants, the plan behind the numbers."""

from __future__ import annotations

from datetime import timedelta

import pytest

from topout.units import PSI_PA
from topout.web.access.change import SavedBefore, change
from topout.web.jobs.readings import show
from topout.web.jobs.records.models import Draft, Instrument, Photo, Reading, StepEntry
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.steps import owners, sign, written
from topout.web.jobs.steps.conditions import SECOND
from topout.web.jobs.steps.progress import Slot
from topout.web.jobs.steps.sign import Answer, Refused
from web.people import Cast
from web.steps_kit import BENCH, START, Hands, failing, freeze, gauge, make_job, passing


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    return Hands(cast.technician, make_job(cast.technician))


def test_a_job_is_worked_from_the_first_step_to_the_last(hands: Hands) -> None:
    hands.begin()
    assert hands.until(None) is None
    here = hands.here()
    assert here.total >= 40 and sign.finished(hands.job)
    assert all(here.passed(slot) for slot in here.slots)
    assert [line.state for line in sign.lines(hands.job)] == ["done"] * here.total
    left = {r.kind: r for r in Reading.objects.filter(job=hands.job, stage="as-left")}
    assert left["pressure"].value_si == pytest.approx(73 * PSI_PA)
    assert left["travel"].value_si == pytest.approx(0.140)
    assert left["spacers"].value_si == 2 and left["exposed-length"].value_si == pytest.approx(0.161)
    assert Photo.objects.filter(job=hands.job, step_key="ring-seated").count() == 1
    assert sign.where(hands.job).kind == "done"


def test_nothing_is_signed_before_the_work_begins_or_while_it_is_stopped(hands: Hands) -> None:
    first = hands.here().slots[0]
    with pytest.raises(Refused, match="not begun"):
        hands.sign(first)
    with pytest.raises(Refused, match="older than the job"):
        hands.sign(first, seen=1000)
    hands.begin()
    hands.stop()
    with pytest.raises(Refused, match="work is stopped"):
        hands.sign(first)
    hands.go_on()
    assert hands.sign(first).verdict == "passed"


def test_the_work_is_begun_and_stopped_once_and_nothing_is_left_or_struck_without_a_word(hands: Hands) -> None:
    with pytest.raises(Refused, match="not going on"):
        hands.stop()
    hands.begin()
    with pytest.raises(Refused, match="going on already"):
        hands.begin()
    may_skip = next(slot for slot in hands.here().slots if slot.step.may_skip and slot.number > 30)
    assert hands.until(may_skip.step.key) == may_skip
    here = hands.here()
    ticked = next(
        slot for slot in here.slots
        if here.settled(slot) and here.screen_of(slot).rows and {each.kind for each in slot.step.evidence} == {"tick"}
    )  # fmt: skip
    before = StepEntry.objects.count()
    for verdict, reason, words in (("passed", "because", "as not done, or as not known"), ("not-done", "", "Say why")):
        with pytest.raises(Refused, match=words), change(hands.who, "leave", {}, at=hands.at) as doing:
            sign.leave(doing, hands.job, may_skip.step.key, verdict, reason, here.seen)
    with pytest.raises(Refused, match="Say why it is struck"), change(hands.who, "strike", {}, at=hands.at) as doing:
        sign.strike(doing, hands.job, ticked.step.key, "", here.seen)
    hands.stop()
    with pytest.raises(Refused, match="not going on"):
        hands.stop()
    assert StepEntry.objects.count() == before + 1, "the one stop"


def test_a_later_step_is_refused_and_a_signed_one_is_not_signed_twice(hands: Hands) -> None:
    hands.begin()
    slots = hands.here().slots
    with pytest.raises(Refused, match="Step 1 comes first"):
        hands.sign(slots[2])
    with pytest.raises(Refused, match="no such step"), change(hands.who, "sign", {}, at=hands.at) as doing:
        sign.sign(doing, hands.job, "of-another-procedure", {}, hands.here().seen)
    hands.sign(slots[0])
    with pytest.raises(Refused, match="signed already"):
        hands.sign(slots[0])
    again = hands.sign(slots[0], again=True)
    assert again.verdict == "passed" and "gauge" not in again.evidence, "no pressure was read"
    assert hands.here().conditions[SECOND] == "none", "what never was there is not looked for"


def test_a_step_without_its_evidence_is_refused_and_nothing_is_kept(hands: Hands) -> None:
    hands.begin()
    hold = hands.until("ring-seated")
    assert hold is not None
    before = (StepEntry.objects.count(), Reading.objects.count(), Photo.objects.count())
    whole = passing(hands.here(), hold)
    for key in whole:
        with pytest.raises(Refused, match="without it"):
            hands.sign(hold, {k: v for k, v in whole.items() if k != key})
    with pytest.raises(Refused, match="not one of its answers"):
        hands.sign(hold, whole | {"ring-seated": Answer(choice="Fine, I think")})
    with pytest.raises(Refused, match="does not ask for"):
        hands.sign(hold, whole | {"override": Answer(tick=True)})
    assert (StepEntry.objects.count(), Reading.objects.count(), Photo.objects.count()) == before


def test_a_reading_outside_its_band_is_kept_and_the_step_is_not_passed(hands: Hands) -> None:
    hands.begin()
    slot = hands.until("full-stroke")
    assert slot is not None
    entry = hands.sign(slot, {"full-stroke": Answer(text="131 mm", value_si=0.131, unit="mm")})
    assert entry.verdict == "failed" and entry.reading is not None
    assert entry.reading.text == "131 mm" and entry.reading.stage == "step"
    assert entry.evidence["answers"]["full-stroke"]["low_si"] == pytest.approx(0.138)
    here = hands.here()
    assert here.current is not None and here.current.step.key == "full-stroke" and not here.blocked
    with pytest.raises(Refused, match="comes first"):
        hands.sign(here.slots[here.at(slot) + 1])
    assert hands.sign(slot, {"full-stroke": Answer(text="139 mm", value_si=0.139, unit="mm")}).verdict == "passed"
    assert [r.text for r in Reading.objects.filter(job=hands.job, kind__in=("full-stroke", "travel"))] == [
        "131 mm",
        "139 mm",
    ]


@pytest.mark.parametrize("key", ["empty-at-rest", "empty-by-shaft", "ring-seated", "tug"])
def test_a_failed_hold_point_blocks_until_a_later_reading_passes_it(hands: Hands, key: str) -> None:
    hands.begin()
    hold = hands.until(key)
    assert hold is not None
    assert hands.sign(hold, failing(hands.here(), hold)).verdict == "failed"
    here = hands.here()
    assert here.blocked and sign.where(hands.job).kind == "blocked" and sign.where(hands.job).blocked
    for slot in here.slots[here.at(hold) + 1 :]:
        assert "comes first" in here.closed(slot)
        with pytest.raises(Refused, match="comes first"):
            hands.sign(slot, passing(here, here.slots[0]), minutes=0, here=here)
    hands.sign(hold, failing(hands.here(), hold))
    assert hands.here().blocked
    hands.sign(hold)
    assert not hands.here().blocked
    assert hands.here().current == here.slots[here.at(hold) + 1]


def test_a_hold_point_that_fails_later_on_closes_what_comes_after_it(hands: Hands) -> None:
    hands.begin()
    hands.until("ring-out")
    here = hands.here()
    rest = here.slot("empty-at-rest")
    assert rest is not None
    hands.sign(rest, failing(here, rest), again=True)
    assert hands.here().current == rest and hands.here().blocked
    with pytest.raises(Refused, match="comes first"):
        hands.sign(here.current)  # type: ignore[arg-type]
    hands.sign(rest)
    assert hands.here().current == here.current


def test_a_page_drawn_before_the_failure_does_not_lift_the_block(hands: Hands) -> None:
    hands.begin()
    hold = hands.until("empty-at-rest")
    assert hold is not None
    old, good = hands.here().seen, passing(hands.here(), hold)
    hands.sign(hold, failing(hands.here(), hold))
    with pytest.raises(Refused, match="Jory Pask signed step"):
        hands.sign(hold, good, seen=old)
    assert hands.here().blocked


def test_two_people_sign_one_step_once(hands: Hands, cast: Cast) -> None:
    hands.begin()
    slot = hands.here().slots[0]
    other = Hands(cast.owner, hands.job, hands.at)
    seen = hands.here().seen
    other.sign(slot)
    with pytest.raises(Refused, match="Maud Askel signed step 1"):
        hands.sign(slot, seen=seen)
    assert StepEntry.objects.filter(job=hands.job, step_key=slot.step.key, verdict="passed").count() == 1


def test_a_page_drawn_before_another_plan_signs_nothing(hands: Hands) -> None:
    """Its sentence said another figure: “Set 73 psi” was signed as “Set 76 psi”, which nobody had read."""
    hands.begin()
    slot = hands.here().slots[0]
    seen = hands.here().seen
    freeze(hands.who, hands.job, BENCH.replace("73 psi", "76 psi"), hands.at)
    with pytest.raises(Refused, match="Jory Pask put another plan to use at"):
        hands.sign(slot, seen=seen)
    with pytest.raises(Refused, match="put another plan to use"), change(hands.who, "leave", {}) as doing:
        sign.leave(doing, hands.job, slot.step.key, "not-known", "", seen)
    assert hands.sign(slot).verdict == "passed"
    assert hands.sign(hands.here().slots[1]).verdict == "passed", "the plan is behind it by now"


def test_what_was_understood_of_a_force_is_no_more_than_was_signed(hands: Hands, cast: Cast) -> None:
    """A tick that “610 N on the circlip” is understood stayed one when another plan made 850 N of it."""
    hands.begin()
    with change(cast.owner, "variant", {}, at=START) as doing:
        owners.switch(doing, hands.job, "inflate-before-lower-legs", on=True)
    assert hands.until("dry-pump-first") is not None
    slot = hands.here().slot("dry-confirm-first")
    assert slot is not None and hands.here().passed(slot)
    entry = hands.here().latest[slot.key]
    assert set(entry.evidence["answers"]["dry-confirm-first"]["understood"]) == {"first_ring_force", "first_energy"}
    freeze(hands.who, hands.job, BENCH.replace('bore = "34 mm"', 'bore = "33 mm"'), hands.at)
    assert hands.here().passed(slot), "less than was understood"
    freeze(hands.who, hands.job, BENCH.replace('bore = "34 mm"', 'bore = "40 mm"'), hands.at)
    here = hands.here()
    assert not here.passed(slot) and here.current is not None and here.current.key == slot.key
    assert hands.sign(slot).verdict == "passed" and hands.here().passed(slot)


def test_a_write_sent_again_with_its_key_is_applied_once(hands: Hands) -> None:
    hands.begin()
    here = hands.here()
    slot = here.slots[0]
    for _ in range(3):
        try:
            with change(hands.who, "sign", {"step": "sheet"}, key="one-key") as doing:
                sign.sign(doing, hands.job, slot.step.key, passing(here, slot), here.seen)
        except SavedBefore as earlier:
            assert earlier.change.key == "one-key"
    assert StepEntry.objects.filter(job=hands.job, step_key="shaft-fits", verdict="passed").count() == 1


def test_filling_compares_every_round_with_the_model_and_a_round_again_undoes_those_after(hands: Hands) -> None:
    hands.begin()
    first = hands.until("fill")
    assert first is not None and first.rounds == 3
    here = hands.here()
    evidence = first.step.evidence[0]
    span = here.band(first, evidence, here.found(first))
    # A drop on one gauge: two marks of 1 psi and no class, and at least half of it must be gone.
    assert span.high_si is not None and span.expect_si is not None and first.pumped_to_pa is not None
    half = (first.pumped_to_pa - span.expect_si) / 2
    assert span.high_si - span.expect_si == pytest.approx(min(2 * PSI_PA, half))
    assert span.low_si is not None and span.expect_si - span.low_si == pytest.approx(2 * PSI_PA)
    assert first.pumped_to_pa == pytest.approx(40 * PSI_PA) and span.expect_si < first.pumped_to_pa
    for _ in range(2):
        hands.sign(hands.here().current)  # type: ignore[arg-type]
    hands.stop()
    hands.go_on()
    assert hands.here().current.round == 3, "what was filled stands over a pause"  # type: ignore[union-attr]
    read = Reading.objects.filter(job=hands.job, kind="fill-reading", corrected_by=None)
    assert read.count() == 2, "each round has a reading of its own, and strikes none before it"
    high = Answer(text="40 psi", value_si=40 * PSI_PA, unit="psi")
    assert hands.sign(first, {"fill-reading": high}, again=True).verdict == "failed"
    assert hands.here().current.round == 1  # type: ignore[union-attr]
    hands.sign(first)
    assert hands.here().current.round == 2  # type: ignore[union-attr]


def test_the_leak_hold_waits_its_minutes_and_corrects_for_temperature(hands: Hands) -> None:
    hands.begin()
    slot = hands.until("leak-end")
    assert slot is not None
    with pytest.raises(Refused, match="Not before"):
        hands.sign(slot, passing(hands.here(), slot), minutes=0)
    start = 73 * PSI_PA
    warm = {"leak-end-temperature": Answer(text="19 degC", value_si=292.15, unit="degC")}
    # One kelvin warmer in 291.15 K: (73 psi + 1 atm) · 292.15 / 291.15 − 1 atm is 73.30 psi; one mark of the gauge is 1 psi.
    expect = (start + 101325) * 292.15 / 291.15 - 101325
    # After 43 minutes 1.05 psi may be lost, and one mark with the temperature's half kelvin is what can't be told.
    for psi, verdict in (
        (expect / PSI_PA - 2.3, "failed"),
        (expect / PSI_PA - 0.5, "not-yet"),
        (expect / PSI_PA, "passed"),
    ):
        answer = Answer(text=f"{psi:.2f} psi", value_si=psi * PSI_PA, unit="psi")
        assert hands.sign(slot, warm | {"leak-end-pressure": answer}).verdict == verdict


def test_starting_the_leak_hold_again_undoes_its_end(hands: Hands) -> None:
    hands.begin()
    hands.until("oil-spot")
    here = hands.here()
    start = here.slot("leak-start")
    assert start is not None
    hands.sign(start, again=True)
    assert hands.here().current.step.key == "leak-end"  # type: ignore[union-attr]


def test_active_minutes_leave_out_pauses_waits_and_being_called_away(hands: Hands) -> None:
    hands.begin()
    slots = hands.here().slots
    hands.sign(slots[0], minutes=4)
    hands.stop(minutes=3)
    hands.go_on(minutes=55)
    hands.sign(slots[1], minutes=2)
    hands.sign(slots[2], minutes=90)
    minutes = {line.key: line.active_minutes for line in sign.lines(hands.job)}
    assert minutes[slots[0].step.key] == pytest.approx(4)
    assert minutes[slots[1].step.key] == pytest.approx(3 + 2)
    assert minutes[slots[2].step.key] == pytest.approx(15)  # of the ninety: called away


def test_waiting_for_the_leak_hold_is_not_active_time(hands: Hands) -> None:
    hands.begin()
    hands.until("leak-end")
    here = hands.here()
    slot = here.current
    assert slot is not None and here.last is not None
    ready = here.ready_at(slot)
    assert ready is not None and ready - here.last.at > timedelta(minutes=3)
    hands.at = ready
    assert hands.sign(slot, minutes=2).active_seconds == 120, "from the end of the wait on, not from the step before"


def test_a_variant_is_off_until_an_owner_switches_it_on_for_the_job(hands: Hands, cast: Cast) -> None:
    key = "inflate-before-lower-legs"
    hands.begin()
    assert all(not slot.step.key.startswith("dry-") for slot in hands.here().slots)
    with change(cast.technician, "variant", {}) as doing, pytest.raises(Refused, match="Only an owner"):
        owners.switch(doing, hands.job, key, on=True)
    with change(cast.owner, "variant", {}, at=START) as doing:
        owners.switch(doing, hands.job, key, on=True)
    here = hands.here()
    dry = [slot.step.key for slot in here.slots if slot.step.key.startswith("dry-")]
    assert len(dry) == 14
    order = [slot.step.key for slot in here.slots]
    assert order.index("tug") + 1 == order.index("dry-clamp") and order.index("dry-empty") + 1 == order.index(
        "spacers-in"
    )
    with change(cast.owner, "variant", {}, at=START) as doing, pytest.raises(Refused, match="stands like that"):
        owners.switch(doing, hands.job, key, on=True)
    slot = hands.until("dry-pump-first")
    assert slot is not None
    more = Answer(text="1.1 bar", value_si=1.1e5, unit="bar")
    assert hands.sign(slot, {"dry-pump-first": more}).verdict == "failed"
    slot = hands.until("dry-pump-second")
    assert slot is not None
    more = Answer(text="3.1 bar", value_si=3.1e5, unit="bar")
    assert hands.sign(slot, {"dry-pump-second": more}).verdict == "failed"
    with change(cast.owner, "variant", {}) as doing, pytest.raises(Refused, match="come past it"):
        owners.switch(doing, hands.job, key, on=False)
    assert hands.until(None) is None


def test_a_new_plan_opens_the_steps_that_no_longer_fit_it(hands: Hands) -> None:
    hands.begin()
    hands.until("legs-on")
    freeze(hands.who, hands.job, BENCH.replace("spacers = 2", "spacers = 3"))
    here = hands.here()
    assert here.current is not None and here.current.step.key == "spacers-in"
    hands.sign(here.current)
    assert hands.here().current.step.key == "legs-on"  # type: ignore[union-attr]


def test_the_draft_goes_when_the_step_is_signed(hands: Hands) -> None:
    hands.begin()
    slot = hands.here().slots[0]
    Draft.objects.create(
        job=hands.job,
        place=written.draft_place(slot),
        who=hands.who,
        fields={"shaft-fits": "Listed, the same fit"},
        at=START,
    )
    hands.sign(slot)
    assert not Draft.objects.filter(job=hands.job).exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'travel = "140 mm"',
            'travel = "140 mm"\nby = "piston-spacer"\nspacer_solid_volume = "4 ml"',
            "by another shaft",
        ),
        ('pressure = "70 psi"\n', "", "Not known: the pressure in the air chamber"),
    ],
)
def test_a_plan_that_these_steps_can_not_work_says_so(cast: Cast, old: str, new: str, words: str) -> None:
    job = make_job(cast.technician, text=BENCH.replace(old, new))
    with pytest.raises(NoSteps, match=words):
        Hands(cast.technician, job).here()
    assert sign.where(job).kind == "no-steps" and not sign.finished(job) and sign.lines(job) == []


def test_a_gauge_that_says_nothing_of_itself_is_named_and_another_one_serves(hands: Hands) -> None:
    hands.begin()
    slot = hands.until("left-pressure")
    assert slot is not None
    good = passing(hands.here(), slot)
    Instrument.objects.update(mark="")
    with pytest.raises(Refused, match="mark or span of gauge P2 is not known"):
        hands.sign(slot, good)
    other = gauge("P3")
    with change(hands.who, "sign", {}, at=hands.at) as doing:
        entry = sign.sign(doing, hands.job, "left-pressure", good, hands.here().seen, instrument=other)
    assert entry.verdict == "passed" and entry.evidence["gauge"] == "P3"
    assert entry.reading is not None and entry.reading.instrument == other


def test_what_is_left_in_is_what_the_gauge_showed_last_and_a_pump_pushed_on_shows_both(cast: Cast) -> None:
    """physics 3: pushed on, an empty hose takes air; unscrewing costs the unit nothing, so the reading stays in.

    A pressure as found is corrected for the hose, one that fills is not.
    """
    gauge(hose="3 ml")
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("left-pressure")
    assert slot is not None
    said = hands.here().say(slot, slot.step.detail)
    after_m3 = 238 - 16 - 4  # the port lies 3 mm in, shut at full length; two spacers and the oil
    assert f"{73 - 73 / (1 + 3 / after_m3):.1f}" == "1.0" and "Its hose takes 1\u00a0psi:" in said
    good = passing(hands.here(), slot)
    hands.sign(slot, good)
    assert Reading.objects.get(job=hands.job, stage="as-left", kind="pressure").corrected_si is None
    hands.sign(slot, good | {"left-pump": Answer(choice="Pushed on to read")}, again=True)
    left = Reading.objects.filter(job=hands.job, stage="as-left", kind="pressure").latest("sequence")
    assert left.corrected_si == pytest.approx(left.value_si * (1 + 3 / after_m3))
    assert left.valve_volume_m3 == pytest.approx(after_m3 * 1e-6)
    assert left.counts_si == left.value_si
    assert show.understood(left) == "73\u00a0psi · 5.03\u00a0bar stays in, 74.0\u00a0psi before the hose, 3.0\u00a0ml"
    assert "read as" not in show.in_words(left)
    found = Reading.objects.get(job=hands.job, stage="as-found", kind="pressure")
    assert found.counts_si == found.corrected_si and "read as 70 psi" in show.in_words(found)
    # The port lies 3 mm in, shut at full length: the valve sees 238 ml less one spacer of 8 ml and 4 ml of oil.
    assert found.corrected_si == pytest.approx(found.value_si * (1 + 3 / (238 - 8 - 4)))
    rounds = [slot for slot in hands.here().slots if slot.step.key == "fill"]
    # The pump is pushed on again after each stroke: 238 less two spacers and the oil.
    bare = Hands(cast.technician, make_job(cast.technician, number=302))
    Instrument.objects.update(hose_volume="")
    plain = [slot for slot in bare.here().slots if slot.step.key == "fill"]
    assert rounds[0].reading_pa is not None and plain[0].reading_pa is not None
    assert rounds[0].reading_pa == pytest.approx(plain[0].reading_pa / (1 + 3 / after_m3))


def test_the_clicks_in_all_go_to_the_card_with_the_clicks(hands: Hands) -> None:
    hands.begin()
    slot = hands.until("found-clicks")
    assert slot is not None
    hands.sign(slot, passing(hands.here(), slot) | {"rebound-range": Answer(text="18", value_si=18.0)})
    assert Reading.objects.get(job=hands.job, stage="as-found", kind="rebound").of_range == 18
    assert Reading.objects.get(job=hands.job, stage="as-found", kind="compression").of_range is None
    empty = hands.sign(slot, passing(hands.here(), slot) | {"compression-clicks": Answer()}, again=True)
    assert empty.verdict == "passed" and "compression-clicks" not in empty.evidence["answers"]


def coarse(code: str = "P1") -> Instrument:
    """A gauge with marks of 2 psi and class 1.6 of 300 psi."""
    made = gauge(code)
    made.mark, made.span, made.accuracy_class_percent = "2 psi", "300 psi", 1.6
    made.save()
    return made


def sign_on(hands: Hands, slot: Slot, answers: dict[str, Answer], instrument: Instrument) -> StepEntry:
    hands.at += timedelta(minutes=1)
    with change(hands.who, "sign", {}, at=hands.at) as doing:
        return sign.sign(
            doing,
            hands.job,
            slot.step.key,
            answers,
            hands.here().seen,
            round_=slot.round,
            again=True,
            instrument=instrument,
        )


@pytest.mark.parametrize("code", ["P2", "P1"])
def test_a_blocked_port_loses_nothing_and_does_not_pass(hands: Hands, code: str) -> None:
    """Pumped to 20, 39 …, and the gauge shows 20, 39 … after the stroke: no air went over, on a fine gauge or a coarse one."""
    hands.begin()
    slot = hands.until("fill")
    instrument = coarse() if code == "P1" else Instrument.objects.get(code="P2")
    assert slot is not None and slot.pumped_to_pa is not None
    same = Answer(text="20 psi", value_si=slot.pumped_to_pa, unit="psi")
    assert sign_on(hands, slot, {slot.step.evidence[0].key: same}, instrument).verdict == "failed"


def test_after_a_failure_no_coarser_gauge_is_taken(hands: Hands) -> None:
    """Failed on 1 psi marks: neither wider marks nor a wider class may pass it, in that round or another."""
    hands.begin()
    hands.until("fill")
    hands.sign(hands.here().current)  # type: ignore[arg-type]
    wide, classed = coarse(), gauge("P3")
    classed.accuracy_class_percent = 4.0
    classed.save()
    second = hands.here().current
    assert second is not None and second.round == 2
    key = second.step.evidence[0].key
    assert hands.sign(second, {key: Answer(text="1 psi", value_si=PSI_PA, unit="psi")}).verdict == "failed"
    first = hands.here().slot(second.step.key, 1)
    assert first is not None
    for slot in (second, first):
        for worse in (wide, classed):
            with pytest.raises(Refused, match="It failed on gauge P2"):
                sign_on(hands, slot, passing(hands.here(), slot), worse)
    finer = gauge("P4")
    finer.mark = "0.5 psi"
    finer.save()
    low = {key: Answer(text="1 psi", value_si=PSI_PA, unit="psi")}
    assert sign_on(hands, second, low, finer).verdict == "failed"
    with pytest.raises(Refused, match="It failed on gauge P4"):
        sign_on(hands, second, passing(hands.here(), second), Instrument.objects.get(code="P2"))
    assert sign_on(hands, second, passing(hands.here(), second), finer).verdict == "passed"


def test_a_gauge_that_no_owner_confirmed_judges_no_hold_point(hands: Hands) -> None:
    hands.begin()
    slot = hands.until("fill")
    assert slot is not None and slot.step.hold
    new = gauge("P7")
    new.confirmed_at = None
    new.save()
    with pytest.raises(Refused, match="P7 is not confirmed"):
        sign_on(hands, slot, passing(hands.here(), slot), new)
    new.confirmed_at = START
    new.save()
    assert sign_on(hands, slot, passing(hands.here(), slot), new).verdict == "passed"


def test_a_gauge_of_class_ten_that_is_on_the_list_already_judges_nothing(hands: Hands) -> None:
    """Span 1000 psi, mark 250, class 10: it passed 20 psi for 73."""
    hands.begin()
    slot = hands.until("left-pressure")
    assert slot is not None
    old = gauge("P8")
    old.span, old.mark, old.accuracy_class_percent = "1000 psi", "250 psi", 10.0
    old.save()
    wrong = passing(hands.here(), slot) | {"left-pressure": Answer(text="20 psi", value_si=20 * PSI_PA, unit="psi")}
    with pytest.raises(Refused, match="class 10 is too wide"):
        sign_on(hands, slot, wrong, old)


def test_what_to_do_is_said_in_one_unit_and_its_detail_in_both(hands: Hands) -> None:
    here = hands.here()
    do = {slot.step.key: here.say(slot, slot.step.do) for slot in here.slots}
    assert any("psi" in said for said in do.values()) and not any("·" in said for said in do.values()), do
    assert any("·" in here.say(slot, slot.step.detail, second=True) for slot in here.slots)
