"""The page of single questions: each says what the core says of the job's own bench file, and asking saves nothing."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.bench_file.model import Change, Ride
from topout.planner import landing, rebound, replies, ride, target, ways, ways_words
from topout.planner.inexact import MOVING
from topout.planner.wanted import Wanted
from topout.uncertainty.intervals import Interval
from topout.units import System
from topout.web.access import preferences
from topout.web.access.change import change
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs import core
from topout.web.jobs.records import drafts, readings
from topout.web.jobs.records.models import Job
from web import outside_cast, people


@pytest.fixture
def demo_in(demo: Path) -> Client:
    return people.browser(User.objects.get(username="maud"))


def words(page: str) -> str:
    """A page as it is read."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", page)))


def test_each_question_gets_the_cores_own_answer(demo_in: Client) -> None:
    asked = {
        "share": "20",
        "end": "1800 N",
        "head_angle": "66",
        "trail": "110",
        "temperature": "-5",
        "altitude": "1200",
        "clicks": "6",
        "in_all": "12",
    }
    response = demo_in.get(f"/jobs/{PLAN_JOB}/questions/", asked)
    assert response.status_code == 200
    page = words(response.content.decode())
    bench, system = core.bench(Job.objects.get(number=PLAN_JOB)), preferences.system()
    there = replace(bench, ride=Ride(temperature_k=268.15, altitude_m=1200.0))
    wanted = Wanted(sag_share=0.2, end_force_n=1800.0, head_angle_rad=math.radians(66.0), trail_m=0.11)
    for reply in (
        replies.to_targets(target.targets(bench, wanted, MOVING), system),
        replies.to_ride(ride.ride(there, MOVING), system),
        replies.to_rebound(rebound.rebound(bench, 6, 12, MOVING), system),
        replies.to_landing(landing.landing(bench, MOVING), system),
    ):
        for line in (*reply.first, *reply.wrong, *reply.after):
            assert words(line) in page
        for table in reply.tables:
            for row in table.rows:
                assert words(" ".join(row)) in page


def test_unasked_stand_the_landing_and_the_clicks_that_were_found(demo_in: Client) -> None:
    page = demo_in.get(f"/jobs/{PLAN_JOB}/questions/").content.decode()
    found = readings.current(Job.objects.get(number=PLAN_JOB), "as-found")["rebound"]
    box = re.search(r'<input[^>]*name="clicks"[^>]*>', page)
    assert box is not None and f'value="{int(found.value_si)}"' in box.group()
    assert "promise nobody a height" in page and "Ridden elsewhere" in page and "There it sits" not in page


def test_what_may_hurt_is_said_once_and_before_every_answer(demo_in: Client) -> None:
    """It stood in each answer that takes it for granted: under the ways of changing the travel, and under the landing."""
    page = words(demo_in.get("/jobs/209/questions/").content.decode())
    danger = "The fork’s negative chamber is taken to fill itself through a port at full extension"
    assert "How the travel is changed" in page and "A drop of " in page
    assert page.count(danger) == 1 and page.index(danger) < page.index("A sag, a force, a stance")


def test_one_height_is_not_two_in_inches() -> None:
    """A quarter of a metre was “9.8 in” before and “10.0 in” after the change."""
    before, after = (Interval(m, m, m, 0.0) for m in (0.2535, 0.2489))
    of = landing.Landing("front", before, after, drawn=False)
    first = words(replies.to_landing(of, System()).first[0])
    assert (
        first
        == "A drop of 0.25 m · 10 in onto both wheels just uses all the fork’s travel, by its spring alone, as now."
    )


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("share", "120", "1 to 90"),
        ("sag", "30 psi", "30 psi"),
        ("temperature", "warm", "warm"),
        ("clicks", "6.5", "whole number"),
        ("end", "-3", "expected"),
    ],
)
def test_bad_input_is_named_and_answers_nothing(demo_in: Client, name: str, text: str, says: str) -> None:
    response = demo_in.get(f"/jobs/{PLAN_JOB}/questions/", {name: text})
    assert response.status_code == 422
    page = response.content.decode()
    assert says in words(page) and "promise nobody a height" not in page


def test_two_sags_and_too_many_clicks_are_refused_together(demo_in: Client) -> None:
    asked = {"share": "20", "sag": "30 mm", "clicks": "14", "in_all": "12"}
    page = words(demo_in.get(f"/jobs/{PLAN_JOB}/questions/", asked).content.decode())
    assert "Give the sag once" in page and "No fewer than the clicks now" in page


def test_a_sag_past_the_travel_is_said_in_words(demo_in: Client) -> None:
    page = words(demo_in.get(f"/jobs/{PLAN_JOB}/questions/", {"sag": "290 mm"}).content.decode())
    assert "inside the travel" in page


def test_another_travel_is_shown_by_each_way(demo_in: Client) -> None:
    """The three ways beside each other, in the planner's words, where the plan changes the travel."""
    page = words(demo_in.get(f"/jobs/{PLAN_JOB}/questions/").content.decode())
    reply = ways_words.to_ways(ways.ways(core.bench(Job.objects.get(number=PLAN_JOB))), preferences.system())
    assert "How the travel is changed" in page
    for said in (*reply.first, *reply.wrong, *reply.after):
        assert re.sub(r"\s+", " ", said) in page, said
    for row in reply.tables[0].rows:
        for cell in row:
            assert re.sub(r"\s+", " ", cell) in page, cell


def test_of_a_fork_known_from_outside_alone_each_way_is_shown_with_what_it_lies_between(
    technician_in: Client, cast: people.Cast
) -> None:
    job = outside_cast.outside_job(cast.technician)
    with change(cast.technician, "draft", {"made": "for a test"}) as doing:
        drafts.keep(doing, job, core.PLAN_DRAFT, dict(outside_cast.ASKED))
    page = words(technician_in.get(f"/jobs/{job.number}/questions/").content.decode())
    asked = replace(core.bench(job), change=Change(travel_m=0.16))
    reply = ways_words.to_ways(ways.ways(asked, MOVING), preferences.system())
    row = next(row for row in reply.tables[0].rows if row[0] == "bottom-out force")
    assert re.search(r"N to .*N", row[1]) and re.sub(r"\s+", " ", row[1]) in page
    assert "How the travel is changed" in page and "is needed for this" not in page
