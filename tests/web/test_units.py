"""Every kind of unit: its own boxes in the Book, its own readings, its tables as typed, and no plan that pretends."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from topout import units
from topout.bench_file import read
from topout.errors import FaultsFound
from topout.web.access.change import change
from topout.web.book import keeping, tables
from topout.web.book.forms import UnitForm
from topout.web.book.kinds import KINDS
from topout.web.book.models import Bike, Family, Rider, Unit
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, Reading
from web import people

SHOCK: tables.Tables = {
    "shock": {"length": "210 mm", "stroke": "55 mm", "body": "54 mm"},
    "shock.air": {"bore": "47 mm", "shaft": "40 mm", "positive_volume": "118 ml", "negative_volume": "31 ml", "pressure_limit": "325 psi"},
}  # fmt: skip
COIL: tables.Tables = {
    "fork": {"travel": "150 mm", "offset": "44 mm"},
    "fork.coil": {"rate": "7.4 N/mm", "preload": "6 mm"},
}


def job_of(cast: people.Cast, kind: str, what: tables.Tables, bike: bool = True) -> Job:
    with change(cast.owner, "unit", {"for": kind}) as doing:
        rider = keeping.make_rider(doing, name="Odile Fenn")
        on = keeping.make_bike(doing, rider=rider, name="Tarn", tables={}) if bike else None
        unit = keeping.make_unit(doing, bike=on, name="The unit", kind=kind, tables=what)
        return changes.take_in(doing, rider=rider, bike=on, unit=unit, asked_title="service", asked="Service it.")


def boxes(page: str) -> set[str]:
    return set(re.findall(r'<(?:input|select|textarea)[^>]*name="([^"]+)"', page))


def test_a_shock_is_put_in_with_its_own_boxes_and_changed(technician_in: Client, cast: people.Cast) -> None:
    job_of(cast, "fork", {})
    place = f"/book/bikes/{Bike.objects.get().pk}/units/new/?kind=shock"
    page = technician_in.get(place).content.decode()
    asked = boxes(page)
    assert {
        "shock-length",
        "shock-stroke",
        "shock-body",
        "shock-air-bore",
        "shock-air-shaft",
        "shock-air-spacers",
    } <= asked
    assert {"hardware", "valve", "negative-spacers", "rebound-clicks"} <= asked
    assert not any(name.startswith("fork") for name in asked) and "tyre" not in " ".join(asked)
    sent = {"name": "Sorrel", "kind": "shock", "shock-length": "210", "shock-stroke": "55", "shock-air-bore": "47",
            "shock-air-shaft": "40", "hardware": "front 30 × 8 mm", "rebound-clicks": "14"}  # fmt: skip
    assert people.send(technician_in, place, sent).status_code == 303
    row = Unit.objects.get(name="Sorrel")
    assert row.kind == "shock" and row.extras == {"hardware": "front 30 × 8 mm", "rebound-clicks": 14}
    assert row.tables == {
        "shock": {"length": "210 mm", "stroke": "55 mm"},
        "shock.air": {"bore": "47 mm", "shaft": "40 mm"},
    }
    shown = technician_in.get(f"/book/units/{row.pk}/").content.decode()
    assert "Length, eye to eye" in shown and "Damper body" in shown and "front 30 × 8 mm" in shown
    sent["shock-stroke"] = "52.5"
    assert people.send(technician_in, f"/book/units/{row.pk}/change/", sent).status_code == 303
    shown = technician_in.get(f"/book/units/{row.pk}/").content.decode()
    assert "55 mm → 52.5 mm" in shown.replace("\xa0", " ") and "Tam Ness" in shown or "52.5" in shown


def test_another_kind_keeps_only_what_fits_it_and_the_history_tells(technician_in: Client, cast: people.Cast) -> None:
    unit = job_of(cast, "shock", SHOCK).unit
    assert unit is not None
    page = technician_in.get(f"/book/units/{unit.pk}/change/?kind=coil-shock").content.decode()
    assert "shock-coil-rate" in boxes(page) and "shock-air-bore" not in boxes(page)
    assert "stands in the Book as another kind" in page
    sent = {"name": "The unit", "kind": "coil-shock", "shock-length": "210 mm", "shock-coil-rate": "400 lbf/in"}
    assert people.send(technician_in, f"/book/units/{unit.pk}/change/", sent).status_code == 303
    unit.refresh_from_db()
    assert unit.kind == "coil-shock" and set(unit.tables) == {"shock", "shock.coil"}
    shown = technician_in.get(f"/book/units/{unit.pk}/").content.decode().replace("\xa0", " ")
    assert "325 psi taken out" in shown


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("shock-stroke", "550 mm", "Is it 55 mm?"), ("shock-air-shaft", "48 mm", "can slides on it"),
        ("shock-body", "40 mm", "above its bore"), ("shock-length", "2.1 in", "shorter than the shock"),
        ("shock-air-negative_pressure", "90 psi", "belongs to negative"), ("shock-air-spacers", "5", "at most 3"),
        ("rebound-clicks", "61", "0 to 60"), ("rebound-clicks", "3.5", "whole number"), ("negative-spacers", "-1", "0 to 20"),
        ("hardware", "x" * 201, "200"), ("kind", "forc", "is expected"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_shock_stands_at_its_box(workshop: Path, key: str, text: str, said: str) -> None:
    good = {"name": "S", "kind": "shock", "shock-length": "210 mm", "shock-stroke": "55 mm", "shock-body": "54 mm",
            "shock-air-bore": "47 mm", "shock-air-shaft": "40 mm", "shock-air-spacer_limit": "3",
            "shock-air-negative": "self-equalising", "rebound-clicks": "14"}  # fmt: skip
    assert UnitForm(dict(good)).is_valid(), UnitForm(dict(good)).errors
    form = UnitForm({**good, key: text})
    assert not form.is_valid()
    told = " ".join(str(error) for errors in form.errors.values() for error in errors)
    assert said in told, told


def test_a_family_of_another_kind_is_refused(technician_in: Client, cast: people.Cast) -> None:
    job_of(cast, "fork", {})
    with change(cast.owner, "family", {"for": "a test"}) as doing:
        family = keeping.make_family(doing, name="Linnet", tables={"fork": {"travel": "160 mm"}})
    bike = Bike.objects.get()
    sent = {"name": "S", "kind": "shock", "family": str(family.pk)}
    answer = people.send(technician_in, f"/book/bikes/{bike.pk}/units/new/", sent)
    assert answer.status_code == 422 and "Linnet is a family of the kind fork" in answer.content.decode()
    sent = {"name": "F", "kind": "fork", "family": str(family.pk), "instead": "on", "since": "today"}
    assert people.send(technician_in, f"/book/bikes/{bike.pk}/units/new/", sent).status_code == 303
    moved = people.send(technician_in, f"/book/families/{family.pk}/", {"name": "Linnet", "kind": "shock"})
    assert moved.status_code == 422 and Family.objects.get().kind == "fork", (
        "its units would stand on tables of another kind"
    )


FILE = b"""[bike]
mass = "15 kg"
[fork]
travel = "150 mm"
[fork.coil]
rate = "7.4 N/mm"
[shock]
length = "210 mm"
stroke = "2.17 in"
leverage = [["0 mm", 2.9], ["146 mm", 2.41]]
[shock.air]
bore = "47 mm"
shaft = "40 mm"
"""


def test_a_bench_file_with_a_shock_goes_in_and_out_as_typed(technician_in: Client, cast: people.Cast) -> None:
    people.send(technician_in, "/book/riders/new/", {"name": "Odile Fenn"})
    place = f"/book/riders/{Rider.objects.get().pk}/bench-file/"
    form = {"bike_name": "Tarn", "unit_name": "Both", "file": SimpleUploadedFile("t.toml", FILE)}
    assert people.send(technician_in, place, form).status_code == 303
    fork, shock = Unit.objects.order_by("pk")
    assert (fork.kind, shock.kind, shock.name) == ("coil-fork", "shock", "Both, rear shock")
    assert shock.tables["shock"]["stroke"] == "2.17 in"
    out = technician_in.get(f"/book/units/{shock.pk}/bench-file.toml").content
    _, again = read.read_with_tables(out)
    assert again["shock"]["leverage"] == [["0 mm", 2.9], ["146 mm", 2.41]] and again["shock"]["air"]["bore"] == "47 mm"
    page = technician_in.get(f"/book/units/{shock.pk}/change/").content.decode()
    rows = re.search(r'<textarea name="shock-leverage"[^>]*>\s*([^<]*)</textarea>', page)
    assert rows is not None and rows[1].split() == ["0", "2.9", "146", "2.41"]
    sent = {"name": "Both, rear shock", "kind": "shock", "shock-length": "210 mm", "shock-leverage": rows[1]}
    assert people.send(technician_in, f"/book/units/{shock.pk}/change/", sent).status_code == 303
    shock.refresh_from_db()
    assert shock.tables["shock"] == {"leverage": [["0 mm", 2.9], ["146 mm", 2.41]], "length": "210 mm"}
    assert "146\xa0mm: 2.41" in technician_in.get(f"/book/units/{shock.pk}/").content.decode()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("leverage = 2.5", "two pairs"), ('leverage = [["0 mm", 2.9]]', "two pairs"),
        ('leverage = [["10 mm", 2.9], ["20 mm", 2.8]]', "begins at 0"), ('leverage = [["0 mm", 2.9], ["0 mm", 2.8]]', "grows"),
        ('leverage = [["0 mm", 29], ["150 mm", 24]]', "0.5 to 6"), ("leverage = [[0, 2.9], [150, 2.4]]", "needs a unit"),
        ('leverage_stroke = [["0 mm", "0 mm"], ["150 mm", "0 mm"]]', "stroke grows from pair to pair"),
        ('leverage = [["0 mm", 2.9], ["9 mm", 2.8]]\nleverage_stroke = [["0 mm", "0 mm"], ["9 mm", "3 mm"]]', "give one of them"),
        ('lenght = "210 mm"', "Is it length?"), ('[shock.coil]\nrate = "5 N"', "not a unit of rate"),
        ('[shock.air]\nbore = "40 mm"\n[shock.coil]\nrate = "70 N/mm"', "give one of them"),
        ('[fork.coil]\npreload = "30 mm"\nbind = "20 mm"', "coils would touch"),
    ],
)  # fmt: skip
def test_a_shock_at_fault_in_a_bench_file_is_named(line: str, said: str) -> None:
    with pytest.raises(FaultsFound) as found:
        read.read_bytes(f"[shock]\n{line}\n".encode())
    assert said in str(found.value), str(found.value)


def test_readings_fit_the_kind_of_unit(technician_in: Client, cast: people.Cast) -> None:
    """As found and as left, kind by kind; nothing of a fork or a front wheel is asked of a shock, nothing of air of a coil."""
    wanted = {
        "fork": ({"pressure", "spacers", "sag", "travel", "wheel-mass"}, {"stroke", "length", "coil-rate", "gas-pressure"}),
        "coil-fork": ({"coil-rate", "preload", "sag", "travel"}, {"pressure", "spacers", "own-pump", "stroke"}),
        "shock": ({"pressure", "length", "stroke", "stroke-sag", "negative-spacers", "gas-pressure"},
                  {"wheel-mass", "sag", "travel", "exposed-length", "coil-rate"}),
        "coil-shock": ({"coil-rate", "preload", "length", "stroke-sag"}, {"pressure", "spacers", "wheel-mass", "travel"}),
    }  # fmt: skip
    assert set(wanted) == set(KINDS)
    for kind, (asked, not_asked) in wanted.items():
        job = job_of(cast, kind, {})
        for stage in ("as-found", "as-left"):
            there = boxes(technician_in.get(f"/jobs/{job.number}/readings/{stage}/").content.decode())
            assert asked - ({"wheel-mass"} if stage == "as-left" else set()) <= there, (kind, stage)
            assert not not_asked & there, (kind, stage)
        page = technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode().lower()
        assert ("tyre" in page) == (kind in ("fork", "coil-fork")), kind
    posted = job_of(cast, "fork", {}, bike=False)
    there = boxes(technician_in.get(f"/jobs/{posted.number}/readings/as-found/").content.decode())
    assert "sag" not in there and "wheel-mass" not in there and "pressure" in there, "there is no bike to sit on"


def test_sag_of_a_shock_is_in_mm_and_per_cent_of_the_stroke(technician_in: Client, cast: people.Cast) -> None:
    job = job_of(cast, "shock", SHOCK)
    place = f"/jobs/{job.number}/readings/as-found/"
    data = {"stroke-sag": "15.4 mm", "stroke-sag-posture": "seated"}
    assert people.send(technician_in, place, data).status_code == 303
    assert Reading.objects.get().note == "28\xa0% of a stroke of 55\xa0mm", "15.4 / 55"
    assert people.send(technician_in, place, {**data, "stroke": "51.3"}).status_code == 303
    assert Reading.objects.filter(kind="stroke-sag").latest("sequence").note.startswith("30\xa0%"), (
        "15.4 / 51.3, as measured"
    )
    assert "30\xa0% of a stroke" in technician_in.get(f"/jobs/{job.number}/").content.decode()
    questioned = people.send(technician_in, place, {"stroke-sag": "30", "stroke-sag-posture": "seated"})
    assert questioned.status_code == 422, "more than half the stroke is asked about"
    refused = people.send(technician_in, place, {"travel": "150", "wheel-mass": "2 kg"})
    assert refused.status_code == 422 and Reading.objects.filter(kind="travel").count() == 0, (
        "a fork's boxes are not taken"
    )


def test_the_hose_of_a_shocks_gauge_is_counted_by_the_can(technician_in: Client, cast: people.Cast) -> None:
    """An empty 3 ml hose on both chambers of the can, open to each other at full extension: p·(1 + 3 / (118 + 31))."""
    job = job_of(cast, "shock", SHOCK)
    gauge = Instrument.objects.create(
        code="P2", kind="gauge", name="pump", dimension="pressure", span="300 psi", mark="1 psi", accuracy_class_percent=1.0,
        hose_volume="3 ml",
    )  # fmt: skip
    data = {"pressure": "180 psi", "pressure-gauge": "P2", "gas-pressure": "200 psi", "gas-pressure-gauge": "P2"}
    page = html.unescape(technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode())
    assert "Don’t gauge it: a pump takes about half of it." in page, "it lets the charge out to read it"
    assert people.send(technician_in, f"/jobs/{job.number}/readings/as-found/", data).status_code == 303
    row = Reading.objects.get(kind="pressure")
    assert row.instrument == gauge and row.corrected_si is not None
    assert units.from_si(row.corrected_si, "psi", "pressure") == pytest.approx(180 * (1 + 3 / (118 + 31)), rel=1e-9)
    assert Reading.objects.get(kind="gas-pressure").corrected_si is None, "behind the rod is no chamber of the Book's"


def test_a_shocks_pages_speak_of_its_can_and_a_coils_of_its_spring(technician_in: Client, cast: people.Cast) -> None:
    """“Counted when the cap is off”, “once the air is out”: a shock has no cap, a coil no air."""
    for kind, told in (
        ("shock", "counted when cap or can is off"),
        ("coil-shock", "Full stroke, once air or spring is out."),
    ):
        job = job_of(cast, kind, {})
        assert told in technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode(), kind


@pytest.mark.parametrize(("kind", "what"), [("shock", SHOCK), ("coil-shock", {})])
def test_a_shock_of_which_little_is_known_has_a_page_and_no_plan_in_use(
    technician_in: Client, cast: people.Cast, kind: str, what: tables.Tables
) -> None:
    """The page says what misses; what can't be worked out is put to use by nobody but an owner with a reason."""
    job = job_of(cast, kind, what)
    page = technician_in.get(f"/jobs/{job.number}/plan/")
    text = page.content.decode()
    assert (
        page.status_code == 200
        and ("Not known:" if what else "Nothing of this shock’s spring is in the Book yet") in text
    )
    answered = html.unescape(people.field_of(page, "answered")) if what else ""
    sent, waits = {"shock_pressure": "150", "answered": answered}, f"/jobs/{job.number}/waits/"
    asked = people.send(technician_in, f"/jobs/{job.number}/plan/", sent, waits)
    assert asked.status_code == (422 if what else 409) and not FrozenPlan.objects.exists()
    for address in ("", "waits/", "hand-over/", "papers/"):
        assert technician_in.get(f"/jobs/{job.number}/{address}").status_code in (200, 404), address
    to_fit = html.unescape(technician_in.get(f"/jobs/{job.number}/options/").content.decode())
    assert (
        "the pressure of the shock’s air can" if what else "Nothing of this shock’s spring is in the Book yet"
    ) in to_fit
    told = technician_in.get(f"/jobs/{job.number}/questions/", {"rear_share": "28"}).content.decode()
    assert ("needed for this" if what else "Nothing of this shock’s spring is in the Book yet") in html.unescape(told)


