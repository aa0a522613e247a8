"""The form of one step, made from the evidence it asks for. What was typed stays; slips are asked about, never mended."""

from __future__ import annotations

from typing import Any

from django import forms

from topout.procedures.model import Evidence
from topout.units import Typed, from_si, show, to_si
from topout.web.access import preferences
from topout.web.choices import NamedField
from topout.web.fields import AskingForm, CountField, Doubt, PlausibleRange, QuantityField, likely_slips
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.readings.held import HoldingInput, PhotoField
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Instrument, Reading
from topout.web.jobs.steps import judged, sign
from topout.web.jobs.steps.progress import Progress, Slot

# What a box refuses outright, in the first unit of the dimension; likelier limits are the procedure's bands.
_LIMITS = {
    "length": ("mm", 0, 2000), "volume": ("ml", 0, 3000), "pressure": ("bar", 0, 60), "temperature": ("degC", -40, 60),
    "torque": ("N·m", 0, 300), "force": ("N", 0, 20_000), "mass": ("kg", 0, 300), "angle": ("deg", 0, 360),
    "rate": ("N/mm", 0, 5000), "area": ("mm^2", 0, 100_000),
}  # fmt: skip
_MOST_COUNTED = 999
_MOST_SMALL = 4  # volume spacers: as many as most caps take
GAUGE = "gauge"


class StepForm(AskingForm):
    """Boxes, choices, ticks and photos of a step. `answers()` gives what `steps.sign` takes, once it is valid."""

    def __init__(self, *args: Any, walk: Progress, slot: Slot, **kwargs: Any) -> None:
        self.walk, self.slot = walk, slot
        self.evidence = {each.key: each for each in slot.step.evidence}
        super().__init__(*args, **kwargs)
        self.on_card = _on_card(walk, slot)
        for each in slot.step.evidence:
            label, unit = walk.say(slot, each.label), unit_of(walk, each)
            if each.key in self.on_card:
                text = _said(self.on_card[each.key])
                self.fields[f"card-{each.key}"] = forms.BooleanField(
                    required=False, label=f"{label}: {text}, as on the card"
                )
            field = _field(each, label, unit, needed=not each.optional and each.key not in self.on_card)
            for clicks in ("rebound", "compression"):
                if f"{clicks}-range" in each.roles:  # a fact of the unit: counted once
                    field.initial = readings.clicks_in_all(
                        walk.job, clicks, walk.records.readings.get(("as-found", clicks))
                    )
            self.fields[each.key] = field
        if any(each.dimension == "pressure" for each in slot.step.evidence):
            self.fields[GAUGE] = NamedField(
                choices=[(each.code, str(each)) for each in walk.records.gauges], required=True, label="Gauge",
                initial=walk.instrument.code if walk.instrument else None,
                error_messages={"invalid_choice": "This gauge is not in the workshop.", "required": "Say which gauge it is."},
            )  # fmt: skip

    @property
    def instrument(self) -> Instrument | None:
        """The gauge that was named, else the job's."""
        named = getattr(self, "cleaned_data", {}).get(GAUGE, "")
        return self.walk.records.instruments.get(named, self.walk.instrument)

    def band(self, key: str, cleaned: dict[str, Any]) -> core_steps.Band | None:
        """The band of a number, with what was typed before it at this step; None where it can't be told yet."""
        typed = {name: value.value_si for name, value in cleaned.items() if isinstance(value, Typed)}
        try:
            return judged.band_of(self.walk, self.slot, self.evidence[key], typed, self.instrument)
        except core_steps.NotKnown:
            return None

    def likely(self, name: str) -> PlausibleRange | None:
        """The band is what is likely, but only where a slip would explain what lies outside it: the rest is kept as read.

        Where nothing should be read it is never asked: every charge is a slip of nothing, and the answer would pass it.
        """
        each, field, typed = self.evidence.get(name), self.fields[name], self.cleaned_data.get(name)
        if each is None or not isinstance(field, QuantityField) or not isinstance(typed, Typed):
            return None
        span = self.band(name, self.cleaned_data)
        if (
            span is None
            or not span.bounded
            or span.holds(typed.value_si)
            or (span.low_si is not None and span.low_si <= 0)
        ):
            return None
        low = span.low_si if span.low_si is not None else field.low_si
        high = span.high_si if span.high_si is not None else field.high_si
        near = PlausibleRange(low, high)
        return near if likely_slips(field, typed, near) else None

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for key in self.on_card:
            if not data.get(f"card-{key}") and data.get(key) is None and key not in self.errors:
                self.add_error(key, "Read it, or say that it stands as on the card.")
        return data

    def question(self) -> Doubt | None:
        """The question that is open, if any."""
        return self.doubts[0] if self.doubts else None

    def answers(self) -> dict[str, sign.Answer]:
        """What was given, by evidence key."""
        found: dict[str, sign.Answer] = {}
        for key, each in self.evidence.items():
            value = self.cleaned_data.get(key)
            if value is None and key in self.on_card and self.cleaned_data.get(f"card-{key}"):
                row = self.on_card[key]
                found[key] = sign.Answer(text=row.text, value_si=row.value_si, unit=row.unit, from_card=True)
            elif value not in (None, "", False):
                found[key] = _answer(each, value, str(self.data.get(f"first-{key}", ""))[:40])
        return found


