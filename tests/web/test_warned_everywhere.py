"""No page that names a charged unit is silent about it: every address that answers GET, and what find and take-in say of it."""

from __future__ import annotations

from pathlib import Path

from django.contrib.auth.models import User
from django.test import Client

from topout.web import clock
from topout.web.book.models import Unit
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.core import danger
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.sequence import next_sequence
from web import people
from web.addresses import all_addresses

NAME = "Sorrel fork"


def charged(job: Job) -> danger.Danger:
    """The unit gets a name of its own, and its job a hold point that failed."""
    assert job.unit_id is not None
    Unit.objects.filter(pk=job.unit_id).update(name=NAME)
    last = StepEntry.objects.filter(job=job).latest("pk")
    StepEntry.objects.create(
        job=job, sequence=next_sequence(job), who=last.who, at=clock.now(), procedure=last.procedure, step_number=13,
        procedure_hash=last.procedure_hash, step_key="empty-at-rest", verdict="failed", plan=last.plan, evidence={"answers": {}},
    )  # fmt: skip
    (found,) = (each for each in danger.of(job) if each.charged)
    return found


def pages(client: Client, job: Job) -> dict[str, str]:
    """Every page of the address table, and those that a query makes name the unit."""
    addresses = [address for _, address in all_addresses()]
    addresses += ["/find/?q=sorrel", f"/jobs/new/?rider={job.rider_id}&unit={job.unit_id}", "/jobs/new/?q=sorrel"]
    answers = {address: client.get(address) for address in addresses}
    answers |= {
        f"{place} (list)": client.get(place, headers={"HX-Request": "true"})
        for place in ("/find/?q=sorrel", "/find/?for=take-in&q=sorrel")
    }
    return {
        address: answer.content.decode() for address, answer in answers.items()
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html")
    }  # fmt: skip


def test_no_page_that_names_a_charged_unit_is_silent(demo: Path) -> None:
    job = Job.objects.get(number=PLAN_JOB)
    found = charged(job)
    owner = User.objects.filter(is_staff=True).earliest("pk")
    naming = {address: page for address, page in pages(people.browser(owner), job).items() if NAME in page}
    silent = [
        address for address, page in naming.items() if found.title not in page and found.short not in page.lower()
    ]
    assert len(naming) > 12 and not silent, (len(naming), silent)
