"""`topout export` and `topout import` at the terminal."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from topout.web import start

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from topout.web.book.models import Rider


def export(arguments: Sequence[str]) -> int:
    """Write the workshop's data, or one rider's, to a file. Returns the exit status."""
    return start.command(lambda: _export(arguments))


def _asked(name: str, does: str, arguments: Sequence[str], *options: tuple[str, dict[str, Any]]) -> argparse.Namespace:
    """The options of one of the two as typed, with the workshop opened; raises Refused."""
    made = start.parser(name, does)
    for option, says in options:
        made.add_argument(option, **says)
    asked = start.read(made, arguments)
    open_records()
    return asked


def _export(arguments: Sequence[str]) -> None:
    asked = _asked(
        "export",
        "Writes all of a workshop's data to one ZIP file: data.json, a CSV for each table, photos and set-up sheets. "
        "No passwords and no codes. It is no backup: topout reads back riders and bikes alone.",
        arguments,
        ("file", {"metavar": "FILE", "help": "the file to write, a new one, such as workshop.zip"}),
        (
            "--rider",
            {
                "metavar": "RIDER",
                "type": start.name,
                "help": "one rider's data alone: a name, or the number of the rider's page",
            },
        ),
    )
    from topout.web import clock
    from topout.web.export import tables, write

    path = Path(asked.file).expanduser()
    held = tables.whole() if asked.rider is None else tables.of_rider(_rider(asked.rider))
    try:
        if path.exists() or path.is_symlink():
            raise FileExistsError
        counts = write.save(path, held, clock.now())
    except FileExistsError:
        raise start.Refused(f"{path}: is there already, and was left as it is. Give another name") from None
    except (OSError, ValueError) as fault:
        raise start.Refused(f"{path}: can't be written ({getattr(fault, 'strerror', None) or fault})") from None
    rows = sum(counts.values()) - counts["photos"] - counts["sheets"]
    start.say(f"{path} is written: {rows} rows, {counts['photos']} photos, {counts['sheets']} set-up sheets.")
    start.say("It holds names, addresses and telephones: keep it as you keep the workshop's own records.")


def take_in(arguments: Sequence[str]) -> int:
    """Show what riders and bikes of a CSV file would become, and with --save put them in the Book. Returns the exit status."""
    return start.command(lambda: _take_in(arguments))


def _take_in(arguments: Sequence[str]) -> None:
    asked = _asked(
        "import",
        "Reads riders and bikes from a CSV file and says what would become of each row. Nothing is saved without --save, and nothing "
        "at all where any row is at fault. What stands in the Book is never changed.",
        arguments,
        ("file", {"metavar": "FILE", "help": "the CSV file, UTF-8, with a line of headings; - is standard input"}),
        ("--save", {"action": "store_true", "help": "put them in the Book"}),
        (
            "--as",
            {
                "dest": "who",
                "metavar": "ACCOUNT",
                "type": start.name,
                "help": "who takes them in (default: the only owner)",
            },
        ),
    )
    from topout.web.export import take_in as rows

    data = _bytes_of(asked.file, rows.MOST_BYTES)
    try:
        found = rows.fates(rows.rows_of(data))
    except rows.NotRead as wrong:
        raise start.Refused(f"{asked.file}: {wrong}") from None
    at_fault = [f"line {fate.line}: {fault}" for fate in found for fault in fate.faults]
    if at_fault:
        raise start.Refused("\n".join([*at_fault, f"Nothing is saved: {len(at_fault)} to mend."]))
    who = _account(asked.who) if asked.save else None
    for fate in found:
        start.say(f"line {fate.line}: {' '.join(fate.words.split())}")
    new = rows.counted(found)
    if who is None:
        start.say(f"{new}. Nothing is saved yet: the same with --save puts them in the Book.")
        return
    _save(data, who, rows.mark(found))
    start.say(f"{new}: saved.")


def _save(data: bytes, who: User, seen: str) -> None:
    import hashlib

    from topout.web.access.change import change
    from topout.web.export import take_in as rows

    with change(who, "import riders", {"sha256": hashlib.sha256(data).hexdigest()}) as doing:
        try:
            rows.save_seen(doing, data, seen)
        except rows.Changed:
            raise start.Refused("the Book changed meanwhile: look at the rows once more") from None


def _account(name: str | None) -> User:
    """Who takes in: the account named, else the only owner."""
    from django.contrib.auth.models import User

    active = User.objects.filter(is_active=True)
    found = list(active.filter(is_staff=True) if name is None else active.filter(username=name))
    if len(found) != 1:
        accounts = ", ".join(active.order_by("username").values_list("username", flat=True)) or "none yet"
        raise start.Refused(f"Say who takes them in: --as ACCOUNT. Accounts: {accounts}")
    return found[0]


def _bytes_of(name: str, most: int) -> bytes:
    """What a file or standard input holds, as far as it may be long and one byte more."""
    try:
        if name == "-":
            if sys.stdin is None:
                raise start.Refused("-: there is no standard input")
            return sys.stdin.buffer.read(most + 1)
        with open(Path(name).expanduser(), "rb") as file:
            return file.read(most + 1)
    except (OSError, ValueError) as fault:
        raise start.Refused(f"{name}: can't be read ({getattr(fault, 'strerror', None) or fault})") from None


def open_records() -> None:
    """Have a workshop that is there already and of this version; raises Refused. Makes no folder where there is none."""
    path = Path(os.environ["TOPOUT_DATABASE"])
    if not path.is_file():
        raise start.Refused(f"{path}: there is no workshop here. Name its folder: --data DIR")
    start.set_up()
    from django.conf import settings
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise start.Refused(f"{settings.DATABASE_PATH}: is of another version. Start it once: topout serve")


def _rider(asked: str) -> Rider:
    """The rider of that number or name; of namesakes, none."""
    from topout.web.book.models import Rider

    riders = Rider.objects.filter(erased_at=None)
    found = list(
        riders.filter(pk=int(asked))
        if asked.isascii() and asked.isdecimal()
        else riders.filter(name__iexact=asked.strip())
    )
    if len(found) == 1:
        return found[0]
    if not found:
        raise start.Refused(
            f'"{asked}": no such rider in the Book. The number stands in the address of the rider\'s page'
        )
    which = "; ".join(f"{row.pk}, telephone {row.phone or 'none'}" for row in found[:10])
    raise start.Refused(f'"{asked}": {len(found)} riders have that name. Give the number: {which}')
