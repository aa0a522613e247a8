"""The pace of the jobs of test_pace.py, counted by a practised hand in a browser at tablet size: the same as foreseen there.

The travel change, the lower-leg service and the air can are counted in tests/web/browser/test_whole_jobs_browser.py, by the same hand
against the same ceilings, from the door on.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock, time_of_day  # noqa: F401  the clock that may be moved
from web.browser.foreseen import foreseen
from web.browser.pace import Practised
from web.people import Cast
from web.served import served, signed_in
from web.test_pace import CEILINGS, begun

pytestmark = [pytest.mark.browser, pytest.mark.soak]
FROM_THE_DOOR = {"travel-change-by-air-shaft", "lower-leg-service", "rear-shock-air-can"}


@pytest.mark.parametrize("procedure", [each for each in CEILINGS if each not in FROM_THE_DOOR])
def test_a_usual_job_keeps_its_pace(chromium: Browser, cast: Cast, time_of_day: Clock, procedure: str) -> None:  # noqa: F811
    hands = begun(cast, procedure)
    most = foreseen(hands, time_of_day)
    with served() as here:
        context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}, has_touch=True)
        hand = Practised(context.new_page(), here, hands, time_of_day.wait)
        hand.work()
        context.close()
    print(f"\n{procedure}: {hand}", *hand.told, sep="\n")
    assert (hand.screens, hand.taps + hand.figures) == most, hand.told
    assert hand.screens <= CEILINGS[procedure][0] and most[1] <= CEILINGS[procedure][1], str(hand)
