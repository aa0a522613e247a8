"""What a command of the workshop needs before Django reads its settings: its options become the environment.

A workshop and the demo have a database each, both in one folder: the user's own data folder, or the one of `--data`.
TOPOUT_DATABASE names another file; `--data` wins over it.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from django.core.exceptions import ImproperlyConfigured

from topout.terminal import printable, without_value
from topout.web import environment

MOST_LETTERS = 300  # twice what a rider or an account may be called
MENDABLE = 2  # exit status where something is to be mended, as everywhere at this terminal


class Refused(Exception):
    """What stops a command, in one line for the terminal, with the way out."""


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, and takes no shortened option."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given, allow_abbrev=False, exit_on_error=False)

    def error(self, message: str) -> NoReturn:
        said = message[:1].upper() + message[1:].rstrip(".")
        raise Refused(f"{said}. All options: {self.prog} --help")


def parser(name: str, does: str) -> Parser:
    """The options that every command of the workshop has: where its records lie."""
    made = Parser(prog=f"topout {name}", description=does)
    made.add_argument("--demo", action="store_true", help="the demo workshop, made on its first start")
    made.add_argument(
        "--data", metavar="DIR", help=f"folder of the workshop's records (default: {environment.data_folder()})"
    )
    return made


def read(made: Parser, arguments: Sequence[str]) -> argparse.Namespace:
    """The options as typed, put into the environment; raises Refused. No file made from here on is for others."""
    empty = without_value(arguments)
    if empty:
        made.error(f'{empty}: "--" is no value')
    try:
        asked, more = made.parse_known_args(list(arguments))
    except argparse.ArgumentError as wrong:
        made.error(f"{wrong.argument_name}: {wrong.message}" if wrong.argument_name else wrong.message)
    if more:
        made.error(f'there is no option "{more[0]}"')
    os.umask(0o077)
    os.environ["DJANGO_SETTINGS_MODULE"] = "topout.web.settings"
    if asked.demo:
        os.environ["TOPOUT_DEMO"] = "1"
    if asked.data is not None and not asked.data.strip():
        made.error("--data: write the path of a folder")
    name = "demo.sqlite3" if os.environ.get("TOPOUT_DEMO") == "1" else "workshop.sqlite3"
    if asked.data is not None:
        os.environ["TOPOUT_DATABASE"] = str(Path(asked.data).expanduser() / name)
    else:
        os.environ.setdefault("TOPOUT_DATABASE", str(environment.data_folder() / name))
    return asked


def name(text: str) -> str:
    """A person's name or account on the command line: letters that a database can be asked for, and no more than a name has."""
    try:
        text.encode()
    except UnicodeEncodeError:
        raise argparse.ArgumentTypeError(f'"{text[:40]}": a letter in it is none; write it in UTF-8') from None
    if len(text) > MOST_LETTERS:
        raise argparse.ArgumentTypeError(f'"{text[:40]}…": longer than any name here')
    return text


def set_up() -> None:
    """Let Django read its settings; raises Refused for a setting at fault and a folder that can't be used."""
    import django

    try:
        django.setup()
    except ImproperlyConfigured as fault:
        raise Refused(str(fault)) from None
    except OSError as fault:
        raise unusable(fault) from None


def unusable(fault: OSError) -> Refused:
    """The folder of the records can't be made or written."""
    folder = Path(os.environ["TOPOUT_DATABASE"]).absolute().parent
    why = fault.strerror or str(fault)
    return Refused(f"{folder}: can't be used for the workshop's records ({why}). Name another folder: --data DIR")


def command(act: Callable[[], int | None]) -> int:
    """Run a command; what stops it is one line on standard error. Returns the exit status, 0 where it has none of its own."""
    try:
        return act() or 0
    except Refused as refused:
        sys.stderr.write(printable(str(refused), sys.stderr.encoding) + "\n")
        return MENDABLE


def say(line: str = "") -> None:
    """A line to the terminal: the one way there, since names come out of the database."""
    sys.stdout.write(printable(line, sys.stdout.encoding) + "\n")
