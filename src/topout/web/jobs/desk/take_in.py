"""Taking in a job: rider, bike, unit, what is asked, what is promised."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.web import clock
from topout.web.access.change import writes
from topout.web.book.models import UNIT_KINDS, Rider
from topout.web.days import read_when, said
from topout.web.groups import drawn
from topout.web.jobs.desk.intake import IntakeForm, number, units_of
from topout.web.jobs.records import drafts
from topout.web.jobs.search.views import answered


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def job_new(request: HttpRequest) -> HttpResponse:
    """Who brings it, found or new, and what is wanted."""
    place, draft, whose = _place(request), None, _whose(request)
    if request.method == "POST":
        form = IntakeForm(request.POST, whose=whose)
        if form.is_valid():
            job = form.keep(request.change)  # type: ignore[attr-defined]
            drafts.gone(None, place)
            messages.success(request, f"Job {job.number} is taken in.")
            return redirect("job", job.number)
    else:
        draft = drafts.find(None, place)
        form = IntakeForm(initial={**_initial(request, whose), **(draft.fields if draft else {})}, whose=whose)
    context = {
        "nav": "bench", "form": form, "groups": drawn(form, form.groups), "heading": "Take in a job", "button": "Take it in",
        "draft": draft, "draft_place": _with_rider("job-new-draft", request), "whose": whose,
        **(answered(request.GET["q"]) if request.GET.get("q") and not whose else {"q": ""}),
    }  # fmt: skip
    return render(request, "jobs/take_in.html", context, status=422 if form.errors else 200)


@require_safe
def when(request: HttpRequest) -> HttpResponse:
    """What is understood of a promise while it is typed: a line of text, nothing is saved."""
    text = request.GET.get("promised", "").strip()
    try:
        line = said(read_when(text, timezone.localtime(clock.now())).local) if text else ""
    except ValueError as fault:
        line = str(fault)[:1].upper() + str(fault)[1:]
    return HttpResponse(line, content_type="text/plain; charset=utf-8")


@require_safe
def procedures(request: HttpRequest) -> HttpResponse:
    """The procedures anew, for the unit or the kind that was tapped; nothing is saved."""
    said = {name: request.GET.get(name, "")[:80] for name in ("unit", "unit_kind", "procedure")}
    form = IntakeForm(
        initial={**said, "unit_kind": said["unit_kind"] if said["unit_kind"] in UNIT_KINDS else ""},
        whose=_whose(request),
    )
    return render(request, "parts/field.html", {"field": form["procedure"]})


@require_POST
def job_new_draft(request: HttpRequest) -> HttpResponse:
    """Keep what is typed of a job to come: each person has one, and one more for each rider it was begun from."""
    whose = _whose(request)
    form = IntakeForm(initial=_initial(request, whose), whose=whose)
    with drafts.typing(request) as doing:
        return drafts.take(request, doing, None, _place(request), form, _with_rider("job-new", request))


def _rider(request: HttpRequest) -> str:
    """The rider's number that the address names, or nothing."""
    return number(request.GET.get("rider", ""))


def _place(request: HttpRequest) -> str:
    return f"take-in:{request.user.pk}:{_rider(request)}"


def _with_rider(name: str, request: HttpRequest) -> str:
    rider = _rider(request)
    return reverse(name) + (f"?rider={rider}" if rider else "")


def _whose(request: HttpRequest) -> Rider | None:
    """The rider that was found: of the address, or of the form that was sent."""
    wanted = _rider(request) or number(request.POST.get("rider", ""))
    return Rider.objects.filter(pk=int(wanted), erased_at=None).first() if wanted else None


def _initial(request: HttpRequest, whose: Rider | None) -> dict[str, Any]:
    initial: dict[str, Any] = {
        "technician": request.user.get_username(),
        "rider_name": request.GET.get("name", "")[:120],
    }
    if whose is None:
        return initial
    initial["rider"], theirs = whose.pk, units_of(whose)
    asked, only = number(request.GET.get("unit", "")), list(theirs[:2])
    unit = theirs.filter(pk=int(asked)).first() if asked else (only[0] if len(only) == 1 else None)
    return initial | ({"unit": unit.pk} if unit else {})
