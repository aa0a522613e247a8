"""The states of looks.py that the demo does not stand in: an empty workshop, a full one, and the steps at their turning points."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

import topout.web
from topout.units import PSI_PA
from topout.web import clock
from topout.web.access.change import change
from topout.web.book.models import Rider
from topout.web.jobs.records.models import Job
from topout.web.jobs.steps import owners, sign
from topout.web.jobs.steps.sign import Answer
from web.browser import looks, rules
from web.browser.looks import STEPS, Look
from web.people import Cast
from web.served import context_of, signed_in
from web.steps_kit import START, Hands, failing, gauge, make_job, one_a_page

pytestmark = pytest.mark.browser
MANY = 60


def begun(cast: Cast) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    return hands


def at(key: str, answers: dict[str, Answer] | None = None, fail: bool = False) -> Callable[[Cast], None]:
    """Worked to a step; there, answered as told."""

    def make(cast: Cast) -> None:
        hands = begun(cast)
        slot = hands.until(key)
        assert slot is not None
        if fail or answers:
            given = failing(hands.here(), slot) if fail else {}
            hands.sign(slot, given | (answers or {}))

    return make


def many(cast: Cast) -> None:
    """Sixty riders with a job each, one with a name as long as they come."""
    for n in range(MANY):
        rider = Rider.objects.create(name=f"Rider {n}" if n else "Ottoline " * 8, made_at=START)
        Job.objects.create(
            number=400 + n, rider=rider, asked="A service.", asked_title=f"service {n}", taken_in_at=START,
            taken_in_by=cast.owner, technician=cast.technician,
        )  # fmt: skip


def stopped(cast: Cast) -> None:
    hands = begun(cast)
    hands.until("wash")
    hands.stop()


def variant(cast: Cast) -> None:
    hands = begun(cast)
    with change(cast.owner, "variant", {}, at=START) as doing:
        owners.switch(doing, hands.job, "inflate-before-lower-legs", on=True)
    assert hands.until("dry-pump-first") is not None


def alone(make: Callable[[Cast], None]) -> Callable[[Cast], None]:
    """The same, for people who want every step on a page of its own."""

    def made(cast: Cast) -> None:
        make(cast)
        one_a_page(cast.technician, cast.owner)

    return made


def leak_hold(cast: Cast) -> None:
    """The half hour runs now: the page says when it is over."""
    hands = begun(cast)
    assert hands.until("leak-start") is not None
    hands.at = clock.now() - timedelta(minutes=2)
    assert hands.until("leak-end") is not None


def held(psi: float, minutes: float) -> Callable[[Cast], None]:
    """The hold was read so many minutes after its start, a while ago: it says what it says."""

    def make(cast: Cast) -> None:
        hands = begun(cast)
        assert hands.until("leak-start") is not None
        hands.at = clock.now() - timedelta(minutes=minutes + 6)
        slot = hands.until("leak-end")
        assert slot is not None
        may = hands.here().may_from(slot)
        assert may is not None
        hands.at = may + timedelta(minutes=minutes - 30)
        answers = {
            "leak-end-temperature": Answer(text="16 degC", value_si=289.15, unit="degC"),
            "leak-end-pressure": Answer(text=f"{psi:g} psi", value_si=psi * PSI_PA, unit="psi"),
        }
        with change(hands.who, "sign", {}, at=hands.at) as doing:
            sign.sign(doing, hands.job, "leak-end", answers, hands.here().seen)

    return make


def nothing(cast: Cast) -> None:
    """Two accounts and nothing else."""


def no_account(cast: Cast) -> None:
    cast.technician.delete()
    cast.owner.delete()


def code_given(cast: Cast) -> None:
    """The page is drawn right after the owner gave a code: the browser of the test sends the form itself."""


def give_code(page: Page, here: str, cast: Cast) -> None:
    page.goto(f"{here}/accounts/{cast.technician.pk}/")
    page.get_by_role("button", name="Give a one-time code").click()


SHORT = {"rest-length": Answer(text="120 mm", value_si=0.12, unit="mm")}
LOW = {"full-stroke": Answer(text="131 mm", value_si=0.131, unit="mm")}
MADE: dict[str, Callable[[Cast], None]] = {
    "empty": nothing, "first questions": nothing, "code shown once": code_given, "no account": no_account, "many": many, "first step": at("shaft-fits"), "stopped safely": stopped,
    "held: hold point": at("empty-at-rest"), "blocked: drawn in": at("empty-at-rest", SHORT, fail=True),
    "own keys": alone(at("old-shaft-measured")), "own keys beside the list": at("old-shaft-measured"), "photo asked for": at("ring-seated"), "variant on": variant,
    "reading out of its bounds": at("full-stroke", LOW), "filling": at("fill"), "held: leak hold": alone(leak_hold), "held: leak hold in its list": leak_hold,
    "leak hold: not yet": held(72, 31), "leak hold: leaks": held(69, 40), "leak hold: holds": held(73, 60),
}  # fmt: skip


def test_every_state_of_the_table_is_made() -> None:
    assert {look.state for look in looks.OWN} == set(MADE)


@pytest.mark.parametrize("everywhere", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["daily", "everywhere"])
@pytest.mark.parametrize("look", [pytest.param(look, id=look.name) for look in looks.OWN])
def test_a_state_keeps_every_rule_a_machine_can_measure(
    chromium: Browser, here: str, cast: Cast, look: Look, everywhere: bool
) -> None:
    MADE[look.state](cast)
    size = {"width": 1180, "height": 820}
    user = {"owner": cast.owner, "technician": cast.technician}.get(look.who)
    context = signed_in(chromium, here, user, viewport=size) if user else context_of(chromium, size)
    page, faults = context.new_page(), list[str]()
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
    if look.state == "code shown once":
        give_code(page, here, cast)
        expect(page.locator("[data-name=code]")).to_have_count(1)
    else:
        answer = page.goto(here + look.path, wait_until="load")
        assert answer is not None and answer.status == look.status
    if look.bench:
        _measured(page)
    wrong = rules.of_a_page(page, look.bench, everywhere) + faults
    context.close()
    assert not wrong, "\n".join(map(str, wrong))


def test_pages_keep_nothing_in_the_browser() -> None:
    """A context is emptied from test to test by its cookies and tabs (`served.Kept`): there is nothing else to empty."""
    scripts = list(Path(topout.web.__file__).parent.rglob("static/*.js"))
    assert len(scripts) > 3
    assert not [path for path in scripts if re.search(r"localStorage|indexedDB|caches\.|serviceWorker|document\.cookie", path.read_text("utf-8"))]  # fmt: skip


def test_two_answers_of_a_row_stand_side_by_side_on_a_phone(chromium: Browser, here: str, cast: Cast) -> None:
    """The plan page's columns were named as they were: one lay under the other, and the second under the button."""
    assert begun(cast).until("soap") is not None
    page = signed_in(chromium, here, cast.technician, viewport={"width": 390, "height": 844}).new_page()
    page.goto(here + STEPS)
    first, second = (
        box for box in (each.bounding_box() for each in page.locator(".tickform.beside .tick").all()[:2]) if box
    )
    page.context.close()
    assert abs(first["y"] - second["y"]) < 2 and 0 < second["x"] - first["x"] - first["width"] <= 12, (first, second)
    assert 60 <= first["x"] <= 72 and second["x"] + second["width"] <= 390, "below the row's words"


