"""What is changed shortly before a plan is used or a job goes out: a limit, the kind of the unit, a gauge, a reading. None of it goes unsaid."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout.units import PSI_PA, parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import limits_before, refusals
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions
from topout.web.jobs.steps import judged
from topout.web.jobs.steps.sign import Refused
from web import job_states, people, springs_kit, test_other_end_steps
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import Hands, gauge, make_job
from web.test_shock_plan import full_suspension

WAS = "that the Book had while this job was here"


def left(who: User, job: Job, text: str, gauge: Instrument | None = None) -> None:
    with change(who, "left", {"text": text}) as doing:
        readings.take(
            doing, job, "as-left", Taken.quantity("pressure", parse(text, "pressure"), "pressure", instrument=gauge)
        )


def told(job: Job) -> dict[str, bool]:
    """What stands against the job as it is in the database, and whether no reason lifts it."""
    return {each.words.replace("\xa0", " "): each.hard for each in contradictions.faults_of(Job.objects.get(pk=job.pk))}


def kept(who: User, row: Any) -> None:
    with change(who, "book", {"row": str(row)}) as doing:
        book.keep(doing, row)


def worked_by_hand(cast: Cast, **air: Any) -> tuple[Job, Unit]:
    job = hollin_job(cast.technician, fork_air={"pressure_limit": "120 psi", **air})
    Job.objects.filter(pk=job.pk).update(procedure="")
    assert job.unit is not None
    return job, job.unit


@pytest.mark.parametrize("now", [None, "300 psi"], ids=["taken out", "raised"])
def test_a_limit_that_went_out_of_the_book_before_the_release_is_told(cast: Cast, now: str | None) -> None:
    job, unit = worked_by_hand(cast)
    left(cast.technician, job, "150 psi")
    assert [hard for words, hard in told(job).items() if "over the limit of 120 psi." in words] == [True]
    air = unit.tables["fork.air"]
    unit.tables["fork.air"] = {key: value for key, value in air.items() if key != "pressure_limit"} | (
        {"pressure_limit": now} if now else {}
    )
    kept(cast.technician, unit)
    (said,) = [(words, hard) for words, hard in told(job).items() if "limit" in words]
    assert f"over the limit of 120 psi {WAS}" in said[0] and not said[1], "a limit that was read wrong may be mended"
    left(cast.technician, job, "119 psi")
    assert not [words for words in told(job) if "limit" in words]


@pytest.mark.parametrize("how", ["the unit leaves it", "the family loses it"])
def test_a_limit_of_the_family_that_went_is_told(cast: Cast, how: str) -> None:
    job, unit = worked_by_hand(cast)
    with change(cast.technician, "family", {}) as doing:
        limited: Any = {"fork.air": {"pressure_limit": "100 psi"}}
        unit.family = book.make_family(doing, name="Quillon 35", tables=limited)
        unit.tables["fork.air"].pop("pressure_limit")
        book.keep(doing, unit)
    left(cast.technician, job, "110 psi")
    assert any("over the limit of 100 psi." in words for words in told(job))
    if how == "the unit leaves it":
        unit.family = None
        kept(cast.technician, unit)
    else:
        unit.family.tables = {}
        kept(cast.technician, unit.family)
    assert any(f"over the limit of 100 psi {WAS}" in words for words in told(job))


def test_a_limit_that_was_there_before_the_job_came_and_no_more_is_none_of_its(cast: Cast) -> None:
    job, unit = worked_by_hand(cast)
    unit.tables["fork.air"]["pressure_limit"] = "200 psi"
    kept(cast.technician, unit)
    Job.objects.filter(pk=job.pk).update(taken_in_at=unit.history.order_by("-history_id")[0].history_date)
    left(cast.technician, job, "150 psi")
    assert not [words for words in told(job) if "limit" in words]


def test_a_plan_over_a_limit_that_was_raised_for_it_takes_the_owners_reason_all_the_same(cast: Cast) -> None:
    job, unit = worked_by_hand(cast)
    asked: Any = {"change": {"pressure": "125 psi"}}

    def against() -> list[str]:
        now = Job.objects.get(pk=job.pk)
        file = core.bench(now, asked)
        return [words.replace("\xa0", " ") for words in refusals.against(now, file, core.told(file))]

    assert any("limit" in words for words in against())
    unit.tables["fork.air"]["pressure_limit"] = "300 psi"
    kept(cast.technician, unit)
    assert [words for words in against() if f"is over the limit of 120 psi {WAS}" in words]
    now = Job.objects.get(pk=job.pk)
    with pytest.raises(refusals.Refused) as refused, change(cast.technician, "use", {}) as doing:
        refusals.use(doing, now, core.bench(now, asked), asked)
    assert refused.value.ask_owner


def test_a_fork_that_was_planned_becomes_no_shock(technician_in: Client, cast: Cast) -> None:
    """By the end of the bike its plan is read: 250 psi over a plan of 70 went out without a word."""
    job = job_states.make(cast, "planned")
    place = f"/book/units/{job.unit_id}/change/"
    for kind in ("shock", "coil-shock", "coil-fork"):  # a pressure was read of it: no coil either
        answer = people.send(
            technician_in, place, {"kind": kind, "name": "Quillon 35"}, page_path=f"{place}?kind={kind}"
        )
        assert answer.status_code == 422, (kind, answer.content.decode()[:500])
    assert Unit.objects.get().kind == "fork"


def test_what_was_taken_in_wrongly_may_become_another_kind(technician_in: Client, cast: Cast) -> None:
    job = job_states.make(cast, "taken in")
    place = f"/book/units/{job.unit_id}/change/"
    assert (
        people.send(technician_in, place, {"kind": "shock", "name": "can"}, page_path=f"{place}?kind=shock").status_code
        == 303
    )


def test_a_gauge_that_no_owner_confirmed_excuses_nothing(cast: Cast) -> None:
    """Two marks of 30 psi and 4 per cent of 600: 118 psi stood for a plan of 70."""
    job = job_states.make(cast, "planned")
    wide = Instrument.objects.create(
        code="W1",
        kind="gauge",
        name="truck gauge",
        dimension="pressure",
        span="600 psi",
        mark="30 psi",
        accuracy_class_percent=4.0,
    )
    left(cast.technician, job, "110 psi", wide)
    assert any("left 110 psi" in words and "the plan says 70 psi" in words for words in told(job))
    left(cast.technician, job, "72 psi", wide)
    assert not any("left 72 psi" in words for words in told(job))


def test_a_reading_that_a_plan_rests_on_and_was_corrected_since_is_told(cast: Cast) -> None:
    job = job_states.make(cast, "planned")
    client = people.browser(cast.technician)
    before = told(job)
    row = readings.current(job, "as-found")["pressure"]
    with change(cast.technician, "again", {}) as doing:
        newer = readings.take(
            doing, job, "as-found", Taken.quantity("pressure", parse("71 psi", "pressure"), "pressure")
        )
    assert told(job) == before, "read again later, it is another reading, and the plan was told from the first"
    assert newer.corrects == row
    with change(cast.technician, "correct", {}) as doing:
        readings.correct(doing, newer, Taken.quantity("pressure", parse("40 psi", "pressure"), "pressure"), "misread")
    assert told(job) == before, "it came after the plan"
    sag = readings.current(job, "as-found")["sag"]
    with change(cast.technician, "correct sag", {}) as doing:
        readings.correct(
            doing,
            sag,
            Taken.quantity("sag", parse("20 mm", "length"), "length", posture="standing"),
            "read again, wrongly held",
        )
    (said,) = set(told(job)) - set(before)
    assert said.startswith("Sag as found was corrected after the plan was put to use: 31 mm") and "20 mm" in said
    assert said.endswith("make it again.") and not told(job)[said]
    assert said in client.get(f"/jobs/{job.number}/").content.decode().replace("\xa0", " ")
    with change(cast.technician, "correct it again", {}) as doing:
        newest = readings.current(job, "as-found")["sag"]
        readings.correct(
            doing, newest, Taken.quantity("sag", parse("24 mm", "length"), "length", posture="standing"), "once more"
        )
    (said,) = set(told(job)) - set(before)
    assert "31 mm" in said and "24 mm" in said and "20 mm" not in said
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, Job.objects.get(pk=job.pk), job_states.CHANGE)
    assert said not in told(job)


def test_nobody_pumps_over_a_limit_that_the_book_was_given_after_the_plan(cast: Cast) -> None:
    """The label was read with the fork on the stand: 50 psi. The steps pumped to the 70 of the plan that knew of 120."""
    gauge()
    job = hollin_job(cast.technician, fork_air={"pressure_limit": "120 psi"})
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    hands = Hands(cast.technician, job)
    hands.begin()
    first = hands.until("fill")
    unit = Unit.objects.get()
    unit.tables["fork.air"]["pressure_limit"] = "50 psi"
    kept(cast.technician, unit)
    hands.job = Job.objects.get(pk=job.pk)
    assert first is not None and hands.sign(first).evidence["pumped_to_pa"] < 50 * PSI_PA
    over = hands.here().current
    assert over is not None and over.pumped_to_pa is not None and over.pumped_to_pa > 50 * PSI_PA
    refused = [each.step.key for each in hands.here().slots if judged.over_limit(hands.here(), each, None)]
    assert refused == ["fill", "fill", "left-pressure"], "what pumps, and nothing else"
    by_reason = hands.here()
    by_reason.plan = replace(by_reason.plan, pressure_limit_gauge_pa=limits_before.now_pa(hands.job.unit))
    assert judged.over_limit(by_reason, over, None) == "", "a plan that knew the limit took an owner's reason"
    with pytest.raises(Refused, match="The Book says at most 50.psi"):
        hands.sign(over)
    unit.tables["fork.air"]["pressure_limit"] = "120 psi"
    kept(cast.technician, unit)
    hands.job = Job.objects.get(pk=job.pk)
    assert hands.sign(over).verdict == "passed"


def test_nothing_is_read_on_a_gauge_that_was_put_away(cast: Cast) -> None:
    """It was the job's gauge until then; whoever names none had it read on all the same."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("gauge-zero")
    assert slot is not None
    hands.sign(slot)
    Instrument.objects.update(retired_at=hands.at)
    with pytest.raises(Refused, match="Gauge P2 is put away"):
        hands.sign(slot, again=True)


