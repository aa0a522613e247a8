"""The parts of the Shelf that fit, on the plan page: each as measured, with a button that sets its box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from topout import units
from topout.bench_file.model import BenchFile
from topout.web.access import preferences
from topout.web.jobs.core import ways
from topout.web.jobs.records.models import Job
from topout.web.shelf.models import Part as Row

FIT: Final = "fit"  # the field that a button sends: boxes and what goes into each
ONE_MORE: Final = "+1"
SHOWN: Final = 30  # more are looked through by "What to fit"
BOXES: Final = (
    "travel", "spacers", "rate", "bind", "tyre", "rear_tyre", "shock_spacers", "shock_rate", "shock_bind", "shock_stroke",
)  # fmt: skip


@dataclass(frozen=True)
class Lying:
    """A part with what is known of it, and its buttons: words and what each sends."""

    row: Row
    known: str
    buttons: tuple[tuple[str, str], ...]


def lying(file: BenchFile | None, job: Job) -> list[Lying]:
    """The parts against which nothing known speaks, those that are there first."""
    if file is None:
        return []
    looked, fitting = ways.fitting(file, job)
    found = [(row, ways.box_of(file, row, part, looked)) for row, part in fitting]
    found.sort(key=lambda each: (each[0].on_hand == 0, each[0].kind, each[0].pk))
    return [Lying(row, _known(row), tuple(buttons)) for row, buttons in found[:SHOWN]]


def _known(row: Row) -> str:
    """What is known of a part, in the order of a label; a quantity as it was typed."""
    measured = [f"{name} {text}" for name, text in row.known()]
    more = [*measured, str(row.family)] if row.family is not None else measured
    if row.cost is not None:
        more.append(preferences.money(units.digits(float(row.cost), 0 if row.cost == int(row.cost) else 2)))
    there = f"{row.on_hand} on hand" if row.on_hand else "none on hand"
    if row.waiting_days is not None and not row.on_hand:
        there += f", {row.waiting_days} day{'s' if row.waiting_days != 1 else ''} to wait"
    return ", ".join([*more, there, *([row.state] if row.state else [])])


def taken(fit: str, sent: Mapping[str, str] | None) -> dict[str, str] | None:
    """The boxes that were sent, with those that a button of the Shelf sets."""
    sets = [tuple(each.split("=", 1)) for each in fit[:90].replace("\0", "").split(";")]
    if any(len(each) != 2 or each[0] not in BOXES for each in sets) or not sets[0][1]:
        return None if sent is None else dict(sent)
    boxes = dict(sent or {})
    for name, value in sets:
        if value == ONE_MORE:
            had = boxes.get(name, "")
            value = str(int(had) + 1) if had.isdecimal() and len(had) < 4 else "1"
        boxes[name] = value
    return boxes
