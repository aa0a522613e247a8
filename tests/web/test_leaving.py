"""What a release leaves to the Book, and that the next job, tag, plan and sheet start from it; nothing is typed again."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout import units
from topout.web.access.change import change
from topout.web.book import history, worth
from topout.web.book.models import Unit
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.core import left as core_left
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.kinds import KINDS
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, Release, ReleasedSheet
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions, leaving
from web import people
from web.plan_cast import hollin_job
from web.test_units import SHOCK, job_of

TOLD: dict[str, Any] = {
    "found": "f", "done": "d", "left": "l", "defects": [], "next_service": "after 50 hours", "fit_to_ride": True,
}  # fmt: skip


def read(who: User, job: Job, stage: str, **texts: Any) -> None:
    with change(who, "read", {"job": job.number, "texts": str(texts)}) as doing:
        for name, given in texts.items():
            kind = KINDS[name.replace("_", "-")]
            text, more = given if isinstance(given, tuple) else (given, {})
            if kind.dimension:
                taken = Taken.quantity(kind.key, units.parse(text, kind.dimension), kind.dimension, **more)
            else:
                taken = Taken.count(kind.key, int(text), **more)
            readings.take(doing, job, stage, taken)


def over(who: User, job: Job) -> None:
    with change(who, "release", {"job": job.number}) as doing:
        leaving.hand_over(doing, job, **TOLD)


def again(who: User, job: Job) -> Job:
    """The next job of the same unit, its rows read anew."""
    old = Job.objects.get(pk=job.pk)
    with change(who, "again", {"after": job.number}) as doing:
        return changes.take_in(
            doing, rider=old.rider, bike=old.bike, unit=old.unit, asked_title="next", asked="The next one.",
            procedure="travel-change-by-air-shaft",
        )  # fmt: skip


@pytest.fixture(autouse=True)
def _nothing_against(monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands against a release is tested in test_danger.py; here it is what a release leaves."""
    monkeypatch.setattr("topout.web.jobs.release.contradictions.faults_of", lambda job: [])


@pytest.fixture
def changed(cast: people.Cast, monkeypatch: pytest.MonkeyPatch) -> Job:
    """A travel change from 140 to 150 mm with one spacer less and a taller front tyre, carried out and handed over."""
    job = hollin_job(cast.owner)
    assert job.bike is not None
    job.bike.worth = {key: "read" for key, _ in worth._every(job.bike.tables)}
    job.bike.save()
    asked: Tables = {
        "change": {"travel": "150 mm", "spacers": 1, "pressure": "70 psi", "offset": "46 mm"},
        "change.front_wheel": {"bead_seat": "622 mm", "tyre_height": "62 mm"},
    }
    with change(cast.owner, "freeze", {"for": "a test"}) as doing:
        core.freeze(doing, job, asked)
    monkeypatch.setattr("topout.web.jobs.steps.sign.finished", lambda job: True)
    read(cast.technician, job, "as-left", pressure="71 psi", spacers="1", travel="149 mm", rebound=("8", {"of_range": 14}),
         sag=("31 mm", {"posture": "standing"}))  # fmt: skip
    over(cast.technician, job)
    return job


def test_a_release_writes_travel_length_spacers_pressure_and_wheel(changed: Job, cast: people.Cast) -> None:
    unit = Unit.objects.get()
    fork, air = unit.whole_tables()["fork"], unit.whole_tables()["fork.air"]
    assert fork["travel"] == "150 mm", "149 by hand confirms the plan’s 150"
    assert fork["length"] == "546 mm", "536 and ten more by a shaft"
    assert fork["offset"] == "46 mm" and air["spacers"] == 1 and air["pressure"] == "71 psi", (
        "what was left, not what was planned"
    )
    assert unit.bike is not None and unit.bike.tables["front_wheel"]["tyre_height"] == "62 mm"
    known = {key for key, _ in worth._every(unit.bike.tables)} - set(unit.bike.worth)
    assert known and all(key.startswith("front_wheel.") for key in known), "nobody measured the other wheel"
    assert unit.extras["rebound-clicks"] == 14
    told = unit.last_left()
    assert told is not None and told["job"] == changed.number and told["next_service"] == "after 50 hours"
    assert told["readings"]["sag"].endswith("standing") and told["readings"]["rebound"].startswith("8 of 14")
    newest = history.of(unit)[0]
    assert newest.by == "Jory Pask" and any("140 mm → 150 mm" in what.replace("\xa0", " ") for what in newest.what)


