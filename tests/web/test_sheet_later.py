"""A sheet that is drawn anew, for its rider was erased, says what it said: of the unit and the bike as they were handed over."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.utils import timezone

from topout.units import parse
from topout.web import clock
from topout.web.access import preferences
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.book import fitting
from topout.web.book import keeping as book
from topout.web.book.models import Bike, Unit
from topout.web.jobs import core
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release.sheet import sheet_of
from topout.web.shelf import keeping as shelf
from web import job_states
from web.people import Cast
from web.test_shock_plan import full_suspension, plain


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


TOLD = {"found": "f", "done": "d", "left": "l", "defects": ["Bell loose."], "next_service": "n", "fit_to_ride": False}


def released(cast: Cast, job: Job) -> Job:
    with change(cast.owner, "over", {}) as doing:
        changes.release(doing, job, **TOLD)  # type: ignore[arg-type]
    return Job.objects.get(pk=job.pk)


def test_what_the_workshop_sets_otherwise_later_stands_on_no_sheet_of_before(cast: Cast) -> None:
    """A sheet of last year had the name, the paper, the units and the hour of today's settings."""
    Workshop.objects.create(name="Askel", paper="a4", time_zone="Europe/London", started_at=clock.now())
    job = job_states.make(cast, "planned")
    with change(cast.technician, "left", {}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("pressure", parse("70 psi", "pressure"), "pressure"))
    job = released(cast, job)
    with preferences.read_once():
        first = sheet_of(job)
    for values in (
        {"name": "Askel and Pask", "pressure_unit": "bar", "length_unit": "in", "time_zone": "Asia/Tokyo"},
        {"name": "Pask", "paper": "letter", "label_width_mm": 60.0, "label_length_mm": 40.0},
    ):
        with change(cast.owner, "settings", {}) as doing:
            preferences.save(doing, **values)
    with preferences.read_once():
        assert sheet_of(job) == first
        assert preferences.unit("pressure", "psi") == "bar", "today's stand where they were"
    assert (first[0].workshop, first[0].paper) == ("Askel", "a4")


def test_the_other_end_as_it_stood_is_on_the_sheet(cast: Cast) -> None:
    """Whether the shock stood as the plan sets it was told of the shock of today, another one even."""
    job = full_suspension(cast.technician, "fork")
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, {"change": {"pressure": "76 psi"}, "change.shock": {"pressure": "140 psi"}})
    half = "This takes the shock set too"
    shock = core.other_end(job)
    assert shock is not None and half in plain(sheet_of(job)[0].changed)
    with change(cast.technician, "its own job", {}) as doing:
        shock.tables["shock.air"]["pressure"] = "140 psi"
        book.keep(doing, shock)
    job = released(cast, job)
    first = sheet_of(job)
    assert half not in plain(first[0].changed)
    with change(cast.technician, "later", {}) as doing:
        shock.tables["shock.air"]["pressure"] = "180 psi"
        book.keep(doing, shock)
    assert sheet_of(job) == first
    with change(cast.technician, "later still", {}) as doing:
        fitting.fit(doing, shock, None, timezone.localtime(doing.at).date())
    assert sheet_of(Job.objects.get(pk=job.pk)) == first
