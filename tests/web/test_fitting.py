"""A unit comes off its bike and goes on another: said with a day, kept, and nothing of it lost or taken for another's."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from topout.web import clock, days
from topout.web.access.change import change
from topout.web.book import ends, fitting, history
from topout.web.book import keeping as book
from topout.web.book import tables as bench_tables
from topout.web.book.models import Bike, Unit
from topout.web.export import tables as exported
from topout.web.jobs import core
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.desk.intake import units_of
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job
from topout.web.jobs.release import contradictions
from web import job_states, people
from web.people import Cast
from web.steps_kit import Hands, failing, gauge
from web.test_other_jobs import another, handed_back, whole
from web.test_shock_plan import full_suspension, plain

TODAY = timezone.localtime(clock.now()).date


def page_of(unit: Unit) -> str:
    return reverse("unit-fitted", args=[unit.pk])


def sent(client: Client, unit: Unit, **fields: Any) -> Any:
    as_of = people.field_of(client.get(page_of(unit)), "as_of")
    return people.send(client, page_of(unit), {"as_of": as_of, **fields})


def second_bike(cast: Cast, job: Job, **tables: Any) -> Bike:
    with change(cast.technician, "bike", {}) as doing:
        return book.make_bike(doing, rider=job.rider, name="The winter bike", serial="WB-7", tables=tables)


def test_a_shock_comes_off_and_another_stands_there_with_history_and_day(cast: Cast, technician_in: Client) -> None:
    """The Book could take no unit off a bike: the first that was ever put in was the other end for good."""
    job = full_suspension(cast.technician, "fork")
    old = core.other_end(job)
    assert old is not None and job.bike is not None
    place = reverse("unit-new", args=[job.bike.pk]) + "?kind=shock"
    new = {"kind": "shock", "name": "The new shock", "shock-stroke": "55"}
    answer = people.send(technician_in, place, new)
    assert answer.status_code == 422 and f"{old} stands there on {job.bike}" in answer.content.decode()
    assert people.send(technician_in, place, new | {"instead": "on"}).status_code == 422, "the day is asked"
    assert people.send(technician_in, place, new | {"instead": "on", "since": "yesterday"}).status_code == 303
    fresh, old = Unit.objects.get(name="The new shock"), Unit.objects.get(pk=old.pk)
    assert core.other_end(Job.objects.get()) == fresh
    assert old.bike is None and old.came_off == job.bike and old.stands_since == TODAY() - timedelta(days=1)
    told = plain(technician_in.get(reverse("bike", args=[job.bike.pk])).content.decode())
    assert f"The new shock rear shock since {ends.day(fresh.stands_since or date.min)}" in told
    assert f"{old} off {job.bike} since" in told
    assert history.of(old)[0].what[0].startswith(f"off {job.bike}, since ") and history.of(old)[0].by == "Jory Pask"
    assert old in units_of(job.rider), "it is theirs still"
    assert str(old) in technician_in.get(reverse("rider", args=[job.rider_id])).content.decode()
    rows = {table.name: list(table.rows()) for table in exported.of_rider(job.rider)}
    assert {row[0] for row in rows["book_unit"]} == {row.pk for row in Unit.objects.all()}


def test_it_is_put_on_another_bike_by_its_page_and_back(cast: Cast, technician_in: Client) -> None:
    job = full_suspension(cast.technician, "fork")
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    winter = second_bike(cast, job)
    assert sent(technician_in, shock, where=str(winter.pk), since="today").status_code == 303
    shock.refresh_from_db()
    assert shock.bike == winter and core.other_end(job) is None and ends.fitted(winter, "shock") == shock
    assert history.of(shock)[0].what[0] == f"off {job.bike} and on {winter}, since {ends.day(TODAY())}"
    answer = sent(technician_in, shock, named=job.bike.name.upper(), since="today")
    assert answer.status_code == 303 and ends.fitted(job.bike, "shock") == Unit.objects.get(pk=shock.pk)
    for wrong, said in (
        ({"where": "off", "since": "1 Jan 2031"}, "still to come"),
        ({"where": "off", "since": "1 Jan 2020"}, "it can’t be 1 Jan 2020"),
        ({"since": "today"}, "Say where it is"),
        ({"named": "no such bike", "since": "today"}, "no bike of that name"),
        ({"where": "off"}, "Write the day"),
    ):
        answer = sent(technician_in, shock, **wrong)
        assert answer.status_code == 422 and said in answer.content.decode(), wrong
    stale = people.field_of(technician_in.get(page_of(shock)), "as_of")
    assert sent(technician_in, shock, where="off", since="today").status_code == 303
    answer = people.send(technician_in, page_of(shock), {"as_of": stale, "where": str(winter.pk), "since": "today"})
    assert answer.status_code == 422 and "Since this page was drawn, Jory Pask changed it" in answer.content.decode()


def test_what_is_the_frames_stays_with_the_frame(cast: Cast) -> None:
    """A leverage that the shock brought went with it onto another frame, and the sag that was found on the first."""
    job = full_suspension(cast.technician, "fork", shock={"sag": "16 mm"})
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    of_frame = bench_tables.linkage(shock.tables)
    assert of_frame and "sag" in shock.tables["shock"]
    winter = second_bike(cast, job)
    before = core.tables(job)
    with change(cast.technician, "off", {}) as doing:
        fitting.fit(doing, shock, None, TODAY())
    bike = Bike.objects.get(pk=job.bike.pk)
    assert bench_tables.linkage(bike.tables) == of_frame and not bench_tables.linkage(shock.tables)
    assert shock.tables["shock"]["sag"] == "16 mm", "it may go back on"
    with change(cast.technician, "back", {}) as doing:
        fitting.fit(doing, shock, bike, TODAY())
    assert core.tables(Job.objects.get(pk=job.pk)) == before, "on its own frame nothing is another"
    with change(cast.technician, "on", {}) as doing:
        fitting.fit(doing, shock, winter, TODAY())
    assert (
        "sag" not in shock.tables["shock"]
        and shock.tables["shock"]["stroke"]
        and not bench_tables.linkage(winter.tables)
    )


def test_two_leverages_meet_on_no_frame(cast: Cast) -> None:
    """One of its own would stand before the one that the shock before it left with the frame."""
    job = full_suspension(cast.technician, "fork")
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    with change(cast.technician, "loose", {}) as doing:
        loose = book.make_unit(doing, bike=None, name="Another", kind="shock", tables=shock.tables)
    with pytest.raises(ends.CannotStand, match="has a leverage of its own"), change(cast.technician, "on", {}) as doing:
        fitting.fit(doing, loose, job.bike, TODAY(), instead=True)
    assert core.other_end(Job.objects.get(pk=job.pk)) == shock, "nothing of it was kept"
    with change(cast.technician, "family", {}) as doing:
        of_model = bench_tables.linkage(shock.tables)
        shock.family = book.make_family(doing, name="Sorrel", kind="shock", tables=of_model)
        shock.tables["shock"] = {k: v for k, v in shock.tables["shock"].items() if k not in of_model["shock"]}
        book.keep(doing, shock)
    winter = second_bike(cast, job)
    with pytest.raises(ends.CannotStand, match="Sorrel, has a leverage"), change(cast.technician, "on", {}) as doing:
        fitting.fit(doing, shock, winter, TODAY())


def test_a_charged_shock_that_came_off_is_named_when_its_bike_goes_out(cast: Cast) -> None:
    """Off the bike in the Book, or on another one, it may lie in the box beside it all the same."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    winter = second_bike(cast, job)
    its = another(cast, job, "rear-shock-air-can", unit=shock)
    there = Hands(cast.technician, its)
    there.begin()
    point = there._work("free-length")
    assert point is not None
    there.sign(point, failing(there.here(), point))
    shock.refresh_from_db()
    for bike in (None, winter):
        with change(cast.technician, "moved", {}) as doing:
            fitting.fit(doing, shock, bike, TODAY())
        told = [each.words for each in contradictions.faults_of(Job.objects.get(pk=job.pk))]
        assert any(words.startswith(f"Job {its.number}, {shock} off this bike since ") for words in told), told
    with change(cast.technician, "another", {}) as doing:
        on_winter = changes.take_in(doing, rider=job.rider, bike=winter, unit=None, asked_title="a", asked="A.")
    assert any(f"{shock} on the same bike: " in each.words for each in contradictions.faults_of(on_winter))
    assert any(
        f"was taken in on {job.bike}, and is on {winter}" in each.words for each in contradictions.faults_of(its)
    )


