"""The step pages: one step a screen; signing, stopping, going on, drafts, and who else signed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.errors import TopoutError
from topout.web.access.change import ChangeContext, writes
from topout.web.access.gate import owner
from topout.web.jobs.core import both_ends
from topout.web.jobs.core.leak_hold import NOT_YET
from topout.web.jobs.plan import gaps
from topout.web.jobs.readings.photos import drawn_first
from topout.web.jobs.records import drafts, own
from topout.web.jobs.records.models import VERDICTS, Job, StepEntry
from topout.web.jobs.records.open import job_of, job_or_404, open_job, released
from topout.web.jobs.records.texts import TextNotKept
from topout.web.jobs.steps import lines, lists, owners, page, sheet, sign, written
from topout.web.jobs.steps.addresses import change_of, page_of, place_of
from topout.web.jobs.steps.form import GAUGE, StepForm
from topout.web.jobs.steps.progress import LEFT, Progress, Slot, hour, name, then, walk

_MOST_DRAFT_LETTERS = 80


@require_safe
def steps_of(request: HttpRequest, number: int) -> HttpResponse:
    """Where the job stands: begin, go on at the step that comes next, or all signed."""
    job = job_or_404(number)
    try:
        here = walk(job)
    except TopoutError as reason:
        return _none(request, job, reason)
    if here.begun and here.current is not None:
        return redirect(page_of(request, here, here.at_hand))
    return _overview(request, here)


def _none(request: HttpRequest, job: Job, reason: TopoutError, status: int = 200) -> HttpResponse:
    """No steps, and why; where the text is not kept, an owner may take today's."""
    may_take = isinstance(reason, TextNotKept) and owner(request.user)
    context = {"nav": "bench", "job": job, "reason": str(reason), "may_take": may_take}
    return render(request, "jobs/steps_none.html", context, status=status)


@require_POST
@writes
def take_text(request: HttpRequest, number: int) -> HttpResponse:
    """An owner goes on with today's text where the job's own is not kept."""
    job = open_job(number)
    try:
        owners.take_todays_text(change_of(request), job)
    except sign.Refused as refused:
        try:
            return _refuse(request, walk(job), str(refused))
        except TopoutError:
            return _none(request, job, refused, 409)
    return redirect("steps", number)


