"""Every page in a real browser, at tablet and phone size, light and dark; in the soak at every width: what a machine can measure of look.md B7.

The table of pages and states is tests/web/browser/looks.py, complete against the list of addresses; the rules are
tests/web/browser/rules.py. Here are the entries of the demo workshop, and rows 5 to 8, which need a page of their own. Also, of
the content policy: no fault of a script, nothing from elsewhere, no style attribute. Which row is measured where: docs/accessibility.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page

from topout.web.workshop import health
from web import addresses
from web.browser import rules
from web.browser.looks import DEMO, NO_PAGE, OWN, STATES_ASKED, Look
from web.served import served, signed_in

pytestmark = pytest.mark.browser


# What was looked at last is not laid out again; what its scripts say of that, they say within two frames, to nobody.
EMPTIED = "() => new Promise((done) => { document.body.replaceChildren(); requestAnimationFrame(() => requestAnimationFrame(done)); })"


@dataclass
class Eyes:
    """Browsers of the owner, a technician and nobody, each with one tab for the whole room: every look is a page load."""

    browser: Browser
    here: str
    contexts: dict[str, BrowserContext] = field(default_factory=dict)
    tabs: dict[str, Page] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)  # errors of scripts and of the policy: of the last look

    def context(self, who: str) -> BrowserContext:
        if who not in self.contexts:
            size = {"viewport": {"width": 1180, "height": 820}}
            if who == "nobody":
                self.contexts[who] = self.browser.new_context(**size)  # type: ignore[arg-type]
            else:
                user = User.objects.filter(is_staff=who == "owner").order_by("pk").first()
                assert user is not None
                self.contexts[who] = signed_in(self.browser, self.here, user, **size)
        return self.contexts[who]

    def open(self, look: Look) -> Page:
        """A page of the table, light, at tablet size."""
        if look.who not in self.tabs:
            tab = self.tabs[look.who] = self.context(look.who).new_page()
            tab.on("pageerror", lambda error: self.said.append(str(error)))
            tab.on("console", self._console)
        page = self.tabs[look.who]
        page.evaluate(EMPTIED)
        page.set_viewport_size({"width": 1180, "height": 820})
        page.emulate_media(color_scheme="light")
        self.said.clear()
        answer = page.goto(self.here + (look.path or addresses.address_of(look.page)), wait_until="load")
        assert answer is not None and answer.status == look.status, (look, answer and answer.status)
        return page

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error" and "status of" not in message.text:
            self.said.append(message.text)

    def heard(self, page: Page) -> list[str]:
        """Errors of scripts and of the policy, and what was fetched from elsewhere, since the page was opened."""
        fetched = page.evaluate("performance.getEntriesByType('resource').map((each) => each.name)")
        assert fetched, "every page has its styles"
        return self.said + [url for url in fetched if not url.startswith((self.here, "data:", "about:"))]


@pytest.fixture(scope="module")
def eyes(chromium: Browser, demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Eyes]:
    """One served copy of the demo for the whole room: looking changes nothing (tests/web/test_gate.py)."""
    import shutil

    from django.test.utils import override_settings

    from topout.web.access.models import Workshop
    from web.shared import using_file

    path = tmp_path_factory.mktemp("looked") / "demo.sqlite3"
    shutil.copyfile(demo_file, path)
    with using_file(path), override_settings(PHOTOS=demo_file.parent / "photos"), served() as address:
        Workshop.objects.update(demo=False)  # nobody is signed in by itself
        made = Eyes(chromium, address)
        yield made
        for context in made.contexts.values():
            context.close()


def test_the_table_is_complete() -> None:
    """An address without an entry fails here, and so does a state that must be looked at."""
    assert {look.page for look in DEMO if look.state == "usual"} == set(addresses.names()) - set(NO_PAGE)
    assert set(NO_PAGE) <= set(addresses.names()) and all(len(reason) > 8 for reason in NO_PAGE.values())
    assert {look.page for look in [*DEMO, *OWN] if look.page} <= set(addresses.names())
    names = [look.name for look in [*DEMO, *OWN]]
    assert len(names) == len(set(names))
    states = {look.state for look in [*DEMO, *OWN]}
    assert [asked for asked in STATES_ASKED if not any(state.startswith(asked) for state in states)] == []
    assert rules.WIDTHS == ((1180, 820), (820, 1180), (390, 844)) and rules.NARROW[0] == 320


def test_the_rules_find_what_is_wrong(eyes: Eyes) -> None:
    """A page that breaks them all: what is measured can fail."""
    page = eyes.context("nobody").new_page()
    page.goto(f"{eyes.here}/sign-in/")
    page.evaluate(
        """() => { document.querySelector('main').innerHTML = `<div id="wrong"><div><button class="go">a</button><button class="go">b</button></div>
          <label for="n">Pressure</label><span><input id="n" name="n" inputmode="decimal"><span>psi</span></span><input type="number" aria-label="x">
          <b style="top: 0">Invalid: 7psi</b><p id="faint">faint words</p><p id="wide">wide</p><p id="cut">these words are cut off</p><button class="mid"></button><img src="/static/mark.svg"></div>`;
          const css = new CSSStyleSheet(); css.replaceSync(`#wrong button, #wrong input { all: unset; display: inline-block; width: 20px; height: 20px; border: 1px solid #eee }
            #faint { color: light-dark(#999, #555); font-size: 12px } #wide { width: 1300px } #cut { width: 60px; height: 20px; overflow: hidden; white-space: nowrap }
            #wrong .go { margin-left: -9px } #wrong .mid { display: none } @media (min-width: 700px) and (max-width: 1000px) { #wrong .mid { display: inline-block } }`);
          document.adoptedStyleSheets = [css]; }"""
    )
    at_any_time = (
        "'found', 'image-alt'", "[1180, 'faint words'", "[390, 'faint words'", "['dark', 320, 'faint words'", "scrolls sideways",
        "small target", "faint edge", "near", "small text", "'cut'", "['spaced text', 'cut'", "main buttons",
        "words", "no space before the unit", "unit not in the label", "type=number", "style attributes",
    )  # fmt: skip
    in_the_soak = (
        "[820, 'checker', 'found', 'button-name'", "'color-contrast'", "'target-size'", "[590, 'cut'", "['dark', 1180, 'found', 'color-contrast",
    )  # fmt: skip
    for everywhere, asked in ((False, at_any_time), (True, at_any_time + in_the_soak)):
        found = [str(each) for each in rules.of_a_page(page, bench_page=True, everywhere=everywhere)]
        for words in asked:
            assert any(words in each for each in found), (everywhere, words, found)
        page.emulate_media(color_scheme="light")
    page.close()


@pytest.mark.parametrize("everywhere", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["daily", "everywhere"])
@pytest.mark.parametrize("look", [pytest.param(look, id=look.name) for look in DEMO])
def test_a_page_keeps_every_rule_a_machine_can_measure(eyes: Eyes, look: Look, everywhere: bool) -> None:
    """Loaded once; then at every width, in the dark, at 320 px, at 200 %, with spaced text. All that is wrong is said at once."""
    broken = mock.patch.object(health, "facts", side_effect=RuntimeError("broken on purpose"))
    if look.state == "server error":
        with broken:
            page = eyes.open(look)
    else:
        page = eyes.open(look)
    wrong = rules.of_a_page(page, look.bench, everywhere) + eyes.heard(page)
    assert not wrong, "\n".join(map(str, wrong))


BENCH = [look for look in DEMO if look.bench]


@pytest.mark.parametrize("look", [pytest.param(look, id=look.name) for look in BENCH])
def test_bench_pages_have_controls_of_72_and_keys_of_118_pixels(eyes: Eyes, look: Look) -> None:
    page = eyes.open(look)
    controls = page.evaluate(rules.SMALL, [rules.BENCH_PX])
    assert [c for c in controls if not c[0].startswith("A ")] == []
    keys = page.locator(".keys button").evaluate_all(
        "(all) => all.map((e) => e.getBoundingClientRect()).map((r) => [r.width, r.height])"
    )
    assert all(width >= 117.5 and height >= 117.5 for width, height in keys), keys


def test_what_was_read_at_a_row_is_not_cut(eyes: Eyes) -> None:
    """Two lengths in a row's box took three lines, and the box had room for two."""
    page = eyes.open(next(look for look in DEMO if look.page == "step-list"))
    for width in (1180, 820, 390):
        page.set_viewport_size({"width": width, "height": 900})
        boxes = page.locator(".put").evaluate_all(
            """(all) => all.map((e) => { const r = document.createRange(); r.selectNodeContents(e);
                 return [e.textContent, r.getBoundingClientRect().height, e.getBoundingClientRect().height] })"""
        )
        assert boxes
        for said, high, room in boxes:
            assert high <= room, (width, said, high, room)


