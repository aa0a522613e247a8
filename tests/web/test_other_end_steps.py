"""The end that a job is not about, at its steps: shown where the plan asks it, judged by the gauge, left in that unit's record, and every way round it shut."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from topout import units
from topout.planner import other_half, variables
from topout.procedures import library, read
from topout.web.access.change import change
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import both_ends, step_numbers
from topout.web.jobs.core import left as core_left
from topout.web.jobs.core.steps import conditions
from topout.web.jobs.readings.forms import hose_correction
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions, drafted, leaving
from topout.web.jobs.release.sheet import sheet_of
from topout.web.jobs.steps.sign import Answer, Refused, leave
from web import people
from web.steps_kit import START, Hands, failing, passing
from web.test_shock_plan import COIL, full_suspension, path, plain
from web.test_use_plan import press, use

PSI = units.to_si(1, "psi", "pressure")
FORKS = {"pressure": "76", "shock_pressure": "140"}
SHOCKS = {"shock_pressure": "146", "pressure": "76"}


def pump(hose: str = "") -> Instrument:
    return Instrument.objects.create(
        code="P9", kind="gauge", name="pump", dimension="pressure", span="300 psi", mark="1 psi", accuracy_class_percent=1.0,
        hose_volume=hose, confirmed_at=START,
    )  # fmt: skip


def worked_by(procedure: str, who: Any, end: str, **instead: Any) -> Job:
    job = full_suspension(who, end, **instead)
    job.procedure = procedure
    job.save()
    return job


def job_of(client: Client, who: Any, end: str, boxes: dict[str, str], procedure: str, **instead: Any) -> Job:
    job = worked_by(procedure, who, end, **instead)
    answer = use(client, job, boxes)
    assert answer.status_code == 303, plain(answer.content.decode())[:2000]
    return job


def begun(client: Client, cast: people.Cast) -> tuple[Job, Hands]:
    """A fork's job that has come to its step at the shock."""
    job = job_of(client, cast.technician, "fork", FORKS, "pressure-and-spacers")
    pump()
    hands = Hands(cast.technician, job)
    hands.begin()
    assert hands.until("shock-too-pressure") is not None
    return job, hands


def told_of(job: Job) -> list[str]:
    return [plain(each.words) for each in contradictions.faults_of(job)]


def shown(procedure: str, other: str, **more: str) -> list[str]:
    of = read.shipped(procedure, variables.VOCABULARY).procedure
    every = {"negative": "self-equalising", "port": "at-full-extension", "spacers": "changed", "oil-on-piston": "none", "travel": "same",
             "wheel": "unchanged", "pressure": "higher", "second": "none", "negative-valve": "settled", "spring": "out", "bike": "here", "stroke": "same",
             "unit": "fork"}  # fmt: skip
    return [step.key for step in of.applying({**every, "other": other, **more})]


def test_every_procedure_of_ours_sets_the_other_end_where_the_plan_asks_it_and_nowhere_else() -> None:
    """Brake, axle and stem come first, and the bike must be there; where nothing moves there not a step more is shown."""
    for key in library.shipped_keys():
        of = read.shipped(key, variables.VOCABULARY).procedure
        for noun in sorted({"shock" if "fork" in unit else "fork" for unit in of.units}):
            ours = "fork" if noun == "shock" else "shock"
            bare = shown(key, "none", unit=ours)
            assert not [each for each in bare if "-too-" in each], key
            assert shown(key, "by-itself", unit=ours) == bare, key
            for way in ("pressure", "preload"):
                here = shown(key, f"{noun}-{way}", unit=ours)
                more = [each for each in here if each not in bare]
                assert more == [f"{noun}-too-{way}", *([f"{noun}-too-rebound"] if way == "pressure" else [])], (
                    key,
                    way,
                )
                assert not [each for each in shown(key, f"{noun}-{way}", bike="away", unit=ours) if "-too-" in each], (
                    key
                )
                for first in ("brake", "axle", "stem", "shock-bolts"):
                    assert first not in here or here.index(first) < here.index(more[0]), (key, first)
        stroke = [each for each in shown(key, "none", stroke="shorter") if each not in shown(key, "none")]
        assert bool(stroke) == (key in ("rear-shock-air-can", "coil-shock-spring")), key