def _answer(each: Evidence, value: Any, first: str) -> sign.Answer:
    if each.kind == "tick":
        return sign.Answer(tick=True)
    if each.kind == "choice":
        return sign.Answer(choice=str(value))
    if each.kind == "photo":
        return sign.Answer(photo=value)
    if isinstance(value, Typed):
        return sign.Answer(
            text=value.text, value_si=value.value_si, unit=value.unit, typed_first="" if first == value.text else first
        )
    return sign.Answer(text=str(value), value_si=float(value))


def unit_of(walk: Progress, each: Evidence) -> str:
    """What a bare number of this evidence counts as, and what stands beside its box: the gauge's unit, else the workshop's."""
    if each.dimension == "pressure" and each.unit == "psi":
        return core_steps.gauge_unit(walk.instrument)
    return preferences.unit(each.dimension, each.unit) if each.unit else ""


def _field(each: Evidence, label: str, own_unit: str, *, needed: bool) -> forms.Field:
    if each.kind == "tick":
        return forms.BooleanField(
            label=label, required=needed, error_messages={"required": f"{label}: say so, or stop here."}
        )
    if each.kind == "choice":
        return forms.ChoiceField(
            label=label, required=needed, choices=[(option, option) for option in each.options], widget=forms.RadioSelect,
            error_messages={"required": f"{label}: say which.", "invalid_choice": f"{label}: one of the answers shown is expected."},
        )  # fmt: skip
    if each.kind == "photo":
        widget = HoldingInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"})
        return PhotoField(
            label=label, required=needed, widget=widget,
            error_messages={"required": f"{label}: take a photo, or choose one.", "empty": "The photo is empty. Take it again.",
                            "invalid": "The photo did not come through. Send it again."},
        )  # fmt: skip
    if each.dimension == "count":
        return CountField(low=0, high=_MOST_COUNTED, label=label, required=needed)
    unit, low, high = _LIMITS[each.dimension]
    ends = [from_si(to_si(end, unit, each.dimension), each.unit, each.dimension) for end in (low, high)]
    if each.delta:
        ends[0] = -ends[1]
    return QuantityField(
        dimension=each.dimension, unit=each.unit, first=own_unit, low=ends[0], high=ends[1], label=label, required=needed,
        signed=each.delta or each.dimension == "temperature",
    )  # fmt: skip


def _on_card(walk: Progress, slot: Slot) -> dict[str, Reading]:
    """As-found readings that the card has already: nothing is asked twice."""
    rows = walk.records.readings
    return {
        each.key: rows[each.card]
        for each in slot.step.evidence
        if each.card is not None and each.card[0] == "as-found" and each.card in rows
    }


def wants_numbers(walk: Progress, slot: Slot) -> bool:
    """Whether a step asks for numbers alone, none of which the card has already: its keys may come at once."""
    needed = [each for each in slot.step.evidence if not each.optional]
    numbers = bool(needed) and all(each.kind == "number" for each in needed)
    return numbers and not _on_card(walk, slot) and not small_counts(walk, slot)


def small_counts(walk: Progress, slot: Slot) -> tuple[str, ...]:
    """The answers of a step that asks for one small count, expected to be one of them: a tap is quicker than keys."""
    needed = [each for each in slot.step.evidence if not each.optional]
    if len(needed) != 1 or needed[0].dimension != "count" or _on_card(walk, slot):
        return ()
    try:
        expected = walk.band(slot, needed[0], walk.found(slot)).expect_si
    except core_steps.NotKnown:
        return ()
    return (
        tuple(str(n) for n in range(_MOST_SMALL + 1)) if expected is not None and 0 <= expected <= _MOST_SMALL else ()
    )


def _said(row: Reading) -> str:
    if not row.dimension:
        return row.text
    return show(row.value_si, row.dimension, row.unit, second=True)
