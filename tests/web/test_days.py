"""Days and times as people write them: each read from one Wednesday morning; what means two things is asked about."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from topout.web import days
from topout.web.days import CLOSING, When, WhenField, read_when

NOW = timezone.make_aware(datetime(2026, 12, 2, 10, 0))  # noqa: DTZ001  a Wednesday, in the workshop’s zone


@pytest.mark.parametrize(("text", "day", "at"), [
    ("today", (2026, 12, 2), None), ("tomorrow 16:30", (2026, 12, 3), (16, 30)), ("Tomorrow, at 4 pm", (2026, 12, 3), (16, 0)), ("noon tomorrow", (2026, 12, 3), (12, 0)),
    ("the day after tomorrow", (2026, 12, 4), None), ("Friday", (2026, 12, 4), None), ("fri 9h30", (2026, 12, 4), (9, 30)), ("by Thursday 12:00", (2026, 12, 3), (12, 0)),
    ("tues", (2026, 12, 8), None), ("Wednesday 16:30", (2026, 12, 2), (16, 30)), ("this wednesday", (2026, 12, 2), None), ("next wednesday", (2026, 12, 9), None),
    ("in 3 days", (2026, 12, 5), None), ("in a week", (2026, 12, 9), None), ("in two weeks 17:00", (2026, 12, 16), (17, 0)), ("4 Dec", (2026, 12, 4), None),
    ("Fri 4th of December 2026 16:30", (2026, 12, 4), (16, 30)), ("December 4", (2026, 12, 4), None), ("4.12.", (2026, 12, 4), None), ("4.12.2026 16:30", (2026, 12, 4), (16, 30)),
    ("28/12", (2026, 12, 28), None), ("12/28/2026", (2026, 12, 28), None), ("2026-12-04 08:15", (2026, 12, 4), (8, 15)), ("12/12", (2026, 12, 12), None),
    ("1 Dec", (2027, 12, 1), None), ("29 Feb", (2028, 2, 29), None), ("16:30", (2026, 12, 2), (16, 30)), ("2 Dec", (2026, 12, 2), None), ("12 am Friday", (2026, 12, 4), (0, 0)),
])  # fmt: skip
def test_it_is_read_as_people_mean_it(text: str, day: tuple[int, int, int], at: tuple[int, int] | None) -> None:
    assert read_when(text, NOW) == When(date(*day), time(*at) if at else None)


@pytest.mark.parametrize(("text", "says"), [
    ("next Friday", "is it Fri 4 Dec or Fri 11 Dec?"), ("Wednesday", "is it today or Wed 9 Dec?"), ("wednesday 9:00", "is it today or Wed 9 Dec?"), ("3/4", "is it 3 April or 4 March?"),
    ("9:00", "9:00 is over today"), ("tomorrow 24:00", "from 00:00 to 23:59"), ("friday 13 pm", "from 00:00 to 23:59"), ("31.2.", "no day 31"), ("30 Feb 2027", "no day 30"),
    ("2026-13-01", "no month 13"), ("2226-12-01", "the year 2226 is out of sight"), ("soon", "as in"), ("ju 4", "as in"), ("x" * 5000, "as in"),
    ("٤ Dec", "as in"), ("4 Dezember", "as in"), ("in 999 weeks ago", "as in"), ("0000-01-01", "no year 0"), ("tomorrow tomorrow", "as in"),
])  # fmt: skip
def test_what_is_no_day_or_means_two_is_said(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=r"\.|\?") as fault:
        read_when(text, NOW)
    assert says in str(fault.value)
    if "today" not in says and "Fri" not in says:
        with pytest.raises(ValidationError) as shown:
            WhenField().clean(text)
        assert shown.value.messages[0].startswith(f"“{text[:40]}”: ")


def test_every_day_of_four_years_is_read_back_in_each_way() -> None:
    for nth in range(4 * 366):
        day = date(2024, 1, 1) + timedelta(days=nth)
        for text in (day.isoformat(), f"{day:%-d %b %Y}", f"{day:%B %-d %Y}", f"{day:%d.%m.%Y}", f"{day:%a %-d %B %Y}"):
            assert read_when(text, NOW).day == day, text


def test_every_minute_of_a_day_is_read_back() -> None:
    for minute in range(24 * 60):
        at = time(minute // 60, minute % 60)
        for text in (f"tomorrow {at:%H:%M}", f"tomorrow {at:%I:%M %p}", f"{at:%H:%M} tomorrow"):
            assert read_when(text, NOW).at == at, text


def test_what_stands_there_is_read_back_and_nothing_is_nothing() -> None:
    field = WhenField(required=False)
    kept = read_when("tomorrow", NOW).local
    assert kept.time() == CLOSING and field.clean(field.prepare_value(kept)) == kept
    assert field.clean("  ") is None


@pytest.mark.parametrize("hour", [0, 9, 16, 17, 23])
@pytest.mark.parametrize("ahead", range(14))
def test_what_is_offered_to_tap_is_read_as_a_day_that_comes(ahead: int, hour: int) -> None:
    """On every day of the week and around closing time: five words, no two of one day, each read without a question."""
    now = datetime(2026, 11, 23, hour, 0, tzinfo=timezone.get_current_timezone()) + timedelta(days=ahead)
    told = days.picks(now)
    read = [days.read_when(words, now).local for words in told]
    assert all(when > now for when in read) and len({when.date() for when in read}) == len(told) and 3 <= len(told) <= 5
    assert ("today 17:00" in told) == (hour < 17) and read == sorted(read)
    for when, words in zip(read, told, strict=True):
        last = {"in a week": 6, "today 17:00": 6, "tomorrow": 5}.get(
            words, 4
        )  # the last day of the week that may be meant
        assert when.weekday() <= last, words


def test_an_hour_that_is_now_is_over() -> None:
    with pytest.raises(ValueError, match="is over today"):
        read_when(f"{NOW:%H:%M}", NOW.replace(second=0, microsecond=0))
    assert read_when("23:59", NOW.replace(hour=23, minute=58)).at == time(23, 59)
