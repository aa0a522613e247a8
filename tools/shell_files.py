"""What a shell and man read of the command line, made from its parser: completion scripts and a manual page.

Written by tools/write_docs.py, kept in the tree and in the wheel: completing a word starts no Python.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import shtab
from argparse_manpage.manpage import Manpage

import topout
from topout import shipped
from topout.cli import options

FOLDER: Final = shipped.completions()["bash"].parent
INSTALL: Final = {
    "bash": "topout completion bash > ~/.local/share/bash-completion/completions/topout",
    "zsh": "topout completion zsh > a folder of your $fpath, as _topout",
    "fish": "topout completion fish > ~/.config/fish/completions/topout.fish",
    "powershell": "topout completion powershell | Out-String | Invoke-Expression",
}
ORDERS: Final = ("TH", "SH", "TP", "B")  # those that the library writes
WHAT: Final = "topout \\- what a change does to a bicycle\\(aqs suspension, and what to set"
EXTRA: Final = """\
.SH EXIT STATUS
.TP
0
answered
.TP
1
answered, with \\-\\-strict, and something is warned of
.TP
2
something is to be mended; said in a line each on standard error, nothing on standard output
.SH EXAMPLES
.nf
topout new \\-\\-from longer\\-travel bike.toml
topout plan bike.toml
topout plan *.toml \\-\\-csv > bikes.csv
cat bike.toml | topout sag \\-
topout compare one\\-way.toml other\\-way.toml
.fi
"""


def made() -> dict[Path, str]:
    """Every file with its text."""
    scripts = {path: _script(shell) for shell, path in shipped.completions().items()}
    return {**scripts, FOLDER / "topout.1": _manual()}


def _script(shell: str) -> str:
    """One shell's completion; where it is put to be found stands at its top."""
    text = shtab.complete(_for_completion(options.parser()), shell)
    first, *rest = text.splitlines()
    kept = [first] if first.startswith("#compdef") else []
    body = [line for line in (rest if kept else [first, *rest]) if not (line.startswith("#") and _is_heading(line))]
    return "\n".join([*kept, f"# Completes the words of topout. {INSTALL[shell]}", *body]).rstrip() + "\n"


def _is_heading(line: str) -> bool:
    """The library's own opening: who made it, where to put it."""
    return any(words in line for words in ("AUTOMATICALLY", "http", "Usage:", "1) ", "2) ", "#    ", "See also"))


def _for_completion(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """The parser with what its words may be, which only a shell asks for: files, systems, examples, topics."""
    documents = [*options.COMMANDS, *shipped.documents(), "examples"]
    choices: dict[str, Sequence[str]] = {
        "units": options.UNITS,
        "end": ("front",),
        "example": tuple(shipped.examples()),
        "topic": documents,
    }
    choices["shell"] = options.SHELLS
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for own in action.choices.values():
                _for_completion(own)
        elif action.dest in ("files", "file", "plot"):
            action.complete = shtab.FILE  # type: ignore[attr-defined]
        elif action.dest in choices:
            action.choices = choices[action.dest]
    return parser


def _manual() -> str:
    page = Manpage(options.parser())
    page.date, page.source, page.manual = "", f"topout {topout.__version__}", "Topout"
    text = str(page).replace(".SH NAME\ntopout\n", f".SH NAME\n{WHAT}\n", 1)
    # A line of text that begins with a point would be taken for an order, and be lost.
    text = re.sub(rf"^([.'])(?!({'|'.join(ORDERS)})\b)", r"\\&\1", text, flags=re.MULTILINE)
    return text.rstrip() + "\n" + EXTRA
