"""What another job of the same unit, or of the same bike, found or left open: no job goes on past it, or out with it, unsaid."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from topout.units import PSI_PA, parse
from topout.web.access.change import change
from topout.web.book import fitting
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import far_in, refusals, unit_dangers
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Instrument, Job, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions, leaving
from topout.web.jobs.steps import judged, not_now, owners, sign
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.shelf import keeping as shelf
from web import job_states, own_kit, people, springs_kit, test_other_end_steps
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import START, Hands, failing, gauge, passing
from web.test_shock_plan import full_suspension

TOLD: dict[str, Any] = {"found": "f", "done": "d", "left": "l", "defects": [], "next_service": "n", "fit_to_ride": True}


def another(cast: Cast, job: Job, procedure: str = "", **instead: Any) -> Job:
    """One more job of the same unit and bike, or of another unit."""
    with change(cast.technician, "another", {"of": job.number}) as doing:
        of = {"rider": job.rider, "bike": job.bike, "unit": job.unit} | instead
        return changes.take_in(doing, **of, asked_title="another", asked="Another.", procedure=procedure)


def planned(cast: Cast, job: Job, at: Hands | None = None, **change_: Any) -> Hands:
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, {"change": change_} if change_ else job_states.CHANGE)
    hands = Hands(cast.technician, job, **({"at": at.at} if at is not None else {}))
    hands.begin()
    return hands


def whole(cast: Cast, job: Job) -> Job:
    """Something read as found and as left, so that nothing of its own stands against a job without steps."""
    with change(cast.technician, "read", {"of": job.number}) as doing:
        for stage in ("as-found", "as-left"):
            readings.take(doing, job, stage, Taken.count("rebound", 7, of_range=14))
    return job


def test_nobody_opens_at_one_job_what_another_job_found_charged(cast: Cast) -> None:
    """Three jobs of one fork under way: what its shaft showed at one closes the cap at the others, until it is tested again."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    point = first._work("empty-by-shaft")
    second = planned(cast, another(cast, job, job.procedure), first)
    second._work("ring-out")
    third = planned(cast, another(cast, job, "pressure-and-spacers"), second, pressure="70 psi", spacers=1)
    cap = third._work("cap-off")
    assert point is not None and cap is not None
    first.sign(point, failing(first.here(), point))
    with pytest.raises(Refused, match=f"Job {job.number}, the same unit: .* No step of this job tests that."):
        third.sign(cap)
    ring = second.here().current
    assert ring is not None and ring.step.key == "ring-out"
    with pytest.raises(Refused, match=f"Step {point.words} tests that again, and comes first."):
        second.sign(ring)
    for key in ("main-vent-port", "empty-at-rest", "empty-by-shaft"):  # the third job read 70 psi since
        again = second.here().slot(key)
        assert again is not None
        second.sign(again, again=True)
    assert third.sign(cap).verdict == "passed" and second.sign(ring).verdict == "passed"


def test_no_coarser_gauge_passes_at_another_job_what_failed_on_a_finer_one(cast: Cast) -> None:
    """3 psi behind the cap failed on marks of 1 psi; at the next job of the fork marks of 5 psi read the same 3 psi for nothing."""
    first = springs_kit.begun(cast)
    slot = first._work("both-empty")
    assert slot is not None
    left = {each.key: Answer(text="3 psi", value_si=3 * PSI_PA, unit="psi") for each in slot.step.evidence}
    assert first.sign(slot, left).verdict == "failed"
    second = planned(cast, another(cast, first.job, first.job.procedure), first)
    second._work("both-empty")
    coarse = Instrument.objects.create(
        code="P9", kind="gauge", name="old pump", dimension="pressure", span="100 psi", mark="5 psi", accuracy_class_percent=1.0,
        confirmed_at=START,
    )  # fmt: skip

    def read(on: Instrument | None, answers: dict[str, Answer]) -> StepEntry:
        second.at += timedelta(minutes=1)
        with change(cast.technician, "read", {}, at=second.at) as doing:
            return sign.sign(doing, second.job, "both-empty", answers, second.here().seen, instrument=on)

    with pytest.raises(Refused, match="It failed on gauge P2"):
        read(coarse, left)
    assert [each.short for each in unit_dangers.of_other_jobs(second.job)] == ["charged, do not open"]
    none = {key: Answer(text="0 psi", value_si=0.0, unit="psi") for key in left}
    assert read(Instrument.objects.get(code="P2"), none).verdict == "passed" and not unit_dangers.of_other_jobs(
        second.job
    )


