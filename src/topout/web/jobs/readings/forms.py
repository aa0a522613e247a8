"""Forms for readings: as found, as left, and correcting one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms

from topout import units
from topout.units import Typed
from topout.web.access import preferences
from topout.web.choices import NamedRowField, PickField
from topout.web.fields import AskingForm, CountField, PlausibleRange, QuantityField, WordsField
from topout.web.groups import Group, order
from topout.web.jobs import core
from topout.web.jobs.core import hoses
from topout.web.jobs.readings.held import PhotosField
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import BESIDE, POSTURES, Kind
from topout.web.jobs.records.models import Instrument, Job
from topout.web.jobs.records.readings import Taken

NO_GAUGE = "Say which gauge it was: its hose counts."


def value_field(kind: Kind, required: bool = False) -> forms.Field:
    """The box for a kind's value."""
    if kind.dimension:
        field = QuantityField(
            dimension=kind.dimension, unit=kind.unit, low=kind.low, high=kind.high, likely=kind.likely,
            first=preferences.unit(kind.dimension, kind.unit), signed=kind.low < 0, label=kind.label, help_text=kind.hint, required=required,
        )  # fmt: skip
        # What is understood stands under the box while it is typed; without script it stands there once it is sent.
        field.widget.attrs.update({
            "hx-get": "/understood/", "hx-include": "[name=drawn_in]", "hx-trigger": "change, keyup changed delay:300ms", "hx-target": f"#id_{kind.key}_echo",
        })  # fmt: skip
        return field
    return CountField(low=int(kind.low), high=int(kind.high), label=kind.label, help_text=kind.hint, required=required)


class InstrumentField(NamedRowField):
    """An instrument of one kind that is in use."""

    def __init__(self, kind: str, **kwargs: Any) -> None:
        super().__init__(
            Instrument.objects.filter(kind=kind, retired_at=None), to_field_name="code", empty_label="not noted",
            error_messages={"invalid_choice": "This instrument is not in the workshop."}, **kwargs,
        )  # fmt: skip

    def take_the_only_one(self) -> None:
        """Where the workshop has one such instrument it is not asked for."""
        known = list(self.queryset[:2]) if self.queryset is not None else []
        if len(known) == 1:
            self.initial, self.widget = known[0].code, forms.HiddenInput()  # type: ignore[assignment]

    def any_known(self) -> bool:
        """Whether the workshop has one: a choice without an answer is not asked."""
        return self.queryset is not None and self.queryset.exists()


def _add_kind(form: forms.Form, kind: Kind, required: bool = False) -> None:
    form.fields[kind.key] = value_field(kind, required)
    if kind.pressure:
        gauge = InstrumentField("gauge", label=f"{kind.label}, gauge", required=False)
        gauge.take_the_only_one()
        form.fields[f"{kind.key}-gauge"] = gauge
    if kind.clicks:
        form.fields[f"{kind.key}-of"] = CountField(low=1, high=60, label=f"{kind.label}, of how many", required=False)
    if kind.posture:
        form.fields[f"{kind.key}-posture"] = PickField(
            label=f"{kind.label}, taken", choices=[("", "not noted"), *POSTURES.items()], required=False,
            error_messages={"invalid_choice": "Standing or seated is expected."},
        )  # fmt: skip


