"""The form of a part: what it really is, as measured."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from topout.units import Typed
from topout.web.access import preferences
from topout.web.book.models import Family
from topout.web.choices import NamedRowField, PickField
from topout.web.fields import AskingForm, CountField, QuantityField, WordsField, with_unit
from topout.web.groups import Group
from topout.web.shelf.models import PART_KINDS, Part

MEASURED = ("length", "diameter", "bore", "gives", "volume", "height", "rate", "bind", "reduces")
KEPT = ("kind", "marking", "family", "state", "place", "on_hand", "waiting_days", "cost", "note")


class CostField(forms.CharField):
    """An amount in the workshop's currency, "118" or "18.50". Cleans to Decimal, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs.update(inputmode="decimal", autocomplete="off")
        self.widget.attrs["class"] = "short"

    def clean(self, value: Any) -> Any:
        text = super().clean(value).replace(",", ".")
        if not text:
            return None
        if not re.fullmatch(r"[0-9]{1,7}(\.[0-9]{1,2})?", text):
            raise ValidationError(f"“{text[:40]}”: an amount is expected, as in 118 or 18.50.")
        return Decimal(text)


class PartForm(AskingForm):
    """A part; measured values keep the text as it was typed, with its unit."""

    must = "Needed: its kind and how many. Write all that was measured; the rest may stay empty."
    groups = (
        Group("What it is", (("kind", "marking"), ("family",))),
        Group("As measured", (("length", "diameter"), ("bore",))),
        Group("What it gives", (("gives", "volume"), ("height", "reduces"), ("rate", "bind"))),
        Group("Where it is", (("state", "place"), ("on_hand", "waiting_days"), ("cost",), ("note",))),
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
    bore = QuantityField(
        dimension="length", unit="mm", low=10, high=700, likely=(24, 640), label="Bore it fits", required=False,
        help_text="Inside of the air tube; of a tyre its wheel, 622 mm for 29 in.",
    )  # fmt: skip
    gives = QuantityField(
        dimension="length", unit="mm", low=20, high=300, likely=(60, 240), label="Travel it gives", required=False
    )
    volume = QuantityField(
        dimension="volume", unit="ml", low=0.1, high=3000, likely=(2, 1000), label="Volume", required=False
    )
    height = QuantityField(
        dimension="length", unit="mm", low=10, high=150, likely=(20, 90), label="Tyre height", required=False
    )
    rate = QuantityField(
        dimension="rate", unit="N/mm", low=0.5, high=500, likely=(3, 200), label="Rate of a coil", required=False
    )
    bind = QuantityField(
        dimension="length", unit="mm", low=10, high=360, likely=(30, 120), label="A coil’s way until it touches", required=False,
        help_text="From its free length; it stands after the rate, 2.6 in for “400 x 2.6”.",
    )  # fmt: skip
    reduces = QuantityField(
        dimension="length", unit="mm", low=0.5, high=60, likely=(1, 15), label="Stroke it takes off", required=False
    )
    state = WordsField(letters=200, label="State", required=False, help_text="Sound, worn, not for use.")
    place = WordsField(letters=80, label="Where it lies", required=False)
    on_hand = CountField(low=0, high=9999, label="How many", initial="1")
    waiting_days = CountField(
        low=0, high=999, label="Days until more are there", required=False, help_text="Empty where no more can be had."
    )
    cost = CostField(label="Cost of one", required=False)
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

    @classmethod
    def initial_of(cls, part: Part) -> dict[str, Any]:
        """What stands in the boxes of a part that is there already."""
        plain = {name: getattr(part, name) for name in KEPT}
        plain |= {"on_hand": str(part.on_hand), "waiting_days": part.waiting_days, "family": part.family_id}
        return plain | {name: part.measured[name] for name in MEASURED if name in part.measured}
