"""How each value of the Book is known: kept with the value, gone with it, and another mark wherever it stands."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from documents import readback
from topout.documents import setup_sheet
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book import worth
from topout.web.book.models import Family, Unit
from topout.web.jobs import core
from topout.web.jobs.records.models import Job
from topout.web.jobs.release import sheet
from web import people
from web.outside_cast import outside_job
from web.plan_cast import hollin_job
from web.test_plan_page import words_of
from web.test_shock_plan import full_suspension


@pytest.mark.parametrize(
    ("was", "now", "kept", "known_by", "expected"),
    [
        ({}, {"fork": {"travel": "150 mm"}}, {}, "sheet", {"fork.travel": "sheet"}),
        ({"fork": {"travel": "150 mm"}}, {"fork": {"travel": "150 mm"}}, {"fork.travel": "read"}, "sheet", {"fork.travel": "read"}),
        ({"fork": {"travel": "150 mm"}}, {"fork": {"travel": "160 mm"}}, {"fork.travel": "read"}, "", {}),
        ({"fork": {"travel": "150 mm"}}, {}, {"fork.travel": "read"}, "sheet", {}),
        ({}, {"fork.air": {"negative_coil": {"rate": "4 N/mm"}}}, {}, "typical", {"fork.air.negative_coil.rate": "typical"}),
        ({}, {"fork": {"travel": "150 mm"}}, {}, "made up", {}),
    ],
)  # fmt: skip
def test_a_mark_is_kept_with_its_value(was, now, kept, known_by, expected) -> None:  # type: ignore[no-untyped-def]
    assert worth.after(was, now, kept, known_by) == expected


def test_what_was_written_bears_its_mark_in_the_book_on_the_plan_and_on_paper(
    technician_in: Client, cast: people.Cast
) -> None:
    job = hollin_job(cast.owner)
    unit = job.unit
    assert unit is not None
    place = f"/book/units/{unit.pk}/change/"
    page = technician_in.get(place)
    boxes = {
        name.replace(".", "-"): value
        for name, value in worth._every(unit.tables)  # as the form shows them
    }
    sent = {**{key: str(value) for key, value in boxes.items()}, "name": unit.name, "kind": "fork"}
    assert page.status_code == 200
    answer = people.send(technician_in, place, {**sent, "fork-air-bore": "34.2 mm", "known_by": "typical"})
    assert answer.status_code == 303, words_of(answer)[:2000]
    unit.refresh_from_db()
    assert unit.worth == {"fork.air.bore": "typical"}
    book = technician_in.get(f"/book/units/{unit.pk}/").content.decode()
    assert (
        '<span class="worth typical"></span><span class="v-typical">34.2\u00a0mm</span> <span class="note">a guess'
        in book
    )
    assert "Air spring, bore, known as: a guess" in words_of(technician_in.get(f"/book/units/{unit.pk}/"))  # type: ignore[arg-type]
    assert "{" not in words_of(technician_in.get(f"/book/units/{unit.pk}/"))  # type: ignore[arg-type]
    plan = words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]
    assert "Guessed, not measured: bore 34.2 mm." in plan
    assert "(a guess, high side): let it out, both chambers, before anything is unscrewed." in plan
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, Job.objects.get(pk=job.pk), {"change": {"travel": "150 mm"}})
    told, _ = sheet.sheet_of(Job.objects.get(pk=job.pk))
    assert "○ Guessed, not measured: bore 34.2\u00a0mm." in told.changed
    # Measured afterwards, the mark is another one; nothing is called a guess any more.
    people.send(technician_in, place, {**sent, "fork-air-bore": "34.1 mm", "known_by": "read"})
    assert "Guessed" not in words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]


def test_the_plan_says_what_was_read_here_and_what_is_typical(technician_in: Client, cast: people.Cast) -> None:
    job = outside_job(cast.owner)
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert '<span class="worth read"></span>read here' in page and '<span class="worth typical"></span>typical' in page
    assert "sag 33" in words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]


def test_bike_and_rider_bear_their_marks_like_a_unit(technician_in: Client, cast: people.Cast) -> None:
    """What the rider said of their weight and what was read off the frame: in the Book, on the plan and on paper."""
    job = hollin_job(cast.owner)
    bike, rider = job.bike, job.rider
    assert bike is not None
    as_shown = {key.replace(".", "-"): str(value) for key, value in worth._every(bike.tables)}
    place = f"/book/bikes/{bike.pk}/change/"
    sent = {**as_shown, "name": bike.name, "frame-stack": "631 mm", "known_by": "read"}
    assert people.send(technician_in, place, sent).status_code == 303
    place = f"/book/riders/{rider.pk}/change/"
    mine = {key.replace(".", "-"): str(value) for key, value in worth._every(rider.tables)}
    said = {**mine, "name": rider.name, "rider-mass": "83 kg", "known_by": "typical"}
    assert people.send(technician_in, place, said).status_code == 303
    bike.refresh_from_db()
    rider.refresh_from_db()
    assert bike.worth == {"frame.stack": "read"} and rider.worth == {"rider.mass": "typical"}
    of_bike = technician_in.get(f"/book/bikes/{bike.pk}/").content.decode()
    assert '<span class="worth read"></span><span>631\u00a0mm</span> <span class="note">measured here' in of_bike
    of_rider = technician_in.get(f"/book/riders/{rider.pk}/").content.decode()
    assert (
        '<span class="worth typical"></span><span class="v-typical">83\u00a0kg</span> <span class="note">a guess'
        in of_rider
    )
    assert "stack, known as: measured here" in words_of(technician_in.get(f"/book/bikes/{bike.pk}/"))  # type: ignore[arg-type]
    plan = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert '<span class="v-typical">rider’s mass' in plan and "stack 631" in plan
    assert "What can hurt is worked out from that too" not in plan, "no force hangs on the rider's mass"
    with change(cast.owner, "use", {}) as doing:
        core.freeze(doing, Job.objects.get(pk=job.pk), {"change": {"travel": "150 mm"}})
    told, _ = sheet.sheet_of(Job.objects.get(pk=job.pk))
    assert "○ Guessed, not measured: rider’s mass" in told.changed and "83\u00a0kg" in told.changed
    weighed = {**said, "rider-mass": "84 kg", "known_by": "read"}
    assert people.send(technician_in, place, weighed).status_code == 303
    rider.refresh_from_db()
    assert rider.worth == {"rider.mass": "read"}
    with change(cast.owner, "erase", {}) as doing:
        book.erase_rider(doing, rider)
    rider.refresh_from_db()
    assert rider.worth == {}


@pytest.mark.poppler
def test_all_four_marks_stand_on_paper_by_their_shape(cast: people.Cast) -> None:
    """Of fork and shock, bike and rider: four shapes, each with its words once; what is measured is not called a guess."""
    for end, noun in (("fork", "fork"), ("shock", "shock")):
        job = full_suspension(cast.technician, end)
        unit, bike, rider = job.unit, job.bike, job.rider
        assert unit is not None and bike is not None
        unit.family = Family.objects.create(
            name=f"A family of {noun}s",
            kind=unit.kind,
            made_at=job.taken_in_at,
            tables={f"{noun}.air": {"pressure_limit": "140 psi"}},
        )
        unit.tables[f"{noun}.air"].pop("pressure_limit", None)
        unit.worth = {
            f"{noun}.air.bore": "typical",
            f"{noun}.air.shaft": "sheet",
            f"{noun}.air.negative_volume": "read",
        }
        bike.worth, rider.worth = {"frame.stack": "sheet", "frame.reach": "read"}, {"rider.mass": "typical"}
        for row in (unit, bike, rider):
            row.save()
        with change(cast.owner, "use", {}) as doing:
            core.freeze(
                doing,
                Job.objects.get(pk=job.pk),
                {"change" if end == "fork" else "change.shock": {"pressure": "76 psi" if end == "fork" else "146 psi"}},
            )
        told, as_of = sheet.sheet_of(Job.objects.get(pk=job.pk))
        first = [each[:1] for each in told.known]
        assert first == ["●", "◐", "◇", "○"], told.known
        said = {each[0]: each for each in told.known}
        assert "reach 475" in said["●"] and "negative volume" in said["●"]
        assert "stack 630" in said["◐"] and "140" in said["◇"] and "bore" in said["○"] and "mass 82" in said["○"]
        assert said["◐"].startswith("◐\u00a0Maker’s sheet: ") and said["◇"].startswith("◇\u00a0From the family: ")
        paper = re.sub(r"\s+", " ", readback.text(setup_sheet.sheet_pdf(told, as_of)))
        assert (
            "● Measured here:" in paper
            and "◇ From the family:" in paper
            and "○ A guess:" in paper
            and "Maker’s sheet:" in paper
        )
        assert "◐" not in paper and "[circle" not in paper, "drawn: the typeface has no such mark"
        assert worth.on_paper([rider]) == tuple(each for each in worth.on_paper([rider]) if each.startswith("○"))


def test_what_a_plan_rests_on_tells_sheet_and_family_apart(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician, "fork")
    unit = job.unit
    assert unit is not None
    unit.family = Family.objects.create(
        name="A family", kind=unit.kind, made_at=job.taken_in_at, tables={"fork.air": {"pressure_limit": "140 psi"}}
    )
    unit.worth = {"fork.air.bore": "sheet"}
    unit.save()
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert (
        '<span class="worth sheet"></span>maker’s sheet</dt>' in page
        and '<span class="worth family"></span>from the family' in page
    )
    book = technician_in.get(f"/book/units/{unit.pk}/").content.decode()
    assert '<span class="worth family"></span>' in book and '<span class="worth sheet"></span>' in book


def test_a_guess_goes_out_with_the_bench_file_and_comes_back_as_one(technician_in: Client, cast: people.Cast) -> None:
    """Of the air spring, what a force can hang on; whatever else was guessed is no part of a bench file."""
    job = hollin_job(cast.owner)
    unit = job.unit
    assert unit is not None and unit.bike is not None and unit.bike.rider is not None
    unit.worth = {"fork.air.bore": "typical", "fork.air.shaft": "read", "fork.travel": "typical", "fork.air.pressure_limit": "typical"}  # fmt: skip
    unit.save()
    text = technician_in.get(f"/book/units/{unit.pk}/bench-file.toml").content.decode()
    assert '[guessed]\nfork = "bore"\n' in text
    assert core.tables(job, {})["guessed"] == {"fork": "bore"}
    place = f"/book/riders/{unit.bike.rider.pk}/bench-file/"
    sent = {"text": text, "bike_name": "The same again", "unit_name": "Its fork"}
    assert people.send(technician_in, place, sent).status_code == 303
    again = Unit.objects.get(name="Its fork")
    assert (
        again.worth == {"fork.air.bore": "typical"}
        and again.tables["fork.air"]["bore"] == unit.tables["fork.air"]["bore"]
    )
