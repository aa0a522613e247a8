"""Changes of a job: taking in, waiting, remarks, photos aside, the hand-over. Called inside a change; forms and demo use these."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User

from topout.web.access.change import ChangeContext
from topout.web.book.models import Bike, Rider, Unit
from topout.web.jobs.records.models import Job, Release, ReleasedSheet, Remark, RiderNotes
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.records.sequence import next_job_number, next_sequence


def take_in(
    doing: ChangeContext, *, rider: Rider, bike: Bike | None, unit: Unit | None, asked_title: str, asked: str,
    technician: User | None = None, promised_at: datetime | None = None, budget: str = "",
    comes_back_from: Job | None = None, procedure: str = "",
) -> Job:  # fmt: skip
    """A new job card with the next number."""
    assert doing.who is not None
    job = Job(
        number=next_job_number(), rider=rider, bike=bike, unit=unit, asked_title=asked_title, asked=asked, budget=budget,
        promised_at=promised_at, taken_in_at=doing.at, taken_in_by=doing.who, technician=technician or doing.who,
        comes_back_from=comes_back_from, procedure=procedure,
    )  # fmt: skip
    return keep(doing, job)


def keep(doing: ChangeContext, job: Job) -> Job:
    """Save what is asked for, with who and when in its history."""
    job._history_user, job._history_date = doing.who, doing.at  # type: ignore[attr-defined]
    job.save()
    return job


def remark(doing: ChangeContext, job: Job, kind: str, words: str) -> Remark:
    """Words on a job: `kind` is a key of models.REMARKS."""
    assert doing.who is not None
    return Remark.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, kind=kind, words=words
    )


class AlreadyReleased(Exception):
    """The job is handed over; nothing is added to it. A come-back is a new job."""


def release(
    doing: ChangeContext,
    job: Job,
    *,
    found: str,
    done: str,
    left: str,
    defects: Sequence[str],
    next_service: str,
    fit_to_ride: bool,
    notes: str = "",
    contradictions: Sequence[str] = (),
    reason: str = "",
) -> Release:
    """Write the release. It is reached by `release.leaving.hand_over` alone, which looks at what stands against it."""
    assert doing.who is not None
    if Release.objects.filter(job=job).exists():
        raise AlreadyReleased(f"job {job.number} is handed over already")
    row = Release.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, found=found, done=done, left=left,
        defects=list(defects), next_service=next_service, fit_to_ride=fit_to_ride, plan=current_plan(job),
        contradictions=list(contradictions), reason=reason,
    )  # fmt: skip
    if notes.strip():
        RiderNotes.objects.create(release=row, words=notes.strip())
    job.drafts.all().delete()
    return row


def forget_rider(sender: object, rider: Rider, **_: object) -> None:
    """A rider is erased: what was told to the rider goes, and the kept sheets, which name them and print it.

    From then on a sheet is drawn anew without either.
    """
    for kept in (ReleasedSheet, RiderNotes):
        kept.objects.filter(release__job__rider=rider).delete()
