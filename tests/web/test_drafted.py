"""Hand-over and sheet are drafted from what the steps signed: nothing is typed again, nothing is said that was not signed."""

from __future__ import annotations

from pathlib import Path

from django.contrib.auth.models import User

from topout.procedures.service import FIELDS
from topout.web import clock
from topout.web.book.models import Family
from topout.web.book.service import service_of
from topout.web.demo.hands import Hands
from topout.web.jobs import core
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release import drafted, hand_over, sheet
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import walk
from topout.web.shelf.models import Tag
from web.people import Cast
from web.test_by_post import posted

WHOLE, BROKEN_OFF, POSTED = 206, 214, 211  # jobs of the demo: walked to its end, in the middle, a fork without its bike


def plain(lines: list[str]) -> str:
    return "\n".join(lines).replace("\xa0", " ")


def test_every_torque_and_oil_that_was_signed_has_its_line(demo: Path) -> None:
    job = Job.objects.get(number=WHOLE)
    told = plain(drafted.done(job))
    steps = {each.key: each for step in walk(job).procedure.steps() for each in step.evidence}
    seen = 0
    for entry in StepEntry.objects.filter(job=job, verdict="passed"):
        for key, answer in entry.evidence.get("answers", {}).items():
            each = steps[key]
            if each.dimension == "torque" or (each.dimension == "volume" and each.service.startswith("oil.")):
                assert answer["text"] in told, key
                seen += 1
            elif each.service.startswith("torque."):
                assert FIELDS[each.service].says[1:] in told, key
                seen += 1
    assert seen >= 4
    tag = Tag.objects.get(job_number=WHOLE, part__isnull=False)
    assert f"tag {tag}" in told and "air shaft for 160 mm" in told


def test_what_the_sheet_gives_stands_with_its_source(demo: Path) -> None:
    job = Job.objects.get(number=WHOLE)
    known = service_of(Family.objects.get(name="Linnet"))
    told = plain(drafted.done(job))
    steps = [each for step in walk(job).procedure.steps() for each in step.evidence]
    for each in steps:
        if each.kind == "tick" and each.service in known and each.service.startswith("torque."):
            assert f"{known[each.service].words}, by {known[each.service].source}".replace("\xa0", " ") in told
    assert drafted.next_service(job) == f"after {known['interval.lowers'].text} hours of riding"


def test_what_is_not_signed_makes_no_line(demo: Path) -> None:
    """Broken off before anything was tightened or filled: no torque, no oil, no leak hold."""
    told = plain(drafted.done(Job.objects.get(number=BROKEN_OFF)))
    assert "N·m" not in told and " ml" not in told and "Leak hold" not in told and "by " not in told


def test_what_was_asked_is_done_once_its_steps_are_through(cast: Cast) -> None:
    """Without a plan yet, a travel change stood under "Done" as it was asked."""
    for procedure in ("travel-change-by-air-shaft", "lower-leg-service", ""):
        job = posted(cast.technician, "fork", {})
        Job.objects.filter(pk=job.pk).update(procedure=procedure)
        job.refresh_from_db()
        assert drafted.done(job) == ([] if procedure else [job.asked_title]), procedure


def test_a_plan_is_done_once_it_was_read_as_left(demo: Path) -> None:
    """Hand-over and the sheet before it said "Set 70 psi with two volume spacers" as done from the moment the plan was used."""
    for number in (BROKEN_OFF, WHOLE):
        job = Job.objects.get(number=number)
        plan = current_plan(job)
        assert plan is not None
        was_set = core.done_of(plan) in drafted.done(job)
        assert was_set is (number == WHOLE), (number, drafted.done(job))
    made, _ = sheet.sheet_of(Job.objects.get(number=BROKEN_OFF))
    assert not any(line.startswith("Set ") for line in made.done), made.done


def test_the_hand_over_offers_it_and_the_sheet_says_it(demo: Path) -> None:
    job = Job.objects.get(number=BROKEN_OFF)
    offered = hand_over._offered(job)
    assert offered["done"] == "\n".join(drafted.done(job)) and offered["next_service"] == "after 60 hours of riding"
    made, _ = sheet.sheet_of(job)
    assert plain(list(made.done)) == plain(drafted.done(job))


def test_a_job_without_a_procedure_says_what_was_asked(demo: Path) -> None:
    job = Job.objects.get(number=213)
    assert drafted.done(job) == [job.asked_title] and drafted.not_checked(job) == []


def test_a_unit_that_came_alone_says_what_could_not_be_looked_at(demo: Path) -> None:
    assert drafted.not_checked(Job.objects.get(number=WHOLE)) == []
    alone = drafted.not_checked(Job.objects.get(number=POSTED))
    assert alone == [
        "Not done, since the unit came without its bike: tighten the brake caliper, its bag off; squeeze the front brake "
        "hard, ten times; tighten the axle; check the stem by the rock test."
    ], "what the job's own procedure would have done, the full stroke given by its twin on the bench"


REASON = "the spray is empty; ordered"


def test_the_leak_hold_and_a_step_left_with_a_reason_stand_in_hand_over_and_sheet(demo: Path) -> None:
    """Worked on to its end with one step gone past: both are said, in what was signed, on both papers."""
    job = Job.objects.get(number=BROKEN_OFF)
    hands = Hands(User.objects.get(username="jory"), clock.now(), seed=5)
    assert "Leak hold" not in plain(drafted.done(job)) and drafted.not_checked(job) == []
    slot = hands.work(job, until="soap")
    assert slot is not None and slot.step.may_skip
    assert "Leak hold" not in plain(drafted.done(job)), "begun is not passed"
    with hands.change("left", 2) as doing:
        sign.leave(doing, job, "soap", "not-done", REASON, walk(job).seen)
    assert hands.work(job) is None
    read = {
        key: answer["text"].split() for entry in StepEntry.objects.filter(job=job, step_key__in=("leak-start", "leak-end"))
        for key, answer in entry.evidence.get("answers", {}).items()
    }  # fmt: skip
    start, end = read["leak-start-pressure"], read["leak-end-pressure"]
    line = next(each for each in drafted.done(job) if each.startswith("Leak hold"))
    told = plain([line])
    assert told.startswith(f"Leak hold: {start[0]} psi at ") and f" at the start, {end[0]} psi at " in told, told
    assert " at its end. It holds: " in told
    left = [each for each in drafted.not_checked(job) if REASON.rstrip(".") in each]
    assert len(left) == 1 and left[0].startswith("Not checked: ") and ": not done, " in left[0]
    offered = hand_over._offered(job)
    made, _ = sheet.sheet_of(job)
    assert line in offered["done"] and plain([line]) in plain(list(made.done))
    assert left[0] in str(offered["defects"]) and plain(left) in plain(list(made.defects))
