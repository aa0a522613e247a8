"""A rear shock of which only the can's outside is known: its limits on the plan page, in the frozen plan and on the sheet."""

from __future__ import annotations

import re

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from topout import units
from topout.planner import bands, by_mass, left_out, open_state, open_to
from topout.planner import plan as planner
from topout.web.access import preferences
from topout.web.access.change import change
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import left as core_left
from topout.web.jobs.core import step_numbers
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import FrozenPlan, Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import leaving
from topout.web.jobs.release.sheet import sheet_of
from web import people
from web.outside_cast import few_draws
from web.plan_cast import press
from web.test_shock_plan import ASKED, full_suspension, plain
from web.test_use_plan import path, words_of

NOT_KNOWN = (
    "shock.air.bore", "shock.air.shaft", "shock.air.positive_volume", "shock.air.negative_volume", "shock.air.spacer_volume",
    "shock.friction",
)  # fmt: skip

few = pytest.fixture(few_draws)


def outside_job(cast: people.Cast, end: str = "shock", without: tuple[str, ...] = ()) -> Job:
    """The bike of `full_suspension`, the shock's inside unknown, its sag read."""
    job = full_suspension(cast.technician, end, (*NOT_KNOWN, *without), shock={"body": "52 mm"})
    for table in ("shock.damper", "shock.bumper"):
        shock = job.bike.units.get(kind="shock")  # type: ignore[union-attr]
        shock.tables.pop(table, None)
        shock.save()
    if end == "shock":
        with change(cast.technician, "sag", {"for": "test"}) as doing:
            typed = Taken.quantity("stroke-sag", units.parse("14 mm", "length"), "length", posture="seated")
            readings.take(doing, job, "as-found", typed)
    else:
        shock = job.bike.units.get(kind="shock")  # type: ignore[union-attr]
        shock.tables["shock"]["sag"] = "14 mm"
        shock.save()
    job.refresh_from_db()
    return job


def test_the_page_says_what_is_known_behind_and_which_reading_settles_it(
    technician_in: Client, cast: people.Cast
) -> None:
    job = outside_job(cast)
    page = technician_in.get(path(job), ASKED).content.decode()
    said = plain(page)
    asked = {"change.shock": {"pressure": "146 psi", "spacers": 2}}
    worked, draws = planner.plan_and_draws(core.bench(job, asked), draws=20_000)
    assert draws is not None and worked.bounds is not None
    system = preferences.system()
    firm = open_to.end_behind(worked.bounds, system)
    assert firm is not None and plain(f"{firm.what} {firm.between} {firm.helps}") in said
    unit = job.unit
    assert (
        unit is not None
        and f'href="/jobs/{job.number}/readings/as-found/#id_can-bore">With the can off: write its bore' in page
    )
    both = bands.behind(draws)
    assert both is not None and "Force at the wheel along the rear wheel’s travel, as bands" in said
    end = worked.bounds.of[("after", "rear", "wheel_end_force_n")]
    assert both[1].force.low95[-1] == pytest.approx(end.low95, rel=0.05)  # of a thousand of the draws
    assert both[1].force.high95[-1] == pytest.approx(end.high95, rel=0.05)
    at_sag = worked.bounds.of[("after", "rear", "wheel_rate_n_per_m")]
    _, low, high = open_state.limits(at_sag, "rate", "N/mm", system)
    words = plain(f"after at sag {low.partition(chr(0xA0))[0]} to {high.partition(chr(0xA0))[0]}")
    assert "Wheel rate along the rear wheel’s travel, as bands" in said and words in said, words
    assert "rate after, from" in said and "rate after, to" in said
    for keep in open_to.keeps_behind(draws.said, "psi", None):
        assert plain(f"{keep.words} {keep.median} {keep.low} {keep.high}") in said, keep
    assert "Compression ratio of the shock’s main chamber 1.9 to 4.5" in said and "a syringe, can off" in said
    assert (
        "The values of these pictures" in said
        and "4 · Wheel rate behind, as bands" in said
        and "Leverage ratio along" in said
    )
    assert re.search(r"Bottom-out force at the (shock|rear wheel), N", said) is None, (
        "no one figure of what is not known"
    )
    assert "5 · In front, slow force , as bands" in said.replace("force,", "force ,"), (
        "its pressure is read on a gauge too"
    )
    assert 'id="keeps"' in page and "with two volume spacers" in said


