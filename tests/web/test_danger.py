"""Danger is a fact of the job: a failed hold point stands until a later reading passes it, whatever is changed meanwhile."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace as Namespace
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from topout.bench_file.read import read_text
from topout.errors import Fault, FaultsFound
from topout.planner import known
from topout.planner.known import Spring
from topout.planner.variables import VOCABULARY
from topout.procedures import library, read
from topout.procedures.model import Bound, Evidence
from topout.units import PSI_PA, parse
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import danger, hoses, unit_dangers
from topout.web.jobs.core import left as left_rules
from topout.web.jobs.desk import up_next
from topout.web.jobs.plan import boxes
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.kinds import KINDS
from topout.web.jobs.records.models import (
    Draft,
    Instrument,
    Job,
    ProcedureText,
    Reading,
    Release,
    ReleasedSheet,
    RiderNotes,
    StepEntry,
)
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.release import contradictions, drafted, leaving, tags
from topout.web.jobs.release.sheet import sheet_of
from topout.web.jobs.steps import emptied, entries, lines, owners, sign
from topout.web.jobs.steps.sign import Answer, Refused
from topout.web.shelf import keeping as shelf
from web import job_states, people
from web.people import Cast
from web.plan_cast import hollin_job
from web.steps_kit import BENCH, START, Hands, failing, freeze, gauge, make_job, passing

TITLE = "Stop. Air stays trapped in the negative chamber."
COIL = (
    BENCH.replace('port_position = "3 mm"\n', "")
    .replace('negative_volume = "48 ml"\n', "")
    .replace("[change]", '[fork.air.negative_coil]\nlength = "20 mm"\nrate = "4 N/mm"\n[change]')
    .replace('bore = "34 mm"', 'negative = "coil"\nbore = "34 mm"')
)
TOLD: dict[str, Any] = {
    "found": "f", "done": "d", "left": "l", "defects": ["Bell loose."], "next_service": "50 hours",
}  # fmt: skip


@pytest.fixture
def hands(cast: Cast) -> Hands:
    """A job whose fork drew itself in when it was let go."""
    gauge()
    made = Hands(cast.technician, make_job(cast.technician))
    made.begin()
    hold = made.until("empty-at-rest")
    assert hold is not None
    made.sign(hold, failing(made.here(), hold))
    return made


def stands(job: Job) -> None:
    """Everybody who tells of a danger tells of this one."""
    assert [(each.title, each.charged, each.stops) for each in danger.of(job)] == [(TITLE, True, True)]
    row = up_next.next_of(job)
    assert (row.group, row.waits_for, row.blocked) == ("waits", TITLE, True)
    client = people.browser(User.objects.get(username="jory"))
    for address in ("/", reverse("job", args=[job.number])):
        assert TITLE in client.get(address).content.decode(), address
    assert not sign.finished(job)
    assert any(
        TITLE.removeprefix("Stop. ") in each.words and each.stops(True) for each in contradictions.faults_of(job)
    )


def test_failing_an_earlier_step_again_does_not_hide_it(hands: Hands) -> None:
    here = hands.here()
    earlier = here.slot("gauge-zero")
    assert earlier is not None
    hands.sign(earlier, failing(here, earlier), again=True)
    stands(hands.job)
    assert lines.where(hands.job).kind == "blocked"
    now = hands.here().current
    assert now is not None and now.step.key == "empty-at-rest"
    hands.sign(now)
    assert danger.of(hands.job) == () and hands.here().current == earlier


def test_it_survives_a_new_plan(hands: Hands) -> None:
    freeze(hands.who, hands.job, BENCH.replace('pressure = "73 psi"', 'pressure = "77 psi"'), hands.at)
    stands(hands.job)
    later = hands.here().slots[-1]
    with pytest.raises(Refused, match="comes first"):
        hands.sign(later, {}, minutes=0)


def test_it_survives_another_kind_of_negative_chamber(hands: Hands) -> None:
    """The Book now says a coil, so the point that failed is no step of the job any more: nothing goes on."""
    freeze(hands.who, hands.job, COIL, hands.at)
    here = hands.here()
    assert here.slot("empty-at-rest") is None and here.slot("empty-at-rest-coil") is not None
    stands(hands.job)
    for slot in here.slots:
        if any(e.step_key == slot.step.key for e in here.entries):
            continue
        with pytest.raises(Refused):
            hands.sign(slot, {each.key: Answer(tick=True) for each in slot.step.evidence}, minutes=0)
    assert not StepEntry.objects.filter(step_key="empty-at-rest-coil").exists()


def test_it_survives_another_text_and_another_order(hands: Hands) -> None:
    """Another text is taken, in which the point that failed comes last: what it came before stays closed."""
    last = StepEntry.objects.get(verdict="failed")
    text = ProcedureText.objects.get(sha256=last.procedure_hash).text
    other = text + "\n# another text\n"
    sha256 = library.digest(other)
    with transaction.atomic():
        ProcedureText.objects.create(sha256=sha256, procedure=last.procedure, text=other, at=hands.at)
        StepEntry.objects.create(
            job=hands.job, sequence=next_sequence(hands.job), who=hands.who, at=hands.at, procedure=last.procedure,
            procedure_hash=sha256, verdict="started", plan=last.plan, evidence={},
        )  # fmt: skip
    stands(hands.job)
    here = hands.here()
    assert here.shipped.sha256 == sha256
    unsigned = [slot for slot in here.slots if not any(e.step_key == slot.step.key for e in here.entries)]
    assert unsigned and all(here.closed(slot) for slot in unsigned)
    assert not any(here.closed(slot) for slot in here.slots if slot not in unsigned), (
        "what was signed before may be again"
    )


def test_a_text_that_is_not_kept_lifts_nothing(hands: Hands) -> None:
    failed = StepEntry.objects.get(verdict="failed")
    failed.procedure_hash = "f" * 64
    found = danger.found([failed], {}, {}, {})
    assert [(each.stops, each.title) for each in found] == [(True, f"Step {failed.step_number} failed.")]


def test_waiting_for_a_part_does_not_hide_it(hands: Hands) -> None:
    with change(hands.who, "waits", {}) as doing:
        changes.remark(doing, hands.job, "waits", "two bushings")
    stands(hands.job)


def test_only_a_later_pass_of_the_same_point_lifts_it(hands: Hands) -> None:
    here = hands.here()
    for key in ("main-vent-port", "gauge-zero"):
        slot = here.slot(key)
        assert slot is not None
        hands.sign(slot, again=True)
        stands(hands.job)
    hold = here.slot("empty-at-rest")
    assert hold is not None
    hands.sign(hold)
    assert danger.of(hands.job) == ()


def test_the_procedure_is_pinned_by_the_first_signed_entry(hands: Hands) -> None:
    job = hands.job
    client = people.browser(hands.who)
    data = {"asked": "Shorter.", "asked_title": "another", "technician": "jory"}
    for chosen in ("", "lower-leg-service", "nonsense"):
        answer = people.send(client, f"/jobs/{job.number}/change/", {**data, "procedure": chosen})
        assert answer.status_code == 422, chosen
    assert people.send(client, f"/jobs/{job.number}/change/", {**data, "procedure": job.procedure}).status_code == 303
    with pytest.raises(IntegrityError, match="procedure stays"), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(procedure="")
    assert Job.objects.get().procedure == job.procedure


def test_a_procedure_that_was_taken_off_long_ago_opens_no_door(hands: Hands) -> None:
    """The release asks what was signed, not a field of the card."""
    job = hands.job
    from topout.web.jobs.records import triggers

    triggers.lift()
    Job.objects.filter(pk=job.pk).update(procedure="")
    triggers.write()
    job.refresh_from_db()
    with change(hands.who, "left", {}) as doing:
        for stage in ("as-found", "as-left"):
            readings.take(doing, job, stage, Taken.count("rebound", 7, of_range=14))
    stands(job)
    with pytest.raises(leaving.NotYet), change(hands.who, "over", {}) as doing:
        leaving.hand_over(doing, job, fit_to_ride=True, **TOLD)
    assert not Release.objects.exists()


# ------------------------------------------------------------------------------------- the hand-over of a charged unit


@pytest.fixture
def charged(cast: Cast) -> Job:
    return job_states.make(cast, "blocked")


@pytest.mark.parametrize("who", ["owner", "technician"])
def test_a_charged_unit_is_never_handed_over_fit_to_ride(charged: Job, cast: Cast, who: str) -> None:
    with change(cast.technician, "left", {}) as doing:
        readings.take(doing, charged, "as-left", Taken.count("rebound", 7, of_range=14))
    with pytest.raises(leaving.NotYet) as refused, change(getattr(cast, who), "over", {}) as doing:
        leaving.hand_over(doing, charged, fit_to_ride=True, reason="He wants it back.", **TOLD)
    assert "Air stays trapped in the negative chamber." in str(refused.value)
    assert not Release.objects.exists()


def test_it_goes_back_not_fit_to_ride_tagged_with_the_danger_among_its_defects(charged: Job, cast: Cast) -> None:
    with change(cast.technician, "over", {}) as doing:
        shelf.ask_for(doing, charged.unit.tags.get(), "Charged.", stop=True)  # type: ignore[union-attr]
        release = leaving.hand_over(doing, charged, fit_to_ride=False, **TOLD)
    assert (
        release.defects[0].startswith("Air stays trapped in the negative chamber.") and "Bell loose." in release.defects
    )
    assert "Leave the circlip and the seal head alone." in release.defects[0]
    row = charged.unit.tags.get()  # type: ignore[union-attr]
    tag = tags.tag_of(charged, row, "HTTP://BENCH.EXAMPLE/T/X")
    assert tag.kind == "stop" and "Charged" in tag.title


def test_without_a_tag_it_does_not_go_back_at_all(charged: Job, cast: Cast) -> None:
    with change(cast.technician, "another", {}) as doing:  # a tag can't be deleted; this unit never had one
        other = book.make_unit(doing, bike=None, name="the same fork, under another name", tables={})
        charged.unit = other
        changes.keep(doing, charged)
    for fit in (True, False):
        with pytest.raises(leaving.NotYet, match="charged"), change(cast.owner, "over", {}) as doing:
            leaving.hand_over(doing, charged, fit_to_ride=fit, **TOLD)
    with change(
        cast.technician, "white", {}, at=min(each.entry.at for each in danger.of(charged)) - timedelta(hours=1)
    ) as doing:
        shelf.make_tag(doing, unit=other)  # from its intake: what is printed on it says nothing of a charge
    with pytest.raises(leaving.NotYet, match="no tag that says so"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, charged, fit_to_ride=False, **TOLD)
    page = people.browser(cast.technician).get(reverse("papers", args=[charged.number])).content.decode()
    assert "Make its tag: charged, do not open" in page
    with change(cast.technician, "tag", {}) as doing:
        row = shelf.make_tag(doing, unit=other)
    with pytest.raises(leaving.NotYet, match="nobody asked to print it"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, charged, fit_to_ride=False, **TOLD)
    with change(cast.technician, "another label", {}) as doing:
        shelf.ask_for(doing, row, "a white one", stop=False)
    assert any("nobody asked to print it" in each.words for each in contradictions.faults_of(charged))
    page_of, print_it = (reverse(name, args=[charged.number, row.code]) for name in ("job-tag", "job-tag-print"))
    answer = people.send(people.browser(cast.technician), print_it, {}, page_path=page_of, times=2)
    assert answer.status_code == 303 and answer["Location"].endswith(f"{row.code}.pdf")
    asked = row.prints.get(stop=True)
    assert asked.who_name == "Jory Pask" and "Charged. Do not open" in asked.words
    assert "Jory Pask" in people.browser(cast.technician).get(page_of).content.decode().partition("Asked for")[2]
    with change(cast.technician, "over", {}) as doing:
        assert not leaving.hand_over(doing, charged, fit_to_ride=False, **TOLD).fit_to_ride


# ------------------------------------------------------------------------------------- one reading stands


def test_a_correction_on_the_card_reaches_the_steps(cast: Cast) -> None:
    """171 mm, read again on the card as 140: what was measured against it is open again."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until("cap-off")
    here = hands.here()
    hold = here.slot("empty-at-rest")
    assert hold is not None and here.passed(hold)
    found = readings.current(hands.job, "as-found")
    assert found["pressure"].temperature_k == pytest.approx(291.15)  # kept beside the pressure: it hangs on it
    row = found["exposed-length"]
    assert row.value_si == pytest.approx(0.171)
    with change(hands.who, "correct", {}, at=hands.at) as doing:
        typed = parse("140 mm", "length")
        readings.correct(doing, row, Taken.quantity("exposed-length", typed, "length"), "read at the wrong end")
    here = hands.here()
    assert here.readings["full-length"] == pytest.approx(0.140)
    (asked,) = (each for slot in here.slots for each in slot.step.evidence if each.card == ("as-found", row.kind))
    of_card = {"value_si": 0.171, "from_card": True}
    assert here.stands(asked, of_card) == pytest.approx(0.140), "as on the card, as that stands now"
    another = replace(here, records=replace(here.records, standing={1: row}))
    assert another.stands(asked, {"value_si": 0.5}) == 0.5, "what has no row is mended by none"
    assert not here.passed(hold) and here.current == hold