def test_the_tag_that_another_jobs_release_asks_for_can_be_made_there(cast: Cast) -> None:
    """The white tag from its intake stood for it on the page of the papers, and the release wanted one made since: no way out."""
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "white", {}, at=START - timedelta(hours=1)) as doing:
        shelf.make_tag(doing, unit=job.unit)
    first = planned(cast, job)
    point = first._work("empty-by-shaft")
    assert point is not None
    first.sign(point, failing(first.here(), point))
    other, page = whole(cast, another(cast, job)), people.browser(cast.technician)

    def wanted() -> bool:
        return any("Print it first" in each.words for each in contradictions.faults_of(other))

    place = reverse("papers", args=[other.number])
    assert wanted() and "Make its tag: charged, do not open" in page.get(place).content.decode()
    made = people.send(page, place, {})
    assert made.status_code == 303 and wanted(), "made, and not asked for yet"
    assert people.send(page, f"{made['Location']}print/", {}, page_path=made["Location"]).status_code == 303
    assert not wanted()


@pytest.mark.parametrize("stage", ["in steps", "stopped"])
def test_a_fork_that_lies_open_at_another_job_is_not_fit_to_ride(cast: Cast, stage: str) -> None:
    job = job_states.make(cast, stage)
    other = whole(cast, another(cast, job))
    (fault,) = contradictions.faults_of(other)
    assert fault.hard and fault.words.startswith(f"Job {job.number}, the same unit: step ")
    assert fault.danger, "whatever an owner's reason, it stands on the rider's sheet"
    with pytest.raises(leaving.NotYet, match="the same unit"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, other, reason="He wants it back.", **TOLD)
    with change(cast.technician, "over", {}) as doing:
        changes.release(doing, job, **(TOLD | {"defects": ["Open."], "fit_to_ride": False}))
    (left,) = contradictions.faults_of(other)
    assert not left.hard and "went back not fit to ride" in left.words, (
        "it said what it is, and an owner may sign why not"
    )


