"""The plan page in a real browser: moves, focus, bad input, no script, every width, both themes. The checker: test_every_page_browser.py."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.jobs.records.models import Draft, FrozenPlan, Job
from web import people
from web.browser.journey import replaced
from web.browser.waits import kept, loads
from web.plan_cast import hollin_job
from web.served import SIZES, served, signed_in

pytestmark = pytest.mark.browser
QUERY = "?travel=150&pressure=70&spacers=1&offset=44&bead=622&tyre=62"

ASK_FOR_74 = """() => {
  document.getElementById("pressure").value = "74";
  document.getElementById("set").dispatchEvent(new Event("step"));
}"""


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.owner, fork={"overtravel": "0 mm"})  # nothing speaks against its plan


@pytest.fixture
def address(job: Job) -> Iterator[str]:
    with served() as here:
        yield f"{here}/jobs/{job.number}/plan/"


def open_page(chromium: Browser, address: str, cast: people.Cast, query: str = QUERY, **options: object) -> Page:
    """The page, with every fault of its scripts and of the content policy collected in `page.faults`."""
    options = {"viewport": {"width": 1180, "height": 820}, **options}
    page = signed_in(chromium, address.partition("/jobs")[0], cast.technician, **options).new_page()
    faults: list[str] = []
    page.faults = faults  # type: ignore[attr-defined]
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "console", lambda said: faults.append(said.text) if said.type == "error" and not replaced(said.text) else None
    )
    page.goto(address + query)
    return page


def answered(page: Page, act: object) -> None:
    """Do something and wait for the whole answer to be on the page."""
    page.evaluate(
        """() => { window.got = new Promise((done, fail) => {
          document.addEventListener('topout:answered', done, {once: true});
          setTimeout(() => fail(new Error("no answer in ten seconds")), 10000);
        }); }"""
    )
    act()  # type: ignore[operator]
    page.evaluate("async () => { await window.got; }")
    whole(page)


def whole(page: Page) -> None:
    """Wait until nothing is asked any more and the parts further down stand too."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    page.wait_for_selector("#set:not([data-asking])")


