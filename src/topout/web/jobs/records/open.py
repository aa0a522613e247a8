"""The one way to a job: for a page that shows it, and, locked and not handed over, for whoever writes to it."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.db import connection
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from topout.web.jobs.records.models import Job, Release


class HandedOver(PermissionDenied):
    """The job is handed over: it takes nothing more. Answered by a page of its own (403)."""

    title = "Handed over"
    way = "What comes back is a new job."

    def __init__(self, job: Job) -> None:
        super().__init__(f"Job {job.number} is handed over. Nothing is added to it or changed in it.")


def _shown() -> QuerySet[Job]:
    return Job.objects.select_related("rider", "bike", "unit__family", "technician", "taken_in_by", "comes_back_from")


def job_or_404(number: int) -> Job:
    """The job with what its pages show. Who writes takes it by `open_job` instead."""
    return get_object_or_404(_shown(), number=number)


def released(job: Job) -> bool:
    """Whether the job is handed over."""
    return Release.objects.filter(job=job).exists()


def open_job(number: int) -> Job:
    """The job for a view that writes: its row locked until the change is over. Raises Http404, HandedOver.

    Raises RuntimeError outside a transaction: what was looked at here could be otherwise before it is written.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("a job is taken for writing inside a change")
    job = get_object_or_404(_shown().select_for_update(of=("self",)), number=number)
    if released(job):
        raise HandedOver(job)
    return job


def job_of(request: HttpRequest, number: int) -> Job:
    """The job for a page that shows a form and takes it: open where the form is sent, any where it is shown."""
    return open_job(number) if request.method == "POST" else job_or_404(number)
