"""A job from intake to the sheet with a finger, at tablet size and at phone size (issue 2, section 5, 4; look.md B7 rows 11, 15)."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock
from web.browser.fingers import Fingers
from web.browser.journey import Journey
from web.people import Cast
from web.steps_kit import gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]


@pytest.mark.parametrize("size", [(1180, 820), (390, 844)], ids=["tablet", "phone"])
def test_a_job_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path, size: tuple[int, int]
) -> None:
    gauge()
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, has_touch=True, locale="en-GB")
    Journey(context, here, Fingers, time_of_day.wait).whole(tmp_path)
    context.close()
