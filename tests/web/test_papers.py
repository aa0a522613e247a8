"""The papers of a job in the browser: the sheet as it was handed over, tags and their label, the black tag, what is refused."""

from __future__ import annotations

import io
from typing import Any

import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from PIL import Image

from documents import readback
from topout import units
from topout.documents import tag as paper
from topout.web.access import codes, preferences
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import sheet as papers_sheet
from topout.web.jobs.release import tags
from topout.web.shelf import keeping as shelf
from topout.web.shelf.models import Tag
from web import people
from web.plan_cast import hollin_job
from web.steps_kit import BENCH, Hands, failing, gauge, make_job

CHANGE: Any = {
    "change": {"travel": "150 mm", "spacers": 1, "pressure": "70 psi"},
    "change.front_wheel": {"bead_seat": "622 mm", "tyre_height": "62 mm"},
}


def worked(cast: people.Cast) -> Job:
    """The mockups' job with its plan frozen, a reading corrected, and how it is left."""
    job = hollin_job(cast.owner)
    with change(cast.owner, "freeze", {}) as doing:
        core.freeze(doing, job, CHANGE)
        old = Reading.objects.get(job=job, kind="pressure", stage="as-found")
        pressure = units.parse("72 psi", "pressure")
        readings.correct(doing, old, Taken.quantity("pressure", pressure, "pressure"), "read with the pump still warm")
        readings.take(doing, job, "as-left", Taken.quantity("pressure", units.parse("70 psi", "pressure"), "pressure"))
        readings.take(doing, job, "as-left", Taken.quantity("own-pump", units.parse("67 psi", "pressure"), "pressure"))
        sag = Taken.quantity("sag", units.parse("32 mm", "length"), "length", posture="standing")
        readings.take(doing, job, "as-left", sag)
        readings.take(doing, job, "as-left", Taken.count("spacers", 1))
        readings.take(doing, job, "as-left", Taken.count("rebound", 7, of_range=14))
        changes.remark(doing, job, "condition", "Stanchions clean, oil ring on the left one")
    return job


def released(cast: people.Cast, job: Job | None = None, **more: Any) -> Job:
    job = job or worked(cast)
    told: dict[str, Any] = {
        "found": "72 psi", "done": "New air shaft, 150 mm\nSeals and bore sound.", "left": "70 psi",
        "defects": ["Rear tyre worn"], "next_service": "lower legs after 50 hours of riding", "fit_to_ride": True,
    }  # fmt: skip
    with change(cast.owner, "release", {}) as doing:
        changes.release(doing, job, **(told | more))
    return job


def tagged(cast: people.Cast, job: Job) -> tuple[Tag, Tag]:
    """A tag for the unit and one for the shaft that came out."""
    with change(cast.owner, "tags", {}) as doing:
        unit = shelf.make_tag(doing, unit=job.unit, job_number=job.number)
        part = shelf.make_part(
            doing, kind="air shaft", job_number=job.number, marking="B3",
            measured={"length": "318.5 mm", "diameter": "10.0 mm", "gives": "140 mm"},
        )  # fmt: skip
    assert part.tag is not None
    return unit, part.tag


