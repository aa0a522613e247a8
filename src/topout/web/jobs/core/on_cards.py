"""A pressure that stands on a card of a unit: who wrote it down had a pump on it, by whichever job, with steps or without."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.db.models import Q

from topout.web import clock
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.records.readings import READ_AGAIN

_OF_AIR: Final = ("pressure", "negative-pressure")  # kinds of reading


def pressures(job: Job, *, own_left: bool = False) -> list[tuple[datetime, Reading]]:
    """The pressures of the job's unit on cards of other jobs of it, each with when it was read, the first first; with `own_left` those as left of the job itself too.

    A correction was read when what it mends was. What a clock set back has in the future is left out.
    """
    if job.unit_id is None:
        return []
    there = Q(stage__in=("as-found", "as-left")) & ~Q(job=job)
    if own_left:
        there |= Q(stage="as-left", job=job)
    rows = Reading.objects.filter(there, job__unit=job.unit_id, kind__in=_OF_AIR, corrected_by=None, value_si__gt=0)
    found = []
    for row in rows.select_related("job", "corrects").order_by("at"):
        first = row
        while first.corrects is not None and not first.reason.startswith(READ_AGAIN):
            first = first.corrects
        if first.at <= clock.now():
            found.append((first.at, row))
    return found


def pressure_since(job: Job, since: datetime) -> Reading | None:
    """The first pressure of the job's unit on a card of another of its jobs that was read after that."""
    return next((row for at, row in pressures(job) if at > since), None)
