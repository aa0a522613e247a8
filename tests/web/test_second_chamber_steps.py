"""A fork with a second chamber: both are let out and read before its cap comes off; what knows no such step is refused."""

from __future__ import annotations

import html
import math
import re

import pytest
from django.db import connection
from django.test import Client

from topout.physics.gas import stored_energy_j
from topout.procedures import library
from topout.units import PSI_PA, parse
from topout.web.access.change import change
from topout.web.jobs.core import danger
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job, ProcedureText, Reading, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.release import tags
from topout.web.jobs.release.contradictions import faults_of
from topout.web.jobs.steps import sign
from topout.web.jobs.steps.progress import walk
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.shelf.models import Tag
from web import people
from web.plan_cast import hollin_job
from web.springs_kit import SECOND, begun, planned
from web.steps_kit import START, Hands, failing, form_of, gauge, passing

CAP = ("cap-off", "foot-bolts", "ring-out")


def nothing(main_psi: float, second_psi: float) -> dict[str, Answer]:
    return {
        key: Answer(text=f"{psi:g} psi", value_si=psi * PSI_PA, unit="psi")
        for key, psi in (("main-nothing", main_psi), ("second-nothing", second_psi))
    }


@pytest.mark.parametrize("keys", [SECOND, {"second_volume": "40 ml"}], ids=["both", "volume"])
@pytest.mark.parametrize("procedure", ["", "lower-leg-service"], ids=["plan", "card"])
def test_both_chambers_are_let_out_and_read_before_anything_is_opened(
    cast: people.Cast, keys: dict[str, object], procedure: str
) -> None:
    """Main first, then the second, then both read: in every job, half of it written too; it is filled first again."""
    here = begun(cast, procedure, keys).here()
    order = [slot.step.key for slot in here.slots]
    vent = next(key for key in order if key.startswith("main-vent"))
    first = min(order.index(key) for key in CAP if key in order)
    at = [
        order.index(key)
        for key in ("found-second-pressure", vent, "empty-at-rest", "second-vent", "both-empty", "second-core-out")
    ]
    assert at == sorted(at) and at[-1] < first
    pumped = next(order.index(key) for key in ("fill", "fill-main", "inflate") if key in order)
    assert first < order.index("fill-second") < pumped < order.index("left-second-pressure")


def test_the_whole_work_is_done_and_handed_over(cast: people.Cast) -> None:
    hands = begun(cast)
    assert hands.until(None) is None and sign.finished(hands.job)
    assert not danger.of(hands.job)
    signed = {row.kind: row.value_si / PSI_PA for row in Reading.objects.filter(job=hands.job, stage="step")}
    assert signed["fill-second"] == pytest.approx(150) and signed["left-second-pressure"] == pytest.approx(150)


@pytest.mark.parametrize(
    ("main", "second", "passes"), [(0, 0, True), (0, 1, True), (2, 0, False), (0, 2, False), (0, 150, False)]
)
def test_charged_until_both_read_nothing(cast: people.Cast, main: float, second: float, passes: bool) -> None:
    """One mark of this gauge, not its class; one of them alone is not enough, and the other way round neither."""
    hands = begun(cast)
    hold = hands.until("both-empty")
    assert hold is not None
    entry = hands.sign(hold, nothing(main, second))
    assert entry.verdict == ("passed" if passes else "failed")
    here = hands.here()
    assert here.blocked is not passes and [each.charged for each in danger.of(hands.job)] == ([] if passes else [True])
    if passes:
        return
    cap = next(slot for slot in here.slots if slot.step.key == "cap-off")
    with pytest.raises(Refused, match="comes first"):
        hands.sign(cap, passing(here, cap), minutes=0)
    for again in ((second, main), (5, 5)):  # the other one empty now: still charged
        hands.sign(hands.here().slot("both-empty"), nothing(*again))  # type: ignore[arg-type]
        assert [each.charged for each in danger.of(hands.job)] == [True]
    hands.sign(hands.here().slot("both-empty"), nothing(0, 0))  # type: ignore[arg-type]
    assert danger.of(hands.job) == () and not hands.here().blocked