@pytest.mark.usefixtures("few")
def test_a_fork_and_a_shock_that_are_both_drawn_stand_beside_each_other(
    technician_in: Client, cast: people.Cast
) -> None:
    job = outside_job(cast, without=("fork.air.bore", "fork.air.positive_volume", "fork.air.negative_volume"))
    fork = job.bike.units.get(kind="fork")  # type: ignore[union-attr]
    fork.tables["fork"]["stanchion"] = "36 mm"
    fork.save()
    said = plain(technician_in.get(path(job), ASKED).content.decode())
    assert "In front, slow force, as bands" in said and "at the wheel, as bands" in said
    assert "typical, of the shock" in said and "typical, not known here" in said and "forks and shocks" in said
    assert "How firm the end is: not known yet" in said and "How firm the end of the shock is: not known yet" in said


@pytest.mark.usefixtures("few")
def test_the_frozen_plan_and_the_sheet_carry_the_limits(technician_in: Client, cast: people.Cast) -> None:
    job = outside_job(cast)
    assert press(technician_in, job, {**ASKED, "shock_pressure": "150"}).status_code == 303
    frozen = FrozenPlan.objects.get()
    assert core.recompute(frozen).holds
    bounds = core.told_frozen(frozen).bounds
    assert bounds is not None and bounds.answers["rear-keep-sag"].low95 < bounds.answers["rear-keep-sag"].high95
    same = open_to.sag_is_kept(
        bounds, units.to_si(150, "psi", "pressure"), "psi", "rear-keep-sag"
    ) or open_to.for_same_sag(bounds, "psi", "rear-keep-sag")
    assert same and plain(same) in plain(frozen.sentence), frozen.sentence
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))
    assert plain(frozen.sentence) in plain(card) and "How firm the end of the shock is: not known yet. Between" in card
    sheet, _ = sheet_of(job)
    assert plain(frozen.sentence) in plain(sheet.changed), sheet.changed
    assert "How firm the end of the shock is: not known yet. Between" in plain(sheet.changed)
    assert "○ Typical, not measured here: the bore of the shock’s can" in plain(sheet.changed)
    assert (
        sheet.force is not None and sheet.force.name == "Slow force behind, as bands." and "shocks" in sheet.force.alt
    )


@pytest.mark.usefixtures("few")
def test_a_wound_coil_with_an_uncertainty_is_kept_by_a_rate_with_its_limits(
    technician_in: Client, cast: people.Cast
) -> None:
    coil = {"rate": "70 ± 2 N/mm", "preload": "1 mm", "bind": "62 mm"}
    job = full_suspension(cast.technician, shock={"sag": "15 mm"}, shock_coil=coil)
    page = technician_in.get(path(job), {"shock_rate": "75"}).content.decode()
    said = plain(page)
    assert "same sag" in said and re.search(r"same sag 7\d\.\d N/mm 6\d\.\d N/mm 7\d\.\d N/mm", said), said[
        said.index("What to set behind") :
    ][:500]


def test_another_weight_is_told_with_its_limits_on_the_riders_page(technician_in: Client, cast: people.Cast) -> None:
    """The page said that bore and volumes are not known. The planner's own test sets them by halving."""
    job = outside_job(cast, "fork")
    shock = job.bike.units.get(kind="shock")  # type: ignore[union-attr]
    for limit, over in (("", False), ("175 psi", True)):
        if limit:
            shock.tables["shock.air"]["pressure_limit"] = limit
            shock.save()
        page = technician_in.get(f"/riders/{job.rider_id}/set-up/", {"mass": "95"}).content.decode()
        part = plain(page[page.index(f'/book/units/{shock.pk}/"') :].partition("</section>")[0])
        own, heavy = by_mass.behind(by_mass.as_left(core.bench(job)), np.array([82.0, 95.0])).known or (None, None)
        assert "what holds for 19 of 20 that fit" in part and "of the shock’s stroke" in part
        for name, one in (("82 kg as weighed", own), ("95 kg asked", heavy)):
            assert one is not None
            told = open_to.setting("", "", one, "pressure", "psi", None)
            said = f"{name} {told.median}, {told.low} to {told.high}"
            assert (plain(said) in part) == (name.startswith("82") or not over), (said, part)
        assert ("95 kg asked may be above the maker’s limit of 175 psi" in part) == over, part


