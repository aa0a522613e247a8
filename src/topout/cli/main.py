"""One command from words to exit status: what is found wrong is a line each on standard error, never a traceback."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence

from topout.cli import options
from topout.errors import FaultsFound, TopoutError

MENDABLE = 2  # exit status where something is to be mended
STOPPED = 130  # Ctrl-C, as shells count it
PIPE_CLOSED = 141  # the reader of our output has gone, as shells count it


def run(arguments: Sequence[str], serve: Callable[[Sequence[str]], int]) -> int:
    """Run one command line; returns its exit status. `serve` takes over where the pages are asked for."""
    try:
        status = _run(arguments, serve)
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:
        # What is still buffered has nowhere to go; without this the interpreter would complain of it at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED


def _run(arguments: Sequence[str], serve: Callable[[Sequence[str]], int]) -> int:
    if arguments and arguments[0] == "serve":
        return serve(arguments[1:])
    try:
        asked = options.parse(arguments)
        if asked.version:
            from importlib.metadata import version

            print(f"topout {version('topout')}")
            return 0
        from topout.cli import commands

        sys.stdout.write(commands.answer(asked))
        return 0
    except options.WrongWord as wrong:
        _complain([str(wrong)])
    except FaultsFound as found:
        _complain([str(fault) for fault in found.faults])
    except TopoutError as error:
        _complain(str(error).splitlines())
    return MENDABLE


def _complain(lines: Sequence[str]) -> None:
    for line in lines:
        # A file name may hold letters that the terminal can't show; the sentence must come all the same.
        data = (line + "\n").encode(sys.stderr.encoding or "utf-8", "backslashreplace")
        sys.stderr.write(data.decode(sys.stderr.encoding or "utf-8"))