def test_a_limit_of_the_shock_counts_at_the_forks_job_as_the_book_has_it(technician_in: Client, cast: Cast) -> None:
    """The fork's job knew the limit of its plan alone: 140 psi went into a shock for 100, and out to the rider."""
    job, hands = test_other_end_steps.begun(technician_in, cast)
    slot, shock = hands.here().current, core.other_end(job)
    assert slot is not None and shock is not None
    before = shock.tables["shock.air"].get("pressure_limit")

    def at_most(text: str | None) -> None:
        air = {key: value for key, value in shock.tables["shock.air"].items() if key != "pressure_limit"}
        shock.tables["shock.air"] = air | ({"pressure_limit": text} if text is not None else {})
        kept(cast.technician, shock)

    at_most("100 psi")
    with pytest.raises(Refused, match=f"at most 100.psi for {shock} now, and the plan in use pumps to 140.psi"):
        hands.sign(slot)
    at_most(before)
    assert hands.sign(slot).verdict == "passed"
    at_most("100 psi")
    assert [
        hard for words, hard in told(job).items() if "Shock pressure" in words and "over the limit of 100 psi." in words
    ] == [True]
    at_most("300 psi")
    assert any(
        words.startswith("Shock pressure") and f"over the limit of 100 psi {WAS}" in words for words in told(job)
    )


