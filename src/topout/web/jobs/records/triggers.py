"""Triggers that refuse any change of what was found, done and handed over, and anything new on a job that is handed over.

Django rebuilds a SQLite table when a column is altered and drops its triggers without a word, and can't rebuild one that
another table's trigger asks about. So every trigger is lifted before a migrate and written anew after it, whichever app
was migrated; a migrate that broke off leaves them out, and the workshop's health page says so until one runs through.
`INSERT OR REPLACE` deletes without asking the delete trigger (SQLite, recursive_triggers), so on SQLite a further
trigger refuses a row that would push one out.

Beside them stand three that refuse nothing: they keep in step which jobs are not handed over.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps
from django.db import connections, transaction
from django.db.models import Model, UniqueConstraint

TABLES = {
    "jobs.Reading": "a reading is corrected by a new one",
    "jobs.Photo": "a photo stays",
    "jobs.FrozenPlan": "a frozen plan stays",
    "jobs.ProcedureText": "a procedure that jobs were begun with stays",
    "jobs.OwnVersion": "a version of a procedure stays",
    "jobs.OwnSwitch": "what was switched stays; a new row says otherwise",
    "jobs.StepEntry": "a signed step stays",
    "jobs.Remark": "a remark is followed by a new one",
    "jobs.Release": "a hand-over stays",
    "access.Change": "a change stays",
    "access.Answer": "an answer stays",
    "access.SettingChange": "a change of a setting stays",
    "book.ServiceValue": "a value of a sheet is corrected by a new one",
    "shelf.TagPrint": "that a tag was asked for stays",
    # “Changed by”, which tells what a limit was while a job was here: a limit that was taken out stays told.
    "book.HistoricalBike": "what was changed, and by whom, stays",
    "book.HistoricalFamily": "what was changed, and by whom, stays",
    "book.HistoricalUnit": "what was changed, and by whom, stays",
    "jobs.HistoricalJob": "what was changed, and by whom, stays",
}
# A tag is never given again: it may be filled in, never deleted, and its code never changes.
NEVER_DELETED = {"shelf.Tag": "a tag is unique for good"}
# Of a release, and about its rider: never changed, and gone only once the rider is erased.
OF_A_RIDER = {
    "jobs.ReleasedSheet": "the sheet of a hand-over stays",
    "jobs.RiderNotes": "what a rider was told stays",
}
# What belongs to a job and is refused once the job is handed over.
OF_A_JOB = ("jobs.Reading", "jobs.Photo", "jobs.FrozenPlan", "jobs.StepEntry", "jobs.Remark", "jobs.Draft")
HANDED_OVER = "the job is handed over"
PREFIX: Final = "keep_"


@dataclass(frozen=True, slots=True)
class Guard:
    """One trigger: before `action` on a model's table it refuses with `words`, always or where `when` holds."""

    label: str
    end: str  # of its name
    action: str
    words: str
    when: str = ""

    @property
    def table(self) -> str:
        return str(apps.get_model(self.label)._meta.db_table)

    @property
    def name(self) -> str:
        return f"{PREFIX}{self.table}_{self.end}"


def guards() -> Iterator[Guard]:
    """Every trigger but those that SQLite needs beside them."""
    for label, words in TABLES.items():
        yield Guard(label, "update", "UPDATE", words)
        yield Guard(label, "delete", "DELETE", words)
    for label, words in NEVER_DELETED.items():
        yield Guard(label, "update", "UPDATE OF code", words)
        yield Guard(label, "delete", "DELETE", words)
    over = "EXISTS (SELECT 1 FROM jobs_release WHERE job_id = {})"
    for label in OF_A_JOB:
        yield Guard(label, "released", "INSERT", HANDED_OVER, over.format("NEW.job_id"))
    yield Guard("jobs.Job", "released", "UPDATE", HANDED_OVER, over.format("OLD.id"))
    pinned = "OLD.procedure <> NEW.procedure AND EXISTS (SELECT 1 FROM jobs_stepentry WHERE job_id = OLD.id)"
    yield Guard("jobs.Job", "procedure", "UPDATE", "a procedure stays once a step of it is signed", pinned)
    erased = (
        "EXISTS (SELECT 1 FROM jobs_release, jobs_job, book_rider WHERE jobs_release.id = OLD.release_id "
        "AND jobs_job.id = jobs_release.job_id AND book_rider.id = jobs_job.rider_id AND book_rider.erased_at IS NULL)"
    )
    for label, words in OF_A_RIDER.items():
        yield Guard(label, "update", "UPDATE", words)
        yield Guard(label, "delete", "DELETE", words, erased)
    drawn = "EXISTS (SELECT 1 FROM jobs_releasedsheet WHERE release_id = NEW.release_id)"
    yield Guard("jobs.RiderNotes", "released", "INSERT", HANDED_OVER, drawn)  # its sheet is the last thing of a release


