"""What every web test shares: which database file is in use and how it is written, what is made once a run, photos drawn and
plans computed once."""

from __future__ import annotations

import fcntl
import functools
import itertools
import os
import shutil
import struct
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import django
import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import override_settings

django.setup()
from topout.bench_file.model import BenchFile  # noqa: E402
from topout.planner import bounds, drawn  # noqa: E402
from topout.web.jobs.core import figures  # noqa: E402
from topout.web.jobs.readings import photos  # noqa: E402  needs a set-up Django

# A commit waits for no disk: a test's file is thrown away. What waits as shipped: `both_journals` and `durable` of conftest.py, a
# server in a process of its own, and test_power_loss.py.
SHIPPED_PRAGMAS: str = connection.settings_dict["OPTIONS"]["init_command"]
connection.settings_dict["OPTIONS"]["init_command"] = f"{SHIPPED_PRAGMAS} PRAGMA synchronous=OFF;"
DRAW_ANEW = photos.draw_anew


@functools.lru_cache(maxsize=32)
def drawn_once(data: bytes) -> photos.Drawn:
    """A photo drawn anew as ever, the same one once: each drawing is a process of its own. A refusal is not kept."""
    return DRAW_ANEW(data)


WAL = 2  # in a header, of a file that is written ahead of
PLANNED, DRAWING = figures.plan_and_draws, (bounds.answer, drawn.draw)
_planned = functools.lru_cache(maxsize=64)(PLANNED)


def planned_once(file: BenchFile, **how: Any) -> Any:
    """A plan computed as ever, the same one once: it asks no file, clock or chance. A refusal is not kept."""
    if (
        bounds.answer,
        drawn.draw,
    ) == DRAWING:  # else a test draws in its own way (outside_cast.py): nobody else's answer
        with suppress(TypeError):  # of a file with a list in it, which nothing can be kept by
            return _planned(file, **how)
    return PLANNED(file, **how)


@contextmanager
def using_file(path: Path) -> Iterator[None]:
    """Point Django's connection at another database file; afterwards at the one before, or at none that can be opened."""
    before = connection.settings_dict["NAME"]
    _point(path)
    try:
        yield
    finally:
        _point(before)


def _point(path: Path | str) -> None:
    connection.close()
    settings.DATABASES["default"]["NAME"] = str(path)
    connection.settings_dict["NAME"] = str(path)


_point("/nowhere/workshop.sqlite3")  # a test that asks for no workshop has none, and not that of the test before it


_WRITES = itertools.count(2**31, 1_000_003)  # SQLite goes on from one by one at each write: none is met again


def held() -> bytes:
    """What the file of the open database holds."""
    path = Path(connection.settings_dict["NAME"])
    if _is_in_pieces(path):
        connection.close()
    return path.read_bytes()


def lay(data: bytes) -> None:
    """The file of the open database holds this from now on, as if another program had written it.

    By the number in a file's header SQLite knows that somebody wrote, and remembers nothing; the connection may stay open.
    """
    path = Path(connection.settings_dict["NAME"])
    if data[18] == WAL or _is_in_pieces(path):
        connection.close()
        for left in path.parent.glob(f"{path.name}-*"):
            left.unlink()
    number = struct.pack(">I", next(_WRITES) % 2**32)
    with path.open("r+b" if path.exists() else "wb") as file:
        file.write(data[:24] + number + data[28:92] + number + data[96:])
        file.truncate()


def _is_in_pieces(path: Path) -> bool:
    """Whether some of the database may stand in a file beside it."""
    if not path.exists():
        return False
    with path.open("rb") as file:
        return file.read(20)[18:19] == bytes([WAL]) or any(path.parent.glob(f"{path.name}-*"))


class Laid:
    """The one file that the tests of a worker work in, one after the other, under one connection that stays open between them.

    A connection that is opened anew reads all tables and puts every question into SQLite's own words again, a tenth of what a test
    of pages costs. Where a test closed the connection, left something open or put another file there, a new one is opened.
    """

    def __init__(self, path: Path) -> None:
        self.path, self._inode = path, 0
        self._kept: Any = None  # the connection, between two tests

    def _is_clean(self) -> bool:
        raw = connection.connection
        return (
            raw is not None and not raw.in_transaction and not connection.in_atomic_block and not connection.needs_rollback
            and not connection.run_on_commit and self._is_the_same() and not _is_in_pieces(self.path)
        )  # fmt: skip

    def _is_the_same(self) -> bool:
        return self.path.exists() and self.path.stat().st_ino == self._inode

    @contextmanager
    def holding(self, template: Path, photos: Path | None = None) -> Iterator[Path]:
        """Point Django at the file, with what the template holds, alone in its folder but for these photos; afterwards at none."""
        for left in self.path.parent.iterdir():
            if left.is_dir() and not left.is_symlink():
                shutil.rmtree(left)
            elif left != self.path or self._kept is None:
                left.unlink()
        if photos is not None:
            shutil.copytree(photos, self.path.parent / "photos")
        _point(self.path)
        lay(template.read_bytes())
        self._inode = self.path.stat().st_ino
        connection.connection, self._kept = self._kept, None
        try:
            with override_settings(PHOTOS=self.path.parent / "photos"):
                yield self.path
        finally:
            if connection.settings_dict["NAME"] == str(self.path) and self._is_clean():
                connection.connection, self._kept = None, connection.connection
            _point("/nowhere/workshop.sqlite3")

    def end(self) -> None:
        """Nothing stays open."""
        if self._kept is not None:
            self._kept.close()


@contextmanager
def pragmas(command: str) -> Iterator[None]:
    """Open the database with these pragmas."""
    options = connection.settings_dict["OPTIONS"]
    before = options["init_command"]
    connection.close()
    options["init_command"] = command
    yield
    connection.close()
    options["init_command"] = before


def once_a_run(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder that is made by the first worker that asks for it; the others of the same run wait and take it."""
    shared = factory.getbasetemp().parent if "PYTEST_XDIST_WORKER" in os.environ else factory.getbasetemp()
    folder, whole = shared / name, shared / f"{name}.whole"
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not whole.exists():
            folder.mkdir()
            make(folder)
            whole.touch()
    return folder
