"""A copy put back: everything in it is looked at first, in a folder of its own; the workshop's place is made by renaming.

The database comes last, so a place that has one is whole. Over a live database only where that is asked for by name, with the
old files put together in a folder beside.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from topout.errors import TopoutError
from topout.web import storage
from topout.web.backup import archive, snapshot
from topout.web.backup.archive import Manifest
from topout.web.backup.files import Held, locked, sync_folder
from topout.web.backup.make import SPARE_BYTES, size
from topout.web.backup.progress import Tell, silent
from topout.web.backup.snapshot import Facts

UNFINISHED: Final = ".topout-restore-"
BESIDE: Final = ("", "-journal", "-wal", "-shm")  # what belongs to a SQLite file


class NotRestored(TopoutError):
    """Nothing was put in its place; the text says why, and the way out."""


@dataclass(frozen=True)
class Target:
    """The files that a copy is put back as. `open_lock` is held by a process that serves them."""

    database: Path
    photos: Path

    @property
    def open_lock(self) -> Path:
        return open_lock(self.database)


@dataclass(frozen=True)
class Restored:
    """What was put back, and the folder of the old files where there were any."""

    about: Manifest
    old: Path | None


def open_lock(database: Path) -> Path:
    """The file that a process holds while it serves the workshop."""
    return database.with_suffix(".lock")


def restore(
    path: Path,
    target: Target,
    now: datetime,
    look: Callable[[Path], str],
    tell: Tell = silent,
    *,
    replace: bool = False,
) -> Restored:
    """Put a copy back. `look` says in words what stands against opening a database file ("" for nothing).

    Raises NotACopy, NotRestored; until everything was checked nothing is in the place, after an error as before.
    """
    about = archive.read(path)
    there = _there(target)
    if target.database.is_dir():
        raise NotRestored(f"{target.database}: is a folder. Move it away, or name another place: --data DIR.")
    if there and not replace:
        raise NotRestored(
            f"{target.database.parent}: there is a workshop already ({there[0].name}). Name a new folder, --data DIR; or say "
            "--replace, and its files are put into a folder beside."
        )
    parent = _standing_parent(target.database.parent)
    with _words(parent):
        _look_for_room(about, parent)
        work = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=parent))
        try:
            archive.extract(path, work, tell)
            _agree(path, work / archive.DATABASE, about, look)
            with _closed(target, there):
                old = _put(work, target, there, now)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    return Restored(about, old)


def _there(target: Target) -> list[Path]:
    """What of a database is in the place, a journal left alone included."""
    files = [target.database.with_name(target.database.name + end) for end in BESIDE]
    return [path for path in files if path.exists()]


def _standing_parent(folder: Path) -> Path:
    """The folder itself, or the nearest above it that is there: on its disk everything is unpacked first."""
    while not folder.exists():
        folder = folder.parent
    if not folder.is_dir():
        raise NotRestored(f"{folder}: is no folder. Name another place: --data DIR.")
    return folder


def _look_for_room(about: Manifest, folder: Path) -> None:
    needed = sum(entry.bytes for entry in about.files.values()) + SPARE_BYTES
    left = shutil.disk_usage(folder).free
    if left < needed:
        raise NotRestored(
            f"{folder}: the disk has room for {size(left)}, the copy needs {size(needed)}. Make room, or name another place: "
            "--data DIR."
        )


def _agree(path: Path, database: Path, about: Manifest, look: Callable[[Path], str]) -> None:
    """The database of the copy is whole, is what the list says, and can be opened by this version."""
    damaged = snapshot.damage(database)
    if damaged:
        raise NotRestored(f"{path}: the database in it is damaged ({damaged[0]}). Take another copy.")
    facts = snapshot.facts(database)
    if not facts.counts or _listed(facts) != _listed(about) or not _has_its_photos(facts, about):
        raise NotRestored(f"{path}: the database in it is not what its list says. Take another copy.")
    against = look(database)
    if against:
        raise NotRestored(f"{path}: {against}")


def _listed(of: Facts | Manifest) -> tuple[object, ...]:
    """What a database says of itself, and the list of a copy of it too."""
    return dict(of.counts), of.started_at, of.migrations, of.workshop, of.releases


def _has_its_photos(facts: Facts, about: Manifest) -> bool:
    """Whether each photo of its rows is in the copy, or among what the list says could not be copied."""
    away = [sha256 for sha256 in facts.photos if archive.photo_name(sha256) not in about.files]
    return all(any(sha256[:12] in loss for loss in about.losses) for sha256 in away)


@contextmanager
def _closed(target: Target, there: list[Path]) -> Iterator[None]:
    """Nobody has the workshop open that is replaced."""
    if not there:
        yield
        return
    try:
        with locked(target.open_lock):
            if target.database.is_file() and target.database.stat().st_size:
                with closing(sqlite3.connect(target.database, timeout=2, isolation_level=None)) as base:
                    try:
                        base.execute("BEGIN EXCLUSIVE")
                        base.execute("ROLLBACK")
                    except sqlite3.Error as error:
                        if storage.trouble(error) is storage.LOCKED:
                            raise Held(str(target.database)) from None  # what is damaged may go aside all the same
            yield
    except Held:
        raise NotRestored(f"{target.database}: the workshop is open. Close it first (Ctrl-C where it runs).") from None


def _put(work: Path, target: Target, there: list[Path], now: datetime) -> Path | None:
    """Rename everything into its place: the photos, the old database aside, and last the new one.

    Photos stand under their SHA-256, so those of the workshop before may stand in the same folder without harm.
    """
    folder = target.database.parent
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    old = _new_folder(folder / f"before-restore-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}") if there else None
    if old is not None and target.photos.is_dir():
        shutil.copytree(target.photos, old / "photos", copy_function=_link)
    for photo in sorted((work / "photos").rglob("*.jpg")):
        place = target.photos / photo.parent.name / photo.name
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if archive.sha256_of(place) != photo.stem:
            shutil.move(photo, place)
            sync_folder(place.parent)
    if old is not None:
        for path in there:
            path.rename(old / path.name)
        sync_folder(old)
    _name(work / archive.DATABASE, target.database)
    for end in (".witness", ".copies"):  # what was seen of the old one says nothing of this one
        noted = target.database.with_suffix(end)
        if noted.exists():
            old = old or _new_folder(folder / f"before-restore-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}")
            noted.replace(old / noted.name)
    sync_folder(folder)
    return old


def _name(whole: Path, place: Path) -> None:
    """Give the database its name; where another has come to have it meanwhile, that one stays."""
    try:
        os.link(whole, place)
    except FileExistsError:
        raise NotRestored(f"{place}: another workshop was made there meanwhile. It stays.") from None
    except OSError:  # a disk without links
        whole.rename(place)


def _link(source: str, target: str) -> None:
    """The same file under another name, or a copy where the disk has no such thing."""
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


def _new_folder(path: Path) -> Path:
    for nth in range(1000):
        place = path.with_name(f"{path.name}-{nth}") if nth else path
        try:
            place.mkdir(mode=0o700)
            return place
        except FileExistsError:
            continue
    raise NotRestored(f"{path}: a thousand folders bear that name. Look at the clock.")


@contextmanager
def _words(folder: Path) -> Iterator[None]:
    """What the disk or the system refuses, in words."""
    try:
        yield
    except (OSError, sqlite3.Error) as error:
        found = storage.trouble(error)
        if found is not None:
            raise NotRestored(f"{folder}: {found.words} {found.way('try')}") from None
        said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise NotRestored(f"{folder}: the copy could not be put back ({said}).") from None