def test_what_a_plan_changes_there_says_how_it_is_set(technician_in: Client, cast: people.Cast) -> None:
    for end, boxes, instead, other in (
        ("fork", FORKS, {}, "shock-pressure"),
        ("fork", {"pressure": "76"}, {}, "none"),
        ("fork", FORKS | {"shock_spacers": "2"}, {}, "by-itself"),
        ("fork", FORKS | {"shock_stroke": "52.5"}, {}, "by-itself"),
        ("fork", {"shock_preload": "3"}, {"shock_coil": COIL}, "shock-preload"),
        ("fork", {"shock_rate": "80", "shock_preload": "1"}, {"shock_coil": COIL}, "by-itself"),
        ("shock", SHOCKS, {}, "fork-pressure"),
        ("shock", SHOCKS | {"travel": "140"}, {}, "by-itself"),
    ):  # fmt: skip
        procedure = "pressure-and-spacers" if end == "fork" else "rear-shock-air-can"
        job = worked_by(procedure, cast.technician, end, **instead)  # type: ignore[arg-type]
        page = technician_in.get(path(job), boxes)  # type: ignore[arg-type]
        said = plain(page.content.decode())
        assert ("No step of this job does it" in said) == (other == "by-itself"), (end, boxes)
        assert ("job of its own" in said) == (other == "by-itself"), (end, boxes)
        assert press(technician_in, job, boxes, page).status_code == 303
        frozen = FrozenPlan.objects.get(job=job)
        assert conditions(step_numbers.numbers(frozen))["other"] == other, (end, boxes)
        told = "No step of this job does it" in plain(
            technician_in.get(f"/jobs/{job.number}/steps/all/").content.decode()
        )
        assert told == (other == "by-itself"), (end, boxes)


def test_a_forks_job_sets_the_shock_and_leaves_it_in_the_shocks_record(
    technician_in: Client, cast: people.Cast
) -> None:
    job, hands = begun(technician_in, cast)
    here = hands.here()
    slot = here.current
    assert slot is not None and slot.step.hold
    page = plain(technician_in.get(f"/jobs/{job.number}/steps/", follow=True).content.decode())
    assert "Set the shock to 140 psi" in page and "It had 150 psi" in page and "350 psi" in page
    assert any("is missing: sign that step" in words for words in told_of(job)), "the hand-over asks for it"
    wrong = passing(here, slot) | {"shock-too-pressure": Answer(text="150 psi", value_si=150 * PSI, unit="psi")}
    failed = hands.sign(slot, wrong)
    assert failed.verdict == "failed" and not readings.current(job, "as-left").get("rear-pressure")
    answers = passing(hands.here(), slot) | {
        "shock-too-pressure": Answer(text="141 psi", value_si=141 * PSI, unit="psi")
    }
    assert hands.sign(slot, answers).verdict == "passed"
    assert both_ends.half_is_set(FrozenPlan.objects.get()) and not any(
        "sets the shock too" in words for words in told_of(job)
    )
    row = next(each for each in contradictions.sides(job) if each.label == "Shock pressure")
    assert plain(row.planned) == "140 psi" and plain(row.left).startswith("141 psi")
    hands.until(None)
    assert "Shock: set 140 psi" in plain(drafted.done(job)[0])
    sheet = sheet_of(job)[0]
    assert "ask us before you ride" not in sheet.changed
    assert any(each.name == "Shock pressure" and "141" in each.value for each in sheet.left), sheet.left
    shock = core.other_end(job)
    assert shock is not None and "pressure" not in (shock.left or {}).get("readings", {})
    with change(cast.owner, "beside", {}) as doing:
        leaving._leave_beside(doing, job)
    shock.refresh_from_db()
    assert "rebound-clicks" not in shock.extras, "nobody counted how many there are"
    with change(cast.owner, "clicks", {}) as doing:
        clicks = Reading.objects.get(job=job, kind="rear-rebound")
        taken = Taken.count("rear-rebound", int(clicks.value_si), of_range=14)
        readings.correct(doing, clicks, taken, "all of them counted")
    with change(cast.owner, "hand over", {}, at=hands.at + timedelta(minutes=1)) as doing:
        leaving.hand_over(
            doing, job, found="f", done="d", left="l", defects=[], next_service="in 50 hours", notes="", fit_to_ride=True, reason="as it is",
        )  # fmt: skip
    shock.refresh_from_db()
    assert shock.extras["rebound-clicks"] == 14
    assert shock.tables["shock.air"]["pressure"] == "141 psi" and shock.tables["shock.air"]["spacers"] == 1
    assert plain(shock.left["readings"]["pressure"]).startswith("141 psi") and "rebound" in shock.left["readings"]
    assert job.unit is not None
    job.unit.refresh_from_db()
    assert job.unit.tables["fork.air"]["pressure"] == "76 psi"


