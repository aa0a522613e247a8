"""The steps of coil forks and coil shocks, walked; the load of the spring off before its cap; doors beside that."""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from topout.web.book.tables import Tables
from topout.web.jobs.core import danger, unit_dangers
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.release import tags
from topout.web.jobs.release.contradictions import faults_of
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import walk
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.shelf.models import Tag
from web import people
from web.people import Cast
from web.springs_kit import PLANS, taken_in
from web.steps_kit import START, Hands, failing, gauge, make_job, passing
from web.test_other_jobs import another

OF_FORKS = ("coil-lower-legs", "coil-fork-annual", "coil-clearance", "coil-spring-change", "return-to-rider-coil")


@pytest.mark.parametrize(
    ("procedure", "plan"),
    [*((key, "rate" if key in ("coil-clearance", "coil-spring-change") else "") for key in OF_FORKS),
     ("coil-spring-change", "preload"), ("coil-spring-change", "travel")],
)  # fmt: skip
def test_a_coil_fork_is_worked_to_its_end_and_may_go_out(cast: Cast, procedure: str, plan: str) -> None:
    hands = taken_in(cast, procedure, asked=PLANS[plan] if plan else None)
    hands.begin()
    order = [slot.step.key for slot in hands.here().slots]
    if plan == "preload":
        assert "coil-cap-off" not in order and "coil-preload" in order
    if plan == "travel":
        at = [
            order.index(k)
            for k in (
                "coil-unwound",
                "coil-cap-off",
                "foot-bolts",
                "coil-rod-loose",
                "ring-out",
                "travel-spacer",
                "ring-seated",
                "tug",
                "coil-cap-on",
            )
        ]
        assert at == sorted(at)
    assert hands.until(None) is None and sign.finished(hands.job)
    assert danger.of(hands.job) == ()
    left = {row.kind: row.value_si for row in Reading.objects.filter(job=hands.job, stage="as-left")}
    if procedure == "coil-spring-change":
        assert left["preload"] == pytest.approx({"rate": 0.008, "preload": 0.010, "travel": 0.012}[plan])
        assert ("coil-rate" in left) is (plan != "preload")
        if plan == "rate":
            assert left["coil-rate"] == pytest.approx(8500)
    assert not [each.words for each in faults_of(hands.job) if each.hard or each.always and "found" not in each.words]


def test_a_coil_shock_is_worked_to_its_end(cast: Cast) -> None:
    hands = taken_in(cast, "coil-shock-spring", kind="coil-shock")
    hands.begin()
    order = [slot.step.key for slot in hands.here().slots]
    at = [
        order.index(k)
        for k in (
            "old-preload",
            "collar-off",
            "retainer-out",
            "damper-stroked",
            "damper-dry",
            "shock-bind",
            "retainer-in",
            "collar-set",
        )
    ]
    assert at == sorted(at)
    assert hands.until(None) is None and sign.finished(hands.job) and danger.of(hands.job) == ()


