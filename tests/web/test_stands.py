"""Where a stopped unit stands: asked where the work is stopped, printed on its tag, and forgotten when the work goes on."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.web.access.models import Workshop
from topout.web.jobs.records.models import Job, Remark
from topout.web.jobs.steps import stands
from topout.web.shelf.models import Tag
from web import people

CHARGED = 209  # of the demo: its hold point found the negative chamber charged


@pytest.fixture
def browser(demo: Path) -> Client:
    Workshop.objects.update(demo=False)
    return people.browser(User.objects.get(username="jory"))


def job() -> Job:
    return Job.objects.get(number=CHARGED)


def tag_place() -> str:
    return f"/jobs/{CHARGED}/tag/{Tag.objects.get(unit=job().unit).code}"


def at_the_step(browser: Client) -> str:
    return browser.get(f"/jobs/{CHARGED}/steps/", follow=True).content.decode()


def stop(browser: Client) -> None:
    page = browser.get(f"/jobs/{CHARGED}/steps/", follow=True)
    form = {name: people.field_of(page, name) for name in ("csrfmiddlewaretoken", "change_key")}
    assert browser.post(f"/jobs/{CHARGED}/steps/do/stop/", form).status_code == 303


@pytest.mark.poppler
def test_the_place_is_asked_where_the_work_stops_and_stands_on_the_black_tag(browser: Client, tmp_path: Path) -> None:
    assert "Where it stands" not in at_the_step(browser), "nothing is asked while the work goes on"
    before = browser.get(f"{tag_place()}/").content.decode()
    assert "Charged. Do not open" in before and "stands rack" not in before
    stop(browser)
    page = at_the_step(browser)
    assert "Stopped for now," in page and f'action="/jobs/{CHARGED}/stands/"' in page and 'name="stands"' in page
    noted = people.send(browser, f"/jobs/{CHARGED}/stands/", {"stands": "rack 2", "back": "steps"}, times=3)
    assert noted.status_code == 303 and noted["Location"] == f"/jobs/{CHARGED}/steps/"
    assert Remark.objects.filter(job=job(), kind="stands").count() == 1, "sent three times, kept once"
    assert 'name="stands" value="rack 2"' in at_the_step(browser)
    assert "stands rack 2." in browser.get(f"{tag_place()}/").content.decode()
    path = tmp_path / "tag.pdf"
    path.write_bytes(browser.get(f"{tag_place()}.pdf").content)
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"], check=True, capture_output=True, text=True).stdout
    assert "Charged" in text and "rack 2" in text
    assert "stands: rack 2" in browser.get(f"/jobs/{CHARGED}/").content.decode()


def test_the_last_word_counts_and_none_once_the_work_goes_on(browser: Client) -> None:
    stop(browser)
    for place in ("rack 2", "rack 5, low"):
        people.send(browser, f"/jobs/{CHARGED}/stands/", {"stands": place})
    assert stands.of(job()) == "rack 5, low"
    page = browser.get(f"/jobs/{CHARGED}/steps/", follow=True)
    form = {name: people.field_of(page, name) for name in ("csrfmiddlewaretoken", "change_key")}
    assert browser.post(f"/jobs/{CHARGED}/steps/do/go-on/", form).status_code == 303
    assert stands.of(job()) == "" and "rack 5" not in browser.get(f"{tag_place()}/").content.decode()


def test_a_unit_that_is_not_charged_has_its_place_on_its_tag_too(browser: Client) -> None:
    number = 214
    assert people.send(browser, f"/jobs/{number}/stands/", {"stands": "stand 1"}).status_code == 303
    code = Tag.objects.get(unit=Job.objects.get(number=number).unit).code
    words = browser.get(f"/jobs/{number}/tag/{code}/").content.decode()
    assert "stands stand 1." in words and "Charged" not in words


@pytest.mark.parametrize(
    ("typed", "says"), [("", "Say where it stands."), ("x" * 21, "at most 20 fit"), ("a\x00", "sign")]
)
def test_no_place_and_one_too_long_are_refused_and_kept_in_the_box(browser: Client, typed: str, says: str) -> None:
    answer = people.send(browser, f"/jobs/{CHARGED}/stands/", {"stands": typed})
    body = answer.content.decode()
    assert answer.status_code == 422 and body.count(says) >= 2
    assert not typed.isprintable() or not typed or f'value="{typed}"' in body
    assert not Remark.objects.filter(kind="stands").exists()


def test_a_job_handed_over_stands_with_its_rider(browser: Client) -> None:
    assert browser.get("/jobs/201/stands/").status_code == 403
