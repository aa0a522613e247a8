"""What was left over a maker's limit, or shorter than it came: told with a plan and without, by the readings and the Book alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any, Final

from topout.units import UnitFault, parse
from topout.web.book.models import Bike, Unit
from topout.web.jobs import core
from topout.web.jobs.core import limits_before
from topout.web.jobs.readings.show import in_short
from topout.web.jobs.records.kinds import BESIDE, label
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.release import beside

TRAVEL_OFF_M: Final = 2e-3  # by hand; ours, no source
SHORT_M: Final = {"exposed-length": 3e-3, "length": 2e-3}  # at full extension, as the steps judge it
_HAIR: Final = 1 + 1e-9
_Figured = tuple[
    str, Unit | Bike | None, dict[str, Any], float, str
]  # what is limited, whose, its tables, how much, in words


def pressures(
    job: Job, left: Mapping[str, Reading], of_plan_pa: float | None, other_of_plan_pa: float | None
) -> Iterator[tuple[str, bool]]:
    """Pressures over the lowest limit that plan or Book know of, which no reason lifts, or over one that the Book had until it was changed."""
    for kind in ("pressure", "negative-pressure", *BESIDE):
        row = left.get(kind)
        if row is None or row.dimension != "pressure":
            continue
        unit, of_plan = (core.other_end(job), other_of_plan_pa) if kind in BESIDE else (job.unit, of_plan_pa)
        limit = min((each for each in (limits_before.now_pa(unit), of_plan) if each is not None), default=None)
        said_in = row.unit or "psi"
        if limit is not None and row.value_si > limit * _HAIR:
            yield (
                f"{label(kind)}: {in_short(row)}, is over the limit of {limits_before.said(limit, 'pressure', said_in)}.",
                True,
            )
        elif was := limits_before.over(unit, job.taken_in_at, row.value_si, said_in, limit):
            yield f"{label(kind)}: {in_short(row)}, is {was}", False


def fitted(job: Job, left: Mapping[str, Reading]) -> Iterator[str]:
    """Spacers and travel over the maker's limit, the fork that the travel makes over the frame maker's, or over one that the Book had until it was changed."""
    tables = job.unit.whole_tables() if job.unit is not None else {}
    for kind, by_hand in (("spacers", 0.0), ("travel", TRAVEL_OFF_M)):
        row = left.get(kind)
        if row is None:
            continue
        figured: list[_Figured] = [
            (kind, job.unit, tables, row.value_si - by_hand, f"{label(kind)}: {in_short(row)}, is")
        ]
        if kind == "travel" and (long_m := _fork_length_m(tables, row)) is not None:
            said = limits_before.said(long_m, "fork length", row.unit or "mm")
            for bike in beside.bikes_of(job):  # the one it was taken in with, and the one that it stands on now
                there = f" on {bike}" if bike.pk != job.bike_id else ""
                words = f"{label(kind)}: {in_short(row)}: a fork length of {said}{there} is"
                figured.append(("fork length", bike, bike.tables, long_m - by_hand, words))
        for of, whose, held, value, words in figured:
            limit, unit = min(limits_before.limits(held, of), default=None), row.unit or "mm"
            if limit is not None and value > limit * _HAIR:
                yield f"{words} over the limit of {limits_before.said(limit, of, unit)}."
            elif was := limits_before.over(whose, job.taken_in_at, value, unit, limit, of):
                yield f"{words} {was}"


def _fork_length_m(tables: Mapping[str, Mapping[str, object]], travel: Reading) -> float | None:
    """How long the fork is with this travel, by what the Book says of it with its own; None where that is not known."""
    fork = tables.get("fork", {})
    with suppress(UnitFault):
        if "length" in fork and "travel" in fork:
            length, of = (parse(str(fork[key]), "length").value_si for key in ("length", "travel"))
            return length + travel.value_si - of
    return None


def short(found: Mapping[str, Reading], left: Mapping[str, Reading], longer_m: float | None) -> Iterator[str]:
    """A unit that stands shorter at full extension than it was found: a chamber that pulls it in may be charged.

    `longer_m` is what a plan adds to the travel; without one it is what was measured.
    """
    was, now = found.get("travel"), left.get("travel")
    if longer_m is None:
        longer_m = now.value_si - was.value_si if was is not None and now is not None else 0.0
    for kind, off_m in SHORT_M.items():
        if kind not in found or kind not in left:
            continue
        due_m = found[kind].value_si + (longer_m if kind == "exposed-length" else 0.0)
        if left[kind].value_si < due_m - off_m * _HAIR:
            due = limits_before.said(due_m, "travel", left[kind].unit or "mm")
            words = f"{label(kind)}: left {in_short(left[kind])}, found {in_short(found[kind])}, so {due} is expected."
            yield f"{words} A unit that does not come out all the way may be charged."