CAP = """(e) => { const s = getComputedStyle(e), pen = document.createElement('canvas').getContext('2d');
  pen.font = `${s.fontWeight} ${s.fontSize} ${s.fontFamily}`; return [parseFloat(s.fontSize), pen.measureText('H').actualBoundingBoxAscent]; }"""


def minutes_of_arc(cap_px: float, px_per_inch: float, distance_m: float) -> float:
    """The angle of a capital letter, in minutes."""
    return math.degrees(math.atan(cap_px / px_per_inch * 0.0254 / distance_m)) * 60


TABLES = ("/instruments/", "/shelf/", "/accounts/", "/jobs/214/", "/jobs/210/hand-over/")
HEADS = ("/jobs/214/", "/jobs/214/plan/", "/jobs/210/hand-over/")


@pytest.mark.parametrize("address", dict.fromkeys(TABLES + HEADS))
def test_a_tablet_that_stands_has_room_for_tables_and_the_running_head(eyes: Eyes, address: str) -> None:
    """The list of instruments ran past the page's edge by as much as its last button's frame; “saved 15:50 by …” pushed
    “Sign out” into a row of its own, above the find box."""
    page = eyes.context("owner").new_page()
    page.set_viewport_size({"width": 820, "height": 1180})
    page.goto(f"{eyes.here}{address}")
    past, (name, state, out) = page.evaluate(
        """() => [[...document.querySelectorAll('.out table')].map((e) => e.getBoundingClientRect().right - e.closest('.out').getBoundingClientRect().right),
          ['.head .mark', '.head .state', '.head .out-door'].map((each) => document.querySelector(each).getBoundingClientRect().toJSON())]"""
    )
    page.close()
    if address in TABLES:
        assert past and max(past) <= 1, past
    if address in HEADS:
        assert name["width"] and state["width"] and out["width"] and abs(out["y"] - name["y"]) < 4, (name, out)
        assert state["x"] + state["width"] <= out["x"]


