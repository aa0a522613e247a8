"""The lists: a group's reversible steps on one page. Ticking goes through `views.step`, as every signing does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.errors import TopoutError
from topout.web.access.change import writes
from topout.web.jobs.records import drafts
from topout.web.jobs.records.models import StepsShown
from topout.web.jobs.records.open import job_of, job_or_404, open_job
from topout.web.jobs.steps import page, rows, sign, written
from topout.web.jobs.steps.addresses import change_of, list_place, page_of, place_of
from topout.web.jobs.steps.form import StepForm, wants_numbers
from topout.web.jobs.steps.progress import Progress, Screen, Slot, then, undone_by, walk
from topout.web.jobs.steps.slots import BY_MISTAKE

# Said with one tap; a person's own words stand beside them.
STRUCK_BECAUSE = (BY_MISTAKE, "Has to be done again")
LEFT_BECAUSE = ("The rider does not want it", "Not needed on this unit", "The part is not here")


@dataclass(frozen=True)
class Hand:
    """The row that the hand's column is open for: to answer it (`put`), to strike it, or to leave it."""

    what: str
    slot: Slot
    place: str
    fault: str = ""
    because: str = ""


@require_safe
def listed(request: HttpRequest, number: int, key: str) -> HttpResponse:
    """The list that a step stands in; where it stands alone, its own page."""
    job = job_or_404(number)
    try:
        here = walk(job)
    except TopoutError:
        return redirect("steps", number)
    slot = here.slot(key)
    if slot is None or not here.begun:
        return redirect("steps", number)
    screen = here.screen_of(slot)
    if not screen.rows:
        return redirect(place_of(job, slot))
    worked = any(here.is_open(each) or here.settled(each) for each in screen.slots)
    if here.current is not None and here.at(screen.slots[0]) > here.at(here.current) and not worked:
        return redirect(page_of(request, here, here.current))
    if here.stopped is None:
        for what in ("put", "struck", "left"):
            inside = here.slot(request.GET.get(what, ""))
            if inside is not None and screen.holds(inside):
                return _hand(request, here, screen, inside, what)
    return show(request, here, screen)


def after_row(request: HttpRequest, here: Progress, slot: Slot) -> str:
    """Where signing a row leads: to the next page once all rows are signed or wait, else back to the list.

    Where the next open row below wants numbers, its keys come at once.
    """
    screen = here.screen_of(slot)
    now = here.at_hand
    if now is None or not screen.holds(now):
        return page_of(request, here, now)
    below = next((each for each in screen.slots if here.at(each) > here.at(slot) and not here.settled(each)), None)
    keys = below is not None and here.settled(slot) and not here.waits(below) and wants_numbers(here, below)
    put = f"?put={below.step.key}" if keys and below is not None else ""
    return list_place(here, screen) + put


def show(
    request: HttpRequest, here: Progress, screen: Screen, refused: str = "", status: int = 200, **more: Any
) -> HttpResponse:
    """The list, with what stands in the hand's column."""
    context = rows.list_page(here, screen)
    if more:
        context = {**more, **context}
    meanwhile = here.at_hand
    if context["next_row"] is None and meanwhile is not None and not screen.holds(meanwhile):
        context |= {"meanwhile": meanwhile, "meanwhile_place": page_of(request, here, meanwhile)}
    context |= {
        "refused": refused,
        "list_place": list_place(here, screen),
        "faults": [("", refused)] if refused else [],
    }
    return render(request, "jobs/step_list.html", context, status=status)


def _hand(request: HttpRequest, here: Progress, screen: Screen, slot: Slot, what: str) -> HttpResponse:
    if what == "put":
        kept = drafts.find(here.job, written.draft_place(slot))
        return show_put(request, here, slot, StepForm(walk=here, slot=slot, initial=kept.fields if kept else {}))
    return _reason(request, here, slot, what)


def show_put(request: HttpRequest, here: Progress, slot: Slot, form: StepForm, status: int = 200) -> HttpResponse:
    """The list with the boxes of one of its steps."""
    again = "again" in request.GET or request.POST.get("again") == "1"
    more = page.page(here, slot, form) | {
        "hand": Hand("put", slot, place_of(here.job, slot)), "place": place_of(here.job, slot), "again": again
    }  # fmt: skip
    return show(request, here, here.screen_of(slot), status=status, **more)