def keepers() -> Iterator[tuple[str, str, str, str]]:
    """Triggers that refuse nothing: which jobs are not handed over. Table, end of the name, event, what is done."""
    yield "jobs_job", "opened", "INSERT", "INSERT INTO jobs_onthebench (job_id) VALUES (NEW.id)"
    yield "jobs_job", "gone", "DELETE", "DELETE FROM jobs_onthebench WHERE job_id = OLD.id"
    yield "jobs_release", "closed", "INSERT", "DELETE FROM jobs_onthebench WHERE job_id = NEW.job_id"


def _keeping(vendor: str) -> Iterator[str]:
    """What writes those triggers, and what they would have kept so far."""
    for table, end, event, act in keepers():
        name = f"{PREFIX}{table}_{end}"
        if vendor == "sqlite":
            yield f"DROP TRIGGER IF EXISTS {name}"
            yield f"CREATE TRIGGER {name} AFTER {event} ON {table} BEGIN {act}; END"
        else:
            yield f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {act}; RETURN NULL; END $$"
            yield f"DROP TRIGGER IF EXISTS {name} ON {table}"
            yield f"CREATE TRIGGER {name} AFTER {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
    yield "DELETE FROM jobs_onthebench WHERE job_id IN (SELECT job_id FROM jobs_release)"
    yield (
        "INSERT INTO jobs_onthebench (job_id) SELECT id FROM jobs_job WHERE id NOT IN (SELECT job_id FROM jobs_release) "
        "AND id NOT IN (SELECT job_id FROM jobs_onthebench)"
    )


def write(using: str = "default") -> None:
    """(Re)write every trigger in the database; a table that is not there yet is left for a later migrate."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for statement in _statements(connection.vendor, set(connection.introspection.table_names(cursor))):
            cursor.execute(statement)


def _statements(vendor: str, there: set[str]) -> Iterator[str]:
    """What writes every trigger on these tables."""
    for guard in guards():
        if guard.table in there:
            yield from _sql(vendor, guard.table, guard)
    if {"jobs_job", "jobs_release", "jobs_onthebench"} <= there:
        yield from _keeping(vendor)
    if vendor == "sqlite":
        for label, words in {**TABLES, **NEVER_DELETED, **OF_A_RIDER}.items():
            model = apps.get_model(label)
            if model._meta.db_table in there:
                yield from _push_out(model, words)


def _wanted(connection: Any, cursor: Any) -> dict[str, str]:
    """Every trigger and view of Topout's by name, letter for letter as a SQLite database holds it."""
    there = set(connection.introspection.table_names(cursor))
    wanted = {line.split()[2]: line for line in _statements("sqlite", there) if line.startswith("CREATE TRIGGER")}
    for app in apps.get_app_configs():  # what a floor above this one writes into the database
        wanted |= getattr(app, "written", dict)()
    return wanted


def differences(using: str = "default") -> list[str]:
    """Where triggers and views of a SQLite database are not, letter for letter, what is written here; a sentence each.

    One of another name counts too: whoever put it there may change with it what nothing else may.
    """
    connection = connections[using]
    with connection.cursor() as cursor:
        wanted = _wanted(connection, cursor)
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type IN ('trigger', 'view')")
        standing = {str(name): str(sql) for name, sql in cursor.fetchall()}
    said = [f"The guard {name} is missing." for name in wanted if name not in standing]
    said += [
        f"The guard {name} has another text." for name in wanted if standing.get(name, wanted[name]) != wanted[name]
    ]
    return said + [f"{name} in the database is none of Topout’s." for name in sorted(set(standing) - set(wanted))]


def mend(using: str = "default") -> list[str]:
    """Have the guards as they are written here, and no other trigger or view; returns a sentence for each that somebody else wrote.

    One that is missing is written: a migrate that broke off leaves it out. One with another text, or of another name, was written by
    hand, or came in with a copy: it goes, since it could let through, or change, what nothing may. By name alone on PostgreSQL.
    """
    connection = connections[using]
    wrong = differences(using) if connection.vendor == "sqlite" else missing(using)
    if not wrong:
        return []
    others: list[str] = []
    if connection.vendor == "sqlite":
        others = [each for each in wrong if not each.endswith("is missing.")]
        with transaction.atomic(using=using), connection.cursor() as cursor:
            ours = _wanted(connection, cursor)
            cursor.execute("SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') ORDER BY type")
            for kind, name in [(str(kind), str(name)) for kind, name in cursor.fetchall() if name not in ours]:
                quoted = name.replace('"', '""')
                cursor.execute(f'DROP {kind.upper()} IF EXISTS "{quoted}"')  # a view's triggers go with it
    write(using)
    return others


