"""The folder of a workshop's own procedures, beside the database: read at start and when an owner looks; kept by an owner alone."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from django.conf import settings

from topout.errors import Fault, FaultsFound
from topout.procedures.own import SUFFIX, Own, key_of
from topout.procedures.read import FILE_LIMIT_BYTES
from topout.web.jobs.core import own_texts
from topout.web.jobs.records import own

MOST_FILES: Final = 40


@dataclass(frozen=True)
class Found:
    """A file of the folder: what was read in it, or what is wrong with it."""

    name: str
    own: Own | None = None
    faults: tuple[Fault, ...] = ()


def folder() -> Path:
    """Where it is, whether it is there or not."""
    return Path(settings.PROCEDURES)


def look() -> list[Found]:
    """Every file in it by name, checked; nothing is kept. Empty where there is no folder."""
    try:
        paths = sorted(path for path in folder().iterdir() if path.name.endswith(SUFFIX))
    except FileNotFoundError:
        return []
    except OSError as wrong:
        return [Found(folder().name, faults=(_unread(wrong),))]
    found = [_found(path) for path in paths[:MOST_FILES]]
    return found + list(_too_many(paths))


def stands(found: Found) -> str:
    """How a file stands to what is kept: `new`, why it is not taken, or "" where it has faults."""
    if found.own is None:
        return ""
    try:
        own.look(found.own)
    except own.NotKept as why:
        return str(why)
    return "new"


def told() -> str:
    """What the start says of the folder: how many texts wait for an owner, how many are at fault; "" where there is nothing to do."""
    found = look()
    new, wrong = sum(stands(each) == "new" for each in found), sum(bool(each.faults) for each in found)
    parts = [f"{new} new"] if new else []
    parts += [f"{wrong} with faults"] if wrong else []
    if not parts:
        return ""
    return f"Procedures in {folder()}: {' and '.join(parts)}. An owner looks at them, and takes them in, on the page Procedures."


def _too_many(paths: list[Path]) -> Iterator[Found]:
    for path in paths[MOST_FILES:]:
        message = f"not looked at: {MOST_FILES} files are read at once. Take the first ones out of the folder."
        yield Found(path.name, faults=(Fault("the file", message),))


def _found(path: Path) -> Found:
    try:
        data = _bytes(path)
    except OSError as wrong:
        return Found(path.name, faults=(_unread(wrong),))
    if data is None:
        return Found(path.name, faults=(Fault("the file", "a plain file is expected, no link and no folder."),))
    try:
        return Found(path.name, own_texts.check(data, key_of(path.name)))
    except FaultsFound as found:
        return Found(path.name, faults=found.faults)


def _bytes(path: Path) -> bytes | None:
    """What stands in a plain file, a byte more than may be read at most; None where it is no plain file."""
    # No link is followed out of the folder, and a pipe is not waited for.
    with open(path, "rb", opener=lambda name, flags: os.open(name, flags | _FLAGS)) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            return None
        return file.read(FILE_LIMIT_BYTES + 1)


_FLAGS: Final = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)


def _unread(wrong: OSError) -> Fault:
    return Fault(
        "the file", f"it can’t be read: {wrong.strerror or wrong}. Look at its rights; a link is not followed."
    )
