"""The gauge read with the fork held far in: what it does to the plan, and every way in which it must not be taken."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from at_once import all_pass
from topout.web.access.change import change, new_key
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Instrument, Job, Reading, Release
from topout.web.jobs.steps import sign
from web import people
from web.outside_cast import ASKED, few_draws, outside_job
from web.plan_cast import hollin_job
from web.test_plan_page import words_of

TAKEN = {"start": "30", "held": "90", "shown": "60"}

few = pytest.fixture(autouse=True)(few_draws)


@pytest.fixture
def job(cast: people.Cast) -> Job:
    Instrument.objects.create(
        code="P2", kind="gauge", name="blue pump", dimension="pressure", span="300 psi", mark="1 psi",
        accuracy_class_percent=1.6, hose_volume="3 ml",
    )  # fmt: skip
    return outside_job(cast.owner)


def page(job: Job) -> str:
    return f"/jobs/{job.number}/plan/far-in/"


def sent(client: Client, job: Job, **more: str) -> Any:
    return people.send(client, page(job), {**TAKEN, "gauge": "P2", **more})


def rows() -> list[Reading]:
    return list(Reading.objects.filter(kind="far-in").order_by("sequence"))


def half_width(job: Job) -> float:
    one, _ = ahead.end(core.bench(job, {}))
    assert one is not None
    return one.half_width


def test_a_reading_narrows_the_end_and_stands_with_gauge_and_person(
    technician_in: Client, cast: people.Cast, job: Job
) -> None:
    before = half_width(job)
    plan = words_of(technician_in.get(f"/jobs/{job.number}/plan/", ASKED))  # type: ignore[arg-type]
    assert "Read it now" in plan
    proposed = re.search(r"at 30 psi, hold the fork in by \d+ mm", plan)
    query = "&".join(f"{name}={text}" for name, text in ASKED.items())
    opened = technician_in.get(f"{page(job)}?{query}")
    assert '<a href="/guide/plan/#read-it-far-in">Guide to this page</a>' in opened.content.decode()
    there = words_of(opened)  # type: ignore[arg-type]
    assert proposed is not None and proposed[0] in there, "one reading, on both pages"
    answer = sent(technician_in, job)
    assert answer.status_code == 303 and answer["Location"] == f"/jobs/{job.number}/plan/"
    (row,) = rows()
    assert (row.text, row.stage, row.who, row.instrument.code) == ("60", "as-found", cast.technician, "P2")  # type: ignore[union-attr]
    assert row.held_m == pytest.approx(0.090) and row.start_si == pytest.approx(30 * 6894.757293168361)
    assert row.hose_volume_m3 == pytest.approx(3e-6)
    assert core.tables(job)["found"]["reading"] == [
        {"travel": "90 mm", "pressure": "60 psi", "start": "30 psi", "hose": "3 ml"}
    ]
    assert half_width(job) < 0.9 * before
    told = words_of(technician_in.get(f"/jobs/{job.number}/plan/", ASKED))  # type: ignore[arg-type]
    said = re.search(r"Saved: .*The bottom-out force was known to ± ([\d ]+) N, now to ± ([\d ]+) N", told)
    assert said is not None and int(said[2].replace(" ", "")) < int(said[1].replace(" ", ""))
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))  # type: ignore[arg-type]
    assert "Gauge, held in" in card and "held in by 90 mm, from 30 psi" in card
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change": {"travel": "160 mm"}})
    assert 'start = "30 psi"' in frozen.bench_file and core.recompute(frozen).holds


def test_a_wrong_one_is_struck_with_a_reason_and_counts_no_more(technician_in: Client, job: Job) -> None:
    before = half_width(job)
    sent(technician_in, job)
    (row,) = rows()
    strike = f"{page(job)}{row.pk}/"
    assert people.send(technician_in, strike, {"reason": ""}, page(job)).status_code == 422
    assert len(rows()) == 1
    assert people.send(technician_in, strike, {"reason": "the strap slipped"}, page(job)).status_code == 303
    assert [each.held_m for each in rows()] == [pytest.approx(0.09), None]
    assert half_width(job) == before and "reading" not in core.tables(job)["found"]
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))  # type: ignore[arg-type]
    assert "the strap slipped" in card
    assert people.send(technician_in, strike, {"reason": "again"}, page(job)).status_code == 409, "struck once"
    # The page that corrects other readings sends here: a correction there would lose travel and start.
    other = technician_in.get(f"/jobs/{job.number}/correct/{row.pk}/")
    assert other.status_code == 409 and page(job) in other.content.decode()


REFUSED: tuple[tuple[dict[str, str], str], ...] = (
    ({"shown": "25"}, "held in, it shows more than at full length"),
    ({"held": "160"}, "less than the travel is expected"),
    ({"shown": "200"}, "no fork with these stanchions"),
    ({"start": "72", "held": "120", "shown": "190", "sure": "start=72"}, "the gauge may pass 120 psi"),
    ({"gauge": ""}, "Say which gauge it was"),
    ({"start": "thirty"}, "thirty"),
)


def test_what_can_not_be_or_must_not_be_is_said_and_nothing_is_saved(technician_in: Client, job: Job) -> None:
    def is_said(boxes: dict[str, str], says: str) -> None:
        hidden = {"csrfmiddlewaretoken": people.token(technician_in), "change_key": new_key()}
        answer = technician_in.post(page(job), {**TAKEN, "gauge": "P2", **boxes, **hidden})
        assert answer.status_code == 422 and says in words_of(answer), words_of(answer)[:3000]  # type: ignore[arg-type]
        assert rows() == []

    all_pass(is_said, [(says, (boxes, says)) for boxes, says in REFUSED])


def test_past_the_most_is_kept_only_where_it_was_read_already_and_says_so(technician_in: Client, job: Job) -> None:
    over = {"start": "72", "held": "105", "shown": "148", "sure": "start=72"}
    asked = sent(technician_in, job, **over)
    assert asked.status_code == 422 and 'name="past"' in asked.content.decode()
    assert sent(technician_in, job, **over, past="on").status_code == 303
    assert "past the most for gauge or fork" in rows()[0].note


def test_a_smaller_gauge_has_its_own_ceiling(technician_in: Client, job: Job) -> None:
    Instrument.objects.create(
        code="L1", kind="gauge", name="low gauge", dimension="pressure", span="60 psi", mark="0.5 psi",
        accuracy_class_percent=1.0, hose_volume="1 ml",
    )  # fmt: skip
    answer = sent(technician_in, job, gauge="L1")
    assert answer.status_code == 422 and "the gauge may pass 48 psi" in words_of(answer) and rows() == []


def test_readings_that_contradict_each_other_are_named(technician_in: Client, job: Job) -> None:
    assert sent(technician_in, job, shown="53").status_code == 303
    answer = sent(technician_in, job, shown="67")
    assert answer.status_code == 422 and len(rows()) == 1
    assert "contradicts 53 psi at 90 mm" in words_of(answer) or "contradicts 67 psi at 90 mm" in words_of(answer)


@pytest.mark.parametrize(
    "state", ["released", "steps begun", "known fork", "no sag", "signed out", "another's reading"]
)
def test_the_doors_beside_it_are_shut(
    technician_in: Client, stranger: Client, cast: people.Cast, job: Job, state: str
) -> None:
    expected = {"released": 403, "steps begun": 409, "known fork": 409, "no sag": 409}.get(state, 0)
    if state == "released":
        with change(cast.owner, "release", {}) as doing:
            changes.release(
                doing, job, found="a", done="b", left="c", defects=[], next_service="50 h", fit_to_ride=True
            )
        assert Release.objects.filter(job=job).exists()
    elif state == "steps begun":
        with change(cast.owner, "use", {}) as doing:
            core.freeze(doing, job, {"change": {"travel": "160 mm"}})
        with change(cast.technician, "go on", {}) as doing:
            sign.go_on(doing, job)
    elif state == "known fork":
        job = hollin_job(cast.owner)
    elif state == "no sag":
        job.unit.tables["fork"].pop("stanchion")  # type: ignore[union-attr]
        job.unit.save()  # type: ignore[union-attr]
    elif state == "signed out":
        assert stranger.post(page(job), TAKEN).status_code in (302, 403) and rows() == []
        return
    else:
        sent(technician_in, job)
        other = hollin_job(cast.owner)
        strike = f"{page(other)}{rows()[0].pk}/"
        answer = people.send(technician_in, strike, {"reason": "not mine"}, page(job))
        assert answer.status_code == 409 and len(rows()) == 1
        return
    key = people.field_of(technician_in.get("/instruments/new/"), "change_key")
    token = people.field_of(technician_in.get("/instruments/new/"), "csrfmiddlewaretoken")
    answer = technician_in.post(page(job), {**TAKEN, "gauge": "P2", "change_key": key, "csrfmiddlewaretoken": token})
    assert answer.status_code == expected and rows() == []
    assert "Read it now" not in words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]


def test_a_waiting_job_takes_it(technician_in: Client, cast: people.Cast, job: Job) -> None:
    with change(cast.technician, "waits", {}) as doing:
        changes.remark(doing, job, "waits", "two bushings")
    assert sent(technician_in, job).status_code == 303 and len(rows()) == 1
