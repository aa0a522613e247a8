"""A procedure of the workshop's own, given from a tablet: a file with faults, mended in the box, kept, taken for a job."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, expect

from topout.web.jobs.records.models import Job, OwnVersion
from web import own_kit
from web.browser import rules
from web.browser.demo_pages import demo_served
from web.served import SIZES, signed_in

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def here(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with demo_served(demo_file, tmp_path_factory.mktemp("own")) as address:
        yield address


@pytest.mark.parametrize("size", ["phone", pytest.param("tablet", marks=pytest.mark.soak)])
def test_a_file_is_given_mended_kept_and_taken_for_a_job(
    chromium: Browser, here: str, tmp_path: Path, size: str
) -> None:
    width, height = SIZES[size]
    owner = User.objects.get(username="maud")
    page = signed_in(chromium, here, owner, viewport={"width": width, "height": height}).new_page()
    page.goto(here)
    page.get_by_role("link", name="Procedures", exact=True).click()
    page.get_by_role("link", name="Add a procedure").click()
    key = f"wiper-{size}"
    file = tmp_path / f"{key}.toml"
    text = own_kit.text(title=f"Wipers on a {size}")
    file.write_text(
        text.replace("Wipe both", "wipe both").replace("on each wiper lip.", "on each lip, then wipe."), "utf-8"
    )
    page.set_input_files("input[type=file]", file)
    page.get_by_role("button", name="Check and save it").click()
    faults = page.locator("#faults li")
    expect(faults).to_have_count(2)
    assert "line 16" in faults.nth(0).inner_text() and "line 21" in faults.nth(1).inner_text()
    assert rules.sideways(page) <= 0
    assert page.locator("[name=key]").input_value() == key, "the file's name stays"
    box = page.locator("textarea")
    assert "wipe both stanchions" in box.input_value()
    box.fill(text)
    page.get_by_role("button", name="Check and save it").click()
    expect(page.locator(".messages")).to_contain_text("is saved. It may be chosen for a job from now on.")
    page.get_by_role("link", name=f"Wipers on a {size}").click()
    expect(page.locator("pre")).to_contain_text("Put a drop of oil on each wiper lip.")
    row = OwnVersion.objects.get(key=key)
    page.goto(here + "/jobs/new/")
    page.fill("[name=rider_name]", "Ilse Varn")
    page.fill("[name=unit_name]", "a fork")
    page.fill("[name=asked_title]", "wipers")
    page.fill("[name=asked]", "Squeaks.")
    page.get_by_role("radio", name=f"Wipers on a {size}, version 1, the workshop’s own").check()
    page.get_by_role("radio", name="no, another one").check()  # the demo has a fork that stands charged
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("main")).to_contain_text("Topout’s authors have not checked it")
    job = Job.objects.latest("pk")
    assert job.procedure == row.text.procedure
    page.goto(here + f"/jobs/{job.number}/steps/")
    page.get_by_role("button", name="Begin at step 1").click()
    expect(page.locator("header")).to_contain_text("our own steps")
    assert rules.sideways(page) <= 0
    page.context.close()
