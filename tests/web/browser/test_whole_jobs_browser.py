"""Whole jobs from the door to the sheet, as their pages ask by default: screens, taps and typed figures counted, and the same as the
groups of their procedure let foresee (foreseen.py). Every day a travel change at tablet size, and the steps of a lower-leg service at a
phone's; in the soak the rest.

What is counted and how stands in pace.py; the ceilings of the steps in tests/web/test_pace.py. The travel change one step a page: by
keys alone in test_keyboard_browser.py, by finger on a phone in test_journey_browser.py.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import NamedTuple

import pytest
from playwright.sync_api import Browser, Page

from topout.web.jobs.records.models import Job, Reading
from web.browser.conftest import Clock
from web.browser.foreseen import foreseen
from web.browser.journey import RIDER, Journey
from web.browser.pace import Practised
from web.people import Cast
from web.served import SIZES, signed_in
from web.steps_kit import Hands, gauge
from web.test_pace import CEILINGS, begun

pytestmark = [pytest.mark.browser, pytest.mark.poppler]


class Whole(NamedTuple):
    """A job, and what it is done on."""

    procedure: str
    title: str
    bike: bool = True
    kind: str = "fork"
    unit: str = "Long fork"
    size: str = "tablet"


LOWER_LEGS = Whole("lower-leg-service", "lower-leg service")
IN_THE_SOAK = {
    "lower-leg service": LOWER_LEGS._replace(size="phone"),
    "lower-leg service at a tablet": LOWER_LEGS,
    "air can": Whole("rear-shock-air-can", "new seals in the can", kind="shock", unit="Short shock"),
    "posted fork": LOWER_LEGS._replace(bike=False),
}


@pytest.mark.parametrize(
    "job",
    [
        pytest.param(Whole("travel-change-by-air-shaft", "travel 150 → 140 mm"), id="travel change"),
        *(pytest.param(job, id=name, marks=pytest.mark.soak) for name, job in IN_THE_SOAK.items()),
    ],
)
def test_a_whole_job_is_counted_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path, job: Whole
) -> None:
    gauge()
    start = time.monotonic()
    hands = Hands(cast.technician, Job())
    width, height = SIZES[job.size]
    context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=True, locale="en-GB")
    made: list[Practised] = []

    def practised(page: Page) -> Practised:
        made.append(Practised(page, here, hands, time_of_day.wait))
        return made[-1]

    way = Journey(context, here, practised, time_of_day.wait)
    hand = made[0]
    way.sign_in()
    way.take_in(job.procedure, job.title, bike=job.bike, kind=job.kind, unit=job.unit)
    hands.job = Job.objects.get(number=int(way.number))
    if job.kind == "fork":
        (way.fill_the_book if job.bike else way.fill_the_fork)()
        way.read_as_found()
    if job.procedure == "travel-change-by-air-shaft":
        way.plan()
    most = foreseen(hands, time_of_day)
    before = (hand.screens, hand.taps + hand.figures)
    hand.work()
    screens, asked = hand.screens - before[0], hand.taps + hand.figures - before[1]
    way.hand_over()
    text = way.sheet(tmp_path)
    context.close()
    whole = f"{job.procedure}{'' if job.bike else ', without its bike'}"
    print(f"\n{whole}: at the steps {screens} screens, {asked} taps and typed figures; from the door to the sheet {hand};"
          f" {time.monotonic() - start:.0f} s")  # fmt: skip
    left = Reading.objects.filter(job=hands.job, stage="as-left", kind="pressure").latest("sequence")
    assert f"{left.value_si / 6894.757:.0f} psi" in text
    assert RIDER in text and way.number in text and "after 50 hours of riding" in text
    assert way.faults == []
    assert (screens, asked) == most, hand.told
    assert screens <= CEILINGS[job.procedure][0] and asked <= CEILINGS[job.procedure][1], (screens, asked, hand.told)


def test_the_steps_of_a_lower_leg_service_by_finger_at_a_phone(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock
) -> None:
    """Its door, its readings and its hand-over at a phone are those of the soak."""
    hands = begun(cast, "lower-leg-service")
    most = foreseen(hands, time_of_day)
    width, height = SIZES["phone"]
    context = signed_in(chromium, here, cast.technician, viewport={"width": width, "height": height}, has_touch=True)
    hand = Practised(context.new_page(), here, hands, time_of_day.wait)
    hand.work()
    context.close()
    assert hands.here().current is None
    assert (hand.screens, hand.taps + hand.figures) == most, hand.told
