"""The pace of the usual jobs (trade.md 7): screens, taps and typed figures, counted in a browser at tablet size, with ceilings."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from web.browser.conftest import Clock, time_of_day  # noqa: F401  the clock that may be moved
from web.browser.pace import Practised
from web.people import Cast
from web.served import served, signed_in
from web.steps_kit import Hands, gauge, make_job

pytestmark = pytest.mark.browser
CEILINGS = {"travel-change-by-air-shaft": (40, 100)}  # screens; taps and typed figures


@pytest.mark.parametrize("procedure", CEILINGS)
def test_a_usual_job_keeps_its_pace(chromium: Browser, cast: Cast, time_of_day: Clock, procedure: str) -> None:  # noqa: F811
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    with served() as here:
        context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}, has_touch=True)
        hand = Practised(context.new_page(), here, hands, time_of_day.wait)
        hand.work()
        context.close()
    print(f"\n{procedure}: {hand}")
    print("\n".join(hand.told))
    screens, most = CEILINGS[procedure]
    assert hand.screens <= screens and hand.taps + hand.figures <= most, str(hand)
