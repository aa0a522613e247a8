"""A warning of the plan names the step that deals with it: plain words before the steps begin, its address after."""

from __future__ import annotations

import re

from django.test import Client

from topout.planner.limits import CODES
from topout.planner.variables import VOCABULARY
from topout.procedures.model import WARNINGS
from topout.procedures.read import shipped
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.steps import sign
from web import people
from web.plan_cast import ASKED, hollin_job


def warnings(browser: Client, number: int, **boxes: str) -> str:
    page = browser.get(f"/jobs/{number}/plan/", {**ASKED, **boxes}).content.decode()
    found = re.search(r'<div class="warn" id="warnings".*?</div>', page, re.S)
    assert found
    return found.group()


def test_the_lists_of_warnings_are_one() -> None:
    assert set(WARNINGS) == set(CODES) and len(WARNINGS) == len(CODES)


def test_the_shipped_procedure_deals_with_what_work_can_deal_with() -> None:
    dealt = {
        code for step in shipped("travel-change-by-air-shaft", VOCABULARY).procedure.steps() for code in step.deals_with
    }
    # These are mended at the plan itself, in the Book, or with the rider there: no step of this work deals with them.
    assert set(CODES) - dealt == {
        "chart-open",
        "missing-input",
        "no-pressure",
        "load-assumed",
        "load-implausible",
        "nearly-locked",
        "no-coil",
        "coil-bind",
    }


def test_before_the_steps_begin_it_stands_in_words(technician_in: Client, cast: people.Cast) -> None:
    said = warnings(technician_in, hollin_job(cast.owner).number)
    assert "In the steps: Measure the gap from tyre to crown, fully in." in said and "/steps/" not in said
    assert "In the steps: Press the main core slowly until nothing comes." in said, "the port lies further in"


def test_numbers_of_the_boxes_stand_in_its_sentence(technician_in: Client, cast: people.Cast) -> None:
    said = warnings(technician_in, hollin_job(cast.owner).number, travel="170")
    assert "In the steps: Check the frame maker’s limit for 170\u00a0mm travel." in said and "{" not in said


def test_a_second_valve_has_its_own_step(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(
        cast.owner, fork_air={"negative": "separate-valve", "negative_pressure": "60 psi", "port_position": "0 mm"}
    )
    assert "Press the negative core slowly until nothing comes." in warnings(technician_in, job.number)


def test_once_begun_it_is_the_address_of_the_step(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner)
    asked = {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}}
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, job, asked)
    with change(cast.owner, "go on", {}) as doing:
        sign.go_on(doing, job)
    said = warnings(technician_in, job.number, tyre="62")
    found = re.findall(rf'<a href="(/jobs/{job.number}/steps/[a-z-]+/)">Step: ', said)
    assert f"/jobs/{job.number}/steps/crown-gap/" in found
    assert all(technician_in.get(address).status_code in (200, 302, 303) for address in found)
