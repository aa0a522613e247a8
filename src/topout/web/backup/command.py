"""`topout backup` and `topout restore`: options, words and exit status.

0: done. 1: a copy was made, and something that the records name was not there to copy. 2: nothing was done.
"""

from __future__ import annotations

import os
import sqlite3
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from django.core.exceptions import ImproperlyConfigured

from topout.errors import TopoutError
from topout.terminal import printable
from topout.web import clock, environment, start, storage
from topout.web.backup.archive import Manifest
from topout.web.backup.make import Made, Source, make, size
from topout.web.backup.names import ASKED
from topout.web.backup.progress import on_terminal

NOT_WHOLE: Final = 1


def backup(arguments: Sequence[str]) -> int:
    """Copy the workshop into one file, while it is open. Returns the exit status."""
    return start.command(lambda: _backup(arguments))


def restore(arguments: Sequence[str]) -> int:
    """Put a copy back into a new place. Returns the exit status."""
    return start.command(lambda: _restore(arguments))


def backup_parser() -> start.Parser:
    """The options of `topout backup`."""
    made = start.parser("backup", "Copies the workshop, its photos too, into one checked file, while it is open.")
    made.usage = "topout backup [options] [DIR]"
    made.add_argument(
        "folder", metavar="DIR", nargs="?", help="folder for the copy (default: that of the nightly ones)"
    )
    return made


def restore_parser() -> start.Parser:
    """The options of `topout restore`."""
    made = start.parser("restore", "Checks a copy to the last byte and puts it back as a workshop.")
    made.usage = "topout restore [options] FILE"
    made.add_argument("file", metavar="FILE", nargs="?", help="the copy")
    made.add_argument(
        "--replace", action="store_true", help="take the place of a workshop that is there; its files are put into a folder beside"
    )  # fmt: skip
    return made


def files_of_workshop() -> environment.Files:
    """Where the workshop's files stand; raises Refused for a setting at fault."""
    try:
        return environment.files(environment.read())
    except ImproperlyConfigured as fault:
        raise start.Refused(str(fault)) from None


def _backup(arguments: Sequence[str]) -> int:
    asked = start.read(backup_parser(), arguments)
    files = files_of_workshop()
    if not files.database.is_file():
        raise start.Refused(f"{files.database}: there is no workshop to copy. Name its folder: --data DIR")
    try:
        with on_terminal() as tell:
            if asked.folder is not None:
                folder = Path(asked.folder).expanduser().absolute()
                made = make(Source(files.database, files.photos), folder, ASKED, clock.now(), tell)
            else:
                start.set_up()
                from topout.web.backup import copies

                made = copies.of_settings().make(ASKED, clock.now(), tell)
    except TopoutError as error:
        raise start.Refused(str(error)) from None
    return _told(made)


def _told(made: Made) -> int:
    start.say(f"{made.path}: {size(made.bytes)}, read back and whole in itself. {told(made.about)}")
    for loss in made.about.losses:
        sys.stderr.write(printable(f"Not in the copy: {loss}", sys.stderr.encoding) + "\n")
    return NOT_WHOLE if made.about.losses else 0


def told(about: Manifest) -> str:
    """What a copy holds, in a line."""
    photos = len(about.files) - 1
    last = f"; last hand-over {about.last_release}" if about.last_release else ""
    return f"{about.workshop or 'Workshop'}, {about.made_at}: {about.counts.get('jobs_job', 0)} jobs, {photos} photos{last}."


def _restore(arguments: Sequence[str]) -> int:
    asked = start.read(restore_parser(), arguments)
    if asked.file is None:
        raise start.Refused("The copy is missing: topout restore FILE")
    files = files_of_workshop()
    path = Path(asked.file).expanduser().absolute()
    with tempfile.TemporaryDirectory(prefix="topout-") as scratch:
        # Django asks for a database and a secret of its own; the workshop's place is made by nobody but `put_back`.
        os.environ["TOPOUT_DATABASE"] = str(Path(scratch) / "none.sqlite3")
        os.environ["TOPOUT_SECRET_FILE"] = str(Path(scratch) / "none.secret")
        start.set_up()
        from topout.web.backup import restore as put_back

        target = put_back.Target(files.database, files.photos)
        try:
            with on_terminal() as tell:
                done = put_back.restore(path, target, clock.now(), _against, tell, replace=asked.replace)
        except TopoutError as error:
            raise start.Refused(str(error)) from None
        except OSError as error:
            raise start.Refused(f"{path}: can’t be read ({error.strerror or error}).") from None
    start.say(f"{files.database}: put back, every byte checked. {told(done.about)}")
    if done.old is not None:
        start.say(f"What was there before is in {done.old}")
    for loss in done.about.losses:
        start.say(f"Not in this copy: {loss}")
    start.say("Everybody signs in anew. Whoever was erased since this copy was made has to be erased again.")
    return 0


def _against(database: Path) -> str:
    """What stands against opening a database of a copy."""
    from topout.web.backup import at_start

    try:
        found = at_start.contents(database)
    except sqlite3.Error as error:
        found = storage.trouble(error) or storage.DAMAGED
    return "" if found is None else f"{found.words} {found.way('try')}"
