"""A step that was read, did not pass, and was gone past: what was read goes out with nobody unsaid."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from topout.web.access.change import change
from topout.web.jobs.records.models import Job
from topout.web.jobs.release import contradictions, drafted, leaving
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.sign import Answer
from web import people
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, gauge, passing
from web.test_by_post import posted
from web.test_other_jobs import TOLD, planned
from web.test_shock_plan import full_suspension

GAP = Answer(text="2 mm", value_si=0.002, unit="mm")


def worked(cast: Cast, key: str, answer: Answer, *, mended: bool = False) -> Hands:
    """A travel change worked to its end, one step answered so that it does not pass and then left as not known; or read again."""
    gauge()
    job = hollin_job(cast.technician)
    hands = planned(cast, job)
    slot = hands._work(key)
    assert slot is not None
    assert hands.sign(slot, passing(hands.here(), slot) | {key: answer}).verdict == "failed"
    if mended:
        hands.sign(slot)
    else:
        browser, place = people.browser(cast.technician), reverse("step-left", args=[job.number, key])
        sent = {"verdict": "not-known", "seen": hands.here().seen}
        assert people.send(browser, place, sent).status_code == 303
    hands._work(None)
    return hands


@pytest.mark.parametrize(
    ("key", "answer", "said"),
    [("crown-gap", GAP, "fully in. 2 mm. "), ("full-lock", Answer(choice="Touches"), "fully in. Touches. ")],
)
def test_what_did_not_pass_and_was_left_takes_an_owners_signed_reason(
    cast: Cast, key: str, answer: Answer, said: str
) -> None:
    """2 mm from tyre to crown, then "not known": the bike went out as fit to ride and the sheet spoke of a gap that nobody had measured."""
    job = worked(cast, key, answer).job
    (fault,) = contradictions.faults_of(job)
    words = fault.words.replace("\xa0", " ")
    assert "did not pass" in words and said in words and words.endswith("It was gone past: not known.")
    with pytest.raises(leaving.NotYet, match="Only an owner"), change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, job, **TOLD)
    told: dict[str, Any] = TOLD | {"fit_to_ride": False, "defects": ["Told."]}
    with change(cast.technician, "over", {}) as doing:
        assert fault.words in leaving.hand_over(doing, job, **told).defects


def test_read_again_and_passed_it_is_nobodys(cast: Cast) -> None:
    assert contradictions.faults_of(worked(cast, "crown-gap", GAP, mended=True).job) == []


def test_a_hold_point_that_was_gone_past_is_told_to_the_rider(cast: Cast, technician_in: Client) -> None:
    """The shock's bolts were not tightened, "later"; the line that said so was taken out, and the bike went out as fit to ride."""
    gauge()
    job = full_suspension(cast.technician, "shock")
    hands = Hands(cast.technician, job)
    hands.begin()
    hands._work("shock-bolts")
    with change(cast.technician, "later", {}, at=hands.at) as doing:
        sign.leave(doing, job, "shock-bolts", "not-done", "later", hands.here().seen)
    hands._work(None)
    place = reverse("hand-over", args=[job.number])
    assert "Not checked: Tighten the shock’s bolts: not done, later." in technician_in.get(place).content.decode()
    with pytest.raises(leaving.NotYet, match="a hold point, was gone past"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, job, reason="because", **TOLD)
    told = {name: TOLD[name] for name in ("found", "done", "left", "next_service")} | {
        "defects": "",
        "fit_to_ride": "yes",
    }
    assert people.send(technician_in, place, told).status_code == 303
    assert "among the defects it is not told" in technician_in.get(f"{place}check/").content.decode()
    told["defects"] = "Before the first ride: tighten the shock’s bolts by the maker’s sheet."
    assert people.send(technician_in, place, told).status_code == 303
    drawn = people.field_of(technician_in.get(f"{place}check/"), "drawn_at")
    assert people.send(technician_in, f"{place}check/", {"drawn_at": drawn}).status_code == 303


def test_what_a_unit_without_its_bike_leaves_unchecked_is_told_to_the_rider(cast: Cast) -> None:
    """It came by post; the line about bolts and bearings was taken out, and nobody told the rider to tighten them."""
    gauge()
    job = posted(cast.technician, "shock", {"shock": {"stroke": "55 mm"}}, "170 psi", 0)
    Job.objects.filter(pk=job.pk).update(procedure="rear-shock-air-can")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    hands._work(None)
    (line,) = [each for each in drafted.not_checked(hands.job) if "came without its bike" in each]
    assert list(drafted.not_told(hands.job, [line])) == []
    with (
        pytest.raises(leaving.NotYet, match="not done: Tighten the shock’s bolts"),
        change(cast.owner, "over", {}) as doing,
    ):
        leaving.hand_over(doing, hands.job, reason="because", **TOLD)
    told = TOLD | {"defects": ["At home: tighten the shock’s bolts by the frame’s sheet."]}
    with change(cast.owner, "over", {}) as doing:
        assert leaving.hand_over(doing, hands.job, reason="because", **told).fit_to_ride
