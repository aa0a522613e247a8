"""One copy of a workshop in one file: a plain zip of its database, its photos and a list of what must be in it.

Nothing in a file is believed before it is checked against that list: names, sizes, SHA-256. See docs/backups.md.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from pathlib import Path
from typing import IO, Any, Final

from topout.errors import TopoutError
from topout.web.backup.progress import Tell, silent

FORMAT: Final = "topout-copy"
FORMAT_VERSION: Final = 1
MANIFEST: Final = "manifest.json"
DATABASE: Final = "workshop.sqlite3"
MOST_MANIFEST_BYTES: Final = 64 * 1024 * 1024
PART_BYTES: Final = 1024 * 1024
MOST_LETTERS: Final = 300  # of each word of the list that is said; a workshop's name has at most 120
MOST: Final = 2**63 - 1  # bytes of a file, rows of a table: more no disk and no SQLite holds
_PHOTO = re.compile(r"photos/([0-9a-f]{2})/(\1[0-9a-f]{62})\.jpg")
# What a damaged zip can bring up in `zipfile`, besides the operating system's own errors.
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, KeyError, OverflowError,
    struct.error, IndexError,
)  # fmt: skip


class NotACopy(TopoutError):
    """The file is no whole copy of a workshop; the text says in what."""


@dataclass(frozen=True)
class Entry:
    """One file of the copy: its bytes and their SHA-256 in hex."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What a copy is of and what must be in it. `counts` are rows by table, `losses` sentences on what could not be copied."""

    made_at: str  # ISO 8601, UTC
    reason: str  # a key of names.REASONS
    topout: str
    sqlite: str
    workshop: str
    started_at: str  # of the workshop, as its database writes it
    migrations: tuple[str, ...]  # "jobs.0001_initial"
    counts: Mapping[str, int]
    releases: int
    last_release: str  # "job 214, 2026-11-28 16:20:00", "" before the first
    losses: tuple[str, ...]
    files: Mapping[str, Entry]

    @property
    def whole(self) -> bool:
        """Whether everything that the records name is in it."""
        return not self.losses


def photo_name(sha256: str) -> str:
    """Where a photo stands in the copy, and beneath the data folder."""
    return f"photos/{sha256[:2]}/{sha256}.jpg"


def write(
    file: IO[bytes], database: Path, photos: Mapping[str, Path], about: Manifest, tell: Tell = silent
) -> Manifest:
    """Write a copy; returns `about` with the files, and with a loss for each photo (by SHA-256) that is not there or not itself."""
    held: dict[str, Entry] = {}
    losses = list(about.losses)
    with zipfile.ZipFile(file, "w", allowZip64=True) as out:
        held[DATABASE] = _add(out, DATABASE, database, zipfile.ZIP_DEFLATED)
        for count, (sha256, path) in enumerate(photos.items(), 1):
            found = sha256_of(path)
            if found is None:
                losses.append(f"The photo {sha256[:12]}… is not in its folder.")
            elif found != sha256:
                losses.append(f"The photo {sha256[:12]}… is not what was taken.")
            else:
                held[photo_name(sha256)] = _add(out, photo_name(sha256), path, zipfile.ZIP_STORED)
            tell("Photos", count, len(photos))
        about = replace(about, losses=tuple(losses), files=held)
        text = {"format": FORMAT, "format_version": FORMAT_VERSION, **asdict(about)}
        out.writestr(_info(MANIFEST, zipfile.ZIP_DEFLATED), json.dumps(text, indent=1, ensure_ascii=False))
    return about


def _info(name: str, method: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)  # the time of a file says nothing here; the list has the copy's
    info.compress_type = method
    info.external_attr = 0o600 << 16
    return info


def _add(out: zipfile.ZipFile, name: str, path: Path, method: int) -> Entry:
    digest, size = hashlib.sha256(), 0
    info = _info(name, method)
    info.file_size = path.stat().st_size
    with path.open("rb") as source, out.open(info, "w", force_zip64=info.file_size > 1 << 30) as member:
        while part := source.read(PART_BYTES):
            digest.update(part)
            size += len(part)
            member.write(part)
    return Entry(size, digest.hexdigest())


