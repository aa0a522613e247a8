"""`topout new`: a bench file that explains itself, to a new file or to standard output; nothing is written over unasked."""

from __future__ import annotations

import os
import shlex
import tempfile
from argparse import Namespace
from pathlib import Path

from topout import shipped
from topout.bench_file import explained, read, say
from topout.cli import options
from topout.cli.files import STANDARD_INPUT
from topout.errors import TopoutError


class NotWritten(TopoutError):
    """The file was not written; `str()` says why and what helps."""


def answer(asked: Namespace) -> str:
    """What is printed: the file's text for `-`, else what was written and how to go on. Raises TopoutError or WrongWord."""
    text = _text(asked.example)
    if asked.file == STANDARD_INPUT:
        return text
    _write(asked.file, text, asked.overwrite)
    name = say.plain(asked.file, 300)
    return (
        f"{name} is written. Open it in a text editor, take the # away where you know a value and write yours.\n"
        f"Then: topout plan {shlex.quote(name)}\n"
    )


def _text(example: str | None) -> str:
    if example is None:
        return explained.explained()
    known = shipped.examples()
    if example not in known:
        raise options.no_such_word(example, list(known), "example")
    return explained.explained(read.read_with_tables(known[example].read_bytes())[1])


def _write(name: str, text: str, overwrite: bool) -> None:
    def fault(message: str) -> NotWritten:
        return NotWritten(f"{say.plain(name, 300) or chr(34) * 2}: {message}")

    try:
        if overwrite and os.path.exists(name):
            _replace(Path(os.path.realpath(name)), text)
            return
        with open(name, "x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise fault("is there already, and was left as it is. Give another name, or --overwrite.") from None
    except IsADirectoryError:
        raise fault("that is a folder; give the file a name.") from None
    except (OSError, ValueError) as error:
        raise fault(f"can't be written ({getattr(error, 'strerror', None) or error}).") from None


def _replace(path: Path, text: str) -> None:
    """The whole new text or the whole old one, whatever happens meanwhile."""
    if path.is_dir():
        raise IsADirectoryError
    mode = path.stat().st_mode & 0o777
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with open(handle, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(beside, mode)
        os.replace(beside, path)
    except BaseException:
        os.unlink(beside)
        raise