def test_a_hold_whose_reading_is_corrected_out_of_its_band_is_a_danger(cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hold = hands.until("empty-at-rest")
    assert hold is not None
    unit = Unit.objects.create(name="Linnet fork", made_at=hands.at)
    Job.objects.filter(pk=hands.job.pk).update(unit=unit)
    entry = hands.sign(hold)
    row = Reading.objects.get(pk=entry.evidence["answers"]["rest-length"]["reading"])
    with change(hands.who, "correct", {}, at=hands.at) as doing:
        readings.correct(doing, row, Taken.quantity("rest-length", parse("120 mm", "length"), "length"), "misread")
    assert [each.title for each in danger.of(hands.job)] == [TITLE]
    assert [each.title for each in unit_dangers.of_units({unit.pk})[unit.pk]] == [TITLE]
    assert unit_dangers.loaded_anywhere().keys() == {unit.pk}


def test_read_again_at_a_step_strikes_what_was_read_before(cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("exposed-length")
    assert slot is not None
    with change(hands.who, "card", {}, at=hands.at) as doing:
        readings.take(
            doing, hands.job, "as-found", Taken.quantity("exposed-length", parse("170 mm", "length"), "length")
        )
    for text, value in (("168 mm", 0.168), ("166 mm", 0.166)):
        hands.sign(slot, {"exposed-length": Answer(text=text, value_si=value, unit="mm")}, again=True)
    rows = readings.rows(hands.job, "as-found")
    shown = [(row.text, row.struck_by.reason if row.struck_by else "") for row in rows if row.kind == "exposed-length"]  # type: ignore[attr-defined]
    again = f"read again at step {slot.number}"
    assert shown == [("170 mm", again), ("168 mm", again), ("166 mm", "")]
    assert readings.current(hands.job, "as-found")["exposed-length"].text == "166 mm"


def test_what_failed_and_passed_later_is_one_reading_in_the_end(cast: Cast) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until("full-stroke")
    assert slot is not None
    for value in (0.131, 0.139):
        hands.sign(slot, {"full-stroke": Answer(text=f"{value * 1e3:g} mm", value_si=value, unit="mm")})
    assert [row.text for row in readings.rows(hands.job, "as-left") if row.kind == "travel"] == ["139 mm"]
    assert Reading.objects.get(text="131 mm").corrected_by.text == "139 mm"


def test_the_newest_of_two_that_nobody_struck_counts(cast: Cast) -> None:
    """Older databases hold such: two readings of one kind, neither corrected."""
    job = make_job(cast.technician)
    with transaction.atomic():
        for value in (70.0, 60.0):
            Reading.objects.create(
                job=job, sequence=next_sequence(job), who=cast.technician, at=job.taken_in_at, stage="as-found",
                kind="pressure", text=f"{value:g} psi", unit="psi", dimension="pressure", value_si=value,
            )  # fmt: skip
    assert readings.current(job, "as-found")["pressure"].text == "60 psi"
    assert entries.read([job])[job.pk].readings["as-found", "pressure"].text == "60 psi"


def test_written_down_twice_the_first_is_struck(cast: Cast) -> None:
    job = make_job(cast.technician)
    with change(cast.technician, "twice", {}) as doing:
        for count in (7, 8):
            readings.take(doing, job, "as-found", Taken.count("rebound", count, of_range=14))
    assert Reading.objects.get(text="7").corrected_by.reason == "read again"


# ------------------------------------------------------------------------------------- an old pass, a band, two gauges


def _one(cast: Cast, key: str) -> tuple[Hands, Any]:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    slot = hands.until(key)
    assert slot is not None
    hands.sign(slot)
    return hands, slot


def test_an_old_pass_does_not_count_where_more_evidence_is_asked_for(cast: Cast) -> None:
    hands, slot = _one(cast, "ring-seated")
    here = hands.here()
    entry = here.latest[slot.key]
    assert here.passed(slot)
    for gone in ("ring-seated", "ring-photo"):
        here._holds.clear()
        kept = entry.evidence["answers"].pop(gone)
        assert not here.passed(slot), gone
        entry.evidence["answers"][gone] = kept


def test_a_hold_whose_band_is_not_known_does_not_hold(cast: Cast) -> None:
    hands, slot = _one(cast, "empty-at-rest")
    here = hands.here()
    assert here.passed(slot)
    here._holds.clear()
    here._numbers.clear()
    here.readings.pop("full-length")
    assert not here.passed(slot)


def test_two_gauges_in_one_job_judge_each_what_was_read_on_it(cast: Cast) -> None:
    """A fine gauge that is named later does not judge what a coarse one read, nor give its filling other rounds."""
    hands, slot = _one(cast, "left-pressure")
    before = hands.here()
    assert slot is not None
    fine = gauge("P9")
    fine.mark, fine.span = "0.1 psi", "100 psi"
    fine.accuracy_class_percent = 0.1
    fine.save()
    value = parse("75.5 psi", "pressure").value_si  # within two marks and the class of P2, far outside those of P9
    answers = passing(before, slot) | {"left-pressure": Answer(text="75.5 psi", value_si=value, unit="psi")}
    hands.sign(slot, answers, again=True)
    here = hands.here()
    assert here.passed(slot)
    here.instrument = fine
    here._holds.clear()
    assert here.passed(slot)
    assert [each.rounds for each in here.slots if each.rounds] == [each.rounds for each in before.slots if each.rounds]


# ------------------------------------------------------------------------------------- the release


def _whole(cast: Cast, left_psi: float = 73.0) -> Job:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hands.until(None)
    job = hands.job
    if left_psi != 73.0:
        with change(cast.technician, "left", {}, at=hands.at + timedelta(minutes=1)) as doing:
            typed = parse(f"{left_psi:g} psi", "pressure")
            readings.take(doing, job, "as-left", Taken.quantity("pressure", typed, "pressure"))
    return job


def test_a_job_that_fits_together_is_handed_over_and_its_sheet_stays(cast: Cast) -> None:
    job = _whole(cast)
    assert [each.words for each in contradictions.faults_of(job) if each.hard] == []
    with change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, job, fit_to_ride=True, reason="no sag: no rider", **TOLD)
    with change(cast.owner, "on", {}) as doing, pytest.raises(Refused, match="The job is handed over"):
        sign.go_on(doing, job)
    client = people.browser(cast.technician)
    place = reverse("sheet", args=[job.number])
    first = client.get(place).content
    assert first.startswith(b"%PDF") and first == bytes(ReleasedSheet.objects.get().pdf)
    user = User.objects.get(username="maud")
    user.first_name = "Another"
    user.save()
    job.rider.name = "Somebody Else"
    job.rider.save()
    assert client.get(place).content == first
    told, _ = sheet_of(job)
    assert "Maud Askel" in told.released


def test_a_kept_sheet_goes_when_its_rider_is_erased(cast: Cast) -> None:
    job = _whole(cast)
    with change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, job, fit_to_ride=True, reason="no rider", **TOLD)
    with pytest.raises(IntegrityError, match="sheet of a hand-over stays"), transaction.atomic():
        ReleasedSheet.objects.all().delete()
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, job.rider)
    assert not ReleasedSheet.objects.exists()
    assert people.browser(cast.owner).get(reverse("sheet", args=[job.number])).status_code == 200


