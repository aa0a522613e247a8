"""Lines and tables at a terminal: nothing is cut at any width; what does not fit stands in a second line of its cell.

rich is imported here and in `topics` alone of the command line.
"""

from __future__ import annotations

import io
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table

from topout.units import System

MOST: Final = 110  # letters in a line; longer ones are hard to read
LEAST: Final = 40
_GAP: Final = 3  # between two columns
_WORDS: Final = 14  # what the first column has at the least before numbers stand on two lines
BESIDE: Final = " · "  # between a figure and the same in the other system


class Page:
    """What is said, in the order in which it is read, in one system of units; `text()` is what is printed."""

    def __init__(self, system: System) -> None:
        self.system = system
        self._buffer = io.StringIO()
        self._width = min(max(shutil.get_terminal_size((MOST, 24)).columns, LEAST), MOST)

    def say(self, *lines: str) -> None:
        """Sentences, a line each, wrapped between words and never inside a quantity; an empty line after them."""
        if not lines:
            return
        for line in lines:
            self._buffer.write("\n".join(wrapped(line, self._width)) + "\n")
        self._buffer.write("\n")

    def table(self, title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
        """A table: words left, numbers right (a first column of numbers too); a number in both systems stands on two lines where the width asks for it."""
        body = [list(row) for row in rows]
        if self._words_left(head, body) < _WORDS:
            body = [[row[0], *(cell.replace(BESIDE, "\n") for cell in row[1:])] for row in body]
        widths = self._widths(head, body)
        words = max(self._words_left(head, body), _longest_word([head[0], *(row[0] for row in body)]))
        numbered = all(row[0][:1].isdigit() for row in body)
        made = Table(title=title or None, title_justify="left", title_style="", box=box.SIMPLE_HEAD, pad_edge=False)
        for place, said in enumerate(head):
            width = words if place == 0 else widths[place]
            made.add_column(
                "\n".join(wrapped(said, width)),
                justify="left" if place == 0 and not numbered else "right",
                no_wrap=True,
            )
        for row in body:
            made.add_row("\n".join(wrapped(row[0], words)), *row[1:])
        # As wide as it has to be: a terminal that is narrower still turns its lines over and loses nothing.
        width = max(self._width, words + sum(widths[1:]) + _GAP * len(head) + 2)
        console = Console(file=self._buffer, width=width, color_system=None, highlight=False, markup=False, emoji=False)
        console.print(made)

    def fits(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
        """Whether a table's first column fits beside its numbers, these on one line or on two."""
        stacked = [[row[0], *(cell.replace(BESIDE, "\n") for cell in row[1:])] for row in rows]
        return _longest_word([head[0], *(row[0] for row in rows)]) <= self._words_left(head, stacked)

    def _widths(self, head: Sequence[str], body: Sequence[Sequence[str]]) -> list[int]:
        """How wide each column of numbers is: its widest number, or the longest word above it."""
        return [max([_longest_word([said]), *(_widest(row[place]) for row in body)]) for place, said in enumerate(head)]

    def _words_left(self, head: Sequence[str], body: Sequence[Sequence[str]]) -> int:
        """What the width leaves for the words of the first column."""
        return self._width - sum(self._widths(head, body)[1:]) - _GAP * (len(head) - 1) - 1

    def text(self) -> str:
        """Everything said, without spaces at line ends."""
        lines = (line.rstrip() for line in self._buffer.getvalue().splitlines())
        return "\n".join(lines).rstrip("\n") + "\n"


def wrapped(text: str, width: int) -> list[str]:
    """Lines of at most so many letters where the words allow; the spaces inside a quantity are no place to break."""
    if not text:
        return [""]
    return textwrap.wrap(text, max(width, 1), break_long_words=False, break_on_hyphens=False)


def _widest(cell: str) -> int:
    return max((len(line) for line in cell.split("\n")), default=0)


def _longest_word(cells: Iterable[str]) -> int:
    return max((len(line) for cell in cells for line in wrapped(cell, 1)), default=1)