def test_a_charge_is_never_called_a_slip(cast: people.Cast) -> None:
    """“60 psi. Was it 0.6 psi?” stood on the page, with a button that passed the hold point."""
    hands = begun(cast)
    assert hands.until("both-empty") is not None
    browser, address = people.browser(cast.technician), "/jobs/201/steps/both-empty/"
    for psi in ("2", "60"):
        form = form_of(browser.get(f"{address}?again"))
        answer = browser.post(address, form | {"main-nothing": psi, "second-nothing": "0"})
        entry = StepEntry.objects.filter(step_key="both-empty").latest("sequence")
        assert answer.status_code == 303 and entry.verdict == "failed", (psi, answer.status_code)
        assert entry.evidence["answers"]["main-nothing"]["text"] == psi
    page = browser.get(address).content.decode()
    assert "Stop." in page and "Was it" not in page


def failed(cast: people.Cast, key: str = "second-vent") -> Hands:
    hands = begun(cast)
    hold = hands.until(key)
    assert hold is not None
    hands.sign(hold, nothing(0, 90) if key == "both-empty" else failing(hands.here(), hold))
    return hands


def test_nothing_else_lifts_it(cast: people.Cast) -> None:
    """Not the second chamber taken out of the Book, not another plan, not the other hold point of the two."""
    hands = failed(cast)
    unit = hands.job.unit
    assert unit is not None
    unit.tables = {**unit.tables, "fork.air": {k: v for k, v in unit.tables["fork.air"].items() if k not in SECOND}}
    unit.save()
    planned(cast, Job.objects.get(pk=hands.job.pk))
    here = walk(Job.objects.get(pk=hands.job.pk))
    assert here.slot("second-vent") is None and here.blocked
    assert [each.charged for each in danger.of(hands.job)] == [True]
    for slot in here.slots:
        if slot.step.key in CAP:
            assert "the plan in use has no such step" in here.closed(slot)
    hands.job = Job.objects.get(pk=hands.job.pk)
    comes_next = here.current
    assert comes_next is not None
    with pytest.raises(Refused, match="the plan in use has no such step"):
        hands.sign(comes_next)
    assert any(each.hard for each in faults_of(hands.job))


def test_a_reading_that_is_corrected_upwards_makes_it_a_danger_again(cast: people.Cast) -> None:
    hands = begun(cast)
    hands.until("second-core-out")
    row = Reading.objects.get(job=hands.job, kind="second-nothing")
    with change(cast.technician, "misread", {}, at=hands.at) as doing:
        readings.correct(
            doing, row, Taken.quantity("second-nothing", parse("40 psi", "pressure"), "pressure"), "misread"
        )
    assert [each.charged for each in danger.of(hands.job)] == [True] and hands.here().blocked


@pytest.mark.parametrize("key", ["second-vent", "both-empty"])
def test_the_stop_page_and_the_tag_say_what_the_second_chamber_can_do(cast: people.Cast, key: str) -> None:
    """What was read, 250 psi where the Book has 150: p·π/4·D² on the bore, p_a·V·(r·ln r − r + 1) in its 40 ml; rounded up."""
    hands = failed(cast, key)
    plan = hands.here().plan
    assert plan.bore_m is not None
    force = 250 * PSI_PA * math.pi / 4 * plan.bore_m**2
    ambient = float(plan.before.ambient_pa[0])  # type: ignore[union-attr]
    ratio = (250 * PSI_PA + ambient) / ambient
    energy = ambient * 40e-6 * (ratio * math.log(ratio) - ratio + 1)
    assert energy == pytest.approx(float(stored_energy_j(ratio * ambient, 40e-6, ambient)))
    told = core_steps.held(plan, "second-chamber", hands.here().readings)
    assert told is not None and told["acts"] == "Force on the cap"
    assert force <= float(told["force_number"].replace("\u202f", "")) < 1.1 * force
    assert energy <= float(told["energy_number"]) < 1.1 * energy
    page = people.browser(cast.technician).get(f"/jobs/{hands.job.number}/steps/{key}/").content.decode()
    words = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    assert f"Force on the cap {told['force_number']}".replace("\u202f", " ") in words and "from 250" in words
    assert "negative chamber empty" not in page and "Print the tag: charged, do not open" in words
    tag = Tag.objects.create(code="K7M4QX", unit=hands.job.unit, made_at=START, made_by=cast.technician)
    black = tags._stop(tag, "K7M-4QX", "https://bench.example/t")
    assert black is not None and black.title == "Charged. Do not open."
    assert [name for name, _ in black.rows][:2] == ["second", "cap"] and "250" in black.rows[0][1]


