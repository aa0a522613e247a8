"""The gauge read with a rear shock held far in, by a press: what it does to the plan, on which unit it stays, and where it must not be taken."""

from __future__ import annotations

import re
from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from at_once import all_pass
from topout import units
from topout.web.access.change import change, new_key
from topout.web.book import keeping as book
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Instrument, Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps import sign
from web import people
from web.outside_cast import few_draws
from web.test_far_in import page, rows
from web.test_plan_page import words_of
from web.test_shock_open import outside_job
from web.test_shock_plan import ASKED

TAKEN = {"start": "30", "held": "35", "shown": "68"}
READ = {"travel": "35 mm", "pressure": "68 psi", "start": "30 psi", "hose": "3 ml", "end": "rear"}

few = pytest.fixture(autouse=True)(few_draws)


@pytest.fixture
def job(cast: people.Cast) -> Job:
    Instrument.objects.create(
        code="P2", kind="gauge", name="blue pump", dimension="pressure", span="300 psi", mark="1 psi",
        accuracy_class_percent=1.6, hose_volume="3 ml",
    )  # fmt: skip
    return outside_job(cast)


def sent(client: Client, job: Job, **more: str) -> Any:
    return people.send(client, page(job), {**TAKEN, "gauge": "P2", **more})


def half_width(job: Job) -> float:
    one, _ = ahead.end(core.bench(Job.objects.get(pk=job.pk), {}), "rear")
    assert one is not None
    return one.half_width


def read_in(job: Job) -> list[dict[str, str]]:
    told: list[dict[str, str]] = core.tables(Job.objects.get(pk=job.pk), {}).get("found", {}).get("reading", [])
    return told


def test_the_pages_button_takes_it_and_the_answer_narrows(technician_in: Client, cast: people.Cast, job: Job) -> None:
    before = half_width(job)
    plan = words_of(technician_in.get(f"/jobs/{job.number}/plan/", ASKED))  # type: ignore[arg-type]
    proposed = re.search(r"at 30 psi, hold the shock in by \d+ mm, in a press, pump on", plan)
    assert proposed is not None and "Read it now" in plan and "a press holds it, never a strap or hands" in plan
    assert re.search(r"It takes up to [\d ]+ N: a press", plan) and "The gauge may show" in plan
    opened = words_of(technician_in.get(f"{page(job)}?{'&'.join(f'{k}={v}' for k, v in ASKED.items())}"))  # type: ignore[arg-type]
    assert proposed[0] in opened and "Read the gauge with the shock held in" in opened
    assert "Out of the frame and in a press" in opened and "Strap or press" not in opened
    answer = sent(technician_in, job)
    assert answer.status_code == 303, words_of(answer)
    (row,) = rows()
    assert (row.text, row.stage, row.who) == ("68", "as-found", cast.technician)
    assert read_in(job) == [READ]
    assert half_width(job) < 0.8 * before
    told = words_of(technician_in.get(f"/jobs/{job.number}/plan/", ASKED))  # type: ignore[arg-type]
    said = re.search(r"Saved: .*The bottom-out force was known to ± ([\d ]+) N, now to ± ([\d ]+) N", told)
    assert said is not None and int(said[2].replace(" ", "")) < int(said[1].replace(" ", ""))
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))  # type: ignore[arg-type]
    assert "Gauge, held in" in card and "held in by 35 mm, from 30 psi" in card
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change.shock": {"pressure": "146 psi"}})
    assert 'end = "rear"' in frozen.bench_file and core.recompute(frozen).holds
    assert core.frozen_bench(frozen).found.sag_m is None  # type: ignore[union-attr]


def test_a_wrong_one_is_struck_with_a_reason_and_counts_no_more(technician_in: Client, job: Job) -> None:
    before = half_width(job)
    sent(technician_in, job)
    (row,) = rows()
    strike = f"{page(job)}{row.pk}/"
    assert people.send(technician_in, strike, {"reason": ""}, page(job)).status_code == 422 and len(rows()) == 1
    assert people.send(technician_in, strike, {"reason": "the press slipped"}, page(job)).status_code == 303
    assert half_width(job) == before and read_in(job) == []
    assert "the press slipped" in words_of(technician_in.get(f"/jobs/{job.number}/"))  # type: ignore[arg-type]
    assert job.unit is not None and type(job.unit).objects.get(pk=job.unit.pk).far_in == {}


REFUSED: tuple[tuple[dict[str, str], str], ...] = (
    ({"shown": "25"}, "held in, it shows more than at full length"),
    ({"held": "60"}, "less than the stroke is expected"),
    ({"shown": "33"}, "no shock with this can and this stroke"),
    ({"start": "140", "held": "40", "shown": "290", "sure": "start=140"}, "is the most for it or for this shock"),
    ({"gauge": ""}, "Say which gauge it was"),
)


def test_what_can_not_be_or_must_not_be_is_said_and_nothing_is_saved(technician_in: Client, job: Job) -> None:
    def is_said(boxes: dict[str, str], says: str) -> None:
        hidden = {"csrfmiddlewaretoken": people.token(technician_in), "change_key": new_key()}
        answer = technician_in.post(page(job), {**TAKEN, "gauge": "P2", **boxes, **hidden})
        assert answer.status_code == 422 and says in words_of(answer), words_of(answer)[:3000]  # type: ignore[arg-type]
        assert rows() == []

    all_pass(is_said, [(says, (boxes, says)) for boxes, says in REFUSED])


def test_readings_that_contradict_each_other_are_named(technician_in: Client, job: Job) -> None:
    assert sent(technician_in, job, shown="62").status_code == 303
    answer = sent(technician_in, job, shown="76")
    assert answer.status_code == 422 and len(rows()) == 1 and "no shock shows both" in words_of(answer)


