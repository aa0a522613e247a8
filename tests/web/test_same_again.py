"""A fork that nobody may open, typed in as a new one: it is asked whether it is that one, by whatever way and under whatever name it comes."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.desk.same_again import ANOTHER
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job, Remark
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import leaving
from web import job_states, people
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, gauge
from web.test_other_jobs import TOLD, handed_back, planned

NEW: dict[str, Any] = {
    "rider_name": "Ilse Varn", "unit_name": "black fork", "unit_kind": "fork", "asked_title": "service", "asked": "It is hard.",
    "technician": "jory", "procedure": "",
}  # fmt: skip


def of_the_book(new: dict[str, Any], unit: Unit, rider: object) -> dict[str, Any]:
    """The same of a unit that stands in the Book."""
    return {key: value for key, value in new.items() if key[:5] not in ("unit_", "rider")} | {
        "unit": unit.pk,
        "rider": rider,
    }


def test_what_is_typed_in_while_a_fork_stands_charged_is_asked_for(cast: Cast, technician_in: Client) -> None:
    """Whoever brings it, whatever it is called, also as another kind of unit."""
    job = job_states.make(cast, "blocked")
    said = f"{job.unit} of job {job.number} (charged, do not open)"
    before = Job.objects.count()
    assert "Is it one of these, which nobody may open?" in technician_in.get("/jobs/new/").content.decode()
    for more in ({}, {"unit_kind": "shock"}, {"rider_name": "", "rider": job.rider_id}):
        answer = people.send(technician_in, "/jobs/new/", NEW | more)
        assert answer.status_code == 422 and f"Not to be opened: {said}. Look whether" in answer.content.decode()
    assert Job.objects.count() == before and not Unit.objects.filter(name="black fork").exists()

    assert people.send(technician_in, "/jobs/new/", NEW | {"is_charged": str(job.unit_id)}).status_code == 303
    same = Job.objects.latest("pk")
    assert (same.unit, same.bike, str(same.rider)) == (job.unit, None, "Ilse Varn")
    assert unit_dangers.of_other_jobs(same) and not Unit.objects.filter(name="black fork").exists()

    assert people.send(technician_in, "/jobs/new/", NEW | {"is_charged": ANOTHER}).status_code == 303
    another = Job.objects.latest("pk")
    assert another.unit is not None and another.unit.name == "black fork" and not unit_dangers.of_other_jobs(another)
    (remark,) = Remark.objects.filter(job=another)
    assert (remark.words, remark.who) == (f"Said at the take-in: another one than {said}.", cast.technician)


def test_of_the_riders_own_bike_it_comes_in_on_it(cast: Cast, technician_in: Client) -> None:
    job = job_states.make(cast, "blocked")
    theirs = NEW | {"rider_name": "", "rider": job.rider_id, "is_charged": str(job.unit_id)}
    assert people.send(technician_in, "/jobs/new/", theirs).status_code == 303
    same = Job.objects.latest("pk")
    assert (same.unit, same.bike) == (job.unit, job.bike)
    answer = people.send(
        technician_in, "/jobs/new/", NEW | {"is_charged": str(job.unit_id), "bike_name": "another bike"}
    )
    assert (
        answer.status_code == 422 and f"{job.unit} is fitted to {job.bike}. Leave the bike" in answer.content.decode()
    )
    nobody = NEW | {"is_charged": str(job.unit_id), "rider_name": ""}
    answer = people.send(technician_in, "/jobs/new/", nobody)
    assert answer.status_code == 422 and "Choose a rider" in answer.content.decode()


def test_a_unit_of_the_book_that_no_job_knows_is_asked_for_and_one_that_was_here_is_not(
    cast: Cast, technician_in: Client
) -> None:
    """Typed into the Book first, or read from a file, it was as new as one typed in at the take-in."""
    job = job_states.make(cast, "blocked")
    with change(cast.technician, "made", {}) as doing:
        bike = book.make_bike(doing, rider=job.rider, name="Sedge hardtail", tables={})
        fresh = book.make_unit(doing, bike=bike, name="black fork", tables={})
        known = book.make_unit(doing, bike=None, name="grey fork", tables={})
        asked: dict[str, Any] = {"asked_title": "service", "asked": "It knocks."}
        seen = changes.take_in(doing, rider=job.rider, bike=None, unit=known, **asked)
    assert seen.unit is not None
    answer = people.send(technician_in, "/jobs/new/", of_the_book(NEW, fresh, job.rider_id))
    assert answer.status_code == 422 and "Look whether it is one of these" in answer.content.decode()
    assert (
        people.send(
            technician_in, "/jobs/new/", of_the_book(NEW, fresh, job.rider_id) | {"is_charged": ANOTHER}
        ).status_code
        == 303
    )
    assert people.send(technician_in, "/jobs/new/", of_the_book(NEW, seen.unit, seen.rider_id)).status_code == 303
    was_here = of_the_book(NEW, seen.unit, seen.rider_id) | {"is_charged": str(job.unit_id)}
    answer = people.send(technician_in, "/jobs/new/", was_here)
    assert answer.status_code == 422 and "was here before, and is not" in answer.content.decode()


def test_it_is_asked_as_long_as_it_stands_charged(cast: Cast, technician_in: Client) -> None:
    job = job_states.make(cast, "blocked")
    hold = Hands(cast.technician, job).here().current
    assert hold is not None
    Hands(cast.technician, job).sign(hold)
    assert "which nobody may open" not in technician_in.get("/jobs/new/").content.decode()
    assert people.send(technician_in, "/jobs/new/", NEW).status_code == 303


def test_what_a_rider_left_open_is_asked_for_when_it_comes_back_under_another_name(
    cast: Cast, technician_in: Client
) -> None:
    """It went back open, not fit, and came again as “black fork”: the new job pumped it, its circlip never asked for."""
    gauge()
    job = hollin_job(cast.technician)
    hands = planned(cast, job)
    hands._work("ring-seated")
    name = str(job.rider)
    for how in ("lies open", "went back open"):
        asked = f"{job.unit} of job {job.number} ({how})"
        for more in (
            {"rider_name": name},
            {"rider_name": f" {name.upper()} "},
            {"rider_name": "", "rider": job.rider_id},
        ):
            answer = people.send(technician_in, "/jobs/new/", NEW | more)
            page = answer.content.decode()
            assert answer.status_code == 422 and f"Open: {asked}. Look whether it is one of these" in page, (how, more)
            assert "Is it one of these, which lie open?" in page
        if how == "lies open":
            with change(cast.owner, "out", {}) as doing:
                readings.take(doing, job, "as-left", Taken.count("rebound", 7, of_range=14))
                leaving.hand_over(doing, job, reason="He wants it back.", **TOLD | {"fit_to_ride": False})
    assert people.send(technician_in, "/jobs/new/", NEW).status_code == 303, "another rider's is not asked for"
    same = NEW | {"rider_name": name, "is_charged": str(job.unit_id)}
    assert people.send(technician_in, "/jobs/new/", same).status_code == 303
    assert Job.objects.latest("pk").unit == job.unit
    assert people.send(technician_in, "/jobs/new/", same | {"is_charged": ANOTHER}).status_code == 303
    another = Job.objects.latest("pk")
    assert [each.words for each in Remark.objects.filter(job=another)] == [
        f"Said at the take-in: another one than {asked}."
    ]


def test_what_an_erased_rider_left_open_is_asked_for_whoever_is_typed_in(cast: Cast, technician_in: Client) -> None:
    """Erased, its rider has no name: the fork that went back open came again as a new one of a new rider, and was pumped."""
    gauge()
    job = hollin_job(cast.technician)
    planned(cast, job)._work("ring-seated")
    handed_back(cast, job)
    name = str(job.rider)
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, job.rider)
    asked = f"Open: {job.unit} of job {job.number} (went back open). Look whether it is one of these"
    answer = people.send(technician_in, "/jobs/new/", NEW | {"rider_name": name})
    assert answer.status_code == 422 and asked in answer.content.decode()
    same = people.send(technician_in, "/jobs/new/", NEW | {"rider_name": name, "is_charged": str(job.unit_id)})
    assert same.status_code == 303 and Job.objects.latest("pk").unit == job.unit


@pytest.mark.parametrize("state", [*job_states.STATES, *job_states.MORE_STATES])
def test_the_database_leaves_out_none_that_must_not_be_opened(cast: Cast, state: str) -> None:
    """Against every unit asked for by its own jobs."""
    job_states.make(cast, state)
    asked = unit_dangers.of_units([unit.pk for unit in Unit.objects.all()])
    loaded = {unit for unit, dangers in asked.items() if any(each.loaded for each in dangers)}
    assert unit_dangers.loaded_anywhere().keys() == loaded
    assert state != "blocked" or loaded
