"""The Shelf's parts and tags, and the list of instruments."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.test import Client

from topout.web.access.codes import code, grouped, tidy
from topout.web.jobs.records.models import Instrument
from topout.web.shelf.forms import PartForm
from topout.web.shelf.models import Part, Tag
from web import people


def test_a_part_is_what_was_measured_and_its_tag_leads_to_it(technician_in: Client) -> None:
    data = {
        "kind": "air shaft",
        "marking": "160",
        "length": "252",
        "diameter": "0.394 in",
        "gives": "140 mm",
        "on_hand": "1",
    }
    answer = people.send(technician_in, "/shelf/new/", data, times=3)
    assert answer.status_code == 303
    part = Part.objects.get()
    assert part.measured == {"length": "252 mm", "diameter": "0.394 in", "gives": "140 mm"}
    assert part.tag is not None
    page = technician_in.get(answer.headers["Location"]).content.decode()
    assert grouped(part.tag.code) in page and "140 mm" in page
    found = technician_in.get("/shelf/", {"tag": grouped(part.tag.code).lower()})
    assert found.headers["Location"] == f"/t/{part.tag.code}/"
    assert technician_in.get(f"/t/{part.tag.code.lower()}/").headers["Location"] == f"/t/{part.tag.code}/"
    assert "No tag" in technician_in.get("/shelf/", {"tag": "nothing"}).content.decode()


def test_a_part_needs_its_kind_and_how_many_and_nothing_else(workshop: Path) -> None:
    needed = {name for name, field in PartForm().fields.items() if field.required}
    assert needed == {"kind", "on_hand"}
    assert PartForm({"kind": "air shaft", "on_hand": "1"}).is_valid()
    for lacking in needed:
        assert set(PartForm({"kind": "air shaft", "on_hand": "1"} | {lacking: ""}).errors) == {lacking}


def test_codes_are_random_short_and_without_look_alike_letters() -> None:
    drawn = {code(6) for _ in range(2000)}
    assert len(drawn) > 1995  # so many have a pair by chance in one of 120 runs
    assert set("".join(drawn)) == set("23456789CDFGHJKMNPQRTVWXY")
    assert grouped("K7M4QX") == "K7M-4QX" and tidy(" k7m-4qx ") == "K7M4QX"
    assert Tag._meta.get_field("code").unique


GAUGE = {
    "kind": "gauge", "code": "P9", "name": "bench pump", "span": "100 psi", "mark": "1 psi", "accuracy": "1.6", "hose": "3",
}  # fmt: skip


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("kind", "hammer", "Choose one"), ("code", "", "Write it"), ("span", "", "A gauge needs the end of its scale"),
        ("span", "100", "needs a unit"), ("span", "100 mm", "not a unit of pressure"), ("mark", "-1 psi", "more than nothing"),
        ("mark", "60 psi", "makes 1.667 divisions; 20 to 20000 are expected"), ("mark", "nan psi", "a number"), ("accuracy", "", "its class"),
        ("accuracy", "1,600", "is it 1.600 or 1600?"), ("accuracy", "16", "at most 4 % of the end of the scale"), ("accuracy", "inf", "a number"),
        ("hose", "9000", "is expected"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_an_instrument_is_said(technician_in: Client, key: str, typed: str, words: str) -> None:
    answer = people.send(technician_in, "/instruments/new/", GAUGE | {key: typed})
    assert answer.status_code == 422 and words in answer.content.decode() and not Instrument.objects.exists()


def test_a_gauge_is_put_on_the_list_once_and_away(technician_in: Client) -> None:
    assert people.send(technician_in, "/instruments/new/", GAUGE, times=3).status_code == 303
    assert people.send(technician_in, "/instruments/new/", GAUGE).status_code == 422
    row = Instrument.objects.get()
    assert (row.dimension, row.hose_volume, row.accuracy_class_percent) == ("pressure", "3 ml", 1.6)
    answer = people.send(technician_in, f"/instruments/{row.pk}/away/", {}, page_path="/instruments/", times=3)
    assert answer.status_code == 303
    row.refresh_from_db()
    assert row.retired_at is not None and "put away" in technician_in.get("/instruments/").content.decode()