def test_a_stepper_moves_its_box_and_keeps_the_focus(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    more = page.get_by_role("button", name="Pressure, 1 psi more")
    answered(page, more.click)
    assert page.input_value("#pressure") == "71"
    assert "Set 71 psi" in page.inner_text("#answer").replace("\u00a0", " ")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Pressure, 1 psi more"
    page.wait_for_url("**pressure=71**")
    assert "csrf" not in page.url and "change_key" not in page.url
    answered(page, lambda: page.keyboard.press("Enter"))
    assert page.input_value("#pressure") == "72"
    answered(page, page.get_by_role("button", name="Travel, 10 mm less").click)
    assert page.inner_text("#planname").replace("\u00a0", " ") == "140 mm, as now"
    assert page.faults == []  # type: ignore[attr-defined]
    page.context.close()


def test_a_move_only_looks_whichever_button_has_the_focus(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    page.get_by_role("button", name="Use this plan").focus()
    with page.expect_request(lambda asked: "pressure=74" in asked.url) as asked:
        answered(page, lambda: page.evaluate(ASK_FOR_74))
    assert asked.value.method == "GET" and "csrf" not in asked.value.url
    assert not FrozenPlan.objects.exists()
    assert page.faults == []  # type: ignore[attr-defined]
    page.context.close()


def test_fast_clicks_all_count_and_the_last_answer_stands(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    more = page.get_by_role("button", name="Pressure, 1 psi more")
    for _ in range(12):
        more.click(no_wait_after=True)
    # `wait_for_function` is eval, which the page's policy refuses.
    expect(page.locator("#answer")).to_contain_text("Set 82")
    page.wait_for_timeout(400)  # no older answer comes after it
    assert "Set 82" in page.inner_text("#answer") and page.input_value("#pressure") == "82"
    page.context.close()


def test_a_unit_typed_into_the_box_stays(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    answered(page, lambda: page.fill("#pressure", "4.9 bar"))
    assert page.inner_text("#pressure-echo").replace("\u00a0", " ") == "4.9 bar · 71.1 psi"
    answered(page, page.get_by_role("button", name="Pressure, 1 psi more").click)
    assert page.input_value("#pressure") == "5.0 bar"
    answered(page, page.locator("#take-sag").click)
    assert page.input_value("#pressure") == "5.06 bar"
    page.context.close()


def test_enter_in_a_box_asks_and_does_not_use_the_plan(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    page.focus("#travel")

    def type_and_enter() -> None:
        page.fill("#travel", "160")
        page.keyboard.press("Enter")

    answered(page, type_and_enter)
    assert "140 → 160" in page.inner_text("#planname")
    assert not FrozenPlan.objects.exists()
    page.context.close()


def test_bad_input_stays_is_named_and_the_answer_is_called_old(
    chromium: Browser, address: str, cast: people.Cast
) -> None:
    page = open_page(chromium, address, cast)
    answered(page, lambda: page.fill("#pressure", "7o"))
    assert page.input_value("#pressure") == "7o"
    assert page.get_attribute("#pressure", "aria-invalid") == "true"
    assert page.evaluate("document.activeElement.id") == "pressure"
    fault = page.inner_text("#pressure-fault")
    assert fault and fault in page.inner_text("#faults-place")
    assert "last answer that could be worked out" in page.inner_text("#answer")
    assert page.title().startswith("Error: ")
    answered(page, lambda: page.fill("#pressure", "70"))
    assert page.inner_text("#pressure-fault") == "" and page.get_attribute("#pressure", "aria-invalid") is None
    assert not page.title().startswith("Error")
    page.context.close()


def test_the_picture_is_drawn_for_the_width(chromium: Browser, address: str, cast: people.Cast) -> None:
    """Redrawn, never scaled: one CSS pixel is one unit of the drawing at every width, turned or not."""
    page = open_page(chromium, address, cast)
    for width in (1180, 820, 600, 390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        whole(page)
        scale = page.evaluate(
            "() => { const f = [...document.querySelectorAll('#force svg')].find((s) => s.getBoundingClientRect().width > 0);"
            " return f.getBoundingClientRect().width / f.viewBox.baseVal.width; }"
        )
        assert scale == pytest.approx(1, abs=0.005), width
        sideways = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert sideways <= 0, width
        least = page.evaluate(
            "() => Math.min(...[...document.querySelectorAll('#rest svg text')].filter((t) => t.getBoundingClientRect().width > 1)"
            ".map((t) => parseFloat(getComputedStyle(t).fontSize)))"
        )
        assert least >= (20 if width > 620 else 18), width
    page.context.close()


def test_every_part_is_the_new_answer_and_what_was_opened_and_focused_stays(
    chromium: Browser, address: str, cast: people.Cast
) -> None:
    """What the screen shows is put in first, the rest after it; in the end all parts say the same, as a page loaded anew."""
    page = open_page(chromium, address, cast)
    other = page.context.new_page()
    page.bring_to_front()
    whole(page)
    says = "() => [...document.getElementById('rest').children].map((part) => part.textContent)"
    for top in (0, 100000, 1300):
        page.evaluate("(top) => scrollTo(0, top)", top)
        page.locator("#values").evaluate("(one) => one.toggleAttribute('open', true)")
        answered(page, lambda: page.click('button[data-box="pressure"][data-sign="1"]'))
        page.wait_for_url(f"**pressure={page.input_value('#pressure')}&*")
        found = page.evaluate(says)
        assert page.locator("#values").get_attribute("open") is not None
        other.goto(page.url)
        answered(other, lambda: other.evaluate("document.getElementById('set').dispatchEvent(new Event('step'))"))
        assert found == other.evaluate(says) and len(found) == 4 and all(found)
    page.focus("#take-sag")
    answered(page, lambda: page.keyboard.press("Enter"))
    assert page.evaluate("document.activeElement.id") == "take-sag"
    assert page.inner_text("#take-sag").startswith(page.input_value("#pressure") + " is set")
    assert page.faults == []  # type: ignore[attr-defined]
    page.context.close()


def test_what_is_set_is_there_again_without_the_address(chromium: Browser, address: str, cast: people.Cast) -> None:
    """A press and a word typed, kept after their answer; another device opens the page without the address's query."""
    page = open_page(chromium, address, cast, query="")
    page.click(".more > summary")
    with kept(page, "36") as answer:
        page.click('button[data-box="pressure"][data-sign="1"]')
        page.fill("#air_bore", "36")
    assert answer.value.status == 200
    expect(page.locator("[data-draft-says]")).to_contain_text("not used yet")
    assert Draft.objects.get().fields["air_bore"] == "36"
    other = open_page(chromium, address, cast, query="")
    assert other.input_value("#air_bore") == "36" and other.input_value("#pressure") == "73"
    assert "stands in the boxes" in other.inner_text(".planname") and other.is_visible("#air_bore")
    whole(other)  # a part still asked for when the page goes would be told as a fault
    with loads(other):
        other.click("text=Set the boxes back")
    assert other.input_value("#pressure") == "72" and not Draft.objects.exists()
    assert page.faults == other.faults == []  # type: ignore[attr-defined]


def test_without_a_script_it_is_a_plain_form(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast, java_script_enabled=False)
    assert page.locator("button[data-box]:visible").count() == 0
    page.fill("#pressure", "73")
    page.get_by_role("button", name="Work it out").click()
    assert "Set 73 psi" in page.inner_text("#answer").replace("\u00a0", " ")
    page.fill("#pressure", "90")
    page.get_by_role("button", name="Use this plan").click()
    assert "The boxes were changed" in page.inner_text("#faults-place") and not FrozenPlan.objects.exists()
    page.get_by_role("link", name="Set 68").click()
    page.get_by_role("button", name="Use this plan").click()
    assert FrozenPlan.objects.get().sentence.startswith("Set 68")
    page.context.close()


def test_use_this_plan(chromium: Browser, address: str, cast: people.Cast) -> None:
    page = open_page(chromium, address, cast)
    answered(page, page.locator("#take-curve").click)
    page.get_by_role("button", name="Use this plan").click()
    page.wait_for_url("**/jobs/*/")
    assert FrozenPlan.objects.get().sentence.startswith("Set 76")
    page.context.close()


def test_keyboard_alone(chromium: Browser, address: str, cast: people.Cast) -> None:
    """Every control is reached by Tab in the order of the page, and the ring is never hidden."""
    page = open_page(chromium, address, cast)
    reached = []
    for _ in range(45):
        page.keyboard.press("Tab")
        name, box = page.evaluate(
            "() => { const e = document.activeElement, r = e.getBoundingClientRect();"
            " return [e.getAttribute('aria-label') || e.name || e.textContent.trim().slice(0, 30), [r.top, r.bottom, innerHeight, getComputedStyle(e).outlineStyle]]; }"
        )
        reached.append(name)
        assert box[1] > 0 and box[0] < box[2], name
    for name in ("Skip to the page", "Travel, 10 mm less", "travel", "Travel, 10 mm more", "bead", "Use this plan"):
        assert name in reached, (name, reached)
    assert reached.index("Travel, 10 mm less") < reached.index("travel") < reached.index("Use this plan")
    page.context.close()


def test_targets_are_large_and_the_box_in_hand_is_never_under_the_main_button(
    chromium: Browser, address: str, cast: people.Cast
) -> None:
    """look.md: controls at least 48 px away from the bench pages; a word in a sentence counts by its line. WCAG 2.4.11: "Use this plan" stays
    in sight over the boxes; the one that Tab comes to is scrolled out from under it."""
    page = open_page(chromium, address, cast)
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        whole(page)
        small = page.evaluate(
            "() => [...document.querySelectorAll('a, button, input, summary')].filter((e) => !e.matches('.skip') && e.type !== 'hidden'"
            " && !(e.matches('p.note a') && getComputedStyle(e).display === 'inline'))"
            ".map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()]).filter(([, r]) => r.width > 0 && (r.width < 44 || r.height < 47.5)).map(([h, r]) => [h, r.width, r.height])"
        )
        assert small == [], size
        page.locator("main h1").click()
        if (
            size == "tablet"
        ):  # all six boxes: the last lay behind the button, and nothing showed that the column scrolls
            tyre, button = page.locator("#tyre").bounding_box(), page.locator(".set .go").bounding_box()
            assert tyre and button and tyre["y"] + tyre["height"] <= button["y"], (tyre, button)
        covered, seen = [], 0
        for _ in range(40):
            page.keyboard.press("Tab")
            name, free = page.evaluate(
                "() => { const e = document.activeElement, w = e.closest('label') || e, r = w.getBoundingClientRect(), top = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);"
                " return [e.closest('form.set') && e.type !== 'submit' ? e.name || e.ariaLabel || e.textContent : '', w.contains(top) || !!top && top.contains(w)]; }"
            )
            seen += bool(name)
            if name and not free:
                covered.append(name)
        assert seen >= 6 and covered == [], size
    page.context.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_pictures_have_the_inks_of_their_classes(
    chromium: Browser, address: str, cast: people.Cast, theme: str
) -> None:
    """No rule of another page reaches into a picture: words are not stroked, before is soft, after is carbon, lines keep their dash."""
    page = open_page(chromium, address, cast, color_scheme=theme)
    whole(page)
    tokens = page.evaluate(
        "() => { const probe = document.createElement('p'); document.body.append(probe); const found = {};"
        " for (const name of ['ink', 'soft', 'carbon']) { probe.className = ''; found[name] = getComputedStyle(document.documentElement).getPropertyValue('--' + name).trim(); } probe.remove(); return found; }"
    )
    found = page.evaluate(
        "() => [...document.querySelectorAll('#rest svg text, #rest svg .slow, #rest svg .fast')].filter((e) => e.closest('svg').getBoundingClientRect().width > 0)"
        ".map((e) => { const c = getComputedStyle(e); return [e.tagName, e.getAttribute('class'), c.fill, c.stroke, c.strokeDasharray, c.strokeWidth]; })"
    )
    colour = {
        name: "rgb({}, {}, {})".format(*(int(value[i : i + 2], 16) for i in (1, 3, 5)))
        for name, value in tokens.items()
    }
    assert len(found) > 60
    for tag, cls, fill, stroke, dash, width in found:
        names = cls.split()
        if tag == "text":
            ink = "soft" if {"tb", "sm2"} & set(names) else "carbon" if "ta" in names else "ink"
            assert (fill, stroke) == (colour[ink], "none"), cls
        else:
            assert stroke == colour["soft" if "cb" in names else "carbon"] and fill == "none", cls
            assert (dash != "none") == ("cb" in names) and width == ("3px" if "slow" in names else "1.5px"), cls
    page.context.close()
