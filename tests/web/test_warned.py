"""A danger is seen wherever its unit is: in the Book, at a scanned tag, on the card of another job; until its step passes."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.urls import reverse

from topout.web.access.change import change
from topout.web.jobs.core import danger
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job
from topout.web.shelf import keeping
from web import job_states, people
from web.people import Cast


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
