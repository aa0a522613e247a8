"""Forms of the Book. The boxes for bench-file tables are drawn from the bench file's own model, key by key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from topout.errors import FaultsFound
from topout.web.book import tables as bench_tables
from topout.web.book.models import UNIT_KINDS, Bike, Family, Rider
from topout.web.fields import WRITTEN, WordsField

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)


def box_name(table: str, word: str) -> str:
    """The form's name for a key: `fork.air`, `bore` → `fork-air-bore`."""
    return f"{table}-{word}".replace(".", "-")


def _field(word: str, key: bench_tables.Key) -> forms.Field:
    field: forms.Field
    if key.kind == "choice":
        choices = [("", "not said"), *((choice, choice) for choice in key.choices)]
        field = forms.ChoiceField(
            choices=choices, error_messages={"invalid_choice": f"One of {', '.join(key.choices)} is expected."}
        )
    else:
        field = WordsField(letters=200)
        field.widget.attrs.update(autocomplete="off", spellcheck="false")
        if key.kind == "quantity" and key.low_si is not None and key.low_si >= 0 or key.kind in ("number", "count"):
            field.widget.attrs["inputmode"] = "decimal"
    field.required, field.label = False, bench_tables.label(word)
    field.help_text = key.says[:1].upper() + key.says[1:]
    return field


def typed_value(text: str, key: bench_tables.Key) -> Any:
    """A box's text as the bench file holds it: a bare number gets its unit, a number without one becomes a number."""
    text = text.strip()
    if key.kind == "quantity":
        return f"{text} {key.unit}" if _NUMBER.fullmatch(text) else text
    if key.kind in ("number", "count") and _NUMBER.fullmatch(text) and len(text) <= 20:
        return int(text) if re.fullmatch(r"[+-]?\d+", text) else float(text)
    return text


