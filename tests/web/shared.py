"""What every web test shares: which database file is in use and how it is written, what is made once a run, photos drawn and
plans computed once."""

from __future__ import annotations

import fcntl
import functools
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import django
import pytest
from django.conf import settings
from django.db import connection

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
