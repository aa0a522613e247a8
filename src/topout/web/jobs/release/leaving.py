"""Handing a job over: the release itself, and what it leaves to the Book, so that the next job starts from it.

The form and the demo release a job by `hand_over` alone: one check, one sheet kept byte for byte. What the Book says of the unit changes with who and when in
its history; the job's own records stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from topout.documents import pdf, setup_sheet
from topout.errors import FaultsFound, TopoutError
from topout.web.access.change import ChangeContext
from topout.web.access.gate import owner
from topout.web.backup import witness
from topout.web.book import keeping as book
from topout.web.book import worth
from topout.web.jobs import core
from topout.web.jobs.core import both_ends
from topout.web.jobs.core import left as core_left
from topout.web.jobs.readings import show
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.kinds import BESIDE, KINDS
from topout.web.jobs.records.models import FrozenPlan, Job, Release, ReleasedSheet
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release import beside, contradictions, drafted, typed
from topout.web.jobs.release.sheet import sheet_of
from topout.web.jobs.steps import sign

TOO_LONG: Final = (
    "The sheet does not fit two pages: defects, readings, cautions and what the rider is told are never cut. Word the "
    "defects and the rider’s notes shorter."
)


class NotYet(TopoutError):
    """The job can't be handed over like this; `faults` says why, each a sentence."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__(" ".join(faults))


def hand_over(doing: ChangeContext, job: Job, *, reason: str = "", **told: Any) -> Release:
    """Release the job, keep its sheet and leave to its unit and bike what was left. The only way to a release.

    `told` are the fields of `changes.release`. Raises NotYet where something stands against it that no reason lifts, or
    that takes an owner's `reason` and has none. What is a danger goes among the defects, and not fit to ride whatever stands against it.
    """
    fit, faults = bool(told["fit_to_ride"]), contradictions.faults_of(job)
    stops = [each.words for each in faults if each.stops(fit)]
    stops += [*typed.against(job, told["found"], told["left"]), *drafted.not_told(job, told["defects"])]
    stops += typed.to_nobody(job, told.get("notes", ""))
    words = [each.words for each in faults]
    if stops:
        raise NotYet(stops)
    if fit and words and not (doing.who is not None and owner(doing.who)):
        raise NotYet([*words, "Only an owner of the workshop hands it over like this, with a reason."])
    if fit and words and not reason.strip():
        raise NotYet([*words, "Say why it goes out like this."])
    tells = [each.words for each in faults if each.danger or not fit]
    told["defects"] = [*tells, *(each for each in told["defects"] if each not in tells)]
    release = changes.release(doing, job, contradictions=words, reason=reason.strip() if fit else "", **told)
    _leave(doing, job, release)
    try:
        sheet, as_of = sheet_of(job, anew=False)
        ReleasedSheet.objects.create(release=release, pdf=setup_sheet.sheet_pdf(sheet, as_of))
    except pdf.DoesNotFit:
        raise NotYet([TOO_LONG]) from None
    except FaultsFound as found:
        raise NotYet([core.not_readable(found)]) from None
    witness.note_when_saved()
    return release


def carried_out(job: Job) -> FrozenPlan | None:
    """The plan that the job's signed steps carried out; None where there is none, or it was not gone through."""
    frozen = current_plan(job)
    return frozen if frozen is not None and job.procedure and sign.finished(job) else None


def _leave_beside(doing: ChangeContext, job: Job) -> None:
    """What the steps set at the other end goes to the unit that stands there."""
    other, read = core.other_end(job), {BESIDE[kind]: row for kind, row in both_ends.read_there(job).items()}
    if other is None or not read:
        return
    was, other.tables = other.tables, core_left.left_beside(other, read)
    other.worth = worth.after(was, other.tables, other.worth, "")
    if "rebound" in read and read["rebound"].of_range:
        other.extras["rebound-clicks"] = read["rebound"].of_range
    told = {kind: show.in_short(read[kind]) for kind in KINDS if kind in read}
    other.left = {
        "next_service": "", **(other.left or {}), "job": job.number, "at": doing.at.isoformat(),
        "readings": {**(other.left or {}).get("readings", {}), **told},
    }  # fmt: skip
    book.keep(doing, other)


def _leave(doing: ChangeContext, job: Job, release: Release) -> None:
    unit = job.unit
    if unit is None:
        return
    _leave_beside(doing, job)
    read, plan = readings.current(job, "as-left"), carried_out(job)
    older = beside.read_before_another(job, read)  # the Book has what another job left since
    left = {kind: row for kind, row in read.items() if kind not in older}
    if older:
        plan = None
    found = readings.current(job, "as-found")
    was, (tables, measured) = (
        unit.tables,
        core_left.measured_on_unit(unit, core_left.left_on_unit(unit, left, plan), found),
    )
    unit.tables = tables
    unit.worth = worth.after(was, tables, unit.worth, "") | dict.fromkeys(measured, "read")
    for kind in ("rebound", "compression"):
        if kind in left and left[kind].of_range:
            unit.extras[f"{kind}-clicks"] = left[kind].of_range
    if "negative-spacers" in left:
        unit.extras["negative-spacers"] = int(left["negative-spacers"].value_si)
    unit.left = {
        "job": job.number,
        "at": doing.at.isoformat(),
        "next_service": release.next_service,
        "readings": ((unit.left or {}).get("readings", {}) if older else {})
        | {kind: show.in_short(left[kind]) for kind in KINDS if kind in left},
    }
    hours = found.get("hours")
    if hours is not None:
        unit.left["hours"] = int(hours.value_si)
    book.keep(doing, unit)
    if job.bike is not None:
        tables = core_left.left_on_bike(job.bike.tables, plan)
        if tables != job.bike.tables:
            job.bike.worth = worth.after(job.bike.tables, tables, job.bike.worth, "")
            job.bike.tables = tables
            book.keep(doing, job.bike)
