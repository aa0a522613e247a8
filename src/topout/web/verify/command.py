"""`topout verify`: a line for everything that is looked at, then a sentence for all that is wrong.

0: all is as it was saved. 1: something is not. 2: it could not be looked at.
"""

from __future__ import annotations

import os
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from topout.terminal import printable
from topout.web import environment, start, storage
from topout.web.backup import archive, snapshot
from topout.web.backup.command import files_of_workshop, told
from topout.web.backup.progress import Tell, on_terminal

if TYPE_CHECKING:
    from topout.web.verify.checks import Finding

WRONG: Final = 1


class _Wrong(Exception):
    """What can be told without Django: the copy, or the database, is not whole."""


@dataclass(frozen=True)
class Subject:
    """What is looked at: a snapshot of its database, what its photos really hold, and what a copy's list says of it."""

    words: str
    database: Path
    sha256_of: Callable[[str], str | None]
    counts: dict[str, int] | None = None
    losses: tuple[str, ...] = ()


def verify(arguments: Sequence[str]) -> int:
    """Look at the workshop, or at a copy, whole. Returns the exit status."""
    return start.command(lambda: _verify(arguments))


def parser() -> start.Parser:
    """The options of `topout verify`."""
    made = start.parser("verify", "Looks whether everything that is kept is still what was saved; changes nothing.")
    made.usage = "topout verify [options] [FILE]"
    made.add_argument("file", metavar="FILE", nargs="?", help="a copy (default: the workshop itself, open or not)")
    return made


def _verify(arguments: Sequence[str]) -> int:
    asked = start.read(parser(), arguments)
    files = files_of_workshop()
    with tempfile.TemporaryDirectory(prefix="topout-verify-") as folder, on_terminal() as tell:
        try:
            if asked.file is not None:
                subject = _copy(Path(asked.file).expanduser().absolute(), Path(folder), tell)
            else:
                subject = _workshop(files, Path(folder), tell)
        except _Wrong as wrong:
            return _say_wrong([str(wrong)])
        start.say(subject.words)
        return _look(subject, tell)


def _copy(path: Path, work: Path, tell: Tell) -> Subject:
    with _readable(path):
        about = archive.extract(path, work, tell, database_alone=True)
    held = {name: entry.sha256 for name, entry in about.files.items()}
    return Subject(
        f"{path}: every byte is what was copied. {told(about)}", work / archive.DATABASE,
        lambda sha256: held.get(archive.photo_name(sha256)), dict(about.counts), about.losses,
    )  # fmt: skip


def _workshop(files: environment.Files, work: Path, tell: Tell) -> Subject:
    if not files.database.is_file():
        raise start.Refused(f"{files.database}: there is no workshop. Name its folder: --data DIR")
    with _readable(files.database):
        snapshot.take(files.database, work / archive.DATABASE, tell)
    return Subject(
        f"{files.database}: as it stands now.", work / archive.DATABASE,
        lambda sha256: archive.sha256_of(environment.photo_in(files.photos, sha256)),
    )  # fmt: skip


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    """What is not whole is an answer; what could not be looked at is a refusal."""
    try:
        yield
    except archive.NotACopy as error:
        raise _Wrong(str(error)) from None
    except (OSError, sqlite3.Error) as error:
        found = storage.trouble(error)
        if found in (storage.DAMAGED, storage.NO_DATABASE):
            raise _Wrong(f"{path}: {found.words}") from None
        if found is not None:
            raise start.Refused(f"{path}: {found.words} {found.way('try')}") from None
        said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise start.Refused(f"{path}: can’t be read ({said}).") from None


def _look(subject: Subject, tell: Tell) -> int:
    os.environ["TOPOUT_DATABASE"] = str(subject.database)
    os.environ["TOPOUT_SECRET_FILE"] = str(subject.database.with_suffix(".secret"))
    start.set_up()
    wrong: list[str] = []
    differs: list[str] = []
    for finding in _findings(subject, tell):
        start.say(f"  {finding.name:12}{finding.stands}")
        wrong += finding.wrong
        differs += finding.differs
    for line in differs:
        start.say(f"Differs, made by another version: {line}")
    for loss in subject.losses:
        start.say(f"When the copy was made: {loss}")
    if wrong:
        return _say_wrong(wrong)
    start.say("All is as it was saved.")
    return 0


def _findings(subject: Subject, tell: Tell) -> Iterator[Finding]:
    from django.core.management import call_command
    from django.db import connection

    from topout.web.backup import at_start
    from topout.web.verify import checks

    whole = True
    for finding in checks.database(subject.database):
        whole = whole and not finding.wrong
        yield finding
    if not whole:
        return
    against = at_start.contents(subject.database)
    if against is not None:
        raise start.Refused(f"{against.words} {against.way('try')}")
    yield checks.rows(subject.database, subject.counts)
    try:
        if at_start.behind():
            yield checks.Finding("guards", "of an older version; written anew when it is opened")
            call_command("migrate", verbosity=0, interactive=False)  # the snapshot alone
        else:
            yield checks.guards()
        yield checks.photos(subject.sha256_of, tell)
        yield checks.texts()
        yield checks.history()
        yield checks.plans(tell)
    finally:
        connection.close()


def _say_wrong(lines: Sequence[str]) -> int:
    sys.stdout.flush()
    for line in lines:
        sys.stderr.write(printable(line, sys.stderr.encoding) + "\n")
    return WRONG
