"""Every form of the workshop, sent wrong from a browser (look.md B7 row 16): the summary has its heading and the focus, its
links lead into the boxes, the same words stand at the box, the title says "Error:", and what was typed is still there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page

from web import people
from web.addresses import address_of
from web.browser import rules
from web.browser.demo_pages import demo_served, opened
from web.browser.looks import BENCH_PAGES, PAGES
from web.browser.words import FORBIDDEN

pytestmark = pytest.mark.browser
WRONG = "about so much"
# Addresses without a form of boxes. A test below looks whether that is so.
NO_BOXES = {
    "accounts", "bench", "bike", "book", "find", "guide", "guide-page", "health", "held", "instruments", "job", "own-procedure", "own-procedures", "own-procedures-folder", "papers", "rider", "rider-erase", "step-list", "steps-overview",
    "tag", "unit",
}  # fmt: skip
NO_WRONG = {
    "far-in-earlier": "a box only where one of an earlier job stands, and the demo has none; tried in tests/web/test_far_in_carried.py",
    "far-in": "the demo's fork is known, so that no reading is asked for; tried in tests/web/test_far_in.py",
    "riders-in": "a file alone; tried in tests/web/test_export_pages.py",
    "password": "its boxes hold passwords alone, which no page keeps; tried in tests/web/test_accounts.py",
    "shelf": "a search: any words find something or nothing",
    "start": "leads to the sign-in once there is an account; tried by itself in tests/web/test_sign_in.py",
    "hand-over-check": "leads to the hand-over until one is written",
}  # fmt: skip


@pytest.fixture(scope="module")
def demo_here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_served(demo_file, tmp_path_factory.mktemp("wrong")) as address:
        yield address


def spoil(page: Page) -> dict[str, str]:
    """Write something wrong into every box of the main form; what stands there then, by name."""
    typed = page.evaluate(
        """(wrong) => { const out = {};
        for (const e of document.querySelectorAll('main form input, main form textarea')) {
          if (!e.checkVisibility() || ['hidden', 'radio', 'checkbox', 'file', 'date', 'time', 'search', 'submit'].includes(e.type)) continue;
          const number = ['decimal', 'numeric'].includes(e.inputMode) || e.closest('.display, .entry');
          e.value = number ? wrong : e.type === 'email' ? 'nowhere' : e.required ? '' : e.value || 'kept as typed';
          if (e.type !== 'password') out[e.name] = e.value; }
        return out; }""",
        WRONG,
    )
    return dict(typed)


def state(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(
        """() => { const links = [...document.querySelectorAll('#faults a')];
        return { focus: document.activeElement.id, title: document.title,
          links: links.map((a) => { const place = document.getElementById(a.hash.slice(1));
            const holder = place && (place.closest('.field, .ctl, .one, .many, fieldset, .hand') || place);
            return [a.textContent.trim(), a.hash, !!place, holder ? holder.textContent : '']; }) }; }"""
    )
    return found


def said_once(page: Page) -> None:
    """A step says a fault at its box alone, which has the focus: said above as well it pushes the main button away."""
    assert page.locator("#faults").count() == 0
    words = page.locator("#reading .fault").first.inner_text().replace("Error: ", "")
    assert page.inner_text("main").count(words.strip()) == 1
    assert page.evaluate("document.activeElement.closest('.one, .many, fieldset, .pick')") is not None


def test_pages_without_boxes_have_none(demo_here: str) -> None:
    owner = people.browser(User.objects.order_by("pk").get(username="maud"))
    for name in NO_BOXES:
        page = owner.get(address_of(name), follow=True)
        assert page.status_code == 200
        main = page.content.decode().partition("<main")[2]
        assert not re.search(r"<textarea|<select|<input(?![^>]*(type=.(hidden|submit)|id=.find-box))", main), name


FORMS = [name for name in PAGES if name not in NO_BOXES | set(NO_WRONG)]
# Faults are said by one template, and a box with its fault by another: the checker is asked daily for a form of each kind.
CHECKED = ("job-new", "plan", "sign-in", "shelf-new", "readings")

# The first links of the summary in turn: whether each leads into the box that it names.
LED = """async (places) => { const out = [];
  for (const place of places) { document.activeElement.blur(); document.querySelector(`#faults a[href="${place}"]`).click();
    const e = document.getElementById(place.slice(1)), inside = () => !!e && e.contains(document.activeElement);
    for (let tried = 0; tried < 40 && !inside(); tried++) await new Promise((done) => setTimeout(done, 25));
    out.push(inside()); }
  return out; }"""


@pytest.mark.parametrize("everywhere", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["daily", "everywhere"])
@pytest.mark.parametrize("name", FORMS)
def test_a_form_sent_wrong_says_what_is_wrong_where_and_keeps_what_was_typed(
    chromium: Browser, demo_here: str, name: str, everywhere: bool
) -> None:
    page = opened(chromium, demo_here, name)
    again = page.locator("main").get_by_role("link", name="Read it again", exact=True)
    if again.count():
        with page.expect_navigation():
            again.click()  # a signed step has its boxes there
    typed = spoil(page)
    # A step that is answered by a choice alone is sent wrong without it.
    assert typed or (name in BENCH_PAGES and page.locator("#reading input[type=radio]").count()), "no boxes any more"
    with page.expect_navigation():
        of_boxes = "main form:has(:is(input:not([type=hidden]), textarea)) button[type=submit]:is(.go, .do):visible"
        page.locator(of_boxes).first.click()
    found = state(page)
    assert found["title"].startswith("Error: ") and not found["title"].startswith("Error: Error")
    if name in BENCH_PAGES:
        said_once(page)
        page.context.close()
        return
    assert page.inner_text("#faults h2") == "This needs mending"
    assert found["focus"] == "faults"
    assert found["links"], page.inner_text("#faults")
    for words, place, there, at_the_box in found["links"]:
        if place == "#main":
            continue  # said of the form as a whole
        assert there, f"{words}: no box {place}"
        assert words in at_the_box, (words, at_the_box)
    leading = list(dict.fromkeys(place for _, place, _, _ in found["links"] if place != "#main"))[:4]
    led = dict(zip(leading, page.evaluate(LED, leading), strict=True))
    assert all(led.values()), f"links that do not lead into the box: {led}"
    if leading:  # by a hand too, not by a script alone
        page.locator(f'#faults a[href="{leading[0]}"]').first.click()
        assert page.evaluate("(id) => document.getElementById(id).contains(document.activeElement)", leading[0][1:])
    kept = page.evaluate(
        "(names) => Object.fromEntries(names.map((n) => [n, document.getElementsByName(n)[0]?.value]))", list(typed)
    )
    assert kept == typed
    said = page.inner_text("body")
    assert FORBIDDEN.findall(said) == []
    for size in rules.WIDTHS if everywhere else rules.DAILY:
        rules.resize(page, size)
        if everywhere or (name in CHECKED and size == rules.WIDTHS[0]):
            assert rules.checked(page, rules.SHAPES) == [], (name, size)
        small, faint, over = rules.together(
            page, (rules.SMALL, [rules.DESK_PX]), (rules.WORDS, rules.COLOURS), (rules.SIDEWAYS, [])
        )
        assert (small, faint) == ([], []) and over <= 0, (name, size, small, faint, over)
    page.context.close()