class _Readings(AskingForm):
    """What the two forms share: reading the boxes of a kind into a `Taken`."""

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        self.job = job
        super().__init__(*args, **kwargs)

    def likely(self, name: str) -> PlausibleRange | None:
        """Narrowed by what the Book says of the unit."""
        usual = super().likely(name)
        if usual is None or self.job.unit is None:
            return usual
        book, noun = self.job.unit.whole_tables(), self.job.unit.what.noun
        own, air = book.get(noun, {}), book.get(f"{noun}.air", {})
        if name == "pressure" and "pressure_limit" in air:
            return PlausibleRange(usual.low_si, max(usual.low_si, _si(air["pressure_limit"], "pressure")))
        full = own.get("travel" if noun == "fork" else "stroke")
        if name in ("sag", "stroke-sag") and full is not None:
            return PlausibleRange(0.05 * _si(full, "length"), 0.5 * _si(full, "length"))
        return usual

    def _judge(self, kind: Kind) -> None:
        """What a kind's boxes must hold together."""
        data = self.cleaned_data
        value = data.get(kind.key)
        if value is None:
            for extra in ("of", "posture"):
                name = f"{kind.key}-{extra}"
                beside = data.get(name) and data[name] != self.get_initial_for_field(self.fields[name], name)
                if beside and kind.key not in self.errors:
                    self.add_error(kind.key, f"Write the {kind.label.lower()} too, or leave both out.")
            return
        if kind.pressure and not data.get(f"{kind.key}-gauge"):
            self.add_error(f"{kind.key}-gauge", NO_GAUGE)
        if kind.clicks:
            of = data.get(f"{kind.key}-of")
            if of is None and f"{kind.key}-of" not in self.errors:
                self.add_error(f"{kind.key}-of", f"{kind.label}: write how many clicks there are in all.")
            elif of is not None and value > of:
                self.add_error(kind.key, f"{value} of {of} clicks: at most {of} is expected, counted from closed.")
        if kind.posture and not data.get(f"{kind.key}-posture"):
            self.add_error(f"{kind.key}-posture", "Say how the rider stood or sat.")

    def _taken(self, kind: Kind, temperature_k: float | None) -> Taken | None:
        data = self.cleaned_data
        value = data.get(kind.key)
        if value is None:
            return None
        if not isinstance(value, Typed):
            return Taken.count(kind.key, value, of_range=data.get(f"{kind.key}-of"))
        more: dict[str, Any] = {"posture": data.get(f"{kind.key}-posture") or ""}
        if kind.pressure or kind.posture:
            more["temperature_k"] = temperature_k
        if kind.pressure:
            gauge = data[f"{kind.key}-gauge"]
            more |= {"instrument": gauge, **hose_correction(self.job, value, gauge, kind.key)}
        elif kind.dimension == "length":
            more["instrument"] = data.get("tape")
            if kind.key == "stroke-sag":
                more["note"] = self._of_stroke(value)
        elif kind.dimension == "temperature":
            more["instrument"] = data.get("thermometer")
        return Taken.quantity(kind.key, value, kind.dimension, **more)

    def _of_stroke(self, sag: Typed) -> str:
        """Sag as a share of the stroke, by the stroke of this form, of the job, or of the Book; "" where none is known."""
        typed = self.cleaned_data.get("stroke")
        read = readings.current(self.job, "as-found").get("stroke")
        book = self.job.unit.whole_tables().get("shock", {}) if self.job.unit else {}
        if isinstance(typed, Typed):
            stroke = typed.value_si
        elif read is not None:
            stroke = read.value_si
        elif "stroke" in book:
            stroke = _si(book["stroke"], "length")
        else:
            return ""
        share = units.show(sag.value_si / stroke, "share", "%")
        return f"{share} of a stroke of {units.from_si(stroke, 'mm', 'length'):.6g}{units.NO_BREAK}mm"


GROUPS = (
    Group("Pressure", (("pressure", "temperature", "pressure-gauge"),), close=True),
    Group("Lengths and clicks", (
        ("coil-rate", "preload"),
        ("spacers", "exposed-length", "sag", "sag-posture", "stroke-sag", "stroke-sag-posture"),
        ("rebound", "rebound-of", "compression", "compression-of"),
    ), close=True),
    Group("Can opened", (("can-bore", "can-body", "can-volume"),), folded=True),
    Group("What we saw", (("condition",), ("photos",), ("photos-of",))),
    Group("Read less often", (
        ("negative-pressure", "negative-pressure-gauge"), ("gas-pressure", "gas-pressure-gauge"),
        ("negative-spacers", "travel"), ("length", "stroke"), ("own-pump",), ("wheel-mass", "hours"), ("tape", "thermometer"),
    ), folded=True),
)  # fmt: skip