class TablesForm(forms.Form):
    """Boxes for every key of some tables. `kept` is what stands there now, `below` what it is laid over."""

    table_names: tuple[str, ...] = ()

    def __init__(self, *args: Any, kept: bench_tables.Tables, below: bench_tables.Tables | None = None, **kwargs: Any):
        self.below = below or {}
        super().__init__(*args, **kwargs)
        for table in self.table_names:
            for word, key in bench_tables.keys(table):
                name = box_name(table, word)
                self.fields[name] = _field(word, key)
                value: Any = kept.get(table, {})
                for part in word.split("."):
                    value = value.get(part, {}) if isinstance(value, dict) else {}
                self.initial.setdefault(name, "" if value == {} else str(value))
        self.tables: bench_tables.Tables = {}

    def plain_fields(self) -> Iterator[BoundField]:
        """The fields that are not a table's."""
        boxes = {name for _, group in self.groups() for name, _ in group}
        return (field for field in self if field.name not in boxes)

    def groups(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """Title of each table, and its boxes as (name, unit as it is written)."""
        return [
            (
                bench_tables.TITLES[table],
                [(box_name(table, word), WRITTEN.get(key.unit, key.unit)) for word, key in bench_tables.keys(table)],
            )
            for table in self.table_names
        ]

    def drawn_groups(self) -> list[tuple[str, list[tuple[BoundField, str]], bool]]:
        """For the page: title, boxes with their units, and whether anything stands in it or is at fault."""
        drawn = []
        for title, boxes in self.groups():
            bound = [(self[name], unit) for name, unit in boxes]
            drawn.append((title, bound, any(field.value() or field.errors for field, _ in bound)))
        return drawn

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        typed: bench_tables.Tables = {}
        for table in self.table_names:
            for word, key in bench_tables.keys(table):
                text = data.get(box_name(table, word)) or ""
                if not text:
                    continue
                here = typed.setdefault(table, {})
                *outer, last = word.split(".")
                for part in outer:
                    here = here.setdefault(part, {})
                here[last] = typed_value(text, key)
        self._judge(typed)
        self.tables = typed
        return data

    def _judge(self, typed: bench_tables.Tables) -> None:
        """Every finding of the bench file's reader, at its box."""
        try:
            bench_tables.read(bench_tables.merged(self.below, typed))
        except FaultsFound as found:
            for fault in found.faults:
                name = fault.key.replace(".", "-")
                message = f"{fault.value}: {fault.message}" if fault.value else fault.message
                if name in self.fields:
                    self.add_error(name, message)
                else:
                    self.add_error(None, f"{fault.place}: {message}")


class RiderForm(TablesForm):
    """A rider: how to reach them, and what they weigh dressed to ride."""

    must = "Needed: the name. The rest may stay empty."

    table_names = bench_tables.RIDER
    name = WordsField(letters=120, label="Name", missing="Write the rider’s name.")
    phone = WordsField(letters=60, label="Telephone", required=False)
    email = forms.EmailField(
        label="E-mail", required=False, max_length=254,
        error_messages={"invalid": "An address such as name@example.org is expected.", "max_length": "At most 254 letters."},
    )  # fmt: skip
    address = WordsField(letters=400, rows=3, label="Address", required=False)

    def __init__(self, *args: Any, rider: Rider | None = None, **kwargs: Any) -> None:
        self.rider = rider
        if rider:
            kwargs["initial"] = {name: getattr(rider, name) for name in ("name", "phone", "email", "address")}
        super().__init__(*args, kept=rider.tables if rider else {}, **kwargs)
        self.fields["phone"].widget.attrs.update(inputmode="tel", autocomplete="off")
        self.fields["name"].widget.attrs.update(autocomplete="off")


class BikeForm(TablesForm):
    """A bike: its name, and its tables."""

    must = "Needed: which bike it is. The rest may stay empty; the plan says what it misses."

    table_names = bench_tables.BIKE
    name = WordsField(letters=120, label="Bike", missing="Say which bike it is.", help_text="Model, size, wheels.")
    serial = WordsField(letters=80, label="Frame number", required=False)

    def __init__(self, *args: Any, bike: Bike | None = None, **kwargs: Any) -> None:
        if bike:
            kwargs["initial"] = {"name": bike.name, "serial": bike.serial}
        super().__init__(*args, kept=bike.tables if bike else {}, **kwargs)


class UnitForm(TablesForm):
    """A fork: its name, its family, and its own tables, which stand before the family's."""

    must = "Needed: which unit it is, and its kind. The rest may stay empty; the plan says what it misses."

    table_names = bench_tables.UNIT
    name = WordsField(letters=120, label="Unit", missing="Say which unit it is.", help_text="Model and what marks it.")
    serial = WordsField(letters=80, label="Serial number", required=False)
    kind = forms.ChoiceField(
        label="Kind", choices=list(UNIT_KINDS.items()), initial="fork",
        error_messages={"required": "Say whether it is a fork or a rear shock.", "invalid_choice": "A fork or a rear shock is expected."},
    )  # fmt: skip
    family = forms.ModelChoiceField(
        label="Family", queryset=Family.objects.all(), required=False, empty_label="none",
        help_text="The dimensions that all units of one model share. What is written here stands before them.",
        error_messages={"invalid_choice": "This family is not in the Book."},
    )  # fmt: skip

    def __init__(self, *args: Any, unit: Any = None, **kwargs: Any) -> None:
        if unit:
            kwargs["initial"] = {
                "name": unit.name, "serial": unit.serial, "kind": unit.kind, "family": unit.family_id,
            }  # fmt: skip
        super().__init__(*args, kept=unit.tables if unit else {}, **kwargs)

    def clean(self) -> dict[str, Any]:
        family = self.cleaned_data.get("family")
        self.below = family.tables if family else {}
        return super().clean()


class FamilyForm(TablesForm):
    """A family of units: its name, where the dimensions come from, and its tables."""

    must = "Needed: the name. The rest may stay empty."

    table_names = bench_tables.UNIT
    name = WordsField(letters=120, label="Family", missing="Write the family’s name.")
    source = WordsField(letters=300, label="Where the dimensions come from", required=False)

    def __init__(self, *args: Any, family: Family | None = None, **kwargs: Any) -> None:
        self.family = family
        if family:
            kwargs["initial"] = {"name": family.name, "source": family.source}
        super().__init__(*args, kept=family.tables if family else {}, **kwargs)

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        same = Family.objects.filter(name__iexact=name)
        if (same.exclude(pk=self.family.pk) if self.family else same).exists():
            raise forms.ValidationError(f"There is a family {name} already. Change that one, or name this one apart.")
        return name


class ImportForm(forms.Form):
    """A bench file, as a file or as text; its tables go to a bike and a unit in the Book."""

    must = "Needed: a bench file, as a file or as text, and names for bike and unit."

    file = forms.FileField(label="Bench file", required=False)
    text = WordsField(letters=262_144, rows=12, label="or its text", required=False)
    bike_name = WordsField(letters=120, label="Bike", missing="Say which bike it is.")
    unit_name = WordsField(letters=120, label="Unit", missing="Say which unit it is.")

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if not data.get("file") and not data.get("text") and not self.errors:
            self.add_error("file", "Choose a file, or write its text below.")
        return data
