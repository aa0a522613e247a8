"""Service data of a family: kept with sheet, person and time; corrected by a new row; a bad value is refused in words."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client

from topout.errors import FaultsFound
from topout.procedures.service import FIELDS
from topout.units import parse
from topout.web.access.change import change
from topout.web.book import keeping, service
from topout.web.book.models import Family, ServiceValue
from topout.web.book.service_pages import box_name
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions
from web import people

SHEET = "Quillon sheet, issue 3"


@pytest.fixture
def family(cast: people.Cast) -> Family:
    with change(cast.owner, "family", {"for": "a test"}) as doing:
        return keeping.make_family(doing, name="Quillon 35", tables={})


def save(cast: people.Cast, family: Family, name: str, text: str, **more: object) -> ServiceValue:
    with change(cast.technician, "sheet", {"n": name, "t": text, "more": str(more)}) as doing:
        return service.save_service(doing, family, name, text, str(more.pop("source", SHEET)), **more)  # type: ignore[arg-type]


def test_every_field_of_the_list_stands_in_a_group_and_has_a_range() -> None:
    for name, field in FIELDS.items():
        assert name.partition(".")[0] in service.GROUPS, name
        assert not field.dimension or field.dimension in service.RANGES, name


def test_values_are_given_by_name_in_si(cast: people.Cast, family: Family) -> None:
    save(cast, family, "torque.foot-bolt", "680 N·cm")
    save(cast, family, "oil.lower-left", "12")
    save(cast, family, "oil.lower-name", "bath oil B")
    save(cast, family, "length.air-shaft", "252 mm", travel_mm=140)
    save(cast, family, "length.air-shaft", "262 mm", travel_mm=150)
    known = service.service_of(family)
    assert known["torque.foot-bolt"].value_si == pytest.approx(6.8, rel=1e-12), "680 N·cm"
    assert known["oil.lower-left"].text == "12 ml" and known["oil.lower-left"].value_si == pytest.approx(12e-6)
    assert known["oil.lower-name"].value_si is None and known["oil.lower-name"].words == "bath oil B"
    assert "length.air-shaft" not in known, "which travel is not said"
    assert service.service_of(family, 0.150)["length.air-shaft"].value_si == pytest.approx(0.262)
    assert service.service_of(family, 0.145).get("length.air-shaft") is None, "nothing between two travels is made up"
    assert known["torque.foot-bolt"].source == SHEET and known["torque.foot-bolt"].row.read_by == cast.technician
    assert service.service_of(None) == {}


def test_a_correction_is_a_new_row_and_an_empty_one_takes_it_out(cast: people.Cast, family: Family) -> None:
    first = save(cast, family, "torque.foot-bolt", "7.5 N·m")
    with pytest.raises(FaultsFound, match="stands already; say why"):
        save(cast, family, "torque.foot-bolt", "8 N·m")
    second = save(cast, family, "torque.foot-bolt", "8 N·m", source="issue 4", reason="issue 3 was withdrawn")
    assert second.replaces == first and ServiceValue.objects.get(pk=first.pk).text == "7.5 N·m"
    assert service.service_of(family)["torque.foot-bolt"].text == "8 N·m"
    save(cast, family, "torque.foot-bolt", "", reason="another bolt since")
    assert "torque.foot-bolt" not in service.service_of(family)
    save(cast, family, "torque.foot-bolt", "9 N·m", reason="the new bolt’s sheet")
    assert service.service_of(family)["torque.foot-bolt"].text == "9 N·m" and ServiceValue.objects.count() == 4


@pytest.mark.parametrize(
    ("name", "text", "more", "said"),
    [
        ("torque.foot-bold", "7 N·m", {}, "no such field"), ("torque.foot-bolt", "1864 N·m", {}, "0.05 to 120"),
        ("torque.foot-bolt", "7 Nm/s", {}, "not a unit"), ("torque.foot-bolt", "as the maker says", {}, "expected"),
        ("torque.foot-bolt", "7,5 N·m", {}, "point"), ("torque.foot-bolt", "-7 N·m", {}, "expected"), ("torque.foot-bolt", "nan", {}, ""),
        ("torque.foot-bolt", "", {}, "nothing is written"), ("torque.foot-bolt", "7 N·m", {"source": " "}, "which sheet"),
        ("oil.lower-name", "x" * 201, {}, "200"), ("oil.lower-name", "a\x00b", {}, ""), ("oil.lower-name", "a\x1bb", {}, "can’t be shown"),
        ("length.air-shaft", "252 mm", {}, "say which"), ("torque.foot-bolt", "7 N·m", {"travel_mm": 140}, "does not go by"),
    ],
)  # fmt: skip
def test_what_is_no_value_is_refused(
    cast: people.Cast, family: Family, name: str, text: str, more: dict[str, object], said: str
) -> None:
    with pytest.raises(FaultsFound) as found:
        save(cast, family, name, text, **more)
    assert said in str(found.value), str(found.value)
    assert not ServiceValue.objects.exists()


def test_the_form_keeps_what_a_sheet_says(technician_in: Client, cast: people.Cast, family: Family) -> None:
    place = f"/book/families/{family.pk}/service/"
    page = technician_in.get(place).content.decode()
    for name in FIELDS:
        assert f'name="{box_name(name)}"' in page, name
    sent = {"source": SHEET, "torque-foot-bolt": "7.5", "oil-lower-left": "12 ml", "tools": "clamp", "length-air-shaft": "252",
            "length-air-shaft-travel": "140"}  # fmt: skip
    assert people.send(technician_in, place, sent).status_code == 303
    page = technician_in.get(place).content.decode()
    assert "7.5\xa0N·m" in page and "Jory" in page and SHEET in page
    assert 'name="torque-foot-bolt"' not in page and 'name="length-air-shaft"' in page, "one more travel may be written"
    again = {"source": SHEET, "length-air-shaft": "262", "length-air-shaft-travel": "140"}
    twice = people.send(technician_in, place, again)
    assert twice.status_code == 422 and "stands already" in twice.content.decode()
    correct = f"{place}torque.foot-bolt/0/"
    first = ServiceValue.objects.get(name="torque.foot-bolt")
    sent = {"value": "8", "source": "issue 4", "reason": "withdrawn", "number": str(first.number)}
    assert people.send(technician_in, correct, {**sent, "reason": ""}).status_code == 422
    assert people.send(technician_in, correct, sent).status_code == 303
    page = technician_in.get(place).content.decode()
    assert "<s>7.5 N·m</s>" in page and "withdrawn" in page and "8\xa0N·m" in page
    late = people.send(technician_in, correct, {**sent, "value": "9"})
    assert late.status_code == 422 and "corrected this value meanwhile" in late.content.decode()
    assert technician_in.get(f"{place}torque.stem/0/").status_code == 404


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"source": SHEET}, "No value is written"), ({"torque-foot-bolt": "7"}, "Say which sheet"),
        ({"source": SHEET, "torque-foot-bolt": "1864"}, "Is it"), ({"source": SHEET, "torque-stem": "86 N·m"}, "is unusual"),
        ({"source": SHEET, "length-air-shaft": "252"}, "Say for which travel"),
        ({"source": SHEET, "length-air-shaft-travel": "140"}, "Write the length too"),
        ({"source": SHEET, "length-air-shaft": "252", "length-air-shaft-travel": "1400"}, "20 to 300"),
    ],
)  # fmt: skip
def test_the_form_says_what_is_wrong(technician_in: Client, family: Family, sent: dict[str, str], said: str) -> None:
    answer = people.send(technician_in, f"/book/families/{family.pk}/service/", sent)
    assert answer.status_code == 422 and said in answer.content.decode(), answer.content.decode()
    assert not ServiceValue.objects.exists()


def test_what_was_saved_is_said_with_its_family(technician_in: Client, family: Family) -> None:
    place = f"/book/families/{family.pk}/service/"
    answer = people.send(technician_in, place, {"source": SHEET, "torque-foot-bolt": "7"})
    assert answer.status_code == 303 and ServiceValue.objects.count() == 1
    assert f"Saved for the family {family}." in technician_in.get(answer["Location"]).content.decode()


def test_nothing_is_half_saved(technician_in: Client, family: Family) -> None:
    sent = {"source": SHEET, "torque-foot-bolt": "7", "torque-top-cap": "24 kg"}
    assert people.send(technician_in, f"/book/families/{family.pk}/service/", sent).status_code == 422
    assert not ServiceValue.objects.exists()


@pytest.mark.parametrize(
    "attack",
    [
        "UPDATE book_servicevalue SET text = '2 N·m'", "DELETE FROM book_servicevalue",
        "INSERT OR REPLACE INTO book_servicevalue SELECT * FROM book_servicevalue",
        "UPDATE OR REPLACE book_servicevalue SET number = 2",
    ],
)  # fmt: skip
def test_the_database_refuses_to_change_a_value(cast: people.Cast, family: Family, workshop: Path, attack: str) -> None:
    save(cast, family, "torque.foot-bolt", "7.5 N·m")
    connection.close()
    with sqlite3.connect(workshop) as raw, pytest.raises(sqlite3.DatabaseError, match="corrected by a new one"):
        raw.execute(attack)
    raw.close()
    assert ServiceValue.objects.get().text == "7.5 N·m"


def test_the_highest_pressure_of_a_sheet_is_the_limit_that_a_release_goes_by(cast: people.Cast, family: Family) -> None:
    """120 psi stood in the service data, and nobody read it: 150 psi went out of a fork of that family without a word."""
    with change(cast.technician, "job", {}) as doing:
        rider = keeping.make_rider(doing, name="Ilse Varn")
        unit = keeping.make_unit(
            doing, bike=None, name="Quillon 35 fork", family=family, tables={"fork": {"travel": "140 mm"}}
        )
        job = changes.take_in(doing, rider=rider, bike=None, unit=unit, asked_title="service", asked="Service.")
        for stage in ("as-found", "as-left"):
            pressure = Taken.quantity("pressure", parse("150 psi", "pressure"), "pressure")
            readings.take(doing, job, stage, pressure)

    def told() -> list[str]:
        faults = contradictions.faults_of(Job.objects.get(pk=job.pk))
        return [each.words.replace("\xa0", " ").partition(", is ")[2] for each in faults]

    assert told() == []
    save(cast, family, "pressure.limit", "120 psi")
    assert told() == ["over the limit of 120 psi."]
    save(cast, family, "pressure.limit", "11 bar", reason="misread")
    assert Family.objects.get().tables == {"fork.air": {"pressure_limit": "11 bar"}}
    assert "over the limit of 120 psi that the Book had" in told()[0]
    family.refresh_from_db()
    family.tables["fork.air"]["pressure_limit"] = "100 psi"
    with change(cast.technician, "family", {}) as doing:
        keeping.keep(doing, family)
    save(cast, family, "pressure.limit", "9 bar", reason="issue 4")
    assert Family.objects.get().tables["fork.air"]["pressure_limit"] == "100 psi", "the lower of two stays"
    save(cast, family, "pressure.limit", "80 psi", reason="issue 5")
    save(cast, family, "pressure.limit", "", reason="another fork’s sheet")
    assert Family.objects.get().tables == {}