def test_what_a_rider_is_told_is_printed_stays_and_goes_with_the_rider(cast: Cast) -> None:
    """Step 108 said "write the rider's notes" and there was no box for them."""
    job = _whole(cast)
    with change(cast.owner, "over", {}) as doing:
        leaving.hand_over(
            doing, job, fit_to_ride=True, reason="no rider", notes="Watch the sag O-ring.\nCome by, Ilse", **TOLD
        )
    told, _ = sheet_of(job)
    assert told.notes == ("Watch the sag O-ring.", "Come by, Ilse.")
    client = people.browser(cast.owner)
    card = reverse("job", args=[job.number])
    assert "Come by, Ilse" in client.get(card).content.decode()
    stays = "what a rider was told stays"
    for attack in (
        "UPDATE jobs_ridernotes SET words = 'x'",
        "DELETE FROM jobs_ridernotes",
        "INSERT OR REPLACE INTO jobs_ridernotes (id, release_id, words) SELECT id, release_id, 'x' FROM jobs_ridernotes",
    ):
        with (
            pytest.raises(IntegrityError, match=f"{stays}|handed over"),
            transaction.atomic(),
            connection.cursor() as sql,
        ):
            sql.execute(attack)
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, job.rider)
    assert not RiderNotes.objects.exists() and sheet_of(job)[0].notes == ()
    assert "Ilse" not in client.get(card).content.decode()


