"""What keeps a record from being stored: the disk is full, the database is locked, read-only, out of reach."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.db import connection

START_WAITS_MS = 2000


@dataclass(frozen=True)
class Trouble:
    """What stands in the way, in one sentence, and how it is mended."""

    words: str
    mend: str

    def way(self, doing: str = "send this") -> str:
        """The way out: how it is mended, and what is done again after it."""
        return f"{self.mend} Then {doing} again."


LAST_COPY: Final = "put the last copy in its place: topout restore"
ELSEWHERE: Final = "Move it away, or name another place: --data DIR."

FULL = Trouble("The disk of the workshop’s computer is full.", "Make room on it.")
READ_ONLY = Trouble("The workshop’s database can be read, but not written.",
                    "Whoever keeps the computer looks at the rights of its file and folder, and at the disk.")  # fmt: skip
LOCKED = Trouble("Another program holds the workshop’s database, for longer than we wait.",
                 "Close that program, a copy or a viewer perhaps.")  # fmt: skip
BROKEN = Trouble("The disk of the workshop’s computer did not answer.",
                 "Look at the disk and its cables, and make a copy of the workshop first of all.")  # fmt: skip
GONE = Trouble(
    "The workshop’s database can’t be opened.", "Look whether its disk is there and its folder may be opened."
)
DAMAGED = Trouble("The workshop’s database is damaged.", f"Close the workshop, keep the file, and {LAST_COPY}.")
NO_DATABASE = Trouble("The file is no database of a workshop: it is of another kind.",
                      f"Put the workshop’s own file back, or {LAST_COPY}.")  # fmt: skip
FOLDER = Trouble("A folder stands where the workshop’s database should be.", ELSEWHERE)
NO_FILE = Trouble("What stands where the workshop’s database should be is no file.", ELSEWHERE)
ANOTHERS = Trouble("The workshop’s database belongs to another account, and this one may not open it.",
                   "Start Topout from the account that the workshop belongs to, or give its files to this one.")  # fmt: skip
_SQLITE = {
    "SQLITE_FULL": FULL, "SQLITE_READONLY": READ_ONLY, "SQLITE_BUSY": LOCKED, "SQLITE_LOCKED": LOCKED, "SQLITE_PROTOCOL": LOCKED,
    "SQLITE_IOERR": BROKEN, "SQLITE_CANTOPEN": GONE, "SQLITE_PERM": GONE,
    "SQLITE_CORRUPT": DAMAGED, "SQLITE_NOTADB": NO_DATABASE,
}  # fmt: skip
_SYSTEM = {errno.ENOSPC: FULL, errno.EDQUOT: FULL, errno.EROFS: READ_ONLY, errno.EIO: BROKEN}


def trouble(error: BaseException | None) -> Trouble | None:
    """What of the storage an error comes from; None where it comes from something else."""
    for each in _chain(error):
        if isinstance(each, sqlite3.Error):
            name = "_".join(
                str(getattr(each, "sqlite_errorname", "")).split("_")[:2]
            )  # SQLITE_READONLY_DBMOVED is READONLY
            if name in _SQLITE:
                return _SQLITE[name]
        elif isinstance(each, OSError) and each.errno in _SYSTEM:
            return _SYSTEM[each.errno]
    return None


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    """The error and what it came from; Django's errors carry SQLite's own as their cause."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def at_start() -> Trouble | None:
    """What keeps the database from taking a write, tried by one that is taken back before it reaches the disk."""
    try:
        with connection.cursor() as cursor:
            patience = cursor.execute("PRAGMA busy_timeout").fetchone()[0]
            cursor.execute(f"PRAGMA busy_timeout = {START_WAITS_MS}")  # who starts it looks at the terminal
            cursor.execute("BEGIN IMMEDIATE")
            try:
                cursor.execute("PRAGMA user_version = 1")
            finally:
                if connection.connection.in_transaction:
                    cursor.execute("ROLLBACK")
            cursor.execute(f"PRAGMA busy_timeout = {patience}")
    except Exception as error:
        found = trouble(error)
        if found is None:
            raise
        return found
    return None
