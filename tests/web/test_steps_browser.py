"""The step pages in a real browser: own keys, what is understood while typing, resume, two people.

Sizes, reflow and the checker: tests/web/browser/test_states_browser.py.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.jobs.records.models import Draft, StepEntry, StepsShown
from topout.web.storage import FULL
from web.browser.waits import kept
from web.people import Cast
from web.served import served, signed_in
from web.steps_kit import Hands, gauge, make_job, one_a_page

pytestmark = pytest.mark.browser


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    one_a_page(cast.technician, cast.owner)
    hands.begin()
    return hands


def opened(chromium: Browser, here: str, user: Any, path: str = "", **options: Any) -> Page:
    """A page of the job's steps; faults of scripts and of the content policy are collected in `page.faults`."""
    options = {"viewport": {"width": 1180, "height": 820}, **options}
    page = signed_in(chromium, here, user, **options).new_page()
    faults: list[str] = []
    page.faults = faults  # type: ignore[attr-defined]
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.goto(f"{here}/jobs/301/steps/{path}")
    return page


def tap(page: Page, keys: str) -> None:
    for key in keys:
        page.locator(".keys button", has_text=key).first.click()


def test_our_own_keys_type_and_the_page_says_what_is_understood_before_anything_is_signed(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    slot = hands.until("old-shaft-measured")
    assert slot is not None
    with served() as here:
        page = opened(chromium, here, cast.technician)
        box = page.locator(".display input")
        assert box.get_attribute("inputmode") == "none"
        tap(page, "272.5")
        expect(page.locator("[data-echo]")).to_have_text("272.5\u00a0mm · 10.73\u00a0in")
        expect(page.locator("#verdict b")).to_have_text("In the band.")
        assert page.inner_text("#note").replace("\u00a0", " ") == "Save 272.5 mm"
        for _ in range(3):
            page.locator(".keys .wipe").click()
        tap(page, "9")
        expect(page.locator("#verdict b")).to_have_text("Not in the band.")
        assert not StepEntry.objects.filter(step_key=slot.step.key, verdict__in=("passed", "failed")).exists()
        page.locator(".keys .wipe").click()
        tap(page, "1")
        page.click("#note")
        page.wait_for_url("**/old-shaft-tag/")
        assert page.faults == []  # type: ignore[attr-defined]
    assert StepEntry.objects.get(step_key=slot.step.key, verdict="passed").reading.text == "271"  # type: ignore[union-attr]


def test_a_tab_that_is_closed_comes_back_to_the_step_and_to_what_was_typed(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    slot = hands.until("new-shaft-length")
    assert slot is not None
    with served() as here:
        page = opened(chromium, here, cast.technician)
        with kept(page, "26"):
            tap(page, "26")
        page.context.close()
        again = opened(chromium, here, cast.owner)
        assert "/new-shaft-length/" in again.url
        assert again.input_value(".display input") == "26"
        again.locator(".keys .wipe").click()
        again.locator(".display input").press("End")
        again.locator(".display input").press_sequentially("62")
        again.keyboard.press("Enter")
        again.wait_for_url("**/gauge-zero/")
        assert again.faults == []  # type: ignore[attr-defined]
    assert not Draft.objects.exists()


def test_the_other_one_s_signing_is_shown_within_seconds(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("shaft-fits")
    with served() as here:
        mine = opened(chromium, here, cast.technician)
        theirs = opened(chromium, here, cast.owner)
        theirs.get_by_label("Listed, the same fit").click()  # a choice alone signs
        theirs.wait_for_url("**/shaft-label/")
        expect(mine.locator("#other")).to_contain_text("Maud Askel signed step 1 at")
        mine.get_by_label("Listed, the same fit").click()
        expect(mine.locator("#faults")).to_contain_text("Since this page was drawn, Maud Askel signed step 1")
    assert StepEntry.objects.filter(step_key="shaft-fits", verdict="passed").count() == 1


def test_a_step_is_signed_by_keyboard_alone(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("shaft-fits")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        page.locator("input[type=radio]").first.focus()
        page.keyboard.press("Space")
        page.keyboard.press("Enter")
        page.wait_for_url("**/shaft-label/")


def test_it_works_without_scripts(chromium: Browser, hands: Hands, cast: Cast) -> None:
    slot = hands.until("old-shaft-measured")
    assert slot is not None
    with served() as here:
        page = opened(chromium, here, cast.technician, java_script_enabled=False)
        assert page.locator(".keys").is_hidden()
        assert page.locator(".display input").get_attribute("inputmode") == "decimal"
        page.fill(".display input", "27.2")
        page.click("#note")
        assert "Was it 272 mm?" in page.inner_text(".ask")
        page.get_by_role("button", name="It was 272 mm").click()
        page.wait_for_url("**/old-shaft-tag/")
        page.click("#note")
        page.wait_for_url("**/legs-inspected/")
        page.get_by_role("button", name="Stop; the fork is safe").click()
        assert "Stopped; the fork is safe," in page.inner_text(".halted")
        page.get_by_role("button", name=f"Go on at step {slot.number + 2}").click()
        expect(page.locator("#reading")).to_be_visible()


def test_a_lost_connection_is_said_and_nothing_is_called_saved(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        assert page.locator(".saved").is_visible() and page.locator(".cut-off").is_hidden()
        at_once = "new Promise((said) => addEventListener('offline', () => said(document.querySelector('.cut-off').checkVisibility())))"
        page.evaluate(f"() => {{ window.cutOff = {at_once}; }}")
        page.context.set_offline(True)
        assert page.evaluate("window.cutOff"), "not a moment later"
        assert page.locator(".saved").is_hidden()
        page.context.set_offline(False)
        expect(page.locator(".saved")).to_be_visible()


def test_a_server_that_can_not_save_says_why_at_the_step(chromium: Browser, hands: Hands, cast: Cast) -> None:
    """With its disk full the step said “no connection”, and nobody looked at the disk."""
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        tap(page, "262")
        full = {"X-Not-Stored": quote(FULL.words)}
        page.route(
            "**/new-shaft-length/",
            lambda route: (
                route.fulfill(status=503, headers=full) if route.request.method == "POST" else route.continue_()
            ),
        )
        page.click("#note")
        expect(page.locator("#held-back")).to_have_text(
            f"Not saved yet. {FULL.words} This page holds it and sends it again."
        )
        expect(page.locator(".saved")).to_be_hidden()
        expect(page.locator(".cut-off")).to_be_hidden()
        assert signed("new-shaft-length") == 0
        page.unroute("**/new-shaft-length/")
        page.wait_for_url("**/gauge-zero/")
        assert signed("new-shaft-length") == 1


def signed(key: str) -> int:
    return StepEntry.objects.filter(step_key=key, verdict="passed").count()


def test_what_is_signed_without_a_connection_is_held_said_and_sent_once(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        tap(page, "262")
        page.context.set_offline(True)
        page.click("#note")
        expect(page.locator("#held-back")).to_contain_text("Not saved yet")
        assert page.input_value(".display input") == "262" and page.locator(".saved").is_hidden()
        page.click("#note")  # an impatient finger
        assert signed("new-shaft-length") == 0
        page.set_viewport_size({"width": 390, "height": 600})
        page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
        expect(page.locator("#held-back")).to_be_in_viewport(
            ratio=1
        )  # also where a phone was scrolled down to the button
        page.context.set_offline(False)
        page.wait_for_url("**/gauge-zero/")
        assert signed("new-shaft-length") == 1


def test_an_answer_that_got_lost_on_its_way_back_signs_nothing_twice(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    """The server signed, its answer never came: the page sends the same key again and is answered the same."""
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        lost: list[str] = []

        def once(route: Any) -> None:
            if route.request.method == "POST" and not lost:
                route.fetch(max_redirects=0)
                lost.append(route.request.url)
                route.abort()
            else:
                route.continue_()

        page.route("**/steps/new-shaft-length/", once)
        tap(page, "262")
        page.click("#note")
        page.wait_for_url("**/gauge-zero/")
        assert len(lost) == 1 and signed("new-shaft-length") == 1


def test_ticks_in_a_list_are_sent_one_by_one_and_held_without_a_connection(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    StepsShown.objects.all().delete()
    here_now = hands.here()
    slot = here_now.slot("cap-torque")
    assert slot is not None
    screen = here_now.screen_of(slot)
    ticks = [each for each in screen.slots if [e.kind for e in each.step.evidence] == ["tick"]]
    hands.until(ticks[0].step.key)
    with served() as here:
        page = opened(chromium, here, cast.technician)
        first, second = (page.locator(f"#row-{each.number}") for each in ticks[:2])
        first.locator(".tick").click()
        second.locator(".tick").click()  # before the first is answered
        page.wait_for_url("**/list/?put=*")  # the row below wants a number: its keys come at once
        assert [signed(each.step.key) for each in ticks[:3]] == [1, 1, 0]
        page.get_by_role("link", name="Back to the list").click()
        expect(first.locator(".signed")).to_contain_text("Jory Pask")
        third = page.locator(f"#row-{ticks[2].number}")
        page.context.set_offline(True)
        third.locator(".tick").click()
        expect(page.locator("#held-back")).to_contain_text("Not saved yet")
        assert third.locator(".signed b").count() == 0
        page.context.set_offline(False)
        expect(third.locator(".signed")).to_contain_text("Jory Pask")
        assert signed(ticks[2].step.key) == 1
        first.locator(".tick").click()
        page.get_by_role("button", name="Ticked by mistake").click()
        expect(page.locator(f"#row-{ticks[0].number} .struck")).to_contain_text("Ticked by mistake")
        assert hands.here().latest.get(ticks[0].key) is None
        assert [fault for fault in page.faults if "ERR_INTERNET_DISCONNECTED" not in fault] == []  # type: ignore[attr-defined]
