"""What may be wrong with the file at the workshop's place, looked at before anything is written to it. In words, with the way out."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Final

from django.apps import apps
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from topout.web import storage
from topout.web.backup import schema, snapshot, witness
from topout.web.backup.files import Held, locked
from topout.web.backup.restore import open_lock
from topout.web.storage import Trouble

JOURNALS: Final = ("-journal", "-wal")
LOOKED_AT: Final = ".topout-look-"
_NAMED = 3  # tables of another program that are named


def look(database: Path) -> Trouble | None:
    """What stands against opening this database; None for a good one, and where there is none yet."""
    try:
        return _file(database) or _left_beside(database) or contents(database) or _less_than_seen(database)
    except (OSError, sqlite3.Error) as error:
        found = storage.trouble(error)
        if found is None and isinstance(error, PermissionError):
            return storage.ANOTHERS
        if found is None:
            raise
        return found


def _file(database: Path) -> Trouble | None:
    if database.is_dir():
        return storage.FOLDER
    if database.exists() and not database.is_file():
        return storage.NO_FILE
    if database.exists() and not os.access(database, os.R_OK):
        return storage.ANOTHERS
    if not database.exists() or database.stat().st_size == 0:
        try:
            before = witness.read(database)
        except ValueError:
            return None  # said when there are records to compare it with
        return witness.gone(before, database) if before is not None else None
    return None


def _left_beside(database: Path) -> Trouble | None:
    """What a journal that lies beside would make of the file, tried on copies of both.

    After a power cut SQLite takes it in at the first look, and that mends the file. Where the file was put there by hand since, the journal is
    of another one, and taking it in would spoil it. A workshop that is open somewhere has its journal at work. Without room for
    the copies nothing is tried.
    """
    beside = [database.with_name(database.name + end) for end in JOURNALS]
    beside = [path for path in beside if path.is_file() and path.stat().st_size]
    if not beside or not database.is_file():
        return None
    files = [database, *beside]
    if shutil.disk_usage(database.parent).free < 2 * sum(path.stat().st_size for path in files):
        return None
    try:
        with (
            locked(open_lock(database)),
            tempfile.TemporaryDirectory(prefix=LOOKED_AT, dir=database.parent) as folder,
        ):
            for path in files:
                shutil.copyfile(path, Path(folder) / path.name)
            copy = Path(folder) / database.name
            if not snapshot.damage(copy) and not snapshot.loose_rows(copy):
                return None
    except Held:
        return None
    return Trouble(
        f"Beside the workshop’s database lies {beside[0].name}, which is of another state of it: taken in, it would damage the database.",
        f"Nothing was changed. If the database was put there by hand, move {beside[0].name} away; else keep both files and put the "
        "last copy in their place: topout restore --replace.",
    )


def contents(database: Path) -> Trouble | None:
    """Not SQLite, cut short, another program's, or of a newer Topout. Raises sqlite3.Error for what SQLite itself refuses."""
    if not database.exists() or database.stat().st_size == 0:
        return None
    with closing(snapshot.connect(database)) as base:
        base.execute(f"PRAGMA busy_timeout = {storage.START_WAITS_MS}")
        tables = snapshot.tables(base)
        page_bytes = int(base.execute("PRAGMA page_size").fetchone()[0])
        applied = (
            {(str(app), str(name)) for app, name in base.execute("SELECT app, name FROM django_migrations")}
            if "django_migrations" in tables
            else set()
        )
    if database.stat().st_size % page_bytes:
        return storage.DAMAGED
    if tables and not {app for app, _ in applied} & set(snapshot.APPS):
        named = ", ".join(tables[:_NAMED]) + (" and others" if len(tables) > _NAMED else "")
        return Trouble(
            f"The file is another program’s database: it holds {named}.",
            f"Nothing was changed in it. {storage.ELSEWHERE}",
        )
    known = MigrationLoader(None, ignore_no_migrations=True)
    return newer(applied, known) or _not_as_made(database, applied, known)


def _not_as_made(database: Path, applied: set[tuple[str, str]], known: MigrationLoader) -> Trouble | None:
    """Whether a table or a column of it is missing, or is of no migration that it lists; a file with no table is a new one."""
    wrong = schema.differences(database, applied, known) if applied else []
    if not wrong:
        return None
    more = f", and {len(wrong) - 1} more" if len(wrong) > 1 else ""
    return Trouble(
        f"The workshop’s database is not as Topout made it: {wrong[0]}{more}.",
        f"Nothing was changed in it. Close the workshop, keep the file, and {storage.LAST_COPY}.",
    )


def newer(applied: set[tuple[str, str]], known: MigrationLoader | None = None) -> Trouble | None:
    """Whether a database with these migrations was written by a newer Topout than this one."""
    known = known or MigrationLoader(None, ignore_no_migrations=True)
    here = {config.label for config in apps.get_app_configs()} - known.unmigrated_apps
    unknown = sorted(
        f"{app} {name}" for app, name in applied if app not in here or (app, name) not in known.disk_migrations
    )
    if not unknown:
        return None
    return Trouble(
        f"The database was written by a newer Topout: this one does not know {unknown[0]}.",
        "Nothing was changed in it. Start the newer version, or put back the copy from before the upgrade.",
    )


def _less_than_seen(database: Path) -> Trouble | None:
    """Compared with the witness; a witness that can't be read is said in a line by the start, and written anew."""
    try:
        before = witness.read(database)
    except ValueError:
        return None
    if before is None or not database.exists():
        return None
    with connection.cursor() as cursor:
        if "access_workshop" not in connection.introspection.table_names(cursor):
            return witness.gone(before, database)
        return witness.less(cursor, before, database)


def unread_witness(database: Path) -> str:
    """A line where what was seen last can't be read; "" where it can. The start that says so writes it anew."""
    try:
        witness.read(database)
    except (ValueError, OSError) as error:
        return f"{witness.path_of(database)}: can’t be read ({error}), so nobody can say here whether records are missing. Written anew."  # fmt: skip
    return ""


def behind() -> bool:
    """Whether the database that Django has open has migrations to come, or is none of ours yet."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
