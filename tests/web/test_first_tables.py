"""A new file's tables, made at once, are those the migrations lead to; and a start cut off leaves all of them or none."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.recorder import MigrationRecorder

from topout.web import first_tables, opening
from topout.web.backup import at_start
from topout.web.jobs.records import triggers
from web import raw
from web.shared import using_file

AS_WRITTEN = re.compile(r"[\s\"]+")


def shape(path: Path) -> dict[str, Any]:
    """All that a schema says, whatever the order it was said in."""
    with raw.opened(path) as base:
        tables = [name for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        found: dict[str, Any] = {}
        for name in tables:
            (text,) = base.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()
            found[name] = {
                "columns": sorted(row[1:] for row in base.execute(f"PRAGMA table_xinfo({name})")),
                "keys": sorted(row[2:] for row in base.execute(f"PRAGMA foreign_key_list({name})")),
                "indexes": sorted(
                    (index, unique, part, [tuple(row[2:]) for row in base.execute(f"PRAGMA index_xinfo('{index}')")])
                    for _, index, unique, _, part in base.execute(f"PRAGMA index_list({name})")
                    if not index.startswith("sqlite_autoindex")
                ),
                "unique": sorted(
                    [row[2] for row in base.execute(f"PRAGMA index_info('{index}')")]
                    for _, index, unique, _, _ in base.execute(f"PRAGMA index_list({name})")
                    if unique
                ),
                "checks": sorted(
                    AS_WRITTEN.sub(" ", text).count(word) for word in ("CHECK", "AUTOINCREMENT", "DEFERRED")
                ),
            }
        rest = base.execute("SELECT type, name, sql FROM sqlite_master WHERE type NOT IN ('table', 'index')")
        found["triggers"] = sorted(map(tuple, rest))
        found["migrations"] = sorted(base.execute("SELECT app, name FROM django_migrations"))
        found["permissions"] = base.execute("SELECT count(*) FROM auth_permission").fetchone()
        return found


def test_they_are_those_of_the_migrations(tmp_path: Path) -> None:
    shapes = []
    for name, make in (
        ("stepwise", lambda: call_command("migrate", verbosity=0)),
        ("at_once", opening.bring_up_to_date),
    ):
        with using_file(tmp_path / name):
            make()
            assert not at_start.behind() and not triggers.missing()
        shapes.append(shape(tmp_path / name))
    stepwise, at_once = shapes
    assert set(stepwise) == set(at_once) and len(stepwise) > 40
    wrong = {name: (stepwise[name], at_once[name]) for name in stepwise if stepwise[name] != at_once[name]}
    assert not wrong


@pytest.mark.parametrize("where", ["create_model", "record_applied", "post"])
def test_a_start_cut_off_leaves_nothing_and_the_next_one_makes_them(where: str, tmp_path: Path) -> None:
    places = {
        "create_model": (BaseDatabaseSchemaEditor, "create_model"),
        "record_applied": (MigrationRecorder, "record_applied"),
        "post": (first_tables, "emit_post_migrate_signal"),
    }
    room, name = places[where]
    real, calls = getattr(room, name), []

    def breaks(*given: Any, **more: Any) -> Any:
        calls.append(name)
        if len(calls) == (1 if where == "post" else 5):
            raise KeyboardInterrupt
        return real(*given, **more)

    path = tmp_path / "new.sqlite3"
    with using_file(path):
        with mock.patch.object(room, name, breaks), pytest.raises(KeyboardInterrupt):
            opening.bring_up_to_date()
        connection.close()
        with raw.opened(path) as base:
            assert base.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,)
        opening.bring_up_to_date()
        assert not at_start.behind() and not triggers.missing()
        with connection.cursor() as cursor:
            assert cursor.execute("PRAGMA foreign_keys").fetchone() == (1,)  # looked at again
