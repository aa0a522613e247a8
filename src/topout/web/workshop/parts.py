"""The parts that the Workshop page is put together from; a floor above this one adds what it alone knows about."""

from __future__ import annotations

import difflib
from typing import Any, ClassVar
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from topout.web.access import preferences
from topout.web.access.models import Workshop
from topout.web.fields import QuantityField, WordsField, with_unit
from topout.web.groups import Group

UNITS = {"pressure_unit": ("psi", "bar"), "length_unit": ("mm", "in")}
PAPERS = {"a4": "A4, 210 × 297 mm", "us-letter": "Letter, 8.5 × 11 in"}


class Part(forms.Form):
    """Some settings under one title. `initial_of` gives their boxes from the workshop's row, `values` what to save."""

    group: ClassVar[Group]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        preferences.own_units(self)

    @classmethod
    def initial_of(cls, row: Workshop) -> dict[str, Any]:
        raise NotImplementedError

    def values(self) -> dict[str, Any]:
        raise NotImplementedError


PARTS: list[type[Part]] = []


def part(form: type[Part]) -> type[Part]:
    """Put a part on the Workshop page, in the order in which they are met."""
    PARTS.append(form)
    return form


@part
class Place(Part):
    """Name, altitude, time zone, currency."""

    group = Group("The workshop", (("name", "altitude"), ("time_zone", "currency")))
    name = WordsField(letters=80, label="Name of the workshop", missing="Write the workshop’s name.")
    altitude = QuantityField(
        dimension="length", unit="m", low=-400, high=6000, signed=True, label="Altitude", required=False,
        help_text="Above sea level. Left empty, plans say that sea level is taken.",
    )  # fmt: skip
    time_zone = WordsField(
        letters=60, label="Time zone", missing="Write a zone such as Europe/Dublin, or UTC.", help_text="This computer’s is offered. Every time is shown in it.",
    )  # fmt: skip
    currency = WordsField(
        letters=8, label="Currency", required=False, help_text="As it stands on your price list. An amount agreed to is written with it."
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].widget.attrs.update(list="zones", autocomplete="off", spellcheck="false")

    def clean_time_zone(self) -> str:
        typed = str(self.cleaned_data["time_zone"]).strip()
        known = available_timezones()
        if typed in known:
            return typed
        same = {zone.casefold(): zone for zone in known}
        found = same.get(typed.casefold().replace(" ", "_"))
        if found:
            return found
        near = difflib.get_close_matches(typed, sorted(known), n=1)
        way = f"Is it {near[0]}?" if near else "Write one such as Europe/Dublin, or UTC."
        raise ValidationError(f"“{typed}”: no such time zone. {way}")

    @classmethod
    def initial_of(cls, row: Workshop) -> dict[str, Any]:
        return {
            "name": row.name, "altitude": row.altitude.removesuffix(" m") if row.set_up_at else "", "time_zone": row.time_zone or settings.TIME_ZONE, "currency": row.currency,
        }  # fmt: skip

    def values(self) -> dict[str, Any]:
        data = self.cleaned_data
        height = data["altitude"]
        return {
            "name": data["name"], "altitude": "" if height is None else with_unit(height), "time_zone": data["time_zone"], "currency": data["currency"],
        }  # fmt: skip


def _one_of(label: str, choices: list[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=choices, widget=forms.RadioSelect,
        error_messages={"required": "Choose one.", "invalid_choice": "Choose one of these."},
    )  # fmt: skip


@part
class UnitsAndPaper(Part):
    """What is shown first, and what the sheet is printed on."""

    group = Group(
        "Units and paper", (("pressure_unit", "length_unit"), ("paper",)),
        says="Boxes take either unit, written behind the number. What was typed stays as it was typed.",
    )  # fmt: skip
    pressure_unit = _one_of("Pressures first in", [("psi", "psi"), ("bar", "bar")])
    length_unit = _one_of("All else first in", [("mm", "metric: mm, kg, N·m"), ("in", "imperial: in, lb, lbf·in")])
    paper = _one_of("Paper of the set-up sheet", list(PAPERS.items()))

    @classmethod
    def initial_of(cls, row: Workshop) -> dict[str, Any]:
        return {"pressure_unit": row.pressure_unit, "length_unit": row.length_unit, "paper": row.paper}

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("pressure_unit", "length_unit", "paper")}


class WhoWorksHere(Part):
    """Asked at the first start alone; later the Accounts page is there for it."""

    group = Group("Who works here", (("people",),))
    people = WordsField(
        letters=2000, rows=4, label="Who works here, beside you", required=False,
        help_text="One name a line. Each gets an account for the bench, and you a one-time code to hand over.",
    )  # fmt: skip

    def clean_people(self) -> list[str]:
        names = [" ".join(line.split()) for line in self.cleaned_data["people"].splitlines()]
        names = list(dict.fromkeys(name for name in names if name))
        long = next((name for name in names if len(name) > 100), None)
        if long:
            raise ValidationError(f"“{long[:40]}…”: at most 100 letters a name, one name a line.")
        if len(names) > 20:
            raise ValidationError(f"That is {len(names)} people; at most 20 here, the others on the page Accounts.")
        return names

    @classmethod
    def initial_of(cls, row: Workshop) -> dict[str, Any]:
        return {}

    def values(self) -> dict[str, Any]:
        return {}
