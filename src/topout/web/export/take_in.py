"""Riders and bikes from a CSV file: what each row would become, said before anything is saved; then all of it, or nothing.

Columns, in any order: `name`, `telephone`, `email`, `address`, `mass` (or `weight`, as the pages say), `front_share`; `bike`,
`frame_number`, `bike_mass`; and any key of a bench file's `[rider]`, `[bike]`, `[frame]`, `[front_wheel]`, `[rear_wheel]` as `frame.reach`. A row is a rider with one bike or none; the
same rider again brings another bike. What stands in the Book is never changed: a rider of that name and telephone is the same one.
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from django.forms import Form

from topout.web.access.change import ChangeContext
from topout.web.book import keeping, tables
from topout.web.book.forms import BikeForm, RiderForm, box_name
from topout.web.book.models import Bike, Rider
from topout.web.export.write import FORMULA, GUARD
from topout.web.folding import folded

MOST_BYTES: Final = 5 * 1024 * 1024
MOST_ROWS: Final = 20_000
_CONTACT: Final = ("name", "phone", "email", "address")
# What a column is called in a file -> (which form, its box).
COLUMNS: Final[dict[str, tuple[str, str]]] = {
    **{name: ("rider", name) for name in ("name", "email", "address")},
    "telephone": ("rider", "phone"), "phone": ("rider", "phone"),
    "mass": ("rider", box_name("rider", "mass")), "front_share": ("rider", box_name("rider", "front_share")),
    "bike": ("bike", "name"), "frame_number": ("bike", "serial"), "bike_mass": ("bike", box_name("bike", "mass")),
    "weight": ("rider", box_name("rider", "mass")), "bike_weight": ("bike", box_name("bike", "mass")),
    **{f"rider.{word}": ("rider", box_name("rider", word)) for word, _ in tables.keys("rider")},
    **{f"{table}.{word}": ("bike", box_name(table, word)) for table in tables.BIKE for word, _ in tables.keys(table)},
}  # fmt: skip


class Changed(Exception):
    """The Book changed since somebody looked at the rows."""


class NotRead(Exception):
    """The file as a whole can't be read; `str()` says why and what helps."""


@dataclass
class Fate:
    """What becomes of one row: its line, what is said of it, its faults; the rider and the bike that it would make."""

    line: int
    words: str = ""
    faults: list[str] = field(default_factory=list)
    rider: RiderForm | None = None
    bike: BikeForm | None = None
    of: Any = None  # the rider it belongs to: one in the Book, or the fate of the row that makes it


def rows_of(data: bytes) -> list[tuple[int, dict[str, str]]]:
    """The rows of a file with their lines, cells by column; raises NotRead."""
    if len(data) > MOST_BYTES:
        raise NotRead(f"the file has more than {MOST_BYTES // 1024 // 1024} MB; take it in parts")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        raise NotRead(f"line {line}: a letter is not UTF-8; save it as CSV UTF-8") from None
    if "\0" in text:
        raise NotRead("a NUL byte stands in it; this is no CSV file")
    first = text.partition("\n")[0]
    delimiter = max((",", ";", "\t"), key=first.count)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        head = [cell.strip().lower().replace(" ", "_") for cell in next(reader, [])]
        _judge_head(head)
        return list(_rows(reader, head))
    except csv.Error as wrong:
        raise NotRead(f"it can't be read as CSV ({wrong})") from None


def _judge_head(head: list[str]) -> None:
    for name in head:
        if name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, n=1)
            hint = (
                f"Is it {near[0]}?" if near else f"Known are {', '.join(list(COLUMNS)[:10])}, and keys as frame.reach"
            )
            raise NotRead(f'line 1: "{name[:40]}": no such column. {hint}')
    meant = [COLUMNS[name] for name in head]
    twice = next((name for name, one in zip(head, meant, strict=True) if meant.count(one) > 1), None)
    if twice:
        raise NotRead(f'line 1: "{twice}" stands in two columns; keep one')
    if "name" not in head:
        raise NotRead('line 1: there is no column "name"; a rider is known by it')


def _rows(reader: Any, head: list[str]) -> Iterator[tuple[int, dict[str, str]]]:
    begins = reader.line_num + 1
    for number, cells in enumerate(reader):
        line, begins = begins, reader.line_num + 1
        if number >= MOST_ROWS:
            raise NotRead(f"the file has more than {MOST_ROWS} rows; take it in parts")
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(head):
            raise NotRead(f"line {line}: {len(cells)} cells, and {len(head)} columns in line 1")
        yield line, {name: _cell(cell) for name, cell in zip(head, cells, strict=False)}


def _cell(text: str) -> str:
    """A cell without the sign that keeps a spreadsheet from taking it for a formula."""
    return text[1:] if text.startswith(GUARD) and text[1:].startswith(FORMULA) else text


