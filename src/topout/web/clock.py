"""The clock of the web: UTC, and frozen while one change of state runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime

_frozen: ContextVar[datetime | None] = ContextVar("frozen", default=None)


def now() -> datetime:
    """The time in UTC; inside a change it is the change's one time."""
    return _frozen.get() or datetime.now(UTC)


@contextmanager
def frozen(at: datetime | None = None) -> Iterator[datetime]:
    """Hold the clock at `at`, or at this moment; an outer hold wins only where `at` is left out."""
    held = at or now()
    if held.tzinfo is None:
        raise ValueError(f"{held}: a time needs its zone")
    token = _frozen.set(held.astimezone(UTC))
    try:
        yield held
    finally:
        _frozen.reset(token)
