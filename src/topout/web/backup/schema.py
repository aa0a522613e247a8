"""Whether a database has the tables and columns that its own list of migrations says it has.

SQLite calls a file whole in which a table is missing, and so does a count of rows; the pages break on it. A database of any version of
Topout is looked at: an older one against the models of its own migrations.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
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
    said = [f"the table {name} is not there" for name in wanted if name not in there]
    for name in wanted.keys() & there.keys():
        said += [f"the table {name} has no column {each}" for each in sorted(wanted[name] - there[name])]
        said += [
            f"the table {name} has a column {each}, of no migration" for each in sorted(there[name] - wanted[name])
        ]
    said += [
        f"the table {name} is there, and not its migration" for name in now.keys() - wanted.keys() if name in there
    ]
    return sorted(said)


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
