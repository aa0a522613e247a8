"""What is set on the plan page and not yet used: there again without the address, on any device, and never a record."""

from __future__ import annotations

from html import unescape
from typing import Any

import pytest
from django.test import Client

from topout.web.jobs import core
from topout.web.jobs.records.models import IMMUTABLE, Draft, Job
from web import people
from web.plan_cast import ASKED, hollin_job

NAMES = ("csrfmiddlewaretoken", "change_key", "answered")


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.owner, fork={"overtravel": "0 mm"})


def path(job: Job) -> str:
    return f"/jobs/{job.number}/plan/"


def keep(browser: Client, job: Job, **boxes: str) -> Any:
    """What draft.js sends: every box of the form, its key and token too."""
    page = browser.get(path(job))
    token = {name: people.field_of(page, name) for name in ("csrfmiddlewaretoken", "change_key")}
    return browser.post(f"{path(job)}draft/", token | ASKED | {"width": "738"} | boxes)


def test_what_is_set_stands_there_on_another_device(technician_in: Client, owner_in: Client, job: Job) -> None:
    rows = {model: model._default_manager.count() for model in IMMUTABLE}
    assert "It is not used yet." in keep(technician_in, job, air_bore="36", tyre="wide").json()["says"]
    page = owner_in.get(path(job)).content.decode()
    for name, text in (("travel", "150"), ("pressure", "70"), ("air_bore", "36"), ("tyre", "wide")):
        assert f'name="{name}" value="{text}"' in page, "also what is at fault stands as typed"
    assert "typed at" in page and "It is not used yet." in page
    assert core.change_of(job) == {}, "a draft is no record"
    assert {model: model._default_manager.count() for model in IMMUTABLE} == rows


def test_the_address_goes_before_the_draft_and_the_draft_before_the_records(technician_in: Client, job: Job) -> None:
    keep(technician_in, job)
    page = technician_in.get(path(job), {"pressure": "68"}).content.decode()
    assert 'name="pressure" value="68"' in page and 'name="travel" value="150"' in page


def test_a_draft_holds_only_what_differs_so_that_a_new_reading_still_counts(technician_in: Client, job: Job) -> None:
    keep(technician_in, job, pressure="72")
    fields = Draft.objects.get(job=job).fields
    assert fields["travel"] == "150" and "pressure" not in fields and "offset" not in fields


def test_the_boxes_set_back_leave_no_draft(technician_in: Client, job: Job) -> None:
    keep(technician_in, job)
    drawn = {"travel": "140", "pressure": "72", "spacers": "2"}
    assert keep(technician_in, job, **drawn, tyre=_found(job, "tyre_height")).json() == {"says": ""}
    assert not Draft.objects.exists()
    keep(technician_in, job)
    token = people.field_of(technician_in.get(path(job)), "csrfmiddlewaretoken")
    answer = technician_in.post(f"{path(job)}draft/", {"csrfmiddlewaretoken": token, "empty": "1"})
    assert answer.status_code in (302, 303) and not Draft.objects.exists()


def _found(job: Job, word: str) -> str:
    return str(core.tables(job, {})["front_wheel"][word])


def test_a_look_keeps_nothing(technician_in: Client, job: Job) -> None:
    technician_in.get(path(job), ASKED)  # type: ignore[arg-type]
    technician_in.get(path(job), {**ASKED, "width": "738"}, headers={"HX-Request": "true"})  # type: ignore[arg-type]
    assert not Draft.objects.exists()


def test_using_the_plan_ends_the_draft_and_a_late_one_does_not_come_back(technician_in: Client, job: Job) -> None:
    keep(technician_in, job)
    page = technician_in.get(path(job))
    form = ASKED | {name: unescape(people.field_of(page, name)) for name in NAMES}
    assert technician_in.post(path(job), form).status_code == 303
    assert not Draft.objects.exists()
    assert technician_in.post(f"{path(job)}draft/", form).status_code == 204 and not Draft.objects.exists()
    assert "not used yet" not in technician_in.get(path(job)).content.decode()


def test_back_to_the_bike_as_found_is_a_draft_beside_a_plan_in_use(technician_in: Client, job: Job) -> None:
    page = technician_in.get(path(job), ASKED)  # type: ignore[arg-type]
    form = ASKED | {name: unescape(people.field_of(page, name)) for name in NAMES}
    technician_in.post(path(job), form)
    keep(technician_in, job, travel="140")
    assert 'name="travel" value="140"' in technician_in.get(path(job)).content.decode()


def test_strangers_and_other_sites_keep_nothing(stranger: Client, technician_in: Client, job: Job) -> None:
    assert stranger.post(f"{path(job)}draft/", ASKED).status_code in (302, 303, 403, 404)
    assert technician_in.post(f"{path(job)}draft/", ASKED).status_code == 403, "another site's form"
    assert not Draft.objects.exists()
