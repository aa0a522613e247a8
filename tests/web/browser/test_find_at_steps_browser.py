"""The find box over a step: the one that every page has, there only while it is open, and nothing of the step lost or signed by it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.jobs.records.models import StepEntry
from web.browser.rules import EDGES, WIDTHS, checked, settled, sideways, sized
from web.people import Cast
from web.served import signed_in
from web.steps_kit import Hands, one_a_page

pytestmark = pytest.mark.browser
NUMBER = "empty-at-rest"


def opened(chromium: Browser, here: str, cast: Cast, **options: Any) -> Page:
    given = {"viewport": {"width": 1180, "height": 820}, "has_touch": True} | options
    return signed_in(chromium, here, cast.technician, **given).new_page()


def asked(page: Page, text: str) -> list[str]:
    """What the open box says to a text."""
    page.keyboard.type(text)
    settled(page)
    expect(page.locator("#find-hits [role=option]").first).to_be_visible()
    return page.get_by_role("option").all_inner_texts()


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.id || document.activeElement.tagName"))


def test_the_find_key_opens_the_same_box_and_gives_the_focus_back(
    chromium: Browser, here: str, hands: Hands, cast: Cast
) -> None:
    one_a_page(cast.technician)
    assert hands.until(NUMBER) is not None
    page = opened(chromium, here, cast)
    page.goto(here + "/")
    page.get_by_role("combobox", name=re.compile("^Find by name")).focus()
    everywhere = asked(page, "ilse")
    page.goto(f"{here}/jobs/301/steps/")
    signed = StepEntry.objects.count()
    reading, find = page.locator(".display input"), page.get_by_role("link", name="Find")
    for _ in range(24):  # a keyboard goes through the whole page and never comes into a box that is not open
        page.keyboard.press("Tab")
        assert focused(page) != "find-box"
    reading.focus()
    page.keyboard.type("17")
    for shut in ("Escape", "Close", "beside it"):
        find.tap()  # one tap, as into the box of another page
        assert focused(page) == "find-box" and asked(page, "ilse") == everywhere, shut
        if shut == "Escape":
            page.keyboard.press("Escape")
        elif shut == "Close":
            page.get_by_role("button", name="Close").tap()
        else:  # where Save stands: nothing behind the box acts
            box = page.locator("#note").bounding_box()
            assert box
            page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] - 8)
        expect(page.locator("#find-over")).to_be_hidden()
        assert reading.evaluate("(box) => box === document.activeElement"), shut
        assert reading.input_value() == "17" and page.locator("#find-box").input_value() == "", shut
    find.tap()
    page.keyboard.type("ilse")
    at_once = "(over) => { over.hidePopover(); return over.querySelector('input').value; }"
    assert page.locator("#find-over").evaluate(at_once) == "", "emptied as it shuts, and not a moment later"
    page.keyboard.type("1")  # what a scanner or a keyboard sends is the reading's again
    assert reading.input_value() == "171" and StepEntry.objects.count() == signed
    find.focus()
    page.keyboard.press("Enter")
    assert focused(page) == "find-box"
    page.keyboard.press("Shift+Tab")  # out of it by keys: it closes
    expect(page.locator("#find-over")).to_be_hidden()
    for size in WIDTHS:
        sized(page, size)
        find.tap()
        assert asked(page, "ilse") == everywhere, size
        wrong = [*checked(page), *page.evaluate(EDGES)]
        assert wrong == [] and sideways(page) <= 0, (size, wrong)
        says, first = (
            page.locator("#find-over .found > p").bounding_box(),
            page.get_by_role("option").first.bounding_box(),
        )
        assert says and first and says["y"] + says["height"] <= first["y"] + 1, "how many stands above the lines"
        controls = page.locator("#find-over :is(input, button), #find-over [role=option]")
        sizes = [each.bounding_box() for each in controls.all()]
        assert len(sizes) == 3 + len(everywhere) and all(
            each and min(each["width"], each["height"]) >= 71.5 for each in sizes
        ), (size, sizes)
        page.keyboard.press("Escape")
    find.tap()
    asked(page, "ilse")
    page.get_by_role("option").first.tap()
    page.wait_for_url("**/book/riders/*/")
    page.go_back()
    assert page.locator(".display input").input_value() == "171"  # kept on the server, as whenever a step is left
    page.context.close()


def test_a_page_that_moves_on_waits_until_nobody_types_in_the_box(
    chromium: Browser, here: str, hands: Hands, cast: Cast
) -> None:
    page = opened(chromium, here, cast)
    signed = StepEntry.objects.count()
    page.goto(f"{here}/jobs/301/steps/")
    form = page.locator(".tickform").first
    row = page.locator(f"#row-{form.get_attribute('data-row')}")
    held: list[Any] = []
    page.route(f"**{form.get_attribute('action')}", lambda route: held.append(route))
    form.locator(".tick").first.tap()
    page.get_by_role("link", name="Find").tap()
    asked(page, "ilse")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        held[0].continue_()
    page.wait_for_timeout(300)
    assert (
        focused(page) == "find-box"
        and row.locator(".signed b").count() == 0
        and StepEntry.objects.count() == signed + 1
    )
    page.keyboard.press("Escape")
    expect(row.locator(".signed b")).to_be_visible()
    page.context.close()


def test_a_box_that_has_just_opened_is_waited_for_too(chromium: Browser, here: str, hands: Hands, cast: Cast) -> None:
    """Its opening is told a moment later; an answer that came within that moment took it for the closing, and moved on."""
    page = opened(chromium, here, cast)
    page.goto(f"{here}/jobs/301/steps/")
    moved_on = """() => { document.getElementById("find-over").showPopover(); window.movedOn = false; findShut().then(() => { window.movedOn = true; });
      return new Promise((done) => setTimeout(() => requestAnimationFrame(() => done(window.movedOn)), 50)); }"""
    assert page.evaluate(moved_on) is False
    page.keyboard.press("Escape")
    expect(page.locator("#find-over")).to_be_hidden()
    assert page.evaluate("new Promise((done) => setTimeout(() => done(window.movedOn), 50))") is True
    page.context.close()


def test_without_script_the_key_leads_to_finds_page(chromium: Browser, here: str, hands: Hands, cast: Cast) -> None:
    page = opened(chromium, here, cast, java_script_enabled=False)
    page.goto(f"{here}/jobs/301/steps/")
    expect(page.locator("#find-over")).to_be_hidden()
    page.get_by_role("link", name="Find").click()
    page.wait_for_url("**/find/")
    page.locator("#find-box").fill("ilse")
    page.locator("#find-box").press("Enter")
    page.wait_for_url("**/find/?q=ilse")
    expect(page.locator("main").get_by_role("link", name="Ilse Varn")).to_be_visible()
    page.context.close()