def test_what_came_off_and_lies_open_is_told_until_another_stands_there(cast: Cast) -> None:
    """A can that waits for its parts on the bench held every later job of the bike, which rides with another one."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    its = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=shock))
    its.begin()
    with change(cast.technician, "off", {}) as doing:
        fitting.fit(doing, shock, None, TODAY())
    (told,) = contradictions.faults_of(Job.objects.get(pk=job.pk))
    assert told.words.startswith(f"Job {its.job.number}, {shock} off this bike since ") and "is open" in told.words
    with change(cast.technician, "another", {}) as doing:
        book.make_unit(doing, bike=job.bike, name="A lent shock", tables={}, kind="shock")
    assert contradictions.faults_of(Job.objects.get(pk=job.pk)) == []


def test_a_posted_fork_that_went_on_a_bike_leaves_with_what_else_is_on_it(cast: Cast) -> None:
    """Its job knew of no bike, and said nothing of the charged shock that it rode off beside."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None and job.unit is not None
    its = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=shock))
    its.begin()
    point = its._work("free-length")
    assert point is not None
    its.sign(point, failing(its.here(), point))
    with change(cast.technician, "posted", {}) as doing:
        loose = book.make_unit(doing, bike=None, name="The posted fork", tables={})
    posted = whole(cast, another(cast, job, unit=loose, bike=None))
    assert contradictions.faults_of(posted) == []
    with change(cast.technician, "on", {}) as doing:
        fitting.fit(doing, loose, job.bike, TODAY(), instead=True)
    told = [each.words for each in contradictions.faults_of(Job.objects.get(pk=posted.pk))]
    assert any(f"{shock} on the same bike: " in words for words in told), told


