"""No steps for a fork whose second chamber they would leave charged behind the cap: with a plan, without one, and found out late."""

from __future__ import annotations

import html

import pytest
from django.test import Client

from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.steps.progress import walk
from web import people
from web.plan_cast import hollin_job
from web.steps_kit import Hands

SECOND = {"second_volume": "40 ml", "second_pressure": "150 psi"}


def planned(cast: people.Cast, job: Job) -> None:
    with change(cast.technician, "freeze", {"for": str(job.pk)}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})


@pytest.mark.parametrize(
    "keys", [SECOND, {"second_volume": "40 ml"}, {"second_pressure": "150 psi"}], ids=["both", "volume", "pressure"]
)
@pytest.mark.parametrize("plan", [True, False], ids=["plan", "card"])
def test_its_steps_are_refused(technician_in: Client, cast: people.Cast, keys: dict[str, object], plan: bool) -> None:
    """Half of it written is a second chamber too; a procedure that wants no plan is no way round."""
    job = hollin_job(cast.owner, fork_air=keys)
    if plan:
        planned(cast, job)
    else:
        Job.objects.filter(pk=job.pk).update(procedure="lower-leg-service")
        job = Job.objects.get(pk=job.pk)
    with pytest.raises(NoSteps, match="second air chamber"):
        walk(job)
    page = technician_in.get(f"/jobs/{job.number}/steps/", follow=True).content.decode()
    assert "would stay charged behind the cap" in html.unescape(page)


def test_found_out_when_the_steps_are_under_way(cast: people.Cast) -> None:
    """Written into the Book after steps were signed, and the plan made again: the steps end there."""
    job = hollin_job(cast.owner)
    planned(cast, job)
    hands = Hands(cast.technician, job)
    hands.begin()
    unit = job.unit
    assert unit is not None
    unit.tables = {**unit.tables, "fork.air": {**unit.tables["fork.air"], **SECOND}}
    unit.save()
    planned(cast, Job.objects.get(pk=job.pk))
    with pytest.raises(NoSteps, match="second air chamber"):
        walk(Job.objects.get(pk=job.pk))
