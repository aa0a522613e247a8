"""Every page in a real browser, complete against the list of addresses: rules of look.md B7 that a machine can measure.

Rows 1 (checker), 2 and 3 (contrast), 4 to 7 (targets, text), 8 (focus), 10 (reflow, zoom), 12 (one main button), 17 (words), 18 (no
`type=number`), 19 (units); and of the content policy: no fault of a script, nothing from elsewhere, no style attribute.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page, sync_playwright

from web import addresses
from web.browser import words
from web.served import launch, served, signed_in

pytestmark = pytest.mark.browser
AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
    "rules": {"color-contrast-enhanced": {"enabled": True}},  # 7:1, row 2
}
WIDTHS = ((1180, 820), (820, 1180), (390, 844))
NO_PAGE = {  # addresses that show no page of their own, and why
    "sign-out": "takes a form and leads to the sign-in page",
    "understood": "answers what was understood of a box, a line",
    "steps-standing": "JSON for the step page",
    "steps-go-on": "takes a form", "steps-stop": "takes a form", "steps-variant": "takes a form",
    "instrument-away": "takes a form",
    "job-new-draft": "takes what is typed", "readings-draft": "takes what is typed",
    "step-draft": "takes what is typed", "step-round-draft": "takes what is typed",
    "sheet": "a PDF, read back in tests/documents", "job-tag-pdf": "a PDF, read back in tests/documents",
    "job-tag-png": "a picture", "photo": "a picture",
    "bench-file-out": "a bench file",
    "step-round": "leads to the step that comes next",
}  # fmt: skip
BENCH_PAGES = {"steps", "step"}
# Further states of pages: an address of the demo, and what is done to it before it is looked at.
STATES = {
    "blocked": "/jobs/209/steps/",
    "nobody there": "/jobs/99999/",
    "unknown address": "/nothing/here/",
    "no procedure": "/jobs/212/steps/",
    "as left": "/jobs/213/readings/as-left/",
    "hand-over ready": "/jobs/210/hand-over/",
}


@dataclass
class Looked:
    """A page with what went wrong while it was loaded."""

    page: Page
    faults: list[str]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as play:
        browser = launch(play)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One served copy of the demo for the whole room: looking changes nothing (tests/web/test_gate.py)."""
    import shutil

    from django.db import connection
    from django.test.utils import override_settings

    from web.conftest import use_file

    path = tmp_path_factory.mktemp("looked") / "demo.sqlite3"
    connection.close()
    shutil.copyfile(demo_file, path)
    use_file(path)
    with override_settings(PHOTOS=demo_file.parent / "photos"), served() as address:
        yield address
    connection.close()


def look(browser: Browser, here: str, path: str, size: tuple[int, int] = (1180, 820), **options: Any) -> Looked:
    """Open a page as the owner; console errors, page errors and requests elsewhere are kept."""
    owner = User.objects.order_by("pk").filter(is_staff=True).first()
    assert owner is not None
    context = signed_in(
        browser, here, owner, viewport={"width": size[0], "height": size[1]}, bypass_csp=False, **options
    )
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" and "status of 4" not in m.text else None)
    page.on("request", lambda r: faults.append(r.url) if not r.url.startswith((here, "data:", "about:")) else None)
    page.goto(here + path, wait_until="load")
    return Looked(page, faults)


PAGES = [name for name in addresses.names() if name not in NO_PAGE]


def path_of(name: str) -> str:
    if name in STATES:
        return STATES[name]
    return dict(addresses.all_addresses())[name]


