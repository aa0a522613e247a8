"""The main button is in sight at every size in every state of every step, errors included; the keys never move under the finger."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.units import parse
from topout.web.access.change import change
from topout.web.book.tables import Tables
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps.progress import Slot
from web import springs_kit
from web.browser.test_states_browser import MADE
from web.people import Cast
from web.served import SIZES, served, signed_in
from web.steps_kit import Hands, failing, gauge, make_job, one_a_page

pytestmark = pytest.mark.browser

# Where the main button stands when the page has just come; "" where it is whole and on the screen.
OUT_OF_SIGHT = """() => { scrollTo(0, 0); const go = [...document.querySelectorAll('.go')].filter((e) => e.checkVisibility());
  if (go.length !== 1) return `${go.length} main buttons`; const box = go[0].getBoundingClientRect();
  const over = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
  if (!go[0].contains(over)) return `covered by ${over && over.outerHTML.slice(0, 80)}`;
  return box.top >= 0 && box.bottom <= innerHeight && box.left >= 0 && box.right <= innerWidth ? '' : `${box.top} to ${box.bottom} of ${innerHeight}`; }"""


def looked_at(page: Page, where: str) -> list[str]:
    wrong = []
    now = page.viewport_size
    at_phone = now is not None and (now["width"], now["height"]) == SIZES["phone"]
    for name, (width, height) in reversed(SIZES.items()) if at_phone else SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        found = page.evaluate(OUT_OF_SIGHT)
        if found:
            wrong.append(f"{where} at {name}: {found}")
    return wrong


def sent_empty(page: Page) -> bool:
    """Send the step's form with nothing in it, past what the page itself would say; whether there was one."""
    if not page.locator("#reading").count():
        return False
    with page.expect_navigation():
        page.evaluate("HTMLFormElement.prototype.submit.call(document.getElementById('reading'))")
    return True


def kind(slot: Slot) -> tuple[object, ...]:
    """What makes a step's page another: what it asks for, whether it holds, stops, comes in rounds, waits."""
    step = slot.step
    asked = frozenset(each.kind for each in step.evidence)
    return (asked, step.hold, step.blocks, step.rounds is not None, step.wait is not None)


