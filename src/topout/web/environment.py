"""Reads the settings that come from outside: each is said in full, or the start stops with a line that names it.

| name | meaning | default |
| --- | --- | --- |
| TOPOUT_DATABASE | path of the database file | `workshop.sqlite3` in the user's data folder |
| TOPOUT_SECRET_FILE | path of the secret key, made on the first start, readable by its owner alone | beside the database |
| TOPOUT_PHOTOS | folder of the photos | beside the database, with its name: `workshop.photos` |
| TOPOUT_BACKUPS | folder of the copies, better on another disk; one that is named here has to be there | `backups` beside the database |
| TOPOUT_BACKUP_AT | when a copy is made every night, by the workshop’s clock, or `off` | 02:30 |
| TOPOUT_BACKUP_KEEP | how many nights, weeks and months have a copy, and how many before an upgrade stay | 7,5,12,10 |
| TOPOUT_BIND | address that is served | 127.0.0.1 |
| TOPOUT_PORT | port that is served | 8000 |
| TOPOUT_HOSTS | further host names that may stand in an address, with commas | none: this computer's own names and addresses alone |
| TOPOUT_BEHIND_PROXY | `1`: a proxy on this computer does the TLS; needs TOPOUT_HOSTS | `0` |
| TOPOUT_DEMO | `1`: a database made now becomes the demo workshop | `0` |
| TOPOUT_TIME_ZONE | time zone until the Workshop page names one, `Europe/…` | this computer's |
| TOPOUT_JOURNAL | `wal` or `delete`: SQLite's journal, for tests | by SQLite's version |
"""

from __future__ import annotations

import ipaddress
import os
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import platformdirs
from django.core.exceptions import ImproperlyConfigured

# A name of labels, or an address; no sign that stands for several names.
_HOST = re.compile(r"[a-z0-9]([a-z0-9_-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9_-]*[a-z0-9])?)*|\[[0-9a-f:.]+\]")
KNOWN = frozenset(
    f"TOPOUT_{name}"
    for name in (
        "DATABASE",
        "SECRET_FILE",
        "PHOTOS",
        "BACKUPS",
        "BACKUP_AT",
        "BACKUP_KEEP",
        "BIND",
        "PORT",
        "HOSTS",
        "DEMO",
        "BEHIND_PROXY",
        "TIME_ZONE",
        "JOURNAL",
    )
)
# SQLite 3.7.0 to 3.51.2 can, very rarely, damage a WAL file when two connections write or checkpoint at once;
# 3.51.3 mended it (SQLite's release history). Below that the rollback journal is used.
WAL_FROM = (3, 51, 3)
SHARED_PHOTOS = "photos"  # of all the databases in a folder, in earlier versions


class Environment:
    """One strict reading of the environment; every fault is ImproperlyConfigured with name, value and way out."""

    def __init__(self, values: Mapping[str, str]) -> None:
        self.values = values
        unknown = sorted(name for name in values if name.startswith("TOPOUT_") and name not in KNOWN)
        if unknown:
            raise ImproperlyConfigured(f"{unknown[0]}: no such setting. Known are {', '.join(sorted(KNOWN))}.")

    def text(self, name: str, default: str) -> str:
        value = self.values.get(name, default)
        if not value.strip() or "\0" in value:
            raise ImproperlyConfigured(f'{name}="{value}": is empty. Leave it out for the default, {default}.')
        return value.strip()

    def switch(self, name: str) -> bool:
        value = self.text(name, "0")
        if value not in ("0", "1"):
            raise ImproperlyConfigured(f'{name}="{value}": write 1 or 0.')
        return value == "1"

    def port(self, name: str, default: int) -> int:
        value = self.text(name, str(default))
        if not value.isascii() or not value.isdigit() or not 1 <= int(value) <= 65535:
            raise ImproperlyConfigured(f'{name}="{value}": a port is a whole number from 1 to 65535.')
        return int(value)

    def address(self, name: str, default: str) -> str:
        value = self.text(name, default)
        try:
            return str(ipaddress.ip_address(value))
        except ValueError:
            raise ImproperlyConfigured(
                f'{name}="{value}": write an address such as 127.0.0.1, or 0.0.0.0 for all of this computer; a name is none.'
            ) from None

    def hosts(self, name: str) -> list[str]:
        """Further names by which the workshop may be asked for; none where nothing is said."""
        if name not in self.values:
            return []
        value = self.text(name, "none")
        hosts = [part.strip().lower() for part in value.split(",")]
        for host in hosts:
            if not _HOST.fullmatch(host):
                raise ImproperlyConfigured(
                    f'{name}="{value}": write each host name in full, without http:// and port, with commas between.'
                )
        return hosts

    def choice(self, name: str, default: str, choices: tuple[str, ...]) -> str:
        value = self.text(name, default)
        if value not in choices:
            raise ImproperlyConfigured(f'{name}="{value}": write one of {", ".join(choices)}.')
        return value

    def time_zone(self, name: str, default: Callable[[], str]) -> str:
        value = self.text(name, "") if name in self.values else default()
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ImproperlyConfigured(f'{name}="{value}": write a zone such as Europe/Dublin or UTC.') from None
        return value

    def time_of_day(self, name: str, default: str) -> time | None:
        """A time such as 02:30; None for `off`."""
        value = self.text(name, default)
        if value == "off":
            return None
        found = re.fullmatch(r"([01]\d|2[0-3]):([0-5]\d)", value, re.ASCII)
        if found is None:
            raise ImproperlyConfigured(f'{name}="{value}": write a time such as {default}, or off.')
        return time(int(found[1]), int(found[2]))

    def numbers(self, name: str, default: str) -> tuple[int, ...]:
        """Whole numbers with commas, as many as the default has, the first at least 1: something has to stay."""
        value = self.text(name, default)
        parts = [part.strip() for part in value.split(",")]
        wanted = default.count(",") + 1
        if (
            len(parts) != wanted
            or not all(re.fullmatch(r"\d{1,4}", part, re.ASCII) for part in parts)
            or parts[0] == "0"
        ):
            raise ImproperlyConfigured(
                f'{name}="{value}": write {wanted} whole numbers with commas, the first at least 1, such as {default}.'
            )
        return tuple(int(part) for part in parts)


