"""The plan that a job is worked by."""

from __future__ import annotations

from topout.web.jobs.records.models import FrozenPlan, Job


def current_plan(job: Job) -> FrozenPlan | None:
    """The plan that is in use: the one frozen last."""
    return FrozenPlan.objects.filter(job=job).order_by("-sequence").first()
