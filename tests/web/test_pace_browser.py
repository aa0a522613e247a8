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
from web import springs_kit
from web.browser.conftest import Clock, time_of_day  # noqa: F401  the clock that may be moved
from web.browser.pace import Practised
from web.people import Cast
from web.served import served, signed_in
from web.steps_kit import START, Hands, gauge, make_job

pytestmark = pytest.mark.browser
CEILINGS = {  # screens; taps and typed figures together
    "pressure-and-spacers": (8, 20), "coil-spring-change": (15, 36), "coil-shock-spring": (14, 34),
}  # fmt: skip
# Measured 2026-11-29: 10 and 35, 24 and 69, 13 and 28, 5 and 17; of the two above 13 and 32, 12 and 30. trade.md names no figure for them.
IN_THE_SOAK = {
    "coil-lower-legs": (12, 40), "coil-fork-annual": (27, 77), "coil-clearance": (15, 32), "return-to-rider-coil": (6, 20),
}  # fmt: skip


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


def begun(cast: Cast, procedure: str) -> Hands:
    """A job before its first step, what was found on its card."""
    if "coil" not in procedure:
        hands = Hands(cast.technician, make_job(cast.technician))
        hands.job.procedure = procedure
        hands.job.save()
        found(hands)
        return hands
    asked = springs_kit.PLANS["rate"] if procedure in ("coil-clearance", "coil-spring-change") else None
    kind = "coil-shock" if procedure == "coil-shock-spring" else "coil-fork"
    hands = springs_kit.taken_in(cast, procedure, kind=kind, asked=asked)
    preload = "20 mm" if kind == "coil-fork" else "2 mm"
    with change(hands.who, "as found", {}, at=START) as doing:
        readings.take(doing, hands.job, "as-found", Taken.quantity("preload", parse(preload, "length"), "length"))
        readings.take(doing, hands.job, "as-found", Taken.count("rebound", 9, of_range=18))
    return hands


@pytest.mark.parametrize("procedure", [*CEILINGS, *(pytest.param(key, marks=pytest.mark.soak) for key in IN_THE_SOAK)])
def test_a_usual_job_keeps_its_pace(chromium: Browser, cast: Cast, time_of_day: Clock, procedure: str) -> None:  # noqa: F811
    hands = begun(cast, procedure)
    with served() as here:
        context = signed_in(chromium, here, cast.technician, viewport={"width": 1180, "height": 820}, has_touch=True)
        hand = Practised(context.new_page(), here, hands, time_of_day.wait)
        hand.work()
        context.close()
    print(f"\n{procedure}: {hand}", *hand.told, sep="\n")
    screens, most = (CEILINGS | IN_THE_SOAK)[procedure]
    assert hand.screens <= screens and hand.taps + hand.figures <= most, str(hand)
