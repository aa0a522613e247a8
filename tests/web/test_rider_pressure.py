"""The pressure that a rider wants, read as the unit goes back: the maker's limit of the Book is its end, whichever unit, with a plan or without."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from topout.units import NO_BREAK, parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.core import danger
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps.taken import Answer
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, gauge, passing
from web.test_shock_plan import full_suspension


def limit(cast: Cast, job: Job, most: str) -> None:
    """The Book says so of the job's unit from now on."""
    assert job.unit is not None
    table = f"{job.unit.what.noun}.air"
    job.unit.tables = {**job.unit.tables, table: {**job.unit.tables.get(table, {}), "pressure_limit": most}}
    with change(cast.owner, "limit", {}) as doing:
        book.keep(doing, job.unit)


def at_the_last_step(cast: Cast, end: str) -> Hands:
    gauge()
    job = hollin_job(cast.technician) if end == "front" else full_suspension(cast.technician, "shock")
    Job.objects.filter(pk=job.pk).update(procedure="return-to-rider")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    with change(cast.technician, "read", {}) as doing:
        readings.take(doing, hands.job, "as-found", Taken.quantity("pressure", parse("90 psi", "pressure"), "pressure"))
    hands.begin()
    assert hands._work("rider-pressure") is not None
    return hands


def read(hands: Hands, psi: str, *, again: bool = False) -> str:
    here = hands.here()
    slot = here.slot("rider-pressure")
    assert slot is not None
    value = Answer(text=psi, value_si=parse(psi, "pressure").value_si, unit="psi")
    answers: dict[str, Any] = passing(here, slot) | {"rider-pressure": value}
    return hands.sign(slot, answers, again=again).verdict


@pytest.mark.parametrize("end", ["front", "rear"])
def test_a_rider_s_pressure_over_the_makers_limit_does_not_pass(cast: Cast, technician_in: Client, end: str) -> None:
    """It took any pressure to 400 psi, and only the release compared it with the limit."""
    hands = at_the_last_step(cast, end)
    limit(cast, hands.job, "95 psi")
    hands.job = Job.objects.get(pk=hands.job.pk)
    assert read(hands, "96 psi") == "failed" and [each.entry.step_key for each in danger.of(hands.job)] == [
        "rider-pressure"
    ]
    page = (
        technician_in.get(reverse("step", args=[hands.job.number, "rider-pressure"]))
        .content.decode()
        .replace(NO_BREAK, " ")
    )
    assert "95 psi" in page
    assert read(hands, "95 psi", again=True) == "passed" and danger.of(hands.job) == ()


def test_a_limit_that_is_lowered_afterwards_asks_for_the_step_again(cast: Cast) -> None:
    hands = at_the_last_step(cast, "front")
    assert read(hands, "90 psi") == "passed"
    last = hands.here().slot("rider-pressure")
    assert last is not None and hands.here().settled(last)
    limit(cast, hands.job, "80 psi")
    hands.job = Job.objects.get(pk=hands.job.pk)
    assert not hands.here().settled(last)


def test_a_plan_over_the_limit_stands_by_its_owners_reason(cast: Cast) -> None:
    """What an owner put their name to is the end then, and nothing above it."""
    hands = at_the_last_step(cast, "front")
    limit(cast, hands.job, "80 psi")
    job = Job.objects.get(pk=hands.job.pk)
    with change(cast.owner, "plan", {}) as doing:
        core.freeze(doing, job, {"change": {"pressure": "84 psi"}})
    hands.job = Job.objects.get(pk=job.pk)
    hands._work("rider-pressure")
    assert read(hands, "85 psi") == "failed"
    assert read(hands, "84 psi", again=True) == "passed"