@dataclass(frozen=True)
class Files:
    """Where a workshop's files stand."""

    database: Path
    secret: Path
    photos: Path
    photos_named: bool  # by TOPOUT_PHOTOS: then the folder is left where it is
    backups: Path
    backups_named: bool  # by TOPOUT_BACKUPS: then the folder has to be there, its disk may be unplugged


def own_photos(database: Path) -> Path:
    """The folder of a database's own photos, which need not be there yet."""
    return database.with_suffix(".photos")


def photo_in(folder: Path, sha256: str) -> Path:
    """Where the photo with this hash stands in a folder of photos."""
    return folder / sha256[:2] / f"{sha256}.jpg"


def photos_of(database: Path) -> Path:
    """Where the photos of a database stand: a folder of earlier versions until `own_photos.py` has given it its own."""
    own, shared = own_photos(database), database.parent / SHARED_PHOTOS
    return shared if not own.exists() and shared.is_dir() and database.is_file() else own


def files(outside: Environment) -> Files:
    """The workshop's files, by the environment or in their usual places; none is opened or made."""
    named = outside.text("TOPOUT_DATABASE", str(data_folder() / "workshop.sqlite3"))
    if "://" in named:  # as a path it would be a folder of that name, with an empty workshop in it
        raise ImproperlyConfigured(
            f'TOPOUT_DATABASE="{named}": names a server. Topout keeps a workshop in a file of SQLite: write the path of a file.'
        )
    database = Path(named).absolute()

    def path(name: str, default: Path) -> Path:
        return Path(outside.text(name, str(default))).absolute()

    return Files(
        database,
        path("TOPOUT_SECRET_FILE", database.with_suffix(".secret")),
        path("TOPOUT_PHOTOS", photos_of(database)),
        "TOPOUT_PHOTOS" in outside.values,
        path("TOPOUT_BACKUPS", database.parent / "backups"),
        "TOPOUT_BACKUPS" in outside.values,
    )


def read() -> Environment:
    """The environment of this process."""
    return Environment(os.environ)


def zone_of_this_computer() -> str:
    """The time zone this computer is set to; UTC where it names none that is known."""
    import tzlocal

    try:
        name = tzlocal.get_localzone_name()
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, LookupError, ValueError, OSError):
        return "UTC"
    return str(name)


def data_folder() -> Path:
    """The user's own data folder for Topout."""
    return Path(platformdirs.user_data_dir("topout", appauthor=False))


def secret(path: Path) -> str:
    """The secret key of this workshop, made on the first start with 0600 and kept; `modes.mend` looks at its mode."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        _make_secret(path)
    key = path.read_text(encoding="ascii").strip()
    if len(key) < 50:
        raise ImproperlyConfigured(f"{path}: holds no secret of 50 characters. Remove it; the next start makes one.")
    return key


def _make_secret(path: Path) -> None:
    """Written beside its place and put there whole: of two first starts at once one wins, and none reads half a secret."""
    beside = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    try:
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(48))
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(beside, path)
        except FileExistsError:
            pass  # the other start was first
        except OSError:  # a file system without links
            if not path.exists():
                beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)  # half a secret of a full disk, too


def pragmas(journal_mode: str) -> str:
    """What is said to be saved is saved: every commit waits for the disk.

    A commit ends when the rollback journal is unlinked, and FULL never syncs that: after a power cut the journal may be
    back and takes the commit with it. EXTRA syncs the folder too. A write-ahead log unlinks nothing, FULL is enough.
    What is deleted, an erased rider's name, is overwritten in the file.
    """
    return f"PRAGMA journal_mode={journal_mode}; PRAGMA synchronous={'EXTRA' if journal_mode == 'delete' else 'FULL'}; PRAGMA secure_delete=ON;"


def journal(sqlite_version: tuple[int, ...]) -> str:
    """`wal` where SQLite keeps it whole, else `delete`, the rollback journal."""
    return "wal" if sqlite_version >= WAL_FROM else "delete"
