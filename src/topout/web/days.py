"""Days and times of day as people type them: the year first, the day on 24 hours. Nothing is guessed."""

from __future__ import annotations

import re
from datetime import date, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

EXAMPLE_DAY = "2026-11-28"
EXAMPLE_TIME = "17:00"
YEARS = (2000, 2100)  # what lies outside is a slip of a digit


def read_day(text: str) -> date:
    """`2026-11-28` (ISO 8601). Raises ValueError whose text says what is wrong and how to mend it."""
    text = text.strip()
    match = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text, re.ASCII)
    if match is None:
        raise ValueError(f"write the year, the month and the day, as in {EXAMPLE_DAY}.{_meant(text)}")
    year, month, day = map(int, match.groups())
    if not YEARS[0] <= year <= YEARS[1]:
        raise ValueError(f"the year {year} is out of sight. Look at it again.")
    if not 1 <= month <= 12:
        raise ValueError(f"there is no month {month}. The month stands in the middle, as in {EXAMPLE_DAY}.")
    found = _day(year, month, day)
    if found is None:
        raise ValueError(f"that month has no day {day}.")
    return found


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _meant(text: str) -> str:
    """A question with every day that other ways of writing it would mean; it stays a question."""
    match = re.fullmatch(r"(\d{1,2})[./ -](\d{1,2})[./ -](\d{4})", text, re.ASCII)
    if match is not None:
        first, second, year = map(int, match.groups())
        days = [_day(year, second, first), _day(year, first, second)]
    else:
        match = re.fullmatch(r"(\d{4})[./ ]?(\d{1,2})[./ ]?(\d{1,2})", text, re.ASCII)
        days = [_day(*map(int, match.groups()))] if match is not None else []
    found = list(dict.fromkeys(f"{day:%Y-%m-%d}" for day in days if day is not None))
    return f" Is it {' or '.join(found)}?" if found else ""


def read_time(text: str) -> time:
    """`17:00`, `9:30`. Raises ValueError whose text says what is wrong and how to mend it."""
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", text.strip(), re.ASCII)
    if match is None:
        raise ValueError(f"write hours and minutes, as in {EXAMPLE_TIME}.")
    hours, minutes = map(int, match.groups())
    if hours > 23 or minutes > 59:
        raise ValueError("a time from 00:00 to 23:59 is expected.")
    return time(hours, minutes)


class DayField(forms.CharField):
    """A day, typed. Cleans to `date`, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"help_text": f"Year, month, day: {EXAMPLE_DAY}.", **kwargs})
        # Numbers and hyphens stand together on no small keypad, so the whole keyboard comes up.
        self.widget.attrs.update(autocomplete="off", spellcheck="false")
        self.widget.attrs["class"] = "short"

    def prepare_value(self, value: Any) -> Any:
        return f"{value:%Y-%m-%d}" if isinstance(value, date) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_day(text)
        except ValueError as fault:
            raise ValidationError(f"“{text[:40]}”: {fault}") from None


class TimeOfDayField(forms.CharField):
    """A time of day, typed. Cleans to `time`, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"help_text": f"Hours and minutes: {EXAMPLE_TIME}.", **kwargs})
        self.widget.attrs.update(autocomplete="off", spellcheck="false")
        self.widget.attrs["class"] = "short"

    def prepare_value(self, value: Any) -> Any:
        return f"{value:%H:%M}" if hasattr(value, "hour") else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_time(text)
        except ValueError as fault:
            raise ValidationError(f"“{text[:40]}”: {fault}") from None
