"""The form of a part: what it really is, as measured."""

from __future__ import annotations

from typing import Any

from topout.units import Typed
from topout.web.access import preferences
from topout.web.book.models import Family
from topout.web.choices import NamedRowField, PickField
from topout.web.fields import AskingForm, CountField, QuantityField, WordsField, with_unit
from topout.web.groups import Group
from topout.web.shelf.models import PART_KINDS

MEASURED = ("length", "diameter", "gives", "volume")


class PartForm(AskingForm):
    """A part; measured values keep the text as it was typed, with its unit."""

    must = "Needed: its kind and how many. Write all that was measured; the rest may stay empty."
    groups = (
        Group("What it is", (("kind", "marking"), ("family",))),
        Group("As measured", (("length", "diameter"), ("gives", "volume"))),
        Group("Where it is", (("state", "place"), ("on_hand",), ("note",))),
    )

    kind = PickField(
        label="Kind", choices=list(PART_KINDS.items()),
        error_messages={"required": "Say what kind of part it is.", "invalid_choice": "Choose one of the kinds."},
    )  # fmt: skip
    marking = WordsField(letters=120, label="What is printed on it", required=False)
    family = NamedRowField(
        label="Family it fits", queryset=Family.objects.all(), required=False, empty_label="none, or not known",
        error_messages={"invalid_choice": "This family is not in the Book."},
    )  # fmt: skip
    length = QuantityField(
        dimension="length", unit="mm", low=0.1, high=1000, likely=(1, 600), label="Length as measured", required=False
    )
    diameter = QuantityField(
        dimension="length", unit="mm", low=0.1, high=800, likely=(2, 720), label="Diameter as measured", required=False
    )
    gives = QuantityField(
        dimension="length", unit="mm", low=20, high=300, likely=(60, 240), label="Travel it gives", required=False
    )
    volume = QuantityField(
        dimension="volume", unit="ml", low=0.1, high=3000, likely=(2, 1000), label="Volume", required=False
    )
    state = WordsField(letters=200, label="State", required=False, help_text="Sound, worn, not for use.")
    place = WordsField(letters=80, label="Where it lies", required=False)
    on_hand = CountField(low=0, high=9999, label="How many", initial="1")
    note = WordsField(letters=1000, rows=3, label="Note", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        preferences.own_units(self)

    def measured(self) -> dict[str, str]:
        """What was measured, as typed with its unit."""
        found: dict[str, str] = {}
        for name in MEASURED:
            typed: Any = self.cleaned_data.get(name)
            if isinstance(typed, Typed):
                found[name] = with_unit(typed)
        return found
