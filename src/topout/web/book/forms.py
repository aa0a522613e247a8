"""Forms of the Book. The boxes for bench-file tables are drawn from the bench file's own model, key by key."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from topout.bench_file.say import NEGATIVES
from topout.errors import FaultsFound
from topout.procedures.roles import LOOKED_FOR
from topout.web.access import preferences
from topout.web.book import ends, pairs, worth
from topout.web.book import tables as bench_tables
from topout.web.book.kinds import EXTRAS, KINDS
from topout.web.book.models import UNIT_KINDS, Bike, Family, Rider, Unit
from topout.web.choices import NamedRowField, PickField
from topout.web.days import DayField
from topout.web.fields import WRITTEN, CountField, TwoWays, WordsField, with_point

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)


def box_name(table: str, word: str) -> str:
    """The form's name for a key: `fork.air`, `bore` → `fork-air-bore`."""
    return f"{table}-{word}".replace(".", "-")


def _field(table: str, word: str, key: bench_tables.Key) -> forms.Field:
    field: forms.Field
    if key.kind == "choice":
        choices = [("", "not known"), *((choice, NEGATIVES.get(choice, choice)) for choice in key.choices)]
        field = PickField(
            choices=choices,
            error_messages={"invalid_choice": f"One of {', '.join(words for _, words in choices[1:])} is expected."},
        )
    elif key.kind == "pairs":
        field = WordsField(letters=pairs.LETTERS, rows=6)
        field.widget.attrs.update(autocomplete="off", spellcheck="false")
    else:
        field = WordsField(letters=200)
        field.widget.attrs.update(autocomplete="off", spellcheck="false")
        if key.kind == "quantity" and key.low_si is not None and key.low_si >= 0 or key.kind in ("number", "count"):
            field.widget.attrs["inputmode"] = "decimal"
    field.required, field.label = False, bench_tables.label(word, table)
    field.help_text = key.says[:1].upper() + key.says[1:]
    if key.kind == "pairs":
        field.help_text += f". {pairs.says(key)}"
    return field


def own_unit(key: bench_tables.Key) -> str:
    """What a bare number of a quantity counts as, and what stands beside its box."""
    return preferences.unit(key.dimension, key.unit) if key.dimension else key.unit


def typed_value(text: str, key: bench_tables.Key) -> Any:
    """A box's text as the bench file holds it: a bare number gets its unit, a number without one becomes a number."""
    text = text.strip()
    if key.kind == "pairs":
        return pairs.typed(text, key)
    if key.kind in ("quantity", "number"):
        text = with_point(text)
    if key.kind == "quantity":
        return f"{text} {own_unit(key)}" if _NUMBER.fullmatch(text) else text
    if key.kind in ("number", "count") and _NUMBER.fullmatch(text) and len(text) <= 20:
        return int(text) if re.fullmatch(r"[+-]?\d+", text) else float(text)
    return text