@pytest.mark.parametrize("everywhere", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["daily", "everywhere"])
@pytest.mark.parametrize("one", [True, False], ids=["one step a page", "lists"])
def test_the_main_button_is_in_sight_at_every_step(chromium: Browser, cast: Cast, one: bool, everywhere: bool) -> None:
    """Daily at one step of each kind, the first, and at each list; `everywhere` at every step and every row of a list."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    if one:
        one_a_page(cast.technician)
    wrong: list[str] = []
    errors = lists = 0
    seen: set[tuple[object, ...]] = set()

    def new(slot: Slot) -> bool:
        first = kind(slot) not in seen
        seen.add(kind(slot))
        return everywhere or first

    with served() as here:
        page = signed_in(chromium, here, cast.technician).new_page()
        while (slot := (progress := hands.here()).current) is not None:
            screen = progress.screen_of(slot)
            if not screen.rows if not one else not new(slot):  # in lists: the same page as one step a page has
                hands.sign(slot, here=progress)
                continue
            page.goto(f"{here}/jobs/301/steps/")
            assert "/jobs/301/steps/" in page.url, page.url
            wrong += looked_at(page, slot.step.key)
            if page.locator(".acts").count():
                lists += 1
                for each in screen.slots:
                    if page.locator(f"#row-{each.number} .put").count() and new(each):
                        page.goto(f"{here}/jobs/301/steps/{screen.slots[0].step.key}/list/?put={each.step.key}")
                        wrong += looked_at(page, f"{each.step.key} beside its list")
                        if sent_empty(page):
                            errors += 1
                            wrong += looked_at(page, f"{each.step.key} beside its list, sent empty")
                        page.goto(f"{here}/jobs/301/steps/")
                for other in screen.slots:
                    if not (progress := hands.here()).settled(other):  # where nothing is needed, nothing sent signs it
                        hands.sign(other, here=progress)
                page.goto(f"{here}/jobs/301/steps/{screen.slots[0].step.key}/list/")
                wrong += looked_at(page, f"{slot.step.key}, its list done")
                continue
            if sent_empty(page):
                errors += 1
                wrong += looked_at(page, f"{slot.step.key}, sent empty")
            if not (progress := hands.here()).settled(slot):
                hands.sign(slot, here=progress)
        page.goto(f"{here}/jobs/301/steps/")
        wrong += looked_at(page, "all signed")
    assert not wrong, "\n".join(wrong)
    if everywhere:
        assert errors >= 20 if one else errors >= 1 and lists >= 4, (errors, lists)
    else:
        assert min(errors, len(seen)) >= 8 if one else errors >= 1 and lists >= 4, (errors, lists, seen)


@pytest.mark.parametrize(
    "state", ["blocked: drawn in", "stopped safely", "held: leak hold", "reading out of its bounds"]
)
def test_the_main_button_is_in_sight_where_the_work_stands(chromium: Browser, cast: Cast, state: str) -> None:
    MADE[state](cast)
    with served() as here:
        page = signed_in(chromium, here, cast.technician).new_page()
        page.goto(f"{here}/jobs/301/steps/")
        assert looked_at(page, state) == []


# Where the last key ends, where there are keys; "" where all are on the screen.
KEYS_CUT = """() => { const last = [...document.querySelectorAll('.keys button')].at(-1)?.getBoundingClientRect();
  return !last || last.bottom <= innerHeight ? '' : `the last key ends at ${last.bottom} of ${innerHeight}`; }"""
# Procedure, kind of unit, the step looked at: those with most to read beside their keys.
LONG = [
    ("coil-spring-change", "coil-fork", "coil-unwound"), ("coil-spring-change", "coil-fork", "coil-bind"),
    ("coil-spring-change", "coil-fork", "coil-preload"), ("coil-shock-spring", "coil-shock", "collar-off"),
    ("air-spring-reseal", "fork", "full-stroke-bench"), ("leak-test", "fork", "inflate"), ("rear-shock-air-can", "shock", "shock-inflate"),
]  # fmt: skip
OF_AIR: dict[str, Tables] = {
    "fork": {"fork": {"travel": "150 mm"}, "fork.air": {"pressure": "70 psi"}},
    "shock": {"shock": {"length": "210 mm", "stroke": "55 mm"}, "shock.air": {"pressure_limit": "300 psi"}},
}


def upright(page: Page, where: str) -> list[str]:
    """A tablet that stands: main button and keys whole, nothing to scroll to."""
    page.set_viewport_size({"width": 820, "height": 1180})
    found = [
        page.evaluate(KEYS_CUT),
        page.evaluate(
            "() => document.documentElement.scrollHeight > innerHeight ? 'the page is longer than the screen' : ''"
        ),
    ]
    return [f"{where}, upright: {each}" for each in found if each]


def test_the_longest_steps_and_the_filling_are_whole_on_the_screen(chromium: Browser, cast: Cast) -> None:
    """At hold points, failed too, at the keys; and the filling of an air spring. On a tablet that stands, half the keys lay below the screen."""
    wrong: list[str] = []
    one_a_page(cast.technician)
    with served() as here:
        page = signed_in(chromium, here, cast.technician).new_page()
        gauge()
        for nth, (procedure, kind, key) in enumerate(LONG):
            asked = springs_kit.PLANS["rate"] if procedure == "coil-spring-change" else None
            hands = springs_kit.taken_in(cast, procedure, kind=kind, asked=asked, tables=OF_AIR.get(kind))
            Job.objects.filter(pk=hands.job.pk).update(number=310 + nth)
            hands.job.refresh_from_db()
            hands.begin()
            slot = hands._work(key)
            assert slot is not None
            page.goto(f"{here}/jobs/{310 + nth}/steps/")
            wrong += [*looked_at(page, key), *upright(page, key)]
            if slot.step.hold and slot.step.evidence[0].kind == "choice":
                hands.sign(slot, failing(hands.here(), slot))
                page.goto(f"{here}/jobs/{310 + nth}/steps/")
                wrong += looked_at(page, f"{key}, failed")
        hands = Hands(cast.technician, make_job(cast.technician))
        hands.begin()
        assert hands._work("fill") is not None
        page.goto(f"{here}/jobs/301/steps/")
        wrong += [*looked_at(page, "fill"), *upright(page, "fill")]
    assert not wrong, "\n".join(wrong)


def test_the_main_button_is_in_sight_at_the_release(chromium: Browser, cast: Cast) -> None:
    """The hand-over, sent empty, and the look once more where an owner gives a reason: what does not fit stands above the table."""
    gauge()
    one_a_page(cast.owner)
    hands = Hands(cast.owner, make_job(cast.owner))
    hands.begin()
    hands.until(None)
    with change(cast.owner, "left", {}) as doing:
        sag = parse("70 mm", "length")
        readings.take(doing, hands.job, "as-left", Taken.quantity("sag", sag, "length", posture="standing"))
    with served() as here:
        page = signed_in(chromium, here, cast.owner, viewport={"width": 1180, "height": 820}).new_page()
        page.goto(f"{here}/jobs/301/hand-over/")
        wrong = looked_at(page, "hand-over")
        page.locator("main button.go").click()
        expect(page.locator("main .faults, main .wrong").first).to_be_visible()
        wrong += looked_at(page, "hand-over, sent as it stands")
        page.locator("[name=next_service]").fill("after 50 hours")
        page.locator("[name=fit_to_ride][value=yes]").check()
        page.locator("main button.go").click()
        expect(page.locator("#reason")).to_have_count(1)
        wrong += looked_at(page, "owner's reason")
        page.set_viewport_size({"width": 1180, "height": 820})
        page.evaluate("scrollTo(0, 0)")
        assert page.locator(".caution", has_text="owner’s reason").bounding_box()["y"] < 400  # type: ignore[index]
    assert not wrong, "\n".join(wrong)


def test_keys_and_button_stay_where_they_are_when_the_answer_comes(chromium: Browser, cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    one_a_page(cast.technician)
    hands.begin()
    hands.until("old-shaft-measured")
    with served() as here:
        page = signed_in(chromium, here, cast.technician).new_page()
        page.goto(f"{here}/jobs/301/steps/")

        def places() -> dict[str, Any]:
            found = {}
            for size, (width, height) in SIZES.items():
                page.set_viewport_size({"width": width, "height": height})
                found[size] = page.evaluate(
                    "() => [...document.querySelectorAll('.keys button, #note, .display')].map((e) => { const b = e.getBoundingClientRect(); return [b.left, b.top]; })"
                )
            return found

        before = places()
        assert [len(each) for each in before.values()] == [14, 14, 14] and before["tablet"] != before["phone"]
        for key in "7.3":
            page.locator(".keys button", has_text=key).first.click()
        expect(page.locator("[data-echo]")).not_to_be_empty()
        expect(page.locator("#verdict b")).not_to_be_empty()
        assert places() == before