def test_a_force_of_four_figures_stands_beside_its_unit_on_a_phone(eyes: Eyes) -> None:
    """“4 100” over a lone “N”: what a shock's can is thrown off with."""
    page = eyes.context("owner").new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{eyes.here}/jobs/209/steps/")
    high = page.locator(".danger dd:not(.as)").evaluate_all(
        """(all) => all.map((e) => { e.querySelector('b').textContent = '4\u202f100'; return [e.getBoundingClientRect().height, e.querySelector('b').getBoundingClientRect().height] })"""
    )
    page.close()
    assert len(high) == 2 and all(row < 1.5 * number for row, number in high), high


def test_what_is_not_known_is_read_as_one_sentence(eyes: Eyes) -> None:
    """Each link of the list stood in a row of its own, with “, the bike’s weight,” in the next."""
    page = eyes.open(Look("plan", "not looked at", "/jobs/214/plan/"))
    inline = page.locator(".warn").first.evaluate(
        """(e) => { e.innerHTML = '<p class="gaps lacks">Not known: <a href="#">one</a>, <a href="#">two</a>.</p>';
          return [...e.querySelectorAll('a')].map((a) => getComputedStyle(a).display) }"""
    )
    assert inline == ["inline", "inline"]


def test_the_glance_layer_is_legible_at_a_metre(eyes: Eyes) -> None:
    """Capitals of at least 20 minutes of arc at 1 m on a screen of 149 px an inch (and so of 132); the look asks for 50 px."""
    page = eyes.open(Look("step", "read again", "/jobs/214/steps/old-shaft-measured/?again=1"))
    for selector in (".eye h1", ".want .v", ".display input"):
        place = page.locator(selector).first
        assert place.count()
        size, cap = place.evaluate(CAP)
        assert size >= 50 and minutes_of_arc(cap, 149, 1.0) >= 20, (selector, size, cap)


@pytest.mark.parametrize(("name", "least"), [("steps", 20.0), ("job", 16.0), ("plan", 16.0), ("readings", 16.0)])
def test_reading_text_is_legible_at_half_a_metre(eyes: Eyes, name: str, least: float) -> None:
    """20 minutes of arc at the bench, nothing under 16 anywhere: on 132 px an inch, the tablet the look is made for."""
    page = eyes.open(Look(name))
    smallest = min(entry[0] for entry in page.evaluate(rules.TEXT) if entry[2])
    share = page.evaluate(
        "() => { const pen = document.createElement('canvas').getContext('2d'); pen.font = '100px ' + getComputedStyle(document.body).fontFamily; return pen.measureText('H').actualBoundingBoxAscent / 100 }"
    )
    assert minutes_of_arc(smallest * share, 132, 0.5) >= least, (smallest, share)


