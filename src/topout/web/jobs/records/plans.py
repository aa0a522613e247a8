"""The plan that a job is worked by."""

from __future__ import annotations

from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.prepared import Prepared

_LAST = Prepared(lambda job: FrozenPlan.objects.filter(job=job).order_by("-sequence")[:1])


def current_plan(job: Job) -> FrozenPlan | None:
    """The plan that is in use: the one frozen last."""
    found = _LAST.first(job.pk)
    if found is not None:
        found.job = job  # whoever asks it for its job asks the database no second time
    return found
