"""What keeps a record from being stored: the disk is full, the database is locked, read-only, out of reach."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from django.db import connection

START_WAITS_MS = 2000


@dataclass(frozen=True)
class Trouble:
    """What stands in the way, in one sentence, and the way out."""

    words: str
    way: str


FULL = Trouble("The disk of the workshop’s computer is full.", "Make room on it, then send this again.")
READ_ONLY = Trouble("The workshop’s database can be read, but not written.",
                    "Whoever keeps the computer looks at the rights of its file and folder, and at the disk. Then send this again.")  # fmt: skip
LOCKED = Trouble("Another program holds the workshop’s database, for longer than we wait.",
                 "Close that program, a copy or a viewer perhaps. Then send this again.")  # fmt: skip
BROKEN = Trouble("The disk of the workshop’s computer did not answer.",
                 "Look at the disk and its cables, and make a copy of the workshop first of all. Then send this again.")  # fmt: skip
GONE = Trouble("The workshop’s database can’t be opened.",
               "Look whether its disk is there and its folder may be opened. Then send this again.")  # fmt: skip
DAMAGED = Trouble("The workshop’s database is damaged.",
                  "Close the workshop, keep the file, and put the last copy in its place: topout restore. Then send this again.")  # fmt: skip
NO_DATABASE = Trouble("The file is no database of a workshop: it is of another kind.",
                      "Put the workshop’s own file back, or the last copy: topout restore. Then send this again.")  # fmt: skip
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