def test_a_figure_of_the_book_that_was_corrected_after_the_plan_is_told(cast: Cast) -> None:
    """The bore was misread, and the rider weighed anew: 70 psi were worked out for another fork and another rider."""
    job = job_states.make(cast, "planned")
    before = told(job)
    unit = Unit.objects.get()
    rows: list[tuple[Any, Any]] = [(unit.tables["fork.air"], "bore"), (unit.bike.tables["frame"], "reach")]  # type: ignore[union-attr]
    for table, word in rows:
        table[word] = f"{float(table[word].split()[0]) + 2:g} mm"
    unit.tables["fork.air"]["grease_in_negative"] = "1 ml"
    unit.tables["fork.air"]["pressure"] = "99 psi"
    for row in (unit, unit.bike):
        kept(cast.technician, row)
    job.rider.tables["rider"]["mass"] = "91 kg"
    job.rider.save()
    (said,) = set(told(job)) - set(before)
    assert said.startswith("Changed in the Book after the plan was put to use: Rider, mass ") and said.endswith(
        ". Make the plan again."
    )
    assert "Air spring, bore 34 mm → 36 mm" in said and "reach 452 mm → 454 mm" in said
    assert "grease" not in said and "99 psi" not in said, "what was not known then, and what this job read itself"
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, Job.objects.get(pk=job.pk), job_states.CHANGE)
    assert set(told(job)) <= set(before)