def test_nothing_is_told_to_a_rider_after_the_hand_over(cast: Cast) -> None:
    job = _whole(cast)
    with change(cast.owner, "over", {}) as doing:
        release = leaving.hand_over(doing, job, fit_to_ride=True, reason="no rider", **TOLD)
    with pytest.raises(IntegrityError, match="handed over"), transaction.atomic():
        RiderNotes.objects.create(release=release, words="Ride on.")


@pytest.mark.parametrize(
    ("kind", "set_", "plan", "off"),
    [
        ("travel", 0.140, {"travel_m": 0.140, "travel_was_m": 0.150}, 0.002),
        ("stroke", 0.055, {"stroke_m": 0.055, "stroke_was_m": 0.060}, left_rules.SAME_STROKE_M),
        (
            "sag",
            0.030,
            {"sag_m": 0.030, "travel_m": 0.150, "travel_was_m": 0.150},
            0.0045,
        ),  # three points of the travel
        ("stroke-sag", 0.016, {"stroke_sag_m": 0.016, "stroke_m": 0.060, "stroke_was_m": 0.060}, 0.0018),
        ("pressure", 70 * PSI_PA, {"pressure_pa": 70 * PSI_PA}, left_rules.PRESSURE_OFF_PA),
        ("spacers", 2.0, {"spacers": 2, "spacers_were": 1}, 0.0),
        ("rear-preload", 0.003, {"other": {"rear-preload": 0.003}}, left_rules.PRELOAD_OFF_M),
    ],
    ids=("travel", "stroke", "sag", "stroke sag", "pressure", "spacers", "preload"),
)
def test_what_was_left_is_off_the_plan_from_here_on_either_way(
    kind: str, set_: float, plan: dict[str, Any], off: float
) -> None:
    def told(value: float) -> list[str]:
        row = Reading(kind=kind, value_si=value, dimension=KINDS[kind].dimension, unit=KINDS[kind].unit)
        return [each.words for each in contradictions._against(contradictions._Plan(**plan), {kind: row})]

    for way in (-1.0, 1.0):
        assert told(set_ + way * off) == [], (kind, way)
        (said,) = told(set_ + way * (1.02 * off + 1e-4))
        assert "the plan says" in said and said.startswith(f"{KINDS[kind].label}: left ")


