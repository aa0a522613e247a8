"""Where things stand in a procedure's file: a small scan of ours, run only when there is a fault.

The standard parser gives no line of a key. A procedure writes every table as a header and every key at the start of a
line, so headers and first words are enough; a piece of evidence is found by its own key.
"""

from __future__ import annotations

import re
from typing import Final

_HEADER: Final = re.compile(r"^\s*\[\[?\s*([A-Za-z0-9_.\- ]+?)\s*\]\]?\s*(#.*)?$")
_KEY: Final = re.compile(r"^\s*([A-Za-z0-9_-]+)\s*=")


class Places:
    """Lines of tables and keys. A table is named as in faults: `group 2, step 3`; the top is the empty name."""

    def __init__(self, text: str) -> None:
        self._tables: dict[str, int] = {"": 1}
        self._keys: dict[tuple[str, str], int] = {}
        self._lines = text.splitlines()
        counts = {"group": 0, "shared": 0, "step": 0, "variant": 0, "define": 0}
        here, quoted = "", False
        for number, line in enumerate(self._lines, 1):
            if line.count('"""') % 2:
                quoted = not quoted
                continue
            if quoted:
                continue
            header = _HEADER.match(line)
            if header:
                path = header.group(1).replace(" ", "")
                for kind in ("group", "shared"):
                    if path.startswith(f"{kind}.step."):
                        step = f"{kind} {counts[kind]}, step {counts['step']}"
                        self._keys.setdefault((step, path.removeprefix(f"{kind}.step.")), number)
                here = self._name(path, counts)
                self._tables.setdefault(here, number)
                continue
            key = _KEY.match(line)
            if key:
                self._keys.setdefault((here, key.group(1)), number)

    @staticmethod
    def _name(path: str, counts: dict[str, int]) -> str:
        if path in ("group", "shared"):
            counts[path] += 1
            counts["step"] = 0
            return f"{path} {counts[path]}"
        if path in ("group.step", "shared.step"):
            counts["step"] += 1
            kind = path.split(".")[0]
            return f"{kind} {counts[kind]}, step {counts['step']}"
        if path in ("variant", "define"):
            counts[path] += 1
            return f"{path} {counts[path]}"
        return path

    def line(self, table: str, key: str = "", evidence: str = "") -> int | None:
        """The line of a key of a table, of a piece of its evidence, or of the table itself; None where there is none."""
        start = self._tables.get(table)
        if evidence and start is not None:
            mark = re.compile(rf'\bkey\s*=\s*"{re.escape(evidence)}"')
            first = self._keys.get((table, "evidence"), start)
            for number in range(first, len(self._lines) + 1):
                line = self._lines[number - 1]
                if number > first and _HEADER.match(line):
                    break
                if mark.search(line):
                    return number
            return first
        return self._keys.get((table, key), start)
