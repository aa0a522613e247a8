"""Where things stand in a procedure's file: tables by the names that faults give them, looked for only when there is a fault."""

from __future__ import annotations

import re
import tomllib
from functools import cached_property
from typing import Any, Final

from topout import toml_scan

_NUMBERED: Final = re.compile(r"([a-z]+) ([0-9]+)")


class Places:
    """Lines of tables and keys of a text that the parser has accepted. A table is named as in faults: `group 2, step 3`; the
    top is the empty name."""

    def __init__(self, text: str) -> None:
        self._text = text

    @cached_property
    def _lines(self) -> dict[toml_scan.Path, int]:
        return toml_scan.lines(self._text)

    def line(self, table: str, key: str = "", evidence: str = "") -> int | None:
        """The line of a key of a table, of a piece of its evidence, or of the table itself; None where there is none."""
        path = _path(table)
        start = self._lines.get(path) if path else 1
        if start is None:
            return None
        if evidence:
            first = self._lines.get((*path, "evidence"), start)
            pieces = self._at((*path, "evidence"))
            numbers = [
                n
                for n, piece in enumerate(pieces if isinstance(pieces, list) else ())
                if isinstance(piece, dict) and piece.get("key") == evidence
            ]
            return self._lines.get((*path, "evidence", numbers[0], "key"), first) if numbers else first
        return self._lines.get((*path, *key.split(".")), start) if key else start

    @cached_property
    def _table(self) -> dict[str, Any]:
        return tomllib.loads(self._text)

    def _at(self, path: toml_scan.Path) -> Any:
        here: Any = self._table
        for word in path:
            try:
                here = here[word]
            except (KeyError, IndexError, TypeError):
                return None
        return here


def _path(table: str) -> toml_scan.Path:
    """`group 2, step 3` as the parser counts: group, 1, step, 2; a table's own name as its words."""
    path: toml_scan.Path = ()
    for part in table.split(", ") if table else ():
        numbered = _NUMBERED.fullmatch(part)
        path += (numbered[1], int(numbered[2]) - 1) if numbered else tuple(part.split("."))
    return path
