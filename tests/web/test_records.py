"""What was found, done and handed over never changes: attacked through sqlite3, past Django, after every migration."""

from __future__ import annotations

import contextlib
import io
import shutil
import sqlite3
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.core.management import call_command
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import IntegrityError, connection, migrations, models
from django.db.migrations.state import ProjectState
from django.test.utils import override_settings

from topout.web import environment
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import IMMUTABLE, Job, Reading
from topout.web.workshop import health
from web import people, raw, shared
from web.kept_rows import TABLES, a_row_in_every_table
from web.plan_cast import hollin_job

OF_A_JOB = ("reading", "photo", "frozenplan", "stepentry", "remark", "draft")


@pytest.fixture(scope="module")
def kept_file(template_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workshop with a row in every table that may not change, made once; each test works on its own copy."""
    path = tmp_path_factory.mktemp("kept") / "workshop.sqlite3"
    shutil.copyfile(template_file, path)
    with shared.using_file(path), override_settings(PHOTOS=path.parent / "photos"):
        a_row_in_every_table(people.Cast(User.objects.get(username="maud"), User.objects.get(username="jory")))
    return path


@pytest.fixture
def kept(kept_file: Path, workshop: Path) -> Job:
    """The one job of this test's own copy of it."""
    connection.close()
    shutil.copyfile(kept_file, workshop)
    job = Job.objects.get()
    connection.close()
    return job


def dump(path: Path, table: str) -> list[tuple[object, ...]]:
    with raw.opened(path) as base:
        return base.execute(f"SELECT * FROM {table} ORDER BY id").fetchall()


def columns(path: Path, table: str) -> list[str]:
    with raw.opened(path) as base:
        return [row[1] for row in base.execute(f"PRAGMA table_info({table})")]


@pytest.mark.parametrize("table", TABLES)
def test_no_sql_changes_a_record(kept: Job, workshop: Path, table: str, both_journals: str) -> None:
    connection.close()
    before, names = dump(workshop, table), columns(workshop, table)
    listed = ", ".join(names)
    attacks = [f"DELETE FROM {table}", f"DELETE FROM {table} WHERE id = {before[0][0]}"]
    for way in ("", "OR REPLACE ", "OR IGNORE ", "OR FAIL ", "OR ROLLBACK "):
        attacks += [f"UPDATE {way}{table} SET {name} = {name}" for name in names]
        attacks.append(f"INSERT {way}INTO {table} SELECT {listed} FROM {table}")
        attacks.append(f"UPDATE {way}{table} SET id = id + 1000")
    attacks.append(f"REPLACE INTO {table} SELECT {listed} FROM {table}")
    attacks.append(f"INSERT INTO {table} SELECT {listed} FROM {table} WHERE true ON CONFLICT DO UPDATE SET id = id + 7")
    # A new id, an old key: the unique constraint would let REPLACE push the old row out.
    shifted = ", ".join("id + 5000" if name == "id" else name for name in names)
    attacks.append(f"INSERT OR REPLACE INTO {table} SELECT {shifted} FROM {table}")
    with raw.opened(workshop, each_statement_alone=True) as base:
        for attack in attacks:
            with pytest.raises(sqlite3.IntegrityError):
                base.execute(attack)
            assert not base.in_transaction, attack
    assert dump(workshop, table) == before


@pytest.mark.parametrize("attack", ["DELETE FROM shelf_tag", "UPDATE shelf_tag SET code = 'AAA'"])
def test_a_tag_is_unique_for_good(kept: Job, workshop: Path, attack: str) -> None:
    before = dump(workshop, "shelf_tag")
    with raw.opened(workshop) as base, pytest.raises(sqlite3.IntegrityError, match="unique for good"):
        base.execute(attack)
    assert dump(workshop, "shelf_tag") == before


def test_the_list_of_records_is_whole() -> None:
    """The model of a table of a job's own that drops out of the list drops out of the tests that go by it."""
    assert {model._meta.db_table for model in IMMUTABLE} == {
        "jobs_frozenplan", "jobs_photo", "jobs_reading", "jobs_release", "jobs_remark", "jobs_stepentry",
    }  # fmt: skip


@pytest.mark.parametrize("model", IMMUTABLE, ids=lambda model: model.__name__)
def test_django_changes_no_record(kept: Job, model: type[models.Model]) -> None:
    row = model._default_manager.first()
    assert row is not None
    for attack in (
        row.save,
        row.delete,
        model._default_manager.all().delete,
        lambda: model._default_manager.update(sequence=9),
    ):
        with pytest.raises((IntegrityError, models.ProtectedError)):
            attack()


def test_a_job_with_records_is_not_deleted(kept: Job) -> None:
    with pytest.raises(models.ProtectedError):
        kept.delete()


def test_a_correction_has_a_reason_and_is_one_of_a_kind(workshop: Path, cast: people.Cast) -> None:
    first = Reading.objects.get(job=hollin_job(cast.owner), kind="sag")
    connection.close()
    row = dict(zip(columns(workshop, "jobs_reading"), dump(workshop, "jobs_reading")[-1], strict=True))
    new = {**row, "id": None, "sequence": 900, "corrects_id": first.pk, "reason": ""}
    marks = ", ".join("?" * len(new))
    with raw.opened(workshop) as base:
        with pytest.raises(sqlite3.IntegrityError, match="correction_has_a_reason"):
            base.execute(f"INSERT INTO jobs_reading ({', '.join(new)}) VALUES ({marks})", list(new.values()))
        new["reason"] = "read wrongly"
        base.execute(f"INSERT INTO jobs_reading ({', '.join(new)}) VALUES ({marks})", list(new.values()))
        new["sequence"] = 901
        with pytest.raises(sqlite3.IntegrityError):
            base.execute(f"INSERT INTO jobs_reading ({', '.join(new)}) VALUES ({marks})", list(new.values()))


def test_the_migrations_make_every_table_as_the_models_say(workshop: Path) -> None:
    """A letter more in a model, a null less, and the next migration would be missing: Django writes none now."""
    told = io.StringIO()
    with contextlib.suppress(SystemExit):  # which --check raises where something is missing
        call_command("makemigrations", "--check", "--dry-run", stdout=told)
    assert told.getvalue() == "No changes detected\n"


def test_every_trigger_is_there_after_all_migrations(workshop: Path) -> None:
    assert triggers.missing() == []
    with raw.opened(workshop) as base:
        every = {row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    names = {name for name in every if not name.startswith("find_")}  # the index's: tests/web/test_find.py
    assert names == {
        *(
            f"keep_{table}_{end}"
            for table in (*TABLES, "access_settingchange", "shelf_tag")
            for end in ("update", "delete", "replace")
        ),
        *(f"keep_jobs_{name}_released" for name in OF_A_JOB),
        *("keep_jobs_job_released", "keep_jobs_job_procedure"),
        *(
            "keep_jobs_job_opened",
            "keep_jobs_job_gone",
            "keep_jobs_release_closed",
        ),  # refuse nothing: which jobs are here
        *(f"keep_access_settingchange_{end}" for end in ("update", "delete", "replace")),
        *(f"keep_jobs_releasedsheet_{end}" for end in ("update", "delete", "replace")),
        *(f"keep_jobs_ridernotes_{end}" for end in ("update", "delete", "replace", "released")),
    }


def test_triggers_come_back_after_a_migration_that_alters_the_table(kept: Job, workshop: Path) -> None:
    """One made-up migration more: SQLite's tables are rebuilt and lose their triggers; post_migrate writes them again."""
    state = ProjectState.from_apps(apps)
    emit_pre_migrate_signal(verbosity=0, interactive=False, db="default")
    for model in [model for model in apps.get_models() if model._meta.db_table in TABLES]:
        app, name = model._meta.app_label, model._meta.model_name
        assert name is not None
        for operation in (
            migrations.AddField(name, "made_up", models.CharField(max_length=9, default="x")),
            migrations.AlterField(name, "made_up", models.CharField(max_length=19, default="y", db_index=True)),
        ):
            after = state.clone()
            operation.state_forwards(app, after)
            with connection.schema_editor() as editor:
                operation.database_forwards(app, editor, state, after)
            state = after
    assert set(TABLES) <= set(triggers.missing())
    emit_post_migrate_signal(verbosity=0, interactive=False, db="default")
    assert triggers.missing() == []
    connection.close()
    for table in TABLES:
        with raw.opened(workshop) as base, pytest.raises(sqlite3.IntegrityError):
            base.execute(f"DELETE FROM {table}")


def test_a_workshop_waits_for_the_disk_as_its_journal_needs() -> None:
    """What the settings say, before the tests took the waiting out (tests/web/shared.py)."""
    assert shared.SHIPPED_PRAGMAS == environment.pragmas(environment.journal(sqlite3.sqlite_version_info))
    assert (
        environment.pragmas("delete").count("synchronous=EXTRA")
        == environment.pragmas("wal").count("synchronous=FULL")
        == 1
    )


def test_the_health_page_says_how_it_is_kept(both_journals: str, workshop: Path) -> None:
    facts = dict(health.facts())
    assert facts["Journal"].startswith(both_journals)
    assert facts["Synchronous"].startswith({"wal": "full", "delete": "extra"}[both_journals])
    assert facts["Records that may not change"] == "guarded by the database"
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER keep_jobs_reading_delete")
    assert "NOT guarded: jobs_reading" in dict(health.facts())["Records that may not change"]


@pytest.mark.parametrize(
    ("version", "journal"), [((3, 40, 1), "delete"), ((3, 51, 2), "delete"), ((3, 51, 3), "wal"), ((3, 53, 0), "wal")]
)
def test_the_journal_follows_from_the_version(version: tuple[int, ...], journal: str) -> None:
    assert environment.journal(version) == journal
