"""A job from intake to the sheet with a finger at phone size, one step a page (look.md B7 rows 11, 15); and what a journey hears of.

The job in the soak. Every day the same way goes by keys alone, one step a page (test_keyboard_browser.py), and the lower-leg service by finger at
phone size (test_whole_jobs_browser.py).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock
from web.browser.fingers import Fingers
from web.browser.journey import Journey
from web.browser.waits import until
from web.people import Cast
from web.served import context_of, refused
from web.steps_kit import gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]


@pytest.mark.soak
def test_a_job_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge()
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, locale="en-GB")
    Journey(context, here, Fingers, time_of_day.wait).whole(tmp_path)
    context.close()


def test_a_journey_hears_what_goes_wrong(chromium: Browser, here: str) -> None:
    """What was refused, a page and a picture from elsewhere, an error of a script: each alone."""
    assert refused() == [], "of the test before"
    context = context_of(chromium)
    way = Journey(context, here, Fingers, lambda minutes: None)
    way.page.wait_for_url("**/sign-in/**")
    assert way.faults == []
    for script, word in (
        ("fetch('/no/such/page')", "404 GET /no/such/page"),
        ("new Image().src = 'https://elsewhere.invalid/a.png'", "Content Security Policy"),
        ("setTimeout(() => { throw new Error('broken on purpose') })", "broken on purpose"),
        ("location.href = location.href.replace('127.0.0.1', 'localhost')", "//localhost"),
    ):

        def heard(word: str = word) -> bool:
            return any(word in each for each in way.faults)

        assert not heard(), way.faults
        way.page.evaluate(f"() => {{ {script} }}")
        until(way.page, heard)
    context.close()
