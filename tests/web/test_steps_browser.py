"""The step pages in a real browser: own keys, what is understood while typing, resume, two people, sizes, the checker."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright

from topout.web.jobs import steps
from topout.web.jobs.models import Draft, StepEntry
from topout.web.jobs.steps import Answer
from web.people import Cast
from web.served import SIZES, launch, served, signed_in
from web.steps_kit import Hands, failing, gauge, make_job

pytestmark = pytest.mark.browser
AXE = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as play:
        browser = launch(play)
        yield browser
        browser.close()


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    return hands


def opened(chromium: Browser, here: str, user: Any, path: str = "", **options: Any) -> Page:
    """A page of the job's steps; faults of scripts and of the content policy are collected in `page.faults`."""
    options = {"viewport": {"width": 1180, "height": 820}, **options}
    page = signed_in(chromium, here, user, **options).new_page()
    page.faults = []  # type: ignore[attr-defined]
    page.on("pageerror", lambda error: page.faults.append(str(error)))  # type: ignore[attr-defined]
    page.on("console", lambda m: page.faults.append(m.text) if m.type == "error" else None)  # type: ignore[attr-defined]
    page.goto(f"{here}/jobs/301/steps/{path}")
    return page


def tap(page: Page, keys: str) -> None:
    for key in keys:
        page.locator(".keys button", has_text=key).first.click()