def test_an_axle_that_was_not_tight_stays_with_its_bike(cast: Cast) -> None:
    """The unit by whose job it was found went to another bike, where another axle was tight: the first bike's is told still."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    shock = core.other_end(job)
    assert shock is not None and job.bike is not None
    winter = second_bike(cast, job)
    its = Hands(cast.technician, another(cast, job, "return-to-rider", unit=shock))
    its.begin()
    axle = its._work("axle")
    assert axle is not None
    its.sign(axle, failing(its.here(), axle))
    handed_back(cast, its.job)
    with change(cast.technician, "moved", {}) as doing:
        shock = Unit.objects.get(pk=shock.pk)
        fitting.fit(doing, shock, winter, TODAY())
        later = changes.take_in(
            doing, rider=job.rider, bike=job.bike, unit=job.unit, asked_title="a", asked="A.", procedure=""
        )
    on_winter = Hands(cast.technician, another(cast, job, "return-to-rider", unit=shock, bike=winter), at=its.at)
    assert not any("Not tight" in each.words for each in contradictions.faults_of(on_winter.job)), (
        "that is another axle"
    )
    assert unit_dangers.of_bike(winter.pk, {shock.pk}) == {} and unit_dangers.of_bike(job.bike.pk, set()) != {}
    on_winter.begin()
    on_winter._work("stem")
    for each in (job, later):
        (told,) = [fault for fault in contradictions.faults_of(each) if "Not tight" in fault.words]
        assert told.words.startswith(f"Job {its.job.number}, {shock} o")


def test_no_form_puts_a_second_one_at_an_end(cast: Cast, technician_in: Client) -> None:
    job = job_states.make(cast, "taken in")
    assert job.bike is not None and job.unit is not None
    new = {
        "rider": job.rider_id, "bike": job.bike_id, "unit_name": "black fork", "unit_kind": "fork", "asked_title": "s", "asked": "S.",
        "technician": "jory",
    }  # fmt: skip
    answer = people.send(technician_in, f"/jobs/new/?rider={job.rider_id}", new)
    assert answer.status_code == 422 and f"{job.unit} stands there on {job.bike}" in answer.content.decode()
    with change(cast.technician, "shock", {}) as doing:
        shock = book.make_unit(doing, bike=job.bike, name="A shock", tables={}, kind="shock")
    place = reverse("unit-change", args=[shock.pk])
    answer = people.send(technician_in, place, {"kind": "coil-fork", "name": "A shock", "as_of": history.stamp(shock)})
    assert answer.status_code == 422 and f"{job.unit} stands there on" in answer.content.decode()
    with change(cast.technician, "loose", {}) as doing:
        loose = book.make_unit(doing, bike=None, name="A loose shock", tables={}, kind="shock")
    answer = sent(technician_in, loose, named=job.bike.name, since="today")
    assert answer.status_code == 422 and f"{shock} stands there on" in answer.content.decode()
    assert sent(technician_in, loose, named=job.bike.name, since="today", instead="on").status_code == 303
    assert ends.fitted(job.bike, "shock") == loose and Unit.objects.get(pk=shock.pk).came_off == job.bike
    with pytest.raises(ends.CannotStand), change(cast.technician, "by hand", {}) as doing:
        book.make_unit(doing, bike=job.bike, name="one more", tables={}, kind="coil-shock")


def test_a_fork_that_was_bought_comes_in_by_one_tap_more(cast: Cast, technician_in: Client) -> None:
    """The take-in sent its mechanic to the page of the old one first."""
    job = job_states.make(cast, "taken in")
    assert job.bike is not None and job.unit is not None
    new = {
        "rider": job.rider_id, "bike": job.bike_id, "unit_name": "black fork", "unit_kind": "coil-fork", "asked_title": "s", "asked": "S.",
        "technician": "jory",
    }  # fmt: skip
    page = people.send(technician_in, f"/jobs/new/?rider={job.rider_id}", new).content.decode()
    assert (
        f"{job.unit} stands there on {job.bike} in the Book. Say that it is off" in page
        and "it is off the bike now" in page
    )
    assert Unit.objects.get(pk=job.unit.pk).bike == job.bike
    assert people.send(technician_in, f"/jobs/new/?rider={job.rider_id}", new | {"instead": "off"}).status_code == 303
    came, old = Job.objects.latest("pk"), Unit.objects.get(pk=job.unit.pk)
    assert (str(came.unit), came.bike, old.bike, old.came_off) == ("black fork", job.bike, None, job.bike)
    assert ends.fitted(job.bike, "fork") == came.unit and old.stands_since == TODAY()


@pytest.mark.parametrize(
    ("text", "day"),
    [("today", date(2026, 3, 2)), ("yesterday", date(2026, 3, 1)), ("28 Nov", date(2025, 11, 28)), ("28.11.2024", date(2024, 11, 28)),
     ("1.3.", date(2026, 3, 1)), ("2026-02-28", date(2026, 2, 28))],
)  # fmt: skip
def test_a_day_that_was_is_read(text: str, day: date) -> None:
    assert days.read_day(text, date(2026, 3, 2)) == day


@pytest.mark.parametrize("text", ["tomorrow", "3 Mar 2026", "30 Feb", "3/4", "soon", "3.3.1826"])
def test_a_day_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        days.read_day(text, date(2026, 3, 2))