def test_a_bike_whose_shock_is_charged_or_lies_open_goes_out_by_an_owners_reason_alone(
    cast: Cast, owner_in: Client
) -> None:
    """The fork's job said "the bike is fit to ride" of a bike whose shock nobody may unscrew."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    assert contradictions.faults_of(job) == []
    shock = core.other_end(job)
    its = another(cast, job, "rear-shock-air-can", unit=shock)
    there = Hands(cast.technician, its)
    there.begin()
    point = there._work("free-length")
    assert point is not None
    (open_,) = contradictions.faults_of(job)
    assert open_.words.startswith(f"Job {its.number}, {shock} on the same bike: step ") and not open_.hard
    there.sign(point, failing(there.here(), point))
    charged, _ = contradictions.faults_of(job)
    assert charged.words.startswith(f"Job {its.number}, {shock} on the same bike: ")
    with change(cast.technician, "over", {}) as doing:
        changes.release(doing, its, **(TOLD | {"defects": ["Charged."], "fit_to_ride": False}))
    assert contradictions.faults_of(job) == [charged]
    with pytest.raises(leaving.NotYet, match="Only an owner"), change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, job, **TOLD)
    with change(cast.owner, "over", {}) as doing:
        release = leaving.hand_over(doing, job, reason="It goes on to the maker with it.", **TOLD)
    assert release.contradictions == [charged.words]


def test_nobody_pumps_and_holds_in_what_another_job_found_charged(cast: Cast) -> None:
    job = job_states.make(cast, "blocked")
    assert "A danger stands on this fork by another job" in far_in.barred(another(cast, job, job.procedure))


def test_nobody_pumps_and_holds_in_what_is_worked_on_at_another_job(cast: Cast) -> None:
    """Its circlip was out there; the plan of the other job sent somebody to pump it and press it far in."""
    job = job_states.make(cast, "in steps")
    other = another(cast, job, job.procedure)
    assert f"The steps of job {job.number} have begun on this fork" in far_in.barred(other)
    handed_back(cast, job)
    assert far_in.barred(other) == ""


def test_what_comes_back_charged_is_that_unit_under_no_other_name(cast: Cast, technician_in: Client) -> None:
    """The same fork, written down anew beside "comes back from job 201", was a fork on which nothing stands."""
    job = job_states.make(cast, "blocked")
    new = {
        "rider": job.rider_id, "unit_name": "black fork", "unit_kind": "fork", "asked_title": "come-back", "asked": "Still hard.",
        "technician": "jory", "comes_back_from": job.number,
    }  # fmt: skip
    answer = people.send(technician_in, "/jobs/new/", new)
    assert (
        answer.status_code == 422 and f"was about {job.unit}, and there it stands: charged" in answer.content.decode()
    )
    same = {key: value for key, value in new.items() if not key.startswith("unit_")} | {"unit": job.unit_id}
    assert people.send(technician_in, "/jobs/new/", same).status_code == 303
    assert Job.objects.latest("pk").unit == job.unit
    hold = Hands(cast.technician, job).here().current
    assert hold is not None
    Hands(cast.technician, job).sign(hold)
    assert people.send(technician_in, "/jobs/new/", new).status_code == 303, "empty again, it may be about anything"


def test_no_order_is_switched_on_a_fork_that_another_job_found_charged(cast: Cast) -> None:
    """The variant pumps the fork up with its lowers off: not what stands charged by another job's word."""
    job = job_states.make(cast, "blocked")
    hands = planned(cast, another(cast, job, job.procedure))
    with (
        pytest.raises(Refused, match=f"Job {job.number}, the same unit: .*The order of the steps stays"),
        change(cast.owner, "on", {}) as doing,
    ):
        owners.switch(doing, hands.job, "inflate-before-lower-legs", on=True)


def test_of_two_shocks_on_a_bike_none_is_pumped_before_somebody_said_which(cast: Cast, technician_in: Client) -> None:
    """The one that was put in first was taken for it; fitted may be the other, and that one is charged."""
    job, hands = test_other_end_steps.begun(technician_in, cast)
    slot, first = hands.here().current, core.other_end(job)
    assert slot is not None and first is not None and job.bike is not None
    with change(cast.technician, "another shock", {}) as doing:
        newer = book.make_unit(doing, bike=None, name="the newer can", kind="shock", tables=first.tables)
    Unit.objects.filter(pk=newer.pk).update(bike=job.bike)  # as a Book of before has it
    there = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=newer), at=hands.at)
    there.begin()
    point = there._work("free-length")
    assert point is not None
    there.sign(point, failing(there.here(), point))
    which = f"The Book has 2 shocks on {job.bike}: {first} and {newer}."
    with pytest.raises(Refused, match=which):
        hands.sign(slot)
    assert which in technician_in.get(reverse("plan", args=[job.number])).content.decode()
    assert which in technician_in.get(reverse("bike", args=[job.bike.pk])).content.decode()
    assert any(each.hard and each.words.startswith(which) for each in contradictions.faults_of(job))
    asked: dict[str, Any] = {"change": {"pressure": "70 psi"}}
    with pytest.raises(refusals.Refused, match=which) as no, change(cast.owner, "use", {}) as doing:
        refusals.use(doing, job, core.bench(job, asked), asked, "He asked for it.")
    assert not no.value.ask_owner, "no reason tells which one stands there"
    newer.refresh_from_db()
    with change(cast.technician, "said", {}) as doing:
        fitting.fit(doing, newer, None, timezone.localtime(doing.at).date())
    assert hands.sign(slot).verdict == "passed"
    assert any(f"{newer} off this bike since " in each.words for each in contradictions.faults_of(job)), (
        "charged, beside it"
    )


