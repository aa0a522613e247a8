"""How far a long piece of work is: told in bytes or pieces, shown by whoever looks at it, or by nobody."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

SHOWN_AFTER_S = 1.0
Tell = Callable[[str, int, int], None]  # what is done, how much of it, of how much


def silent(what: str, done: int, of: int) -> None:
    """Nobody looks."""


@contextmanager
def on_terminal() -> Iterator[Tell]:
    """A line on standard error while work takes longer than a second; nothing where that is no terminal."""
    if not sys.stderr.isatty():
        yield silent
        return
    shown = _Shown()
    try:
        yield shown.tell
    finally:
        shown.close()


class _Shown:
    def __init__(self) -> None:
        self._began = time.monotonic()
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def tell(self, what: str, done: int, of: int) -> None:
        if time.monotonic() - self._began < SHOWN_AFTER_S:
            return
        if self._bar is None:
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(stderr=True), transient=True)
            self._bar.start()
            self._task = self._bar.add_task(what)
        assert self._task is not None
        self._bar.update(self._task, description=what, completed=done, total=max(of, 1))

    def close(self) -> None:
        if self._bar is not None:
            self._bar.stop()
