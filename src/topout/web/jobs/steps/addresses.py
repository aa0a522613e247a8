"""Where a step is worked, and the job that an address names."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.http import HttpRequest
from django.urls import reverse

from topout.web.access.change import ChangeContext
from topout.web.jobs.records.models import Job, StepsShown
from topout.web.jobs.steps.form import wants_numbers
from topout.web.jobs.steps.progress import Progress, Screen, Slot
from topout.web.prepared import Prepared

_ONE_A_PAGE = Prepared(lambda who: StepsShown.objects.filter(who=who, one_a_page=True))


def change_of(request: HttpRequest) -> ChangeContext:
    doing: ChangeContext = request.change  # type: ignore[attr-defined]
    return doing


def one_a_page(request: HttpRequest) -> bool:
    """Whether this person wants every step on a page of its own; asked once a request."""
    known = getattr(request, "one_a_page", None)
    if known is None:
        assert isinstance(request.user, User)
        known = _ONE_A_PAGE.first(request.user.pk) is not None
        request.one_a_page = known  # type: ignore[attr-defined]
    return bool(known)


def page_of(request: HttpRequest, here: Progress, slot: Slot | None) -> str:
    """Where a step is worked: the list of its group, or its own page, as the person wants it and the step allows."""
    if slot is not None and not one_a_page(request):
        screen = here.screen_of(slot)
        if screen.rows and len(screen.slots) > 1:
            return list_place(here, screen) + put_of(here, screen, slot)
    return place_of(here.job, slot)


def place_of(job: Job, slot: Slot | None) -> str:
    """The address of a step, or of the steps where all are signed."""
    if slot is None:
        return reverse("steps", args=[job.number])
    if slot.round:
        return reverse("step-round", args=[job.number, slot.step.key, slot.round])
    return reverse("step", args=[job.number, slot.step.key])


def put_of(here: Progress, screen: Screen, slot: Slot) -> str:
    """Where a list is come to and its first open row wants numbers, their keys come at once."""
    first = next((each for each in screen.slots if not here.settled(each) and not here.waits(each)), None)
    ready = first is not None and first.key == slot.key and here.stopped is None and not here.failed(slot)
    return f"?put={slot.step.key}" if ready and wants_numbers(here, slot) else ""


def list_place(here: Progress, screen: Screen) -> str:
    """The address of a list."""
    return reverse("step-list", args=[here.job.number, screen.slots[0].step.key])