def test_no_plan_for_one_shock_pumps_another(cast: Cast, technician_in: Client) -> None:
    """What stands at the other end now was not what the plan in use was made with: another can, with chambers of its own."""
    job, hands = test_other_end_steps.begun(technician_in, cast)
    slot, first = hands.here().current, core.other_end(job)
    assert slot is not None and first is not None and job.bike is not None
    with change(cast.technician, "another shock", {}) as doing:
        newer = book.make_unit(
            doing, bike=None, name="the newer can", kind="shock", tables={"shock": {"stroke": "50 mm"}}
        )
        fitting.fit(doing, newer, job.bike, timezone.localtime(doing.at).date(), instead=True)
    with pytest.raises(Refused, match=f"made with {first} at the other end, and {newer} stands there now"):
        hands.sign(slot)
    moved = f"at the other end {first} → {newer}. Make the plan again."
    assert any(each.words.endswith(moved) for each in contradictions.faults_of(job))


def handed_back(cast: Cast, job: Job, at: datetime | None = None) -> None:
    with change(cast.technician, "back", {"of": job.number}, at=at) as doing:
        changes.release(doing, job, **(TOLD | {"defects": ["Told."], "fit_to_ride": False}))


def test_an_axle_that_was_not_tight_goes_out_at_no_other_job_of_the_bike_unsaid(
    cast: Cast, technician_in: Client
) -> None:
    """The shock's job found the axle loose and went back not fit; the fork's job said "fit to ride" of the same bike the same day."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    shock = core.other_end(job)
    its = Hands(cast.technician, another(cast, job, "return-to-rider", unit=shock))
    its.begin()
    axle = its._work("axle")
    assert axle is not None and shock is not None
    its.sign(axle, failing(its.here(), axle))
    handed_back(cast, its.job)
    (fault,) = contradictions.faults_of(job)
    assert fault.words.startswith(f"Job {its.job.number}, {shock} on the same bike: ") and "Not tight" in fault.words
    (same,) = contradictions.faults_of(whole(cast, another(cast, job, unit=shock)))
    assert "Not tight" in same.words and same.hard, "no reason hands a rider an axle that is not tight"
    assert f"step {axle.number}," in technician_in.get(reverse("unit", args=[shock.pk])).content.decode()
    again = Hands(cast.technician, another(cast, job, "return-to-rider"), at=its.at)
    again.begin()
    again._work("stem")
    assert contradictions.faults_of(job) != [], "that job lies open now"
    assert not any("Not tight" in each.words for each in contradictions.faults_of(job)), "the same axle, tight since"
    again.sign(axle, failing(again.here(), axle), again=True)
    assert any("Not tight" in each.words for each in contradictions.faults_of(job)), "a pass before it lifts nothing"


def test_a_shock_bolt_that_was_not_tight_is_told_at_the_forks_job(cast: Cast) -> None:
    """A hold point that stops nothing is told beside the bike's other units too: nobody else asks for the shock's bolts."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    its = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=core.other_end(job)))
    its.begin()
    bolts = its._work("shock-bolts")
    assert bolts is not None
    its.sign(bolts, failing(its.here(), bolts))
    handed_back(cast, its.job)
    (fault,) = contradictions.faults_of(job)
    assert "Tighten the shock’s bolts. Not tight." in fault.words and not fault.hard


def left_with(cast: Cast, job: Job, psi: str, stage: str = "as-left") -> None:
    with change(cast.technician, "read", {"job": job.number, "psi": psi, "stage": stage}) as doing:
        readings.take(doing, job, stage, Taken.quantity("pressure", parse(psi, "pressure"), "pressure"))


def test_what_was_read_before_another_job_left_the_unit_does_not_go_over_it(cast: Cast) -> None:
    """70 psi read in the morning at one job, 90 at the next, which went out first: the Book, and the next plan, said 70."""
    first = hollin_job(cast.technician)
    Job.objects.filter(pk=first.pk).update(procedure="")
    left_with(cast, first, "70 psi")
    second = another(cast, first)
    left_with(cast, second, "72 psi", "as-found")
    left_with(cast, second, "90 psi")
    with change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, second, **TOLD)
    first = Job.objects.get(pk=first.pk)
    (fault,) = contradictions.faults_of(first)
    assert fault.hard and f"and job {second.number} left the same unit with 90" in fault.words
    with change(cast.technician, "not fit", {}) as doing:
        leaving.hand_over(doing, first, **(TOLD | {"fit_to_ride": False, "defects": ["Bell."]}))
    unit = Unit.objects.get(jobs=first)
    assert unit.tables["fork.air"]["pressure"] == "90 psi" and "90" in unit.left["readings"]["pressure"]


