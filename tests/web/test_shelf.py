"""What a first user does wrong with the Shelf: at the form of a part, and with the buttons that set a box of the plan."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from topout.web.jobs.plan import boxes, shelf
from topout.web.shelf.forms import PartForm

WHOLE = {"kind": "air shaft", "on_hand": "1"}
WRONG = {  # a box, what is typed into it, and what the sentence beside it says
    "no kind": ("kind", "", "Say what kind of part it is."),
    "a kind of one's own": ("kind", "shim", "Choose one of the kinds."),
    "two for a count": ("on_hand", "two", "whole number"),
    "half a part": ("on_hand", "1.5", "whole number"),
    "fewer than none": ("on_hand", "-1", "whole number"),
    "a date for days": ("waiting_days", "Monday", "whole number"),
    "a currency in the cost": ("cost", "118 EUR", "an amount is expected"),
    "thousands in the cost": ("cost", "1,180.00", "an amount is expected"),
    "a travel in centimetres of a whole leg": ("gives", "160 cm", "20 to 300 mm"),
    "a volume for a travel": ("gives", "8.5 ml", "length"),
    "a weight for a volume": ("volume", "8 g", "volume"),
    "a rate in kilograms": ("rate", "8 kg", "rate"),
    "a rate of nothing": ("rate", "0", "0.5 to 500"),
    "two measures in one box": ("length", "252 x 10", "252 x 10"),
    "a dash for not measured": ("height", "-", "number"),
    "a bore of a rim at an air tube": ("bore", "7000", "10 to 700 mm"),
    "an uncertainty, which no part has": ("gives", "160 ± -1 mm", "no uncertainty is taken here"),
    "endless": ("length", "1e999", "number"),
    "letters of another script": ("length", "２５２ｍｍ", "number"),
    "a family that is not in the Book": ("family", "999", "not in the Book"),
}  # fmt: skip


def test_what_is_wrong_is_said_at_its_box_and_at_no_other(workshop: Path) -> None:
    for name, (box, typed, says) in WRONG.items():
        form = PartForm(WHOLE | {box: typed})
        assert set(form.errors) == {box}, name
        assert says in " ".join(map(str, form.errors[box])), (name, form.errors[box])
        assert form[box].value() == typed  # what was typed stands there still


def test_all_that_is_wrong_is_said_at_once(workshop: Path) -> None:
    form = PartForm({"kind": "", "on_hand": "two", "cost": "dear", "gives": "8 ml", "waiting_days": "soon"})
    assert set(form.errors) == {"kind", "on_hand", "cost", "gives", "waiting_days"}


def test_what_a_hand_writes_on_a_label_is_taken(workshop: Path) -> None:
    form = PartForm(WHOLE | {"gives": "160", "length": "9.92 in", "cost": "48,5", "waiting_days": " 4 "})
    assert form.is_valid(), form.errors
    assert form.measured() == {"gives": "160 mm", "length": "9.92 in"}
    assert form.cleaned_data["cost"] == Decimal("48.5") and form.cleaned_data["waiting_days"] == 4


FITTED: dict[str, dict[str, Any]] = {
    "fork": {"travel": "150 mm"},
    "fork.air": {
        "bore": "34.6 mm", "shaft": "10 mm", "positive_volume": "245 ml", "negative_volume": "45 ml", "spacers": 1,
        "spacer_volume": "8.5 ml", "pressure": "62 psi",
    },
}  # fmt: skip


@pytest.mark.parametrize(
    "fit", ["", "travel", "travel=", "=150 mm", "pressure=300 psi", "rear_sag=12 mm", "\0=\0", "x" * 5000]
)
def test_a_button_that_there_is_not_sets_nothing(fit: str) -> None:
    assert shelf.taken(fit, {"travel": "140"}) == {"travel": "140"}
    assert shelf.taken(fit, None) is None


@pytest.mark.parametrize(
    ("fit", "box", "stands"),
    [
        ("travel=15o mm", "travel", "15o mm"), ("travel=15 mm", "travel", "15 mm"), ("travel=8.5 ml", "travel", "8.5 ml"),
        ("tyre=nought", "tyre", "nought"), ("spacers=half", "spacers", "half"), ("spacers=-1", "spacers", "-1"),
    ],
)  # fmt: skip
def test_a_button_s_value_is_read_by_the_box_that_it_sets(fit: str, box: str, stands: str) -> None:
    """An address typed by hand may say anything: the box says what is wrong, and keeps it; nothing of the plan comes of it."""
    assert boxes.draw(FITTED, {}, shelf.taken("travel=160 mm", {"spacers": "1"})).file is not None
    sent = shelf.taken(fit, {"travel": "140 mm"})
    drawn = boxes.draw(FITTED, {}, sent)
    assert [name for name, _ in drawn.faults] and drawn.file is None
    assert drawn.box(box).text == stands


@pytest.mark.parametrize(
    ("had", "then"), [("", "1"), ("2", "3"), ("two", "1"), ("-1", "1"), ("99999", "1"), ("²", "1")]
)
def test_one_spacer_more_than_what_is_no_count_is_one(had: str, then: str) -> None:
    assert shelf.taken("spacers=+1", {"spacers": had}) == {"spacers": then}


def test_without_a_bike_nothing_is_offered() -> None:
    assert shelf.lying(None, None) == []  # type: ignore[arg-type]


@pytest.mark.parametrize(("field", "most"), [("length", 1000), ("diameter", 800)])
def test_a_part_is_no_longer_and_no_wider_than_that(workshop: Path, field: str, most: int) -> None:
    whole = {"kind": "air shaft", "on_hand": "1", "state": "face marked"}
    asked, refused = (PartForm(whole | {field: f"{many} mm"}).errors[field][0] for many in (most, most + 1))
    assert "is unusual" in asked and "is unusual" not in refused and f"{most} mm" in refused.replace("\xa0", " ")
