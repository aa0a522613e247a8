"""The Book: putting in riders, bikes and units; a bench file out and in; erasing a rider."""

from __future__ import annotations

import re
import sqlite3
import tomllib
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client

from topout.bench_file.read import read_bytes, read_text
from topout.web.access.change import change
from topout.web.book import keeping, tables
from topout.web.book.forms import RiderForm
from topout.web.book.models import Bike, Family, Rider, Unit
from topout.web.jobs.records.models import Draft, Job, Reading
from topout.web.shelf.keeping import make_part
from web import people, raw
from web.plan_cast import HOLLIN, hollin_job


def test_a_rider_a_bike_and_a_unit_are_put_in_by_hand(technician_in: Client) -> None:
    rider = people.send(technician_in, "/book/riders/new/", {"name": "Zoë Ærdal", "rider-mass": "70"})
    assert rider.status_code == 303
    row = Rider.objects.get()
    assert row.tables == {"rider": {"mass": "70 kg"}}, "a bare number gets the box's unit"
    data = {"name": "Tarragon", "frame-head_angle": "65.5", "frame-bb_drop_from": "front axle"}
    bike = people.send(technician_in, f"/book/riders/{row.pk}/bikes/new/", data)
    assert bike.status_code == 303
    on = Bike.objects.get()
    assert on.tables["frame"] == {"head_angle": "65.5 deg", "bb_drop_from": "front axle"}
    unit = people.send(
        technician_in, f"/book/bikes/{on.pk}/units/new/",
        {"name": "Quillon", "kind": "fork", "fork-travel": "5.9 in", "fork-air-spacers": "2", "fork-air-spacer_volume": "8.5",
         "fork-air-negative_coil-rate": "4", "fork-air-negative_coil-length": "30 mm", "fork-air-negative": "coil"},
    )  # fmt: skip
    assert unit.status_code == 303, unit.content.decode()
    kept = Unit.objects.get().tables
    assert kept["fork"] == {"travel": "5.9 in"}
    assert kept["fork.air"]["spacers"] == 2
    assert kept["fork.air"]["negative_coil"] == {"rate": "4 N/mm", "length": "30 mm"}
    page = technician_in.get("/find/?q=Ærdal").content.decode()
    assert "Zoë <mark>Ærdal</mark>" in page and "Quillon" in page


def test_what_speaks_against_itself_is_told_at_its_box(technician_in: Client, cast: people.Cast) -> None:
    hollin_job(cast.owner)
    bike = Bike.objects.get()
    data = {
        "name": "X",
        "kind": "fork",
        "fork-air-bore": "20 mm",
        "fork-air-shaft": "25 mm",
        "fork-length": "536",
        "fork-length_straight": "540",
    }
    answer = people.send(technician_in, f"/book/bikes/{bike.pk}/units/new/", data)
    body = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="id_fork-air-shaft_error"' in body and 'id="id_fork-length_straight_error"' in body
    assert Unit.objects.count() == 1


def test_a_family_stands_below_its_units(technician_in: Client) -> None:
    people.send(
        technician_in, "/book/families/new/", {"name": "Quillon 35", "fork-travel": "140", "fork-air-bore": "34"}
    )
    family = Family.objects.get()
    people.send(technician_in, "/book/riders/new/", {"name": "A"})
    people.send(technician_in, f"/book/riders/{Rider.objects.get().pk}/bikes/new/", {"name": "B"})
    place = f"/book/bikes/{Bike.objects.get().pk}/units/new/"
    too_thick = people.send(
        technician_in, place, {"name": "U", "kind": "fork", "family": str(family.pk), "fork-air-shaft": "35 mm"}
    )
    assert too_thick.status_code == 422, "judged over the family's bore"
    made = people.send(
        technician_in, place, {"name": "U", "kind": "fork", "family": str(family.pk), "fork-travel": "150"}
    )
    assert made.status_code == 303
    whole = Unit.objects.get().whole_tables()
    assert whole == {"fork": {"travel": "150 mm"}, "fork.air": {"bore": "34 mm"}}
    again = people.send(technician_in, "/book/families/new/", {"name": "quillon 35"})
    assert again.status_code == 422


