"""Handing a job over: the release itself, and what it leaves to the Book, so that the next job starts from it.

The form and the demo release a job by `hand_over` alone. What the Book says of the unit changes with who and when in
its history; the job's own records stay as they are.
"""

from __future__ import annotations

from typing import Any

from topout.web.access.change import Doing
from topout.web.book import keeping as book
from topout.web.jobs.core import left as core_left
from topout.web.jobs.readings import show
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.kinds import KINDS
from topout.web.jobs.records.models import FrozenPlan, Job, Release
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.steps import sign


def hand_over(doing: Doing, job: Job, **told: Any) -> Release:
    """Release the job and leave to its unit and bike what was left; `told` are the fields of `changes.release`."""
    release = changes.release(doing, job, **told)
    _leave(doing, job, release)
    return release


def carried_out(job: Job) -> FrozenPlan | None:
    """The plan that the job's signed steps carried out; None where there is none, or it was not gone through."""
    frozen = current_plan(job)
    return frozen if frozen is not None and job.procedure and sign.finished(job) else None


def _leave(doing: Doing, job: Job, release: Release) -> None:
    unit = job.unit
    if unit is None:
        return
    left, plan = readings.current(job, "as-left"), carried_out(job)
    unit.tables = core_left.left_on_unit(unit, left, plan)
    for kind in ("rebound", "compression"):
        if kind in left and left[kind].of_range:
            unit.extras[f"{kind}-clicks"] = left[kind].of_range
    if "negative-spacers" in left:
        unit.extras["negative-spacers"] = int(left["negative-spacers"].value_si)
    unit.left = {
        "job": job.number,
        "at": doing.at.isoformat(),
        "next_service": release.next_service,
        "readings": {kind: show.in_words(left[kind]) for kind in KINDS if kind in left},
    }
    hours = readings.current(job, "as-found").get("hours")
    if hours is not None:
        unit.left["hours"] = int(hours.value_si)
    book.keep(doing, unit)
    if job.bike is not None:
        tables = core_left.left_on_bike(job.bike.tables, plan)
        if tables != job.bike.tables:
            job.bike.tables = tables
            book.keep(doing, job.bike)