def _overview(request: HttpRequest, here: Progress, refused: str = "", status: int = 200) -> HttpResponse:
    variants = [{"variant": each, "on": each.key in here.variants} for each in here.procedure.variants]
    context = {
        "nav": "bench", "job": here.job, "walk": here, "variants": variants, "refused": refused,
        "lines": lines.lines_of(here), "may_switch": owner(request.user),
        "released": released(here.job), "switched_off": None if here.begun else own.off(here.job),
        "faults": [("", refused)] if refused else [],
        "gaps": gaps.of_steps(here.job, here.frozen), "not_in_steps": both_ends.not_in_steps_of(here.frozen, here.procedure),
    }  # fmt: skip
    return render(request, "jobs/steps_overview.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@drawn_first
@writes
def step(request: HttpRequest, number: int, key: str, round_: int = 0) -> HttpResponse:
    """One step. GET shows it, or goes to the one that comes next; POST signs it."""
    job = job_of(request, number)
    try:
        here = walk(job)
    except TopoutError:
        return redirect("steps", number)
    slot = here.slot(key, round_)
    if slot is None:
        return redirect("steps", number)
    if request.method == "POST":
        return _sign(request, here, slot)
    if not here.begun:
        return redirect("steps", number)
    if here.current is not None and here.at(slot) > here.at(here.current) and not here.is_open(slot):
        return redirect(place_of(job, here.current))
    return _show(request, here, slot, _form(here, slot))


def _form(here: Progress, slot: Slot) -> StepForm:
    """The empty form, with what was typed and not sent."""
    kept = drafts.find(here.job, written.draft_place(slot))
    return StepForm(walk=here, slot=slot, initial=kept.fields if kept else {})


def _left_as(here: Progress, slot: Slot) -> str:
    """How the step was gone past, in words that a reason follows; "" where it was not."""
    entry = here.latest.get(slot.key)
    return f"{VERDICTS[entry.verdict].capitalize()}," if entry is not None and entry.verdict in LEFT else ""


def _show(
    request: HttpRequest, here: Progress, slot: Slot, form: StepForm, refused: str = "", status: int = 200
) -> HttpResponse:
    context = page.page(here, slot, form)
    again = "again" in request.GET or request.POST.get("again") == "1"
    context |= {
        "refused": refused, "again": again, "place": place_of(here.job, slot), "photos": page.photos_of(here, slot),
        "now_place": page_of(request, here, here.at_hand), "meanwhile": here.meanwhile,
        "meanwhile_place": page_of(request, here, here.meanwhile),
        "may_leave": slot.step.may_skip and here.is_open(slot) and not here.settled(slot) and not here.failed(slot) and not slot.round,
        "left_as": _left_as(here, slot),
 "before_place": place_of(here.job, context["before"]),
        "faults": [("", refused)] if refused else [],
    }  # fmt: skip
    latest = here.latest.get(slot.key)
    if (
        slot.step.stop is not None
        and here.is_open(slot)
        and here.danger is not None
        and here.danger.point == slot.key
        and latest is not None
        and not again
        and not form.is_bound
    ):
        context |= page.stop_page(here, slot, latest)
        return render(request, "jobs/step_stop.html", context, status=status)
    return render(request, "jobs/step.html", context, status=status)


def _sign(request: HttpRequest, here: Progress, slot: Slot) -> HttpResponse:
    form = StepForm(request.POST, request.FILES, walk=here, slot=slot)
    listed = request.POST.get("list") == "1"
    if not form.is_valid():
        show = lists.show_put if listed else _show
        return show(request, here, slot, form, status=422)
    try:
        seen = int(request.POST.get("seen", "-1"))
    except ValueError:
        seen = -1
    try:
        come_to = here.current is None or here.at(slot) <= here.at(here.current) or here.is_open(slot)
        if come_to and request.POST.get("told_seen", mark := sheet.mark(here, slot)) != mark:
            raise sign.Refused(
                "What this step says was changed since this page was drawn: the maker’s sheet, the Book or a reading was corrected. Look again."
            )
        entry = sign.sign(
            change_of(request), here.job, slot.step.key, form.answers(), seen,
            round_=slot.round, again=request.POST.get("again") == "1", instrument=form.instrument, here=here,
        )  # fmt: skip
    except sign.Refused as refused:
        if listed:
            return lists.show(request, here, here.screen_of(slot), str(refused), 409)
        return _refuse(request, here, str(refused), slot, form)
    after = then(here, entry)
    if listed and (again := after.slot(slot.step.key)) is not None:
        return redirect(lists.after_row(request, after, again))
    return redirect(page_of(request, after, after.at_hand))


def _refuse(
    request: HttpRequest, here: Progress, refused: str, slot: Slot | None = None, form: StepForm | None = None
) -> HttpResponse:
    """409: what was asked can't be done now. Shows where the job stands; what was typed stays where it is the same step."""
    now = here.current
    if not here.begun or now is None:
        return _overview(request, here, refused, 409)
    if slot is not None and form is not None and slot.key == now.key:
        return _show(request, here, slot, form, refused, 409)
    return _show(request, here, now, _form(here, now), refused, 409)


@require_POST
@writes
def go_on(request: HttpRequest, number: int) -> HttpResponse:
    """Begin, or go on after a stop."""
    return _turn(request, number, sign.go_on)


@require_POST
@writes
def stop(request: HttpRequest, number: int) -> HttpResponse:
    """Stop, the unit safe. What stands in the boxes is kept as a draft."""
    return _turn(request, number, sign.stop)


def _turn(request: HttpRequest, number: int, turn: Callable[[ChangeContext, Job, Progress], StepEntry]) -> HttpResponse:
    """Go on or stop, then to the step that it is at."""
    job = open_job(number)
    try:
        here = walk(job)
    except TopoutError:
        return redirect("steps", number)
    try:
        entry = turn(change_of(request), job, here)
    except sign.Refused as refused:
        return _refuse(request, here, str(refused))
    if here.current is not None:
        _keep_draft(change_of(request), here, here.current, request.POST)
    return redirect(page_of(request, here, here.current if entry.verdict == "stopped" else here.at_hand))


@require_POST
@writes
def variant(request: HttpRequest, number: int) -> HttpResponse:
    """An owner switches a named variant on or off."""
    job = open_job(number)
    try:
        owners.switch(change_of(request), job, request.POST.get("variant", ""), request.POST.get("on") == "1")
    except TopoutError as refused:
        status = 403 if not owner(request.user) else 409
        try:
            return _overview(request, walk(job), str(refused), status)
        except TopoutError:
            return _none(request, job, refused, status)
    return redirect(f"{reverse('steps-overview', args=[number])}#variants")


@require_safe
def overview(request: HttpRequest, number: int) -> HttpResponse:
    """Every step of the job in a line, and its variants."""
    job = job_or_404(number)
    try:
        return _overview(request, walk(job))
    except TopoutError:
        return redirect("steps", number)


@require_safe
def standing(request: HttpRequest, number: int) -> JsonResponse:
    """Who signed last, for the page that somebody else has open."""
    job = job_or_404(number)
    try:
        here = walk(job)
    except TopoutError as reason:
        return JsonResponse({"seen": 0, "says": str(reason)})
    last = here.entries[-1] if here.entries else None
    doing = {
        "passed": "signed",
        "failed": "noted",
        "stopped": "stopped at",
        "started": "went on at",
        "struck": "struck",
    }
    doing |= dict.fromkeys(LEFT, "went past") | {NOT_YET: "read"}
    says = "" if last is None else f"{name(last)} {doing[last.verdict]} step {last.step_number} at {hour(last.at)}."
    if here.replanned and here.frozen is not None:
        says = f"{name(here.frozen)} put another plan to use at {hour(here.frozen.at)}."
    return JsonResponse({"seen": here.seen, "says": says, "place": place_of(job, here.current)})


@require_POST
def draft(request: HttpRequest, number: int, key: str, round_: int = 0) -> HttpResponse:
    """Keep what is typed and not yet sent, and say what is understood of it. A draft needs no key: the last one stands."""
    with drafts.typing(request) as doing:
        job = open_job(number)
        try:
            here = walk(job)
        except TopoutError:
            return HttpResponse(status=409)
        slot = here.slot(key, round_)
        if doing is None:
            return HttpResponse(status=204)
        if slot is None or here.current is None or here.at(slot) > here.at(here.current) and not here.is_open(slot):
            return HttpResponse(status=409)
        _keep_draft(doing, here, slot, request.POST)
    return JsonResponse(page.live(here, slot, StepForm(request.POST, walk=here, slot=slot)))


def _keep_draft(doing: ChangeContext, here: Progress, slot: Slot, sent: Mapping[str, Any]) -> None:
    known = {each.key for each in slot.step.evidence} | {f"card-{each.key}" for each in slot.step.evidence} | {GAUGE}
    if known.isdisjoint(sent):  # sent from a page that shows none of its boxes
        return
    fields = drafts.typed(sent, dict.fromkeys(sorted(known), _MOST_DRAFT_LETTERS))
    drafts.keep(doing, here.job, written.draft_place(slot), fields)
