"""The long forms in a real browser: two columns where there is room, Tab in the order of reading, drafts that come back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page, expect

from topout.web.jobs.records.models import Draft, Reading
from web.browser.demo_pages import demo_served
from web.browser.waits import loads, until
from web.served import SIZES, signed_in

pytestmark = pytest.mark.browser
FORMS = ("/jobs/new/", "/jobs/214/readings/as-found/", "/jobs/214/change/", "/shelf/new/", "/instruments/new/")


@pytest.fixture(scope="module")
def here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_served(demo_file, tmp_path_factory.mktemp("forms")) as address:
        yield address


def opened(browser: Browser, here: str, path: str, size: str = "tablet", who: str = "maud") -> Page:
    width, height = SIZES[size]
    user = User.objects.get(username=who)
    page = signed_in(browser, here, user, viewport={"width": width, "height": height}).new_page()
    page.goto(here + path)
    return page


# The boxes of the page that Tab has come to, in that order, each with where it stands now.
PLACES = """() => window.cameTo.map((e) => { const r = (e.closest('.entry') || e.type === 'radio' && e.closest('fieldset') || e).getBoundingClientRect();
  return { name: e.name, left: r.left, right: r.right, top: r.top + scrollY, bottom: r.bottom + scrollY }; })"""
# What Tab came to: taken down where it is a box and not one more of the last one's.
CAME = """() => { const e = document.activeElement, boxes = window.cameTo ||= [], grid = !!e.closest('.grid');
  if (grid && e.name && e.name !== boxes.at(-1)?.name) boxes.push(e);
  return grid ? 'box' : e.matches('summary') ? 'summary' : boxes.length ? 'past' : 'before'; }"""


def tabbed(page: Page) -> None:
    """From the head of the form to its last box by Tab alone; what is rarely read is opened on the way."""
    page.locator("main h1").click()
    for _ in range(60):
        page.keyboard.press("Tab")
        at = page.evaluate(CAME)
        if at == "summary":
            page.keyboard.press("Enter")  # what is rarely read is folded away; it opens by the keyboard too
        elif at == "past":
            break


@pytest.mark.parametrize("path", FORMS)
@pytest.mark.parametrize(
    "by", ["tablet", *(pytest.param(size, marks=pytest.mark.soak) for size in ("upright", "phone"))]
)
def test_columns_and_the_way_of_the_keyboard(chromium: Browser, here: str, path: str, by: str) -> None:
    """The keyboard's way is gone at one size; what it came to is measured at each."""
    page = opened(chromium, here, path, by)
    tabbed(page)
    names = page.evaluate(
        "() => [...new Set([...document.querySelectorAll('main .grid :is(input:not([type=hidden]), textarea)')].map((e) => e.name))]"
    )
    close = "/readings/" in path  # small boxes, side by side on the phone too
    wide = 1 if path.endswith("/change/") else 2  # every one of its rows has a box that takes the whole width
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        boxes = page.evaluate(PLACES)
        assert [box["name"] for box in boxes] == names, "Tab comes to every box, in the order of the page"
        assert len(boxes) >= 6
        lefts = {round(box["left"]) for box in boxes}
        assert len(lefts) == ((4 if close else wide) if size == "tablet" else (2 if close else 1)), (size, lefts)
        for one, next_ in zip(boxes, boxes[1:], strict=False):
            beside = abs(one["top"] - next_["top"]) < 4 and next_["left"] > one["right"]
            assert beside or next_["top"] >= one["bottom"], f"{size}: {next_['name']} is read after {one['name']}"
    page.context.close()


def test_what_must_be_given_is_said_once_and_marked_there_alone(chromium: Browser, here: str) -> None:
    page = opened(chromium, here, "/jobs/new/")
    assert page.inner_text(".must").startswith("Needed: a rider, a fork or shock, the work wanted")
    labels = [label for label in page.locator("main label, main legend").all_inner_texts() if "(needed)" in label]
    assert labels == ["Who does it (needed)", "Work wanted, in a line (needed)", "In the rider’s own words (needed)"]
    assert "(optional)" not in page.inner_text("main")
    assert page.locator("input[type=date], input[type=time]").count() == 0
    page.context.close()


def test_the_procedures_follow_the_kind_and_keep_what_was_tapped_meanwhile(chromium: Browser, here: str) -> None:
    """On a slow line the answers drawn anew came after the tap, and took it back."""
    page = opened(chromium, here, "/jobs/new/")
    late: list[Any] = []
    page.route("**/jobs/new/procedures/**", lambda route: late.append(route))
    page.check('[name=unit_kind][value="coil-fork"]')
    page.check('[name=procedure][value="coil-lower-legs"]')
    until(page, lambda: late)
    late[0].continue_()
    expect(page.locator("#id_procedure .hint")).to_contain_text("What is written for a coil fork. Not here: ")
    expect(page.locator('[name=procedure][value="coil-lower-legs"]')).to_be_checked()
    assert page.locator("[name=procedure]").count() == 6
    page.check('[name=unit_kind][value="shock"]')  # another kind: what it can't have is tapped no longer
    until(page, lambda: len(late) == 2)
    late[1].continue_()
    expect(page.locator("[name=procedure]")).to_have_count(3)
    assert page.locator("[name=procedure]:checked").count() == 0
    page.context.close()


def test_a_draft_comes_back_in_another_browser_and_goes_with_the_saving(chromium: Browser, here: str) -> None:
    path = "/jobs/214/readings/as-left/"
    page = opened(chromium, here, path)
    page.locator("[name=pressure]").press_sequentially("71")
    page.locator("[name=pressure-gauge][value=P2]").check()
    page.locator("[name=condition]").fill("A drop of oil at the left seal.")
    expect(page.locator("[data-draft-says]")).to_contain_text("It is not saved yet.")
    # What stands at the last moment is kept too: the page goes before the pause is over.
    page.locator("[name=spacers]").fill("1")
    page.goto(f"{here}/")
    until(page, lambda: Draft.objects.get(place="readings:as-left").fields.get("spacers"))
    page.context.close()
    again = opened(chromium, here, path, "phone", "jory")
    assert "What Maud Askel typed" in again.inner_text(".kept")
    places_ = {
        "pressure": "[name=pressure]",
        "pressure-gauge": "[name=pressure-gauge]:checked",
        "spacers": "[name=spacers]",
    }
    values = {name: again.locator(place).input_value() for name, place in places_.items()}
    assert values == {"pressure": "71", "pressure-gauge": "P2", "spacers": "1"}
    assert again.locator("[name=condition]").input_value() == "A drop of oil at the left seal."
    before = Reading.objects.count()
    again.locator("main .go").click()
    again.wait_for_url(f"{here}/jobs/214/")
    assert Reading.objects.count() == before + 2
    assert not Draft.objects.filter(place="readings:as-left").exists()
    again.goto(here + path)
    assert again.locator(".kept").count() == 0 and again.locator("[name=pressure]").input_value() == ""
    again.context.close()


def test_the_boxes_are_emptied_on_purpose(chromium: Browser, here: str) -> None:
    page = opened(chromium, here, "/jobs/new/")
    page.locator("[name=rider_name]").fill("Ilsé Varn")
    expect(page.locator("[data-draft-says]")).to_contain_text("Kept as a draft")
    page.reload()
    assert page.locator("[name=rider_name]").input_value() == "Ilsé Varn"
    with loads(page):
        page.get_by_role("button", name="Empty the boxes").click()
    assert page.url == f"{here}/jobs/new/"
    assert page.locator("[name=rider_name]").input_value() == "" and page.locator(".kept").count() == 0
    page.context.close()