def test_a_pass_by_readings_alone_lifts_no_failure_that_was_judged_otherwise() -> None:
    """Without volumes a filling is judged by its own readings; a failure under a plan that knew them wants as much again."""

    def lifts(passed: dict[str, Any], failed: dict[str, Any]) -> bool:
        entry = StepEntry(step_key="filled", evidence={"round": 2, **passed})
        open_ = {("filled", 2, None): Namespace(entry=StepEntry(evidence=failed), of_bike=False)}
        return danger._passes(entry, open_) == [("filled", 2, None)]  # type: ignore[arg-type]

    by_readings = {danger.BY_READINGS: True}
    assert lifts({}, {}) and lifts({}, by_readings) and lifts(by_readings, by_readings)
    assert not lifts(by_readings, {})
    other_round = {("filled", 5, None): Namespace(entry=StepEntry(evidence={}), of_bike=False)}
    for rounds, lifted in ((2, True), (3, False)):  # the last round of a filling of fewer stands for all
        entry = StepEntry(step_key="filled", evidence={"round": 2, "rounds": rounds})
        assert bool(danger._passes(entry, other_round)) is lifted  # type: ignore[arg-type]


def test_what_failed_on_the_bike_is_lifted_on_that_bike_alone() -> None:
    bike = Namespace(entry=StepEntry(evidence={}), of_bike=True)
    open_ = {("axle", 0, 7): bike, ("axle", 0, 8): bike}
    for its_bike, lifted in ((7, [("axle", 0, 7)]), (9, []), (None, [])):
        entry = StepEntry(step_key="axle", evidence={}, job=Job(bike_id=its_bike))
        assert danger._passes(entry, open_) == lifted, its_bike  # type: ignore[arg-type]


def test_what_failed_once_more_is_the_newest() -> None:
    """Of texts that are not kept, so that all that failed stands: a page shows the last of them."""
    failed = [
        (StepEntry(step_key=key, verdict="failed", evidence={}, job=Job(), procedure="own-one", step_number=1), True)
        for key in ("ring", "tug", "ring")
    ]
    assert [each.entry.step_key for each in danger.standing_of(failed, {})] == ["tug", "ring"]


def test_a_step_asks_whether_a_chamber_is_empty_by_what_proves_it_and_nothing_beside() -> None:
    """At another step another length may be bounded beside the proof: it is the same question all the same."""
    step = next(
        s for s in read.shipped("travel-change-by-air-shaft", VOCABULARY).procedure.steps() if s.key == "empty-at-rest"
    )
    asks = danger._asks_whether_empty(step)
    beside = Evidence("beside", "number", "Beside", dimension="length", low=Bound(0.0), high=Bound(1.0))
    assert (
        asks and beside.bounded and danger._asks_whether_empty(replace(step, evidence=(beside, *step.evidence))) == asks
    )
    loose = tuple(
        replace(each, below=None, above=None, low=None, high=None, passes=each.options) for each in step.evidence
    )
    assert (
        danger._asks_whether_empty(replace(step, evidence=loose))
        == ()
        == danger._asks_whether_empty(replace(step, evidence=(beside,)))
    )