def test_what_came_in_over_the_limit_is_not_pumped_to_it_again(cast: Cast) -> None:
    """Without a plan a step pumps to the pressure that was found: 250 psi, into a can for 200."""
    gauge()
    job = full_suspension(cast.technician, "shock", shock_air={"pressure_limit": "200 psi"})
    hands = Hands(cast.technician, job)
    with change(cast.technician, "found", {}) as doing:
        found = Taken.quantity("pressure", parse("250 psi", "pressure"), "pressure")
        readings.take(doing, job, "as-found", found)
    hands.begin()
    slot = hands._work("shock-inflate")
    assert slot is not None
    with pytest.raises(Refused, match="at most 200.psi for The shock, and this step pumps to 250.psi. Make a plan"):
        hands.sign(slot)
    assert job.unit is not None
    job.unit.tables["shock.air"]["pressure_limit"] = "260 psi"
    kept(cast.technician, job.unit)
    hands.job = Job.objects.get(pk=job.pk)
    assert hands.sign(slot).verdict == "passed"


def test_no_negative_chamber_is_filled_over_the_limit_either(cast: Cast) -> None:
    """The limit was read anew, between the two pressures of the plan: the main one's was asked alone."""
    gauge()
    job = hollin_job(cast.technician, fork_air={"negative": "separate-valve", "negative_pressure": "75 psi"})
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    hands = Hands(cast.technician, job)
    hands.begin()
    slot = hands._work("fill-negative")
    assert slot is not None and job.unit is not None
    job.unit.tables["fork.air"]["pressure_limit"] = "72 psi"
    kept(cast.technician, job.unit)
    hands.job = Job.objects.get(pk=job.pk)
    with pytest.raises(Refused, match="at most 72.psi for .* now, and the plan in use pumps to 75.psi"):
        hands.sign(slot)


def fitted(cast: Cast, job: Job, spacers: int, travel: str) -> None:
    with change(cast.technician, "left", {"spacers": spacers, "travel": travel}) as doing:
        readings.take(doing, job, "as-left", Taken.count("spacers", spacers))
        readings.take(doing, job, "as-left", Taken.quantity("travel", parse(travel, "length"), "length"))


def test_spacers_and_travel_as_left_over_the_makers_limit_are_told_without_a_plan(cast: Cast) -> None:
    """A plan alone knew these limits: six spacers where the maker allows three went out, and the piston may strike them."""
    job, unit = worked_by_hand(cast, spacer_limit=3)
    unit.tables["fork"]["travel_limit"] = "150 mm"
    kept(cast.technician, unit)
    left(cast.technician, job, "70 psi")
    fitted(cast, job, 3, "152 mm")
    assert told(job) == {}, "at the limit, and what a rule can't tell from it"
    fitted(cast, job, 4, "153 mm")
    assert told(job) == {
        "Volume spacers: 4, is over the limit of 3.": False,
        "Travel as measured: 153 mm · 6.02 in, is over the limit of 150 mm.": False,
    }
    unit.tables["fork"].pop("travel_limit")
    unit.tables["fork.air"]["spacer_limit"] = 9
    kept(cast.technician, unit)
    assert [WAS in words for words in told(job)] == [True, True]


def test_a_plan_over_a_frames_or_a_chassis_limit_that_was_raised_for_it_takes_the_owners_reason(cast: Cast) -> None:
    """The pressure's limit was asked alone: the frame maker's 540 mm went up to 700, and the longer fork was planned without a word."""
    job = hollin_job(cast.technician, fork={"travel_limit": "145 mm"}, frame={"fork_length_limit": "540 mm"})
    assert job.unit is not None and job.bike is not None
    job.unit.tables["fork"]["travel_limit"] = "200 mm"
    job.unit.tables["fork.air"]["spacer_limit"] = 9
    job.bike.tables["frame"]["fork_length_limit"] = "700 mm"
    for row in (job.unit, job.bike):
        kept(cast.technician, row)
    job = Job.objects.get(pk=job.pk)
    asked: Any = {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 7}}
    with pytest.raises(refusals.Refused) as no, change(cast.technician, "plan", {}) as doing:
        refusals.use(doing, job, core.bench(job, asked), asked)
    said = " ".join(no.value.against).replace("\xa0", " ")
    assert "7 volume spacers: that is over the limit of 4 that the Book had" in said
    assert "150 mm" in said and "of travel is over the limit of 145 mm that the Book had" in said
    assert "A fork length of" in said and "over the limit of 540 mm that the Book had" in said and no.value.ask_owner


