"""Jobs by keyboard alone (look.md B7 row 9). Every day one step of each kind that a travel change has, and the kind of a new unit. In the
soak a shock's air can from the door to the sheet, as its pages ask by default, and a travel change, one step a page, with the Book's long
forms, a hold point failed and a tab closed on the way."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from topout.web.jobs.records.models import Job
from topout.web.jobs.steps import rows
from topout.web.jobs.steps.progress import Progress, Slot
from web.browser.conftest import Clock
from web.browser.journey import RIDER, Journey
from web.browser.keys import Keys, Typist
from web.browser.pace import Practised
from web.browser.waits import until
from web.people import Cast
from web.served import signed_in
from web.steps_kit import Hands, gauge
from web.test_pace import begun

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


def kind_of(here: Progress, slot: Slot) -> str:
    """What a step asks a hand to do: a row of a list by its edge, a page of its own by its boxes."""
    if here.screen_of(slot).rows:
        return f"row: {rows._row(here, slot, at_hand=True).kind}"
    return " and ".join(each.kind for each in slot.step.evidence if not each.optional)


def test_a_step_of_each_kind_is_signed_by_keyboard_alone(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock
) -> None:
    """The engine signs what lies between them."""
    hands = begun(cast, "travel-change-by-air-shaft")
    hands.at = time_of_day.now()
    hands.begin()
    page = signed_in(chromium, here, cast.technician, viewport=CONTEXT["viewport"]).new_page()
    typist = Typist(page, here, hands, time_of_day.wait)
    tried: set[str] = set()
    while (now := hands.here()).current is not None:
        slot = now.at_hand
        assert slot is not None
        kind = kind_of(now, slot)
        if now.waits(slot):
            time_of_day.wait(35)
        elif kind in tried:
            hands.at = time_of_day.now()
            hands.sign(slot, minutes=0, here=now)
        else:
            tried.add(kind)
            page.goto(f"{here}/jobs/{hands.job.number}/steps/")
            if now.screen_of(slot).rows:
                typist.row(slot, now)
            else:
                typist.step()
            assert hands.here().passed(slot), (slot.step.key, page.inner_text("main"))
    page.context.close()
    assert tried >= {
        "row: tick",
        "row: number",
        "row: choice",
        "row: photo",
        "row: more",
        "choice",
        "number",
        "choice and photo",
    }, tried


def test_the_procedures_are_those_of_the_kind_that_arrows_came_to_last(
    chromium: Browser, here: str, cast: Cast
) -> None:
    """On the way each kind asks for its procedures; the answer of one gone past could come after that of the last."""
    page = signed_in(chromium, here, cast.technician, viewport=CONTEXT["viewport"]).new_page()
    page.goto(here + "/jobs/new/")
    late: list[Route] = []
    page.route("**/jobs/new/procedures/*unit_kind=coil-fork*", lambda route: late.append(route))
    for kind in ("coil-fork", "shock"):
        Keys(page).choose(page.locator("main [name=unit_kind]"), kind)
        until(page, lambda: late)  # asked for, before the arrow goes on
    expect(page.locator('[name=procedure][value="rear-shock-air-can"]')).to_have_count(1)
    assert [each.request.failure for each in late] == ["net::ERR_ABORTED"], "one gone past is asked for no more"
    page.context.close()


@pytest.mark.soak
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