def lift(using: str = "default") -> None:
    """Take every trigger of ours out: a migrate is coming."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for name, table in _standing(connection, cursor):
            cursor.execute(f"DROP TRIGGER {name}" + ("" if connection.vendor == "sqlite" else f" ON {table}"))


def _standing(connection: Any, cursor: Any) -> list[tuple[str, str]]:
    """Every trigger of ours in the database, with its table."""
    if connection.vendor == "sqlite":
        cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
    else:
        cursor.execute("SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
    return [(name, table) for name, table in cursor.fetchall() if name.startswith(PREFIX)]


def _push_out(model: type[Model], words: str) -> list[str]:
    """Refuse a new row that shares a key with an old one: `OR REPLACE` would push the old one out."""
    meta = model._meta
    keys = [[field.column] for field in meta.local_concrete_fields if field.unique]
    for constraint in meta.constraints:
        if isinstance(constraint, UniqueConstraint):
            keys.append([meta.get_field(name).column for name in constraint.fields])  # type: ignore[union-attr]
    same = " OR ".join("(" + " AND ".join(f"{column} = NEW.{column}" for column in key) + ")" for key in keys)
    name = f"{PREFIX}{meta.db_table}_replace"
    return [
        f"DROP TRIGGER IF EXISTS {name}",
        f"CREATE TRIGGER {name} BEFORE INSERT ON {meta.db_table} "
        f"WHEN EXISTS (SELECT 1 FROM {meta.db_table} WHERE {same}) BEGIN SELECT RAISE(ABORT, '{words}'); END",
    ]


def _sql(vendor: str, table: str, guard: Guard) -> list[str]:
    name = f"{PREFIX}{table}_{guard.end}"
    if vendor == "sqlite":
        when = f"WHEN {guard.when} " if guard.when else ""
        return [
            f"DROP TRIGGER IF EXISTS {name}",
            f"CREATE TRIGGER {name} BEFORE {guard.action} ON {table} {when}"
            f"BEGIN SELECT RAISE(ABORT, '{guard.words}'); END",
        ]
    if vendor == "postgresql":
        goes_on = "OLD" if guard.action == "DELETE" else "NEW"
        refusal = f"RAISE EXCEPTION '{guard.words}';"
        body = (
            f"BEGIN IF {guard.when} THEN {refusal} END IF; RETURN {goes_on}; END"
            if guard.when
            else f"BEGIN {refusal} END"
        )
        statements = [
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ {body} $$",
            f"DROP TRIGGER IF EXISTS {name} ON {table}",
            f"CREATE TRIGGER {name} BEFORE {guard.action} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
        ]
        if guard.action == "DELETE":  # TRUNCATE passes by a row's trigger, and asks of no row whether it may go
            statements += [
                f"CREATE OR REPLACE FUNCTION {name}_all() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {refusal} END $$",
                f"DROP TRIGGER IF EXISTS {name}_all ON {table}",
                f"CREATE TRIGGER {name}_all BEFORE TRUNCATE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION {name}_all()",
            ]
        return statements
    raise NotImplementedError(f"{vendor}: no triggers are written for it")


def before_migrate(sender: Any, using: str, **_: Any) -> None:
    """Django calls it before each migrate, of whatever app."""
    lift(using)


def after_migrate(sender: Any, using: str, **_: Any) -> None:
    """Django calls it after each migrate, when the tables of all apps are there."""
    write(using)


def health() -> list[tuple[str, str]]:
    """Whether the database guards the records, and how many it holds."""
    lacking, others = missing(), differences() if connections["default"].vendor == "sqlite" else []
    beside = [
        name for app in apps.get_app_configs() for name in getattr(app, "written", dict)()
    ]  # they tell of themselves
    others = [each for each in others if not any(f" {name} " in each for name in beside)]
    guarded = "guarded by the database"
    if lacking or others:
        told = ", ".join(lacking) or " ".join(others)
        guarded = f"NOT guarded: {told}. Mend: stop and start the workshop".replace("..", ".")
    kept = [
        ("jobs.Job", "job"),
        ("jobs.Reading", "reading"),
        ("jobs.StepEntry", "signed step"),
        ("jobs.Photo", "photo"),
    ]
    counts = [(apps.get_model(label)._default_manager.count(), word) for label, word in kept]
    counted = ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts)
    return [("Records that may not change", guarded), ("Kept", counted)]


def missing(using: str = "default") -> list[str]:
    """Tables some of whose triggers are not in the database, read from the database itself."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = {name for name, _ in _standing(connection, cursor)}
    wanted: dict[str, set[str]] = {}
    for guard in guards():
        wanted.setdefault(guard.table, set()).add(guard.name)
    for table, end, *_ in keepers():
        wanted.setdefault(table, set()).add(f"{PREFIX}{table}_{end}")
    for label in (*TABLES, *NEVER_DELETED, *OF_A_RIDER):
        table = apps.get_model(label)._meta.db_table
        wanted[table].add(f"{PREFIX}{table}_{'replace' if connection.vendor == 'sqlite' else 'delete_all'}")
    return [table for table, names in wanted.items() if not names <= there]