def test_a_limit_of_the_fork_is_no_matter_of_the_shocks_job(cast: Cast) -> None:
    job = full_suspension(cast.technician, frame={"fork_length_limit": "500 mm"})
    assert job.bike is not None
    job.bike.tables["frame"]["fork_length_limit"] = "700 mm"
    kept(cast.technician, job.bike)
    job = Job.objects.get(pk=job.pk)
    file = core.bench(job, {"change": {"shock": {"pressure": "140 psi"}}})
    assert not [words for words in refusals.against(job, file, core.told(file)) if WAS in words]


def lengths(cast: Cast, job: Job, kind: str, found: str, now: str) -> None:
    for stage, text in (("as-found", found), ("as-left", now)):
        with change(cast.technician, "length", {"stage": stage, "text": text}) as doing:
            readings.take(doing, job, stage, Taken.quantity(kind, parse(text, "length"), "length"))


def test_a_fork_that_stands_shorter_than_it_came_is_told(cast: Cast) -> None:
    """31 mm of stanchion less at full extension is a fork that sucks itself in: without steps nobody compared the two."""
    job, _ = worked_by_hand(cast)
    left(cast.technician, job, "70 psi")
    lengths(cast, job, "exposed-length", "171 mm", "168 mm")
    assert told(job) == {}
    lengths(cast, job, "exposed-length", "171 mm", "167 mm")
    (words,) = told(job)
    assert (
        words.startswith("Exposed stanchion: left 167 mm") and "so 171 mm is expected" in words and "charged" in words
    )
    lengths(cast, job, "exposed-length", "140 mm", "171 mm")
    assert told(job) == {}, "it came sucked in, and does no more"
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    lengths(cast, job, "exposed-length", "171 mm", "171 mm")
    assert any("so 181 mm is expected" in each for each in told(job)), "ten more of travel"


def test_another_coil_or_preload_than_the_plan_has_is_told(cast: Cast) -> None:
    """The plan was of 8.5 N/mm wound up by 8 mm; 7.5 and 20 were left, and the release compared air alone."""
    gauge()
    job = springs_kit.taken_in(cast, "", asked=springs_kit.PLANS["rate"]).job
    with change(cast.technician, "coil", {}) as doing:
        readings.take(doing, job, "as-found", Taken.quantity("preload", parse("20 mm", "length"), "length"))
        readings.take(doing, job, "as-left", Taken.quantity("coil-rate", parse("7.5 N/mm", "rate"), "rate"))
        readings.take(doing, job, "as-left", Taken.quantity("preload", parse("20 mm", "length"), "length"))
    rate, preload = told(job)
    assert rate.startswith("Spring rate: left 7.5 N/mm") and "the plan says 8.5 N/mm" in rate
    assert preload.startswith("Preload: left 20 mm") and "the plan says 8 mm" in preload
    assert {each.label: each.planned for each in contradictions.sides(job)}["Preload"] == "8\xa0mm"
    with change(cast.technician, "coil anew", {}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("coil-rate", parse("48.5 lbf/in", "rate"), "rate"))
        readings.take(doing, job, "as-left", Taken.quantity("preload", parse("8.5 mm", "length"), "length"))
    assert told(job) == {}


def test_a_travel_as_left_that_makes_the_fork_longer_than_the_frame_may_carry_is_told(cast: Cast) -> None:
    """Twenty more of travel by hand, and the frame maker's 550 mm were passed: a plan alone knew that."""
    job = hollin_job(cast.technician, fork={"length": "536 mm"}, frame={"fork_length_limit": "550 mm"})
    Job.objects.filter(pk=job.pk).update(procedure="")
    left(cast.technician, job, "70 psi")
    assert job.unit is not None and job.unit.tables["fork"]["travel"] == "140 mm"
    fitted(cast, job, 2, "156 mm")
    assert told(job) == {}, "552 mm, and a rule can't tell it from 550"
    fitted(cast, job, 2, "160 mm")
    (words,) = told(job)
    assert words == "Travel as measured: 160 mm · 6.30 in: a fork length of 556 mm is over the limit of 550 mm."