def test_every_key_goes_out_and_in_again(technician_in: Client, cast: people.Cast) -> None:
    """The bench file of the mockups, in by upload, out by address: it reads the same."""
    people.send(technician_in, "/book/riders/new/", {"name": "Runa Telvik"})
    rider = Rider.objects.get()
    form = {"bike_name": "Hollin", "unit_name": "Quillon", "file": SimpleUploadedFile("h.toml", HOLLIN.read_bytes())}
    assert people.send(technician_in, f"/book/riders/{rider.pk}/bench-file/", form).status_code == 303
    out = technician_in.get(f"/book/units/{Unit.objects.get().pk}/bench-file.toml")
    assert out.headers["Content-Disposition"].startswith("attachment")
    came, went = read_text(out.content.decode()), read_bytes(HOLLIN.read_bytes())
    for part in ("rider", "bike", "frame", "front_wheel", "rear_wheel", "fork"):
        assert getattr(came, part) == getattr(went, part), part


def test_a_bench_file_that_was_not_chosen_is_asked_for(technician_in: Client, cast: people.Cast) -> None:
    with change(cast.owner, "rider", {"made": "for a test"}) as doing:
        rider = keeping.make_rider(doing, name="Uwe", tables={})
    reply = people.send(
        technician_in, f"/book/riders/{rider.pk}/bench-file/", {"bike_name": "B", "unit_name": "U", "text": " "}
    )
    assert reply.status_code == 422
    assert "Choose a file, or write its text below." in reply.content.decode()
    assert not Bike.objects.exists() and not Unit.objects.exists()


def test_toml_of_tables_reads_back_whatever_was_typed() -> None:
    kept: tables.Tables = {
        "found": {"posture": 'stan"ding \\ ünder', "sag": "31 mm", "pressure": "72 psi"},
        "fork.air": {"negative_coil": {"rate": "4 N/mm", "length": "30 mm"}, "spacers": 2},
    }
    import tomllib

    assert tables.flat(tomllib.loads(tables.toml(kept)), kept) == kept


def test_a_change_of_the_book_keeps_who_and_when(technician_in: Client, cast: people.Cast) -> None:
    hollin_job(cast.owner)
    bike = Bike.objects.get()
    page = technician_in.get(f"/book/bikes/{bike.pk}/change/")
    assert 'value="66.2 deg"' in page.content.decode(), "what was typed stands in its box"
    answer = people.send(
        technician_in, f"/book/bikes/{bike.pk}/change/", {"name": "Hollin, size M", "frame-reach": "440"}
    )
    assert answer.status_code == 303
    history = list(bike.history.order_by("history_id"))
    assert [row.name for row in history] == ["Hollin hardtail, size L", "Hollin, size M"]
    assert [row.history_user for row in history] == [cast.owner, cast.technician]


def test_erasing_a_rider_leaves_no_trace_of_the_name_anywhere(
    owner_in: Client, technician_in: Client, cast: people.Cast, workshop: Path
) -> None:
    job = hollin_job(cast.owner)
    rider = job.rider
    people.send(
        owner_in, f"/book/riders/{rider.pk}/change/",
        {"name": "Runa Telvik", "phone": "0555 0101", "email": "runa@mail.example", "address": "7 Kiln Row", "rider-mass": "76"},
    )  # fmt: skip
    assert technician_in.get(f"/book/riders/{rider.pk}/erase/").status_code == 403
    check = owner_in.get(f"/book/riders/{rider.pk}/erase/")
    assert "can’t be taken back" in check.content.decode()
    assert "made before keep the name" in check.content.decode(), "older copies do"
    assert people.send(owner_in, f"/book/riders/{rider.pk}/erase/", {}).status_code == 303
    connection.close()
    with raw.opened(workshop) as base:
        whole = "\n".join(base.iterdump())
    for word in ("Telvik", "0555 0101", "runa@mail", "Kiln Row", "76 kg"):
        assert word not in whole, word
        assert word.encode() not in workshop.read_bytes(), f"{word} is left where it was deleted"
    assert Job.objects.count() == 1 and Reading.objects.filter(job=job).count() == 4
    for address in ("/", f"/jobs/{job.number}/", f"/book/riders/{rider.pk}/", "/book/", f"/jobs/{job.number}/plan/"):
        page = owner_in.get(address)
        assert page.status_code == 200 and "Telvik" not in page.content.decode()
    assert owner_in.get(f"/book/riders/{rider.pk}/change/").status_code == 404


