"""The same job by keyboard alone (issue 2, section 5, 4; look.md B7 row 9)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock
from web.browser.journey import Journey
from web.browser.keys import Keys
from web.people import Cast
from web.steps_kit import gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]
ROOMS = ("keys.py", "journey.py", Path(__file__).name)
# What would reach into a page past the keyboard, spelt so that this line itself is none of it.
PAST_THE_KEYS = r"\.(cl[i]ck|dblcl[i]ck|ta[p]|mou[s]e|touchscree[n]|chec[k]|unchec[k]|fil[l]|focu[s]|hove[r]|dra[g]_to|select_optio[n]|set_input_file[s]|dispatch_even[t])\b"


def test_the_script_holds_nothing_but_keys() -> None:
    for name in ROOMS:
        assert re.findall(PAST_THE_KEYS, (Path(__file__).parent / name).read_text("utf-8")) == [], name


def test_a_job_from_the_door_to_the_sheet_by_keyboard_alone(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge()
    context = chromium.new_context(viewport={"width": 1180, "height": 820}, locale="en-GB")
    Journey(context, here, Keys, time_of_day.wait).whole(tmp_path)
    context.close()