def groups_of(form: forms.Form) -> tuple[Group, ...]:
    """The groups of one form: a coil has no pressure to head the first."""
    return GROUPS if "pressure" in form.fields else (replace(GROUPS[0], title="Temperature"), *GROUPS[1:])


class ReadingsForm(_Readings):
    """Readings of one stage, with words on the condition and photos. Only what is filled in is kept."""

    must = "Write what was read, leave the rest empty. You can write psi or bar, mm or in behind a number."

    def __init__(self, *args: Any, kinds: tuple[Kind, ...], stage: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kinds, self.stage = kinds, stage
        found = readings.current(self.job, "as-found")
        for kind in self.kinds:
            _add_kind(self, kind)
            self.fields[kind.key].help_text = self._hint(kind)
            if kind.clicks:  # a fact of the unit: counted once
                self.fields[f"{kind.key}-of"].initial = readings.clicks_in_all(self.job, kind.key, found.get(kind.key))
        for name, label in (("tape", "Lengths taken with"), ("thermometer", "Temperature taken with")):
            taken_with = InstrumentField(name, label=label, required=False)
            if taken_with.any_known():
                self.fields[name] = taken_with
        self.fields["condition"] = WordsField(
            letters=500, rows=2, label="Condition", required=False, help_text="Marks, oil, play, what is missing.",
        )  # fmt: skip
        self.fields["photos"] = PhotosField(label="Photos", required=False)
        self.fields["photos-of"] = WordsField(letters=200, label="What the photos show", required=False)
        self.order_fields(order(GROUPS))

    def _hint(self, kind: Kind) -> str:
        """The kind's hint; as found, how the last job left it too: to look at, never filled in beforehand."""
        if self.stage == "as-left":
            return kind.hint_left or kind.hint
        last = self.job.unit.left if self.job.unit else {}
        words = last.get("readings", {}).get(kind.key, "").removesuffix(f", {kind.hint.lower().rstrip('.')}")
        if kind.key == "temperature":
            return kind.hint  # the air's, on another day
        known = f"Left at {words}, job {last['job']}." if words and last["job"] != self.job.number else ""
        return f"{kind.hint} {known}".strip()

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for kind in self.kinds:
            self._judge(kind)
        nothing = all(data.get(kind.key) is None for kind in self.kinds)
        if nothing and not self.errors and not data.get("condition") and not data.get("photos"):
            self.add_error(None, "Nothing is written yet. Write at least one reading.")
        if data.get("photos") and not data.get("photos-of") and "photos-of" not in self.errors:
            self.add_error("photos-of", "Say in a few words what the photos show.")
        return data

    def taken(self) -> list[Taken]:
        """Every reading that was filled in."""
        temperature = self.cleaned_data.get("temperature")
        kelvin = temperature.value_si if isinstance(temperature, Typed) else None
        found = (self._taken(kind, kelvin) for kind in self.kinds)
        return [one for one in found if one is not None]


class CorrectForm(_Readings):
    """A new reading in place of one that is wrong, with the reason."""

    must = "Needed: the new reading, all that belongs to it, and why the first one is wrong."

    def __init__(self, *args: Any, kind: Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        _add_kind(self, kind, required=True)
        self.fields["reason"] = WordsField(
            letters=300, label="Why the first one is wrong", missing="Say why the first reading is wrong.",
            help_text="It stays on the card, struck, with this beside it.",
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self._judge(self.kind)
        return data

    def taken(self) -> Taken:
        one = self._taken(self.kind, None)
        assert one is not None
        return one


def hose_correction(job: Job, typed: Typed, gauge: Instrument, kind: str = "pressure") -> dict[str, Any]:
    """What pushing an empty hose on took, by `hoses`, from the chamber that the Book knows."""
    unit = core.other_end(job) if kind in BESIDE else job.unit
    known = unit is not None and kind != "gas-pressure"  # behind the damper's rod: no chamber of the Book's
    chambers = core.chambers(unit.whole_tables(), typed.value_si) if unit and known else None
    return hoses.correction(BESIDE.get(kind, kind), typed.value_si, gauge, chambers)


def _si(text: str, dimension: str) -> float:
    return units.parse(text, dimension).value_si
