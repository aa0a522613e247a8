"""Who on this machine may open the workshop's files: its own account alone. Looked at, and mended, on every start."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from topout.web.environment import SHARED_PHOTOS

OTHERS = 0o077
PROCEDURES = "procedures"
NOTES = (".secret", ".witness", ".copies", ".lock", ".photos")
BESIDE = ("", "-journal", "-wal", "-shm")  # SQLite makes these beside a database, with its mode


def mend(database: Path, photos: Path, secret: Path, backups: Path | None = None) -> str:
    """Take every right on the workshop's files from others; one line that says what was open, "" where nothing was.

    `backups` is the folder of the copies where it is the workshop's own; one on another disk keeps that disk's ways.

    A folder is closed where it holds the workshop's files alone; another (a home, `/tmp`) belongs to more than the
    workshop, stays as it is and is named. Raises ImproperlyConfigured for what is open and belongs to another account.
    """
    if os.name != "posix":
        return ""
    mended = []
    files = [database.with_name(database.name + end) for end in BESIDE]
    if any([_close(path, 0o600) for path in files]):
        mended.append("the database")
    if _close(secret, 0o600):
        mended.append(f"the secret (remove {secret} for a new one; everybody signs in again then)")
    for folder, words in ((photos, "the photos"), (backups, "the copies")):
        if folder is not None and folder.is_dir() and _close(folder, 0o700):
            for path in folder.rglob("*"):
                _close(path, 0o700 if path.is_dir() else 0o600)
            mended.append(words)
    procedures = database.with_name(PROCEDURES)
    if procedures.is_dir() and _close(procedures, 0o700):
        mended.append("the folder of procedures")
    says = []
    for folder in dict.fromkeys((database.parent, secret.parent)):
        if not _open_to_others(folder):
            continue
        if (
            set(folder.iterdir()) <= {*_own(folder, photos, secret), *([backups] if backups else ())}
            and folder.stat().st_uid == os.geteuid()
        ):
            folder.chmod(0o700)
            mended.append(f"the folder {folder}")
        else:
            says.append(
                f"The folder {folder} holds other things too and stays open; the workshop’s files in it are closed."
            )
    if mended:
        says.insert(0, f"Others on this machine could open {', '.join(mended)}. That is mended.")
    return " ".join(says)


def _own(folder: Path, photos: Path, secret: Path) -> Iterator[Path]:
    """What the workshop keeps in its folder: both databases, what stands beside them, secrets, photos, procedures, notes."""
    yield from (photos, secret, folder / PROCEDURES, folder / SHARED_PHOTOS)
    for path in folder.iterdir():
        if (
            path.suffix in NOTES
            or path.name.startswith((".topout-", "before-restore-"))
            or any(path.name.endswith(f".sqlite3{end}") for end in BESIDE)
        ):
            yield path


def _open_to_others(path: Path) -> bool:
    return bool(path.stat().st_mode & OTHERS)


def _close(path: Path, mode: int) -> bool:
    """Whether it was open to others, and is not any more."""
    if path.is_symlink() or not path.exists() or not _open_to_others(path):
        return False
    try:
        path.chmod(mode)
    except OSError as error:
        raise ImproperlyConfigured(
            f"{path}: others on this machine can open it, and it can’t be closed to them ({error.strerror}). "
            f"Make it belong to the account that runs Topout, with mode {mode:o}."
        ) from None
    return True