def test_a_unit_of_which_nothing_is_read_at_the_end_goes_out_to_nobody(cast: Cast) -> None:
    job = make_job(cast.technician)
    (nothing,) = [each for each in contradictions.faults_of(job) if each.words == "How it is left is not written down."]
    assert nothing.stops(True) and nothing.hard, "no owner's reason stands for it"


def test_250_psi_over_a_limit_of_120_goes_out_to_nobody(cast: Cast) -> None:
    job = _whole(cast, 250.0)
    words = [each.words for each in contradictions.faults_of(job) if each.stops(True)]
    assert any("250" in each and "over the limit of 120" in each for each in words)
    for who in (cast.owner, cast.technician):
        with pytest.raises(leaving.NotYet, match="over the limit"), change(who, "over", {}) as doing:
            leaving.hand_over(doing, job, fit_to_ride=True, reason="He asked for it.", **TOLD)


def test_what_is_off_the_plan_takes_an_owners_signed_reason(cast: Cast) -> None:
    job = make_job(cast.technician)
    job.procedure = ""
    job.save()
    with change(cast.technician, "read", {}) as doing:
        readings.take(doing, job, "as-found", Taken.count("rebound", 7, of_range=14))
        readings.take(doing, job, "as-left", Taken.quantity("pressure", parse("85 psi", "pressure"), "pressure"))
    faults = contradictions.faults_of(job)
    words = [each.words for each in faults]
    assert not any(each.danger for each in faults), "an owner's reason stands for it: no defect of the sheet"
    assert any(re.search("Pressure: left 85.*the plan says 73", each) for each in words)
    assert any("Volume spacers as left is not read; the plan sets 2" in each for each in words)
    assert any("Travel as measured as left is not read; the plan sets 140" in each for each in words)
    with pytest.raises(leaving.NotYet, match="Only an owner"), change(cast.technician, "over", {}) as doing:
        leaving.hand_over(doing, job, fit_to_ride=True, reason="He asked for it.", **TOLD)
    with pytest.raises(leaving.NotYet, match="Say why"), change(cast.owner, "over", {}) as doing:
        leaving.hand_over(doing, job, fit_to_ride=True, reason="  ", **TOLD)
    with change(cast.owner, "over", {}) as doing:
        release = leaving.hand_over(doing, job, fit_to_ride=True, reason="He asked for it.", **TOLD)
    assert release.contradictions == words and release.reason == "He asked for it." and release.who_name == "Maud Askel"


def test_not_fit_to_ride_what_does_not_fit_is_told_to_the_rider(cast: Cast) -> None:
    job = make_job(cast.technician)
    with change(cast.technician, "read", {}) as doing:
        readings.take(doing, job, "as-found", Taken.count("rebound", 7, of_range=14))
        release = leaving.hand_over(doing, job, fit_to_ride=False, **TOLD)
    assert any("steps are not all signed" in each for each in release.defects)
    assert "How it is left is not written down." in release.defects and release.defects[-1] == "Bell loose."


def test_the_check_page_shows_found_planned_and_left_and_wants_the_owners_reason(cast: Cast) -> None:
    job = make_job(cast.technician)
    job.procedure = ""
    job.save()
    with change(cast.technician, "read", {}) as doing:
        readings.take(doing, job, "as-found", Taken.quantity("pressure", parse("70 psi", "pressure"), "pressure"))
        readings.take(doing, job, "as-left", Taken.quantity("pressure", parse("85 psi", "pressure"), "pressure"))
    place = f"/jobs/{job.number}/hand-over/"
    told = {**job_states.TOLD}
    jory, maud = people.browser(cast.technician), people.browser(cast.owner)
    assert people.send(jory, place, told).status_code == 303
    page = jory.get(f"{place}check/").content.decode()
    row = page[page.index("Found, planned and left") :]
    row = row[row.index('<th scope="row">Pressure') :]
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", row[: row.index("</tr>")])
    assert [cell.replace("\u00a0", " ")[:6] for cell in cells] == ["70 psi", "73 psi", "85 psi"]
    assert "Only an owner" in page and "Release job" not in page
    drawn = people.field_of(maud.get(f"{place}check/"), "drawn_at")
    refused = people.send(maud, f"{place}check/", {"drawn_at": drawn, "reason": ""})
    assert refused.status_code == 409 and "Say why it goes out like this." in refused.content.decode()
    assert people.send(maud, f"{place}check/", {"drawn_at": drawn, "reason": "Asked for."}).status_code == 303
    assert "Asked for." in jory.get(f"/jobs/{job.number}/").content.decode()


def test_only_the_hand_over_writes_a_release() -> None:
    """Every road to a release passes the one check."""
    from pathlib import Path

    import topout.web

    callers = [
        path.name
        for path in Path(topout.web.__file__).parent.rglob("*.py")
        if re.search(r"changes\.release\(|Release\.objects\.create\(", path.read_text())
        and "migrations" not in path.parts
    ]
    assert sorted(callers) == ["changes.py", "leaving.py"]


