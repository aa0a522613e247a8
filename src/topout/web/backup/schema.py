"""Whether a database has the tables and columns that its own list of migrations says it has, and text where text belongs.

SQLite calls a file whole in which a table is missing, or bytes stand in a column of text, and so does a count of rows; the pages break on it. A database of any version of
Topout is looked at: an older one against the models of its own migrations.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db.migrations.loader import MigrationLoader

from topout.web.backup import snapshot

Tables = dict[str, frozenset[str]]  # columns by table


def differences(database: Path, applied: set[tuple[str, str]], loader: MigrationLoader) -> list[str]:
    """What of its tables and columns is not as its migrations made it, in words; empty where all is. Raises sqlite3.Error."""
    now = _tables(apps.get_models(include_auto_created=True), loader.migrated_apps)
    nodes = [node for node in loader.graph.nodes if node in applied]
    if set(nodes) == set(loader.graph.nodes):
        wanted = now
    else:
        state = loader.project_state(nodes) if nodes else None
        models = state.apps.get_models(include_auto_created=True) if state is not None else ()
        wanted = _tables(models, loader.migrated_apps)
    with closing(snapshot.connect(database)) as base:
        there = _there(base)
        bytes_there = [each for name in wanted.keys() & there.keys() for each in _bytes_as_text(base, name)]
    said = [f"the table {name} is not there" for name in wanted if name not in there]
    before = {parent.key for node in nodes for parent in loader.graph.node_map[node].parents} - applied
    said += [f"the migration {app} {name} is not noted, and a later one is" for app, name in before]
    for name in wanted.keys() & there.keys():
        said += [f"the table {name} has no column {each}" for each in sorted(wanted[name] - there[name])]
        said += [
            f"the table {name} has a column {each}, of no migration" for each in sorted(there[name] - wanted[name])
        ]
    said += [
        f"the table {name} is there, and not its migration" for name in now.keys() - wanted.keys() if name in there
    ]
    return sorted(said) + sorted(bytes_there)


def _tables(models: Iterable[Any], of: Iterable[str]) -> Tables:
    known = set(of)
    return {
        model._meta.db_table: frozenset(field.column for field in model._meta.local_concrete_fields)
        for model in models
        if model._meta.managed and not model._meta.proxy and model._meta.app_label in known
    }


def _there(base: sqlite3.Connection) -> Tables:
    """The ordinary tables of a database: a view of a table's name is none."""
    return {
        name: frozenset(str(row[0]) for row in base.execute("SELECT name FROM pragma_table_xinfo(?)", (name,)))
        for name in snapshot.tables(base)
    }


def _bytes_as_text(base: sqlite3.Connection, table: str) -> Iterator[str]:
    """The columns of text that hold bytes in a row; SQLite takes any value in any column."""
    texts = [
        str(name)
        for name, kind in base.execute("SELECT name, type FROM pragma_table_xinfo(?)", (table,))
        if str(kind).lower().startswith(("text", "varchar", "char"))
    ]
    if not texts:
        return
    looked = ", ".join(f"max(typeof({_quoted(name)}) = 'blob')" for name in texts)
    found = base.execute(f"SELECT {looked} FROM {_quoted(table)}").fetchone()
    for name, bytes_in in zip(texts, found, strict=True):
        if bytes_in:
            yield f"the column {name} of the table {table} holds bytes where text belongs"


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'