@pytest.mark.usefixtures("few")
def test_an_opened_can_is_a_signed_reading_of_the_job_and_one_reading_stands_everywhere(
    technician_in: Client, cast: people.Cast
) -> None:
    """Written down at the job: signed, in the plan at once, mended with a reason, and in the Book at the release as measured here."""
    job = outside_job(cast)
    assert job.unit is not None
    job.unit.tables["shock.air"]["bore"] = "48 mm"  # what somebody guessed
    job.unit.worth = {"shock.air.bore": "typical"}
    job.unit.save()
    at = f"/jobs/{job.number}/readings/as-found/"
    sent = {"can-bore": "46", "can-body": "30 mm", "can-volume": "150"}
    assert people.send(technician_in, at, sent, at).status_code == 303
    rows = {row.kind: row for row in Reading.objects.filter(job=job, kind__startswith="can-")}
    assert set(rows) == set(sent) and all(row.who == cast.technician for row in rows.values())
    job.refresh_from_db()
    air = core.tables(Job.objects.get(pk=job.pk), {})["shock.air"]
    assert (air["bore"], air["shaft"], air["positive_volume"]) == ("46 mm", "30 mm", "150 ml")
    assert not set(left_out.SHOCK.left_open(core.bench(job, {}))) & {
        "shock.air.bore",
        "shock.air.shaft",
        "shock.air.positive_volume",
    }
    assert step_numbers.guessed_keys(job) == frozenset(), "measured, whatever the Book still says"
    again = reverse("correct", args=[job.number, rows["can-bore"].pk])
    told = people.send(technician_in, again, {"can-bore": "45.8"}, again)
    assert told.status_code == 422, "not without a reason"
    assert (
        people.send(technician_in, again, {"can-bore": "45.8", "reason": "the caliper stood askew"}, again).status_code
        == 303
    )
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))
    assert "the caliper stood askew" in card and "45.8" in card and "46" in card
    assert core.tables(Job.objects.get(pk=job.pk), {})["shock.air"]["bore"] == "45.8 mm"
    tables, measured = core_left.measured_on_unit(job.unit, job.unit.tables, readings.current(job, "as-found"))
    assert tables["shock.air"]["bore"] == "45.8 mm" and "shock.air.bore" in measured
    with change(cast.owner, "release", {}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("pressure", units.parse("150 psi", "pressure"), "pressure"))
        job.procedure = ""
        job.save()
        leaving.hand_over(
            doing, Job.objects.get(pk=job.pk), found="f", done="d", left="l", defects=[], next_service="50 h", notes="", fit_to_ride=False,
        )  # fmt: skip
    unit = Unit.objects.get(pk=job.unit.pk)
    assert unit.tables["shock.air"]["bore"] == "45.8 mm" and unit.worth["shock.air.bore"] == "read"
    page = technician_in.get(path(job), ASKED).content.decode()
    assert f"/jobs/{job.number}/readings/" not in page, "a job that is handed over takes no reading"


@pytest.mark.usefixtures("few")
def test_a_shocks_sag_is_asked_for_at_its_job_and_a_forks_job_leads_to_the_book(
    technician_in: Client, cast: people.Cast
) -> None:
    job = outside_job(cast)
    readings_page = plain(technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode())
    assert "Can opened: its bore" in readings_page and "By a syringe" in readings_page
    left = plain(technician_in.get(f"/jobs/{job.number}/readings/as-left/").content.decode())
    assert "Can opened: its bore" not in left
    fork = outside_job(cast, "fork")
    page = technician_in.get(path(fork)).content.decode()
    assert "#id_can-bore" not in page and "Can opened" not in plain(
        technician_in.get(f"/jobs/{fork.number}/readings/as-found/").content.decode()
    )
