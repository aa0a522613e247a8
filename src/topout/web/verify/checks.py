"""The checks of `topout verify`, each a line with what was looked at and a sentence for all that is wrong.

They read a snapshot that Django has open, of the live workshop or out of a copy, so that nobody waits for them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from django.db.models import Max

import topout
from topout.errors import TopoutError
from topout.procedures import library
from topout.web.backup import snapshot
from topout.web.backup.progress import Tell
from topout.web.book.models import Bike, Family, Unit
from topout.web.jobs import core
from topout.web.jobs.records import triggers
from topout.web.jobs.records.models import FrozenPlan, Job, Photo, ProcedureText


@dataclass(frozen=True)
class Finding:
    """One thing looked at: its name, how it stands, what is wrong with it, and what differs without being wrong."""

    name: str
    stands: str
    wrong: tuple[str, ...] = ()
    differs: tuple[str, ...] = ()


def database(path: Path) -> Iterator[Finding]:
    """Pages, indexes and references of the file itself; nothing else is looked at where its pages are damaged."""
    damaged = snapshot.damage(path)
    yield Finding("database", "damaged" if damaged else "whole", tuple(damaged))
    if not damaged:
        loose = snapshot.loose_rows(path)
        yield Finding("references", "NOT whole" if loose else "whole", tuple(loose))


def rows(path: Path, listed: dict[str, int] | None) -> Finding:
    """How many rows there are, and whether a copy's list, where there is one, says the same."""
    counts = snapshot.facts(path).counts
    wrong = [
        f"The list of the copy says {listed.get(table, 0)} rows of {table}; there are {counts.get(table, 0)}."
        for table in sorted(counts.keys() | listed.keys())
        if listed.get(table, 0) != counts.get(table, 0)
    ] if listed is not None else []  # fmt: skip
    return Finding("rows", f"{sum(counts.values()):,} in {len(counts)} tables", tuple(wrong))


def guards() -> Finding:
    """The triggers that refuse changes of records, letter for letter."""
    wrong = triggers.differences()
    return Finding("guards", "NOT as written" if wrong else "as written", tuple(wrong))


def photos(sha256_of: Callable[[str], str | None], tell: Tell) -> Finding:
    """Every photo of a row; `sha256_of` gives what the file of that name really holds, None where there is none."""
    rows = dict(Photo.objects.order_by("job__number").values_list("sha256", "job__number"))
    wrong = []
    for count, (sha256, job) in enumerate(rows.items(), 1):
        found = sha256_of(sha256)
        if found is None:
            wrong.append(f"Job {job}: the photo {sha256[:12]}… is not there.")
        elif found != sha256:
            wrong.append(f"Job {job}: the photo {sha256[:12]}… is not what was taken.")
        tell("Photos", count, len(rows))
    return Finding("photos", f"{len(rows) - len(wrong)} of {len(rows)}", tuple(wrong))


def texts() -> Finding:
    """Every procedure that jobs were begun with, against its SHA-256."""
    rows = list(ProcedureText.objects.all())
    wrong = [f"The text of {row.procedure} is not what jobs were begun with." for row in rows if library.digest(row.text) != row.sha256]  # fmt: skip
    return Finding("procedures", f"{len(rows) - len(wrong)} of {len(rows)}", tuple(wrong))


def history() -> Finding:
    """Every bike, family, unit and job card against the last entry of its history, which is written with each change."""
    wrong: list[str] = []
    count = 0
    for model in (Bike, Family, Unit, Job):
        last = dict(model.history.order_by().values_list("id").annotate(Max("history_id")))
        of: Any = model._default_manager
        every = of.order_by("pk").iterator(500)
        while rows := list(islice(every, 500)):
            kept = model.history.in_bulk([last[row.pk] for row in rows if row.pk in last])
            wrong += [said for row in rows if (said := _otherwise(row, kept.get(last.get(row.pk))))]
            count += len(rows)
    return Finding("history", f"{count - len(wrong)} of {count} as last written", tuple(wrong))


def _otherwise(row: Any, kept: Any) -> str:
    """What of a row is not as its history has it, "" for nothing."""
    which = f"The {row._meta.verbose_name} {row.pk}, {row}:"
    if kept is None:
        return f"{which} there is no history of it."
    names = [field.name for field in kept.tracked_fields if getattr(row, field.attname) != getattr(kept, field.attname)]
    return f"{which} {', '.join(names)} is not as its history says." if names else ""


def plans(tell: Tell) -> Finding:
    """Every stored plan computed again. By the version that made it the results have to come out; by another they may differ."""
    wrong: list[str] = []
    differs: list[str] = []
    of = FrozenPlan.objects.count()
    for count, frozen in enumerate(FrozenPlan.objects.select_related("job").order_by("pk").iterator(100), 1):
        said, ours = _again(frozen)
        if said:
            (wrong if ours else differs).append(said)
        tell("Plans", count, of)
    return Finding("plans", f"{of - len(wrong) - len(differs)} of {of} come out again", tuple(wrong), tuple(differs))


def _again(frozen: FrozenPlan) -> tuple[str, bool]:
    """What differs of one plan, "" for nothing; whether its version is this one."""
    which = f"Job {frozen.job.number}, plan {frozen.sequence}, by version {frozen.version}:"
    try:
        again = core.recompute(frozen)
    except (TopoutError, KeyError, TypeError, AttributeError, ValueError) as error:
        first = (str(error).splitlines() or [type(error).__name__])[0]
        return f"{which} can’t be computed again ({first}).", frozen.version == topout.__version__
    if again.holds:
        return "", again.same_version
    if again.largest == float("inf"):
        return f"{which} has other figures now.", again.same_version
    if again.other_warnings:
        return f"{which} has other warnings now; its figures differ by {100 * again.largest:.2g} % at most.", again.same_version  # fmt: skip
    return f"{which} its figures differ by {100 * again.largest:.2g} % at most.", again.same_version