def text_columns(base: sqlite3.Connection) -> list[tuple[str, str]]:
    """Every column of every table that can hold words, whatever it was made for."""
    tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    return [
        (table, column[1])
        for table in tables
        for column in base.execute(f"PRAGMA table_info({table})")
        if not column[2].lower().startswith(("integer", "bigint", "real", "bool", "datetime", "smallint"))
    ]


def test_an_erased_riders_name_stays_in_no_draft_and_no_other_table(
    owner_in: Client, technician_in: Client, cast: people.Cast, workshop: Path
) -> None:
    """Drafts of the rider's job, of a job to come and of another's job; then every text column of every table is looked at."""
    job = hollin_job(cast.owner)
    other = hollin_job(cast.owner)
    Rider.objects.filter(pk=other.rider_id).update(name="Ilse Varn")
    rider = job.rider
    people.send(
        owner_in, f"/book/riders/{rider.pk}/change/",
        {"name": "Runa Telvik", "phone": "0555 0101", "email": "runa@mail.example", "address": "7 Kiln Row"},
    )  # fmt: skip
    drafts = {
        f"/jobs/{job.number}/readings/as-left/draft/": {"condition": "Runa says it creaks", "sag": "31"},
        f"/jobs/{other.number}/readings/as-left/draft/": {"condition": "lent by RUNA TELVIK", "sag": "33"},
        "/jobs/new/draft/": {"rider_name": "Runa Telvik", "rider_phone": "0555 0101", "asked_title": "travel"},
        f"/jobs/new/draft/?rider={rider.pk}": {"asked_title": "for her at Kiln Row"},
    }
    for address, data in drafts.items():
        token = people.token(technician_in)
        assert technician_in.post(address, {"csrfmiddlewaretoken": token, **data}).status_code == 200, address
    assert Draft.objects.count() == 4
    looked = (
        f"/book/bikes/{job.bike_id}/change/?{urlencode({'to': '/find/?q=Runa+Telvik'})}"  # an answer is kept for good
    )
    assert people.send(technician_in, looked, {"name": "Hollin"}).headers["Location"] == f"/book/bikes/{job.bike_id}/"
    assert people.send(owner_in, f"/book/riders/{rider.pk}/erase/", {}).status_code == 303
    connection.close()
    with raw.opened(workshop) as base:
        columns = text_columns(base)
        assert len({table for table, _ in columns}) > 15
        for table, column in columns:
            if (table, column) == ("access_change", "key"):  # drawn at random: one held “RUnA”
                continue
            for word in ("telvik", "runa", "0555 0101", "runa@mail", "kiln row"):
                found = base.execute(
                    f"SELECT {column} FROM {table} WHERE lower({column}) LIKE ?", (f"%{word}%",)
                ).fetchall()
                assert found == [], (table, column)
    left = [row.fields for row in Draft.objects.order_by("pk")]
    assert left == [{"sag": "31"}, {"sag": "33"}, {"asked_title": "travel"}], "what tells of nobody stays"


def test_the_book_shows_its_tables_in_words() -> None:
    """Titles and labels of the forms, in the order of the model; units as people write them; nothing of it left out."""
    air: dict[str, Any] = {
        "negative": "separate-valve",
        "bore": "34 mm",
        "negative_coil": {"rate": "9 N/mm"},
        "spacers": 0,
    }
    held: dict[str, dict[str, Any]] = {"fork.air": air, "frame": {"bb_drop": "33 mm", "head_angle": "66.2 deg"}}
    assert tables.facts(held) == [
        ("Frame, as its chart gives it", [("Head angle", "66.2°"), ("Bottom bracket drop", "33\N{NO-BREAK SPACE}mm")]),
        ("Air spring", [
            ("Bore", "34\N{NO-BREAK SPACE}mm"), ("Negative chamber", "has a valve of its own"), ("Spacers", "0"), ("Negative coil, rate", "9\N{NO-BREAK SPACE}N/mm"),
        ]),
    ]  # fmt: skip


def test_whatever_was_typed_is_written_as_toml_that_is_read_back() -> None:
    """Signs that a TOML text must not hold as they are, a table in a table, a whole number."""
    held: tables.Tables = {
        "found": {"posture": 'del \x7f, tab \t, "quoted" \\ and \u2028'},
        "fork.air": {"bore": "34 mm", "spacers": 2, "negative_coil": {"rate": "9 N/mm", "length": "30 mm"}},
        "fork": {"travel": "150 mm"},
    }
    text = tables.toml(held)
    assert tomllib.loads(text) == tables.nested(held)
    assert tables.flat(tomllib.loads(text), held) == held
    assert text.index("[fork]") < text.index("[fork.air]"), "in the order of the model"