FOCUS = """() => { const e = document.activeElement; if (!e || e === document.body) return null; (window.ledTo ||= []).push(e);
  const nums = (c) => c.match(/[\\d.]+/g).map(Number), lum = (c) => { const [r, g, b] = nums(c).map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ground = (n) => { for (; n; n = n.parentElement) { const c = getComputedStyle(n).backgroundColor, a = nums(c); if (a.length < 4 || a[3] === 1) return c; } return 'rgb(255, 255, 255)'; };
  const holders = [e, e.parentElement, e.nextElementSibling, e.closest('label, .box, .field, .display')].filter(Boolean);
  let ring = 0, contrast = 0;
  for (const h of holders) { const s = getComputedStyle(h); if (s.outlineStyle === 'none' || parseFloat(s.outlineWidth) < 2) continue;
    const [x, y] = [lum(s.outlineColor), lum(ground(h.parentElement))].sort((p, q) => q - p); ring = Math.max(ring, parseFloat(s.outlineWidth)); contrast = Math.max(contrast, (x + 0.05) / (y + 0.05)); }
  const r = e.getBoundingClientRect(), at = document.elementFromPoint(Math.max(1, Math.min(innerWidth - 2, r.left + r.width / 2)), Math.max(1, Math.min(innerHeight - 2, r.top + Math.min(r.height, 40) / 2)));
  const covered = at && !(e.contains(at) || at.contains(e) || holders.some((h) => h.contains(at)));
  return [e.tagName + (e.id || e.name || e.innerText || '').slice(0, 20), ring, Math.round(contrast * 100) / 100, r.bottom > 0 && r.top < innerHeight && !covered, /date|time/.test(e.type || '')]; }"""


# What Tab led to, focused anew in the same order: for the other theme.
REACHED = f"""() => window.ledTo.splice(0).map((e) => {{ e.focus({{ focusVisible: true }}); return ({FOCUS})(); }})"""


@pytest.mark.parametrize("name", ["bench", "job", "plan", "job-new", "readings", "steps", "book", "unit-change"])
def test_focus_is_seen_wherever_tab_leads(eyes: Eyes, name: str) -> None:
    """A ring of at least 2 px and 3:1 round what has the focus, and the thing itself in view with nothing over it; light and dark."""
    page = eyes.open(Look(name))
    light = []
    for _ in range(25):
        page.keyboard.press("Tab")
        state = page.evaluate(FOCUS)
        if state is None:
            break
        light.append(state)
    page.emulate_media(color_scheme="dark")
    page.evaluate("() => { document.activeElement.blur(); scrollTo(0, 0); }")
    dark = page.evaluate(REACHED)
    assert [state[0] for state in dark] == [state[0] for state in light]
    for scheme, states in (("light", light), ("dark", dark)):
        for what, ring, contrast, in_view, of_the_browser in states:
            if (
                not of_the_browser
            ):  # inside a date or time the browser rings its own parts, which no style of ours can see
                assert ring >= 2, f"{name}, {scheme}: no ring round {what}"
                assert contrast >= 3, f"{name}, {scheme}: the ring round {what} has {contrast}:1"
            assert in_view, f"{name}, {scheme}: {what} has the focus out of sight"
    assert len({state[0] for state in light}) >= 4


def test_on_a_phone_the_answer_stands_on_the_first_screen(eyes: Eyes) -> None:
    """Dangers first, then what to set; what was taken for granted closes it."""
    page = eyes.open(Look("plan"))
    rules.sized(page, rules.WIDTHS[2])
    tops = page.evaluate(
        "() => ['#warnings', '#answer b', '#gaps p', '.set .go'].map((each) => document.querySelector(each).getBoundingClientRect().top)"
    )
    danger, answer, taken, button = tops
    assert danger < answer < taken and answer < button - 60, tops


def test_on_a_tablet_that_stands_the_answer_is_right_below_the_main_button(eyes: Eyes) -> None:
    """It stood below everything that could be set besides, off the first screen; above the boxes it would move their keys."""
    page = eyes.open(Look("plan"))
    rules.sized(page, rules.WIDTHS[1])
    boxes = [
        page.locator(each).bounding_box()
        for each in ("#warnings", "#tyre", ".set .go", "#answer", ".set .more >> nth=0")
    ]
    danger, tyre, button, answer, more = (box["y"] for box in boxes if box)
    assert danger < tyre < button < answer < more and answer + 120 < rules.WIDTHS[1][1], boxes
