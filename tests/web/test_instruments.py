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
    assert "torque" in asked
