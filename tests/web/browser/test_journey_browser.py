"""A job from intake to the sheet with a finger at phone size, one step a page (look.md B7 rows 11, 15).

In the soak. Every day the same way goes by keys alone, one step a page (test_keyboard_browser.py), and the lower-leg service by finger at
phone size (test_whole_jobs_browser.py).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock
from web.browser.fingers import Fingers
from web.browser.journey import Journey
from web.people import Cast
from web.steps_kit import gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler, pytest.mark.soak]


def test_a_job_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge()
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, locale="en-GB")
    Journey(context, here, Fingers, time_of_day.wait).whole(tmp_path)
    context.close()
