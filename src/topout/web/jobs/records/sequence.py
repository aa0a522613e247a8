"""Numbers in order: of jobs, and of a job's records over all kinds."""

from __future__ import annotations

from django.db.models import Max

from topout.web.jobs.records.models import IMMUTABLE, Job

FIRST_JOB = 201


def next_job_number() -> int:
    """One more than the highest; call inside a change, where writers stand in line."""
    return int(Job.objects.aggregate(last=Max("number"))["last"] or FIRST_JOB - 1) + 1


def next_sequence(job: Job) -> int:
    """The job's next record number. Takes the job's row first, so that two writers on PostgreSQL stand in line too."""
    Job.objects.select_for_update().get(pk=job.pk)
    last = 0
    for model in IMMUTABLE:
        last = max(last, model._default_manager.filter(job=job).aggregate(last=Max("sequence"))["last"] or 0)
    return last + 1
