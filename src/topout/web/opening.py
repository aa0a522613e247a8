"""From a database file, or none, to an open workshop: looked at, mended, brought up to date, the demo loaded once."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from topout.web import clock, modes, start, storage
from topout.web.access.models import Workshop
from topout.web.demo import jobs
from topout.web.jobs.records import triggers


def open_database() -> None:
    """Have a database that is ours alone and takes writes, migrated; raises Refused with what stands in the way."""
    try:
        settings.DATABASE_PATH.parent.mkdir(parents=True, exist_ok=True)
        mended = modes.mend(settings.DATABASE_PATH, settings.PHOTOS, settings.SECRET_FILE)
    except ImproperlyConfigured as fault:
        raise start.Refused(str(fault)) from None
    except OSError as fault:
        raise start.unusable(fault) from None
    if mended:
        start.say(mended)
    look_at_storage()
    bring_up_to_date()


def look_at_storage() -> None:
    """Raise Refused where the database takes no write."""
    trouble = storage.at_start()
    if trouble is not None:
        raise start.Refused(f"{settings.DATABASE_PATH}: {trouble.words} {trouble.way.replace('send this', 'start')}")


def behind() -> bool:
    """Whether the database has migrations to come, or is none of ours yet."""
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def bring_up_to_date() -> None:
    """Migrate where anything is to do; the triggers are looked at on every start."""
    if behind():
        call_command("migrate", verbosity=0, interactive=False)
    elif triggers.missing():
        triggers.write()


def open_workshop(wanted_demo: bool) -> Workshop:
    """The workshop of this database, made on its first start; the demo is loaded whole or not at all."""
    workshop = Workshop.objects.first()
    if workshop is None:
        if wanted_demo:
            with transaction.atomic():
                jobs.load()
        else:
            Workshop.objects.create(started_at=clock.now())
        workshop = Workshop.objects.get()
    if wanted_demo and not workshop.demo:
        raise start.Refused(
            f"{settings.DATABASE_PATH} is a workshop's own database. The demo needs one of its own: give it another folder, --data DIR, and leave TOPOUT_DATABASE out."
        )
    return workshop
