"""The demo workshop: what the issue asks of it, and that it is made by the forms' own functions."""

from __future__ import annotations

import itertools
import tomllib
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db.models import F

from topout import units
from topout.units import PSI_PA
from topout.web import clock
from topout.web.access.models import Change
from topout.web.book.models import Rider
from topout.web.book.service import by_name
from topout.web.demo.hands import Hands, Stuck
from topout.web.demo.load import BOTH_JOB, BY_SHAFT, PLAN_JOB
from topout.web.jobs import core
from topout.web.jobs.core import refusals
from topout.web.jobs.desk import up_next
from topout.web.jobs.readings.photos import path_of
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import (
    IMMUTABLE,
    FrozenPlan,
    Instrument,
    Job,
    Photo,
    Reading,
    Release,
    Remark,
    StepEntry,
)
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.steps import entries, sign
from topout.web.jobs.steps.progress import Progress, Slot, walk
from topout.web.jobs.steps.sign import Answer
from topout.web.shelf.models import Part
from web import people, raw


def test_it_holds_what_the_issue_asks_for(demo: Path) -> None:
    jobs = list(Job.objects.all())
    assert len(jobs) >= 12
    have = up_next.standings(jobs)
    nexts = {job.number: up_next.next_of(job, job.pk == up_next.last_worked_on(have)) for job in jobs}
    groups = {row.group for row in nexts.values()}
    assert groups == {"ready", "waits", "out", "stand"}
    assert len({(row.group, row.sentence) for row in nexts.values()}) >= 6, "in different states"
    stand = [number for number, row in nexts.items() if row.group == "stand"]
    assert stand == [PLAN_JOB] and "broken off" in nexts[PLAN_JOB].note, "one interrupted"
    blocked = [row for row in nexts.values() if row.blocked]
    assert len(blocked) == 1 and "trapped" in blocked[0].waits_for, "one blocked as charged"
    assert Reading.objects.exclude(corrects=None).exists(), "a corrected reading"
    assert Job.objects.exclude(comes_back_from=None).count() == 1, "one come-back"
    hands = set(StepEntry.objects.values_list("who__username", flat=True))
    assert hands == {"maud", "jory"}, "two technicians"
    assert any(not rider.name.isascii() for rider in Rider.objects.all()), "a name with an accent"
    assert not User.objects.exclude(password__startswith="!").exists(), "nobody signs in to it by password"


def test_it_covers_six_weeks_that_end_on_the_day_of_loading(demo: Path) -> None:
    now = clock.now()
    times = [at for model in IMMUTABLE for at in model._default_manager.values_list("at", flat=True)]
    assert timedelta(days=40) < now - min(times) < timedelta(days=43)
    assert max(times) <= now, "nothing lies ahead"
    assert now - max(times) < timedelta(hours=16), "the last work is of the last working day"


def test_order_is_by_sequence_and_times_agree(demo: Path) -> None:
    for job in Job.objects.all():
        rows = sorted((row.sequence, row.at) for model in IMMUTABLE for row in model._default_manager.filter(job=job))
        numbers = [number for number, _ in rows]
        assert numbers == list(range(1, len(rows) + 1)), job
        assert [at for _, at in rows] == sorted(at for _, at in rows), job


def test_everything_was_done_by_somebody_in_a_change(demo: Path) -> None:
    times = set(Change.objects.values_list("at", "who"))
    for model in IMMUTABLE:
        for row in model._default_manager.values_list("at", "who"):
            assert row in times, (model.__name__, row)
    for job in Job.objects.all():
        assert job.history.count() >= 1


def test_the_gauge_scatters_like_a_real_one(demo: Path) -> None:
    """Readings of the shop gauge, less what they were made from: scattered by its class, on its marks, the same each time."""
    gauge = Instrument.objects.get(code="P1")
    rows = Reading.objects.filter(instrument=gauge, kind="pressure", stage="as-left")
    psi = sorted({round(row.value_si / PSI_PA, 3) for row in rows})
    assert all(value % 2 == 0 for value in psi), "on marks of 2 psi"
    assert len(psi) >= 3, "not one and the same"
    corrected = Reading.objects.filter(kind="pressure").exclude(corrected_si=None)
    assert corrected.count() > 3 and not corrected.filter(corrected_si__lte=F("value_si")).exists()


def test_the_job_of_the_mockups(demo: Path) -> None:
    job = Job.objects.get(number=PLAN_JOB)
    frozen = current_plan(job)
    assert frozen is not None and frozen.sentence.startswith("Set 70")
    assert "circlip" in up_next.next_of(job).sentence
    assert [row.text for row in Reading.objects.filter(job=job, kind="pressure", stage="as-found")] == [
        "76 psi",
        "71 psi",
    ]
    assert [row.text for row in Reading.objects.filter(job=job, kind="temperature", stage="as-found")] == ["19 degC"]


def test_a_bike_with_both_ends_is_planned_at_both(demo: Path) -> None:
    job = Job.objects.get(number=BOTH_JOB)
    frozen = current_plan(job)
    assert frozen is not None and frozen.sentence.startswith("Shock: set 125") and "Fork: set 60" in frozen.sentence
    of = core.told_frozen(frozen)
    assert of.rear is not None and of.rear.of_wheel.known and of.at_sag and not of.lacking
    page = people.browser(User.objects.get(username="maud")).get(f"/jobs/{BOTH_JOB}/plan/").content.decode()
    for picture in ("Both ends at sag", "Force at the wheel along", "Leverage ratio along", "Wheel rate along"):
        assert picture in page, picture


