"""Each database has a folder of photos of its own. Earlier versions had one for all that lay in a folder, demo and workshop alike.

Such a folder, `photos`, is used where it lies until `topout serve` has given the database its own. Nothing is copied twice
and nothing removed while another database may want it: where one database is left it becomes its folder by one renaming;
else the photos that the records name get a second name in a new folder, which has its own name once it is whole.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final
from urllib.parse import quote

from topout.web.backup.files import Held, locked, sync_folder
from topout.web.backup.restore import open_lock
from topout.web.environment import SHARED_PHOTOS as SHARED
from topout.web.environment import Files, own_photos, photo_in

HELD: Final = "held"  # photos of a form that is not sent yet
UNFINISHED: Final = ".unfinished"
_SQLITE: Final = b"SQLite format 3\0"


def give_own(files: Files) -> str:
    """Give the database a folder of its own where it still has the shared one. What was done in a line; "" for nothing.

    A workshop that is open somewhere, or whose file can't be read, keeps what it has: the start says what is wrong. Raises OSError.
    """
    database, own, shared = files.database, own_photos(files.database), files.database.parent / SHARED
    if files.photos_named or files.photos != shared or own.exists() or not shared.is_dir():
        return ""
    try:
        with locked(open_lock(database)):
            if not _wanted_by_others(database):
                shared.rename(own)
                sync_folder(own.parent)
                return f"The photos of {database.name} are in {own.name} now, where they were in {SHARED}."
            named = _named(database)
            if named is None:
                return ""
            _link_all(named, shared, own)
            return f"The photos of {database.name} have a folder of their own now, {own.name}; {SHARED} stays for the databases beside."
    except Held:
        return ""


def without_folder(files: Files) -> str:
    """What is to be said where the records name photos and the folder is not there, so that no empty one takes its place; "" else.

    A folder that TOPOUT_PHOTOS names may be another workshop's `photos`, which became its own by `give_own`.
    """
    if files.photos.exists():
        return ""
    named = _named(files.database) if files.database.is_file() else None
    if not named:
        return ""
    whose = "TOPOUT_PHOTOS names this folder" if files.photos_named else "the photos stand beside the database"
    count = (
        "the photo that the records name is" if len(named) == 1 else f"{len(named)} photos that the records name are"
    )
    there = [str(folder) for folder in _beside(files) if _holds(folder, named)]
    way = (
        f"They are in {there[0]}: name that folder, TOPOUT_PHOTOS={there[0]}."
        if there
        else "Put the folder back, or name where it is: TOPOUT_PHOTOS. If it is lost, make an empty one of that name."
    )
    return f"{files.photos}: {whose}, and it is not there; {count} in it. {way} Then start again."


def _beside(files: Files) -> list[Path]:
    """Every folder of photos next to the one that is missed, and next to the database."""
    around = [folder for folder in dict.fromkeys((files.photos.parent, files.database.parent)) if folder.is_dir()]
    return sorted(path for folder in around for path in (*folder.glob("*.photos"), folder / SHARED) if path.is_dir())


def _holds(folder: Path, named: list[str]) -> bool:
    return any(photo_in(folder, sha256).is_file() for sha256 in named)


def _wanted_by_others(database: Path) -> bool:
    """Whether a database beside, whatever its file is called, has no folder of its own yet."""
    return any(
        other != database and other.is_file() and _is_database(other) and not own_photos(other).exists()
        for other in database.parent.iterdir()
    )


def _is_database(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(_SQLITE)) == _SQLITE


def _named(database: Path) -> list[str] | None:
    """The photos that its records name, by SHA-256; None where the file says nothing of photos, or nothing at all."""
    try:
        with closing(sqlite3.connect(f"file:{quote(str(database))}?mode=ro", uri=True, timeout=2)) as base:
            return [str(row[0]) for row in base.execute("SELECT DISTINCT sha256 FROM jobs_photo")]
    except sqlite3.Error:
        return None


def _link_all(named: list[str], shared: Path, own: Path) -> None:
    work = own.with_name(own.name + UNFINISHED)
    shutil.rmtree(work, ignore_errors=True)  # of a start that broke off
    work.mkdir(mode=0o700)
    wanted = [photo_in(Path(), sha256) for sha256 in named]
    held = shared / HELD
    if held.is_dir():
        wanted += [path.relative_to(shared) for path in held.rglob("*") if path.is_file()]
    for path in wanted:
        if (shared / path).is_file():  # one that is lost is said by `topout verify`
            (work / path).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            _link(shared / path, work / path)
    for folder in [*(path for path in work.rglob("*") if path.is_dir()), work]:
        sync_folder(folder)
    work.rename(own)
    sync_folder(own.parent)


def _link(source: Path, target: Path) -> None:
    """The same file under a second name; where the disk has no such thing, a copy that is on it."""
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)
        with target.open("rb") as file:
            os.fsync(file.fileno())
