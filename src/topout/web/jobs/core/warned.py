"""What is dangerous on a unit, for the pages that show the unit and not its job: the Book's, a scanned tag's, another job's card.

A template asks for it, since the Book and the Shelf lie below the jobs and know nothing of them.
"""

from __future__ import annotations

from typing import Any

from django.template import Library

from topout.web.book.models import Unit
from topout.web.jobs.core import danger
from topout.web.jobs.records.models import Job

register = Library()


@register.inclusion_tag("jobs/unit_dangers.html")
def dangers_of(unit: Unit | None, beside: int | None = None) -> dict[str, Any]:
    """Every danger on the unit's open jobs, newest job first, with the job's number; the card of job `beside` shows its own."""
    jobs = (
        Job.objects.filter(unit=unit, on_the_bench__isnull=False).exclude(number=beside or 0).order_by("-number")
        if unit
        else ()
    )
    found = [(job.number, each) for job in jobs for each in danger.of(job) if each.stops or each.loaded]
    return {"dangers": found, "beside": beside}
