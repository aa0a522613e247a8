"""A full-suspension bike at tablet size, both ends: its shock taken in, both ends planned, the plan worked and on the sheet.

The fork stands in the Book from an earlier job; frame, linkage and shock are written there by the same hand. Every day the engine signs the
steps, as their pages would ask; in the soak they are worked.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.access.change import change
from topout.web.book import keeping
from topout.web.book.models import Bike, Rider, Unit
from topout.web.jobs.records.models import FrozenPlan, Job
from web.browser.conftest import Clock
from web.browser.foreseen import Foreseen, foreseen
from web.browser.journey import Journey
from web.browser.pace import Practised
from web.people import Cast
from web.steps_kit import Hands, gauge

pytestmark = [pytest.mark.browser, pytest.mark.poppler]
FILE = Path(__file__).parents[3] / "examples" / "rear-shock.toml"
SCREENS, MOST = 21, 62  # of the can's steps, as in test_whole_jobs_browser.py, and what the plan adds


@pytest.mark.parametrize("by_pages", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["signed", "worked"])
def test_both_ends_from_the_door_to_the_sheet(
    chromium: Browser, here: str, cast: Cast, time_of_day: Clock, tmp_path: Path, by_pages: bool
) -> None:
    gauge()
    told = tomllib.loads(FILE.read_text())
    hands, made = Hands(cast.technician, Job()), []
    context = chromium.new_context(viewport={"width": 1180, "height": 820}, has_touch=True, locale="en-GB")

    def practised(page: Page) -> Practised:
        made.append(Practised(page, here, hands, time_of_day.wait))
        return made[-1]

    way = Journey(context, here, practised, time_of_day.wait)
    way.sign_in()
    way.take_in("rear-shock-air-can", "firmer behind, same sag", kind="shock", unit="Short shock")
    hands.job = Job.objects.get(number=int(way.number))
    fork = {"fork.air": told["fork"].pop("air")} | {"fork": told["fork"]}
    with change(cast.owner, "fork", {"for": "both ends"}) as doing:
        keeping.make_unit(doing, bike=Bike.objects.get(), name="Long fork", tables=fork)

    way.follow("Trail bike, large")
    way.follow("Change")
    for table in ("bike", "frame"):
        for word, value in told[table].items():
            way.hand.write(way.box(f"{table}-{word}"), str(value))
    rows = "\n".join(
        f"{travel.removesuffix(' mm')}\t{str(ratio).replace('.', ',')}" for travel, ratio in told["shock"]["leverage"]
    )
    way.hand.write(way.box("shock-leverage"), f"wheel travel\tratio\n{rows}")
    way.send("Save the bike")
    expect(way.page.locator("main")).to_contain_text("140.5\u00a0mm: 2.33")
    Rider.objects.update(tables={"rider": told["rider"]})
    way.card()
    way.follow("Short shock")
    shock = told["shock"]
    air, damper, bumper = (shock.pop(part) for part in ("air", "damper", "bumper"))
    del shock["leverage"], air["pressure"], air["spacers"]
    way._change(
        "shock", "shock-air", "shock-damper", "shock-bumper",
        tables={"shock": shock, "shock-air": air, "shock-damper": damper, "shock-bumper": bumper},
    )  # fmt: skip
    way.card()
    way.follow("Write down how it was")
    for name, text in {"pressure": "150", "spacers": "1", "temperature": "20"}.items():
        way.hand.write(way.box(name), text)
    way.send("Save what was read")

    way.follow("Open the plan")
    page = way.page
    expect(page.locator("#planname")).to_have_text("Both ends")
    expect(page.locator("#stance figcaption")).to_contain_text("Both ends at sag, to scale")
    expect(page.locator("#shock_pressure")).to_be_visible()
    expect(page.locator("#pressure")).to_be_hidden()
    page.locator("label", has=page.locator("#end-fork")).tap()
    expect(page.locator("#pressure")).to_be_visible()
    expect(page.locator("#shock_pressure")).to_be_hidden()
    page.locator("label", has=page.locator("#end-shock")).tap()
    expect(page.locator("#set:not([data-asking])")).to_have_count(1)
    page.get_by_role("button", name=re.compile("Shock spacers, one more")).tap()
    expect(page.locator("#answer")).to_contain_text(re.compile("Shock: set 150.*with two volume spacers.*Fork: set 80"))
    expect(page.locator("#set:not([data-asking])")).to_have_count(1)  # what is out of sight follows
    keep = page.locator("#take-rear-1")
    expect(keep).not_to_have_attribute("data-set", "150")
    wanted = keep.get_attribute("data-set") or ""
    keep.tap()
    expect(page.locator("#answer")).to_contain_text(f"Shock: set {wanted}\u00a0psi")
    expect(page.locator("#part-stance .under")).to_contain_text("of stroke")
    expect(page.locator("#set:not([data-asking])")).to_have_count(1)
    page.set_viewport_size({"width": 390, "height": 844})
    expect(page.locator("#part-stance svg").first).to_have_attribute("width", re.compile(r"^3\d\d$"))
    expect(page.locator("#set:not([data-asking])")).to_have_count(1)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.set_viewport_size({"width": 1180, "height": 820})
    expect(page.locator("#part-stance svg").first).to_have_attribute("width", re.compile(r"^7\d\d$"))
    expect(page.locator("#set:not([data-asking])")).to_have_count(1)
    way.send("Use this plan")
    assert f"The plan is in use. Shock: set {wanted} psi" in page.inner_text(".messages").replace("\u00a0", " ")

    hand = made[0]
    if by_pages:
        most = foreseen(hands, time_of_day)
        start = (hand.screens, hand.taps + hand.figures)
        hand.work()
        screens, asked = hand.screens - start[0], hand.taps + hand.figures - start[1]
        assert (screens, asked) == most, hand.told
    else:
        screens, asked = Foreseen(hands, time_of_day).work()
    print(f"\nboth ends: at the steps {screens} screens, {asked} taps and typed figures; from the door {hand}")
    way.hand_over()
    text = " ".join(way.sheet(tmp_path).split())
    for words in (f"{wanted} psi", "of the stroke", "of the wheel’s travel", "shock at free length"):
        assert words in text, (words, text)
    frozen = FrozenPlan.objects.get()
    assert set(tomllib.loads(frozen.bench_file)["change"]) == {"shock"}, "the fork stays as it is"
    kept = Unit.objects.get(name="Short shock").tables["shock.air"]
    assert kept["spacers"] == 2 and kept["pressure"].startswith(wanted)
    assert way.faults == []
    assert screens <= SCREENS and asked <= MOST, (screens, asked, hand.told)
    context.close()
