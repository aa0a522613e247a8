"""Jobs by keyboard alone (look.md B7 row 9): a shock's air can from the door to the sheet, as its pages ask by default; in the soak a
travel change, one step a page, with the Book's long forms, a hold point failed and a tab closed on the way."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from topout.web.jobs.records.models import Job
from web.browser.conftest import Clock
from web.browser.journey import RIDER, Journey
from web.browser.keys import Keys, Typist
from web.browser.pace import Practised
from web.people import Cast
from web.steps_kit import Hands, gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]
ROOMS = ("keys.py", "journey.py", Path(__file__).name)
# What would reach into a page past the keyboard, spelt so that this line itself is none of it.
PAST_THE_KEYS = r"\.(cl[i]ck|dblcl[i]ck|ta[p]|mou[s]e|touchscree[n]|chec[k]|unchec[k]|fil[l]|focu[s]|hove[r]|dra[g]_to|select_optio[n]|set_input_file[s]|dispatch_even[t])\b"
CONTEXT = {"viewport": {"width": 1180, "height": 820}, "locale": "en-GB"}


def test_the_script_holds_nothing_but_keys() -> None:
    own = "self.ta[p]"  # the typist's own, which is a key
    for name in ROOMS:
        text = re.sub(own, "", (Path(__file__).parent / name).read_text("utf-8"))
        assert re.findall(PAST_THE_KEYS, text) == [], name
    for name, method in inspect.getmembers(Practised, inspect.isfunction):
        if re.search(PAST_THE_KEYS, re.sub(own, "", inspect.getsource(method))):
            assert name in vars(Typist), name


def test_an_air_can_from_the_door_to_the_sheet_by_keyboard_alone(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge()
    hands = Hands(cast.technician, Job())
    context = chromium.new_context(**CONTEXT)  # type: ignore[arg-type]
    made: list[Typist] = []

    def typist(page: Page) -> Typist:
        made.append(Typist(page, here, hands, time_of_day.wait))
        return made[-1]

    way = Journey(context, here, typist, time_of_day.wait)
    way.sign_in()
    way.take_in("rear-shock-air-can", "new seals in the can", kind="shock", unit="Short shock")
    hands.job = Job.objects.get(number=int(way.number))
    made[0].work()
    way.hand_over()
    text = way.sheet(tmp_path)
    context.close()
    assert RIDER in text and way.number in text and "after 50 hours of riding" in text
    assert way.faults == []


@pytest.mark.soak
def test_a_travel_change_from_the_door_to_the_sheet_by_keyboard_alone(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path
) -> None:
    gauge()
    context = chromium.new_context(**CONTEXT)  # type: ignore[arg-type]
    Journey(context, here, Keys, time_of_day.wait).whole(tmp_path)
    context.close()
