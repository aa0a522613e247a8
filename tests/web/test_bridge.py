"""The door to the core: a job's bench file, its plan, the frozen plan and its recomputing."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from django.test import Client

import topout
from topout.bench_file.read import read_bytes, read_text
from topout.planner.plan import plan
from topout.planner.summary import of_plan
from topout.units import PSI_PA
from topout.web.access.change import change
from topout.web.book import tables
from topout.web.jobs import core
from topout.web.jobs.plan.frozen import told
from topout.web.jobs.records.models import Draft, FrozenPlan, Job
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.records.sequence import next_sequence
from web import people
from web.plan_cast import HOLLIN, hollin_job

CHANGE: tables.Tables = {
    "change": {"travel": "150 mm", "spacers": 1, "pressure": "70 psi"},
    "change.front_wheel": {"bead_seat": "622 mm", "tyre_height": "62 mm"},
}


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.owner)


def freeze(cast: people.Cast, job: Job) -> FrozenPlan:
    with change(cast.owner, "freeze", {}) as doing:
        return core.freeze(doing, job, CHANGE)


def test_book_and_readings_make_the_bench_file_of_the_mockups(job: Job) -> None:
    """Everything of hollin.toml comes out of Book, readings and plan again, and plans the same."""
    made, given = core.bench(job, CHANGE), read_bytes(HOLLIN.read_bytes())
    assert made == given
    assert core.told(made) == of_plan(given, plan(given))


def test_the_card_shows_the_figures_of_the_mockups(cast: people.Cast, job: Job) -> None:
    """`mockups/card.html`: before, after, difference, to the digit; the differences are those of the figures shown."""
    frozen = freeze(cast, job)
    assert frozen.sentence.replace("\xa0", " ") == "Set 70 psi · 4.83 bar with one volume spacer."
    said = told(frozen)
    rows = {row.name: [cell.whole + cell.fraction for cell in row.cells] for row in said.rows}
    assert rows == {
        "Sag, mm": ["31.0", "32.5", "+1.5"],
        "Bottom-out force, N": ["1\u202f950", "2\u202f010", "+60"],
        "Head angle at sag, °": ["67.6", "67.0", "\u22120.6"],
        "Bottom bracket height at sag, mm": ["326", "330", "+4"],
        "Trail at sag, mm": ["105", "111", "+6"],
    }
    assert [one.code for one in said.heard] == ["charged-negative", "tyre-crown"]
    assert said.gaps.startswith("Not written down, and taken all the same: ") and "Not known" not in said.gaps
    assert not said.differs and not said.again


@pytest.mark.parametrize(("factor", "shown"), [(1 + 1e-7, False), (1.02, True)])
def test_a_plan_that_comes_out_otherwise_today_is_shown_both_ways(
    technician_in: Client, cast: people.Cast, job: Job, factor: float, shown: bool
) -> None:
    """An older version's figures stand on the card beside this version's; recomputing was called by no page."""
    frozen = freeze(cast, job)
    results = frozen.results
    results["after"]["sag"]["front"]["travel_m"] *= factor
    old = FrozenPlan.objects.create(
        job=job, sequence=next_sequence(job), who=cast.owner, at=frozen.at, bench_file=frozen.bench_file,
        results=results, version="0.0.9", sentence=frozen.sentence,
    )  # fmt: skip
    card = technician_in.get(f"/jobs/{job.number}/").content.decode()
    assert "Worked out again the figures come out otherwise (the version that froze it, 0.0.9, and this one)" in card
    assert ("make the plan again" in card) is shown
    said = told(old)
    assert '<td class="n is">32<i>.5</i></td>' in card and bool(said.again) is shown
    if shown:
        kept, today = (rows[0].cells[1] for rows in (said.rows, said.again))
        assert kept != today and today.whole + today.fraction == "32.5"
        assert f'<td class="n is">{kept.whole}<i>{kept.fraction}</i></td>' in card


def test_a_plan_frozen_by_this_version_is_shown_once(technician_in: Client, cast: people.Cast, job: Job) -> None:
    freeze(cast, job)
    assert "Worked out again" not in technician_in.get(f"/jobs/{job.number}/").content.decode()


def test_a_frozen_plan_is_whole_and_comes_out_again(cast: people.Cast, job: Job) -> None:
    frozen = freeze(cast, job)
    frozen.refresh_from_db()
    assert frozen.version == topout.__version__
    assert frozen.results == core.plain(plan(read_text(frozen.bench_file)).to_keep())
    again = core.recompute(frozen)
    assert again.same_version and again.holds and again.largest == 0.0


def test_recomputing_sees_what_differs(cast: people.Cast, job: Job) -> None:
    """The negative control: a result changed in the ninth digit, a key gone, another version."""
    frozen = freeze(cast, job)
    frozen.results["after"]["sag"]["front"]["travel_m"] *= 1 + 2e-9
    assert not core.recompute(frozen).holds
    frozen.refresh_from_db()
    frozen.results["after"]["sag"]["front"].pop("travel_m")
    assert not core.recompute(frozen).holds
    frozen.refresh_from_db()
    frozen.version = "0.0.1"
    assert not core.recompute(frozen).same_version


def test_freezing_ends_the_draft_and_what_is_asked_stays(cast: people.Cast, job: Job) -> None:
    with change(cast.owner, "draft", {}) as doing:
        Draft.objects.create(job=job, place="plan", who=cast.owner, at=doing.at, fields={"travel": "90"})
    assert core.change_of(job) == {}, "a draft is no record"
    freeze(cast, job)
    assert not Draft.objects.exists()
    assert core.change_of(job) == CHANGE, "read back from the frozen plan"
    assert current_plan(job) == FrozenPlan.objects.get()


def test_a_corrected_reading_moves_the_next_plan_and_not_the_frozen_one(cast: people.Cast, job: Job) -> None:
    from topout import units
    from topout.web.jobs.records import readings
    from topout.web.jobs.records.models import Reading
    from topout.web.jobs.records.readings import Taken

    frozen = freeze(cast, job)
    with change(cast.owner, "correct", {}) as doing:
        taken = Taken.quantity("pressure", units.parse("64 psi", "pressure"), "pressure")
        readings.correct(doing, Reading.objects.get(job=job, kind="pressure"), taken, "gauge zero off")
    assert core.bench(job, CHANGE).fork.air.pressure_gauge_pa == pytest.approx(64 * PSI_PA)  # type: ignore[union-attr]
    frozen.refresh_from_db()
    assert tomllib.loads(frozen.bench_file)["fork"]["air"]["pressure"] == "72 psi"
    assert core.recompute(frozen).holds


def test_the_altitude_of_the_workshop_counts(cast: people.Cast, job: Job) -> None:
    from topout.web import clock
    from topout.web.access.models import Workshop

    Workshop.objects.create(altitude="1500 m", started_at=clock.now())
    assert core.bench(job).conditions.altitude_m == 1500
    Workshop.objects.update(altitude="")
    file = core.bench(job)
    assert file.conditions.altitude_m is None and "conditions.altitude" not in file.written, (
        "nobody wrote it: a plan says so"
    )


def test_every_frozen_plan_of_the_demo_comes_out_again(demo: Path) -> None:
    plans = list(FrozenPlan.objects.all())
    assert len(plans) >= 3
    for frozen in plans:
        again = core.recompute(frozen)
        assert again.same_version and again.largest <= core.SAME, (frozen.job, again.largest)