@pytest.mark.parametrize("state", ["released", "steps begun", "known shock", "a coil", "a fork’s job"])
def test_the_doors_beside_it_are_shut(technician_in: Client, cast: people.Cast, job: Job, state: str) -> None:
    if state == "released":
        with change(cast.owner, "release", {}) as doing:
            changes.release(
                doing, job, found="a", done="b", left="c", defects=[], next_service="50 h", fit_to_ride=True
            )
    elif state == "steps begun":
        with change(cast.owner, "use", {}) as doing:
            core.freeze(doing, job, {"change.shock": {"pressure": "146 psi"}})
        with change(cast.technician, "go on", {}) as doing:
            sign.go_on(doing, job)
    elif state == "known shock":
        job.unit.tables["shock"].pop("body")  # type: ignore[union-attr]
        job.unit.save()  # type: ignore[union-attr]
    elif state == "a coil":
        unit = job.unit
        assert unit is not None
        unit.tables.pop("shock.air")
        unit.tables["shock.coil"], unit.kind = {"rate": "70 N/mm"}, "coil-shock"
        unit.save()
    else:
        job = outside_job(cast, "fork")
    token = technician_in.get("/instruments/new/")
    sends = {**TAKEN, "gauge": "P2", "change_key": people.field_of(token, "change_key"), "csrfmiddlewaretoken": people.field_of(token, "csrfmiddlewaretoken")}  # fmt: skip
    assert technician_in.post(page(job), sends).status_code == {"released": 403}.get(state, 409) and rows() == []
    assert "Read it now" not in words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]


def next_job(cast: people.Cast, first: Job, spacers: int | None = None) -> Job:
    """The same shock again."""
    with change(cast.owner, "again", {}) as doing:
        job = changes.take_in(
            doing, rider=first.rider, bike=first.bike, unit=first.unit, asked_title="softer", asked="Softer.",
            procedure="pressure-and-spacers",
        )  # fmt: skip
        by = Instrument.objects.get(code="P2")
        read = Taken.quantity("pressure", units.parse("140 psi", "pressure"), "pressure", instrument=by)
        readings.take(doing, job, "as-found", read)
        if spacers is not None:
            readings.take(doing, job, "as-found", Taken.count("spacers", spacers))
    return Job.objects.get(pk=job.pk)


def in_the_book(table: str, word: str, value: object) -> Callable[[people.Cast, Job], None]:
    def happens(cast: people.Cast, first: Job) -> None:
        unit = first.unit
        assert unit is not None
        with change(cast.owner, "changed", {}) as doing:
            unit.tables = deepcopy(unit.tables)
            unit.tables[table][word] = value
            book.keep(doing, unit)

    return happens


def used(cast: people.Cast, first: Job, asked: dict[str, Any]) -> None:
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, first, {"change.shock": asked})
        changes.release(doing, first, found="a", done="b", left="c", defects=[], next_service="50 h", fit_to_ride=True)


# What happens before the next plan is made, and what the page of earlier readings says then; "" where it still holds.
DOORS: dict[str, tuple[Callable[[people.Cast, Job], None], str]] = {
    "nothing": (lambda cast, first: None, ""),
    "another can": (in_the_book("shock", "body", "55 mm"), "was 52 mm then and is 55 mm now"),
    "one spacer more": (in_the_book("shock.air", "spacers", 3), "spacers was"),
    "a bore measured since": (in_the_book("shock.air", "bore", "44 mm"), ""),
    "another stroke, by a reducer": (in_the_book("shock", "stroke", "57.5 mm"), ""),
    "handed over with another pressure": (lambda cast, first: used(cast, first, {"pressure": "150 psi"}), ""),
    "handed over with spacers of another volume": (
        lambda cast, first: used(cast, first, {"spacer_volume": "9 ml", "spacers": 2}),
        "the air spring may be another since job",
    ),
}


def test_it_goes_with_the_shock_to_its_next_job_as_long_as_the_same_parts_are_in_it(
    technician_in: Client, cast: people.Cast, job: Job
) -> None:
    assert sent(technician_in, job).status_code == 303
    wrong = []
    for name, (happens, says) in DOORS.items():
        with transaction.atomic():
            first = Job.objects.get(pk=job.pk)
            happens(cast, first)
            later = next_job(cast, first)
            told = words_of(technician_in.get(f"/jobs/{later.number}/plan/far-in/earlier/"))  # type: ignore[arg-type]
            if bool(read_in(later)) != (says == ""):
                wrong.append(f"{name}: {read_in(later)}")
            if (says or "plan starts from it") not in told:
                wrong.append(f"{name}: {told[-400:]}")
            if not says:
                on_page = words_of(technician_in.get(f"/jobs/{later.number}/plan/"))  # type: ignore[arg-type]
                if f"Starts from the gauge read far in at job {job.number}, " not in on_page:
                    wrong.append(f"{name}: its plan does not say that it starts from it")
            transaction.set_rollback(True)
    assert not wrong, wrong


def test_it_is_struck_at_the_later_job_with_a_reason(technician_in: Client, cast: people.Cast, job: Job) -> None:
    assert sent(technician_in, job).status_code == 303
    (row,) = rows()
    later = next_job(cast, Job.objects.get(pk=job.pk))
    earlier = f"/jobs/{later.number}/plan/far-in/earlier/"
    assert people.send(technician_in, f"{earlier}{row.pk}/", {"reason": "another can"}, earlier).status_code == 303
    assert read_in(later) == [] and Reading.objects.get(corrects=row).job == later
    assert "Starts from" not in words_of(technician_in.get(f"/jobs/{later.number}/plan/"))  # type: ignore[arg-type]
