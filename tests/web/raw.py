"""The database past Django: a plain SQLite connection that is closed by who opened it, as Python 3.13 insists."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path


@contextmanager
def opened(path: Path | str, *, each_statement_alone: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection: committed at the end, rolled back on an error, and closed either way.

    `sqlite3.connect(…)` as a context manager only commits; the open file stays until the garbage is collected.
    """
    with (
        closing(sqlite3.connect(path, isolation_level=None if each_statement_alone else "DEFERRED")) as connection,
        connection,
    ):
        yield connection
