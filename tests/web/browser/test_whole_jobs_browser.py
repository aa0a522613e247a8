"""Whole jobs from the door to the sheet, as their pages ask by default: screens, taps and typed figures counted. At tablet size; the
lower-leg service at a phone's, as at a tablet's in the soak: there the posted fork goes through the same steps.

What is counted and how stands in pace.py; the ceilings of the steps are trade.md's (section 7). The travel change one step a page: by
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
from web.browser.journey import RIDER, Journey
from web.browser.pace import Practised
from web.people import Cast
from web.served import SIZES
from web.steps_kit import Hands, gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]


class Whole(NamedTuple):
    """A job, and the most its steps may ask: screens; taps and typed figures together."""

    procedure: str
    title: str
    screens: int
    most: int
    bike: bool = True
    kind: str = "fork"
    unit: str = "Long fork"
    size: str = "tablet"


JOBS = {
    "travel change": Whole("travel-change-by-air-shaft", "travel 150 → 140 mm", 40, 100),
    "lower-leg service": Whole("lower-leg-service", "lower-leg service", 20, 45, size="phone"),
    # trade.md has no ceiling for a can; this one is ours: what it takes today, and a little.
    "air can": Whole("rear-shock-air-can", "new seals in the can", 20, 60, kind="shock", unit="Short shock"),
    "posted fork": Whole("lower-leg-service", "lower-leg service", 20, 45, bike=False),
}


AT_TABLET = pytest.param(JOBS["lower-leg service"]._replace(size="tablet"), marks=pytest.mark.soak)


@pytest.mark.parametrize("job", [*JOBS.values(), AT_TABLET], ids=[*JOBS, "lower-leg service at a tablet"])
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
    assert screens <= job.screens and asked <= job.most, (screens, asked, hand.told)