def fates(rows: list[tuple[int, dict[str, str]]]) -> list[Fate]:
    """What would become of every row; nothing is saved."""
    known: dict[tuple[str, str], Any] = {}
    names: dict[str, list[str]] = {}
    for rider in Rider.objects.filter(erased_at=None).order_by("-pk"):
        known[_same(rider.name, rider.phone)] = rider
        names.setdefault(folded(rider.name), []).append(rider.phone)
    bikes = {
        (row.rider_id, folded(row.name), folded(row.serial))
        for row in Bike.objects.exclude(rider=None)
        if row.rider_id is not None
    }
    new_bikes: dict[tuple[int, str, str], int] = {}
    return [_fate(line, cells, known, names, bikes, new_bikes) for line, cells in rows]


def _fate(
    line: int, cells: dict[str, str], known: dict[tuple[str, str], Any], names: dict[str, list[str]],
    bikes: set[tuple[int, str, str]], new_bikes: dict[tuple[int, str, str], int],
) -> Fate:  # fmt: skip
    fate = Fate(line)
    typed: dict[str, dict[str, str]] = {"rider": {}, "bike": {}}
    for name, cell in cells.items():
        form, box = COLUMNS[name]
        typed[form][box] = cell
    rider = RiderForm(typed["rider"])
    fate.faults += _faults(rider, cells, "rider")
    bike = BikeForm(typed["bike"]) if any(cell.strip() for cell in typed["bike"].values()) else None
    if bike is not None:
        fate.faults += _faults(bike, cells, "bike")
    if fate.faults:
        return fate
    name, phone = rider.cleaned_data["name"], rider.cleaned_data["phone"]
    key = _same(name, phone)
    there = known.get(key)
    if there is None:
        known[key], fate.rider, fate.of = fate, rider, fate
        others = names.get(folded(name), [])
        fate.words = f"new rider {name}" + (
            f"; a namesake is in the Book, telephone {others[0] or 'none'}" if others else ""
        )
    else:
        fate.of = there
        where = "in the Book already" if isinstance(there, Rider) else f"of line {there.line}"
        fate.words = f"{name}, {where}"
    if bike is None:
        fate.words += "" if there is None else ": nothing new"
        return fate
    frame, serial = bike.cleaned_data["name"], bike.cleaned_data["serial"]
    owner = there.pk if isinstance(there, Rider) else -fate.of.line
    mark = (owner, folded(frame), folded(serial))
    if mark in bikes:
        fate.words += f": the bike {frame} is there already, nothing new"
    elif mark in new_bikes:
        fate.words += f": the bike {frame} is that of line {new_bikes[mark]}, nothing new"
    else:
        new_bikes[mark], fate.bike = line, bike
        fate.words += f", new bike {frame}"
    return fate


def _same(name: str, phone: str) -> tuple[str, str]:
    """What makes two riders one: the name without case and accents, and the digits of the telephone."""
    return folded(name), "".join(re.findall(r"\d", phone))


def _faults(form: Form, cells: dict[str, str], of: str) -> list[str]:
    """What is wrong with a row, each with the column it stands in."""
    columns = {COLUMNS[name][1]: name for name in cells if COLUMNS[name][0] == of}
    return [
        f"{columns.get(box, of)}: {message}" for box, messages in form.errors.items() for message in map(str, messages)
    ]


def mark(found: list[Fate]) -> str:
    """What two looks at the same rows have in common where the same would become of them."""
    told = "\n".join(f"{fate.line}: {fate.words}{fate.faults}" for fate in found)
    return hashlib.sha256(told.encode("utf-8")).hexdigest()


def counted(found: list[Fate]) -> str:
    """What is new in a file: "2 new riders, 1 new bike, 4 rows"."""
    riders, bikes = (sum(getattr(fate, name) is not None for fate in found) for name in ("rider", "bike"))
    counts = ((riders, "new rider"), (bikes, "new bike"), (len(found), "row"))
    return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts)


def save_seen(doing: ChangeContext, data: bytes, seen: str) -> list[Fate]:
    """Look once more inside the change that saves it, and save what was seen; raises Changed, NotRead.

    Meanwhile somebody may have written a rider in.
    """
    found = fates(rows_of(data))
    if mark(found) != seen or any(fate.faults for fate in found):
        raise Changed
    save(doing, found)
    return found


def save(doing: ChangeContext, found: list[Fate]) -> tuple[int, int]:
    """Put what is new in the Book, in the one change that is under way. Returns how many riders and bikes."""
    riders: dict[int, Rider] = {}
    bikes = 0
    for fate in found:
        if fate.rider is not None:
            data = fate.rider.cleaned_data
            contact = {name: data[name] for name in _CONTACT}
            riders[fate.line] = keeping.make_rider(doing, tables=fate.rider.tables, **contact)
        if fate.bike is not None:
            data = fate.bike.cleaned_data
            rider = fate.of if isinstance(fate.of, Rider) else riders[fate.of.line]
            keeping.make_bike(doing, rider=rider, name=data["name"], serial=data["serial"], tables=fate.bike.tables)
            bikes += 1
    return len(riders), bikes