def _reason(
    request: HttpRequest, here: Progress, slot: Slot, what: str, fault: str = "", because: str = "", status: int = 200
) -> HttpResponse:
    place = reverse(f"step-{what}", args=[here.job.number, slot.step.key])
    reasons = STRUCK_BECAUSE if what == "struck" else LEFT_BECAUSE
    hand = Hand(what, slot, place, fault, because)
    return show(
        request, here, here.screen_of(slot), status=status, hand=hand, reasons=reasons, undoes=undone_by(here, slot)
    )


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def left(request: HttpRequest, number: int, key: str) -> HttpResponse:
    """Sign that a step was not done, and why, or that it is not known. GET asks for the reason."""
    if request.method != "POST":
        job = job_of(request, number)
        try:
            here = walk(job)
        except TopoutError:
            return redirect("steps", number)
        slot = here.slot(key)
        if slot is None or not slot.step.may_skip or not here.is_open(slot):
            return redirect("steps", number)
        return _alone(request, here, slot, "left")
    return _sign(request, number, key, "left")


@require_POST
@writes
def struck(request: HttpRequest, number: int, key: str) -> HttpResponse:
    """Take a tick back, with a reason."""
    return _sign(request, number, key, "struck")


def _sign(request: HttpRequest, number: int, key: str, what: str) -> HttpResponse:
    job = open_job(number)
    try:
        here = walk(job)
    except TopoutError:
        return redirect("steps", number)
    slot = here.slot(key)
    if slot is None:
        return redirect("steps", number)
    verdict = request.POST.get("verdict", "not-done")
    because = " ".join(request.POST.get("because", "").split())
    reason = request.POST.get("reason", "") or because
    listed = here.screen_of(slot).rows and request.POST.get("list") == "1"
    if not reason.isprintable() or len(reason) > sign.REASON or not reason and verdict != "not-known":
        fault = "Say why." if not reason else f"At most {sign.REASON} letters that can be shown."
        if listed:
            return _reason(request, here, slot, what, fault, because, 422)
        return _alone(request, here, slot, what, fault)
    try:
        seen = int(request.POST.get("seen", "-1"))
    except ValueError:
        seen = -1
    try:
        if what == "left":
            entry = sign.leave(change_of(request), job, key, verdict, reason, seen, here)
        else:
            entry = sign.strike(change_of(request), job, key, reason, seen, here)
    except sign.Refused as refused:
        if listed:
            return show(request, here, here.screen_of(slot), str(refused), 409)
        return _alone(request, here, slot, what, str(refused))
    after = then(here, entry)
    there = after.slot(key)
    if listed and there is not None:
        return redirect(list_place(after, after.screen_of(there)))
    return redirect(page_of(request, after, after.current))


def _alone(request: HttpRequest, here: Progress, slot: Slot, what: str, fault: str = "") -> HttpResponse:
    """The reason of a step that stands on a page of its own."""
    context = {
        "nav": "bench", "job": here.job, "walk": here, "what": what, "slot": slot, "fault": fault,
        "do": here.say(slot, slot.step.do), "reasons": STRUCK_BECAUSE if what == "struck" else LEFT_BECAUSE,
        "hand": Hand(what, slot, reverse(f"step-{what}", args=[here.job.number, slot.step.key]), fault),
    }  # fmt: skip
    return render(
        request,
        "jobs/step_why.html",
        context | {"faults": [("", fault)] if fault else []},
        status=409 if fault else 200,
    )


@require_POST
@writes
def shown(request: HttpRequest, number: int) -> HttpResponse:
    """One step a page, or a group's steps together: this person's choice, from now on and on every device."""
    assert isinstance(request.user, User)
    one = request.POST.get("one") == "1"
    StepsShown.objects.update_or_create(who=request.user, defaults={"one_a_page": one})
    request.one_a_page = one  # type: ignore[attr-defined]
    job = job_or_404(number)  # the person's choice, nothing of the job
    try:
        here = walk(job)
    except TopoutError:
        return redirect("steps", number)
    slot = here.slot(request.POST.get("key", "")) or here.current
    return redirect(page_of(request, here, slot))
