"""What the progress of jobs is read from: the same few queries for one job and for fifty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, OuterRef, Subquery

from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, ProcedureText, Reading, StepEntry


@dataclass(frozen=True, slots=True)
class Records:
    """What is written down of one job's steps, and of what they stand on.

    `entries` are those of the job's procedure, in order; `newest` is the last one of any. `instruments` are all of the
    workshop by code, those put away too. `readings` are those that count: stage, kind.
    """

    entries: tuple[StepEntry, ...]
    newest: StepEntry | None
    frozen: FrozenPlan | None
    texts: Mapping[str, ProcedureText]
    instruments: Mapping[str, Instrument]
    readings: Mapping[tuple[str, str], Reading]

    @property
    def stages(self) -> frozenset[str]:
        """The stages that something was read at."""
        return frozenset(stage for stage, _ in self.readings)

    @property
    def gauges(self) -> list[Instrument]:
        """The gauges that are not put away, by code."""
        return [each for each in self.instruments.values() if each.kind == "gauge" and each.retired_at is None]


def read(jobs: Sequence[Job]) -> dict[int, Records]:
    """The records of these jobs, by primary key."""
    entries: dict[int, list[StepEntry]] = {job.pk: [] for job in jobs}
    # A hundred entries are signed by two or three people.
    for entry in StepEntry.objects.filter(job__in=jobs).order_by("job", "sequence").prefetch_related("who"):
        entries[entry.job_id].append(entry)
    newest = FrozenPlan.objects.filter(job=OuterRef("job")).order_by("-sequence").values("pk")[:1]
    plans = FrozenPlan.objects.filter(job__in=jobs).alias(newest=Subquery(newest)).filter(pk=F("newest"))
    frozen = {plan.job_id: plan for plan in plans.select_related("who")}
    readings: dict[int, dict[tuple[str, str], Reading]] = {job.pk: {} for job in jobs}
    counting = Reading.objects.filter(job__in=jobs, stage__in=("as-found", "as-left"), corrected_by=None)
    for reading in counting.select_related("instrument").order_by("sequence"):
        readings[reading.job_id][reading.stage, reading.kind] = reading
    instruments = {each.code: each for each in Instrument.objects.order_by("code")}
    by_procedure = {job.pk: tuple(each for each in entries[job.pk] if each.procedure == job.procedure) for job in jobs}
    hashes = {rows[-1].procedure_hash for rows in by_procedure.values() if rows}
    texts = {row.sha256: row for row in ProcedureText.objects.filter(sha256__in=hashes)} if hashes else {}
    return {
        job.pk: Records(
            by_procedure[job.pk], entries[job.pk][-1] if entries[job.pk] else None, frozen.get(job.pk), texts,
            instruments, readings[job.pk],
        )
        for job in jobs
    }  # fmt: skip
