"""The one way to a job: for a page that shows it, and, locked and not handed over, for whoever writes to it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db import connection
from django.db.models import QuerySet
from django.http import Http404, HttpRequest

from topout.web.jobs.records.models import Job, Release
from topout.web.prepared import Prepared


class HandedOver(PermissionDenied):
    """The job is handed over: it takes nothing more. Answered by a page of its own (403)."""

    title = "Handed over"
    way = "What comes back is a new job."

    def __init__(self, job: Job) -> None:
        super().__init__(f"Job {job.number} is handed over. Nothing is added to it or changed in it.")


def _shown() -> QuerySet[Job]:
    return Job.objects.select_related("rider", "bike", "unit__family", "technician", "taken_in_by", "comes_back_from")


_SHOWN = Prepared(lambda number: _shown().filter(number=number))
_TAKEN = Prepared(lambda number: _shown().filter(number=number).select_for_update(of=("self",)))
_RELEASED = Prepared(lambda job: Release.objects.filter(job=job).only("pk").order_by()[:1])


def job_or_404(number: int) -> Job:
    """The job with what its pages show. Who writes takes it by `open_job` instead."""
    return _found(_SHOWN.first(number))


def _found(job: Job | None) -> Job:
    if job is None:
        raise Http404("There is no such job.")
    return job


def released(job: Job) -> bool:
    """Whether the job is handed over."""
    return _RELEASED.first(job.pk) is not None


def open_job(number: int) -> Job:
    """The job for a view that writes: its row locked until the change is over. Raises Http404, HandedOver.

    Raises RuntimeError outside a transaction: what was looked at here could be otherwise before it is written.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("a job is taken for writing inside a change")
    job = _found(_TAKEN.first(number))
    if released(job):
        raise HandedOver(job)
    return job


def job_of(request: HttpRequest, number: int) -> Job:
    """The job for a page that shows a form and takes it: open where the form is sent, any where it is shown."""
    return open_job(number) if request.method == "POST" else job_or_404(number)