def test_what_is_read_after_another_job_left_the_unit_is_what_was_left(cast: Cast) -> None:
    job = hollin_job(cast.technician)
    Job.objects.filter(pk=job.pk).update(procedure="")
    before = {"job": 7, "at": "2026-11-01T10:00:00+00:00", "next_service": "", "readings": {"pressure": "90 psi"}}
    Unit.objects.filter(jobs=job).update(left=before)
    left_with(cast, job, "70 psi")
    job = Job.objects.get(pk=job.pk)
    assert contradictions.faults_of(job) == []
    with change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, job, **TOLD)
    assert Unit.objects.get(jobs=job).tables["fork.air"]["pressure"] == "70 psi"


def test_nobody_pumps_what_lies_open_at_another_job(cast: Cast) -> None:
    """The circlip was out at one job; at the next one of the same fork every step of pumping it to 80 psi was signed."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    ring = first._work("ring-seated")
    second = planned(cast, another(cast, job, "pressure-and-spacers"), first, pressure="80 psi", spacers=2)
    pump = second._work("pumped")
    assert ring is not None and pump is not None
    with pytest.raises(
        Refused, match=f"Job {job.number}, the same unit: it lies open there, and nobody signed step {ring.number} of"
    ):
        second.sign(pump)
    first.at = second.at
    first._work("fill")
    assert second.sign(pump).verdict == "passed", "closed there, and about to be filled there too"


def test_two_jobs_that_have_a_fork_open_at_once_do_not_wait_for_each_other(cast: Cast) -> None:
    gauge()
    job = hollin_job(cast.technician)
    one = planned(cast, another(cast, job, "pressure-and-spacers"), pressure="80 psi", spacers=1)
    two = planned(cast, another(cast, job, "pressure-and-spacers"), one, pressure="80 psi", spacers=1)
    pumps = [hands._work("pumped") for hands in (one, two)]
    for hands, slot in zip((one, two), pumps, strict=True):
        assert slot is not None and hands.sign(slot).verdict == "passed"


def test_nobody_pumps_from_the_forks_job_a_shock_whose_can_is_off(cast: Cast, technician_in: Client) -> None:
    job, hands = test_other_end_steps.begun(technician_in, cast)
    slot, shock = hands.here().current, core.other_end(job)
    there = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=shock), at=hands.at)
    there.begin()
    there._work("can-on")
    hands.at = there.at
    assert slot is not None
    with pytest.raises(Refused, match=f"{shock}: it lies open there"):
        hands.sign(slot)
    handed_back(cast, there.job, there.at)
    with pytest.raises(Refused, match=f"{shock}: it went back open, not fit to ride"):
        hands.sign(slot)
    with change(cast.technician, "found", {}, at=there.at + timedelta(days=1)) as doing:
        readings.take(
            doing,
            another(cast, job, unit=shock),
            "as-found",
            Taken.quantity("pressure", parse("60 psi", "pressure"), "pressure"),
        )
    assert hands.sign(slot).verdict == "passed", "it came back closed, with air in it"


def found(cast: Cast, hands: Hands, psi: str) -> None:
    with change(cast.technician, "found", {}, at=hands.at) as doing:
        readings.take(doing, hands.job, "as-found", Taken.quantity("pressure", parse(psi, "pressure"), "pressure"))


def test_nobody_pumps_what_went_back_open(cast: Cast, technician_in: Client) -> None:
    """Handed back not fit with its circlip out, the fork was pumped to 80 psi at its next job: the release alone said it, afterwards."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    ring = first._work("ring-seated")
    handed_back(cast, job, first.at)
    quick = whole(cast, another(cast, job))
    handed_back(cast, quick, first.at)  # a job without a step tells nothing of it
    with pytest.raises(leaving.NotYet, match="went back not fit to ride"), change(cast.technician, "out", {}) as doing:
        leaving.hand_over(doing, whole(cast, another(cast, job)), **TOLD)
    second = planned(cast, another(cast, job, "pressure-and-spacers"), first, pressure="80 psi", spacers=2)
    pump = second._work("pumped")
    assert ring is not None and pump is not None
    found(cast, second, "0 psi")
    said = f"Job {job.number}, the same unit: it went back open, not fit to ride, and nobody signed step {ring.number} of that job"
    page = people.browser(cast.technician).get(reverse("step", args=[second.job.number, "pumped"]), follow=True)
    assert f"<b>Not now.</b> {said}" in page.content.decode(), "before anybody pumps"
    with pytest.raises(Refused, match=said):
        second.sign(pump)
    third = planned(cast, another(cast, job, job.procedure), second)
    assert third._work("fill") is not None
    last = third.here().current
    assert last is not None and third.sign(last).verdict == "passed", "opened and closed again by the same procedure"


