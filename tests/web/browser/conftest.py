"""A workshop served to a real browser, and a clock that the test may move: nobody waits thirty minutes for a leak hold."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from topout.web import clock
from web.served import served


class Clock:
    """The workshop's clock, ahead of the machine's by what was waited."""

    def __init__(self) -> None:
        self.ahead = timedelta()
        self.real, self.machine = clock.now, clock.running

    def wait(self, minutes: float) -> None:
        self.ahead += timedelta(minutes=minutes)

    def now(self) -> datetime:
        return clock._frozen.get() or self.real() + self.ahead

    def running(self) -> dict[str, Any] | None:
        """Time passes for the machine too: what was waited is no clock set forward."""
        ran = self.machine()
        return None if ran is None else ran | {"s": ran["s"] + self.ahead.total_seconds()}


@pytest.fixture
def time_of_day(monkeypatch: pytest.MonkeyPatch) -> Clock:
    moved = Clock()
    monkeypatch.setattr(clock, "now", moved.now)
    monkeypatch.setattr(clock, "running", moved.running)
    return moved


@pytest.fixture
def here(workshop: Path) -> Iterator[str]:
    """The address of an empty workshop with an owner and a technician."""
    with served() as address:
        yield address


@pytest.fixture
def demo_here(demo: Path) -> Iterator[str]:
    """The address of the demo workshop."""
    with served() as address:
        yield address
