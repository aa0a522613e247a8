"""A workshop of its own starts without a gauge: the step says so, and goes on once one is on the list."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.planner.judge import Gauge
from topout.units import PSI_PA, parse, to_si
from topout.web import clock
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.jobs.core.steps import gauge_of
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.sign import Answer, Refused
from web import people, springs_kit
from web.people import Cast
from web.steps_kit import Hands, form_of, gauge, make_job, passing

GOOD = {
    "kind": "gauge",
    "code": "P7",
    "name": "bench pump",
    "span": "100 psi",
    "mark": "1 psi",
    "accuracy": "1.6",
    "hose": "3",
}


def test_a_step_without_any_gauge_says_where_to_add_one_and_goes_on_once_it_is_there(
    cast: Cast, technician_in: Client
) -> None:
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("gauge-zero")
    assert slot is not None
    page = technician_in.get("/jobs/301/steps/gauge-zero/")
    assert "No gauge is on the list." in page.content.decode() and "/instruments/new/" in page.content.decode()
    refused = technician_in.post("/jobs/301/steps/gauge-zero/", form_of(page) | {"gauge-zero": "0"})
    assert refused.status_code == 422 and "Say which gauge it is." in refused.content.decode()
    assert people.send(technician_in, "/instruments/new/", GOOD).status_code == 303
    row = Instrument.objects.get(code="P7")
    assert gauge_of(row) == Gauge(PSI_PA, 100 * PSI_PA, 1.6) and row.hose_volume == "3 ml"
    page = technician_in.get("/jobs/301/steps/gauge-zero/")
    assert technician_in.post("/jobs/301/steps/gauge-zero/", form_of(page) | {"gauge-zero": "0"}).status_code == 303
    assert hands.here().instrument == row


def test_a_pressure_as_on_the_card_stays_on_its_gauge_beside_a_temperature_read_now(cast: Cast) -> None:
    named, of_card = gauge(), gauge("P5")
    hands = Hands(cast.technician, make_job(cast.technician))
    with change(cast.technician, "read", {}) as doing:
        taken = Taken.quantity("pressure", parse("70 psi", "pressure"), "pressure", instrument=of_card)
        readings.take(doing, hands.job, "as-found", taken)
    hands.begin()
    slot = hands.until("found-pressure")
    assert slot is not None
    here = hands.here()
    answers = passing(here, slot)
    answers["found-pressure"] = Answer(text="70 psi", value_si=70 * PSI_PA, unit="psi", from_card=True)
    with change(cast.technician, "sign", {}, at=hands.at) as doing:
        entry = sign.sign(doing, hands.job, "found-pressure", answers, here.seen, instrument=named)
    assert entry.verdict == "passed" and entry.evidence["gauge"] == "P5"


@pytest.mark.parametrize(("mark", "unit"), [("0.1 bar", "bar"), ("1 psi", "psi")])
def test_a_bare_number_counts_as_the_unit_that_stands_beside_its_box(
    cast: Cast, technician_in: Client, mark: str, unit: str
) -> None:
    """On a gauge marked in bar the page said bar beside the box and took "0.2" for 0.2 psi, a seventieth of it."""
    Instrument.objects.create(
        code="P9", kind="gauge", name="bench pump", span="20 bar", mark=mark, accuracy_class_percent=1.0
    )
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    assert hands.until("gauge-zero") is not None
    page = technician_in.get("/jobs/301/steps/gauge-zero/")
    assert re.search(rf"gauge-zero.*?[ >,]{unit}<", page.content.decode(), re.DOTALL)
    sent = form_of(page) | {"gauge-zero": "0.2", "gauge": "P9"}
    technician_in.post("/jobs/301/steps/gauge-zero/", sent)
    answer = StepEntry.objects.filter(step_key="gauge-zero").latest("pk").evidence["answers"]["gauge-zero"]
    assert answer["value_si"] == pytest.approx(to_si(0.2, unit, "pressure")) and answer["unit"] == unit


def test_a_length_at_a_step_counts_in_the_workshops_own_unit(cast: Cast, technician_in: Client) -> None:
    """An inch workshop reads "9.84 to 10 in" beside its box, and a bare 9.9 is inches."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("old-shaft-measured")
    assert slot is not None
    # Now alone: `until` keeps the workshop that it walked through for other tests.
    Workshop.objects.create(name="Inches", length_unit="in", started_at=clock.now())
    address = f"/jobs/301/steps/{slot.step.key}/"
    text = technician_in.get(address).content.decode()
    assert re.search(r"10\.63 to 10\.79 in", text) and "10.71 in · 272 mm" in text.replace("\u00a0", " ")
    sent = form_of(technician_in.get(address)) | {"old-shaft-measured": "10.7"}
    assert technician_in.post(address, sent).status_code == 303
    answer = StepEntry.objects.get(step_key="old-shaft-measured").evidence["answers"]["old-shaft-measured"]
    assert answer["unit"] == "in" and answer["value_si"] == pytest.approx(10.7 * 0.0254)


