"""Triggers that refuse any change of what was found, done and handed over; written again after every migrate.

Django rebuilds a SQLite table when a column is altered and drops its triggers without a word, so `post_migrate`
writes them anew for every table below, whichever app was migrated.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db import connections

TABLES = {
    "jobs.Reading": "a reading is corrected by a new one",
    "jobs.Photo": "a photo stays",
    "jobs.FrozenPlan": "a frozen plan stays",
    "jobs.StepEntry": "a signed step stays",
    "jobs.Remark": "a remark is followed by a new one",
    "jobs.Release": "a hand-over stays",
    "access.Change": "a change stays",
}
# A tag is never given again: it may be filled in, never deleted, and its code never changes.
NEVER_DELETED = {"shelf.Tag": "a tag is unique for good"}


def write(using: str = "default") -> None:
    """(Re)write every trigger in the database; a table that is not there yet is left for a later migrate."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for label, words in {**TABLES, **NEVER_DELETED}.items():
            table = apps.get_model(label)._meta.db_table
            if table not in there:
                continue
            actions = ("UPDATE", "DELETE") if label in TABLES else ("DELETE", "UPDATE OF code")
            for action in actions:
                for statement in _sql(connection.vendor, table, action, words):
                    cursor.execute(statement)


def _sql(vendor: str, table: str, action: str, words: str) -> list[str]:
    name = f"keep_{table}_{action.split()[0].lower()}"
    if vendor == "sqlite":
        return [
            f"DROP TRIGGER IF EXISTS {name}",
            f"CREATE TRIGGER {name} BEFORE {action} ON {table} BEGIN SELECT RAISE(ABORT, '{words}'); END",
        ]
    if vendor == "postgresql":
        body = f"BEGIN RAISE EXCEPTION '{words}'; END"
        statements = [
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$",
            f"DROP TRIGGER IF EXISTS {name} ON {table}",
            f"CREATE TRIGGER {name} BEFORE {action} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
        ]
        if action == "DELETE":  # TRUNCATE passes by a row's trigger
            statements += [
                f"DROP TRIGGER IF EXISTS {name}_all ON {table}",
                f"CREATE TRIGGER {name}_all BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {name}()",
            ]
        return statements
    raise NotImplementedError(f"{vendor}: no triggers are written for it")


def after_migrate(sender: Any, using: str, **_: Any) -> None:
    """Django calls it for every app after each migrate."""
    write(using)
