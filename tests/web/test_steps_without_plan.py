"""Work that needs no plan: the steps of a service begin from what card and Book know, and from nothing where they know nothing."""

from __future__ import annotations

import pytest

from topout.documents.tag import spoken
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Rider
from topout.web.book.tables import Tables
from topout.web.jobs.desk import up_next
from topout.web.jobs.records.models import Job, Reading, StepEntry
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.release import tags
from topout.web.jobs.release.contradictions import faults_of
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import walk
from topout.web.shelf.models import Tag
from web.people import Cast
from web.steps_kit import START, Hands, failing, gauge

FORK: Tables = {
    "fork": {"travel": "150 mm", "length": "546 mm", "offset": "44 mm"},
    "fork.air": {"bore": "34 mm", "shaft": "10 mm", "positive_volume": "238 ml", "negative_volume": "48 ml",
                 "port_position": "3 mm", "pressure": "70 psi", "spacers": 1, "spacer_volume": "8 ml"},
}  # fmt: skip


def taken_in(cast: Cast, procedure: str, *, tables: Tables | None = FORK, begin: bool = True) -> Hands:
    gauge()
    rider = Rider.objects.create(name="Ilse Varn", made_at=START)
    unit = None
    if tables is not None:
        with change(cast.technician, "unit", {}, at=START) as doing:
            unit = book.make_unit(doing, bike=None, name="a fork", tables=tables)
    job = Job.objects.create(
        number=301, rider=rider, unit=unit, asked="Service.", asked_title="service", taken_in_at=START,
        taken_in_by=cast.technician, technician=cast.technician, procedure=procedure,
    )  # fmt: skip
    hands = Hands(cast.technician, job)
    if begin:
        hands.begin()
    return hands


@pytest.mark.parametrize("procedure", ["lower-leg-service", "air-spring-reseal", "leak-test"])
def test_a_service_is_walked_to_its_end_without_a_plan(cast: Cast, procedure: str) -> None:
    hands = taken_in(cast, procedure)
    assert hands.until(None) is None
    entries = StepEntry.objects.filter(job=hands.job, verdict="passed")
    assert entries.count() >= 15 and not entries.exclude(plan=None).exists()
    left = Reading.objects.get(job=hands.job, stage="as-left", kind="pressure")
    found = Reading.objects.get(job=hands.job, stage="as-found", kind="pressure")
    assert left.value_si == pytest.approx(found.value_si, abs=100), "without a plan it gets back what it came with"


def test_a_failed_hold_closes_the_steps_without_a_plan_too(cast: Cast) -> None:
    hands = taken_in(cast, "lower-leg-service", tables=None)
    hold = hands.until("main-vent")
    assert hold is not None and hold.step.key == "main-vent", "nobody knows the fork: the careful step"
    hands.sign(hold, failing(hands.here(), hold))
    assert hands.here().blocked and sign.where(hands.job).kind == "blocked"


def test_what_needs_a_plan_still_says_so(cast: Cast) -> None:
    job = Job.objects.create(
        number=302, rider=Rider.objects.create(name="Ilse Varn", made_at=START), asked="a", asked_title="a", taken_in_at=START,
        taken_in_by=cast.technician, technician=cast.technician, procedure="pressure-and-spacers",
    )  # fmt: skip
    with pytest.raises(NoSteps, match="No plan is in use yet"):
        walk(job)


def test_the_bench_sends_to_the_steps_where_no_plan_is_needed(cast: Cast) -> None:
    """Begun, it goes on at its step: neither to take-in once more nor to a plan that the work does not use."""
    hands = taken_in(cast, "lower-leg-service")
    assert up_next.next_of(hands.job).place == "/jobs/301/steps/"
    hands.until("wash")
    assert Reading.objects.filter(job=hands.job, stage="as-found").exists()
    assert up_next.next_of(hands.job).place == "/jobs/301/steps/"


@pytest.mark.parametrize("tables", [FORK, {}], ids=["known", "unknown"])
def test_a_charged_unit_has_its_black_tag_whoever_knows_it(cast: Cast, tables: Tables) -> None:
    """Danger is a fact of the job: no plan, no card, no measures of the fork take the warning off its tag."""
    hands = taken_in(cast, "lower-leg-service", tables=tables)
    assert hands.job.unit is not None
    tag = Tag.objects.create(code="K7M4QX", unit=hands.job.unit, made_at=START, made_by=cast.technician)
    hold = hands.until("main-vent-port" if tables else "main-vent")
    assert hold is not None
    hands.sign(hold, failing(hands.here(), hold))
    black = tags._stop(tag, "K7M-4QX", "https://bench.example/t")
    assert black is not None and "Charged. Do not open." in spoken(black)


@pytest.mark.parametrize("procedure", ["lower-leg-service", "rear-shock-air-can"])
def test_work_without_a_plan_is_released_once_its_steps_are_signed_and_not_before(cast: Cast, procedure: str) -> None:
    hands = taken_in(cast, procedure, tables=FORK if procedure == "lower-leg-service" else None)
    assert hands.job.procedure == procedure
    open_ = [each for each in faults_of(hands.job) if "not all signed" in each.words]
    assert len(open_) == 1 and open_[0].hard
    assert hands.until(None) is None
    assert [each.words for each in faults_of(hands.job) if each.hard or each.always] == []


def test_work_that_needs_a_plan_is_not_released_without_one(cast: Cast) -> None:
    hands = taken_in(cast, "lower-leg-service", begin=False)
    hands.job.procedure = "travel-change-by-air-shaft"
    hands.job.save()
    assert [each.words for each in faults_of(hands.job) if each.hard and "No plan is in use" in each.words]
