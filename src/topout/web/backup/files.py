"""Small files put in their place whole, a folder's entries down to the disk, and a lock that ends with its process."""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any


def sync_folder(folder: Path) -> None:
    """What was put into a folder, or renamed there, is on the disk; some systems have no such thing and refuse."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def save_json(path: Path, values: dict[str, Any]) -> None:
    """Write a small file for its owner alone: the old one, or the new one whole, whatever happens meanwhile."""
    beside = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    try:
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            json.dump(values, file, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    sync_folder(path.parent)


def read_json(path: Path) -> dict[str, Any] | None:
    """What a small file holds; None where there is none. Raises ValueError where it holds something else."""
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    values = json.loads(text)
    if not isinstance(values, dict):
        raise ValueError(f"{path}: is not what Topout wrote there")
    return values


class Held(Exception):
    """Another process holds the lock."""


@contextmanager
def locked(path: Path, *, shared: bool = False) -> Iterator[None]:
    """Hold a lock until the end, or until the process is gone. Raises Held at once where another has it.

    Without file locks (Windows) nobody is kept out; what is written under it is put in its place whole anyway.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Held(str(path)) from None
        yield
    finally:
        os.close(handle)