def test_our_own_keys_type_and_the_page_says_what_is_understood_before_anything_is_signed(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    slot = hands.until("ring-depth-after")
    assert slot is not None
    with served() as here:
        page = opened(chromium, here, cast.technician)
        box = page.locator(".display input")
        assert box.get_attribute("inputmode") == "none"
        tap(page, "7.3")
        expect(page.locator("[data-echo]")).to_have_text("7.3\u00a0mm · 0.29\u00a0in")
        expect(page.locator("#verdict b")).to_have_text("In the band.")
        assert page.inner_text("#note").replace("\u00a0", " ") == "Note 7.3 mm"
        page.locator(".keys .wipe").click()
        tap(page, "9")
        expect(page.locator("#verdict b")).to_have_text("Not in the band.")
        assert not StepEntry.objects.filter(step_key=slot.step.key, verdict__in=("passed", "failed")).exists()
        page.locator(".keys .wipe").click()
        tap(page, "2")
        page.click("#note")
        page.wait_for_url("**/ring-seated/")
        assert page.faults == []  # type: ignore[attr-defined]
    assert StepEntry.objects.get(step_key=slot.step.key, verdict="passed").reading.text == "7.2"  # type: ignore[union-attr]


def test_a_tab_that_is_closed_comes_back_to_the_step_and_to_what_was_typed(
    chromium: Browser, hands: Hands, cast: Cast
) -> None:
    slot = hands.until("new-shaft-length")
    assert slot is not None
    with served() as here:
        page = opened(chromium, here, cast.technician)
        with page.expect_response("**/draft/"):
            tap(page, "26")
        page.context.close()
        again = opened(chromium, here, cast.owner)
        assert "/new-shaft-length/" in again.url
        assert again.input_value(".display input") == "26"
        again.locator(".keys .wipe").click()
        again.locator(".display input").press("End")
        again.locator(".display input").press_sequentially("62")
        again.keyboard.press("Enter")
        again.wait_for_url("**/old-shaft-length/")
        assert again.faults == []  # type: ignore[attr-defined]
    assert not Draft.objects.exists()


def test_the_other_one_s_signing_is_shown_within_seconds(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("frame-limit")
    with served() as here:
        mine = opened(chromium, here, cast.technician)
        theirs = opened(chromium, here, cast.owner)
        theirs.get_by_label("Within the limit").check()
        theirs.click("#note")
        theirs.wait_for_url("**/chassis-limit/")
        expect(mine.locator("#other")).to_contain_text("Wren Askel signed step 2 at", timeout=8000)
        mine.get_by_label("Within the limit").check()
        mine.click("#note")
        expect(mine.locator("#faults")).to_contain_text("Since this page was drawn, Wren Askel signed step 2")
    assert StepEntry.objects.filter(step_key="frame-limit", verdict="passed").count() == 1


def test_a_step_is_signed_by_keyboard_alone(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("frame-limit")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        page.locator("input[type=radio]").first.focus()
        page.keyboard.press("Space")
        page.keyboard.press("Enter")
        page.wait_for_url("**/chassis-limit/")


def test_it_works_without_scripts(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician, java_script_enabled=False)
        assert page.locator(".keys").is_hidden()
        assert page.locator(".display input").get_attribute("inputmode") == "decimal"
        page.fill(".display input", "262")
        page.click("#note")
        page.wait_for_url("**/old-shaft-length/")
        page.fill(".display input", "27.2")
        page.click("#note")
        assert "Was it 272 mm?" in page.inner_text(".ask")
        page.get_by_role("button", name="It was 272 mm").click()
        page.wait_for_url("**/shaft-fits/")
        page.get_by_role("button", name="Stop here, made safe").click()
        assert "Stopped here, made safe," in page.inner_text(".halted")
        page.get_by_role("button", name="Go on at step 8").click()
        assert page.locator("#reading").is_visible()


def test_a_lost_connection_is_said_and_nothing_is_called_saved(chromium: Browser, hands: Hands, cast: Cast) -> None:
    hands.until("new-shaft-length")
    with served() as here:
        page = opened(chromium, here, cast.technician)
        assert page.locator(".saved").is_visible() and page.locator(".cut-off").is_hidden()
        page.context.set_offline(True)
        expect(page.locator(".cut-off")).to_be_visible(timeout=1000)
        assert page.locator(".saved").is_hidden()
        page.context.set_offline(False)
        expect(page.locator(".saved")).to_be_visible(timeout=5000)


def _worked_to(hands: Hands, key: str) -> None:
    slot = hands.until("empty-at-rest" if key == "stop" else key)
    assert slot is not None
    if key == "stop":
        hands.sign(slot, failing(hands.here(), slot) | {"rest-length": Answer(text="120 mm", value_si=0.12, unit="mm")})
    if key == "full-stroke":
        hands.sign(slot, {"full-stroke": Answer(text="131 mm", value_si=0.131, unit="mm")})


@pytest.mark.parametrize(
    "key", ["sheet", "empty-at-rest", "stop", "ring-depth-after", "ring-seated", "full-stroke", "fill", "leak-end"]
)
def test_sizes_reflow_and_the_checker(chromium: Browser, hands: Hands, cast: Cast, key: str) -> None:
    _worked_to(hands, key)
    with served() as here:
        for name, (width, height) in {**SIZES, "narrow": (320, 640)}.items():
            for scheme in ("light", "dark") if name == "tablet" else ("light",):
                page = opened(
                    chromium, here, cast.technician, viewport={"width": width, "height": height}, color_scheme=scheme
                )
                assert page.evaluate("() => document.documentElement.scrollWidth") <= width, (key, name)
                assert page.locator(".go:visible").count() == 1
                if name == "tablet":
                    _measured(page)
                result = Axe().run(page, options=AXE)
                assert result.violations_count == 0, (key, name, scheme, result.generate_report())
                assert page.faults == []  # type: ignore[attr-defined]
                page.context.close()
    assert steps.where(hands.job).count > 40


def _measured(page: Page) -> None:
    """Bench sizes: controls 72 px, keys 118 px, the glance layer 50 px, nothing under 24 px, gaps of 8 px."""
    small = page.evaluate(
        """() => [...document.querySelectorAll("main a, main button, main select, main input:not([type=hidden])")]
            .filter((e) => e.checkVisibility() && !e.closest(".skip"))
            .map((e) => [e, (e.closest("label.pick, .display") || e).getBoundingClientRect()])
            .filter(([e, box]) => (box.height < 71.5 || box.width < 71.5) && !e.closest(".note"))
            .map(([e, box]) => `${e.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)"""
    )
    assert small == []
    keys = page.evaluate(
        "() => [...document.querySelectorAll('.keys button')].map((k) => k.getBoundingClientRect()).map((b) => [b.width, b.height])"
    )
    assert all(width >= 118 and height >= 118 for width, height in keys)
    glance = page.evaluate(
        "() => [...document.querySelectorAll('.glance h1, .want .v, .want .u, .verdict b')].map((e) => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert glance and min(glance) >= 50
    texts = page.evaluate(
        """() => [...document.querySelectorAll("main *")]
            .filter((e) => e.checkVisibility() && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && !e.closest("title, .for-eyes-off, desc"))
            .map((e) => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 40)])
            .filter(([size]) => size < 24)"""
    )
    assert texts == []