def sideways(page: Page) -> int:
    return int(page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def test_the_exceptions_are_addresses_and_show_no_page() -> None:
    assert set(NO_PAGE) <= set(addresses.names())
    assert all(len(reason) > 8 for reason in NO_PAGE.values())


SMALL = """([least, gap]) => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
  .filter(e => e.offsetParent !== null && getComputedStyle(e).visibility !== 'hidden')
  .map(e => { const w = e.closest('label') && e.type && /radio|checkbox|file/.test(e.type) ? e.closest('label') : e;
              const r = w.getBoundingClientRect();
              return [e.tagName + ' ' + (e.innerText || e.name || e.id || '').slice(0, 30), r.width, r.height,
                      e.tagName === 'A' && getComputedStyle(e).display === 'inline' && e.closest('p, li, td, h1, h2, .note') !== null] })
  .filter(([n, w, h, inline]) => w > 2 && h > 2 && !inline && (w < least - 0.5 || h < least - 0.5))"""


TEXT = """() => { const out = []; const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) { const e = walk.currentNode.parentElement; const t = walk.currentNode.data.trim();
    if (!t || !e.offsetParent && e.ownerSVGElement === undefined || e.closest('.for-eyes-off, script, style, title, desc, option, .tag')) continue;
    const r = e.getBoundingClientRect(); if (r.width < 2) continue;
    let size = parseFloat(getComputedStyle(e).fontSize);
    const svg = e.ownerSVGElement; if (svg && svg.viewBox.baseVal.width) size *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    out.push([Math.round(size * 10) / 10, t.slice(0, 30)]); }
  return out; }"""


def checked(page: Page) -> list[Any]:
    """What the checker finds: rule and places."""
    found = Axe().run(page, options=AXE).response
    return [(v["id"], [n["target"] for n in v["nodes"]][:4]) for v in found["violations"]]


@pytest.mark.parametrize("name", [*PAGES, *STATES])
def test_a_page_keeps_every_rule_a_machine_can_measure(chromium: Browser, here: str, name: str) -> None:
    """Loaded once; then at three widths, in the dark, and at 320 px. All that is wrong is said at once."""
    looked = look(chromium, here, path_of(name))
    page, wrong = looked.page, []
    bench_page = name in BENCH_PAGES or name == "blocked"
    for size in WIDTHS:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.wait_for_timeout(60)
        wrong += [(size[0], "checker", *found) for found in checked(page)]
        if sideways(page) > 0:
            wrong.append((size[0], "scrolls sideways", sideways(page)))
        if size[0] != 820:
            wrong += [(size[0], "small target", *small) for small in page.evaluate(SMALL, [44, 8])]
        if size[0] == 1180:
            least = 20 if bench_page else 18
            wrong += [("small text", *entry) for entry in page.evaluate(TEXT) if entry[0] < least - 0.05]
    page.set_viewport_size({"width": 1180, "height": 820})
    page.emulate_media(color_scheme="dark")
    wrong += [("dark", "checker", *found) for found in checked(page)]
    page.set_viewport_size({"width": 320, "height": 800})
    page.wait_for_timeout(60)
    if sideways(page) > 0:
        wrong.append((320, "scrolls sideways", sideways(page)))
    main_buttons = page.locator(".go:visible").count()
    if main_buttons > 1 or (bench_page and main_buttons != 1):
        wrong.append(("main buttons", main_buttons))
    wrong += [("words", *found) for found in words.findings(page.inner_text("body"))]
    if page.locator("[style]").count():
        wrong.append(("style attributes", page.locator("[style]").count()))
    if page.locator("input[type=number]").count():
        wrong.append(("type=number",))
    page.context.close()
    assert wrong + looked.faults == []


@pytest.mark.parametrize("name", ["steps", "step", "blocked"])
def test_bench_pages_have_controls_of_72_and_keys_of_118_pixels(chromium: Browser, here: str, name: str) -> None:
    page = look(chromium, here, path_of(name)).page
    controls = page.evaluate(SMALL, [72, 8])
    assert [c for c in controls if not c[0].startswith("A ")] == []
    keys = page.locator(".keys button")
    for n in range(keys.count()):
        box = keys.nth(n).bounding_box()
        assert box is not None and box["width"] >= 117.5 and box["height"] >= 117.5
    page.context.close()


def test_the_glance_layer_is_legible_at_a_metre(chromium: Browser, here: str) -> None:
    """20 minutes of arc at 1 m on a screen of 132 px an inch: a font of at least 43 px; the look asks for 50."""
    page = look(chromium, here, path_of("steps")).page
    for selector in (".eye h1", ".want .v", ".display input"):
        place = page.locator(selector).first
        assert place.count() and float(place.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 50, selector
    page.context.close()


@pytest.mark.parametrize("name", ["bench", "job", "plan", "job-new", "readings", "steps", "book", "unit-change"])
def test_focus_is_seen_wherever_tab_leads(chromium: Browser, here: str, name: str) -> None:
    """A ring of at least 2 px round what has the focus, and the thing itself in view."""
    page = look(chromium, here, path_of(name)).page
    seen = set()
    for _ in range(25):
        page.keyboard.press("Tab")
        state = page.evaluate("""() => { const e = document.activeElement; if (!e || e === document.body) return null;
            const holders = [e, e.parentElement, e.nextElementSibling, e.closest('label, .box, .field, .display')].filter(Boolean);
            const ring = Math.max(...holders.map(h => { const s = getComputedStyle(h); return s.outlineStyle === 'none' ? 0 : parseFloat(s.outlineWidth) }));
            const r = e.getBoundingClientRect();
            return [e.tagName + (e.id || e.name || e.innerText || '').slice(0, 20), ring, r.bottom > 0 && r.top < innerHeight, /date|time/.test(e.type || '')] }""")
        if state is None:
            break
        seen.add(state[0])
        if not state[3]:  # inside a date or time the browser rings its own parts, which no style of ours can see
            assert state[1] >= 2, f"{name}: no ring round {state[0]}"
        assert state[2], f"{name}: {state[0]} has the focus out of sight"
    assert len(seen) >= 4
    page.context.close()


@pytest.mark.parametrize("name", ["bench", "job", "plan", "steps", "book", "readings"])
def test_text_twice_as_large_loses_nothing(chromium: Browser, here: str, name: str) -> None:
    """200 % zoom of a 1180 px page is one of 590 px (WCAG 1.4.4, 1.4.10)."""
    page = look(chromium, here, path_of(name), (590, 410), device_scale_factor=2).page
    assert sideways(page) <= 0
    page.context.close()


def test_the_unit_stands_in_the_label_and_beside_the_box(chromium: Browser, here: str) -> None:
    for name in ("plan", "readings"):
        page = look(chromium, here, path_of(name)).page
        bare = page.evaluate("""() => [...document.querySelectorAll('input[inputmode=decimal]')].filter(e => {
            const unit = e.parentElement.querySelector('span'); const label = document.querySelector(`label[for="${e.id}"]`);
            return unit && unit.innerText && !(label && label.innerText.includes(unit.innerText)) && !/of \\d/.test(unit.innerText) }).map(e => e.name)""")
        assert bare == [], name
        page.context.close()