LINKED = {"leverage": [["0 mm", 2.85], ["70 mm", 2.56], ["140.5 mm", 2.33]]}
LOADED = {"rider": {"mass": "82 kg", "front_share": 0.42},
          "bike": {"mass": "15 kg", "unsprung_front": "3 kg", "unsprung_rear": "3.5 kg"}}  # fmt: skip


@pytest.mark.parametrize("linked", [True, False])
def test_a_shocks_plan_answers_in_stroke_and_wheel_travel(
    technician_in: Client, cast: people.Cast, linked: bool
) -> None:
    what: tables.Tables = {
        "shock": {"stroke": "55 mm", **(LINKED if linked else {})},
        "shock.air": {"bore": "46 mm", "shaft": "30 mm", "positive_volume": "150 ml", "negative_volume": "45 ml",
                      "spacers": 1, "spacer_volume": "6 ml", "pressure": "150 psi"},
    }  # fmt: skip
    job = job_of(cast, "shock", what)
    assert job.bike is not None
    job.rider.tables, job.bike.tables = {"rider": LOADED["rider"]}, {"bike": LOADED["bike"]}
    with change(cast.owner, "weights", {"for": "test"}):
        job.rider.save()
        job.bike.save()
    page = technician_in.get(f"/jobs/{job.number}/plan/", {"shock_pressure": "130", "shock_spacers": "2"})
    text = html.unescape(page.content.decode()).replace("\xa0", " ")
    assert page.status_code == 200 and "Shock: set" in text and "130 psi" in text and "two volume spacers" in text
    assert ("of the wheel’s travel" in text) is linked and ("the frame’s leverage ratios" in text) is not linked
    assert "bottom-out force at the rear wheel" in text if linked else "Bottom-out force at the shock" in text
    assert "At free length the air pushes on the can with up to" in text
    assert "<svg" in text and "The values of these pictures" in text
    bad = technician_in.get(f"/jobs/{job.number}/plan/", {"shock_pressure": "13 furlong"})
    assert "is not a unit of pressure here" in bad.content.decode()


def test_a_shock_is_taken_in_by_name(technician_in: Client, cast: people.Cast) -> None:
    sent = {"rider_name": "Odile Fenn", "unit_name": "a shock in a bag", "unit_kind": "shock", "asked_title": "air can",
            "asked": "It loses air.", "technician": cast.technician.username}  # fmt: skip
    assert people.send(technician_in, "/jobs/new/", sent).status_code == 303
    job = Job.objects.get()
    assert job.unit is not None and job.unit.kind == "shock" and job.bike is None
    assert "stroke" in boxes(technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode())
    assert people.send(technician_in, "/jobs/new/", {**sent, "unit_kind": "boat"}).status_code == 422