@pytest.mark.parametrize(("box", "letters"), [("name", 120), ("phone", 60), ("address", 400)])
def test_words_of_a_rider_fit_up_to_their_last_letter(workshop: Path, box: str, letters: int) -> None:
    """As long as the table's column: a letter more is refused in words, not cut and no fault of the database."""
    for count in (letters, letters + 1):
        form = RiderForm({"name": "Ilse Varn", "known_at": "", box: "x" * count})
        form.is_valid()
        assert (box in form.errors) is (count > letters), form.errors
        assert count == letters or f"at most {letters} fit here" in str(form.errors[box])


@pytest.mark.parametrize("of", ["units", "bikes", "families"])
def test_a_form_drawn_before_another_change_goes_over_nothing_unseen(
    owner_in: Client, technician_in: Client, cast: people.Cast, of: str
) -> None:
    """A page of the Book that lay open over a hand-over put back what the hand-over had written."""
    job = hollin_job(cast.owner)
    assert job.unit is not None and job.bike is not None
    with change(cast.owner, "family", {}) as doing:
        family = keeping.make_family(doing, name="Linnet 34", tables={"fork": {"travel_limit": "160 mm"}})
    row: Any = {"units": job.unit, "bikes": job.bike, "families": family}[of]
    address = f"/book/{of}/{row.pk}/change/" if of != "families" else f"/book/families/{row.pk}/"

    def sent(client: Client, **more: str) -> dict[str, str]:
        page = client.get(address).content.decode()
        boxes = re.findall(r'<(?:input|textarea)[^>]*name="([^"]+)"[^>]*value="([^"]*)"', page)
        return (
            {name: unescape(value) for name, value in boxes if name != "csrfmiddlewaretoken"}
            | {"name": str(row)}
            | more
        )

    old = sent(technician_in, name="typed in the old tab")
    assert old["as_of"]
    newer = sent(owner_in, name="changed meanwhile")
    assert people.send(owner_in, address, newer, address).status_code == 303
    answer = people.send(technician_in, address, old | {"change_key": "k-old"}, address)
    said = unescape(answer.content.decode())
    assert answer.status_code == 422 and "Since this page was drawn, Maud Askel changed it at" in said
    assert "changed meanwhile" in said and 'value="typed in the old tab"' in said
    row.refresh_from_db()
    assert row.name == "changed meanwhile"
    again = old | {"as_of": people.field_of(answer, "as_of"), "change_key": "k-again"}
    assert people.send(technician_in, address, again, address).status_code == 303
    row.refresh_from_db()
    assert row.name == "typed in the old tab", "looked at, it is saved"


@pytest.mark.parametrize("of", ["rider", "part"])
def test_a_row_without_a_history_is_not_gone_over_unseen_either(
    owner_in: Client, technician_in: Client, cast: people.Cast, of: str
) -> None:
    with change(cast.owner, "made", {}) as doing:
        rider = keeping.make_rider(doing, name="Tova Lund")
        part = make_part(doing, kind="air shaft", on_hand=1)
    row: Any = rider if of == "rider" else part
    address = f"/book/riders/{row.pk}/change/" if of == "rider" else f"/shelf/{row.pk}/"
    box, filled = (
        ("phone", {"name": "Tova Lund"}) if of == "rider" else ("marking", {"kind": "air shaft", "on_hand": "1"})
    )
    drawn = people.field_of(technician_in.get(address), "as_of")
    newer = filled | {box: "0443 118", "as_of": drawn}
    assert people.send(owner_in, address, newer, address).status_code == 303
    old = filled | {box: "0443 999", "as_of": drawn, "change_key": "k-old"}
    answer = people.send(technician_in, address, old, address)
    assert answer.status_code == 422 and "Since this page was drawn, somebody changed" in unescape(
        answer.content.decode()
    )
    row.refresh_from_db()
    assert getattr(row, box) == "0443 118"
    again = old | {"as_of": people.field_of(answer, "as_of"), "change_key": "k-again"}
    assert people.send(technician_in, address, again, address).status_code == 303
    row.refresh_from_db()
    assert getattr(row, box) == "0443 999", "looked at, it is saved"
