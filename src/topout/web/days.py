"""Days and times as people write and say them here: "tomorrow 16:30", "Friday", "in 3 days", "28.11.", "4 pm".

What can be read two ways is asked about, with both; nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from topout.web import clock

EXAMPLE = "“tomorrow 16:30”, “Friday”, “in 3 days”, “28 Nov 17:00”"
OF_BEFORE = "“today”, “yesterday”, “28 Nov”, “28.11.2026”"
CLOSING = time(17, 0)  # where a day is named without a time
YEARS = (2000, 2100)  # what lies outside is a slip of a digit
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december",
)  # fmt: skip
NUMBERS = ("a", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True)
class When:
    """A day, and a time of it where one was said."""

    day: date
    at: time | None = None

    @property
    def local(self) -> datetime:
        """The moment, in the workshop's zone."""
        return timezone.make_aware(datetime.combine(self.day, self.at or CLOSING))


def said(when: datetime) -> str:
    """How a moment is echoed: `Tuesday 1 December 2026, 16:30`."""
    return f"{when:%A} {when.day} {when:%B %Y, %H:%M}"


def picks(now: datetime) -> tuple[str, ...]:
    """What is promised most, in words that are read the same: closing time today while that is ahead, tomorrow, the working days after it, in a week."""
    days = [now.date() + timedelta(days=ahead) for ahead in range(1, 6)]
    working = [day for day in days[1:] if day.weekday() < 5]
    told = [f"today {CLOSING:%H:%M}"] if now.time() < CLOSING else []
    told += ["tomorrow"] if days[0].weekday() < 6 else []
    return (*told, *(f"{day:%A}" for day in working[: 5 - len(told) - 1]), "in a week")


def read_when(text: str, now: datetime) -> When:
    """What was written, seen from `now` (local time). Raises ValueError whose text says what is wrong, or asks."""
    words = " ".join(text.lower().replace(",", " ").split())
    if len(words) > 60 or not words.isascii():
        raise ValueError(f"write a day, as in {EXAMPLE}.")
    rest, at = _time_of(words)
    rest = rest.removeprefix("on ").removeprefix("by ").strip()
    day = _day_of(rest, at, now) if rest else now.date()
    if not rest and at is not None and at <= now.time():
        raise ValueError(f"{at:%H:%M} is over today. Write the day too.")
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise ValueError(f"the year {day.year} is out of sight. Look at it again.")
    return When(day, at)


_TIMES: tuple[tuple[str, Callable[[re.Match[str]], tuple[int, int]]], ...] = (
    (r"(?:(?:at|by) )?(\d{1,2}):(\d{2})(?: ?h)?", lambda m: (int(m[1]), int(m[2]))),
    (
        r"(?:(?:at|by) )?(\d{1,2})(?:[:.](\d{2}))? ?([ap])\.?m\.?",
        lambda m: (_of_twelve(int(m[1]), m[3]), int(m[2] or 0)),
    ),
    (r"(?:(?:at|by) )?(\d{1,2}) ?h ?(\d{2})?", lambda m: (int(m[1]), int(m[2] or 0))),
    (r"(?:at|by) (\d{1,2})\.(\d{2})", lambda m: (int(m[1]), int(m[2]))),
    (r"(?:at |by )?noon", lambda m: (12, 0)),
)


def _of_twelve(hour: int, half: str) -> int:
    return 99 if not 1 <= hour <= 12 else hour % 12 + (12 if half == "p" else 0)


def _time_of(words: str) -> tuple[str, time | None]:
    """The words without the time of day that stands at their end or beginning, and that time."""
    for pattern, told in _TIMES:
        match = re.search(rf"(?:^|(?<= )){pattern}$", words) or re.match(rf"{pattern}(?= |$)", words)
        if match is None:
            continue
        hour, minute = told(match)
        if hour > 23 or minute > 59:
            raise ValueError("a time from 00:00 to 23:59 is expected.")
        return (words[: match.start()] + words[match.end() :]).strip(), time(hour, minute)
    return words, None


def _day_of(words: str, at: time | None, now: datetime) -> date:
    today = now.date()
    near = {"today": 0, "tonight": 0, "tomorrow": 1, "day after tomorrow": 2, "the day after tomorrow": 2}
    if words in near:
        return today + timedelta(days=near[words])
    match = re.fullmatch(rf"in (?:(\d{{1,3}})|(an?|{'|'.join(NUMBERS[1:])})) (day|week)s?", words)
    if match is not None:
        count = int(match[1]) if match[1] else NUMBERS.index("a" if match[2] == "an" else match[2]) + 1
        return today + timedelta(days=count * (7 if match[3] == "week" else 1))
    match = re.fullmatch(r"(next |this )?([a-z]{3,9})", words)
    if match is not None:
        weekday = _one_of(WEEKDAYS, match[2])
        if weekday is not None:
            return _weekday(weekday, match[1] or "", at, now)
    return _dated(_without_weekday(words), today)


def _one_of(names: tuple[str, ...], word: str) -> int | None:
    """The name that begins so, by three letters or more: "Thurs", "Sept"."""
    found = [nth for nth, name in enumerate(names) if len(word) >= 3 and name.startswith(word)]
    return found[0] if len(found) == 1 else None


