"""The parsers of the command line: a wrong word is raised, help is as wide as the terminal, and what is only named costs nothing."""

from __future__ import annotations

import argparse
import os
import sys

TYPE_CHECKING = False  # typing's own costs its import
if TYPE_CHECKING:
    from typing import Any, NoReturn


class WrongWord(Exception):
    """A word of the command line that can't be used; `str()` is the line to show."""


class _Wide(argparse.HelpFormatter):
    """As wide as the terminal, as `shutil.get_terminal_size` finds it: shutil brings every way to compress a file, for this alone."""

    def __init__(self, prog: str) -> None:
        columns = os.environ.get("COLUMNS", "")
        width = int(columns) if columns.isdecimal() else 0
        try:
            width = width or os.get_terminal_size(sys.__stdout__.fileno()).columns  # type: ignore[union-attr]
        except (AttributeError, ValueError, OSError):
            width = 0
        super().__init__(prog, width=(width or 80) - 2)


class _Narrow(argparse.HelpFormatter):
    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=80)


class Parser(argparse.ArgumentParser):
    """Raises what it finds wrong instead of leaving; remembers the options it has, to tell which one was meant."""

    def __init__(self, **given: Any) -> None:
        self.known: list[str] = []
        # Each option is tried on a formatter, which would ask for the terminal's width each time; only help needs it.
        super().__init__(**given, formatter_class=_Narrow, allow_abbrev=False, exit_on_error=False)

    def format_help(self) -> str:
        self.formatter_class = _Wide
        return super().format_help()

    def add_argument(self, *names: str, **given: Any) -> argparse.Action:
        self.known += [name for name in names if name.startswith("--")]
        return super().add_argument(*names, **given)

    def error(self, message: str) -> NoReturn:
        raise WrongWord(message)


class Named:
    """A command of which only the name is wanted; its parser is made where more is: each looks for translations on the disk."""

    def __init__(self, **given: Any) -> None:
        self._given = given

    def __getattr__(self, name: str) -> Any:
        return getattr(Parser(**self._given), name)
