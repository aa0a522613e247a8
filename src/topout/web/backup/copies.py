"""The copies of this workshop: which there are, what came of the last one, and how old the newest may be.

The folder is the truth; beside the database stands what came of the last try, for a folder whose disk is unplugged says nothing.
"""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection

from topout.errors import TopoutError
from topout.web.backup import archive, files, names, snapshot
from topout.web.backup.make import Busy, Made, NoCopy, Source, make
from topout.web.backup.names import Name, Retention
from topout.web.backup.progress import Tell, silent

logger = logging.getLogger(__name__)
TOO_OLD = timedelta(hours=36)  # a night, and a morning to make up for it


@dataclass(frozen=True)
class Copy:
    """One copy in the folder."""

    name: Name
    path: Path
    bytes: int


@dataclass(frozen=True)
class Last:
    """What came of the last try: when, why, and what went wrong; `losses` of a copy that was made and is not whole."""

    at: datetime
    reason: str
    failed: str = ""
    losses: tuple[str, ...] = ()


@dataclass(frozen=True)
class Copies:
    """The copies of one workshop in one folder. `folder_is_ours`: it may be made."""

    source: Source
    folder: Path
    retention: Retention
    folder_is_ours: bool = True

    @property
    def zone(self) -> tzinfo:
        """The workshop's own, as its database says now; this computer's where it says none, or one that is not known here."""
        with suppress(sqlite3.Error, LookupError, ValueError, OSError):
            return ZoneInfo(snapshot.time_zone(self.source.database) or settings.TIME_ZONE)
        return ZoneInfo(settings.TIME_ZONE)

    @property
    def _last_file(self) -> Path:
        return self.source.database.with_suffix(".copies")

    def listed(self, mark: str) -> list[Copy]:
        """This workshop's copies, the newest first; none where the folder is not there."""
        found = []
        with suppress(OSError):
            for path in self.folder.iterdir():
                name = names.read(path.name)
                if name is not None and name.mark == mark and path.is_file() and not path.is_symlink():
                    found.append(Copy(name, path, path.stat().st_size))
        return sorted(found, key=lambda copy: (copy.name.at, copy.name.nth), reverse=True)

    def newest(self, mark: str, now: datetime, reason: str = "") -> Copy | None:
        """The newest copy, made for this reason or any; one from the future was made under a wrong clock and says nothing."""
        return next(
            (
                copy
                for copy in self.listed(mark)
                if copy.name.at <= now + names.AHEAD and reason in ("", copy.name.reason)
            ),
            None,
        )

    def make(self, reason: str, now: datetime, tell: Tell = silent) -> Made:
        """Make a copy, let go of those that had their time, and note what came of it. Raises NoCopy."""
        try:
            made = make(self.source, self.folder, reason, now, tell, make_folder=self.folder_is_ours)
        except Busy:
            raise
        except NoCopy as error:
            self._note({"at": now.astimezone(UTC).isoformat(), "reason": reason, "failed": str(error)})
            raise
        self._note({"at": now.astimezone(UTC).isoformat(), "reason": reason, "losses": list(made.about.losses)})
        if made.about.whole:  # else an older one may hold what this one lacks
            self._let_go(made, now)
        return made

    def _note(self, values: dict[str, Any]) -> None:
        with suppress(OSError):  # the disk that took no copy takes no note either
            files.save_json(self._last_file, values)

    def _let_go(self, made: Made, now: datetime) -> None:
        """Remove copies that had their time: of this workshop by their own list, never the one just made."""
        mark = snapshot.mark(made.about.started_at)
        there = {copy.name: copy for copy in self.listed(mark)}
        for name in names.spent(there, self.retention, self.zone, now):
            path = there[name].path
            try:
                if path != made.path and archive.read(path).started_at == made.about.started_at:
                    path.unlink()
            except (OSError, TopoutError) as error:
                logger.warning("%s: an old copy stays: %s", path, error)

    def last(self) -> Last | None:
        """What came of the last try; None before the first, or where the note can't be read."""
        try:
            noted = files.read_json(self._last_file)
            if noted is None:
                return None
            return Last(
                datetime.fromisoformat(noted["at"]), str(noted["reason"]), str(noted.get("failed", "")),
                tuple(map(str, noted.get("losses", ()))),
            )  # fmt: skip
        except (OSError, ValueError, KeyError, TypeError):
            return None


def of_settings() -> Copies:
    """The copies of the database that Django has open."""
    database = Path(connection.settings_dict["NAME"])
    named = settings.BACKUPS_NAMED
    return Copies(
        Source(database, Path(settings.PHOTOS)), settings.BACKUPS if named else database.parent / "backups",
        Retention(*settings.BACKUP_KEEP), not named,
    )  # fmt: skip


def too_old(newest: Copy | None, last: Last | None, started_at: datetime, now: datetime) -> str:
    """What the Bench says of the copies, in one or two sentences; "" where all is well."""
    said = []
    since = newest.name.at if newest else started_at
    if now - since > TOO_OLD:
        said.append(f"The last copy of this workshop is {_age(now - since)} old." if newest else "There is no copy of this workshop.")  # fmt: skip
        if last is not None and last.failed:
            said.append(f"The last try failed: {last.failed}")
    elif last is not None and last.losses:
        said.append(f"The last copy is not whole: {counted(last.losses)}")
    return " ".join(said)


def counted(losses: Sequence[str]) -> str:
    """The first loss, and how many more."""
    more = len(losses) - 1
    return losses[0] + (f" And {more} more." if more else "")


def _age(since: timedelta) -> str:
    days = since.days
    return f"{days} days" if days >= 2 else f"{since.total_seconds() / 3600:.0f} hours"