def _measured(page: Page) -> None:
    """Bench sizes: controls 72 px, keys 118 px, the glance layer 50 px, nothing under 24 px, gaps of 8 px."""
    small = page.evaluate(
        """() => [...document.querySelectorAll("main a, main button, main select, main input:not([type=hidden])")]
            .filter((e) => e.checkVisibility() && !e.closest(".skip"))
            .map((e) => [e, (e.closest("label.pick, label.put, .display") || e).getBoundingClientRect()])
            .filter(([e, box]) => (box.height < 71.5 || box.width < 71.5) && !e.closest(".note, .count"))
            .map(([e, box]) => `${e.outerHTML.slice(0, 80)} ${box.width}x${box.height}`)"""
    )
    assert small == []
    keys = page.evaluate(
        "() => [...document.querySelectorAll('.keys button')].map((k) => k.getBoundingClientRect()).map((b) => [b.width, b.height])"
    )
    assert all(width >= 118 and height >= 118 for width, height in keys)
    glance = page.evaluate(
        """() => [...document.querySelectorAll('.glance:not(.grouppage *) h1, .want .v, .want .u, .verdict b, .aim')]
            .filter((e) => e.textContent.trim()).map((e) => parseFloat(getComputedStyle(e).fontSize))"""
    )
    assert glance or page.locator(".acts").count(), (
        "a list has a figure to be seen from afar only where it asks for one"
    )
    assert min(glance, default=50) >= 50
    texts = page.evaluate(
        """() => [...document.querySelectorAll("main *")]
            .filter((e) => e.checkVisibility() && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && !e.closest("title, .for-eyes-off, desc"))
            .map((e) => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim().slice(0, 40)])
            .filter(([size]) => size < 24)"""
    )
    assert texts == []
