"""A danger is seen wherever its unit is: in the Book, at a scanned tag, on the card of another job; until its step passes."""

from __future__ import annotations

from functools import partial

from django.contrib.auth.models import User
from django.urls import reverse

from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import danger, unit_dangers
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.release import tags
from topout.web.jobs.release.contradictions import faults_of
from topout.web.shelf import keeping
from web import job_states, people
from web.people import Cast
from web.steps_kit import Hands
from web.test_queries import asked


def test_a_charged_unit_says_so_wherever_it_is_met(cast: Cast) -> None:
    job_states.make(cast, "blocked")
    job = Job.objects.get()
    (found,) = danger.of(job)
    assert found.charged and job.unit is not None
    with change(cast.technician, "again", {}) as doing:
        tag = keeping.make_tag(doing, unit=job.unit)
        another = changes.take_in(
            doing, rider=job.rider, bike=job.bike, unit=job.unit, asked_title="Clearance", asked="Does the tyre fit?"
        )
    client = people.browser(User.objects.get(username="jory"))
    places = [
        reverse("tag", args=[tag.code]),
        reverse("unit", args=[job.unit.pk]),
        reverse("job", args=[another.number]),
    ]
    for place in places:
        page = client.get(place).content.decode()
        assert page.count(found.title) == 1 and f'href="/jobs/{job.number}/"' in page, place
    own = client.get(reverse("job", args=[job.number])).content.decode()
    assert own.count(f"<b>{found.title}</b>") == 1  # its own card says it once


def test_a_unit_without_danger_says_nothing(cast: Cast) -> None:
    job_states.make(cast, "in steps")
    job = Job.objects.get()
    assert job.unit is not None
    page = people.browser(User.objects.get(username="jory")).get(reverse("unit", args=[job.unit.pk])).content.decode()
    assert 'class="caution"' not in page


def test_a_unit_that_was_handed_over_charged_stays_so_until_its_point_passes(cast: Cast) -> None:
    """The next job says it from its first page on, can't be handed over as fit to ride, and lifts it by the same hold point."""
    job_states.make(cast, "blocked")
    job = Job.objects.get()
    (found,) = danger.of(job)
    with change(cast.technician, "again", {}) as doing:
        keeping.make_tag(doing, unit=job.unit)
        changes.release(
            doing, job, found="f", done="d", left="l", defects=[found.told], next_service="n", fit_to_ride=False
        )
        again = changes.take_in(
            doing,
            rider=job.rider,
            bike=job.bike,
            unit=job.unit,
            asked_title="Charged",
            asked="It came back.",
            procedure=job.procedure,
        )
    assert job.unit is not None and danger.of(again) == ()
    client = people.browser(User.objects.get(username="jory"))
    for place in (reverse("unit", args=[job.unit.pk]), reverse("job", args=[again.number])):
        assert found.title in client.get(place).content.decode(), place
    against = [each for each in faults_of(again) if f"Job {job.number}, the same unit" in each.words]
    assert len(against) == 1 and against[0].hard
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, again, job_states.CHANGE)
    hands = Hands(cast.technician, again)
    hands.begin()
    hold = hands.until("empty-at-rest")
    assert hold is not None and unit_dangers.of_units([job.unit.pk])
    hands.sign(hold)
    assert unit_dangers.of_units([job.unit.pk]) == {}
    assert 'class="caution"' not in client.get(reverse("unit", args=[job.unit.pk])).content.decode()


def test_lists_ask_as_often_for_many_charged_units_as_for_one(cast: Cast) -> None:
    job_states.make(cast, "blocked")
    job = Job.objects.get()
    client = people.browser(cast.owner)
    entry = StepEntry.objects.get(job=job, verdict="failed")
    places = (
        "/",
        "/book/",
        f"/book/riders/{job.rider_id}/",
        f"/book/bikes/{job.bike_id}/",
        "/find/?q=hollin",
        "/jobs/new/?q=hollin",
        f"/jobs/new/?rider={job.rider_id}&unit={job.unit_id}",
    )

    def all_asked() -> dict[str, int]:
        return {place: asked(partial(client.get, place)) for place in places}

    few = all_asked()
    with change(cast.technician, "more", {}) as doing:
        for nth in range(12):
            unit = book.make_unit(doing, bike=None, name=f"Hollin fork {nth}", tables={})
            unit.bike = job.bike  # as a Book of before may have them
            book.keep(doing, unit)
            more = changes.take_in(doing, rider=job.rider, bike=job.bike, unit=unit, asked_title="s", asked="s")
            StepEntry.objects.create(
                job=more, sequence=next_sequence(more), who=entry.who, at=entry.at, procedure=entry.procedure, step_number=13,
                procedure_hash=entry.procedure_hash, step_key=entry.step_key, verdict="failed", plan=entry.plan, evidence=entry.evidence,
            )  # fmt: skip
    many = all_asked()
    assert len(unit_dangers.of_units([row.pk for row in Unit.objects.all()])) == 13
    assert many == few, (few, many)


def test_its_tag_is_black_from_whichever_job_it_is_printed(cast: Cast) -> None:
    job_states.make(cast, "blocked")
    job = Job.objects.get()
    with change(cast.technician, "again", {}) as doing:
        row = keeping.make_tag(doing, unit=job.unit)
        again = changes.take_in(doing, rider=job.rider, bike=job.bike, unit=job.unit, asked_title="s", asked="s")
    black = tags.tag_of(again, row, "https://bench.example/t")
    assert black.kind == "stop" and black == tags.tag_of(job, row, "https://bench.example/t")
    assert f"job {job.number}" in black.foot[0], "the job that found it"
