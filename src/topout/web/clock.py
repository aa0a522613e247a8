"""The clock of the web: UTC, and frozen while one change of state runs."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

_frozen: ContextVar[datetime | None] = ContextVar("frozen", default=None)
_given: ContextVar[bool] = ContextVar("given", default=False)  # the moment was the caller's, not the clock's
_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")
SET_FORWARD: Final = timedelta(minutes=1)  # less than this is a clock being kept right (ours, no source)


def now() -> datetime:
    """The time in UTC; inside a change it is the change's one time."""
    return _frozen.get() or datetime.now(UTC)


def running() -> dict[str, Any] | None:
    """Which run of the machine this is and how long it has run [s], asleep too: what no setting of the clock moves.

    None where the machine does not say, or the moment is the caller's.
    """
    if _given.get():
        return None
    with suppress(OSError, AttributeError):
        return {"boot": _BOOT.read_text().strip(), "s": round(time.clock_gettime(time.CLOCK_BOOTTIME), 3)}
    return None


def set_forward(then: datetime, ran_then: dict[str, Any] | None) -> timedelta | None:
    """How long it is since `then` by the machine's own running, where its clock says more; None where it does not, or nobody knows.

    `ran_then` is what `running` said then. Over a restart nobody knows: the run is another.
    """
    ran = running()
    if ran is None or ran_then is None or ran["boot"] != ran_then["boot"]:
        return None
    true = timedelta(seconds=ran["s"] - ran_then["s"])
    return true if now() - then - true > SET_FORWARD else None


def started_anew(then: datetime, ran_then: dict[str, Any] | None) -> bool:
    """Whether the machine was started anew since `then`, so that what its clock says of the time between has no other witness."""
    ran = running()
    if ran is None or ran_then is None or ran["boot"] == ran_then["boot"]:
        return False
    return timedelta(seconds=ran["s"]) < now() - then


@contextmanager
def frozen(at: datetime | None = None) -> Iterator[datetime]:
    """Hold the clock at `at`, or at this moment; an outer hold wins only where `at` is left out."""
    held = at or now()
    if held.tzinfo is None:
        raise ValueError(f"{held}: a time needs its zone")
    token, given = _frozen.set(held.astimezone(UTC)), _given.set(at is not None or _given.get())
    try:
        yield held
    finally:
        _given.reset(given)
        _frozen.reset(token)
