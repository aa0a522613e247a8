"""A workshop of its own starts without a gauge: the step says so, and goes on once one is on the list."""

from __future__ import annotations

from django.test import Client

from topout.planner.judge import Gauge
from topout.units import PSI_PA
from topout.web.jobs.core.steps import gauge_of
from topout.web.jobs.records.models import Instrument
from web import people
from web.people import Cast
from web.steps_kit import Hands, form_of, make_job

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
