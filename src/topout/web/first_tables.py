"""The tables of a database with nothing in it: made as they stand now, in one transaction, every migration noted as done.

The migrations lead there step by step and rebuild all models after each, 2 s of processor for an empty file; they are for what
holds records. That both ways end alike is held by a test (`tests/web/test_first_tables.py`).
"""

from __future__ import annotations

from django.apps import apps
from django.core.management.sql import emit_post_migrate_signal
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor


def is_empty() -> bool:
    """Whether the database that Django has open holds no table at all."""
    return not connection.introspection.table_names()


def make() -> None:
    """Make them; a start cut off at any moment leaves all of them or none."""
    executor = MigrationExecutor(connection)
    connection.disable_constraint_checking()  # SQLite takes no change of tables otherwise, and not inside a transaction
    try:
        with transaction.atomic():
            with connection.schema_editor() as editor:
                for model in apps.get_models():
                    if model._meta.can_migrate(connection):
                        editor.create_model(model)
            executor.recorder.ensure_schema()
            for node in executor.loader.graph.nodes:
                executor.recorder.record_applied(*node)
            # The triggers, and the index of the find box, as after every migrate.
            emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias)
    finally:
        connection.enable_constraint_checking()