@pytest.mark.parametrize(("procedure", "kind", "hold", "opened"), [
    ("coil-lower-legs", "coil-fork", "coil-unwound", "foot-bolts"), ("coil-fork-annual", "coil-fork", "coil-unwound", "coil-cap-off"),
    ("coil-shock-spring", "coil-shock", "collar-off", "retainer-out"),
])  # fmt: skip
def test_a_spring_that_is_wound_up_stops_the_work_and_says_what_it_can_do(
    cast: Cast, procedure: str, kind: str, hold: str, opened: str
) -> None:
    """Fork: 7.5 N/mm × 20 mm = 150 N, k·p²/2 = 1.5 J. Shock: what its own steps read, 70 N/mm × 2 mm = 140 N, 0.14 J."""
    hands = taken_in(cast, procedure, kind=kind)
    hands.begin()
    slot = hands.until(hold)
    assert slot is not None
    force, energy = ("150", "1.5") if kind == "coil-fork" else ("140", "0.14")
    here = hands.here()
    sheet = people.browser(cast.technician).get("/jobs/301/steps/", follow=True).content.decode()
    caution = here.say(slot, slot.step.caution + slot.step.detail).replace("\u00a0", " ")
    assert f"{force} N" in caution and f"{energy} J" in caution
    hands.sign(slot, failing(here, slot))
    (found,) = danger.of(hands.job)
    assert found.loaded and not found.charged and found.stops
    later = next(each for each in hands.here().slots if each.step.key == opened)
    with pytest.raises(Refused, match="comes first"):
        hands.sign(later, passing(hands.here(), later), minutes=0)
    page = people.browser(cast.technician).get(f"/jobs/301/steps/{hold}/").content.decode()
    words = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\u00a0", " ").split())
    assert f"Force of the coil {force} N" in words and f"Energy in the coil {energy} J" in words
    # E/(10 kg·g₀), rounded up: 1.5 J and 0.14 J are 15.3 and 1.43 mm; "0.00 m" stood there.
    assert f"as 10 kg falling {'16 mm' if kind == 'coil-fork' else '1.5 mm'}" in words
    assert f"Stop; the {kind.removeprefix('coil-')} is safe" in sheet
    assert "wound up, do not open" in words and "negative chamber" not in page
    assert any("no tag" in each.words for each in faults_of(hands.job))
    tag = Tag.objects.create(code="K7M4QX", unit=hands.job.unit, made_at=START, made_by=cast.technician)
    black = tags._stop(tag, "K7M-4QX", "https://bench.example/t")
    assert black is not None and black.title == "Wound up. Do not open." and force in black.rows[0][1]
    hands.sign(slot)
    assert danger.of(hands.job) == ()


def test_a_spring_that_binds_does_not_pass(cast: Cast) -> None:
    """140 mm of travel and 8 mm of preload: coils that leave 147 mm touch first, 148 mm is enough."""
    hands = taken_in(cast, "coil-spring-change", asked=PLANS["rate"])
    hands.begin()
    slot = hands.until("coil-bind")
    assert slot is not None
    for metres, verdict in ((0.147, "failed"), (0.148, "passed")):
        entry = hands.sign(slot, {"coil-bind": Answer(text=f"{metres * 1e3:g} mm", value_si=metres, unit="mm")})
        assert entry.verdict == verdict


@pytest.mark.parametrize("procedure", [*OF_FORKS, "coil-shock-spring"])
def test_no_coil_step_is_given_to_a_spring_of_air(cast: Cast, procedure: str) -> None:
    """They let no air out: refused with a plan and without, to a unit on air, to none, and once steps are signed too."""
    gauge()
    job = make_job(cast.technician)
    job.procedure = procedure
    job.save()
    with pytest.raises(NoSteps, match="let no air out"):
        walk(job)
    Job.objects.filter(pk=job.pk).update(number=300)
    hands = taken_in(cast, "coil-lower-legs") if procedure == "coil-lower-legs" else None
    if hands is None:
        return
    hands.begin()
    hands.until("coil-hangs")
    unit = hands.job.unit
    assert unit is not None
    unit.kind = "fork"
    unit.save()
    with pytest.raises(NoSteps, match="let no air out"):
        walk(Job.objects.get(pk=hands.job.pk))


