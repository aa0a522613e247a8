"""Who writes next: the threads of this process take turns in the order in which they came.

SQLite lets one write at a time, and whoever finds it busy looks again after a pause that grows to 100 ms: with many at the
steps some are passed over again and again (seconds, where a write takes 30 ms). Here they stand in line instead. Another
process, and a thread that waited too long, still waits as SQLite does: a turn is a courtesy, the transaction is what holds.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

WAITS_S: Final = 20.0  # as long as SQLite is told to wait


class Line:
    """A line of threads. One that is inside already, and comes again, goes through."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._waiting: deque[threading.Event] = deque()
        self._taken = False
        self._inside = threading.local()

    @contextmanager
    def turn(self, waits_s: float = WAITS_S) -> Iterator[None]:
        """Inside, no other thread is, but after `waits_s` [s] in line: then it goes on without."""
        if getattr(self._inside, "now", False) or not self._come(waits_s):
            yield
            return
        self._inside.now = True
        try:
            yield
        finally:
            self._inside.now = False
            self._next()

    def _come(self, waits_s: float) -> bool:
        with self._guard:
            if not self._taken:
                self._taken = True
                return True
            mine = threading.Event()
            self._waiting.append(mine)
        if mine.wait(waits_s):
            return True
        with self._guard:
            if mine.is_set():  # it came in the very moment
                return True
            self._waiting.remove(mine)
        return False

    def _next(self) -> None:
        with self._guard:
            if self._waiting:
                self._waiting.popleft().set()  # taken still, by the next one
            else:
                self._taken = False


turn = Line().turn
