"""Making a copy: snapshot, zip, read back, and only then under its name. What broke off is never taken for one."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import topout
from topout.errors import TopoutError
from topout.web import storage
from topout.web.backup import archive, names, snapshot
from topout.web.backup.archive import Manifest
from topout.web.backup.files import Held, locked, sync_folder
from topout.web.backup.progress import Tell, silent
from topout.web.environment import photo_in

LOCK = ".topout.lock"
UNFINISHED = ".topout-unfinished-"
SPARE_BYTES = 32 * 1024 * 1024  # left over on the disk of the copies


class NoCopy(TopoutError):
    """No copy was made; the text says why, and the way out."""


class Busy(NoCopy):
    """Another copy is being made in the same folder."""


@dataclass(frozen=True)
class Made:
    """A copy that was made and read back."""

    path: Path
    about: Manifest
    bytes: int


@dataclass(frozen=True)
class Source:
    """What is copied: the database, and the folder of its photos."""

    database: Path
    photos: Path


def make(
    source: Source, folder: Path, reason: str, now: datetime, tell: Tell = silent, *, make_folder: bool = False
) -> Made:
    """Copy the workshop into one file in `folder`, a folder that is there (or is made, where `make_folder` says so).

    The file has its name only once it is whole, on the disk and read back. Raises NoCopy or Busy.
    """
    if not source.database.is_file():
        raise NoCopy(f"{source.database}: there is no workshop to copy.")
    with words(source.database):
        if make_folder:
            folder.mkdir(mode=0o700, exist_ok=True)
    if not folder.is_dir():
        raise NoCopy(f"{folder}: there is no such folder. Plug its disk in, or make the folder, then try again.")
    with words(folder), _alone(folder):
        for old in folder.glob(f"{UNFINISHED}*"):
            shutil.rmtree(old, ignore_errors=True)
        _look_for_room(source, folder)
        work = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
        try:
            return _make(source, folder, work, reason, now, tell)
        finally:
            shutil.rmtree(work, ignore_errors=True)


def _make(source: Source, folder: Path, work: Path, reason: str, now: datetime, tell: Tell) -> Made:
    database = work / archive.DATABASE
    with words(source.database):
        snapshot.take(source.database, database, tell)
        damaged = snapshot.damage(database)
    if damaged:
        raise NoCopy(
            f"{source.database}: the database is damaged ({damaged[0]}). No copy was made; the earlier ones stay. "
            "Close the workshop, and put the last copy back with topout restore."
        )
    facts = snapshot.facts(database)
    about = Manifest(
        made_at=now.astimezone(UTC).isoformat(timespec="seconds"), reason=reason, topout=topout.__version__,
        sqlite=sqlite3.sqlite_version, workshop=facts.workshop, started_at=facts.started_at, migrations=facts.migrations,
        counts=facts.counts, releases=facts.releases, last_release=facts.last_release,
        losses=tuple(snapshot.loose_rows(database)), files={},
    )  # fmt: skip
    photos = {sha256: photo_in(source.photos, sha256) for sha256 in facts.photos}
    unfinished = work / "copy.zip"
    with os.fdopen(os.open(unfinished, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:
        about = archive.write(file, database, photos, about, tell)
        file.flush()
        os.fsync(file.fileno())
        if hasattr(os, "posix_fadvise"):  # read back from the disk, not from memory
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    if archive.check(unfinished, tell) != about:
        raise NoCopy(f"{folder}: the copy did not read back as it was written. Look at the disk.")
    place = _free(folder, names.Name(snapshot.mark(facts.started_at), now.replace(microsecond=0), reason))
    unfinished.rename(place)
    sync_folder(folder)
    return Made(place, about, place.stat().st_size)


def _free(folder: Path, name: names.Name) -> Path:
    """A name that no file has; two copies of one second are told apart."""
    for nth in range(1000):
        place = folder / str(names.Name(name.mark, name.at, name.reason, nth))
        if not place.exists():
            return place
    raise NoCopy(f"{folder}: a thousand copies bear the name of this second. Look at the clock.")


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    try:
        with locked(folder / LOCK):
            yield
    except Held:
        raise Busy(f"{folder}: another copy is being made there. Try again when it is done.") from None


@contextmanager
def words(path: Path) -> Iterator[None]:
    """What the disk, the system or SQLite refuses, in words."""
    try:
        yield
    except (OSError, sqlite3.Error, archive.NotACopy) as error:
        found = storage.trouble(error)
        if found is not None:
            raise NoCopy(f"{path}: {found.words} {found.way('try')}") from None
        said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise NoCopy(f"{path}: no copy could be made ({said}).") from None


def _look_for_room(source: Source, folder: Path) -> None:
    """Before anything is written: the snapshot, its part of the zip (at most as large) and the photos have to fit."""
    with closing(snapshot.connect(source.database)) as base:
        there = "jobs_photo" in snapshot.tables(base)
        rows = base.execute("SELECT sha256, max(size_bytes) FROM jobs_photo GROUP BY sha256") if there else ()
        photos = sum(int(row[1]) for row in rows)
        pages = int(base.execute("PRAGMA page_count").fetchone()[0]) * int(base.execute("PRAGMA page_size").fetchone()[0])  # fmt: skip
    needed, left = 2 * pages + photos + SPARE_BYTES, shutil.disk_usage(folder).free
    if left < needed:
        raise NoCopy(
            f"{folder}: the disk has room for {size(left)}, a copy takes up to {size(needed)}. "
            "Make room on it, or name another folder."
        )


def size(count: int) -> str:
    """A number of bytes as people say it: 3.4 MB."""
    value = float(count)
    for unit in ("bytes", "kB", "MB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" or value >= 100 else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} GB"
