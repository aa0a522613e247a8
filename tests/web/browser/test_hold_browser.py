"""A hold point attacked from a browser: an old form in a second tab, the back button, the address of a later step.

Forged requests by the thousand stand in tests/web/test_steps_attack.py; here are the ways that lie under a thumb.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page

from topout.web.jobs.records.models import Job, StepEntry
from web.people import Cast
from web.served import signed_in
from web.steps_kit import Hands, gauge, make_job, one_a_page

pytestmark = pytest.mark.browser
HOLD, LATER = "empty-at-rest", ("cap-off", "foot-bolts", "empty-by-shaft", "ring-out", "fill/1", "left-pressure")


@pytest.fixture
def job(cast: Cast) -> Job:
    gauge()
    one_a_page(cast.technician, cast.owner)
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    assert hands.until(HOLD) is not None
    return hands.job


def passed() -> int:
    return StepEntry.objects.filter(verdict="passed").count()


def fill_in(page: Page, choice: str, length: str) -> None:
    page.get_by_label(choice).check()
    page.locator(".display input").fill(length)


def fail(page: Page) -> None:
    fill_in(page, "Sucks itself in", "120")
    page.click("#note")
    assert page.inner_text(".stopblock h1") == "Stop. Air stays trapped in the negative chamber."


def test_an_old_form_in_a_second_tab_passes_nothing(chromium: Browser, here: str, cast: Cast, job: Job) -> None:
    context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820})
    old, mine = context.new_page(), context.new_page()
    for page in (old, mine):
        page.goto(f"{here}/jobs/301/steps/")
    fill_in(old, "Stays at full length", "171")
    before = passed()
    fail(mine)
    old.click("#note")
    old.wait_for_selector("#faults")
    assert passed() == before
    assert old.title().startswith("Error: ")
    assert old.evaluate("document.activeElement.id") == "faults"
    context.close()


def test_the_back_button_passes_nothing(chromium: Browser, here: str, cast: Cast, job: Job) -> None:
    context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820})
    page = context.new_page()
    page.goto(f"{here}/jobs/301/steps/")
    before = passed()
    fail(page)
    page.go_back()
    if page.locator("#note").count():  # drawn before the failure, as the browser kept it
        fill_in(page, "Stays at full length", "171")
        with page.expect_response(lambda answer: answer.request.method == "POST" and answer.url.endswith(f"/{HOLD}/")):
            page.click("#note")
    assert passed() == before
    page.goto(f"{here}/jobs/301/steps/")
    assert page.inner_text(".stopblock h1") == "Stop. Air stays trapped in the negative chamber."
    context.close()


def test_the_address_of_a_later_step_leads_back_to_the_hold(chromium: Browser, here: str, cast: Cast, job: Job) -> None:
    context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820})
    page = context.new_page()
    page.goto(f"{here}/jobs/301/steps/")
    before = passed()
    for failed in (False, True):
        if failed:
            fail(page)
        for key in LATER:
            answer = context.request.get(f"{here}/jobs/301/steps/{key}/")
            assert answer.ok and answer.url.endswith(f"/steps/{HOLD}/"), key
            assert ('class="stopblock' in answer.text()) == failed, key
    assert passed() == before
    context.close()


def test_only_a_later_reading_that_holds_lifts_the_block(chromium: Browser, here: str, cast: Cast, job: Job) -> None:
    context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820})
    page = context.new_page()
    page.goto(f"{here}/jobs/301/steps/")
    before = passed()
    fail(page)
    page.get_by_role("link", name="Test again").click()
    fail(page)
    assert passed() == before
    page.get_by_role("link", name="Test again").click()
    fill_in(page, "Stays at full length", "171")
    page.click("#note")
    page.wait_for_url("**/cap-off/")
    assert passed() == before + 1
    assert StepEntry.objects.filter(step_key=HOLD, verdict="failed").count() == 2, "what failed stays on record"
    context.close()
