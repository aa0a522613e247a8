"""Doors beside the release: another frame, a reading that tells nothing of the unit, an owner's reason, a rider who was erased meanwhile."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from topout.units import parse
from topout.web.access.change import change
from topout.web.book import fitting
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job, RiderNotes
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions, leaving
from topout.web.jobs.release.sheet import sheet_of
from web import people
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, failing, gauge
from web.test_left_failing import GAP, worked
from web.test_other_jobs import TOLD, another, handed_back, whole
from web.test_shock_plan import full_suspension


def without_steps(job: Job, **instead: Any) -> Job:
    """The job worked as it was asked, without a procedure."""
    Job.objects.filter(pk=job.pk).update(procedure="", **instead)
    return Job.objects.get(pk=job.pk)


def said(job: Job) -> list[str]:
    return [each.words.replace("\xa0", " ") for each in contradictions.faults_of(Job.objects.get(pk=job.pk))]


@pytest.mark.parametrize("posted", [True, False])
def test_a_fork_too_long_for_the_frame_that_it_went_on_is_told(cast: Cast, posted: bool) -> None:
    """The frame of the day it came was asked alone: put on another one since, 546 mm went out where its maker allows 530."""
    job = without_steps(hollin_job(cast.technician), **({"bike": None} if posted else {}))
    assert job.unit is not None
    travel = Taken.quantity("travel", parse("150 mm", "length"), "length")
    with change(cast.technician, "put on", {}) as doing:
        low = book.make_bike(
            doing, rider=job.rider, name="Low frame", tables={"frame": {"fork_length_limit": "530 mm"}}
        )
        for stage in ("as-found", "as-left"):
            readings.take(doing, job, stage, travel)
    assert not any("Low frame" in each for each in said(job))
    with change(cast.technician, "put on", {}) as doing:
        fitting.fit(doing, job.unit, low, timezone.localtime().date())
    (told,) = [each for each in said(job) if "fork length" in each]
    assert "on Low frame is over the limit of 530 mm" in told


@pytest.mark.parametrize("stage", ["as-found", "as-left"])
def test_the_days_temperature_is_not_how_a_unit_is(cast: Cast, stage: str) -> None:
    """Nothing but 20 °C was read as left, and the fork went out as fit to ride."""
    job = without_steps(hollin_job(cast.technician))
    other = Job.objects.get(pk=another(cast, job).pk)
    warm = Taken.quantity("temperature", parse("20 degC", "temperature"), "temperature")
    with change(cast.technician, "read", {}) as doing:
        for each in ("as-found", "as-left"):
            readings.take(doing, other, each, warm if each == stage else Taken.count("rebound", 7, of_range=14))
    (fault,) = contradictions.faults_of(other)
    assert fault.words == f"How it {'was found' if stage == 'as-found' else 'is left'} is not written down."
    assert fault.stops(fit=True)


def test_a_charged_shock_beside_it_stands_on_the_sheet_whatever_the_owners_reason(cast: Cast) -> None:
    """An owner signed why the fork goes out; the rider’s sheet said nothing of the shock that nobody may unscrew."""
    gauge()
    job = without_steps(whole(cast, full_suspension(cast.technician, "fork")))
    there = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=core.other_end(job)))
    there.begin()
    point = there._work("free-length")
    assert point is not None
    there.sign(point, failing(there.here(), point))
    handed_back(cast, there.job)
    (charged,) = contradictions.faults_of(job)
    with change(cast.owner, "over", {}) as doing:
        release = leaving.hand_over(doing, job, reason="It goes on to the maker with it.", **TOLD)
    assert release.fit_to_ride and release.defects == [charged.words] == release.contradictions
    sheet, _ = sheet_of(Job.objects.get(pk=job.pk))
    assert any(charged.words in each for each in sheet.defects)


def test_a_gap_that_did_not_pass_stands_on_the_sheet_too(cast: Cast) -> None:
    job = worked(cast, "crown-gap", GAP).job
    (fault,) = contradictions.faults_of(job)
    with change(cast.owner, "over", {}) as doing:
        release = leaving.hand_over(doing, job, reason="He rides it at home.", **TOLD)
    assert release.defects == [fault.words] and "2 mm" in fault.words.replace("\xa0", " ")


def test_a_rider_who_was_erased_is_told_nothing_for_good(cast: Cast, technician_in: Client) -> None:
    """Erased while the job was here, a hand-over’s words for the rider, and the sheet with them, stayed past the erasing."""
    job = without_steps(whole(cast, hollin_job(cast.technician)))
    place = reverse("hand-over", args=[job.number])
    told = {name: TOLD[name] for name in ("found", "done", "left", "next_service")} | {"fit_to_ride": "yes"}
    assert people.send(technician_in, place, told | {"notes": "Ring 0555 0110 if it sinks."}).status_code == 303
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, job.rider)
    assert "The rider is erased" in technician_in.get(f"{place}check/").content.decode()
    with pytest.raises(leaving.NotYet, match="The rider is erased"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(
            doing, Job.objects.get(pk=job.pk), reason="because", **TOLD, notes="Ring 0555 0110 if it sinks."
        )
    assert people.send(technician_in, place, told).status_code == 303
    drawn = people.field_of(technician_in.get(f"{place}check/"), "drawn_at")
    assert people.send(technician_in, f"{place}check/", {"drawn_at": drawn}).status_code == 303
    assert not RiderNotes.objects.exists()
