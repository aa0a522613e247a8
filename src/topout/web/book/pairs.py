"""A list of pairs in one box: a row each, typed or pasted from a table. What a row may look like, and how it is written.

"50 2.72", "50 mm; 2,72", "2 in<tab>2.72". A bare length counts as the unit that the workshop has first. A comma is always a
decimal comma here: no wheel travels a thousand of anything.
"""

from __future__ import annotations

import re
from typing import Any, Final

from topout.bench_file.model import Key
from topout.web.access import preferences

_NUMBER: Final = r"[+-]?[0-9]+(?:[.,][0-9]*)?|[+-]?[.,][0-9]+"
_UNIT: Final = r"[A-Za-z\"″]+"
_ROW: Final = re.compile(
    rf"\s*(?P<one>{_NUMBER})\s*(?P<unit>{_UNIT})?(?P<gap>\s*[;:|/\t,]\s*|\s+)(?P<other>{_NUMBER})\s*(?P<unit2>{_UNIT})?\s*[;,]?\s*"
)
ROWS: Final = 200  # far more than any frame's sheet has
LETTERS: Final = 8000
_IN_FILE: Final = re.compile(r",? as in \[\[.*?\]\](?=\.)")  # how the reader shows a bench file's own list


class RowFault(ValueError):
    """Rows that are no pairs; its text names each, with what stands there and what is expected."""


def typed(text: str, key: Key) -> list[list[Any]]:
    """The rows of a box as a bench file holds them; raises RowFault with every row that is none.

    A first row without a digit is the heading of a table that was pasted.
    """
    of_stroke = key.choices[0] == "stroke"
    lines = [(number, line) for number, line in enumerate(text.replace("\r", "").split("\n"), 1) if line.strip()]
    if lines and not re.search(r"[0-9]", lines[0][1]):
        lines = lines[1:]
    rows: list[list[Any]] = []
    faults: list[str] = []
    for number, line in lines[: ROWS + 1]:
        found = _ROW.fullmatch(line)
        if found is None or _two_ways(found):
            faults.append(f"row {number}, “{line.strip()[:40]}”")
            continue
        other = found["other"].replace(",", ".")
        first = _length(found["one"], found["unit"])
        if of_stroke:
            rows.append([first, _length(found["other"], found["unit2"] or found["unit"])])
        elif found["unit2"]:
            faults.append(f"row {number}, “{line.strip()[:40]}”: a ratio has no unit")
        else:
            rows.append([first, float(other)])
    if len(lines) > ROWS:
        faults.append(f"{len(lines)} rows: at most {ROWS} fit here")
    if faults:
        second = "stroke" if of_stroke else "ratio"
        more = f"; {len(faults) - 4} more" if len(faults) > 4 else ""
        raise RowFault(
            f"{'; '.join(faults[:4])}{more}. Wheel travel and {second} are expected in each row, with a space between them: "
            f"“50 {'18.2' if of_stroke else '2.72'}”."
        )
    return rows


def text_of(pairs: Any) -> str:
    """Rows as they stand in the box; the unit is left out where it is the one that a bare number counts as."""
    if not isinstance(pairs, list):
        return ""
    return "\n".join("  ".join(_bare(each) for each in pair) for pair in pairs)


def says(key: Key) -> str:
    """What stands at such a box."""
    return f"A row each, “50 {'18.2' if key.choices[0] == 'stroke' else '2.72'}”; rows of a table can be pasted. A bare length is in {_own()}."


def in_rows(message: str) -> str:
    """A finding of the bench file's reader about such a list, as it is said of rows in a box."""
    text = re.sub(r"\bpair (?=[0-9])", "row ", _IN_FILE.sub("", message)).replace('"', "")
    return text.replace("from pair to pair", "from row to row").replace("two pairs or more", "two rows or more")


def _two_ways(found: re.Match[str]) -> bool:
    """Whether a comma without a space parts the numbers and could as well be a decimal comma: “50,2”."""
    return found["gap"] == "," and "." not in found["one"] + found["other"] and not found["unit"]


def _length(number: str, unit: str | None) -> str:
    word = {'"': "in", "″": "in", None: _own()}.get(unit, unit)
    return f"{number.replace(',', '.')} {word}"


def _bare(each: Any) -> str:
    text = str(each)
    own = f" {_own()}"
    return text.removesuffix(own)


def _own() -> str:
    return preferences.unit("length", "mm")
