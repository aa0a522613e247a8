"""What stands on a card of a unit and says that it was loaded: who wrote down a pressure had a pump on it, by whichever job, with steps or without."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from django.db.models import Q

from topout.web import clock
from topout.web.jobs.records.kinds import FAR_IN
from topout.web.jobs.records.models import Job, Reading, StepEntry
from topout.web.jobs.records.readings import READ_AGAIN

_GAUGED: Final = ("pressure", "negative-pressure", FAR_IN, "own-pump")  # kinds of reading that want air in it
_LOADED: Final = (*_GAUGED, "sag", "stroke-sag", "preload")  # and those of a unit that carries, or of a coil wound up
READ_BEFORE: Final = "read_before"  # in the evidence of a proof: the last reading of all that was written before it


def loads(job: Job) -> list[tuple[Reading, Reading]]:
    """What says on cards that the job's unit was loaded, as it was read first and as it stands, the first first.

    On its own card a sag as found is of before the work, whenever it is written down; a gauge that is read was on it then.
    """
    there = Q(stage__in=("as-found", "as-left"), kind__in=_LOADED) & ~Q(job=job)
    own = Q(job=job) & (Q(stage="as-left", kind__in=_LOADED) | Q(stage="as-found", kind__in=_GAUGED))
    return list(_of_unit(job, there | own))


def loaded_since(proof: StepEntry, read: list[tuple[Reading, Reading]]) -> Reading | None:
    """The first of these that was written after a proof, whatever the clock said; by the clock, where the proof does not tell."""
    before = proof.evidence.get(READ_BEFORE)
    after = (row for first, row in read if (_since(first, proof.at) if before is None else first.pk > before))
    return next(after, None)


def pressure_since(job: Job, since: datetime) -> Reading | None:
    """The first pressure of the job's unit on a card of another of its jobs that was read after that."""
    there = Q(stage__in=("as-found", "as-left"), kind__in=_GAUGED) & ~Q(job=job)
    return next((row for first, row in _of_unit(job, there) if _since(first, since)), None)


def _of_unit(job: Job, where: Q) -> Iterator[tuple[Reading, Reading]]:
    """Those of the job's unit that stand and are not nothing. A correction was read when what it mends was."""
    if job.unit_id is None:
        return
    rows = Reading.objects.filter(where, job__unit=job.unit_id, corrected_by=None, value_si__gt=0)
    for row in rows.select_related("job", "corrects").order_by("at"):
        first = row
        while first.corrects is not None and not first.reason.startswith(READ_AGAIN):
            first = first.corrects
        yield first, row


def _since(first: Reading, since: datetime) -> bool:
    """What a clock set back has in the future is left out."""
    return since < first.at <= clock.now()
