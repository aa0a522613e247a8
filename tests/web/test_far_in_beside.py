"""What is not known of the end that a job is not about: where its gauge is read held in, and that a fork's plan starts from it."""

from __future__ import annotations

import re
from copy import deepcopy

import pytest
from django.test import Client

from topout import units
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Instrument, Job, Reading
from topout.web.jobs.records.readings import Taken
from web import people
from web.outside_cast import few_draws
from web.test_far_in import page, rows
from web.test_far_in_shock import TAKEN
from web.test_plan_page import words_of
from web.test_shock_open import outside_job

few = pytest.fixture(autouse=True)(few_draws)
READ = {
    "travel": "35 mm", "pressure": "68 psi u 0.77 psi", "start": "30 psi u 0.62 psi", "hose": "3 ml", "end": "rear",
}  # fmt: skip


@pytest.fixture
def forks(cast: people.Cast) -> Job:
    """A job of the fork, on a bike whose shock is known from outside alone."""
    Instrument.objects.create(
        code="P2", kind="gauge", name="blue pump", dimension="pressure", span="300 psi", mark="1 psi",
        accuracy_class_percent=1.6, hose_volume="3 ml",
    )  # fmt: skip
    return outside_job(cast, "fork")


def plan_of(client: Client, job: Job) -> tuple[str, str]:
    """The plan page, and its words."""
    answer = client.get(f"/jobs/{job.number}/plan/")
    return answer.content.decode(), words_of(answer)  # type: ignore[arg-type]


def shocks(cast: people.Cast, forks: Job, *, pressure: bool = True) -> Job:
    """A job of the shock beside it."""
    with change(cast.owner, "its shock too", {}) as doing:
        job = changes.take_in(
            doing, rider=forks.rider, bike=forks.bike, unit=core.other_end(forks), asked_title="firmer", asked="Firmer.",
            procedure="rear-shock-air-can",
        )  # fmt: skip
        if pressure:
            typed = units.parse("140 psi", "pressure")
            readings.take(doing, job, "as-found", Taken.quantity("pressure", typed, "pressure"))
    return Job.objects.get(pk=job.pk)


def read_in(job: Job) -> list[dict[str, str]]:
    told: list[dict[str, str]] = core.tables(Job.objects.get(pk=job.pk), {}).get("found", {}).get("reading", [])
    return told


def half_width(job: Job) -> float:
    one, _ = ahead.end(core.bench(Job.objects.get(pk=job.pk), {}), "rear")
    assert one is not None
    return one.half_width


def test_a_forks_page_leads_to_where_the_shock_is_read(technician_in: Client, cast: people.Cast, forks: Job) -> None:
    html, said = plan_of(technician_in, forks)
    assert "How firm the end of the shock is: not known yet" in said and "in a press, pump on" in said
    assert "It is read at a job of the shock, which has none open. This plan starts from it then." in said
    unit = core.other_end(forks)
    assert unit is not None
    take_in = f"/jobs/new/?rider={forks.rider_id}&amp;unit={unit.pk}"
    assert f'href="{take_in}">Take the shock in for it</a>' in html
    taken_in = technician_in.get(take_in.replace("&amp;", "&")).content.decode()
    assert re.search(rf'<input[^>]*name="unit"[^>]*value="{unit.pk}"[^>]*checked', taken_in), "the unit stands there"
    job = shocks(cast, forks, pressure=False)
    said = plan_of(technician_in, forks)[1]
    assert f"It is read at job {job.number}, the shock’s own. Not yet: Write down its pressure as found first" in said
    with change(cast.owner, "pressure", {}) as doing:
        typed = units.parse("140 psi", "pressure")
        readings.take(doing, job, "as-found", Taken.quantity("pressure", typed, "pressure"))
    html, said = plan_of(technician_in, forks)
    assert f'href="/jobs/{job.number}/plan/far-in/">Read it at job {job.number}</a>' in html


def test_a_forks_plan_starts_from_what_was_read_of_the_shock(
    technician_in: Client, cast: people.Cast, forks: Job
) -> None:
    before = half_width(forks)
    job = shocks(cast, forks)
    assert people.send(technician_in, page(job), {**TAKEN, "gauge": "P2"}).status_code == 303
    assert read_in(forks) == [READ], "by a gauge that this job did not read with"
    assert half_width(forks) < 0.85 * before
    said = plan_of(technician_in, forks)[1]
    assert f"Starts from the gauge read far in at job {job.number}, " in said and ", of the shock" in said
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, forks, {})
    assert 'end = "rear"' in frozen.bench_file and core.recompute(frozen).holds


def test_it_holds_as_long_as_the_same_parts_are_in_the_shock_and_is_struck_from_there(
    technician_in: Client, cast: people.Cast, forks: Job
) -> None:
    job = shocks(cast, forks)
    assert people.send(technician_in, page(job), {**TAKEN, "gauge": "P2"}).status_code == 303
    (row,) = rows()
    unit = type(job.unit).objects.get(pk=job.unit.pk)  # type: ignore[union-attr]
    was = deepcopy(unit.tables)
    with change(cast.owner, "changed", {}) as doing:
        unit.tables["shock.air"]["spacers"] = 3
        book.keep(doing, unit)
    earlier = f"/jobs/{forks.number}/plan/far-in/earlier/"
    assert read_in(forks) == [] and "spacers was" in words_of(technician_in.get(earlier))  # type: ignore[arg-type]
    with change(cast.owner, "changed back", {}) as doing:
        unit.tables = was
        book.keep(doing, unit)
    assert read_in(forks) == [READ]
    told = words_of(technician_in.get(earlier))  # type: ignore[arg-type]
    assert "The shock: " in told and "This job’s plan starts from it" in told
    assert (
        people.send(technician_in, f"{earlier}{row.pk}/", {"reason": "the press slipped"}, earlier).status_code == 303
    )
    assert read_in(forks) == [] and read_in(job) == [] and Reading.objects.get(corrects=row).job == forks
    for number in (forks.number, job.number):
        assert "the press slipped" in words_of(technician_in.get(f"/jobs/{number}/")), number  # type: ignore[arg-type]


def test_a_shocks_page_says_where_the_fork_is_read(technician_in: Client, cast: people.Cast) -> None:
    job = outside_job(cast, without=("fork.air.bore", "fork.air.positive_volume", "fork.air.negative_volume"))
    fork = core.other_end(job)
    assert fork is not None
    fork.tables["fork"]["stanchion"] = "36 mm"
    fork.save()
    html, said = plan_of(technician_in, job)
    assert "How firm the end is: not known yet" in said
    assert "It is read at a job of the fork, which has none open. The plan there says it then." in said
    assert ">Take the fork in for it</a>" in html and ">Read it now</a>" in html
