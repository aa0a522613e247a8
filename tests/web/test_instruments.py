"""The list of instruments: every kind that the readings and steps ask for can be put on it, in its own unit."""

from __future__ import annotations

import pytest
from django.test import Client

from topout import units
from topout.planner.variables import VOCABULARY
from topout.procedures import read
from topout.web.jobs.readings.instruments import DIMENSIONS, KINDS
from topout.web.jobs.records.models import Instrument
from web import people

SPANS = {"pressure": ("300 psi", "2 psi"), "length": ("150 mm", "0.02 mm"), "mass": ("50 kg", "0.01 kg"),
    "temperature": ("50 degC", "0.5 degC"), "torque": ("25 N·m", "0.5 N·m"), "force": ("500 N", "5 N"),
}  # fmt: skip


def test_the_list_of_kinds_is_whole() -> None:
    assert (
        set(KINDS)
        == set(DIMENSIONS)
        == {"gauge", "tape", "caliper", "scale", "thermometer", "torque wrench", "balance"}
    )
    assert set(DIMENSIONS.values()) == set(SPANS)


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_goes_on_the_list_and_refuses_another_unit(technician_in: Client, kind: str) -> None:
    dimension = DIMENSIONS[kind]
    assert dimension in units.DIMENSIONS
    span, mark = SPANS[dimension]
    data = {"kind": kind, "code": "X1", "name": "new one", "span": span, "mark": mark, "accuracy": "1.6", "hose": ""}
    wrong = people.send(technician_in, "/instruments/new/", data | {"span": "12 l"})
    assert wrong.status_code == 422 and "12 l" in wrong.content.decode()
    assert not Instrument.objects.filter(code="X1").exists()
    assert people.send(technician_in, "/instruments/new/", data).status_code == 303
    row = Instrument.objects.get(code="X1")
    assert (row.kind, row.dimension, row.span) == (kind, dimension, span)
    assert "new one" in technician_in.get("/instruments/").content.decode()


def test_whatever_the_steps_measure_has_a_kind_of_instrument() -> None:
    """Volume is read off a cup, an angle off nothing here: what is left must be on the list."""
    shipped = read.shipped("travel-change-by-air-shaft", VOCABULARY)
    asked = {each.dimension for step in shipped.procedure.steps() for each in step.evidence if each.kind == "number"}
    assert asked - {"count", "", "volume"} <= set(DIMENSIONS.values()), asked
    assert {"length", "pressure", "temperature"} <= asked


GAUGE = {
    "kind": "gauge",
    "code": "P7",
    "name": "new pump",
    "span": "300 psi",
    "mark": "2 psi",
    "accuracy": "1.6",
    "hose": "",
}


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"accuracy": "4.1"}, "at most 4 %"), ({"accuracy": "10"}, "at most 4 %"),
        ({"span": "1000 psi", "mark": "5 psi"}, "ends between"), ({"span": "5 psi", "mark": "0.1 psi"}, "ends between"),
        ({"mark": "20 psi"}, "makes 15 divisions"), ({"mark": "0.01 psi"}, "divisions"),
    ],
)  # fmt: skip
def test_a_gauge_that_nobody_makes_is_refused(owner_in: Client, more: dict[str, str], words: str) -> None:
    answer = people.send(owner_in, "/instruments/new/", GAUGE | more)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not Instrument.objects.exists()


@pytest.mark.parametrize(
    ("span", "taken"), [("19 mm", False), ("20 mm", True), ("20000 mm", True), ("20001 mm", False)]
)
def test_a_tape_has_20_to_20_000_divisions_both_ends_in_it(owner_in: Client, span: str, taken: bool) -> None:
    tape = {"kind": "tape", "code": "T9", "name": "long tape", "span": span, "mark": "1 mm"}
    assert people.send(owner_in, "/instruments/new/", tape).status_code == (303 if taken else 422)


def test_an_owner_confirms_what_a_technician_adds(technician_in: Client, owner_in: Client) -> None:
    assert people.send(technician_in, "/instruments/new/", GAUGE).status_code == 303
    row = Instrument.objects.get()
    assert row.confirmed_at is None
    page = technician_in.get("/instruments/").content.decode()
    assert "not confirmed" in page and "Confirm</button>" not in page
    address = f"/instruments/{row.pk}/confirm/"
    assert people.send(technician_in, address, {}, page_path="/instruments/").status_code == 403
    assert Instrument.objects.get().confirmed_at is None
    assert people.send(owner_in, address, {}, page_path="/instruments/").status_code == 303
    row = Instrument.objects.get()
    assert row.confirmed_at is not None and row.confirmed_by is not None and row.confirmed_by.username == "maud"


def test_a_mark_counts_in_the_unit_of_its_scale(owner_in: Client) -> None:
    """A gauge has one unit. "0.2" under "20 bar" was told to need a unit, "0.2 psi" before all."""
    sent = GAUGE | {"span": "20 bar", "mark": "0,2"}
    assert people.send(owner_in, "/instruments/new/", sent).status_code == 303
    assert (Instrument.objects.get().span, Instrument.objects.get().mark) == ("20 bar", "0.2 bar")
    answer = people.send(owner_in, "/instruments/new/", sent | {"code": "P8", "span": "20"})
    assert answer.status_code == 422 and "needs a unit" in answer.content.decode()


def test_what_an_owner_adds_is_confirmed(owner_in: Client) -> None:
    assert people.send(owner_in, "/instruments/new/", GAUGE).status_code == 303
    assert Instrument.objects.get().confirmed_at is not None
