"""A mixed-wheel conversion at tablet size: from the question to a way from the Shelf, to the plan in use and its steps."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from decimal import Decimal

import pytest
from playwright.sync_api import Browser, Page, expect

from topout.web.access.change import change
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.shelf import keeping as shelf
from web import people
from web.browser.rules import settled
from web.outside_cast import ASKED, outside_job
from web.plan_cast import hollin_job
from web.served import served, signed_in

pytestmark = pytest.mark.browser


@pytest.fixture
def job(cast: people.Cast) -> Job:
    job = hollin_job(cast.owner, fork={"overtravel": "0 mm"}, frame={"fork_length_limit": "580 mm"})
    with change(cast.owner, "shelf", {"made": "for a test"}) as doing:
        for gives, cost in (("150 mm", "118"), ("160 mm", "104")):
            shelf.make_part(
                doing,
                kind="air shaft",
                marking=f"S-{gives[:3]}",
                measured={"gives": gives, "bore": "34 mm"},
                cost=Decimal(cost),
            )
        for height, price in (("61 mm", "35"), ("64 mm", "55"), ("67 mm", "72")):
            shelf.make_part(doing, kind="tyre", measured={"height": height, "bore": "584 mm"}, cost=Decimal(price))
    return job


@pytest.fixture
def here(job: Job) -> Iterator[str]:
    with served() as address:
        yield address


def open_plan(chromium: Browser, here: str, cast: people.Cast, job: Job, **options: object) -> tuple[Page, list[str]]:
    context = signed_in(
        chromium, here, cast.technician, viewport={"width": 1180, "height": 820}, has_touch=True, **options
    )
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.goto(f"{here}/jobs/{job.number}/plan/")
    return page, faults


def test_a_smaller_rear_wheel_from_the_question_to_the_steps(
    chromium: Browser, here: str, cast: people.Cast, job: Job
) -> None:
    page, faults = open_plan(chromium, here, cast, job)
    page.locator("details.more summary").first.tap()
    page.locator(
        '.picks label:has(input[name="rear_bead"][value="584"]), label:has(input[name="rear_bead"][value="584"])'
    ).first.tap()
    settled(page)  # the answer moves the button
    page.get_by_role("button", name="What to fit").tap()
    page.wait_for_url(re.compile("/options/"))
    expect(page.locator(".says .answer").first).to_contain_text("Nearest to how it sits now")
    assert "Rear wheel" in page.inner_text("#ask")
    before = page.locator("#ways tbody:visible").count()
    assert before > 2

    # A tap on a dot picks its row, without a reload; so does one on a row.
    page.evaluate("window.same = true")
    rows = page.locator("#ways tbody")
    second = rows.last.get_attribute("data-way")  # its dot lies over those it may touch
    page.locator(f'svg .at[data-pick="{second}"] .dot').tap()
    expect(page.locator(f"#way-{second}")).to_have_class(re.compile("taken"))
    expect(page.locator(f"#picked-{second}")).to_be_visible()
    page.locator('.picks label:has(input[name="sort"][value="cost"])').tap()
    costs = [float(row.get_attribute("data-cost") or 0) for row in rows.all()]
    assert costs == sorted(costs)
    page.locator('.picks label:has(input[name="only"][value="none"])').tap()
    assert all(row.get_attribute("data-parts") == "0" for row in rows.all() if row.is_visible())
    page.locator('.picks label:has(input[name="only"][value=""])').tap()
    assert page.locator("#ways tbody:visible").count() == before and page.evaluate("window.same")

    with_part = next(row for row in rows.all() if row.get_attribute("data-parts") != "0")
    number = with_part.get_attribute("data-way")
    with_part.locator("a[data-pick]").tap()
    name = with_part.locator("a[data-pick]").inner_text()
    page.locator(f"#picked-{number} .go").tap()

    # The plan page has the way in its boxes; using it is the same guarded door as ever.
    page.wait_for_url(re.compile("/plan/"))
    expect(page.locator('input[name="rear_bead"][value="584"]')).to_be_checked()
    assert not FrozenPlan.objects.filter(job=job).exists()
    tyre = page.locator('input[name="rear_tyre"]').input_value()
    assert f"Rear tyre of {tyre} mm" in name.replace("\u00a0", " ")
    page.get_by_role("button", name="Use this plan").tap()
    expect(page.locator(".messages")).to_contain_text("The plan is in use")
    frozen = FrozenPlan.objects.get(job=job)
    asked = tomllib.loads(frozen.bench_file)["change"]["rear_wheel"]
    assert asked == {"bead_seat": "584 mm", "tyre_height": f"{tyre} mm"}
    page.goto(f"{here}/jobs/{job.number}/steps/all/")
    assert page.locator("main").inner_text().strip()
    assert faults == []
    page.context.close()


def test_without_a_script_the_address_picks_orders_and_leads_on(
    chromium: Browser, here: str, cast: people.Cast, job: Job
) -> None:
    page, _ = open_plan(chromium, here, cast, job, java_script_enabled=False)
    page.goto(
        f"{here}/jobs/{job.number}/options/?rear_bead=584&travel=140&spacers=2&pressure=62&offset=44&bead=622&tyre=58&rear_tyre=58"
    )
    second = page.locator("#ways tbody").nth(1).get_attribute("data-way")
    page.locator(f"#way-{second} a[data-pick]").tap()
    expect(page.locator(f"#picked-{second}")).to_be_visible()
    page.locator('label:has(input[name="sort"][value="cost"])').tap()
    page.get_by_role("button", name="Look again").tap()
    page.wait_for_url(re.compile("sort=cost"))
    expect(page.locator("#ways tbody").nth(2)).to_be_visible()
    costs = [float(row.get_attribute("data-cost") or 0) for row in page.locator("#ways tbody").all()]
    assert costs == sorted(costs) and len(costs) > 2
    page.locator(".picked:visible .go").tap()
    page.wait_for_url(re.compile(r"/plan/\?"))
    page.context.close()


def test_what_a_figure_lies_between_stays_in_its_column(chromium: Browser, cast: people.Cast) -> None:
    """Now and then of a fork known from outside: two limits each stood over the margin line on a tablet."""
    job = outside_job(cast.owner)
    asked = "&".join(f"{name}={text}" for name, text in ASKED.items())
    with served() as here:
        for width, height in ((1180, 820), (820, 1180), (390, 844)):
            page = signed_in(chromium, here, cast.technician, viewport={"width": width, "height": height}).new_page()
            page.goto(f"{here}/jobs/{job.number}/options/?{asked}")
            picked = page.locator(".picked:not([hidden])")
            expect(picked.locator("table")).to_contain_text(" to ")
            whole, table = picked.bounding_box(), picked.locator("table").bounding_box()
            assert whole is not None and table is not None
            assert table["x"] + table["width"] <= whole["x"] + whole["width"] + 0.5, (width, whole, table)