def test_another_jobs_pressure_counts_as_near_as_a_gauge_tells(technician_in: Client, cast: people.Cast) -> None:
    """The shock's own job, or a hand, left it a mark off what the plan wants; a step of 2 psi that nobody took is not taken."""
    job, _ = begun(technician_in, cast)
    shock, frozen = core.other_end(job), FrozenPlan.objects.get()
    assert shock is not None
    for psi, stands in ((150, False), (144, False), (141, True), (140, True), (137.5, True), (136, False)):
        shock.tables = shock.tables | {"shock.air": shock.tables["shock.air"] | {"pressure": f"{psi} psi"}}
        shock.save()
        assert both_ends.half_is_set(frozen) == stands, psi
        assert any("sets the shock too" in words for words in told_of(job)) != stands, psi
    planned = core.frozen_bench(frozen)
    assert planned.change is not None and planned.change.shock is not None and planned.shock is not None
    two_less = replace(
        planned, change=replace(planned.change, shock=replace(planned.change.shock, pressure_gauge_pa=148 * PSI))
    )
    off = {other_half.PRESSURE: 3 * PSI}
    assert not other_half.is_set(two_less, planned, "rear", off), "nobody set anything"


def test_a_reading_of_another_unit_counts_for_nobody(technician_in: Client, cast: people.Cast) -> None:
    """The shock is changed for another one in the Book after it was set; the other one is not what was set."""
    job, hands = begun(technician_in, cast)
    slot = hands.here().current
    assert slot is not None
    missed = Answer(text="90 psi", value_si=90 * PSI, unit="psi")
    assert hands.sign(slot, passing(hands.here(), slot) | {"shock-too-pressure": missed}).verdict == "failed"
    Unit.objects.filter(kind="shock").update(bike=None)
    assert not any("another one stands there" in each.words for each in contradictions.faults_of(job)), "none was set"
    Unit.objects.filter(kind="shock").update(bike=job.bike)
    hands.sign(slot)
    frozen, old = FrozenPlan.objects.get(), core.other_end(job)
    assert both_ends.half_is_set(frozen) and old is not None
    new = Unit.objects.create(bike=job.bike, name="Another", kind="shock", tables=old.tables, made_at=START)
    old.bike = None
    old.save()
    assert core.other_end(job) == new and not both_ends.half_is_set(frozen) and both_ends.read_there(job) == {}
    hard = [each for each in contradictions.faults_of(job) if each.hard]
    assert any("another one stands there" in each.words for each in hard)
    new.delete()
    assert any("another one stands there" in each.words for each in contradictions.faults_of(job)), "nor where none is"
    with pytest.raises(Refused, match="no unit at the other end"):
        hands.sign(slot, again=True)


def test_what_was_left_later_by_the_shocks_own_job_stands(technician_in: Client, cast: people.Cast) -> None:
    job, hands = begun(technician_in, cast)
    slot = hands.here().current
    assert slot is not None
    hands.sign(slot)
    shock = core.other_end(job)
    assert shock is not None
    shock.left = {"job": 999, "at": (hands.at + timedelta(minutes=5)).isoformat(), "next_service": "", "readings": {}}
    shock.tables["shock.air"]["pressure"] = "170 psi"
    shock.save()
    assert both_ends.read_there(job) == {} and any("sets the shock too" in words for words in told_of(job))
    shock.left["at"] = (hands.at - timedelta(minutes=5)).isoformat()
    shock.save()
    assert set(both_ends.read_there(job)) == {"rear-pressure"}


def test_nobody_pumps_a_shock_on_which_a_danger_stands(technician_in: Client, cast: people.Cast) -> None:
    """Its own job found it charged: the fork's job leaves it alone until that point passed there."""
    job, hands = begun(technician_in, cast)
    slot, other = hands.here().current, core.other_end(job)
    assert slot is not None and other is not None
    with change(cast.technician, "the shock's", {}) as doing:
        its = changes.take_in(
            doing, rider=job.rider, bike=job.bike, unit=other, asked_title="can", asked="Leaks.", procedure="rear-shock-air-can",
        )  # fmt: skip
    there = Hands(cast.technician, its, at=hands.at)
    there.begin()
    point = there.until("free-length")
    assert point is not None and there.sign(point, failing(there.here(), point)).verdict == "failed"
    with pytest.raises(Refused, match="Leave it alone"):
        hands.sign(slot)
    there.sign(point, again=True)
    assert hands.sign(slot).verdict == "passed"


def test_a_step_that_is_left_and_another_plan_are_no_way_round(technician_in: Client, cast: people.Cast) -> None:
    job, hands = begun(technician_in, cast)
    slot = hands.here().current
    assert slot is not None
    with change(cast.technician, "leave", {}, at=hands.at) as doing:
        leave(doing, job, slot.step.key, "not-done", "No time.", hands.here().seen)
    assert any("is missing: sign that step" in words for words in told_of(job))
    hands.sign(slot, again=True)
    assert not any("is missing" in words for words in told_of(job))
    assert use(technician_in, job, FORKS | {"shock_pressure": "120"}).status_code == 303
    assert not hands.here().passed(slot), "by another plan it is another pressure"
    assert any("Shock pressure: left 140" in words and "120 psi" in words for words in told_of(job)), told_of(job)


