"""The find box by keys and by finger, with the list open: the combobox of the ARIA Authoring Practices."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page, Route, expect

from web.browser.demo_pages import demo_served, opened
from web.browser.rules import checked, settled
from web.served import signed_in

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def demo_here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_served(demo_file, tmp_path_factory.mktemp("find")) as address:
        yield address


def typed(page: Page, text: str) -> None:
    box = page.get_by_role("combobox", name=re.compile("^Find by name"))
    box.press_sequentially(text, delay=20)
    settled(page)
    expect(page.locator("#find-hits [role=option]").first).to_be_visible()


def test_the_list_is_walked_by_keys_and_closed(chromium: Browser, demo_here: str) -> None:
    page = opened(chromium, demo_here, "bench")
    box = page.get_by_role("combobox")
    expect(box).to_have_attribute("aria-expanded", "false")
    typed(page, "fork")
    expect(box).to_have_attribute("aria-expanded", "true")
    expect(page.get_by_role("status").filter(has_text="found, the latest first")).to_be_visible()
    options = page.get_by_role("option")
    assert options.count() > 3 and box.get_attribute("aria-activedescendant") is None
    for key, at in (("ArrowDown", 0), ("ArrowDown", 1), ("ArrowUp", 0), ("ArrowUp", options.count() - 1)):
        box.press(key)
        assert box.get_attribute("aria-activedescendant") == options.nth(at).get_attribute("id")
        assert page.locator("[aria-selected=true]").count() == 1
    expect(box).to_be_focused()
    assert checked(page) == []
    box.press("Escape")
    expect(box).to_have_attribute("aria-expanded", "false")
    expect(page.locator("#find-hits")).to_be_hidden()
    assert box.input_value() == "fork"
    box.press("ArrowDown")
    box.press("Enter")
    page.wait_for_url("**/book/riders/*/")
    page.context.close()


def test_from_the_name_to_the_riders_page_enter_takes_the_only_one(chromium: Browser, demo_here: str) -> None:
    page = opened(chromium, demo_here, "shelf")
    typed(page, "telvik ru")
    expect(page.get_by_role("option")).to_have_count(1)
    page.keyboard.press("Enter")
    page.wait_for_url("**/book/riders/*/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Runa Telvik")
    page.context.close()


def test_enter_is_for_the_list_of_what_was_typed_however_late_it_comes(chromium: Browser, demo_here: str) -> None:
    """Enter behind quick letters took the only line of the letters before, or led to a page with one line on it."""
    page = opened(chromium, demo_here, "shelf")

    def late(route: Route) -> None:
        page.wait_for_timeout(150)
        route.continue_()

    page.route("**/find/?q=*", late)
    typed(page, "telvik ru")
    box = page.get_by_role("combobox", name=re.compile("^Find by name"))
    box.press_sequentially("xx")
    page.keyboard.press("Enter")  # the list is still that of "telvik ru", with one line
    page.wait_for_url("**/find/?q=telvik+ruxx")
    page.goto(f"{demo_here}/shelf/")
    box.fill("telvik ru")
    page.keyboard.press("Enter")  # none has come yet
    page.wait_for_url("**/book/riders/*/")
    page.context.close()


def test_the_same_word_once_more_has_its_list(chromium: Browser, demo_here: str) -> None:
    """A word put in as a whole, as from a clipboard, was taken for no change where the last list was of the same one: no list came,
    and Enter waited for it."""
    page = opened(chromium, demo_here, "bench")
    box = page.get_by_role("combobox")
    for _ in range(2):
        box.fill("telvik ru")
        settled(page)
        expect(page.get_by_role("option")).to_have_count(1)
        for _ in range(2):  # the list, then the box
            box.press("Escape")
        expect(box).to_have_value("")
    page.context.close()


@pytest.mark.parametrize("width", [1180, 320, *(pytest.param(each, marks=pytest.mark.soak) for each in (820, 390))])
def test_a_finger_finds_its_line_and_nothing_moves(chromium: Browser, demo_here: str, width: int) -> None:
    owner = User.objects.order_by("pk").filter(is_staff=True).first()
    assert owner is not None
    page = signed_in(chromium, demo_here, owner, viewport={"width": width, "height": 800}, has_touch=True).new_page()
    page.goto(demo_here + "/")
    before = page.locator("main h1").first.bounding_box()
    typed(page, "fork")
    assert page.locator("main h1").first.bounding_box() == before
    sizes = [option.bounding_box() for option in page.get_by_role("option").all()]
    assert all(
        size and size["height"] >= 48 and size["x"] >= 0 and size["x"] + size["width"] <= width for size in sizes
    ), sizes
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.get_by_role("option").first.tap()
    page.wait_for_url("**/book/riders/*/")
    page.context.close()


def test_without_script_enter_leads_to_the_same_lines(chromium: Browser, demo_here: str) -> None:
    owner = User.objects.order_by("pk").filter(is_staff=True).first()
    assert owner is not None
    page = signed_in(
        chromium, demo_here, owner, viewport={"width": 820, "height": 1180}, java_script_enabled=False
    ).new_page()
    page.goto(demo_here + "/book/")
    page.locator("#find-box").fill("telvik")
    page.locator("#find-box").press("Enter")
    page.wait_for_url("**/find/?q=telvik")
    expect(page.locator("main").get_by_role("link", name="Runa Telvik")).to_be_visible()
    page.context.close()