@pytest.mark.parametrize(
    ("mark", "span", "percent", "why"),
    [
        ("1 psi", "100 psi", 1.0, ""),
        ("5 psi", "300 psi", 2.5, ""),
        ("10 psi", "300 psi", 4.0, r"the stroke costs 7\.\d+.psi, its marks are 10.psi"),
        ("30 psi", "600 psi", 4.0, "the stroke costs"),
    ],
)
def test_a_gauge_that_cannot_show_what_a_stroke_costs_judges_no_filling(
    cast: Cast, mark: str, span: str, percent: float, why: str
) -> None:
    """On marks of 10 psi a blocked port passed every round: it reads what was pumped, and two marks of it are allowed."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until("fill")
    Instrument.objects.update(mark=mark, span=span, accuracy_class_percent=percent)
    slot = hands.here().current
    assert slot is not None and slot.step.key == "fill" and slot.pumped_to_pa is not None
    blocked = {
        "fill-reading": Answer(text=f"{slot.pumped_to_pa / PSI_PA:g} psi", value_si=slot.pumped_to_pa, unit="psi")
    }
    if why:
        with pytest.raises(Refused, match=f"Gauge P2 is too coarse here: {why}"):
            hands.sign(slot, blocked)
        return
    while (slot := hands.here().current) is not None and slot.round < slot.rounds:
        hands.sign(slot)
    assert slot is not None and slot.pumped_to_pa is not None
    blocked = {
        "fill-reading": Answer(text=f"{slot.pumped_to_pa / PSI_PA:g} psi", value_si=slot.pumped_to_pa, unit="psi")
    }
    assert hands.sign(slot, blocked).verdict == "failed"


@pytest.mark.parametrize(("mark", "refused"), [("5 psi", False), ("6 psi", True), ("0.5 bar", True), ("30 psi", True)])
def test_nothing_is_told_from_a_charge_by_no_coarser_marks_than_5_psi(cast: Cast, mark: str, refused: bool) -> None:
    """One mark is allowed where a second chamber shall read nothing: 30 psi behind its cap passed for empty."""
    hands = springs_kit.begun(cast)
    slot = hands._work("both-empty")
    assert slot is not None
    Instrument.objects.update(mark=mark, span="600 psi")
    one = parse(mark, "pressure")
    answers = {
        key: Answer(text=mark, value_si=one.value_si, unit=one.unit) for key in ("main-nothing", "second-nothing")
    }
    if refused:
        with pytest.raises(Refused, match="too coarse here: marks of .* don’t tell nothing from a charge"):
            hands.sign(slot, answers)
    else:
        assert hands.sign(slot, answers).verdict == "passed"


@pytest.mark.parametrize(
    ("mark", "span", "percent", "off"),
    [("30 psi", "600 psi", 4.0, "84.psi"), ("1 psi", "600 psi", 4.0, "26.psi"), ("5 psi", "300 psi", 2.5, "")],
)
def test_a_gauge_that_is_off_by_a_third_of_a_pressure_does_not_say_that_it_is_set(
    cast: Cast, mark: str, span: str, percent: float, off: str
) -> None:
    """Two marks of 30 psi and a class of 4 on 600: 15 psi passed for the 73 of the plan, at the last hold point and at the release."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("left-pressure")
    assert slot is not None
    Instrument.objects.update(mark=mark, span=span, accuracy_class_percent=percent)
    low = {"left-pressure": Answer(text="15 psi", value_si=15 * PSI_PA, unit="psi")}
    with change(cast.technician, "left", {}, at=hands.at) as doing:
        typed = Taken.quantity("pressure", parse("60 psi", "pressure"), "pressure", instrument=Instrument.objects.get())
        readings.take(doing, hands.job, "as-left", typed)
    said = [each.words.replace("\xa0", " ") for each in contradictions.faults_of(hands.job)]
    told = any("Pressure: left 60 psi" in each and "the plan says 73 psi" in each for each in said)
    assert told == bool(off), "5 psi marks and 2.5 % of 300 can’t tell 60 from 73"
    if off:
        with pytest.raises(Refused, match=f"Gauge P2 is too coarse here: .* off by {off}, where 73.psi should stand"):
            hands.sign(slot, low)
    else:
        assert hands.sign(slot, low).verdict == "failed" and hands.sign(slot).verdict == "passed"
