"""`topout help`: a command's options, and the documents that come with the program, at the width of the terminal."""

from __future__ import annotations

import io
import re
import shutil
import textwrap
from collections.abc import Iterator

from topout import shipped
from topout.cli import options

EXAMPLES = "examples"


def answer(topic: str | None) -> str:
    """The text of a topic; raises WrongWord with one line."""
    if topic is None:
        return options.parser().format_help() + "\n" + _topics()
    if topic in options.COMMANDS:
        return _of_command(topic)
    if topic == EXAMPLES:
        return _examples()
    documents = shipped.documents()
    if topic not in documents:
        raise options.no_such_word(topic, [*options.COMMANDS, *documents, EXAMPLES], "topic")
    return _laid_out(documents[topic].read_text("utf-8"))


def _topics() -> str:
    names = ", ".join([*shipped.documents(), EXAMPLES])
    return textwrap.fill(f"Documents, topout help NAME: {names}.", min(shutil.get_terminal_size().columns, 100)) + "\n"


def _of_command(name: str) -> str:
    whole = options.parser([name])
    for action in whole._actions:
        if isinstance(action.choices, dict):
            return str(action.choices[name].format_help())
    raise AssertionError("the parser has its commands")


def _examples() -> str:
    """Each example by name, with what its first lines say of it."""
    from topout.cli.page import Page
    from topout.units import BENCH

    page = Page(BENCH)
    rows = []
    for name, path in shipped.examples().items():
        lines = path.read_text("utf-8").splitlines()
        head = lines[: next((n for n, line in enumerate(lines) if not line.startswith("#")), len(lines))]
        rows.append(f"{name}: {' '.join(line.lstrip('# ') for line in head)}")
    page.say(*rows)
    page.say("topout new --from NAME writes one with every key explained.")
    return page.text()


def _laid_out(text: str) -> str:
    """A document's Markdown as people read it; a table as a list, so that no cell is cut at any width."""
    from rich.console import Console
    from rich.markdown import Markdown

    from topout.cli.page import LEAST, MOST

    width = min(max(shutil.get_terminal_size((MOST, 24)).columns, LEAST), MOST)
    out = io.StringIO()
    console = Console(file=out, width=width, color_system=None, highlight=False, emoji=False, legacy_windows=False)
    for part in _TABLE.split(text):
        if part.startswith("|"):
            out.write("\n" + "".join(_row(row, width) for row in _rows(part)) + "\n")
        elif part.strip():
            console.print(Markdown(part, hyperlinks=False))
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


_TABLE = re.compile(r"^((?:\|.*\n)+)", re.MULTILINE)


def _rows(table: str) -> Iterator[list[tuple[str, str]]]:
    """The rows of a Markdown table, each cell with its heading."""
    lines = [
        [cell.strip().replace("`", "") for cell in line.strip().strip("|").split("|")] for line in table.splitlines()
    ]
    head, body = lines[0], lines[2:]
    return (list(zip(head, row, strict=False)) for row in body)


def _row(cells: list[tuple[str, str]], width: int) -> str:
    """The first cell, and under it what the others say."""
    (_, name), *rest = cells
    said = "; ".join(f"{head}: {cell}" if head else cell for head, cell in rest if cell)
    indent = " " * 4
    return f"{name}\n{textwrap.fill(said, width, initial_indent=indent, subsequent_indent=indent)}\n"