def test_no_plan_of_the_demo_went_by_a_door_that_pages_have_not(demo: Path) -> None:
    """What a page would refuse is there with an owner's reason alone."""
    refused = set()
    for frozen in FrozenPlan.objects.select_related("job", "who"):
        file = core.frozen_bench(frozen)
        why = refusals.against(frozen.job, file, core.told_frozen(frozen))
        assert not why or (frozen.reason and frozen.who.is_staff), (frozen.job.number, why)
        assert why or not frozen.reason
        refused |= {frozen.job.number} if why else set()
    assert refused == {PLAN_JOB}


def test_the_whole_one_went_from_intake_to_hand_over(demo: Path) -> None:
    whole = {
        job.procedure: job for job in Job.objects.exclude(procedure="") if Release.objects.filter(job=job).exists()
    }
    assert {key: job.number for key, job in whole.items()} == {
        "lower-leg-service": 201, "rear-shock-air-can": 204, BY_SHAFT: 206,
    }  # fmt: skip
    for job in whole.values():
        assert sign.finished(job) and Reading.objects.filter(job=job, stage="as-left").exists(), job
    entries = StepEntry.objects.filter(job=whole[BY_SHAFT])
    assert entries.filter(verdict="passed").count() > 60 and entries.filter(verdict="stopped").exists()
    assert not StepEntry.objects.filter(job__number__in=(201, 204)).exclude(plan=None).exists(), "no plan was needed"


def test_a_posted_fork_has_no_bike_and_no_step_that_needs_one(demo: Path) -> None:
    """The lower legs of a fork in a box, broken off in the middle: neither wheel, brake nor axle is asked for."""
    job = Job.objects.get(bike=None, procedure="lower-leg-service")
    here = walk(job)
    assert job.number == 211 and here.conditions["bike"] == "away" and here.current is not None and here.begun
    with_bike = walk(Job.objects.get(number=201))
    missing = {slot.step.key for slot in with_bike.slots} - {slot.step.key for slot in here.slots}
    assert {"wheel-out", "brake", "axle", "stem"} <= missing
    assert 8 < sum(here.passed(slot) for slot in here.slots) < len(here.slots)


def test_photos_are_there_and_whole(demo: Path) -> None:
    import hashlib

    assert Photo.objects.count() > 3
    for row in Photo.objects.all():
        assert hashlib.sha256(path_of(row.sha256).read_bytes()).hexdigest() == row.sha256


def test_its_records_are_guarded_like_any(demo: Path) -> None:
    assert triggers.missing() == []
    with raw.opened(demo) as base:
        assert base.execute("PRAGMA foreign_key_check").fetchall() == []
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_the_bench_shows_it(demo: Path) -> None:
    page = people.browser().get("/").content.decode()
    assert page.count('class="go"') == 1, "one filled button"
    assert "Turn the circlip once round" in page
    for words in ("Waits for <b>two bushings, 35 mm</b>", "Air stays trapped in the negative chamber"):
        assert words in page
    assert Remark.objects.filter(kind="waits").count() == 3


def test_its_hands_never_sign_one_step_for_ever(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers that do not pass bring the same step again: the hands stop there and say which."""
    job = Job.objects.get(number=PLAN_JOB)
    hands = Hands(User.objects.get(username="jory"), clock.now(), seed=1)
    last = walk(job).current
    assert last is not None
    calls: list[str] = []

    def wrong(_: Hands, here: Progress, slot: Slot) -> dict[str, Answer]:
        calls.append(slot.step.key)
        assert len(calls) < 20, "for ever"
        return {**passing(hands, here, slot), **{
            each.key: Answer(text="199 ml", value_si=199e-6, unit="ml") for each in slot.step.evidence
            if each.key == "oil-left"
        }}  # fmt: skip

    passing = Hands.passing
    hands.work(job, until="oil-left")
    assert walk(job).current is not None, "the job came to its oil"
    monkeypatch.setattr(Hands, "passing", wrong)
    with pytest.raises(Stuck, match=rf"Job {PLAN_JOB}, step \d+ \(oil-left\) comes again.*failed.*199 ml"):
        hands.work(job)
    assert calls == ["oil-left"], "signed once"


def test_what_its_people_read_is_what_a_bench_meets(demo: Path) -> None:
    """Shafts longer for more travel, oil by the family's sheet, ten strokes, and the minutes that the work takes."""
    shafts: dict[float, float] = {}
    for part in Part.objects.filter(kind="air shaft"):
        shafts[length(part.measured["gives"])] = length(part.measured["length"])
    read: dict[int, dict[str, float]] = {}
    for entry in StepEntry.objects.filter(verdict="passed").select_related("job"):
        for key, row in entry.evidence["answers"].items():
            if "value_si" in row:
                read.setdefault(entry.job.number, {})[key] = row["value_si"]
    for number, values in read.items():
        plan = current_plan(Job.objects.get(number=number))
        if plan is not None and "new-shaft-length" in values:
            gives = tomllib.loads(plan.bench_file)["change"]["travel"]
            shafts[length(gives)] = values["new-shaft-length"]
        assert values.get("ten-strokes", 10) == 10, number
        for key in ("oil-left", "oil-right"):
            if key in values:
                sheet = by_name(
                    entries.read([Job.objects.get(number=number)])[Job.objects.get(number=number).pk].sheets
                )
                assert values[key] == pytest.approx(sheet[f"oil.lower-{key[4:]}"].value_si, rel=0.05), number
    travels = sorted(shafts)
    assert len(travels) >= 3 and all(
        shafts[more] - shafts[less] == pytest.approx(more - less, abs=1e-3)
        for less, more in itertools.pairwise(travels)
    ), shafts
    for number, least, most in ((206, 50, 120), (201, 20, 60), (204, 20, 60)):
        seconds = StepEntry.objects.filter(job__number=number).values_list("active_seconds", flat=True)
        assert least < sum(seconds) / 60 < most, number


def length(text: str) -> float:
    return units.parse(text, "length").value_si