def sha256_of(path: Path) -> str | None:
    """SHA-256 of a file in hex; None where there is none."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
        return None


@contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """The file as a zip; whatever its damage brings up is NotACopy. What the operating system refuses stays OSError."""
    kind = path.stat().st_mode
    if stat.S_ISDIR(kind):
        raise NotACopy(f"{path}: is a folder; a copy is one file.")
    if not stat.S_ISREG(kind):  # a pipe that nobody writes to, a device that never ends
        raise NotACopy(f"{path}: is no file on a disk; a copy is one file.")
    with path.open("rb") as file:
        try:
            with zipfile.ZipFile(file) as archive:
                yield archive
        except (*_DAMAGED, OSError) as error:
            if isinstance(error, OSError) and error.errno != errno.EINVAL:  # a place before the file's beginning
                raise
            raise NotACopy(f"{path}: is not a whole copy of a workshop ({_first_line(error)}).") from None


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0][:200]


def read(path: Path) -> Manifest:
    """What a file says that it holds, read strictly; its contents are not looked at. Raises NotACopy, OSError."""
    with _opened(path) as archive:
        return _manifest(path, archive)


def check(path: Path, tell: Tell = silent) -> Manifest:
    """Read every byte of a copy and compare it with its list. Raises NotACopy, OSError."""
    with _opened(path) as archive:
        about = _manifest(path, archive)
        for name in _each(about, tell):
            _unpack(path, archive, name, about.files[name], None)
    return about


def extract(path: Path, folder: Path, tell: Tell = silent, *, database_alone: bool = False) -> Manifest:
    """Check a copy and write what is in it beneath `folder`, for its owner alone and down to the disk. Raises as `check`."""
    with _opened(path) as archive:
        about = _manifest(path, archive)
        for name in _each(about, tell):
            if database_alone and name != DATABASE:
                _unpack(path, archive, name, about.files[name], None)
                continue
            place = folder / name
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with os.fdopen(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                _unpack(path, archive, name, about.files[name], file)
                file.flush()
                os.fsync(file.fileno())
    return about


def _each(about: Manifest, tell: Tell) -> Iterator[str]:
    done, of = 0, sum(entry.bytes for entry in about.files.values())
    for name, entry in about.files.items():
        tell("Checking the copy", done, of)
        yield name
        done += entry.bytes
    tell("Checking the copy", of, of)


def _unpack(path: Path, archive: zipfile.ZipFile, name: str, wanted: Entry, target: IO[bytes] | None) -> None:
    digest, size = hashlib.sha256(), 0
    with archive.open(name) as member:
        while part := member.read(PART_BYTES):
            size += len(part)
            if size > wanted.bytes:
                break
            digest.update(part)
            if target is not None:
                target.write(part)
    if size != wanted.bytes or digest.hexdigest() != wanted.sha256:
        raise NotACopy(f"{path}: {name} in it is not what was copied.")


def _manifest(path: Path, archive: zipfile.ZipFile) -> Manifest:
    names = archive.namelist()
    if MANIFEST not in names or archive.getinfo(MANIFEST).file_size > MOST_MANIFEST_BYTES:
        raise NotACopy(f"{path}: is a zip, but not a copy of a workshop: it has no list of what is in it.")
    given = json.loads(archive.read(MANIFEST))
    if not isinstance(given, dict) or given.get("format") != FORMAT:
        raise NotACopy(f"{path}: is a zip, but not a copy of a workshop.")
    if given.get("format_version") != FORMAT_VERSION:
        raise NotACopy(
            f"{path}: was written by another Topout ({given.get('topout')}), in a format that this one can’t read. "
            "Put it back with that version, or a newer one."
        )
    about = _typed(path, given)
    if len(names) != len(set(names)) or set(names) != {MANIFEST, *about.files}:
        raise NotACopy(f"{path}: holds other files than its list says.")
    return about


def _typed(path: Path, given: dict[str, Any]) -> Manifest:
    """The manifest with every value of its kind; a list that somebody wrote by hand is believed in nothing else."""
    try:
        files = {name: Entry(**entry) for name, entry in given["files"].items()}
        values: dict[str, Any] = {field.name: given[field.name] for field in fields(Manifest)}
        good = (
            _all(str, *(values[name] for name in _TEXTS), *files, *given["migrations"], *given["losses"])
            and all(len(values[name]) <= MOST_LETTERS for name in _TEXTS)
            and _all(int, values["releases"], *values["counts"].values())
            and all(0 <= count <= MOST for count in (values["releases"], *values["counts"].values()))
            and datetime.fromisoformat(values["made_at"]).tzinfo is not None
            and DATABASE in files
            and all(_allowed(name, entry.bytes, entry.sha256) for name, entry in files.items())
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        good = False
    if not good:
        raise NotACopy(f"{path}: the list of what is in it can’t be read.")
    values |= {"files": files, "migrations": tuple(given["migrations"]), "losses": tuple(given["losses"])}
    return Manifest(**values)


def _all(kind: type, *values: object) -> bool:
    return all(type(value) is kind for value in values)


_TEXTS = ("made_at", "reason", "topout", "sqlite", "workshop", "started_at", "last_release")


def _allowed(name: str, size: object, sha256: object) -> bool:
    """Only the database and photos under their own SHA-256: no name leads out of the folder."""
    photo = _PHOTO.fullmatch(name)
    return (
        isinstance(size, int)
        and 0 <= size <= MOST
        and isinstance(sha256, str)
        and (name == DATABASE or (photo is not None and photo[2] == sha256))
    )
