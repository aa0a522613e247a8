"""Hands that are quicker than an answer: a list that is drawn anew takes no tap away, and the focus stays where it has come to."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, expect

from topout.web.jobs.records.models import StepEntry
from web.browser.keys import Keys
from web.browser.waits import until
from web.people import Cast
from web.served import signed_in
from web.steps_kit import Hands, one_a_page

pytestmark = pytest.mark.browser
DRAWN = "() => new Promise((done) => setTimeout(() => requestAnimationFrame(() => requestAnimationFrame(done)), 100))"


def two_rows(chromium: Browser, here: str, hands: Hands, cast: Cast) -> tuple[Page, Locator, Locator, list[Route]]:
    """A list with three open ticks; what signs the first of them is held on its way."""
    now = hands.here()
    torque = now.slot("cap-torque")
    assert torque is not None
    slots = [each for each in now.screen_of(torque).slots if [e.kind for e in each.step.evidence] == ["tick"]]
    hands.until(slots[0].step.key)
    page = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}).new_page()
    page.goto(f"{here}/jobs/301/steps/")
    first, second = (page.locator(f"#row-{each.number}") for each in slots[:2])
    held: list[Route] = []
    page.route(f"**{first.locator('.tickform').get_attribute('action')}", lambda route: held.append(route))
    return page, first, second, held


def held_step(chromium: Browser, here: str, hands: Hands, cast: Cast, key: str) -> tuple[Page, list[Route]]:
    """A step on a page of its own; what signs it is held on its way."""
    one_a_page(cast.technician)
    assert hands.until(key) is not None
    page = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}).new_page()
    page.goto(f"{here}/jobs/301/steps/")
    held: list[Route] = []

    def first(route: Route) -> None:
        if route.request.method == "POST" and not held:
            held.append(route)
        else:
            route.continue_()

    page.route(f"**/{key}/", first)
    return page, held


def passed() -> int:
    return StepEntry.objects.filter(verdict="passed").count()


def answered(page: Page, held: list[Route]) -> None:
    until(page, lambda: held)
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        held[0].continue_()
    page.evaluate(DRAWN)  # what is drawn anew at once stands by then


def test_a_button_that_is_down_while_the_list_is_answered_is_tapped(
    chromium: Browser, here: str, hands: Hands, cast: Cast
) -> None:
    page, first, second, held = two_rows(chromium, here, hands, cast)
    before = passed()
    first.locator(".tick").click()
    second.locator(".tick").hover()
    page.mouse.down()
    answered(page, held)
    page.mouse.up()
    page.wait_for_url("**/list/?put=*")  # the row below wants a number
    assert passed() == before + 2
    page.context.close()


def test_the_focus_stays_at_the_row_that_the_keyboard_has_come_to(
    chromium: Browser, here: str, hands: Hands, cast: Cast
) -> None:
    """It went back to the row that was answered, and the next key took that one back."""
    page, first, second, held = two_rows(chromium, here, hands, cast)
    keys = Keys(page)
    keys.reach(first.locator(".tick"))
    page.keyboard.press("Enter")
    tick = second.locator(".tick")
    keys.reach(tick)
    answered(page, held)
    expect(first.locator(".signed b")).to_be_visible()
    expect(tick).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url("**/list/?put=*")
    page.context.close()


def test_a_number_that_was_sent_takes_no_more_figures(chromium: Browser, here: str, hands: Hands, cast: Cast) -> None:
    """Typed on for the next step, they were sent with this one where the workshop had a question first."""
    page, held = held_step(chromium, here, hands, cast, "old-shaft-measured")
    box = page.locator(".display input")
    box.press_sequentially("27.2")
    page.keyboard.press("Enter")
    until(page, lambda: held)
    page.keyboard.type("70")
    page.locator(".keys button", has_text="9").first.click()
    assert box.input_value() == "27.2"
    held[0].continue_()
    expect(page.locator(".ask")).to_contain_text("Was it 272 mm?")
    page.context.close()


def test_a_choice_that_was_sent_is_not_changed_by_a_second_tap(
    chromium: Browser, here: str, hands: Hands, cast: Cast
) -> None:
    """The page showed the second one, and the first was signed."""
    page, held = held_step(chromium, here, hands, cast, "shaft-fits")
    first, second = (page.locator("#reading input[type=radio]").nth(n) for n in (0, 1))
    page.locator("label.pick").nth(0).click()
    until(page, lambda: held)
    page.locator("label.pick").nth(1).click()
    assert first.is_checked() and not second.is_checked()
    held[0].continue_()
    page.wait_for_url("**/shaft-label/")
    page.context.close()