def test_what_went_back_open_and_came_in_with_air_in_it_is_pumped(cast: Cast) -> None:
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    first._work("ring-seated")
    handed_back(cast, job, first.at)
    second = planned(cast, another(cast, job, "pressure-and-spacers"), first, pressure="80 psi", spacers=2)
    pump = second._work("pumped")
    assert pump is not None
    for nothing in ("0 psi", "1 psi", "5 psi"):  # what a gauge may show on nothing shuts no fork
        found(cast, second, nothing)
        with pytest.raises(Refused, match="went back open"):
            second.sign(pump)
    found(cast, second, "60 psi")
    assert second.sign(pump).verdict == "passed"


@pytest.mark.parametrize("found_at", ["", "60 psi"])
def test_a_clock_that_stood_back_at_the_hand_over_closes_no_fork(cast: Cast, found_at: str) -> None:
    """Handed back open by a clock two hours slow: its own steps, and what it was found with, were “since” then, and it was pumped."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    if found_at:
        found(cast, first, found_at)
    assert first._work("ring-seated") is not None
    handed_back(cast, job, first.at - timedelta(hours=2))
    second = planned(cast, another(cast, job, "pressure-and-spacers"), first, pressure="80 psi", spacers=2)
    pump = second._work("pumped")
    assert pump is not None
    found(cast, second, "0 psi")
    with pytest.raises(Refused, match="went back open"):
        second.sign(pump)


def test_what_was_shut_in_at_one_order_of_the_steps_is_lifted_by_the_same_question_at_another(cast: Cast) -> None:
    """The point of an order that pumps early: no new job has it, and nothing ever lifted it."""
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "plan", {}, at=START) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    first = Hands(cast.technician, job)
    first.begin()
    with change(cast.owner, "on", {}, at=first.at) as doing:
        owners.switch(doing, job, "inflate-before-lower-legs", on=True)
    shut = first._work("dry-empty")
    assert shut is not None
    first.sign(shut, failing(first.here(), shut))
    again = first.here().slot("empty-by-shaft")
    assert again is not None
    first.sign(again, again=True)
    assert [each.point for each in unit_dangers.of_units([job.unit_id or 0])[job.unit_id or 0]] == [("dry-empty", 0)], (
        "the job that has the point tests it there"
    )
    with change(cast.technician, "tag", {}, at=first.at) as doing:
        made = shelf.make_tag(doing, unit=job.unit)
    handed_back(cast, job, first.at)
    second = planned(cast, another(cast, job, job.procedure), first)
    proof = second._work("empty-by-shaft")
    assert proof is not None and made is not None
    ring = next(slot for slot in second.here().slots if slot.step.key == "ring-out")
    assert f"Step {proof.words} tests that again, and comes first" in not_now.said(second.here(), [proof, ring])
    assert second.sign(proof, failing(second.here(), proof)).verdict == "failed"
    assert [each.short for each in unit_dangers.of_other_jobs(second.job)] == ["charged, do not open"]
    assert second.sign(proof, again=True).verdict == "passed"
    assert unit_dangers.of_units([job.unit_id or 0]) == {}


def test_what_one_job_handed_back_open_no_other_hands_over_unsaid(cast: Cast) -> None:
    """Not fit to ride anybody hands it back; taken in anew without steps it went out fit, its brake and axle tried by nobody."""
    gauge()
    job = hollin_job(cast.technician)
    hands = planned(cast, job)
    brake = hands._work("brake")
    assert brake is not None
    handed_back(cast, job)
    anew = whole(cast, another(cast, job))
    (fault,) = contradictions.faults_of(anew)
    said = (
        f"Job {job.number}, the same unit, went back not fit to ride, step {brake.number} of {hands.here().total} open."
    )
    assert fault.words == said and not fault.hard and fault.danger
    with pytest.raises(leaving.NotYet, match="Only an owner"), change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, anew, **TOLD)
    rider = Hands(cast.technician, another(cast, job, "return-to-rider"), at=hands.at)
    rider.begin()
    rider._work("axle")
    assert said in [each.words for each in contradictions.faults_of(rider.job)]
    rider._work(None)
    assert said not in [each.words for each in contradictions.faults_of(rider.job)], "its own steps say it"


def test_a_shock_that_was_handed_back_open_is_told_at_the_forks_job(cast: Cast) -> None:
    """Its can stood on, its bolts in by hand: the fork's job of the same bike went out as fit to ride."""
    gauge()
    job = whole(cast, full_suspension(cast.technician, "fork"))
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    its = Hands(cast.technician, another(cast, job, "rear-shock-air-can", unit=core.other_end(job)))
    its.begin()
    its._work("shock-bolts")
    handed_back(cast, its.job)
    (fault,) = contradictions.faults_of(job)
    assert fault.words.startswith(f"Job {its.job.number}, The shock on the same bike, went back not fit to ride, step ")