def test_a_draft_of_a_released_job_is_gone(cast: Cast) -> None:
    job = job_states.make(cast, "planned")
    with change(cast.technician, "drafts", {}) as doing:
        job.drafts.create(place="plan", who=cast.technician, at=doing.at, fields={"pressure": "71"})
        job_states.released(cast, job)
    assert not Draft.objects.filter(job=job).exists()
    assert core.PLAN_DRAFT


def test_a_negative_reading_is_never_corrected_by_the_main_chamber() -> None:
    """3 ml of hose on 48 ml of negative chamber: by the main one's 200 ml it would be a quarter of that."""
    own_valve = BENCH.replace('port_position = "3 mm"', 'negative = "separate-valve"\nnegative_pressure = "70 psi"')
    spring = known.spring(read_text(own_valve))
    assert isinstance(spring, Spring)
    chambers = spring.chambers
    seen = hoses.chamber_m3("negative-pressure", chambers)
    assert seen == pytest.approx(48e-6)
    assert hoses.chamber_m3("pressure", chambers) > 4 * seen
    read = 60 * PSI_PA
    kept = hoses.correction("negative-pressure", read, gauge_row("3 ml"), chambers)
    assert kept["valve_volume_m3"] == pytest.approx(48e-6)
    assert kept["corrected_si"] == pytest.approx(read * (1 + 3 / 48))


def gauge_row(hose: str) -> Instrument:
    return Instrument(code="P2", hose_volume=hose)


