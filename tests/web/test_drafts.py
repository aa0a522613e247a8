"""Drafts of the take-in and of readings: kept while typing, there on another device, gone once saved, never a record."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from topout.web import clock
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import IMMUTABLE, Draft, Instrument, Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release.hand_over import told
from web import people
from web.plan_cast import hollin_job
from web.test_hand_over import NEW, TOLD, service

READ = {
    "pressure": "71 psi",
    "pressure-gauge": "P2",
    "rebound": "7",
    "rebound-of": "14",
    "condition": "Oil on the left.",
}


@pytest.fixture
def job(cast: people.Cast) -> Job:
    Instrument.objects.create(code="P1", kind="gauge", name="shop gauge", dimension="pressure", span="300 psi", mark="2 psi",
        accuracy_class_percent=1.6)  # fmt: skip
    Instrument.objects.create(code="P2", kind="gauge", name="pump", dimension="pressure", span="300 psi", mark="1 psi",
        accuracy_class_percent=1.0)  # fmt: skip
    return hollin_job(cast.technician)


def place(job: Job) -> str:
    return f"/jobs/{job.number}/readings/as-left/"


def keep(browser: Client, path: str, typed: dict[str, str]) -> Any:
    """What draft.js sends: every box of the form, its key and token too."""
    page = browser.get(path)
    token = {name: people.field_of(page, name) for name in ("csrfmiddlewaretoken", "change_key")}
    head, _, query = path.partition("?")
    return browser.post(f"{head}draft/?{query}", token | typed)


def test_what_is_typed_of_a_reading_stands_there_on_another_device(
    technician_in: Client, owner_in: Client, job: Job
) -> None:
    rows = {model: model._default_manager.count() for model in IMMUTABLE}
    answer = keep(technician_in, place(job), READ | {"pressure": "7", "mend": "x", "photos": "y"})
    assert answer.status_code == 200 and "It is not saved yet." in answer.json()["says"]
    page = owner_in.get(place(job)).content.decode()
    assert 'value="7"' in page and re.search(r'value="P2"[^>]* checked', page) and "Oil on the left.</textarea>" in page
    assert "typed at" in page and "It is not saved yet." in page
    assert {model: model._default_manager.count() for model in IMMUTABLE} == rows, "a draft is no record"
    assert set(Draft.objects.get(job=job).fields) == set(READ)
    as_found = technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode()
    assert 'value="7"' not in as_found and "Oil on the left." not in as_found, "one for each stage"


def test_the_draft_goes_when_the_form_is_saved_and_a_late_one_does_not_come_back(
    technician_in: Client, job: Job
) -> None:
    keep(technician_in, place(job), READ)
    page = technician_in.get(place(job))
    form = {name: people.field_of(page, name) for name in ("csrfmiddlewaretoken", "change_key")} | READ
    assert technician_in.post(place(job), form).status_code == 303
    assert not Draft.objects.exists()
    late = technician_in.post(f"{place(job)}draft/", form)
    assert late.status_code == 204 and not Draft.objects.exists(), "what was under way while the form was saved"
    assert "not saved yet" not in technician_in.get(place(job)).content.decode()


def test_a_form_at_fault_keeps_its_draft(technician_in: Client, job: Job) -> None:
    keep(technician_in, place(job), READ)
    assert people.send(technician_in, place(job), READ | {"pressure": "about so much"}).status_code == 422
    assert Draft.objects.get(job=job).fields["pressure"] == "71 psi"


def test_boxes_that_are_emptied_leave_no_draft(technician_in: Client, job: Job) -> None:
    keep(technician_in, place(job), READ)
    assert keep(technician_in, place(job), dict.fromkeys(READ, " ")).json() == {"says": ""}
    assert not Draft.objects.exists()
    keep(technician_in, place(job), READ)
    answer = keep(technician_in, place(job), {"empty": "1"})
    assert answer.status_code == 302 and answer["Location"] == place(job)
    assert not Draft.objects.exists()


@pytest.mark.parametrize("text", ["x" * 1999, "\0nul", "<script>alert(1)</script>", "٣٤", "🍴"])
def test_whatever_is_typed_is_kept_and_shown_as_it_is(technician_in: Client, job: Job, text: str) -> None:
    assert keep(technician_in, place(job), {"condition": text}).status_code == 200
    assert Draft.objects.get(job=job).fields["condition"] == text.replace("\0", "")
    page = technician_in.get(place(job)).content.decode()
    assert "<script>alert" not in page


def test_a_hand_over_keeps_what_is_typed_and_offers_the_rest_anew(
    technician_in: Client, owner_in: Client, cast: people.Cast
) -> None:
    job = service(cast, technician_in)
    path = f"/jobs/{job.number}/hand-over/"
    offered = {name: told(job, f"as-{name}") for name in ("found", "left")} | {"done": job.asked_title}
    sent = {name: text.replace("\n", "\r\n") for name, text in offered.items()} | {
        "next_service": "after 50",
        "done": "Seals",
    }
    assert "It is not saved yet" in keep(technician_in, path, sent).json()["says"]
    assert Draft.objects.get(job=job).fields == {"next_service": "after 50", "done": "Seals"}
    with change(cast.technician, "more", {}) as doing:
        readings.take(doing, job, "as-left", Taken.count("spacers", 2))
    page = owner_in.get(path).content.decode()
    assert 'value="after 50"' in page and ">\nSeals</textarea>" in page and "Volume spacers: 2" in page
    assert owner_in.get(f"{path}check/").status_code == 302, "what is only typed is not looked at once more"
    assert people.send(owner_in, path, TOLD).status_code == 303
    assert list(Draft.objects.values_list("place", flat=True)) == ["hand-over"]
    keep(technician_in, path, TOLD | {"next_service": "after 60"})
    assert 'value="after 60"' in technician_in.get(path).content.decode()
    assert "typed anew and not sent" in owner_in.get(f"{path}check/").content.decode(), "it goes with no release unseen"
    assert people.send(owner_in, path, TOLD | {"next_service": "after 60"}).status_code == 303
    drawn = people.field_of(owner_in.get(f"{path}check/"), "drawn_at")
    assert people.send(owner_in, f"{path}check/", {"drawn_at": drawn}).status_code == 303
    assert not Draft.objects.exists(), "handed over as it was looked at"
    assert keep_late(technician_in, path, sent).status_code == 403


def test_boxes_as_they_were_offered_are_no_draft(technician_in: Client) -> None:
    answer = keep(technician_in, "/jobs/new/", {"technician": "jory", "procedure": "", "rider_name": " "})
    assert answer.json() == {"says": ""} and not Draft.objects.exists()


def keep_late(browser: Client, path: str, typed: dict[str, str]) -> Any:
    """A draft from a page that was open before."""
    token = people.token(browser)
    return browser.post(f"{path}draft/", {"csrfmiddlewaretoken": token} | typed)


def test_drafts_of_a_job_handed_over_or_not_there_are_refused(technician_in: Client, job: Job) -> None:
    token = {"csrfmiddlewaretoken": people.field_of(technician_in.get(place(job)), "csrfmiddlewaretoken")}
    assert technician_in.post(f"/jobs/{job.number}/readings/nowhere/draft/", token | READ).status_code == 404
    assert technician_in.post("/jobs/99999/readings/as-left/draft/", token | READ).status_code == 404
    assert technician_in.post(f"{place(job)}draft/", READ).status_code == 403, "another site's form"
    assert not Draft.objects.exists()


def test_each_person_has_one_draft_of_a_job_to_come(technician_in: Client, owner_in: Client, cast: people.Cast) -> None:
    typed = {"rider_name": "Ilse Varn", "asked_title": "travel 140", "promised": "2026-1"}
    assert keep(technician_in, "/jobs/new/", typed).status_code == 200
    assert keep(technician_in, "/jobs/new/", typed | {"asked_title": "travel 150"}).status_code == 200
    assert Draft.objects.count() == 1 and not Job.objects.exists()
    again = people.browser(cast.technician).get("/jobs/new/").content.decode()
    for value in ("Ilse Varn", "travel 150", "2026-1"):
        assert f'value="{value}"' in again
    assert "Ilse Varn" not in owner_in.get("/jobs/new/").content.decode()
    assert people.send(technician_in, "/jobs/new/", NEW).status_code == 303
    assert not Draft.objects.exists() and Job.objects.count() == 1


def test_a_take_in_that_nobody_came_back_to_is_not_kept_for_good(
    technician_in: Client, owner_in: Client, job: Job
) -> None:
    keep(technician_in, "/jobs/new/", {"rider_name": "Ilse Varn"})
    keep(technician_in, place(job), READ)
    Draft.objects.update(at=clock.now() - timedelta(days=15))
    keep(owner_in, "/jobs/new/", {"rider_name": "Bo Lund"})
    assert [row.fields.get("rider_name") for row in Draft.objects.order_by("pk")] == [None, "Bo Lund"]


def test_a_take_in_begun_from_a_rider_has_a_draft_of_its_own(technician_in: Client, job: Job) -> None:
    keep(technician_in, "/jobs/new/", {"rider_name": "Ilse Varn"})
    path = f"/jobs/new/?rider={job.rider_id}"
    page = technician_in.get(path).content.decode()
    assert "Ilse Varn" not in page and f'name="rider" value="{job.rider_id}"' in page
    assert f'data-draft="/jobs/new/draft/?rider={job.rider_id}"' in page
    keep(technician_in, path, {"rider": str(job.rider_id), "asked_title": "springs"})
    assert 'value="springs"' in technician_in.get(path).content.decode()
    assert 'value="springs"' not in technician_in.get("/jobs/new/").content.decode()
    assert Draft.objects.count() == 2


def test_a_draft_of_readings_does_not_touch_the_plan(technician_in: Client, job: Job) -> None:
    before = core.change_of(job)
    keep(technician_in, place(job), READ)
    assert core.change_of(job) == before
