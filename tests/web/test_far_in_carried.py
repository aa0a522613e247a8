"""A gauge read far in goes with its unit to the next job: the plan starts from it, says so, and stops where it no longer holds."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy

import pytest
from django.db import transaction
from django.test import Client

from topout import units
from topout.errors import FaultsFound
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Instrument, Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps import sign
from topout.web.shelf import keeping as shelf
from web import people
from web.outside_cast import few_draws, outside_job
from web.test_far_in import TAKEN, page, rows
from web.test_plan_page import words_of

READ = {"travel": "90 mm", "pressure": "60 psi", "start": "30 psi", "hose": "3 ml"}

few = pytest.fixture(autouse=True)(few_draws)


@pytest.fixture
def first(technician_in: Client, cast: people.Cast) -> Job:
    """A job on whose fork the gauge was read far in."""
    Instrument.objects.create(
        code="P2", kind="gauge", name="blue pump", dimension="pressure", span="300 psi", mark="1 psi",
        accuracy_class_percent=1.6, hose_volume="3 ml",
    )  # fmt: skip
    job = outside_job(cast.owner)
    assert people.send(technician_in, page(job), {**TAKEN, "gauge": "P2"}).status_code == 303
    return Job.objects.get(pk=job.pk)


def next_job(cast: people.Cast, first: Job, gauge: str = "P2", sag: str = "36 mm") -> Job:
    """The same fork again, let down a little."""
    with change(cast.owner, "again", {}) as doing:
        job = changes.take_in(
            doing, rider=first.rider, bike=first.bike, unit=first.unit, asked_title="softer", asked="Softer.",
            procedure="pressure-and-spacers",
        )  # fmt: skip
        by = Instrument.objects.filter(code=gauge).first()
        for kind, text, dimension, more in (
            ("pressure", "66 psi", "pressure", {"instrument": by}), ("sag", sag, "length", {"posture": "standing"}),
        ):  # fmt: skip
            readings.take(doing, job, "as-found", Taken.quantity(kind, units.parse(text, dimension), dimension, **more))
        readings.take(doing, job, "as-found", Taken.count("spacers", 1))
    return Job.objects.get(pk=job.pk)


def read_in(job: Job) -> list[dict[str, str]]:
    fresh = Job.objects.get(pk=job.pk)
    found: list[dict[str, str]] = core.tables(fresh, {})["found"].get("reading", [])
    return found


def half_width(job: Job) -> float:
    one, _ = ahead.end(core.bench(Job.objects.get(pk=job.pk), {}))
    assert one is not None
    return one.half_width


def test_the_next_jobs_plan_starts_from_it_and_says_where_it_is_from(
    technician_in: Client, cast: people.Cast, first: Job
) -> None:
    job = next_job(cast, first)
    assert read_in(job) == [READ], "by the same gauge: one gain and zero for both"
    by_other = read_in(next_job(cast, first, gauge="none"))
    assert by_other == [{**READ, "pressure": "60 psi u 0.73 psi", "start": "30 psi u 0.62 psi"}], (
        "another gauge's own doubt"
    )
    knows = half_width(job)
    assert first.unit is not None
    unit = type(first.unit).objects.get(pk=first.unit.pk)
    kept, unit.far_in = unit.far_in, {}
    unit.save()
    assert knows < 0.9 * half_width(job), "what it would be without"
    unit.far_in = kept
    unit.save()
    on_page = words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]
    assert f"Starts from the gauge read far in at job {first.number}, " in on_page
    moved = technician_in.get(f"/jobs/{job.number}/plan/", {"pressure": "64"}, headers={"HX-Request": "true"})
    assert f"read far in at job {first.number}" in moved.content.decode()
    in_book = words_of(technician_in.get(f"/book/units/{unit.pk}/"))  # type: ignore[arg-type]
    assert "held in by 90 mm, from 30 psi" in in_book and "The next plan starts from it." in in_book
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change": {"pressure": "64 psi"}})
    assert '"60 psi"' in frozen.bench_file and core.recompute(frozen).holds
    assert read_in(first) == [READ], "its own job tells it once"


def spacers(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.owner, "read", {}) as doing:
        readings.take(doing, job, "as-found", Taken.count("spacers", 2))


def in_the_book(key: str, value: str) -> Callable[[people.Cast, Job, Job], None]:
    def change_it(cast: people.Cast, first: Job, job: Job) -> None:
        unit = first.unit
        assert unit is not None
        with change(cast.owner, "changed", {}) as doing:
            table, _, word = key.rpartition(".")
            unit.tables = deepcopy(unit.tables)
            unit.tables[table][word] = value
            book.keep(doing, unit)

    return change_it


def struck_there(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.owner, "strike", {}) as doing:
        readings.strike(doing, rows()[0], "the strap slipped")


def another_shaft(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, first, {"change": {"travel": "160 mm"}})
    with change(cast.technician, "go on", {}) as doing:
        sign.go_on(doing, first)


def an_equal_shaft(cast: people.Cast, first: Job, job: Job) -> None:
    """The old one went to the Shelf with a tag, one just like it went in: every figure stays."""
    with change(cast.technician, "part", {}) as doing:
        shelf.make_part(
            doing, kind="air shaft", job_number=first.number, measured={"gives": "150 mm", "length": "262 mm"}
        )


def an_old_shaft_of_another_fork(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.technician, "part", {}) as doing:
        shelf.make_part(doing, kind="air shaft", job_number=first.number + 50, measured={"gives": "150 mm"})
        shelf.make_part(doing, kind="tyre", job_number=first.number, measured={"height": "58 mm"})


def handed_over_with(asked: dict[str, str]) -> Callable[[people.Cast, Job, Job], None]:
    """A plan, no step signed, the job handed over: whoever did it did it by hand."""

    def hand_over(cast: people.Cast, first: Job, job: Job) -> None:
        with change(cast.owner, "use", {}) as doing:
            core.freeze(doing, first, {"change": asked})
            changes.release(
                doing, first, found="a", done="b", left="c", defects=[], next_service="50 h", fit_to_ride=True
            )

    return hand_over


def worked_by_hand(done: str) -> Callable[[people.Cast, Job, Job], None]:
    """No step, no plan, no tag: what went in stands in the words of the hand-over alone."""

    def hand_over(cast: people.Cast, first: Job, job: Job) -> None:
        with change(cast.owner, "release", {}) as doing:
            changes.release(
                doing, first, found="a", done=done, left="c", defects=[], next_service="50 h", fit_to_ride=True
            )

    return hand_over


def another_unit(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.owner, "other", {}) as doing:
        other = book.make_unit(doing, bike=None, name="another fork", tables=deepcopy(first.unit.tables))  # type: ignore[union-attr]
        first.unit = other
        first.save()


def erased(cast: people.Cast, first: Job, job: Job) -> None:
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, first.rider)


# What happens before the next plan is made, and what the page of earlier readings says then; "" where it still holds.
DOORS: dict[str, tuple[Callable[[people.Cast, Job, Job], None], str]] = {
    "one spacer more found": (spacers, "Air spring, spacers was 1 then and is 2 now"),
    "another travel": (in_the_book("fork.travel", "160 mm"), "travel was 150 mm then and is 160 mm now"),
    "the same travel in other words": (in_the_book("fork.travel", "15 cm"), ""),
    "a bore measured since": (in_the_book("fork.air.bore", "31.8 mm"), ""),
    "another kind of negative": (in_the_book("fork.air.negative", "separate-valve"), "negative"),
    "struck at its own job": (struck_there, "None stands"),
    "an air shaft fitted since": (another_shaft, "the air spring may be another since job"),
    "an equal shaft fitted since, the old one tagged": (an_equal_shaft, "the air spring may be another since job"),
    "a shaft of another fork tagged, a tyre of this bike": (an_old_shaft_of_another_fork, ""),
    "handed over with a plan of another shaft": (
        handed_over_with({"travel": "160 mm"}),
        "the air spring may be another since job",
    ),
    "handed over with a plan of another pressure": (handed_over_with({"pressure": "64 psi"}), ""),
    "an equal shaft fitted by hand": (
        worked_by_hand("New air shaft, just like it."),
        "the air spring may be another since job",
    ),
    "worked by hand, the spring left alone": (worked_by_hand("Wipers cleaned, sag set."), ""),
    "read on another unit after all": (another_unit, "None stands"),
    "the rider erased": (erased, ""),
}


def test_it_holds_for_the_same_parts_alone(technician_in: Client, cast: people.Cast, first: Job) -> None:
    wrong = []
    for name, (happens, says) in DOORS.items():
        with transaction.atomic():
            job = next_job(cast, first)
            happens(cast, Job.objects.get(pk=first.pk), job)
            told = words_of(technician_in.get(f"/jobs/{job.number}/plan/far-in/earlier/"))  # type: ignore[arg-type]
            if bool(read_in(job)) != (says == ""):
                wrong.append(f"{name}: {read_in(job)}")
            if (says or "plan starts from it") not in told:
                wrong.append(f"{name}: {told[-400:]}")
            transaction.set_rollback(True)
    assert not wrong, wrong


def test_it_is_struck_at_the_later_job_with_a_reason(technician_in: Client, cast: people.Cast, first: Job) -> None:
    job = next_job(cast, first)
    (row,) = rows()
    with change(cast.owner, "release", {}) as doing:
        changes.release(doing, first, found="a", done="b", left="c", defects=[], next_service="50 h", fit_to_ride=True)
    earlier = f"/jobs/{job.number}/plan/far-in/earlier/"
    strike = f"{earlier}{row.pk}/"
    assert people.send(technician_in, strike, {"reason": ""}, earlier).status_code == 422 and len(rows()) == 1
    assert people.send(technician_in, strike, {"reason": "another shaft, says the rider"}, earlier).status_code == 303
    assert read_in(job) == [] and Reading.objects.get(corrects=row).job == job
    unit = type(first.unit).objects.get(pk=first.unit.pk)  # type: ignore[union-attr]
    assert unit.far_in == {}
    for number in (first.number, job.number):
        assert "another shaft, says the rider" in words_of(technician_in.get(f"/jobs/{number}/")), number  # type: ignore[arg-type]
    assert people.send(technician_in, strike, {"reason": "again"}, page(job)).status_code == 409, "struck once"
    assert "Starts from" not in words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]


def test_one_that_contradicts_what_is_found_now_can_be_struck_from_there(
    technician_in: Client, cast: people.Cast, first: Job
) -> None:
    """No job is stuck with another's reading: the page names it and leads to where it is struck, with steps begun or not."""
    job = next_job(cast, first, sag="120 mm")
    with pytest.raises(FaultsFound):
        ahead.end(core.bench(job, {}))
    answer = technician_in.get(f"/jobs/{job.number}/plan/")
    assert answer.status_code == 200 and f"/jobs/{job.number}/plan/far-in/earlier/" in answer.content.decode()
