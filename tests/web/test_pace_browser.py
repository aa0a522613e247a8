"""The pace of the usual jobs (trade.md 7): screens, taps and typed figures, counted in a browser at tablet size, with ceilings.

The travel change and the lower-leg service are counted in tests/web/browser/test_whole_jobs_browser.py, by the same hand against the
same ceilings, from the door on. What was read as found stands on the card already, as in the demo's job on the stand: it is asked for once.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from topout.units import parse
from topout.web.access.change import change
from topout.web.jobs.records import readings
from topout.web.jobs.records.readings import Taken
from web.browser.conftest import Clock, time_of_day  # noqa: F401  the clock that may be moved
from web.browser.pace import Practised
from web.people import Cast
from web.served import served, signed_in
from web.steps_kit import START, Hands, gauge, make_job

pytestmark = pytest.mark.browser
CEILINGS = {  # screens; taps and typed figures together
    "pressure-and-spacers": (8, 20),
}


def found(hands: Hands) -> None:
    """As found, on the card."""
    instrument = gauge()
    with change(hands.who, "as found", {}, at=START) as doing:
        for kind, text, dimension, more in (
            ("pressure", "70 psi", "pressure", {"instrument": instrument}), ("temperature", "18 degC", "temperature", {}),
            ("exposed-length", "171 mm", "length", {}),
        ):  # fmt: skip
            readings.take(doing, hands.job, "as-found", Taken.quantity(kind, parse(text, dimension), dimension, **more))
        readings.take(doing, hands.job, "as-found", Taken.count("rebound", 9, of_range=18))


@pytest.mark.parametrize("procedure", CEILINGS)
def test_a_usual_job_keeps_its_pace(chromium: Browser, cast: Cast, time_of_day: Clock, procedure: str) -> None:  # noqa: F811
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.job.procedure = procedure
    hands.job.save()
    found(hands)
    with served() as here:
        context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}, has_touch=True)
        hand = Practised(context.new_page(), here, hands, time_of_day.wait)
        hand.work()
        context.close()
    print(f"\n{procedure}: {hand}", *hand.told, sep="\n")
    screens, most = CEILINGS[procedure]
    assert hand.screens <= screens and hand.taps + hand.figures <= most, str(hand)
