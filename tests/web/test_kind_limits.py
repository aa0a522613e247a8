"""What a reading may be: the limits of the bench file where it has the same quantity, and nothing at all where that can be."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from topout.bench_file import model
from topout.bench_file.key import Key, key_of
from topout.units import to_si
from topout.web.fields import PlausibleRange, QuantityField
from topout.web.jobs.records.kinds import BESIDE, KINDS, label
from topout.web.shelf.forms import PartForm

# Where the bench file has what a kind reads.
SAME: dict[str, tuple[Any, str]] = {
    "pressure": (model.Air, "pressure"), "negative-pressure": (model.Air, "negative_pressure"),
    "gas-pressure": (model.Damper, "gas_pressure"), "own-pump": (model.Air, "pressure"), "far-in": (model.Reading, "pressure"),
    "rear-pressure": (model.CanAir, "pressure"), "front-pressure": (model.Air, "pressure"),
    "temperature": (model.Conditions, "temperature"), "spacers": (model.Air, "spacers"),
    "coil-rate": (model.Coil, "rate"), "preload": (model.Coil, "preload"), "rear-preload": (model.Coil, "preload"),
    "front-preload": (model.Coil, "preload"), "travel": (model.Fork, "travel"), "stroke": (model.Shock, "stroke"),
    "length": (model.Shock, "length"), "sag": (model.Found, "sag"), "stroke-sag": (model.Shock, "sag"),
}  # fmt: skip
# What can be nothing at all: an empty spring, a knob turned shut.
NOTHING = {
    "pressure", "negative-pressure", "gas-pressure", "own-pump", "far-in", "rear-pressure", "front-pressure", "spacers",
    "negative-spacers", "preload", "rear-preload", "front-preload", "rebound", "compression", "rear-rebound",
    "front-rebound", "hours",
}  # fmt: skip


def in_the_file(table: Any, word: str) -> Key:
    return next(key for each in fields(table) if (key := key_of(each)) is not None and key.word == word)


def test_what_is_set_at_the_other_end_has_a_kind_that_says_which_end() -> None:
    for end, noun, units in (("rear", "Shock", "fork"), ("front", "Fork", "shock")):
        for what in ("pressure", "preload", "rebound"):
            kind = KINDS[f"{end}-{what}"]
            assert f"{end}-{what}" in BESIDE and kind.label == f"{noun} {what}"
            assert kind.units and all(units in each for each in kind.units), "read at the job of the other unit"
            same = replace(KINDS[what], key=kind.key, label=kind.label, hint="", units=kind.units)
            assert kind == replace(same, apart=True, of_unit=False), "and is read as at its own job"


@pytest.mark.parametrize("kind", sorted(SAME))
def test_a_reading_may_be_what_the_bench_file_takes(kind: str) -> None:
    of, key = KINDS[kind], in_the_file(*SAME[kind])
    assert of.dimension == key.dimension
    for mine, theirs in ((of.low, key.low_si), (of.high, key.high_si)):
        assert theirs is not None
        si = to_si(mine, of.unit, of.dimension) if of.dimension else mine
        assert si == pytest.approx(theirs, rel=3e-4), kind  # 60 bar is 870.2 psi, and the box says 870


def test_what_can_be_nothing_at_all_may_be_read_as_nothing() -> None:
    assert {key for key, kind in KINDS.items() if kind.low == 0} == NOTHING
    assert all(kind.low != 0 and kind.low < kind.high for key, kind in KINDS.items() if key not in NOTHING)


def test_what_is_likely_lies_within_what_is_possible() -> None:
    for kind in KINDS.values():
        assert kind.low < kind.high
        assert kind.likely is None or kind.low <= kind.likely[0] < kind.likely[1] <= kind.high, kind.key


def test_a_travel_is_as_likely_on_the_card_as_on_the_shelf() -> None:
    of, box = KINDS["travel"], PartForm.base_fields["gives"]
    assert isinstance(box, QuantityField) and box.likely is not None and of.likely is not None
    assert box.likely == PlausibleRange(*(to_si(end, of.unit, of.dimension) for end in of.likely))


def test_what_is_usual_at_nothing_is_not_asked_about() -> None:
    """A collar that just touches is no slip of the pen; a spring of no air is asked about."""
    assert {key for key, kind in KINDS.items() if kind.likely is not None and kind.likely[0] == 0} == {
        "preload", "rear-preload", "front-preload",
    }  # fmt: skip


def test_what_is_read_as_found_alone_is_no_box_as_left() -> None:
    assert {key for key, kind in KINDS.items() if not kind.left} == {
        "wheel-mass", "far-in", "can-bore", "can-body", "can-volume", "hours",
    }  # fmt: skip


def test_a_kind_has_its_label_and_what_a_step_alone_reads_its_own_words() -> None:
    assert label("preload") == "Preload" and label("hours") == "Ride hours since the last service"
    assert label("rest-length") == "Rest length" and label("fill-reading") == "Fill reading"


def test_what_is_read_with_the_unit_on_its_bike_is_no_box_of_one_that_came_alone() -> None:
    assert {key for key, kind in KINDS.items() if kind.on_bike} == {"sag", "stroke-sag", "wheel-mass"}
    assert {key for key, kind in KINDS.items() if kind.apart} == {"far-in", *BESIDE}
