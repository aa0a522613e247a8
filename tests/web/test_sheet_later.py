"""A sheet that is drawn anew, for its rider was erased, says what it said: of the unit and the bike as they were handed over."""

from __future__ import annotations

from dataclasses import replace

import pytest

from topout.units import parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Bike, Unit
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release.sheet import sheet_of
from topout.web.shelf import keeping as shelf
from web import job_states
from web.people import Cast


@pytest.mark.parametrize("state", ["taken in", "planned"])
def test_what_later_jobs_do_to_the_book_stands_on_no_sheet_of_before(cast: Cast, state: str) -> None:
    """31 mm of 140 stood there as of 170, for that is the travel today."""
    job = job_states.make(cast, state)
    assert job.unit is not None and job.bike is not None
    with change(cast.technician, "family", {}) as doing:
        job.unit.family = book.make_family(doing, name="Quillon 35", tables={"fork": {"friction": "16 N"}})
        book.keep(doing, job.unit)
    with change(cast.technician, "left", {}) as doing:
        readings.take(
            doing, job, "as-left", Taken.quantity("sag", parse("31 mm", "length"), "length", posture="standing")
        )
    with change(cast.owner, "over", {}) as doing:
        changes.release(
            doing, job, found="f", done="d", left="l", defects=["Bell loose."], next_service="n", fit_to_ride=False
        )
    first, as_of = sheet_of(Job.objects.get(pk=job.pk))
    unit, bike = Unit.objects.get(), Bike.objects.get()
    assert unit.family is not None
    unit.name, unit.tables["fork"]["travel"], bike.name = "Quillon 36 fork", "170 mm", "another frame"
    unit.worth = {"fork.travel": "typical"}
    unit.family.tables = {"fork": {"friction": "60 N"}}
    with change(cast.technician, "later", {}) as doing:
        for row in (unit, bike, unit.family):
            book.keep(doing, row)
        shelf.make_tag(doing, unit=unit)
        book.erase_rider(doing, job.rider)
    again, as_of_again = sheet_of(Job.objects.get(pk=job.pk))
    assert as_of_again == as_of and again.rider == "a rider, erased"
    assert replace(again, rider=first.rider, known=first.known) == first
    assert not any("170" in words or "60\u00a0N" in words for words in again.known), again.known
