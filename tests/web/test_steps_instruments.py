"""The list of instruments: a workshop of its own starts without a gauge, adds one, and its steps can be judged."""

from __future__ import annotations

import pytest
from django.test import Client

from topout.procedures.judge import Gauge
from topout.units import PSI_PA
from topout.web.jobs.models import Instrument
from topout.web.jobs.steps_core import gauge_of
from web import people
from web.people import Cast
from web.steps_kit import Hands, form_of, make_job

GOOD = {
    "kind": "gauge",
    "code": "P7",
    "name": "bench pump",
    "span": "100 psi",
    "mark": "1 psi",
    "accuracy": "1.6 %",
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


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("kind", "hammer", "Choose one"), ("code", "", "Write it"), ("span", "", "A gauge needs the end of its scale"),
        ("span", "100", "needs a unit"), ("span", "100 mm", "not a unit of pressure"), ("mark", "-1 psi", "more than nothing"),
        ("mark", "60 psi", "much less than the span"), ("mark", "nan psi", "a number"), ("accuracy", "", "its class"),
        ("accuracy", "1,6", "decimal point"), ("accuracy", "16", "at most 10 per cent"), ("accuracy", "inf", "a number"),
        ("hose", "9000", "is expected"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_an_instrument_is_said(technician_in: Client, key: str, typed: str, words: str) -> None:
    answer = people.send(technician_in, "/instruments/new/", GOOD | {key: typed})
    assert answer.status_code == 422 and words in answer.content.decode() and not Instrument.objects.exists()


def test_an_instrument_put_away_takes_no_new_reading(technician_in: Client) -> None:
    people.send(technician_in, "/instruments/new/", GOOD)
    assert people.send(technician_in, "/instruments/new/", GOOD).status_code == 422
    row = Instrument.objects.get()
    answer = people.send(technician_in, f"/instruments/{row.pk}/away/", {}, page_path="/instruments/", times=3)
    assert answer.status_code == 303
    row.refresh_from_db()
    assert row.retired_at is not None and "put away" in technician_in.get("/instruments/").content.decode()