class TablesForm(forms.Form):
    """Boxes for every key of some tables. `kept` is what stands there now, `below` what it is laid over."""

    table_names: tuple[str, ...] = ()
    part_of: Mapping[str, tuple[str, ...]] = {}  # of a table only these keys, under a title of its own

    def __init__(self, *args: Any, kept: bench_tables.Tables, below: bench_tables.Tables | None = None, **kwargs: Any):
        self.below = below or {}
        super().__init__(*args, **kwargs)
        for table in self.table_names:
            for word, key in self.keys(table):
                name = box_name(table, word)
                self.fields[name] = _field(table, word, key)
                value: Any = kept.get(table, {})
                for part in word.split("."):
                    value = value.get(part, {}) if isinstance(value, dict) else {}
                text = pairs.text_of(value) if key.kind == "pairs" else "" if value == {} else str(value)
                self.initial.setdefault(name, text)
        self.tables: bench_tables.Tables = {}

    def ask_how_known(self) -> None:
        """The box that says how what is written or changed here is known."""
        self.fields["known_by"] = PickField(
            label="What you write or change below was", choices=[("", "not noted"), *worth.WORTHS.items()], required=False,
            error_messages={"invalid_choice": "One of the answers is expected."},
        )  # fmt: skip

    def worth_of(self, row: Unit | Bike | Rider | None) -> dict[str, str]:
        """How each value is known now, of the row as it was before."""
        was = (row.tables, row.worth) if row is not None else ({}, {})
        return worth.after(was[0], self.tables, was[1], self.cleaned_data.get("known_by") or "")

    def keys(self, table: str) -> Iterator[tuple[str, bench_tables.Key]]:
        """The keys of a table that have a box here."""
        wanted = self.part_of.get(table)
        return ((word, key) for word, key in bench_tables.keys(table) if wanted is None or word in wanted)

    def plain_fields(self) -> Iterator[BoundField]:
        """The fields that are not a table's."""
        boxes = {name for _, group in self.groups() for name, _ in group}
        return (field for field in self if field.name not in boxes)

    def groups(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """Title of each table, and its boxes as (name, unit as it is written)."""
        return [
            (
                bench_tables.LINKAGE_TITLE if table in self.part_of else bench_tables.TITLES[table],
                [(box_name(table, word), WRITTEN.get(own_unit(key), own_unit(key))) for word, key in self.keys(table)],
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
            for word, key in self.keys(table):
                text = data.get(box_name(table, word)) or ""
                if not text:
                    continue
                here = typed.setdefault(table, {})
                *outer, last = word.split(".")
                for part in outer:
                    here = here.setdefault(part, {})
                try:
                    here[last] = typed_value(text, key)
                except TwoWays as asked:
                    self.add_error(box_name(table, word), f"“{text}”: {asked}")
                except pairs.RowFault as fault:
                    self.add_error(box_name(table, word), str(fault))
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
                if name in self.fields and isinstance(self.fields[name].widget, forms.Textarea):
                    self.add_error(name, bench_tables.in_words(pairs.in_rows(fault.message)))
                elif name in self.fields:
                    self.add_error(name, message)
                else:
                    self.add_error(None, f"{fault.location}: {message}")


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
        self.ask_how_known()
        self.fields["phone"].widget.attrs.update(inputmode="tel", autocomplete="off")
        self.fields["name"].widget.attrs.update(autocomplete="off")


class BikeForm(TablesForm):
    """A bike: its name, and its tables."""

    must = "Needed: which bike it is. The rest may stay empty; the plan says what it misses."

    table_names = (*bench_tables.BIKE, "shock")
    part_of: Mapping[str, tuple[str, ...]] = {"shock": bench_tables.LINKAGE}
    name = WordsField(letters=120, label="Bike", missing="Say which bike it is.", help_text="Model, size, wheels.")
    serial = WordsField(letters=80, label="Frame number", required=False)

    def __init__(self, *args: Any, bike: Bike | None = None, **kwargs: Any) -> None:
        if bike:
            kwargs["initial"] = {"name": bike.name, "serial": bike.serial}
        shocks = [unit for unit in bike.units.all() if unit.what.noun == "shock"] if bike else []
        self.brought = next((unit for unit in shocks if bench_tables.linkage(unit.whole_tables())), None)
        below = shocks[0].whole_tables() if shocks and self.brought is None else {}
        super().__init__(*args, kept=bike.tables if bike else {}, below=below, **kwargs)
        self.ask_how_known()

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.brought is not None:
            for word in self.tables.get("shock", {}):
                said = f"{self.brought} has a leverage of its own, which would stand before this one. Empty it there first."
                self.add_error(box_name("shock", word), said)
        return data


class _KindForm(TablesForm):
    """What unit and family share: their kind, which says what boxes there are. The page links to the other kinds."""

    kind = forms.ChoiceField(
        label="Kind", choices=list(UNIT_KINDS.items()), widget=forms.HiddenInput, required=False,
        error_messages={"invalid_choice": f"One of {', '.join(UNIT_KINDS.values())} is expected."},
    )  # fmt: skip

    def __init__(self, data: Any = None, *args: Any, kind: str, **kwargs: Any) -> None:
        """`kind` is what stands there now, or what was chosen on the page; what is sent with the form counts before it."""
        sent = str(data.get("kind", "")) if data is not None else ""
        self.of = KINDS[sent if sent in KINDS else kind]
        self.table_names = self.of.tables
        kwargs["initial"] = {**kwargs.get("initial", {}), "kind": self.of.key}
        super().__init__(data, *args, **kwargs)

    def clean_kind(self) -> str:
        return self.cleaned_data["kind"] or self.of.key


class UnitForm(_KindForm):
    """A unit: its name, its family, what is known beside the bench file, and its own tables, which stand before the family's."""

    must = "Needed: which unit it is. The rest may stay empty; the plan says what it misses."

    name = WordsField(letters=120, label="Unit", missing="Say which unit it is.", help_text="Model and what marks it.")
    serial = WordsField(letters=80, label="Serial number", required=False)
    family = NamedRowField(
        label="Family", queryset=Family.objects.all(), required=False, empty_label="none",
        help_text="The dimensions that all units of one model share. What is written here stands before them.",
        error_messages={"invalid_choice": "This family is not in the Book."},
    )  # fmt: skip

    def __init__(
        self, data: Any = None, *args: Any, unit: Any = None, bike: Bike | None = None, kind: str = "", **kwargs: Any
    ) -> None:
        self.bike = bike  # of a unit that is new
        if unit:
            kwargs["initial"] = {"name": unit.name, "serial": unit.serial, "family": unit.family_id}
        super().__init__(
            data, *args, kept=unit.tables if unit else {}, kind=kind or (unit.kind if unit else "fork"), **kwargs
        )
        self.unit = unit
        self.ask_how_known()
        # A bike has one fork and one shock: what stands there already comes off, and since when is asked.
        self.there = ends.at_end(bike, self.of.noun) if bike is not None else []
        if self.there:
            names = " and ".join(map(str, self.there))
            self.fields["instead"] = forms.BooleanField(label=f"{names}: off the bike now", required=False)
            self.fields["since"] = DayField(label="Changed on", required=False)
        known = unit.extras if unit else {}
        for extra in EXTRAS[self.of.key]:
            common: dict[str, Any] = {"label": extra.label, "help_text": extra.hint, "required": False}
            field = CountField(low=0, high=extra.most, **common) if extra.most else WordsField(letters=200, **common)
            self.fields[extra.key] = field
            self.initial.setdefault(extra.key, known.get(extra.key, ""))

    def clean_kind(self) -> str:
        kind = super().clean_kind()
        if self.unit is not None and KINDS[kind].noun != self.unit.what.noun:
            # By the end of the bike a job's plan, steps and sheet are read: a fork that became a shock would have none.
            for job in self.unit.jobs.exclude(frozenplans=None, stepentrys=None, releases=None).order_by("number")[:1]:
                raise forms.ValidationError(
                    f"Job {job.number} was planned or worked for a {self.unit.what.noun}. Put a {KINDS[kind].noun} in by itself."
                )
            if self.unit.bike is not None and (there := ends.at_end(self.unit.bike, KINDS[kind].noun)):
                raise forms.ValidationError(f"{ends.taken(self.unit.bike, there)} One of the two is off it first.")
        if self.unit is not None and KINDS[kind].spring != self.unit.what.spring:
            self._judge_spring(kind)
        return kind

    def _judge_spring(self, kind: str) -> None:
        """Steps of a coil let no air out: what was read with a gauge is no coil, and what is worked on stays what it is."""
        here = self.unit.jobs.filter(releases=None).order_by("number")
        worked = here.exclude(stepentrys=None).first()
        # A coil fork at which a look found an air valve is one on air: the Book is put right, the steps of a coil end there.
        look = worked.stepentrys.filter(evidence__has_key=LOOKED_FOR).order_by("sequence").last() if worked else None
        if worked is not None and (KINDS[kind].spring == "coil" or look is None or look.verdict != "failed"):
            raise forms.ValidationError(
                f"The steps of job {worked.number} are begun for a {self.unit.what.words}. It stays one until that is handed over."
            )
        read = here.filter(
            readings__kind__in=("pressure", "negative-pressure"), readings__value_si__gt=0, readings__corrected_by=None
        ).first()
        if read is not None and KINDS[kind].spring == "coil":
            raise forms.ValidationError(
                f"Job {read.number} read a pressure of it. A {KINDS[kind].words} has none: correct that reading first, where it was no pressure of this unit."
            )

    def clean_family(self) -> Family | None:
        family: Family | None = self.cleaned_data["family"]
        if family is not None and family.kind != self.of.key:
            raise forms.ValidationError(
                f"{family} is a family of the kind {family.get_kind_display()}; this is a {self.of.words}."
            )
        return family

    def clean(self) -> dict[str, Any]:
        family = self.cleaned_data.get("family")
        self.below = family.tables if family else {}
        bike = self.unit.bike if self.unit is not None else self.bike
        if bike is not None and self.of.noun == "shock":
            own = any(self.cleaned_data.get(box_name("shock", word)) for word in bench_tables.LINKAGE)
            self.below = bench_tables.fitted({} if own else bench_tables.linkage(bike.tables), self.below)
        if self.there and self.bike is not None:
            if not self.cleaned_data.get("instead"):
                said = f"{ends.taken(self.bike, self.there)} Tick that it is off, or leave this one out of that bike."
                self.add_error("instead", said)
            elif not self.cleaned_data.get("since") and "since" not in self.errors:
                self.add_error("since", "Write the day it was changed.")
        return super().clean()

    def unit_fields(self) -> dict[str, Any]:
        """The fields of a unit."""
        data = self.cleaned_data
        extras = {extra.key: data[extra.key] for extra in EXTRAS[self.of.key] if data[extra.key] not in (None, "")}
        return {
            **{key: data[key] for key in ("name", "serial", "kind", "family")},
            "tables": self.tables,
            "worth": self.worth_of(self.unit),
            "extras": extras,
        }


class FamilyForm(_KindForm):
    """A family of units: its name, where the dimensions come from, and its tables."""

    must = "Needed: the name. The rest may stay empty."

    name = WordsField(letters=120, label="Family", missing="Write the family’s name.")
    source = WordsField(letters=300, label="Where the dimensions come from", required=False)

    def __init__(
        self, data: Any = None, *args: Any, family: Family | None = None, kind: str = "", **kwargs: Any
    ) -> None:
        self.family = family
        if family:
            kwargs["initial"] = {"name": family.name, "source": family.source}
        super().__init__(
            data,
            *args,
            kept=family.tables if family else {},
            kind=kind or (family.kind if family else "fork"),
            **kwargs,
        )

    def clean_kind(self) -> str:
        kind = super().clean_kind()
        if self.family and kind != self.family.kind and self.family.units.exists():
            raise forms.ValidationError(
                f"Units of this family are in the Book as {self.family.get_kind_display()}. Add a family of its own."
            )
        return kind

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
