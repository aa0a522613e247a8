"""Form fields for what people type at a bench: quantities with a unit, whole numbers, words.

What was typed stays in the box; `topout.units` says what it means. Where a value lies outside what is likely and a
slip of a decimal place or of the unit would explain it, the form asks: nothing is changed without an answer.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.datastructures import MultiValueDict

from topout import units
from topout.units import Typed, UnitFault

WRITTEN = {"degC": "°C", "degF": "°F", "deg": "°", "mm^2": "mm²", "cm^2": "cm²", "cm^3": "cm³"}

COMMA = "comma"  # code of the fault of a number that can be read two ways
SURE = "sure"  # hidden field: "name=text" that the person has looked at and stands by


def written(value: object) -> str:
    """A typed value as people write it: 66.2°, 19 °C; a word of the bench file without its hyphens."""
    text = str(value)
    number, _, unit = text.rpartition(" ")
    if not number:
        return text.replace("-", " ") if text[:1].isalpha() else text
    sign = WRITTEN.get(unit, unit)
    return number + ("" if sign == "°" else units.NO_BREAK) + sign


class TwoWays(UnitFault):
    """A number with a comma that may part decimals or thousands; `answers` holds both."""

    def __init__(self, answers: tuple[str, str]) -> None:
        super().__init__(f"is it {answers[0]} or {answers[1]}?")
        self.answers = answers


_WITH_COMMA = re.compile(r"([+-]?)([0-9]+),([0-9]+)(?![0-9.,])")
_IN_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}((?:\.[0-9]{3})+,[0-9]+|(?:,[0-9]{3})+\.[0-9]+)(?![0-9.,])")


def with_point(text: str) -> str:
    """A number as people here write it, with a decimal point: `5,6 bar` → `5.6 bar`, `1.234,5` → `1234.5`.

    Raises TwoWays for `1,234`, which is one and a bit or more than a thousand. Anything else comes back as it is.
    """
    text = text.strip()
    grouped = _IN_THOUSANDS.match(text)
    if grouped is not None:
        number = grouped.group()
        decimal = number[max(number.rfind("."), number.rfind(","))]
        return number.replace("," if decimal == "." else ".", "").replace(",", ".") + text[grouped.end() :]
    found = _WITH_COMMA.match(text)
    if found is None:
        return text
    sign, whole, parts = found.groups()
    rest = text[found.end() :]
    if len(parts) == 3 and len(whole) <= 3 and not whole.startswith("0"):
        raise TwoWays((f"{sign}{whole}.{parts}{rest}", f"{sign}{whole}{parts}{rest}"))
    return f"{sign}{whole}.{parts}{rest}"


@dataclass(frozen=True)
class PlausibleRange:
    """The span in SI that a bench sees on most days; outside it a second look is asked for."""

    low_si: float
    high_si: float

    def holds(self, value_si: float) -> bool:
        return self.low_si <= value_si <= self.high_si


@dataclass(frozen=True)
class Doubt:
    """A question about one field: what was typed, and the slips that would explain it, likeliest first."""

    field: str
    label: str
    text: str
    answers: tuple[str, ...]
    stands: str  # what the button "as typed" sends; "": it can't be left as it is

    @property
    def sentence(self) -> str:
        if not self.stands:
            return f"{self.label}: {self.text} can be read two ways. Is it {' or '.join(self.answers)}?"
        if not self.answers:
            return f"{self.label}: {self.text} is unusual. Look again, then say that it is so."
        return f"{self.label}: {self.text} is unusual. Was it {' or '.join(self.answers)}?"


class QuantityField(forms.CharField):
    """A number with a unit of `dimension`; a bare number counts as `unit`. Cleans to `Typed`, or None when empty."""

    def __init__(
        self,
        *,
        dimension: str,
        unit: str,
        low: float,
        high: float,
        likely: tuple[float, float] | None = None,
        signed: bool = False,
        first: str = "",
        **kwargs: Any,
    ) -> None:
        """`low`, `high`, `likely` in `unit`; with `first` a bare number counts as that unit instead; outside low to high the value is refused, outside likely asked about."""
        self.dimension, self.unit = dimension, unit
        self.low_si, self.high_si = units.to_si(low, unit, dimension), units.to_si(high, unit, dimension)
        self.low, self.high = low, high
        if first:
            self.count_in(first)
        self.likely = PlausibleRange(*(units.to_si(end, unit, dimension) for end in likely)) if likely else None
        self.signed = signed
        super().__init__(**kwargs)
        self._ask_in_unit()
        # A decimal pad on most tablets lacks the minus sign, so what may be negative gets the whole keyboard.
        self.widget.attrs.update(inputmode="text" if signed else "decimal", autocomplete="off", spellcheck="false")

    def count_in(self, unit: str) -> None:
        """Let a bare number count as this unit; what is refused and what is likely stays."""
        if unit == self.unit:
            return
        self.unit = unit
        self.low, self.high = (
            float(f"{units.from_si(end, unit, self.dimension):.4g}") for end in (self.low_si, self.high_si)
        )
        if hasattr(self, "error_messages"):
            self._ask_in_unit()

    def _ask_in_unit(self) -> None:
        """What is said where it is missing: the unit that a bare number counts as stands first in the example."""
        self.error_messages["required"] = f"Write it, as in {units.example(self.dimension, self.unit)}."

    @property
    def unit_written(self) -> str:
        """The unit as it stands in the label and beside the box."""
        return WRITTEN.get(self.unit, self.unit)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            typed = units.parse(with_point(text), self.dimension, self.unit)
        except TwoWays as asked:
            raise ValidationError(f"“{text[:40]}”: {asked}", code=COMMA) from None
        except UnitFault as fault:
            raise ValidationError(f"“{text[:40]}”: {fault}") from None
        slack = 1e-12 * max(abs(self.low_si), abs(self.high_si))
        if not self.low_si - slack <= typed.value_si <= self.high_si + slack:
            span = f"{self.low:g} to {self.high:g} {self.unit_written}"
            raise ValidationError(f"“{text[:40]}”: {span} is expected.{_slip(self, typed)}")
        return typed


def _slip(field: QuantityField, typed: Typed) -> str:
    answers = likely_slips(field, typed, PlausibleRange(field.low_si, field.high_si))
    return f" Is it {' or '.join(answers)}?" if answers else ""


def likely_slips(field: QuantityField, typed: Typed, within: PlausibleRange) -> tuple[str, ...]:
    """Texts that a slip of one decimal place or of the unit would have turned into what was typed, at most two."""
    match = re.match(r"[+-]?[\d.]+", typed.text.strip())
    if match is None:
        return ()
    number = Decimal(match.group())
    tries = [(number.scaleb(places), typed.unit) for places in (-1, 1)]
    tries += [(number, unit) for unit in units.TABLE[field.dimension] if unit != typed.unit]
    found = []
    for value, unit in tries:
        if within.holds(units.to_si(float(value), unit, field.dimension)):
            found.append(f"{value.normalize():f} {WRITTEN.get(unit, unit)}")
    return tuple(found[:2])


class CountField(forms.CharField):
    """A whole number from `low` to `high`. Cleans to int, or None when empty."""

    def __init__(self, *, low: int, high: int, **kwargs: Any) -> None:
        self.low, self.high = low, high
        kwargs.setdefault("error_messages", {})["required"] = f"Write a whole number from {low} to {high}."
        super().__init__(**kwargs)
        self.widget.attrs.update(inputmode="numeric", autocomplete="off")
        self.widget.attrs["class"] = "short"

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        if not re.fullmatch(r"[0-9]{1,6}", text) or not self.low <= int(text) <= self.high:
            raise ValidationError(f"“{text[:40]}”: a whole number from {self.low} to {self.high} is expected.")
        return int(text)


class WordsField(forms.CharField):
    """Words of a person; one line unless `rows` is given. Letters that no page can show are refused."""

    def __init__(
        self, *, letters: int, rows: int = 0, missing: str = "Write it in a few words.", **kwargs: Any
    ) -> None:
        self.letters, self.rows = letters, rows
        if rows:
            kwargs.setdefault("widget", forms.Textarea(attrs={"rows": rows}))
        kwargs.setdefault("error_messages", {})["required"] = missing
        super().__init__(**kwargs)

    def clean(self, value: Any) -> Any:
        text = super().clean(value).replace("\r\n", "\n")
        if len(text) > self.letters:
            raise ValidationError(f"That is {len(text)} letters; at most {self.letters} fit here.")
        allowed = "\n\t" if self.rows else ""
        # A space that keeps its words together is a space: the forms themselves offer "73 psi" with one.
        if any(not (sign.isprintable() or sign in allowed or unicodedata.category(sign) == "Zs") for sign in text):
            raise ValidationError("There is a sign in it that can’t be shown. Type it anew.")
        return text


class AskingForm(forms.Form):
    """A form whose quantities may be asked about. `likely()` gives what is likely where the job knows better."""

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(_mended(data) if data is not None else None, *args, **kwargs)
        self.doubts: list[Doubt] = []

    def likely(self, name: str) -> PlausibleRange | None:
        """What is likely for the field here; a form that knows the job's own numbers narrows it."""
        field = self.fields[name]
        return field.likely if isinstance(field, QuantityField) else None

    def sure_of(self) -> list[str]:
        """What the person stands by, as `name=text`."""
        return self.data.getlist(SURE) if hasattr(self.data, "getlist") else []

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        for name, field in self.fields.items():
            typed = data.get(name)
            span = self.likely(name)
            if self.has_error(name, COMMA):
                self._ask_of_comma(name)
            if not isinstance(field, QuantityField) or not isinstance(typed, Typed) or span is None:
                continue
            if span.holds(typed.value_si) or f"{name}={typed.text}" in self.sure_of():
                continue
            text = typed.text if typed.unit in typed.text else f"{typed.text} {field.unit_written}"
            doubt = Doubt(
                self.add_prefix(name), str(field.label), text, likely_slips(field, typed, span), f"{name}={typed.text}"
            )
            self.doubts.append(doubt)
            self.add_error(name, doubt.sentence)
        return data

    def _ask_of_comma(self, name: str) -> None:
        text = str(self.data.get(self.add_prefix(name), "")).strip()
        try:
            with_point(text)
        except TwoWays as asked:
            self.doubts.append(Doubt(self.add_prefix(name), str(self.fields[name].label), text, asked.answers, ""))

    def echo(self, name: str) -> str:
        """What was understood of a field, typed unit first, then the other system; empty where nothing was."""
        typed = getattr(self, "cleaned_data", {}).get(name)
        return echo(typed, self.fields[name]) if isinstance(typed, Typed) else ""


def echo(typed: Typed, field: Any) -> str:
    """`62 psi · 4.27 bar`; as many digits as were typed."""
    return units.show(typed.value_si, field.dimension, typed.unit, decimals=decimals(typed.text), second=True)


def with_unit(typed: Typed) -> str:
    """What was typed, with the unit it was taken in: `8.5` → `8.5 ml`."""
    number = units.number_of(typed.text)
    return typed.text if len(typed.text.strip()) > len(number) else f"{number} {typed.unit}"


def decimals(text: str) -> int:
    """How many digits stand after the point of what was typed."""
    match = re.match(r"\s*[+-]?\d*\.(\d+)", text)
    return len(match.group(1)) if match else 0


def _mended(data: Mapping[str, Any]) -> Any:
    """Take an answer to a question: `mend` = "name=text" puts that text into the box, `stand` stands by what is there."""
    if not isinstance(data, MultiValueDict):
        return data
    mend, stand = data.get("mend", ""), data.get("stand", "")
    if not (isinstance(mend, str) and isinstance(stand, str)):
        return data
    mended = data.copy()
    if "=" in mend:
        name, _, text = mend.partition("=")
        mended[name] = text
    if "=" in stand:
        mended.appendlist(SURE, stand)
    return mended