@pytest.mark.parametrize("procedure", OF_FORKS[:-1])
def test_a_fork_of_air_that_was_taken_in_as_a_coil_fork_is_found_out_before_its_cap(cast: Cast, procedure: str) -> None:
    """No gauge was put on it: with 70 psi behind its cap the coil’s steps let nothing out, and “turns with no load” was all they asked."""
    plan = PLANS["travel"] if procedure == "coil-spring-change" else PLANS["rate"]
    hands = taken_in(cast, procedure, asked=plan if procedure in ("coil-spring-change", "coil-clearance") else None)
    hands.begin()
    look = hands.until("air-valve")
    assert look is not None and look.step.hold and not look.step.may_skip
    order = [slot.step.key for slot in hands.here().slots]
    assert order.index("air-valve") < min(
        order.index(key) for key in ("preload-off", "coil-cap-off", "foot-bolts") if key in order
    )
    hands.sign(look, failing(hands.here(), look))
    (found,) = danger.of(hands.job)
    assert found.stops and found.charged and hands.here().blocked
    page = people.browser(cast.technician).get("/jobs/301/steps/air-valve/").content.decode()
    assert "charged, do not open" in page and "<figure>" not in page and "negative chamber" not in page
    later = hands.here().slot("coil-unwound")
    assert later is not None
    with pytest.raises(Refused, match="comes first"):
        hands.sign(later, minutes=0)


def test_the_book_is_put_right_and_the_steps_of_air_let_it_out(cast: Cast) -> None:
    """The kind of a unit whose steps are begun stays; of this one, whose look found a valve, it becomes that of air, and nothing else."""
    gauge()
    hands = taken_in(cast, "coil-lower-legs")
    hands.begin()
    browser, unit = people.browser(cast.technician), hands.job.unit
    assert unit is not None
    change_ = reverse("unit-change", args=[unit.pk])
    told = {"kind": "fork", "name": "a unit", "fork.travel": "150 mm"}
    look = hands.until("air-valve")
    assert look is not None
    before = people.send(browser, change_, told, page_path=f"{change_}?kind=fork")
    assert before.status_code == 422 and "are begun for a coil fork" in before.content.decode()
    hands.sign(look, failing(hands.here(), look))
    assert people.send(browser, change_, told, page_path=f"{change_}?kind=fork").status_code == 303
    with pytest.raises(NoSteps, match="They let no air out"):
        walk(Job.objects.get(pk=hands.job.pk))
    again = Hands(cast.technician, another(cast, Job.objects.get(pk=hands.job.pk), "lower-leg-service"), at=hands.at)
    again.begin()
    here = again.here()
    cap = here.slot("foot-bolts")
    assert cap is not None
    with pytest.raises(Refused, match="tests that again, and comes first|comes first"):
        again.sign(cap, minutes=0)
    assert unit_dangers.loaded_of(again.job) is not None
    assert again.until("turn-over") is not None and unit_dangers.loaded_of(again.job) is None


def test_a_look_that_found_none_in_the_end_opens_no_way_to_another_kind(cast: Cast) -> None:
    hands = taken_in(cast, "coil-lower-legs")
    hands.begin()
    look = hands.until("air-valve")
    assert look is not None and hands.job.unit is not None
    hands.sign(look, failing(hands.here(), look))
    hands.sign(look)
    place = reverse("unit-change", args=[hands.job.unit.pk])
    told = {"kind": "fork", "name": "a unit", "fork.travel": "150 mm"}
    assert people.send(people.browser(cast.technician), place, told, page_path=f"{place}?kind=fork").status_code == 422


def test_a_plan_that_goes_from_air_to_a_coil_has_no_steps(cast: Cast) -> None:
    air: Tables = {
        "fork": {"travel": "150 mm", "length": "546 mm", "offset": "44 mm"},
        "fork.air": {"bore": "34 mm", "shaft": "10 mm", "positive_volume": "238 ml", "negative_volume": "48 ml", "pressure": "70 psi"},
    }  # fmt: skip
    gauge()
    hands = taken_in(cast, "lower-leg-service", kind="fork", tables=air, asked={"change.coil": {"rate": "8 N/mm"}})
    with pytest.raises(NoSteps, match="from air to a coil"):
        walk(hands.job)


def test_the_wrong_coil_is_refused(cast: Cast) -> None:
    with pytest.raises(NoSteps, match="written for a coil shock; this is a coil fork"):
        walk(taken_in(cast, "coil-shock-spring").job)
