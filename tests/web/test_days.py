"""Days and times as they are typed: ISO alone is read, every other way is refused with what it may have meant."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest
from django.core.exceptions import ValidationError

from topout.web.days import DayField, TimeOfDayField, read_day, read_time


def test_every_day_of_four_years_is_read_back() -> None:
    day = date(2024, 1, 1)
    while day < date(2028, 1, 1):
        assert read_day(day.isoformat()) == day
        day += timedelta(days=1)
    assert read_day(" 2026-3-8 ") == date(2026, 3, 8)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("28.11.2026", "Is it 2026-11-28?"), ("11/28/2026", "Is it 2026-11-28?"), ("28 11 2026", "Is it 2026-11-28?"),
        ("03/04/2026", "Is it 2026-04-03 or 2026-03-04?"), ("04.04.2026", "Is it 2026-04-04?"), ("20261128", "Is it 2026-11-28?"),
        ("2026/11/28", "Is it 2026-11-28?"), ("2026.11.28", "Is it 2026-11-28?"),
        ("31.02.2026", "as in 2026-11-28."), ("28 November", "as in 2026-11-28."), ("tomorrow", "as in 2026-11-28."),
        ("2026-02-29", "that month has no day 29."), ("2026-11-31", "no day 31"), ("2026-28-11", "there is no month 28"),
        ("2026-00-10", "there is no month 0"), ("0226-11-28", "the year 226 is out of sight"), ("2026-11", "as in 2026-11-28."),
        ("٢٠٢٦-١١-٢٨", "as in 2026-11-28."), ("-2026-11-28", "as in"), ("26-11-28", "as in"), ("9" * 5000, "as in"),
    ],
)  # fmt: skip
def test_what_is_no_day_says_what_is_wrong_and_what_it_may_have_meant(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=r"\.|\?") as fault:
        read_day(text)
    assert says in str(fault.value)
    with pytest.raises(ValidationError) as shown:
        DayField().clean(text)
    assert shown.value.messages[0].startswith(f"“{text[:40]}”: ")


def test_every_minute_of_a_day_is_read_back() -> None:
    for minute in range(24 * 60):
        at = time(minute // 60, minute % 60)
        assert read_time(f"{at:%H:%M}") == at
    assert read_time("9:30") == time(9, 30)


@pytest.mark.parametrize(
    "text", ["24:00", "12:60", "5 pm", "17", "17.00", "17:0", "1700", "-1:00", "١٧:٠٠", "17:00:00"]
)
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="as in 17:00|from 00:00 to 23:59"):
        read_time(text)


def test_nothing_typed_is_no_day_where_none_is_needed() -> None:
    assert DayField(required=False).clean("  ") is None
    assert TimeOfDayField(required=False).clean("") is None
