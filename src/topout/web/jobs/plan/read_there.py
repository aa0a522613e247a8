"""Where the gauge of the unit at the other end is read held in: a reading of a unit belongs to a job of that unit.

Its own job has the page for it, with the cautions, and signs it; what was read stays with the unit, and the plan of a fork's job
starts from what was read of the shock behind.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.core.figures import NotYet
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.open import released


@dataclass(frozen=True, slots=True)
class ReadThere:
    """In a sentence, with the button that leads there."""

    words: str
    button: str
    address: str


def read_there(job: Job, firm: NotYet | None) -> ReadThere | None:
    """Where what is open of the other end is read; None where the job takes nothing more, or no gauge reading settles it."""
    other = core.other_end(job)
    if other is None or firm is None or firm.reading is None or firm.reading.kind != "gauge" or released(job):
        return None
    noun = other.what.noun
    counts = "This plan starts from it then." if noun == "shock" else "The plan there says it then."
    own = Job.objects.filter(unit=other, releases=None).select_related("unit").order_by("number").last()
    if own is None:
        address = f"{reverse('job-new')}?rider={job.rider_id}&unit={other.pk}"
        return ReadThere(
            f"It is read at a job of the {noun}, which has none open. {counts}", f"Take the {noun} in for it", address
        )
    told = f"It is read at job {own.number}, the {noun}’s own."
    if why := ahead.why_not(own):
        return ReadThere(f"{told} Not yet: {why}", f"To job {own.number}", reverse("job", args=[own.number]))
    return ReadThere(f"{told} {counts}", f"Read it at job {own.number}", reverse("far-in", args=[own.number]))
