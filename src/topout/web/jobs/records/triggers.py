"""Triggers that refuse any change of what was found, done and handed over; written again after every migrate.

Django rebuilds a SQLite table when a column is altered and drops its triggers without a word, so `post_migrate`
writes them anew for every table below, whichever app was migrated. `INSERT OR REPLACE` deletes without asking the
delete trigger (SQLite, recursive_triggers), so on SQLite a third trigger refuses a row that would push one out.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db import connections
from django.db.models import Model, UniqueConstraint

TABLES = {
    "jobs.Reading": "a reading is corrected by a new one",
    "jobs.Photo": "a photo stays",
    "jobs.FrozenPlan": "a frozen plan stays",
    "jobs.ProcedureText": "a procedure that jobs were begun with stays",
    "jobs.StepEntry": "a signed step stays",
    "jobs.Remark": "a remark is followed by a new one",
    "jobs.Release": "a hand-over stays",
    "access.Change": "a change stays",
    "access.Answer": "an answer stays",
    "book.ServiceValue": "a value of a sheet is corrected by a new one",
}
# A tag is never given again: it may be filled in, never deleted, and its code never changes.
NEVER_DELETED = {"shelf.Tag": "a tag is unique for good"}


def write(using: str = "default") -> None:
    """(Re)write every trigger in the database; a table that is not there yet is left for a later migrate."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for label, words in {**TABLES, **NEVER_DELETED}.items():
            model = apps.get_model(label)
            table = model._meta.db_table
            if table not in there:
                continue
            actions = ("UPDATE", "DELETE") if label in TABLES else ("DELETE", "UPDATE OF code")
            statements = [line for action in actions for line in _sql(connection.vendor, table, action, words)]
            if connection.vendor == "sqlite":
                statements += _push_out(model, words)
            for statement in statements:
                cursor.execute(statement)


def _push_out(model: type[Model], words: str) -> list[str]:
    """Refuse a new row that shares a key with an old one: `OR REPLACE` would push the old one out."""
    meta = model._meta
    keys = [[field.column] for field in meta.local_concrete_fields if field.unique]
    for constraint in meta.constraints:
        if isinstance(constraint, UniqueConstraint):
            keys.append([meta.get_field(name).column for name in constraint.fields])  # type: ignore[union-attr]
    same = " OR ".join("(" + " AND ".join(f"{column} = NEW.{column}" for column in key) + ")" for key in keys)
    name = f"keep_{meta.db_table}_replace"
    return [
        f"DROP TRIGGER IF EXISTS {name}",
        f"CREATE TRIGGER {name} BEFORE INSERT ON {meta.db_table} "
        f"WHEN EXISTS (SELECT 1 FROM {meta.db_table} WHERE {same}) BEGIN SELECT RAISE(ABORT, '{words}'); END",
    ]


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


def health() -> list[tuple[str, str]]:
    """Whether the database guards the records, and how many it holds."""
    lacking = missing()
    guarded = "guarded by the database" if not lacking else f"NOT guarded: {', '.join(lacking)}"
    kept = [
        ("jobs.Job", "jobs"),
        ("jobs.Reading", "readings"),
        ("jobs.StepEntry", "steps signed"),
        ("jobs.Photo", "photos"),
    ]
    counted = ", ".join(f"{apps.get_model(label)._default_manager.count()} {words}" for label, words in kept)
    return [("Records that may not change", guarded), ("Kept", counted)]


def missing(using: str = "default") -> list[str]:
    """Tables whose triggers are not in the database, read from the database itself."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        there = {row[0] for row in cursor.fetchall()}
    tables = [apps.get_model(label)._meta.db_table for label in {**TABLES, **NEVER_DELETED}]
    endings = ("update", "delete", "replace") if connection.vendor == "sqlite" else ("update", "delete", "delete_all")
    return [table for table in tables if any(f"keep_{table}_{end}" not in there for end in endings)]