def test_a_finding_of_no_box_is_said_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the bench file finds at a key that has no box on the plan page still stands in its list of faults."""

    def finds(_: Any) -> Any:
        raise FaultsFound(
            [
                Fault(
                    location="[conditions] altitude",
                    message="a height is expected.",
                    key="conditions.altitude",
                    value="high",
                )
            ]
        )

    monkeypatch.setattr("topout.web.book.tables.read", finds)
    drawn = boxes.draw({}, {"change": {"travel": "150 mm"}})
    assert drawn.file is None
    assert ("", "Where it is worked on, altitude: high: a height is expected.") in drawn.faults


def test_air_shut_in_at_the_try_with_air_wants_the_black_tag_too(cast: Cast) -> None:
    """The order that pumps before the lowers draws a ring on its page: "air is shut in behind it", and a white tag did."""
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "plan", {}, at=START) as doing:
        core.freeze(doing, job, job_states.CHANGE)
        white = shelf.make_tag(doing, unit=job.unit)
    hands = Hands(cast.technician, job)
    hands.begin()
    with change(cast.owner, "on", {}, at=hands.at) as doing:
        owners.switch(doing, job, "inflate-before-lower-legs", on=True)
    ring = hands._work("ring-seated")
    assert ring is not None
    hands.sign(ring, failing(hands.here(), ring))
    (proud,) = danger.of(job)
    assert proud.stops and not proud.loaded and proud.short == f"stopped at step {ring.number}", "no air is in yet"
    assert emptied.main_said(hands.here(), ring) == "empty"
    hands.sign(ring)
    look = hands._work("dry-look")
    first = hands.here().slot("dry-pump-first")
    assert look is not None and first is not None
    hands.sign(look, failing(hands.here(), look))
    assert emptied.main_said(hands.here(), look) == "", "it was pumped since it was proved empty"
    with pytest.raises(Refused, match="The circlip has moved. Nothing is pumped"):
        hands.sign(first, again=True)
    hands.sign(look, again=True)
    empty = hands._work("dry-empty")
    assert empty is not None
    hands.sign(empty, failing(hands.here(), empty))
    (found,) = danger.of(job)
    assert found.charged and found.short == "charged, do not open"
    stop = people.browser(cast.technician).get(reverse("step", args=[job.number, "dry-empty"])).content.decode()
    assert "Print the tag: charged, do not open" in stop
    assert any("no tag that says so" in each.words for each in contradictions.faults_of(job))
    assert tags.tag_of(job, white, "/T/x").title == "Charged. Do not open."
    pump = hands.here().slot("dry-pump-second")
    assert pump is not None
    with pytest.raises(Refused, match="Something moves the shaft. Nothing is pumped"):
        hands.sign(pump, again=True)  # it comes before that point, and was signed before
    hands.sign(empty, again=True)
    assert hands.sign(pump, again=True).verdict == "passed"


@pytest.mark.parametrize(("reached", "on"), [("dry-look", True), ("core-in", False)])
def test_no_order_is_switched_behind_what_was_done_in_the_other(cast: Cast, reached: str, on: bool) -> None:
    """A tick before the variant taken back: it was switched off with the fork pumped up, its lowers off, and went on to full stroke."""
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "plan", {}, at=START) as doing:
        core.freeze(doing, job, job_states.CHANGE)
    hands = Hands(cast.technician, job)
    hands.begin()
    if on:
        with change(cast.owner, "on", {}, at=hands.at) as doing:
            owners.switch(doing, job, "inflate-before-lower-legs", on=True)
    assert hands._work(reached) is not None
    with change(cast.technician, "again", {}, at=hands.at) as doing:
        sign.strike(doing, job, "wheel-out", "To be done again", hands.here().seen)
    with pytest.raises(Refused, match="have come past it"), change(cast.owner, "other", {}, at=hands.at) as doing:
        owners.switch(doing, job, "inflate-before-lower-legs", on=not on)


def test_a_damper_that_may_hold_gas_goes_out_with_a_black_tag(cast: Cast) -> None:
    """It was told at the hand-over, and the fork left with the white tag of its intake: nothing on it said what its damper is."""
    gauge()
    job = hollin_job(cast.technician)
    Job.objects.filter(pk=job.pk).update(procedure="fork-annual")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    hands.begin()
    with change(cast.technician, "white", {}, at=START) as doing:
        white = shelf.make_tag(doing, unit=job.unit)
    gas = hands._work("damper-gas")
    assert gas is not None
    hands.sign(gas, failing(hands.here(), gas))
    (found,) = danger.of(hands.job)
    assert found.loaded and not found.charged and found.short == "may hold gas, do not open"
    page = people.browser(cast.technician).get(reverse("step", args=[job.number, "damper-gas"])).content.decode()
    assert "Print the tag: may hold gas, do not open" in page
    assert "<figure>" not in page, "a picture of the air spring says nothing of the damper"
    assert any("no tag that says so" in each.words for each in contradictions.faults_of(hands.job))
    black = tags.tag_of(hands.job, white, "/T/x")
    assert black.title == "May hold gas. Do not open." and ("where", "damper") in black.rows
    hands.sign(gas, again=True)
    assert not danger.of(hands.job) and tags.tag_of(hands.job, white, "/T/x").title != black.title
    opened = hands.here()
    assert opened.current is not None and opened.current.step.key == "damper-out"
    # It stays shut: nothing of this job opens it, and the sheet says so.
    hands.sign(gas, {"damper-gas": Answer(choice="Stays shut, goes to its maker")}, again=True)
    shut = hands.here()
    assert not shut.blocked and shut.current is not None and shut.current.step.key == "damper-whole"
    gone = {each.step.key for each in opened.slots} - {each.step.key for each in shut.slots}
    assert {"damper-out", "shims", "damper-oil", "bleed", "damper-cycled"} <= gone
    assert "The damper: stays shut, goes to its maker." in drafted.not_checked(hands.job)
    hands.sign(gas, again=True)
    assert [each.key for each in hands.here().slots] == [each.key for each in opened.slots]
    assert not any("stays shut" in each for each in drafted.not_checked(hands.job))
    # Once it is opened the answer stays: with another one its open cap would be no step of this job.
    cap = hands.here().current
    assert cap is not None
    hands.sign(cap)
    with pytest.raises(Refused, match=f"Step {cap.words} was signed since, by the answer before"):
        hands.sign(gas, {"damper-gas": Answer(choice="Stays shut, goes to its maker")}, again=True)
    assert hands.sign(gas, {"damper-gas": Answer(choice="Not known")}, again=True).verdict == "failed"
    assert danger.of(hands.job) and hands.here().passed(cap), "told, whenever it is found, and what is open stays known"
    assert hands.sign(gas, {"damper-gas": Answer(choice="No gas side, by the sheet")}, again=True).verdict == "passed"


@pytest.mark.parametrize(
    ("plan", "must"),
    [
        ({"pressure_pa": 5e5}, True),
        ({"negative_pa": 5e5}, True),
        ({"spacers": 2, "spacers_were": 1}, True),
        ({"spacers": 2, "spacers_were": 2}, False),
        ({"travel_m": 0.15, "travel_was_m": 0.14}, True),
        ({"travel_m": 0.15, "travel_was_m": 0.15}, False),
        ({"stroke_m": 0.06, "stroke_was_m": 0.055}, True),
        ({"stroke_m": 0.06, "stroke_was_m": 0.06}, False),
        ({"rate_n_per_m": 8000.0}, False),
        ({"preload_m": 0.003}, False),
        ({"sag_m": 0.03, "travel_m": 0.15, "travel_was_m": 0.15}, False),
        ({"stroke_sag_m": 0.016, "stroke_m": 0.06, "stroke_was_m": 0.06}, False),
        ({"other": {"rear-pressure": 9e5}}, False),
    ],
    ids=str,
)
def test_what_a_plan_changes_is_read_as_left_and_what_stays_need_not_be(plan: dict[str, Any], must: bool) -> None:
    told = [each.words for each in contradictions._against(contradictions._Plan(**plan), {})]
    assert len(told) == must and all("as left is not read; the plan sets" in each for each in told)


def test_nothing_is_set_as_planned_without_a_plan_or_before_it_was_read(cast: Cast) -> None:
    job = hollin_job(cast.technician)
    Job.objects.filter(pk=job.pk).update(procedure="")
    job.refresh_from_db()
    set_ = {"pressure": ("70 psi", "pressure"), "exposed-length": ("171 mm", "length")}
    assert not contradictions.set_as_planned(job)
    with change(cast.technician, "left", {}) as doing:
        for kind, (text, dimension) in set_.items():
            readings.take(doing, job, "as-left", Taken.quantity(kind, parse(text, dimension), dimension))
        readings.take(doing, job, "as-left", Taken.count("spacers", 1))
    assert not contradictions.set_as_planned(job), "no plan says what to set"
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, {"change": {"pressure": "70 psi", "spacers": 1}})
    assert contradictions.set_as_planned(job)
    Reading.objects.filter(job=job, stage="as-left")  # they stand; another job of the same plan has none
    later = hollin_job(cast.technician)
    with change(cast.technician, "plan", {"later": 1}) as doing:
        core.freeze(doing, later, {"change": {"pressure": "70 psi", "spacers": 1}})
    assert not contradictions.set_as_planned(later), "nothing is read as left"
