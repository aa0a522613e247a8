"""A fork of which only the outside is known, at tablet size: taken in, planned, read once far in, and on the sheet.

The steps between are those of every travel change (test_whole_jobs_browser.py); the sheet here is the draft before them.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.book.models import Bike, Rider
from topout.web.jobs.records.models import Job, Reading
from web.browser.conftest import Clock
from web.browser.fingers import Fingers
from web.browser.journey import Journey
from web.outside_cast import BIKE, UNIT
from web.outside_cast import RIDER as WEIGHT
from web.people import Cast
from web.steps_kit import gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]
ROW = re.compile(r"Between ([\d\s]+)N and ([\d\s]+)N")


def gap(page: Page) -> int:
    """How far apart the limits of the end are, as the plan says them."""
    found = ROW.search(page.inner_text("#answer"))
    assert found, page.inner_text("#answer")
    low, high = (int(re.sub(r"\s", "", text)) for text in found.groups())
    return high - low


def test_one_reading_far_in_narrows_the_plan_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge(hose="3 ml")
    context = chromium.new_context(viewport={"width": 1180, "height": 820}, has_touch=True, locale="en-GB")
    way = Journey(context, here, Fingers, time_of_day.wait)
    way.sign_in()
    way.take_in(title="travel 150 → 160 mm")
    Bike.objects.update(tables=BIKE)  # their forms are those of every job
    Rider.objects.update(tables=WEIGHT)
    way.card()
    way.follow("Long fork")
    way.follow("Change")
    way.hand.choose(way.box("known_by"), "sheet")
    for table, values in UNIT.items():
        for word, value in values.items():
            way.hand.write(way.box(f"{table.replace('.', '-')}-{word}"), str(value))
    way.send("Save the unit")
    expect(way.page.locator("main")).to_contain_text("maker’s sheet")
    way.card()
    way.follow("Write down how it was")
    for name, text in {"pressure": "72", "temperature": "20", "spacers": "1", "sag": "33"}.items():
        way.hand.write(way.box(name), text)
    way.hand.choose(way.box("sag-posture"), "standing")
    way.send("Save what was read")
    way.follow("Open the plan")
    way.hand.write(way.box("travel"), "160")
    answer = way.page.locator("#answer")
    expect(answer).to_contain_text("for the same sag")
    expect(answer).to_contain_text("How firm the end is: not known yet.")
    expect(way.page.locator("#set:not([data-asking])")).to_have_count(1)
    before = gap(way.page)
    way.follow("Read it now")
    expect(way.page.locator("main .caution")).to_contain_text("not hands")
    for name, text in {"start": "30", "held": "90", "shown": "60"}.items():
        way.hand.write(way.box(name), text)
    way.send("Save what was read")
    expect(way.page.locator(".messages")).to_contain_text("now to ±")
    expect(way.page.locator("#planname")).to_contain_text("150 → 160 mm")  # it comes back to the same boxes
    expect(way.page.locator("#set:not([data-asking])")).to_have_count(1)
    assert gap(way.page) < 0.9 * before
    way.send("Use this plan")
    said = way.page.inner_text(".messages").replace("\u00a0", " ")
    assert "The plan is in use. Set 72 psi" in said and "for the same sag" in said
    text = way.sheet(tmp_path)
    for words in ("for the same sag", "not known yet", "Typical, not measured here", "bands", "150"):
        assert words in text, (words, text)
    reading = Reading.objects.get(job=Job.objects.get(number=int(way.number)), kind="far-in")
    assert reading.who == cast.technician and reading.instrument is not None
    assert not way.faults, way.faults
    context.close()
