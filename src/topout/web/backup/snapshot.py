"""The database of an open workshop copied as it stands at one moment, and what is in it by plain SQL.

SQLite's own backup does the copying, under one read transaction: with a write-ahead log writers go on meanwhile, with a
rollback journal they wait until the pages are copied. No model is used, so a database of any version of Topout is read.
"""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

from topout.web.backup.progress import Tell, silent

PAGES_AT_ONCE = 2048
WAIT_S = 20.0  # for another program that holds the database
APPS = ("access", "book", "jobs", "shelf", "workshop")


@dataclass(frozen=True)
class Facts:
    """What a database says of itself. Times as the database writes them; `photos` SHA-256 in hex, in order."""

    workshop: str
    started_at: str
    demo: bool
    migrations: tuple[str, ...]
    counts: dict[str, int]
    changes: int
    releases: int
    last_release: str
    photos: tuple[str, ...]


def connect(path: Path, mode: str = "rw") -> sqlite3.Connection:
    """A connection past Django that makes no file; each statement alone. Raises sqlite3.Error."""
    uri = f"file:{quote(str(path.absolute()))}?mode={mode}"
    return sqlite3.connect(uri, uri=True, timeout=WAIT_S, isolation_level=None)


def take(source: Path, target: Path, tell: Tell = silent) -> None:
    """Copy the database at `source` to the new file `target`, as of one moment. Raises sqlite3.Error."""
    with closing(connect(source)) as live, closing(connect(target, "rwc")) as copy:
        copy.execute("PRAGMA journal_mode=OFF")  # a copy that broke off is thrown away, not mended
        copy.execute("PRAGMA synchronous=OFF")
        live.execute("BEGIN")
        live.execute("SELECT count(*) FROM sqlite_master").fetchone()  # the moment that is copied

        def told(status: int, remaining: int, total: int) -> None:
            tell("Database", total - remaining, total)

        live.backup(copy, pages=PAGES_AT_ONCE, progress=told, sleep=0.01)
        live.execute("ROLLBACK")
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, whatever journal the workshop keeps


def damage(path: Path) -> list[str]:
    """What SQLite finds wrong with a database, a line each; empty where it is whole. Raises sqlite3.Error."""
    with closing(connect(path)) as base:
        try:
            found = [str(row[0]) for row in base.execute("PRAGMA integrity_check(20)")]
        except sqlite3.DatabaseError as error:
            return [str(error)]
    return [] if found == ["ok"] else found


def loose_rows(path: Path) -> list[str]:
    """Rows that point at a row which is not there, a line for each table."""
    with closing(connect(path)) as base:
        found: dict[tuple[str, str], int] = {}
        for table, _, parent, _ in base.execute("PRAGMA foreign_key_check"):
            found[table, parent] = found.get((table, parent), 0) + 1
    return [f"{count} of {table} point at rows of {parent} that are not there." for (table, parent), count in found.items()]  # fmt: skip


def tables(base: sqlite3.Connection) -> list[str]:
    """Every ordinary table, in order of name."""
    rows = base.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' "
        "AND sql NOT LIKE 'CREATE VIRTUAL%' ORDER BY name"
    )
    return [str(row[0]) for row in rows]


def facts(path: Path) -> Facts:
    """What is in a database; "" and 0 for what an older version has not. Raises sqlite3.Error."""
    with closing(connect(path)) as base:
        return facts_of(base)


def facts_of(base: sqlite3.Connection) -> Facts:
    """The same, of an open connection."""
    there = tables(base)
    counts = {
        name: int(base.execute('SELECT count(*) FROM "{}"'.format(name.replace('"', '""'))).fetchone()[0])
        for name in there
    }
    workshop = _first(base, there, "access_workshop", "name, CAST(started_at AS TEXT), demo") or ("", "", 0)
    migrations = (
        tuple(f"{app}.{name}" for app, name in base.execute("SELECT app, name FROM django_migrations ORDER BY id"))
        if "django_migrations" in there
        else ()
    )
    changes = _first(base, there, "access_change", "coalesce(max(id), 0)") or (0,)
    last = ""
    if counts.get("jobs_release"):
        number, at = base.execute(
            "SELECT jobs_job.number, substr(CAST(jobs_release.at AS TEXT), 1, 16) FROM jobs_release "
            "JOIN jobs_job ON jobs_job.id = jobs_release.job_id ORDER BY jobs_release.id DESC LIMIT 1"
        ).fetchone()
        last = f"job {number}, {at} UTC"
    photos = (
        tuple(str(row[0]) for row in base.execute("SELECT DISTINCT sha256 FROM jobs_photo ORDER BY sha256"))
        if "jobs_photo" in there
        else ()
    )
    return Facts(
        str(workshop[0]), str(workshop[1]), bool(workshop[2]), migrations, counts, int(changes[0]),
        counts.get("jobs_release", 0), last, photos,
    )  # fmt: skip


def _first(base: sqlite3.Connection, there: list[str], table: str, columns: str) -> tuple[Any, ...] | None:
    if table not in there:
        return None
    row = base.execute(f"SELECT {columns} FROM {table} LIMIT 1").fetchone()
    return tuple(row) if row else None


def mark(started_at: str) -> str:
    """Six letters that tell one workshop's copies from another's: of the moment it was made, which never changes."""
    return hashlib.sha256(started_at.encode()).hexdigest()[:6]


def as_written(moment: datetime) -> str:
    """A moment as a SQLite database of Django's writes it: UTC, without its zone."""
    return str(moment.astimezone(UTC).replace(tzinfo=None))


def started(path: Path) -> str:
    """When the workshop of a database was made, as it writes it; "" before its first start. Raises sqlite3.Error."""
    with closing(connect(path, "ro")) as base:
        row = base.execute("SELECT CAST(started_at AS TEXT) FROM access_workshop LIMIT 1").fetchone()
    return str(row[0]) if row else ""


def time_zone(path: Path) -> str:
    """The time zone that the workshop of a database has set; "" where none is, or where its version has no such setting."""
    with closing(connect(path, "ro")) as base:
        if "time_zone" not in {row[1] for row in base.execute("PRAGMA table_info(access_workshop)")}:
            return ""
        row = base.execute("SELECT time_zone FROM access_workshop LIMIT 1").fetchone()
    return str(row[0]) if row and row[0] else ""