def test_steps_of_before_and_steps_of_their_own_say_that_they_leave_it(
    technician_in: Client, cast: people.Cast
) -> None:
    """A job that was begun with a text without these steps keeps it: no step does it, and the hand-over says so."""
    job = job_of(technician_in, cast.technician, "fork", FORKS, "pressure-and-spacers")
    frozen = FrozenPlan.objects.get()
    of = read.shipped("pressure-and-spacers", variables.VOCABULARY).procedure
    assert both_ends.not_in_steps_of(frozen, of) == []
    (said,) = both_ends.not_in_steps_of(frozen, None)
    assert "No step of this job does it" in said and "opened" not in said
    job.procedure = ""
    job.save()
    frozen.refresh_from_db()
    assert any("No step of this job does it" in words for words in told_of(job))


def test_the_hose_of_the_other_end_takes_from_its_own_chamber(technician_in: Client, cast: people.Cast) -> None:
    job = job_of(technician_in, cast.technician, "fork", FORKS, "pressure-and-spacers")
    gauge = pump("3 ml")
    typed = units.parse("150 psi", "pressure")
    own, there = hose_correction(job, typed, gauge), hose_correction(job, typed, gauge, "rear-pressure")
    shock, fork = core.other_end(job), job.unit
    assert shock is not None and fork is not None and there["valve_volume_m3"] < 0.9 * own["valve_volume_m3"]
    numbers = step_numbers.numbers(FrozenPlan.objects.get())
    assert numbers.other_before is not None and numbers.after is not None
    assert float(numbers.other_before.travel_m[0]) == pytest.approx(0.055) and float(
        numbers.after.travel_m[0]
    ) == pytest.approx(0.15)


def test_a_shocks_job_sets_the_fork_and_fits_reducers(technician_in: Client, cast: people.Cast) -> None:
    job = job_of(technician_in, cast.technician, "shock", SHOCKS | {"shock_stroke": "52.5"}, "rear-shock-air-can")
    frozen = FrozenPlan.objects.get()
    said = plain(technician_in.get(f"/jobs/{job.number}/steps/all/").content.decode())
    assert (
        "Fit the reducers for 52.5 mm of stroke" in said
        and "Set the fork to 76 psi" in said
        and "Not in the steps" not in said
    )
    keys = [slot.step.key for slot in Hands(cast.technician, job).here().slots]
    order = [
        "can-off",
        "reducers-in",
        "can-on",
        "stroke-read",
        "can-core-in",
        "frame-bottomed",
        "shock-bolts",
        "fork-too-pressure",
        "shock-left-pressure",
    ]
    assert [key for key in keys if key in order] == order and "reducers-out" not in keys
    hands = Hands(cast.technician, job)
    here = hands.here()
    fit, measured = (
        next(slot for slot in here.slots if slot.step.key == key) for key in ("reducers-in", "stroke-read")
    )
    size, stroke = fit.step.evidence[1], measured.step.evidence[0]
    band, full = here.band(fit, size, here.found(fit)), here.band(measured, stroke, here.found(measured))
    assert band.holds(2.5e-3) and not band.holds(2.0e-3) and full.holds(52.5e-3) and not full.holds(55e-3)
    with change(cast.technician, "left", {"for": "the plan"}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("pressure", units.parse("146 psi", "pressure"), "pressure"))
        readings.take(doing, job, "as-left", Taken.count("spacers", 1))
    assert "146 psi" in plain(drafted.done(job)[0]) and "stroke" not in drafted.done(job)[0], (
        "not before it was measured"
    )
    with change(cast.technician, "left", {"for": "test"}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("stroke", units.parse("52.5 mm", "length"), "length"))
    assert "52.5 mm of stroke" in plain(drafted.done(job)[0])
    assert job.unit is not None
    assert core_left.left_on_unit(job.unit, readings.current(job, "as-left"), frozen)["shock"]["stroke"] == "52.5 mm"


def test_a_pressure_that_nobody_knew_before_is_moved_too(technician_in: Client, cast: people.Cast) -> None:
    """Asked for without a figure before it there was no difference, and so nothing was said of it."""
    job = full_suspension(cast.technician, "fork", without=("shock.air.pressure",))
    job.procedure = "pressure-and-spacers"
    job.save()
    assert use(technician_in, job, FORKS).status_code == 303
    frozen = FrozenPlan.objects.get()
    assert conditions(step_numbers.numbers(frozen))["other"] == "shock-pressure"
    (said,) = both_ends.not_in_steps_of(frozen, None)
    assert "pressure 140" in plain(said), said