def test_what_the_sheet_has_no_room_for_is_handed_over_to_nobody(
    cast: people.Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A job goes out with its sheet or not at all, and nothing of it is left behind."""
    job = hollin_job(cast.owner)
    monkeypatch.setattr("topout.web.jobs.steps.sign.finished", lambda job: True)
    told = TOLD | {
        "fit_to_ride": False,
        "defects": [f"Defect {nth}: " + "worn beyond the wear line " * 8 for nth in range(60)],
    }
    with pytest.raises(leaving.NotYet, match="does not fit two pages"), change(cast.technician, "release", {}) as doing:
        leaving.hand_over(doing, job, **told)
    assert not Release.objects.exists() and not ReleasedSheet.objects.exists()


def test_the_next_job_tag_and_plan_start_from_what_was_left(
    changed: Job, cast: people.Cast, technician_in: Client
) -> None:
    job = again(cast.owner, changed)
    now = core.tables(job)
    assert (
        now["fork"]["travel"] == "150 mm"
        and now["fork.air"]["spacers"] == 1
        and now["fork.air"]["pressure"] == "71 psi"
    )
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert 'value="150"' in page, "the box begins with the travel that is fitted"
    found = technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode()
    assert f"Left at 71\xa0psi · 4.90\xa0bar, job {changed.number}." in found, "to look at"
    assert "once the valve core is out" in found and "The plan in use" not in found
    assert 'value="71' not in found and 'value="8"' not in found, "never filled in beforehand"
    shown = technician_in.get(f"/book/units/{job.unit_id}/").content.decode()
    assert "8 of 14" in shown and "after 50 hours" in shown


def test_as_left_shows_what_the_plan_sets_and_asks_nobody_to_open_it(cast: people.Cast, technician_in: Client) -> None:
    """It showed how the last job had left it, and “Count them now.” beside the spacers of a pumped fork."""
    job = hollin_job(cast.owner)
    Unit.objects.filter(jobs=job).update(left={"job": 99, "readings": {"pressure": "74 psi"}})
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})
    job.refresh_from_db()
    page = technician_in.get(f"/jobs/{job.number}/readings/as-left/").content.decode()
    assert "The plan in use: " in page and "Set 70" in page and "Left at" not in page
    assert "As counted when cap or can was off. Don’t open it for this." in page
    found = technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode()
    assert "Left at 74 psi, job 99." in found and "counted when cap or can is off" in found


def test_a_released_job_keeps_its_own_plan(changed: Job, cast: people.Cast, technician_in: Client) -> None:
    """The Book has moved on; the plan of the job that moved it is still from 140 to 150."""
    old = Job.objects.get(pk=changed.pk)
    assert core.tables(old)["fork"]["travel"] == "140 mm" and core.tables(old)["change"]["travel"] == "150 mm"
    page = technician_in.get(f"/jobs/{old.number}/plan/").content.decode()
    assert "140 → 150" in page.replace("\xa0", " ")


def test_a_plan_that_was_not_gone_through_changes_nothing(cast: people.Cast) -> None:
    job = hollin_job(cast.owner)
    with change(cast.owner, "freeze", {"for": "a test"}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "spacers": 1}})
    read(cast.technician, job, "as-left", pressure="71 psi")
    over(cast.technician, job)
    unit = Unit.objects.get()
    assert unit.whole_tables()["fork"]["travel"] == "140 mm" and unit.whole_tables()["fork.air"]["pressure"] == "71 psi"


@pytest.mark.parametrize(
    ("by_hand", "kept"), [("142 mm", "140 mm"), ("138 mm", "140 mm"), ("130 mm", "130 mm"), ("5.9 in", "5.9 in")]
)
def test_a_travel_by_hand_confirms_the_book_or_stands_in_its_place(cast: people.Cast, by_hand: str, kept: str) -> None:
    job = hollin_job(cast.owner)
    read(cast.technician, job, "as-found", travel=by_hand)
    assert core.tables(job)["fork"]["travel"] == kept, "the plan starts from the reading of the job"
    read(cast.technician, job, "as-left", travel=by_hand)
    over(cast.technician, job)
    assert Unit.objects.get().whole_tables()["fork"]["travel"] == kept


def test_back_to_none_is_written_out(cast: people.Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """No volume spacer is the file’s default: it must not leave the family’s two standing."""
    job = hollin_job(cast.owner)
    with change(cast.owner, "freeze", {"for": "a test"}) as doing:
        core.freeze(doing, job, {"change": {"spacers": 0}})
    monkeypatch.setattr("topout.web.jobs.steps.sign.finished", lambda job: True)
    over(cast.technician, job)
    assert Unit.objects.get().tables["fork.air"]["spacers"] == 0


def test_a_shock_is_left_with_its_pressure_spacers_and_hardware(cast: people.Cast) -> None:
    job = job_of(cast, "shock", SHOCK)
    gauge = Instrument.objects.create(code="P9", kind="gauge", name="g", dimension="pressure", span="300 psi", mark="1 psi",
                                      accuracy_class_percent=1.0, hose_volume="3 ml")  # fmt: skip
    read(cast.technician, job, "as-found", hours="63", stroke="55 mm")
    read(cast.technician, job, "as-left", pressure=("182 psi", {"instrument": gauge}), negative_spacers="1", spacers="2",
         length="206 mm", stroke="54 mm", compression=("3", {"of_range": 10}))  # fmt: skip
    over(cast.technician, job)
    unit = Unit.objects.get()
    assert unit.tables["shock.air"]["pressure"] == "182 psi" and unit.tables["shock.air"]["spacers"] == 2
    assert unit.tables["shock"]["stroke"] == "55 mm" and unit.tables["shock"]["length"] == "206 mm", (
        "4 mm short is another shock"
    )
    assert unit.extras == {"negative-spacers": 1, "compression-clicks": 10} and unit.left["hours"] == 63


def test_what_is_left_is_text_that_the_book_reads(changed: Job) -> None:
    from topout.web.book import tables

    unit = Unit.objects.get()
    read_again = tables.read(unit.whole_tables())
    assert read_again.fork is not None and read_again.fork.travel_m == pytest.approx(0.150, rel=1e-12)
    assert read_again.fork.length_m == pytest.approx(0.546, rel=1e-9)
    assert core_left.SAME_LENGTH_M < 0.010, "smaller than one step of travel"


def test_the_card_says_who_changed_what_was_asked(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner)
    before = technician_in.get(f"/jobs/{job.number}/").content.decode()
    assert "Changed by" not in before, "taking it in is no change"
    sent = {"asked_title": "travel 140 → 160 mm", "asked": "Ten more.", "procedure": job.procedure, "technician": cast.technician.username,
            "promised": "1 Dec 2026 16:00"}  # fmt: skip
    assert people.send(technician_in, f"/jobs/{job.number}/change/", sent).status_code == 303
    page = technician_in.get(f"/jobs/{job.number}/").content.decode()
    assert "Changed by" in page and "“travel 140 → 150 mm” → “travel 140 → 160 mm”" in page
    assert f"Technician: {cast.owner.get_full_name()} → {cast.technician.get_full_name()}" in page
    assert "Promised at: 1 Dec 2026, 16:00" in page


def test_what_a_plan_sets_at_a_coil_behind_is_what_the_release_is_held_against() -> None:
    text = '[shock]\nstroke = "55 mm"\n[shock.coil]\nrate = "80 N/mm"\npreload = "1 mm"\n'
    sag = {"after": {"sag": {"rear": {"stroke_shown_m": 0.016}}}}
    frozen = FrozenPlan(job=Job(), bench_file=text, results=sag)
    bench = core.frozen_bench(frozen)
    plan = contradictions._of_shock(frozen, bench, bench)
    assert (plan.rate_n_per_m, plan.preload_m) == pytest.approx((80e3, 0.001))
    assert (plan.stroke_m, plan.stroke_sag_m) == pytest.approx((0.055, 0.016)) and plan.pressure_pa is None


AIR = 'bore = "34 mm"\nshaft = "10 mm"\npositive_volume = "240 ml"\nnegative_volume = "50 ml"\npressure = "70 psi"\n'


@pytest.mark.parametrize(
    ("air", "pressure", "negative"),
    [
        ("", None, None),
        (f"[fork.air]\n{AIR}", 73.0, None),
        (f'[fork.air]\n{AIR}negative = "separate-valve"\nnegative_pressure = "80 psi"\n', 73.0, 80.0),
    ],
    ids=["no air spring", "one valve", "two valves"],
)
def test_what_a_plan_sets_is_what_the_release_is_held_against(
    air: str, pressure: float | None, negative: float | None
) -> None:
    """Without an air spring it sets travel alone, and the hand-over is not refused by a fault of ours."""
    change_ = '[change]\ntravel = "140 mm"\n' + ('pressure = "73 psi"\nspacers = 2\n' if air else "")
    before = '[fork]\ntravel = "150 mm"\n'
    spaced = air.replace("pressure =", 'spacers = 1\nspacer_volume = "8 ml"\npressure_limit = "120 psi"\npressure =', 1)
    plan = contradictions._plan(FrozenPlan(job=Job(), bench_file=before + spaced + change_, results={}))
    assert (plan.travel_was_m, plan.travel_m) == pytest.approx((0.150, 0.140))
    assert plan.longer_m == pytest.approx(-0.010) and contradictions._tenths(plan.stroke_m) == ""
    assert (
        contradictions._Plan(travel_m=0.15).longer_m is None
        and contradictions._Plan(travel_was_m=0.15).longer_m is None
    )
    assert plan.pressure_pa == (None if pressure is None else pytest.approx(pressure * units.PSI_PA))
    assert plan.negative_pa == (None if negative is None else pytest.approx(negative * units.PSI_PA))
    assert (plan.spacers_were, plan.spacers) == ((1, 2) if air else (None, None))
    assert plan.limit_pa == (pytest.approx(120 * units.PSI_PA) if air else None) and plan.sag_m is None