def test_a_picture_of_another_circlip_proves_nothing_of_this_one(cast: Cast) -> None:
    """The photo of one fork's circlip was taken as the proof of another's."""
    gauge()
    job = hollin_job(cast.technician)
    hands = planned(cast, job)
    ring = hands._work("ring-seated")
    assert ring is not None
    seen = passing(hands.here(), ring)
    assert hands.sign(ring, seen).verdict == "passed" and hands.sign(ring, seen, again=True).verdict == "passed"
    handed_back(cast, job, hands.at)
    later = planned(cast, another(cast, job, job.procedure), hands)
    slot = later._work("ring-seated")
    assert slot is not None
    with pytest.raises(
        Refused, match=f"this very picture is kept at job {job.number}, as “The circlip, all of it”, already"
    ):
        later.sign(slot, seen)
    (proof,) = (each for each in seen.values() if each.photo is not None)
    label = later.here().slot("shaft-label")
    assert label is not None and judged._seen_before(later.here(), label, proof) == "", (
        "no hold point: it proves nothing"
    )
    assert later.sign(slot).verdict == "passed"


LIKE_SHAFT = """grammar = 2
title = "Cap looked under"
version = 1
summary = "The cap off, and on again. The maker’s sheet comes first."
for = ["fork"]
plan = false

[[group]]
key = "came"
title = "How it came"
complete = "As found: complete."
[[group.step]]
include = "how-it-came"
[[group]]
include = "relieve"
[[group]]
include = "relieve-second"
[[group]]
key = "look"
title = "Look"
complete = "Look: complete."
[[group.step]]
key = "look-cap"
do = "Unscrew the top cap."
evidence = [{ key = "look-cap", kind = "tick", label = "Off" }]
[[group.step]]
key = "empty-by-shaft"
do = "Look at the shaft."
evidence = [{ key = "empty-by-shaft", kind = "tick", label = "Looked at" }]
"""


def test_a_step_of_their_own_by_the_same_name_opens_nothing_before_it(cast: Cast) -> None:
    """Charged by what the shaft showed at one job; at the next a tick named like that point stood last, and all before it was open to sign."""
    gauge()
    job = hollin_job(cast.technician)
    first = planned(cast, job)
    shaft = first._work("empty-by-shaft")
    assert shaft is not None
    first.sign(shaft, failing(first.here(), shaft))
    own_ = own_kit.keep(cast.owner, LIKE_SHAFT, "cap-look")
    hands = Hands(cast.technician, another(cast, job, own_kit.name_of(own_)), at=first.at)
    hands.begin()
    with pytest.raises(Refused, match=f"Job {job.number}, the same unit: .* No step of this job tests that"):
        hands._work(None)
    now = hands.here().current
    assert now is not None and now.step.key == "gauge-zero"
