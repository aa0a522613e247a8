"""The file of an export: one ZIP with `data.json`, a CSV for each table, and the photos and set-up sheets as they are.

It is written beside its name and takes it when it is whole; it is for its owner's eyes alone.
"""

from __future__ import annotations

import csv
import io
import json
import os
import secrets
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Final, TextIO

from django.db import connection, connections

import topout
from topout.web.export.tables import Table
from topout.web.jobs.readings import photos
from topout.web.jobs.records.models import Photo, ReleasedSheet

# A cell that begins so is a formula to a spreadsheet, and names and notes are typed by anyone.
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
GUARD: Final = "'"


@contextmanager
def one_moment(beside: Path) -> Iterator[str]:
    """What is read by the name that this gives is of one moment, from a copy made in the folder `beside`; writers go on meanwhile."""
    alias = f"moment-{secrets.token_hex(8)}"
    name = connection.settings_dict["NAME"]
    with tempfile.TemporaryDirectory(dir=beside, prefix=".topout-export-") as folder:
        copy = Path(folder) / "copy.sqlite3"
        with closing(sqlite3.connect(name)) as source, closing(sqlite3.connect(copy)) as into:
            source.backup(into)
        connections.settings[alias] = {**connection.settings_dict, "NAME": str(copy)}
        try:
            yield alias
        finally:
            connections[alias].close()
            del connections[alias]
            del connections.settings[alias]


def save(path: Path, tables: list[Table], at: datetime) -> dict[str, int]:
    """Write the tables to a new file; raises FileExistsError, OSError. Returns how many of what."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as out:
            with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as held, one_moment(path.parent) as moment:
                counts = _fill(held, [table.using(moment) for table in tables], at)
            out.flush()
            os.fsync(out.fileno())
        _name(beside, path)
    finally:
        os.unlink(beside)
    return counts


def _name(beside: str, path: Path) -> None:
    """Give the whole file its name; raises FileExistsError where that is taken meanwhile."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:  # a stick's file system has no second names
        with open(path, "xb") as out, open(beside, "rb") as whole:
            shutil.copyfileobj(whole, out)


def _fill(held: zipfile.ZipFile, tables: list[Table], at: datetime) -> dict[str, int]:
    counts: dict[str, int] = {}

    def member(name: str, write: Callable[[TextIO], None]) -> None:
        with held.open(zipfile.ZipInfo(name, at.timetuple()[:6]), "w", force_zip64=True) as raw:
            with io.TextIOWrapper(raw, "utf-8", newline="") as text:
                write(text)

    member("data.json", lambda text: _json(text, tables, at))
    for table in tables:

        def _csv(text: TextIO, table: Table = table) -> None:
            counts[table.name] = _csv_of(text, table)

        member(f"csv/{table.name}.csv", _csv)
    counts["photos"] = counts["sheets"] = 0
    for table in tables:
        if table.of.model is Photo:
            for sha256 in table.of.order_by("sha256").values_list("sha256", flat=True).distinct():
                counts["photos"] += _photo(held, sha256)
        if table.of.model is ReleasedSheet:
            for row in table.of.select_related("release__job").order_by("pk").iterator(chunk_size=20):
                held.writestr(f"sheets/job-{row.release.job.number}.pdf", bytes(row.pdf))
                counts["sheets"] += 1
    return counts


def _photo(held: zipfile.ZipFile, sha256: str) -> int:
    """A photo under its name; one that is gone from the disk is left out and missing from the count."""
    path = photos.path_of(sha256)
    if not path.is_file():
        return 0
    held.write(path, f"photos/{sha256}.jpg", zipfile.ZIP_STORED)
    return 1


def _json(text: TextIO, tables: Iterable[Table], at: datetime) -> None:
    """One object: what made it and when, and each table as a list of objects; written row by row."""
    text.write(f'{{"program": "topout {topout.__version__}", "at": "{at.isoformat()}", "tables": {{')
    for number, table in enumerate(tables):
        text.write(f"{',' if number else ''}\n{json.dumps(table.name)}: [")
        for count, row in enumerate(table.rows()):
            text.write(("," if count else "") + "\n" + _dumped(dict(zip(table.columns, row, strict=True))))
        text.write("]")
    text.write("\n}}\n")


def _csv_of(text: TextIO, table: Table) -> int:
    out = csv.writer(text, lineterminator="\r\n")  # RFC 4180
    out.writerow(table.columns)
    count = 0
    for row in table.rows():
        out.writerow([_cell(value) for value in row])
        count += 1
    return count


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (dict, list)):
        value = _dumped(value)
    return GUARD + value if isinstance(value, str) and value.startswith(FORMULA) else value


def _dumped(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)
