"""A copy every night, by itself, in the served process: one small thread that no fault of a copy ends.

Due is the last hour of copying that has passed by the workshop's clock and has no copy after it; so a night that was missed is
made up for once the workshop is open again. Requests go on meanwhile: the thread yields to them.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, time, timedelta, tzinfo
from typing import Final

from topout.web.backup import names, snapshot
from topout.web.backup.copies import Copies
from topout.web.backup.make import Busy, NoCopy, words

logger = logging.getLogger(__name__)
FIRST_LOOK_S: Final = 20.0  # the start itself comes first
LOOKS_EVERY_S: Final = 60.0
AGAIN_AFTER: Final = timedelta(hours=1)  # a copy that failed


def due_since(now: datetime, at: time, zone: tzinfo) -> datetime:
    """The last moment up to `now` at which a copy is made, by the workshop's clock."""
    local = now.astimezone(zone)
    moment = datetime.combine(local.date(), at, zone)
    if moment > local:
        moment = datetime.combine(local.date() - timedelta(days=1), at, zone)
    return moment.astimezone(UTC)


class Nightly(threading.Thread):
    """The thread; a daemon, so that Ctrl-C waits for no copy: one that broke off leaves nothing that looks whole."""

    def __init__(
        self, copies: Copies, at: time, clock: Callable[[], datetime], first_look_s: float = FIRST_LOOK_S
    ) -> None:
        super().__init__(name="topout-nightly", daemon=True)
        self.copies, self.at, self.clock, self.first_look_s = copies, at, clock, first_look_s
        self.ended = threading.Event()
        self._tried_at: datetime | None = None

    def run(self) -> None:
        if sys.platform == "linux":  # there a thread has a niceness of its own
            with suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)
        wait = self.first_look_s
        while not self.ended.wait(wait):
            wait = LOOKS_EVERY_S
            try:
                self.look()
            except NoCopy as error:
                logger.error("No copy was made. %s", error)
            except Exception:
                logger.exception("No copy was made, by a fault of Topout itself.")

    def look(self) -> bool:
        """Make a copy where one is due; whether one was made. Raises NoCopy."""
        now = self.clock()
        if self._tried_at is not None and timedelta(0) <= now - self._tried_at < AGAIN_AFTER:
            return False
        source = self.copies.source.database
        with words(source):
            mark = snapshot.mark(snapshot.started(source))
        newest = self.copies.newest(mark, now, names.NIGHT)
        if newest is not None and newest.name.at >= due_since(now, self.at, self.copies.zone):
            return False
        self._tried_at = now
        try:
            self.copies.make(names.NIGHT, now)
        except Busy:  # another process makes one; looked at again in a minute
            self._tried_at = None
            return False
        self._tried_at = None
        return True
