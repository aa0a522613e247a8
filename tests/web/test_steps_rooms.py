"""The rooms of the steps asked by themselves: when a hold is due, what is not known, what a reading takes with it."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from topout.physics.gas import ATMOSPHERE_PA
from topout.planner.variables import VOCABULARY
from topout.procedures.read import shipped
from topout.units import PSI_PA
from topout.web.access.change import change
from topout.web.jobs.records.models import Instrument, StepEntry
from topout.web.jobs.steps import holds, sign
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.jobs.steps.taken import take
from web.steps_kit import Hands, gauge, passing


def test_a_hold_is_due_when_its_gauge_can_tell_and_not_when_its_minutes_are_over(hands: Hands) -> None:
    """73 psi on 1 psi marks at 18 °C: a mark and 95 % of half a kelvin, of 2 % an hour that may be lost; by hand."""
    hands.until("leak-end")
    here = hands.here()
    slot = here.current
    assert slot is not None and slot.step.wait is not None
    start = StepEntry.objects.filter(step_key="leak-start", verdict="passed").latest("sequence")
    known_to = math.hypot(PSI_PA, 1.96 * 0.5 * (73 * PSI_PA + ATMOSPHERE_PA) / 291.15)
    tells = start.at + timedelta(seconds=3600 * known_to / (0.02 * 73 * PSI_PA))
    due, may = here.ready_at(slot), here.may_from(slot)
    assert due is not None and may == start.at + timedelta(minutes=slot.step.wait.minutes)
    assert timedelta(0) <= due - tells < timedelta(minutes=1) and due > may
    assert holds.worth_reading(here, slot) == due

    other = gauge("P9")
    here.instrument = other
    here._due.clear()
    assert holds.worth_reading(here, slot) is None and here.ready_at(slot) == may
    here.instrument = None
    here._due.clear()
    assert holds.worth_reading(here, slot) is None and here.ready_at(slot) == may


def test_a_number_whose_band_is_not_known_is_refused_in_words_and_nothing_is_kept(hands: Hands) -> None:
    slot = hands.until("empty-at-rest")
    assert slot is not None
    here = hands.here()
    answers, before = passing(here, slot), StepEntry.objects.count()
    here._numbers.clear()
    here.readings.pop("full-length")
    with (
        pytest.raises(Refused, match="is not known yet, so this can’t be judged") as refused,
        change(hands.who, "sign", {}) as doing,
    ):
        sign.sign(doing, hands.job, slot.step.key, answers, here.seen, here=here)
    label = next(each.label for each in slot.step.evidence if each.kind == "number")
    assert str(refused.value).startswith(label)
    assert StepEntry.objects.count() == before


def test_sag_read_at_a_step_keeps_its_posture_and_nothing_else_has_one(hands: Hands) -> None:
    here = hands.here()
    steps = shipped("return-to-rider", VOCABULARY).procedure.steps()
    asked = {each.key: each for step in steps for each in step.evidence}
    answer = Answer(text="31 mm", value_si=0.031, unit="mm")

    def posture(key: str, means: dict[str, str]) -> str:
        with change(hands.who, "take", {}) as doing:
            return take(
                doing, here, asked[key], answer, passed=True, means=means, used=Instrument.objects.first(), of_range=None, temperature_k=None,
                corrects=None, reason="",
            ).posture  # fmt: skip

    assert posture("sag-front", {"posture": "standing"}) == "standing"
    assert posture("sag-front", {"posture": "seated"}) == "seated"
    assert posture("sag-front", {"posture": "not-measured"}) == "" and posture("sag-front", {}) == ""
    assert posture("sag-at-shock", {"posture": "seated"}) == "seated", "of the stroke too"
    assert posture("rebound-ride", {"posture": "standing"}) == ""
