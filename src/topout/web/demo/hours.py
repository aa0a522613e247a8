"""The demo's working day: its minutes run while the workshop is open, and stand still at night."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.utils import timezone

OPENS, CLOSES = time(7, 30), time(19, 0)  # in the workshop's own time, every day


def _at(day: datetime, hour: time, days: int = 0) -> datetime:
    return timezone.make_aware(datetime.combine(day.date() + timedelta(days=days), hour))


def opened(moment: datetime) -> datetime:
    """The moment itself while the workshop is open, else when it opens next; in local time."""
    local = timezone.localtime(moment)
    if local < _at(local, OPENS):
        return _at(local, OPENS)
    return local if local <= _at(local, CLOSES) else _at(local, OPENS, 1)


def closed(moment: datetime) -> datetime:
    """The moment itself while the workshop is open, else when it closed last; in local time."""
    local = timezone.localtime(moment)
    if local > _at(local, CLOSES):
        return _at(local, CLOSES)
    return local if local >= _at(local, OPENS) else _at(local, CLOSES, -1)


def later(moment: datetime, minutes: float) -> datetime:
    """So many open minutes after a moment."""
    at, left = opened(moment), timedelta(minutes=minutes)
    while at + left > _at(at, CLOSES):
        left -= _at(at, CLOSES) - at
        at = _at(at, OPENS, 1)
    return at + left


def earlier(moment: datetime, minutes: float) -> datetime:
    """So many open minutes before a moment."""
    at, left = closed(moment), timedelta(minutes=minutes)
    while at - left < _at(at, OPENS):
        left -= at - _at(at, OPENS)
        at = _at(at, CLOSES, -1)
    return at - left
