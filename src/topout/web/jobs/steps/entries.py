"""What the progress of jobs is read from: the same few queries for one job and for fifty."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from topout.web.book.models import ServiceValue
from topout.web.jobs.core.both_ends import OTHER_UNIT
from topout.web.jobs.records import own, texts
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, ProcedureText, Reading, StepEntry
from topout.web.jobs.records.readings import corrections, in_place
from topout.web.prepared import Prepared


@dataclass(frozen=True, slots=True)
class Records:
    """What is written down of one job's steps, and of what they stand on.

    `entries` are in order: they say which procedure the job is worked by, not a field of its card; `newest` is the last.
    `texts` are those that any of them was signed under, and the workshop's own that a card names. `instruments` are all of the workshop by code, those put away too.
    `readings` are those that count: stage, kind; `standing` gives for one that was corrected what stands in its place.
    `sheets` is the service data of the unit's family, oldest first.
    """

    entries: tuple[StepEntry, ...]
    newest: StepEntry | None
    frozen: FrozenPlan | None
    texts: Mapping[str, ProcedureText]
    instruments: Mapping[str, Instrument]
    readings: Mapping[tuple[str, str], Reading]
    standing: Mapping[int, Reading]
    sheets: tuple[ServiceValue, ...]
    corrected: Mapping[int, Reading]  # the same without what was read again later: for what hangs on its time

    @property
    def stages(self) -> frozenset[str]:
        """The stages that something was read at."""
        return frozenset(stage for stage, _ in self.readings)

    @property
    def gauges(self) -> list[Instrument]:
        """The gauges that are not put away, by code."""
        return [each for each in self.instruments.values() if each.kind == "gauge" and each.retired_at is None]


def of_others(job: Job) -> QuerySet[StepEntry]:
    """What other jobs signed of a job's unit, in order: its own jobs, and those that set it from the other end of its bike."""
    there = Q(job__unit=job.unit_id) | Q(**{f"evidence__{OTHER_UNIT}": job.unit_id})
    return StepEntry.objects.filter(there).exclude(job=job).select_related("job").order_by("pk")


def _entries(job: Q) -> QuerySet[StepEntry]:
    return StepEntry.objects.filter(job).order_by("job", "sequence")


def _plans(job: Q) -> QuerySet[FrozenPlan]:
    newest = FrozenPlan.objects.filter(job=OuterRef("job")).order_by("-sequence").values("pk")[:1]
    return FrozenPlan.objects.filter(job).alias(newest=Subquery(newest)).filter(pk=F("newest"))


def _readings(job: Q) -> QuerySet[Reading]:
    of_the_card = ~Q(stage="step") | Q(corrects__isnull=False)
    return Reading.objects.filter(of_the_card, job).select_related("instrument").order_by("sequence")


def _sheets(job: Q) -> QuerySet[ServiceValue]:
    return ServiceValue.objects.filter(job).annotate(of_job=F("family__units__jobs")).order_by("number")


class _Asked(NamedTuple):
    """A question about jobs, as it stands for several; for one, as every page of a step asks it, it is written once."""

    make: Callable[[Q], QuerySet[Any]]
    of: str  # the way from its rows to their jobs
    one: Prepared[Any]

    def __call__(self, jobs: Sequence[Job]) -> Iterable[Any]:
        if len(jobs) == 1:
            return self.one.all(jobs[0].pk)
        return self.make(Q((f"{self.of}__in", jobs)))


def _asked(make: Callable[[Q], QuerySet[Any]], of: str = "job") -> _Asked:
    return _Asked(make, of, Prepared(lambda job: make(Q((of, job)))))


_ENTRIES: Final = _asked(_entries)
_PLANS: Final = _asked(_plans)
_READINGS: Final = _asked(_readings)
_SHEETS: Final = _asked(_sheets, "family__units__jobs")
_INSTRUMENTS: Final = Prepared(lambda: Instrument.objects.order_by("code"))


def read(jobs: Sequence[Job]) -> dict[int, Records]:
    """The records of these jobs, by primary key."""
    entries: dict[int, list[StepEntry]] = {job.pk: [] for job in jobs}
    for entry in _ENTRIES(jobs):
        entries[entry.job_id].append(entry)
    frozen = {plan.job_id: plan for plan in _PLANS(jobs)}
    for job in jobs:
        if job.pk in frozen:
            frozen[job.pk].job = job  # its unit says at which end the plan is, without a query for each job
    readings: dict[int, dict[tuple[str, str], Reading]] = {job.pk: {} for job in jobs}
    kept: dict[int, list[Reading]] = {job.pk: [] for job in jobs}
    for reading in _READINGS(jobs):
        kept[reading.job_id].append(reading)
    standing = {pk: in_place(rows) for pk, rows in kept.items()}
    for pk, rows in kept.items():
        for row in rows:
            if row.stage != "step" and row.pk not in standing[pk]:
                readings[pk][row.stage, row.kind] = row
    sheets: dict[int, list[ServiceValue]] = {job.pk: [] for job in jobs}
    for value in _SHEETS(jobs):
        sheets[value.of_job].append(value)
    instruments = {each.code: each for each in _INSTRUMENTS.all()}
    hashes = {row.procedure_hash for rows in entries.values() for row in rows}
    names = {job.procedure for job in jobs if own.is_own(job.procedure) and not entries[job.pk]}
    texts = {row.sha256: row for row in _texts(hashes, names)}
    return {
        job.pk: Records(
            tuple(entries[job.pk]), entries[job.pk][-1] if entries[job.pk] else None, frozen.get(job.pk), texts,
            instruments, readings[job.pk], standing[job.pk], tuple(sheets[job.pk]), corrections(kept[job.pk]),
        )
        for job in jobs
    }  # fmt: skip


def _texts(hashes: set[str], names: set[str]) -> Iterable[ProcedureText]:
    """The texts of these hashes and of these procedures of the workshop's own."""
    if not names:
        return texts.kept_of(hashes).values()
    return ProcedureText.objects.filter(Q(sha256__in=hashes) | Q(procedure__in=names))
