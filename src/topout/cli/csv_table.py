"""Answers as one table of comma-separated values, SI with the unit in the column's name: for spreadsheets and scripts.

A row is a file; where an answer holds arrays or rounds, each of those is a row. What does not apply is left empty.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any


def written(answers: Iterable[tuple[str, dict[str, Any]]]) -> str:
    """The table of several answers as JSON holds them, each with its file's name."""
    rows = [{"file": name, **row} for name, answer in answers for row in _rows(answer)]
    columns = list(dict.fromkeys(name for row in rows for name in row))
    # A table that one file lacks, `null` there, is no column where another has its parts.
    columns = [name for name in columns if not any(other.startswith(f"{name}.") for other in columns)]
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(columns)
    out.writerows([row.get(name, "") for name in columns] for row in rows)
    return text.getvalue()


def _cell(value: Any) -> Any:
    return json.dumps(value) if isinstance(value, list) else value


def _rows(answer: dict[str, Any]) -> Iterator[dict[str, Any]]:
    flat = dict(_flat(answer, ""))
    lists = {name: value for name, value in flat.items() if isinstance(value, list) and _is_rows(name, value)}
    flat = {name: v if name in lists else _cell(v) for name, v in flat.items()}
    if not lists:
        yield flat
        return
    count = max(len(value) for value in lists.values())
    if not count:  # a list that holds nothing is no row
        yield {name: value for name, value in flat.items() if name not in lists}
    for number in range(count):
        row: dict[str, Any] = {}
        for name, value in flat.items():
            if name not in lists:
                row[name] = value
            elif isinstance(value[number], dict):
                row |= {name.removesuffix("s"): number + 1, **{key: _cell(v) for key, v in _flat(value[number], "")}}
            else:
                row[name] = value[number]
        yield row


def _is_rows(name: str, value: list[Any]) -> bool:
    """Whether a list is a column of the table: an array along the travel, rounds, ways to what is asked, options; what is known of draws is one cell."""
    return name in ("rounds", "ways", "options") or (
        bool(value) and not name.startswith("drawn") and all(isinstance(each, (int, float)) for each in value)
    )


def _flat(value: dict[str, Any], path: str) -> Iterator[tuple[str, Any]]:
    """Every number and word with its path; warnings as their codes in one word each, defaults as their keys."""
    for key, inner in value.items():
        name = f"{path}{key}"
        if isinstance(inner, dict):
            yield from _flat(inner, f"{name}.")
        elif key == "warnings":
            yield (
                name,
                " ".join(dict.fromkeys(":".join(w[part] for part in ("code", "state") if part in w) for w in inner)),
            )
        elif key == "defaults":
            yield name, " ".join(each["key"] for each in inner)
        elif inner is None:
            yield name, ""
        else:
            yield name, ("true" if inner else "false") if isinstance(inner, bool) else inner
