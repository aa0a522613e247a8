"""One command from words to exit status: what is found wrong is a line each on standard error, never a traceback."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence

from topout.cli import options
from topout.terminal import printable

WARNED = 1  # exit status where --strict was asked for and something is warned of
MENDABLE = 2  # exit status where something is to be mended
STOPPED = 130  # Ctrl-C, as shells count it
PIPE_CLOSED = 141  # the reader of our output has gone, as shells count it


def run(arguments: Sequence[str], of_workshop: Callable[[Sequence[str]], int]) -> int:
    """Run one command line; returns its exit status. `of_workshop` takes over where its records are needed."""
    try:
        status = _run(arguments, of_workshop)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:
        _drop_output()
        return PIPE_CLOSED


def _drop_output() -> None:
    """What is still buffered has nowhere to go; without this the interpreter would complain of it at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _print(text: str) -> bool:
    """Write an answer to standard output; False, and a line, where that takes nothing: a full disk, none at all."""
    if sys.stdout is None:
        _complain(["there is no standard output to print to."])
        return False
    try:
        sys.stdout.write(printable(text, sys.stdout.encoding))
        sys.stdout.flush()
        return True
    except BrokenPipeError:
        raise
    except OSError as error:
        _drop_output()
        _complain([f"the answer can't be written to standard output ({error.strerror})."])
        return False


def _run(arguments: Sequence[str], of_workshop: Callable[[Sequence[str]], int]) -> int:
    if arguments and arguments[0] in options.OF_WORKSHOP:
        return of_workshop(arguments)
    try:
        asked = options.parse(arguments)
    except options.WrongWord as wrong:
        _complain([str(wrong)])
        return MENDABLE
    if asked.version:
        from importlib.metadata import version

        return 0 if _print(f"topout {version('topout')}\n") else MENDABLE
    if asked.command == "help" and asked.topic in options.OF_WORKSHOP:
        return of_workshop([asked.topic, "--help"])
    return _answer(asked)


def _answer(asked: Namespace) -> int:
    # Nothing here is large enough for numpy's linear algebra to share out; starting its threads would be a fifth of the
    # command's time. Imported from here on, so that `--help` pays for none of it.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from topout.errors import TopoutError

    try:
        text, warned = _text(asked)
    except (TopoutError, options.WrongWord) as error:
        _complain(str(error).splitlines())
        return MENDABLE
    if not _print(text):
        return MENDABLE
    return WARNED if warned and getattr(asked, "strict", False) else 0


def _text(asked: Namespace) -> tuple[str, bool]:
    """What a command prints, and whether it warns."""
    if asked.command == "new":
        from topout.cli import new

        return new.answer(asked), False
    if asked.command == "help":
        from topout.cli import topics

        return topics.answer(asked.topic), False
    if asked.command == "completion":
        from topout import shipped

        return shipped.completions()[asked.shell].read_text("utf-8"), False
    if asked.command == "check-procedure":
        from topout.cli import procedures

        return procedures.check(asked), False
    from topout.cli import commands

    answer = commands.answer(asked)
    return answer.text, answer.warned


def _complain(lines: Sequence[str]) -> None:
    for line in lines:
        sys.stderr.write(printable(line, sys.stderr.encoding) + "\n")
