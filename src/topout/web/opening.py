"""From a database file, or none, to an open workshop: looked at, mended, brought up to date, the demo loaded once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db import connection, transaction

from topout.web import clock, environment, first_tables, modes, start, storage
from topout.web.access.models import Workshop
from topout.web.backup import at_start, copies, names, snapshot, witness
from topout.web.backup.files import Held, locked
from topout.web.backup.make import NoCopy
from topout.web.backup.nightly import Nightly
from topout.web.backup.restore import open_lock
from topout.web.demo import jobs
from topout.web.jobs.records import triggers
from topout.web.jobs.search import index
from topout.web.own_photos import without_folder


@contextmanager
def _in_words() -> Iterator[None]:
    """What keeps a record from being stored, a full disk above all, is a line at the start too, and no traceback."""
    try:
        yield
    except Exception as error:
        found = storage.trouble(error)
        if found is None:
            raise
        _refuse(found)


@_in_words()
def open_database() -> None:
    """Have a database that is ours alone and takes writes, migrated; raises Refused with what stands in the way."""
    try:
        settings.DATABASE_PATH.parent.mkdir(parents=True, exist_ok=True)
        look_at_file()
        look_for_photos()
        own = None if settings.BACKUPS_NAMED else settings.BACKUPS
        mended = modes.mend(settings.DATABASE_PATH, settings.PHOTOS, settings.SECRET_FILE, own)
    except ImproperlyConfigured as fault:
        raise start.Refused(str(fault)) from None
    except OSError as fault:
        raise start.unusable(fault) from None
    if mended:
        start.say(mended)
    look_at_storage()
    bring_up_to_date()


def look_at_file() -> None:
    """Raise Refused where the file is none of ours, or an old copy; before anything is done to it, its mode included."""
    _refuse(at_start.look(settings.DATABASE_PATH))


def look_for_photos() -> None:
    """Raise Refused where the folder of the photos is gone: another's upgrade, or a hand, may have moved it."""
    missing = without_folder(environment.files(environment.read()))
    if missing:
        raise start.Refused(missing)


def look_at_storage() -> None:
    """Raise Refused where the database takes no write; say where nobody knows whether it is the newest."""
    _refuse(storage.at_start())
    unread = at_start.unread_witness(settings.DATABASE_PATH)
    if unread:
        start.say(unread)


def _refuse(trouble: storage.Trouble | None) -> None:
    if trouble is not None:
        raise start.Refused(f"{settings.DATABASE_PATH}: {trouble.words} {trouble.way('start')}")


def bring_up_to_date() -> None:
    """Tables for a file with nothing in it; else migrate where anything is to do, a copy first. The triggers are looked at on
    every start."""
    if first_tables.is_empty():
        first_tables.make()
        return
    if at_start.behind():
        _copy_before()
        call_command("migrate", verbosity=0, interactive=False)
        return
    index.mend()
    for other in triggers.mend():
        start.say(
            f"{other} It was taken out. What it did meanwhile nobody knows: look the records over, topout verify."
        )


def _copy_before() -> None:
    """A copy of a workshop that is about to be changed by an upgrade; none of the demo, and of what is not begun yet."""
    facts = snapshot.facts(Path(connection.settings_dict["NAME"]))
    if not facts.started_at or facts.demo:
        return
    try:
        made = copies.of_settings().make(names.MIGRATION, clock.now())
    except NoCopy as error:
        raise start.Refused(f"The upgrade waits, since no copy could be made before it. {error}") from None
    start.say(f"A copy from before the upgrade: {made.path}")


@_in_words()
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
    witness.note()
    if wanted_demo and not workshop.demo:
        raise start.Refused(
            f"{settings.DATABASE_PATH} is a workshop's own database. The demo needs one of its own: give it another folder, --data DIR, and leave TOPOUT_DATABASE out."
        )
    return workshop


@contextmanager
def in_service(workshop: Workshop) -> Iterator[None]:
    """While the workshop is served: nobody puts a copy over it, and a copy is made every night. The demo makes none."""
    try:
        with locked(open_lock(settings.DATABASE_PATH), shared=True):
            if workshop.demo or settings.BACKUP_AT is None:
                yield
                return
            nightly = Nightly(copies.of_settings(), settings.BACKUP_AT, clock.now)
            nightly.start()
            try:
                yield
            finally:
                nightly.ended.set()
    except Held:
        raise start.Refused(
            f"{settings.DATABASE_PATH}: a copy is being put back. Start again when that is done."
        ) from None