def test_found_out_when_the_steps_are_under_way(cast: people.Cast) -> None:
    """Written into the Book after the cap came off, and the plan made again: it is let out next, before anything else."""
    gauge()
    job = hollin_job(cast.owner)
    planned(cast, job)
    hands = Hands(cast.technician, job)
    hands.begin()
    hands.until("spacers-out")
    unit = job.unit
    assert unit is not None
    unit.tables = {**unit.tables, "fork.air": {**unit.tables["fork.air"], **SECOND}}
    unit.save()
    planned(cast, Job.objects.get(pk=job.pk))
    hands.job = Job.objects.get(pk=job.pk)
    here = hands.here()
    assert here.current is not None and here.current.step.key == "found-second-pressure"
    bolts = next(slot for slot in here.slots if slot.step.key == "foot-bolts")
    with pytest.raises(Refused, match="comes first"):
        hands.sign(bolts, passing(here, bolts), minutes=0)


def test_a_text_that_knows_no_second_chamber_is_refused(technician_in: Client, cast: people.Cast) -> None:
    """One that was pinned before, in which no step lets the second chamber out. A shock's text is none for a fork at all."""
    procedure = "lower-leg-service"
    job = hollin_job(cast.owner, fork_air=SECOND)
    job.procedure = "rear-shock-air-can"
    with pytest.raises(NoSteps, match="written for a rear shock; this is a fork"):
        walk(job)
    Job.objects.filter(pk=job.pk).update(procedure=procedure)
    job = Job.objects.get(pk=job.pk)
    hands = Hands(cast.technician, job)
    hands.begin()
    text = library.text_of(procedure)
    before = text.replace('[[group]]\ninclude = "relieve-second"\n', "")
    assert before != text
    ProcedureText.objects.create(sha256=library.digest(before), procedure=procedure, text=before, at=START)
    with connection.cursor() as sql:  # as a database of before holds it
        sql.execute("DROP TRIGGER keep_jobs_stepentry_update")
        sql.execute("UPDATE jobs_stepentry SET procedure_hash = %s", [library.digest(before)])
    with pytest.raises(NoSteps, match="second air chamber"):
        walk(job)
    page = technician_in.get(f"/jobs/{job.number}/steps/", follow=True).content.decode()
    assert "would stay charged behind the cap" in html.unescape(page)


def test_a_fork_that_nobody_knows_is_looked_at_for_another_valve(cast: people.Cast) -> None:
    """Neither card nor plan says it: the careful step, and a valve that still blows stops the work."""
    gauge()
    job = hollin_job(cast.owner)
    Job.objects.filter(pk=job.pk).update(procedure="lower-leg-service", unit=None)
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    hold = hands.until("second-look")
    assert hold is not None and not hold.step.may_skip
    hands.sign(hold, {"second-look": Answer(choice="Air still comes, or not sure")})
    assert hands.here().blocked and [each.charged for each in danger.of(hands.job)] == [True]
    hands.sign(hold, {"second-look": Answer(choice="Let out, the gauge on it reads nothing")})
    assert not hands.here().blocked
