"""Photos go up while somebody writes: several at once, shown as they come, saved with the form, and none lost on the way."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from PIL import Image
from playwright.sync_api import Browser, FilePayload, Page, Route, expect

from web.browser.demo_pages import demo_served
from web.browser.rules import checked
from web.served import signed_in

pytestmark = pytest.mark.browser
PLACE = "/jobs/216/readings/as-found/"


@pytest.fixture
def here(demo_file: Path, tmp_path: Path) -> Iterator[str]:
    with demo_served(demo_file, tmp_path) as address:
        yield address


def picture(nth: int) -> FilePayload:
    out = io.BytesIO()
    Image.new("RGB", (640, 480), (40 * nth, 90, 120)).save(out, "JPEG")
    return {"name": f"{nth}.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def opened(chromium: Browser, here: str) -> Page:
    owner = User.objects.order_by("pk").filter(is_staff=True).first()
    assert owner is not None
    page = signed_in(chromium, here, owner, viewport={"width": 820, "height": 1180}).new_page()
    page.goto(here + PLACE)
    return page


def test_several_go_up_while_one_writes_and_one_that_fails_goes_with_the_form(chromium: Browser, here: str) -> None:
    page = opened(chromium, here)
    refused: list[str] = []

    def once_cut_off(route: Route) -> None:
        if refused:
            route.continue_()
        else:
            refused.append(route.request.url)
            route.abort()

    page.route("**/photos/hold/", once_cut_off)
    chooser = page.locator("input[name=photos][multiple]")
    chooser.set_input_files([picture(1), picture(2), picture(3)])
    page.locator("[name=condition]").fill("A scratch at the left.")
    page.locator("[name=photos-of]").fill("as it came")
    expect(page.locator(".held-photo img")).to_have_count(2)
    assert chooser.evaluate("(e) => e.files.length") == 1, "the one that did not get through stands in the box"
    assert page.locator("input[name=photos][capture=environment]").count() == 1
    assert checked(page) == []
    with page.expect_navigation():
        page.get_by_role("button", name="Save what was read").click()
    page.goto(f"{here}/jobs/216/")
    expect(page.locator(".photos img")).to_have_count(3)
    assert all("small.jpg" in str(each.get_attribute("src")) for each in page.locator(".photos img").all())
    page.context.close()


def test_one_that_did_not_get_through_goes_up_with_those_chosen_after_it(chromium: Browser, here: str) -> None:
    """A browser takes what is chosen anew for all that the box holds: the one before was lost, and the form said nothing of it."""
    page = opened(chromium, here)
    page.route("**/photos/hold/", lambda route: route.abort())
    chooser = page.locator("input[name=photos][multiple]")
    chooser.set_input_files([picture(1)])
    expect(page.locator("[data-photos-says]")).to_contain_text("did not get through yet")
    page.unroute("**/photos/hold/")
    chooser.set_input_files([picture(2)])
    expect(page.locator(".held-photo img")).to_have_count(2)
    assert chooser.evaluate("(e) => e.files.length") == 0
    page.context.close()


def test_a_form_sent_while_photos_are_on_their_way_waits_for_them(chromium: Browser, here: str) -> None:
    page = opened(chromium, here)

    def slow(route: Route) -> None:
        page.wait_for_timeout(700)
        route.continue_()

    page.route("**/photos/hold/", slow)
    page.locator("[name=photos-of]").fill("as it came")
    page.locator("input[name=photos][multiple]").set_input_files([picture(4), picture(5)])
    page.get_by_role("button", name="Save what was read").click()
    page.wait_for_url(f"{here}/jobs/216/")
    expect(page.locator(".photos img")).to_have_count(2)
    page.context.close()
