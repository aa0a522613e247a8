"""A job, as a page takes it."""

from __future__ import annotations

from django.shortcuts import get_object_or_404

from topout.web.jobs.records.models import Job


def job_or_404(number: int) -> Job:
    """The job with what its pages show."""
    return get_object_or_404(
        Job.objects.select_related("rider", "bike", "unit__family", "technician", "taken_in_by", "comes_back_from"),
        number=number,
    )
