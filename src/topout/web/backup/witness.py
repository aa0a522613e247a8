"""What was last seen of the workshop, in a small file beside its database: so that an older one put back is noticed.

It is written at each hand-over and each start. A start that finds less in the database than was seen stops and says so.
The demo has none: it is made anew whenever somebody likes.
"""

from __future__ import annotations

import logging
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Final

from django.db import connection, transaction

from topout.web.backup import files
from topout.web.storage import Trouble

logger = logging.getLogger(__name__)
# The key of a change stands in its row for good: the same number with another key is another history.
_SEEN: Final = """
SELECT (SELECT CAST(started_at AS TEXT) FROM access_workshop LIMIT 1),
       (SELECT coalesce(max(id), 0) FROM access_change),
       (SELECT key FROM access_change ORDER BY id DESC LIMIT 1),
       (SELECT coalesce(max(id), 0) FROM jobs_release),
       (SELECT 'job ' || jobs_job.number || ', ' || substr(CAST(jobs_release.at AS TEXT), 1, 16) || ' UTC'
          FROM jobs_release JOIN jobs_job ON jobs_job.id = jobs_release.job_id ORDER BY jobs_release.id DESC LIMIT 1)
 WHERE EXISTS (SELECT 1 FROM access_workshop WHERE NOT demo)
"""


@dataclass(frozen=True)
class Witness:
    """How far a workshop's records went: the last change with its key, the last hand-over and its job."""

    started_at: str
    change: int
    key: str
    release: int
    last_release: str


def path_of(database: Path) -> Path:
    """Where it stands."""
    return database.with_suffix(".witness")


def read(database: Path) -> Witness | None:
    """What was seen last; None where nothing was. Raises ValueError for a file that says something else, OSError."""
    values = files.read_json(path_of(database))
    if values is None:
        return None
    kinds = {field.name: field.type for field in fields(Witness)}
    if set(values) != set(kinds) or not all(type(values[name]).__name__ == kind for name, kind in kinds.items()):
        raise ValueError("is not what Topout wrote there")
    return Witness(**values)


def seen(cursor: Any) -> Witness | None:
    """How far the records of this database go; None for the demo's, and before the first start."""
    row = cursor.execute(_SEEN).fetchone()
    return None if row is None else Witness(row[0], row[1], row[2] or "", row[3], row[4] or "")


def note() -> None:
    """Write down how far the records go; on SQLite alone, where a file can be put back by hand."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        now = seen(cursor)
    if now is not None:
        files.save_json(path_of(Path(connection.settings_dict["NAME"])), asdict(now))


def note_when_saved() -> None:
    """Note it once the change that runs is in the database; a note that fails costs no hand-over."""
    transaction.on_commit(note, robust=True)


def less(cursor: Any, before: Witness, database: Path) -> Trouble | None:
    """What the records lack of what was seen before; None where they hold it all."""
    now = seen(cursor)
    way = f"Put the newer file back, or the last copy: topout restore. Where this one is meant, remove {path_of(database)} first."
    if now is None:
        return Trouble(f"The workshop’s database is empty. {_was(before)}", way)
    if now.started_at != before.started_at:
        return Trouble(f"This is the database of another workshop. {_was(before)}", way)
    if now.release < before.release:
        had = f"and ends with {now.last_release}" if now.last_release else "and has no hand-over at all"
        return Trouble(f"This is an older copy of the database. {_was(before)} It lacks that, {had}.", way)
    if now.change < before.change:
        return Trouble(
            f"This is an older copy of the database: {before.change - now.change} changes that were saved are not in it.",
            way,
        )
    key = cursor.execute("SELECT key FROM access_change WHERE id = %s", [before.change]).fetchone()
    if before.change and (key is None or key[0] != before.key):
        return Trouble("This database went on from an older copy: what was saved since then is not in it.", way)
    return None


def gone(before: Witness, database: Path) -> Trouble:
    """There is no database, or nothing in it, where one was."""
    return Trouble(
        f"The workshop’s database is not there. {_was(before)}",
        f"Put its file back, or the last copy: topout restore. For a new workshop, remove {path_of(database)} first.",
    )


def _was(before: Witness) -> str:
    return f"The last hand-over seen here is {before.last_release}." if before.last_release else "Records were seen here."  # fmt: skip