@pytest.mark.poppler
def test_the_sheet_of_a_job_that_was_handed_over(owner_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    unit, _ = tagged(cast, job)
    released(cast, job)
    answer = owner_in.get(f"/jobs/{job.number}/sheet.pdf")
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="set-up-sheet-{job.number}.pdf"'
    text = readback.text(answer.content)
    for words in (
        "Runa Telvik", "Hollin hardtail, size L · Quillon 35 fork · tag " + codes.grouped(unit.code),
        "70 psi", "32 mm", "7 clicks", "8.5 ml; there were 2", "31 to 34 mm is right",
        "Ten millimetres more travel", "Head angle 0.6° slacker", "54 3.71", "86 5.94", "your 70 psi reads",
        "When ours shows 70 psi, yours shows 67 psi.", "not 72 psi: read with the pump still warm",
        "New air shaft, 150 mm. Seals and bore sound.", "Stanchions clean, oil ring on the left one",
        "Left as it is Rear tyre worn.", "Next service: lower legs after 50 hours of riding.",
        "Check brake, axle and stem before the first ride", "Released by Maud Askel", f"Job {job.number} · plan of",
    ):  # fmt: skip
        assert words in text, (words, text)
    assert len(readback.reader(answer.content).pages) == 2
    assert owner_in.get(f"/jobs/{job.number}/sheet.pdf").content == answer.content


@pytest.mark.poppler
def test_a_sheet_before_the_hand_over_says_that_it_is_a_draft(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    text = readback.text(technician_in.get(f"/jobs/{job.number}/sheet.pdf").content)
    assert "Not handed over yet: this sheet is a draft." in text and "Released by" not in text


@pytest.mark.poppler
def test_a_job_without_plan_or_readings_has_a_sheet_without_numbers(technician_in: Client, cast: people.Cast) -> None:
    job = make_job(cast.owner, number=401)
    bare = Job.objects.create(
        number=402, rider=job.rider, asked="x", asked_title="x", taken_in_at=job.taken_in_at, taken_in_by=cast.owner,
        technician=cast.owner, procedure="",
    )  # fmt: skip
    text = readback.text(technician_in.get(f"/jobs/{bare.number}/sheet.pdf").content)
    for words in ("not read", "not counted", "–", "Pressure", "Volume spacers"):
        assert words not in text, "a box that was never read is not printed"
    assert "draft" in text
    assert "psi" not in text


@pytest.mark.poppler
def test_a_rear_shock_is_called_a_shock(technician_in: Client, cast: people.Cast) -> None:
    job = make_job(cast.owner, number=403)
    unit = Unit.objects.create(name="Sorrel shock", kind="shock", made_at=job.taken_in_at)
    shock = Job.objects.create(
        number=404, rider=job.rider, unit=unit, asked="x", asked_title="x", taken_in_at=job.taken_in_at,
        taken_in_by=cast.owner, technician=cast.owner, procedure="",
    )  # fmt: skip
    with change(cast.owner, "left", {}) as doing:
        typed = units.parse("182 psi", "pressure")
        readings.take(doing, shock, "as-left", Taken.quantity("pressure", typed, "pressure"))
    text = readback.text(technician_in.get("/jobs/404/sheet.pdf").content)
    assert "182 psi 12.55 bar, shock at free length" in text and "fork" not in text


@pytest.mark.poppler
def test_not_fit_to_ride_comes_first_of_the_cautions(owner_in: Client, cast: people.Cast) -> None:
    job = released(cast, fit_to_ride=False, defects=["Steerer cracked"])
    text = readback.text(owner_in.get(f"/jobs/{job.number}/sheet.pdf").content)
    assert "Before you ride Not fit to ride: see what is left as it is." in text and "Steerer cracked." in text


def test_defects_that_do_not_fit_are_said_and_not_cut(owner_in: Client, cast: people.Cast) -> None:
    job = released(cast, defects=["A defect that takes a whole line of the sheet to be described in full"] * 120)
    answer = owner_in.get(f"/jobs/{job.number}/sheet.pdf")
    assert answer.status_code == 409
    assert "Word the defects and the rider’s notes shorter" in answer.content.decode()


def test_what_was_left_stands_before_what_was_planned(cast: people.Cast) -> None:
    job = worked(cast)
    with change(cast.owner, "left", {}) as doing:
        old = readings.current(job, "as-left")["pressure"]
        readings.correct(
            doing, old, Taken.quantity("pressure", units.parse("75 psi", "pressure"), "pressure"), "rider asked"
        )
    sheet, _ = papers_sheet.sheet_of(job)
    assert sheet.large[0].number == "75"
    assert sheet.temperatures is not None and sheet.temperatures.heads[1] == "your 75\xa0psi reads"
    assert sheet.masses is not None and sheet.masses.rows[sheet.masses.here or 0][1] == "75"


def test_the_sheet_goes_from_the_temperature_it_was_left_at_and_not_from_that_of_as_found(cast: people.Cast) -> None:
    """Found at 19 °C, left at 7 °C: 70 psi was set at 7 °C, so at 30 °C it is (70 + 14.7)·303.15/280.15 − 14.7 psi."""
    job = worked(cast)
    before, _ = papers_sheet.sheet_of(job)
    with change(cast.owner, "left", {}) as doing:
        typed = units.parse("7 degC", "temperature")
        readings.take(doing, job, "as-left", Taken.quantity("temperature", typed, "temperature"))
    sheet, _ = papers_sheet.sheet_of(job)
    for table, at, warm in ((before.temperatures, 19.0, 73.0), (sheet.temperatures, 7.0, None)):
        assert table is not None and table.here is not None
        assert table.rows[table.here][0].startswith(f"{at:g}\xa0°C") and table.rows[table.here][0].endswith("workshop")
        by_hand = (70 + 14.696) * 303.15 / (273.15 + at) - 14.696
        hot = next(reads for where, reads in table.rows if where.startswith("30\xa0°C"))
        assert float(hot) == pytest.approx(by_hand, abs=0.51) and (warm is None or float(hot) == warm)


def test_a_reading_corrected_twice_shows_all_three(cast: people.Cast) -> None:
    job = worked(cast)
    with change(cast.owner, "again", {}) as doing:
        old = readings.current(job, "as-found")["pressure"]
        readings.correct(
            doing, old, Taken.quantity("pressure", units.parse("73 psi", "pressure"), "pressure"), "wrong gauge"
        )
    sheet, _ = papers_sheet.sheet_of(job)
    row = next(row for row in sheet.found if row.name == "Pressure")
    assert row.value == "73\xa0psi"
    assert [was.reason for was in row.struck] == ["read with the pump still warm", "wrong gauge"]


def test_a_tag_for_the_unit_is_made_once(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    place = f"/jobs/{job.number}/papers/"
    assert "Make a tag for Quillon 35 fork" in technician_in.get(place).content.decode()
    answer = people.send(technician_in, place, {}, times=3)
    assert answer.status_code == 303
    made = Tag.objects.get(unit=job.unit)
    assert answer["Location"] == f"/jobs/{job.number}/tag/{made.code}/"
    page = technician_in.get(place).content.decode()
    assert "Make a tag" not in page and str(made) in page


@pytest.mark.poppler
def test_the_tag_of_a_part_and_its_code(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    _, row = tagged(cast, job)
    made = technician_in.get(f"/jobs/{job.number}/tag/{row.code}.pdf", headers={"host": "testserver"}).content
    assert readback.page_size_mm(made) == pytest.approx((60, 40), abs=0.01)
    text = readback.text(made)
    for words in (
        "Air shaft 140",
        "length 318.5 mm",
        "shaft 10.0 mm",
        "“B3”: ignore",
        f"job {job.number}",
        str(row),
        "M.A.",
    ):
        assert words in text, (words, text)
    assert "Telvik" not in text and "Hollin" not in text
    code = zxingcpp.read_barcodes(readback.picture(made, 203))[0].text
    assert code == f"HTTP://TESTSERVER/T/{row.code}"
    leads = technician_in.get(code.removeprefix("HTTP://TESTSERVER"))
    assert leads.status_code == 302 and leads["Location"] == reverse("tag", args=[row.code])
    assert "<dt>Printed on it</dt><dd>B3</dd>" in technician_in.get(leads["Location"]).content.decode()


def test_the_page_shows_the_tag_in_words_and_pictures(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    unit, _ = tagged(cast, job)
    page = technician_in.get(f"/jobs/{job.number}/tag/{unit.code}/", headers={"host": "testserver"}).content.decode()
    assert f'alt="Quillon 35 fork. travel 140\xa0mm. job {job.number}.' in page
    assert "version 3, level Q: 18.5\u00a0mm across" in page and f"HTTP://TESTSERVER/T/{unit.code}" in page
    assert "leads to this machine alone" not in page
    here = technician_in.get(f"/jobs/{job.number}/tag/{unit.code}/", headers={"host": "127.0.0.1"}).content.decode()
    assert "leads to this machine alone" in here
    shown = technician_in.get(f"/jobs/{job.number}/tag/{unit.code}.png")
    with Image.open(io.BytesIO(shown.content)) as image:
        assert shown["Content-Type"] == "image/png" and image.width > image.height > 400


def test_the_label_is_a_setting_of_the_workshop(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    unit, part = tagged(cast, job)
    place = f"/jobs/{job.number}/tag/{unit.code}/"
    answer = people.send(technician_in, place, {"width": "40", "length": "6 cm"})
    assert answer.status_code == 303 and tags.label() == paper.Label(40, 60)
    made = technician_in.get(f"/jobs/{job.number}/tag/{part.code}.pdf").content
    assert readback.page_size_mm(made) == pytest.approx((40, 60), abs=0.01)
    assert 'value="40"' in technician_in.get(place).content.decode()


@pytest.mark.parametrize(
    ("width", "length", "says"),
    [
        ("", "40", "Write it"),
        ("wide", "40", "a number"),
        ("6,000", "40", "is it 6.000 or 6000?"),
        ("600", "40", "26 to 110 mm is expected"),
        ("-60", "40", "26 to 110 mm is expected"),
        ("NaN", "40", "a number"),
        ("60 psi", "40", "not a unit of length"),
        ("40", "40", "52 mm or longer"),
    ],
)
def test_a_label_that_can_not_be_is_refused(
    technician_in: Client, cast: people.Cast, width: str, length: str, says: str
) -> None:
    job = worked(cast)
    unit, _ = tagged(cast, job)
    answer = people.send(technician_in, f"/jobs/{job.number}/tag/{unit.code}/", {"width": width, "length": length})
    page = answer.content.decode()
    assert answer.status_code == 422 and says in page and "Error:" in page
    assert f'value="{width}"' in page or not width
    assert tags.label() == paper.Label()


def test_a_tag_too_wordy_for_its_label_says_so(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    unit, _ = tagged(cast, job)
    assert job.unit is not None
    Unit.objects.filter(pk=job.unit.pk).update(name="Interminable fork name " * 5)
    with change(cast.owner, "label", {}) as doing:
        preferences.save(doing, label_width_mm=45.0, label_length_mm=30.0)
    for ending in ("/", ".pdf", ".png"):
        answer = technician_in.get(f"/jobs/{job.number}/tag/{unit.code}{ending}")
        assert "does not fit a label of 45 × 30 mm. Use a larger label." in answer.content.decode()
        assert answer.status_code == (200 if ending == "/" else 409)


def test_tags_of_other_jobs_and_addresses_that_are_none(technician_in: Client, cast: people.Cast) -> None:
    job = worked(cast)
    other = make_job(cast.owner, number=777)
    unit, _ = tagged(cast, job)
    for place in (
        f"/jobs/{other.number}/tag/{unit.code}/", f"/jobs/{other.number}/tag/{unit.code}.pdf", "/jobs/999/sheet.pdf",
        "/jobs/999/papers/", f"/jobs/{job.number}/tag/ZZZZZZ.png", "/T/-",
    ):  # fmt: skip
        assert technician_in.get(place).status_code == 404, place


def test_a_stranger_gets_no_paper(stranger: Client, cast: people.Cast) -> None:
    job = released(cast)
    unit, _ = tagged(cast, job)
    for name, args in (
        ("papers", [job.number]), ("sheet", [job.number]), ("job-tag", [job.number, unit.code]),
        ("job-tag-pdf", [job.number, unit.code]), ("job-tag-png", [job.number, unit.code]), ("held", [unit.code]),
        ("job-tag-print", [job.number, unit.code]),
    ):  # fmt: skip
        answer = stranger.get(reverse(name, args=args))
        assert answer.status_code == 302 and answer["Location"].startswith("/sign-in/"), name


def test_papers_are_not_changed_by_asking(technician_in: Client, cast: people.Cast) -> None:
    job = released(cast)
    unit, _ = tagged(cast, job)
    for name, args in (("sheet", [job.number]), ("job-tag-pdf", [job.number, unit.code]), ("held", [unit.code])):
        assert technician_in.post(reverse(name, args=args)).status_code in (403, 405)
    before = (Tag.objects.count(), Workshop.objects.values_list("label_width_mm", "label_length_mm").first())
    technician_in.get(f"/jobs/{job.number}/papers/")
    assert before == (Tag.objects.count(), Workshop.objects.values_list("label_width_mm", "label_length_mm").first())


@pytest.mark.poppler
def test_a_charged_fork_gets_the_black_tag(technician_in: Client, cast: people.Cast) -> None:
    """The hold point "empty at rest" fails: the unit's tag says stop, with force and pressure, until it passes."""
    job = make_job(cast.technician, number=501, text=BENCH + "# a job of its own\n")
    gauge()
    unit = Unit.objects.create(name="Linnet fork", made_at=job.taken_in_at)
    Job.objects.filter(pk=job.pk).update(unit=unit)
    job.refresh_from_db()
    with change(cast.technician, "tag", {}) as doing:
        row = shelf.make_tag(doing, unit=unit, job_number=job.number)
    place = f"/jobs/{job.number}/tag/{row.code}.pdf"
    assert "Charged" not in readback.text(technician_in.get(place).content)
    hands = Hands(cast.technician, job)
    hands.begin()
    slot = hands.until("empty-at-rest")
    assert slot is not None
    assert hands.sign(slot, failing(hands.here(), slot)).verdict == "failed"
    made = technician_in.get(place).content
    text = readback.text(made)
    for words in (
        "Charged. Do not open.",
        "negative up to 70 psi",
        "seal head 4",
        " N ",
        "fork, job 501",
        "J.P.",
        str(row),
    ):
        assert words in text, (words, text)


def test_every_code_the_workshop_draws_can_be_printed() -> None:
    for _ in range(200):
        paper.Tag("unit", "Fork", (), (), codes.grouped(codes.code(shelf.CODE_LENGTH)), "http://a/T/B")


def test_the_papers_of_a_charged_fork_begin_with_its_tag(technician_in: Client, cast: people.Cast) -> None:
    """“Print the tag” led to a page whose main button was the set-up sheet, and which said nothing of the charge."""
    gauge()
    job = hollin_job(cast.technician)
    with change(cast.technician, "plan", {}) as doing:
        core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})
    hands = Hands(cast.technician, job)
    hands.begin()
    hold = hands.until("empty-at-rest")
    assert hold is not None
    hands.sign(hold, failing(hands.here(), hold))
    place = f"/jobs/{job.number}/papers/"
    page = technician_in.get(place).content.decode()
    assert (
        page.count('class="go"') == 1 and '<button class="go" type="submit">Make its tag: charged, do not open' in page
    )
    assert "Air stays trapped in the negative chamber." in page
    assert page.index("Make its tag") < page.index("Open the set-up sheet")
    stop = technician_in.get(f"/jobs/{job.number}/steps/empty-at-rest/").content.decode()
    assert f'<form method="post" action="{place}">' in stop, (
        "one tap from the stop page to the tag, not by way of the papers"
    )
    assert stop.index("A charged fork closes on fingers.") < stop.index("are closed</b> until"), (
        "said first, not below the buttons"
    )
    made = people.send(technician_in, place, {}, page_path=f"/jobs/{job.number}/steps/empty-at-rest/")
    assert made.status_code == 303 and "/tag/" in made.headers["Location"]
    page = technician_in.get(place).content.decode()
    assert page.count('class="go"') == 1 and f'<a class="go" href="{made.headers["Location"]}">Its tag: charged' in page
    Job.objects.filter(pk=job.pk).update(unit=None)
    assert "Write it on a label by hand: charged, do not open." in technician_in.get(place).content.decode()
