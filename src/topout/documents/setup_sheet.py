"""The set-up sheet: what the rider takes home, on one or two pages.

Everything comes in people's words or as typed values with their units; nothing here reads a record. The tables and
sentences that are computed come from `sheet_tables` and `sheet_words`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Large:
    """One of the large numbers a rider sets by: its name, the number large, its unit, what belongs to it."""

    name: str
    number: str
    unit: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as SVG, its name and caption, and an alternative text that carries its numbers."""

    svg: str
    alt: str
    name: str
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A small table: heads, rows of texts (first cell heads the row), the row that is this rider's, a note."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    here: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Struck:
    """A reading that was corrected: what stood there, and why it no longer counts."""

    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class Noted:
    """One line of what was found or left; corrected readings stay beside the one that counts, oldest first."""

    name: str
    value: str
    struck: tuple[Struck, ...] = ()


@dataclass(frozen=True, slots=True)
class OwnPump:
    """What the rider's own pump shows when ours shows `ours`; further sentences below."""

    ours: str
    yours: str
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetUpSheet:
    """All that stands on the sheet. Empty texts and None leave their part out; nothing is put in their place."""

    rider: str
    bike: str
    unit: str
    tag: str
    workshop: str
    day: str  # "25 November 2026"
    job: str  # "Job 214"
    plan_said: str  # "plan of 10:05"; empty where a job had none
    version: str  # "Topout 0.1.0"
    large: tuple[Large, ...]  # at most four; what was never read has no box
    changed: str = ""
    stands: str = ""
    force: Picture | None = None
    stance: Picture | None = None
    masses: Table | None = None
    temperatures: Table | None = None
    own_pump: OwnPump | None = None
    found: tuple[Noted, ...] = ()
    left: tuple[Noted, ...] = ()
    done: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()  # how it came, in words
    defects: tuple[str, ...] = ()  # what stays as it is, and work declined
    notes: tuple[str, ...] = ()  # what the workshop tells the rider
    watch: tuple[str, ...] = ()
    before_ride: tuple[str, ...] = ()
    hurts: str = ""  # what the air can do to whoever opens the unit
    next_service: str = ""
    known: tuple[str, ...] = ()  # how the values are known, a sentence for each mark: ● ◐ ◇ ○
    released: str = ""
    paper: str = "a4"  # or "us-letter"


def sheet_pdf(sheet: SetUpSheet, created: dt.datetime) -> bytes:
    """The sheet as a tagged PDF, on its paper, of at most two pages.

    Long texts shrink, then the last sentences of what was done and to be watched give way to "More on the job card.";
    settings, readings, defects, cautions and what the rider is told never do. Raises `pdf.DoesNotFit` where even that is not enough.
    """
    from topout.documents import pdf  # the terminal takes the tables alone, without the library that draws

    return pdf.pdf("sheet.typ", _data(sheet), created)


def _data(sheet: SetUpSheet) -> dict[str, Any]:
    return {
        "title": f"Set-up sheet, {sheet.rider}, {sheet.day}",
        "rider": sheet.rider,
        "paper": sheet.paper,
        "bike": sheet.bike,
        "unit": sheet.unit,
        "tag": sheet.tag,
        "workshop": sheet.workshop,
        "day": sheet.day,
        "foot": " · ".join(part for part in (sheet.job, sheet.plan_said, sheet.version) if part),
        "large": [{"name": n.name, "number": n.number, "unit": n.unit, "note": n.note} for n in sheet.large],
        "changed": sheet.changed,
        "stands": sheet.stands,
        "force": _picture(sheet.force),
        "stance": _picture(sheet.stance),
        "tables": [_table(table) for table in (sheet.masses, sheet.temperatures) if table is not None],
        "pump": None
        if sheet.own_pump is None
        else {"ours": sheet.own_pump.ours, "yours": sheet.own_pump.yours, "more": " ".join(sheet.own_pump.sentences)},
        "readings": [
            {"title": title, "rows": [_noted(row) for row in rows]}
            for title, rows in (("Found", sheet.found), ("Left", sheet.left))
            if rows
        ],
        "told": [
            {"title": title, "sentences": list(sentences), "whole": whole}
            for title, sentences, whole in (
                ("For you", sheet.notes, True),
                ("Done", sheet.done, False),
                ("Watch", sheet.watch, False),
                ("Left as it is", sheet.defects, True),
                ("Seen when it came", sheet.seen, False),
                ("How the values are known", sheet.known, False),
            )
            if sentences
        ],
        "care": " ".join([*sheet.before_ride, sheet.hurts]).strip(),
        "service": sheet.next_service,
        "released": sheet.released,
    }


def _picture(picture: Picture | None) -> dict[str, str] | None:
    if picture is None:
        return None
    return {"svg": picture.svg, "alt": picture.alt, "name": picture.name, "caption": picture.caption}


def _table(table: Table) -> dict[str, Any]:
    return {
        "title": table.title,
        "heads": list(table.heads),
        "rows": [list(row) for row in table.rows],
        "here": table.here,
        "note": table.note,
    }


def _noted(row: Noted) -> dict[str, Any]:
    struck = [{"value": was.value, "reason": was.reason} for was in row.struck]
    return {"name": row.name, "value": row.value, "struck": struck}