def _weekday(weekday: int, which: str, at: time | None, now: datetime) -> date:
    ahead = (weekday - now.weekday()) % 7
    first = now.date() + timedelta(days=ahead)
    later = first + timedelta(days=7)
    if which == "next " and ahead:
        raise ValueError(f"is it {_short(first)} or {_short(later)}? Write the date.")
    if which == "next ":
        return later
    if not ahead and not which and (at is None or at <= now.time()):
        raise ValueError(f"is it today or {_short(later)}? Write “today”, or the date.")
    return first


def _short(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _without_weekday(words: str) -> str:
    """`fri 4 dec` → `4 dec`: the date counts. A weekday that is not the date's is found by the person, in the echo."""
    first, _, rest = words.partition(" ")
    return rest if rest and _one_of(WEEKDAYS, first.rstrip(".")) is not None else words


def _dated(words: str, today: date) -> date:
    iso = re.fullmatch(r"(\d{4})[-./ ](\d{1,2})[-./ ](\d{1,2})", words)
    if iso is not None:
        return _built(int(iso[1]), int(iso[2]), int(iso[3]))
    named = re.fullmatch(r"(\d{1,2})(?:st|nd|rd|th|\.)? ?(?:of )?([a-z]{3,9})\.?(?: (\d{4}))?", words)
    if named is None and (turned := re.fullmatch(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?(?: (\d{4}))?", words)):
        month, day, year = _one_of(MONTHS, turned[1]), int(turned[2]), turned[3]
    elif named is not None:
        month, day, year = _one_of(MONTHS, named[2]), int(named[1]), named[3]
    else:
        return _numbered(words, today)
    if month is None:
        raise ValueError(f"write a day, as in {EXAMPLE}.")
    return _built(int(year), month + 1, day) if year else _coming(month + 1, day, today)


def _numbered(words: str, today: date) -> date:
    """`28.11.`, `28/11/2026`: dots put the day first everywhere; with strokes it may be the month."""
    match = re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})(?:\2(\d{4})?)?", words)
    if match is None:
        raise ValueError(f"write a day, as in {EXAMPLE}.")
    one, two, year = int(match[1]), int(match[3]), match[4]

    def built(day: int, month: int) -> date:
        return _built(int(year), month, day) if year else _coming(month, day, today)

    if match[2] == "." or one > 12 or one == two:
        return built(one, two)
    if two > 12:
        return built(two, one)
    raise ValueError(f"is it {built(one, two):%-d %B} or {built(two, one):%-d %B}? Write the month as a word.")


def _built(year: int, month: int, day: int) -> date:
    if not 1 <= month <= 12:
        raise ValueError(f"there is no month {month}.")
    try:
        return date(year, month, day)
    except ValueError:
        raise ValueError(
            f"that month has no day {day}." if 1 <= year <= 9999 else f"there is no year {year}."
        ) from None


def _coming(month: int, day: int, today: date) -> date:
    """The next such day, today's among them."""
    for year in range(today.year, today.year + 9):
        try:
            found = _built(year, month, day)
        except ValueError:
            if (month, day) == (2, 29):
                continue
            raise
        if found >= today:
            return found
    raise ValueError(f"that month has no day {day}.")


class WhenField(forms.CharField):
    """A day and a time, in words. Cleans to an aware datetime, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"help_text": f"{EXAMPLE}. Without a time it is {CLOSING:%H:%M}.", **kwargs})
        self.widget.attrs.update(autocomplete="off", spellcheck="false")

    @property
    def picks(self) -> tuple[str, ...]:
        """Words to tap instead of writing them, as of now in the workshop's zone."""
        return picks(timezone.localtime(clock.now()))

    def prepare_value(self, value: Any) -> Any:
        return f"{timezone.localtime(value):%-d %b %Y %H:%M}" if isinstance(value, datetime) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_when(text, timezone.localtime(clock.now())).local
        except ValueError as fault:
            raise ValidationError(f"“{text[:40]}”: {fault}") from None


def read_day(text: str, today: date) -> date:
    """A day that was written of something that has happened; one without a year is the last such. Raises ValueError as `read_when`."""
    words = " ".join(text.lower().replace(",", " ").split())
    near = {"today": 0, "yesterday": 1}
    if words in near:
        return today - timedelta(days=near[words])
    if len(words) > 60 or not words.isascii():
        raise ValueError(f"write a day, as in {OF_BEFORE}.")
    try:
        found = _dated(_without_weekday(words), today)
    except ValueError as fault:
        raise ValueError(str(fault).replace(EXAMPLE, OF_BEFORE)) from None
    if found > today and not re.search(r"\d{4}", words):
        found = _built(found.year - 1, found.month, found.day)
    if not YEARS[0] <= found.year <= YEARS[1]:
        raise ValueError(f"the year {found.year} is out of sight. Look at it again.")
    if found > today:
        raise ValueError(f"{_short(found)} {found.year} is still to come.")
    return found


class DayField(forms.CharField):
    """A day up to today, in words. Cleans to a date, or None when empty."""

    picks = ("today", "yesterday")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"help_text": f"{OF_BEFORE}.", **kwargs})
        self.widget.attrs.update(autocomplete="off", spellcheck="false")

    def prepare_value(self, value: Any) -> Any:
        return f"{value:%-d %b %Y}" if isinstance(value, date) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_day(text, timezone.localtime(clock.now()).date())
        except ValueError as fault:
            raise ValidationError(f"“{text[:40]}”: {fault}") from None
