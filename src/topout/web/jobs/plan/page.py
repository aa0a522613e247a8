"""The plan page: what is set on the left, what it does on the right; answered without a page load, or with one.

A move is a GET and changes nothing; the address holds the boxes, so a page that is loaded again says the same. Using
the plan is a POST that freezes it, and only the plan whose answer was on the page: the form carries what was answered.
What is set and not yet used is sent after its answer, as a draft, and stands there again without the address.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, Final
from urllib.parse import parse_qsl

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST
from django_htmx.http import trigger_client_event

from topout.errors import FaultsFound
from topout.web.access.change import writes
from topout.web.access.gate import owner
from topout.web.book import tables as bench_tables
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.core import both_ends, figures, refusals, steps
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.core.figures import MOVING
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.plan import rests, shelf, step_links
from topout.web.jobs.plan.answer import Answer, answer
from topout.web.jobs.plan.boxes import Boxes
from topout.web.jobs.plan.gaps import box_of_shock, gaps, hardtail_box, not_begun
from topout.web.jobs.plan.keeps import KeepRow
from topout.web.jobs.plan.read_there import read_there
from topout.web.jobs.plan.words import Said
from topout.web.jobs.records import drafts
from topout.web.jobs.records.models import Draft, Job
from topout.web.jobs.records.open import job_of, open_job, released
from topout.web.jobs.records.plans import current_plan

ANSWERED: Final = "answered"  # hidden field: the boxes of the answer that is on the page, as a query
WIDTH, SAID = "width", "said"  # hidden fields the script fills: room for pictures; mark of the warnings on the page
IN_USE: Final = "in_use"  # hidden field: the sequence of the plan in use when the page was drawn, 0 for none
FROM: Final = "worked_from"  # hidden field: stands for the bike with what was found and asked that the answer on the page was worked out from
AT_REST: Final = "rest"  # sent once the moves pause, where a move's answer was told from fewer draws
PARTS: Final = ("force", "behind", "keeps", "stance", "table")  # right of the margin line, top to bottom
OLD_ANSWER: Final = "The boxes were changed after this answer was worked out. Look at it, then use it."
OLD_BIKE: Final = "The Book or a reading was changed after this answer was worked out. Look at it, then use it."
REASON, REASON_FOR = "reason", "reason_for"  # what an owner signs, and the mark of what it is signed for
REASON_LETTERS: Final = 500
NOT_IN_THE_STEPS: Final = "Not in the steps"
ASK_OWNER: Final = "Ask an owner of the workshop: an owner may use it with a signed reason."


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def plan(request: HttpRequest, number: int) -> HttpResponse:
    """The page, a part of it (htmx), or the plan put to use."""
    job = job_of(request, number)
    fitted = core.tables(job, {})
    if later := not_begun(job, fitted):
        status = 409 if request.method == "POST" else 200
        return render(request, "jobs/plan_later.html", {"nav": "bench", "job": job, **later}, status=status)
    data = request.POST if request.method == "POST" else request.GET
    sent = shelf.taken(str(request.GET.get(shelf.FIT, "")), plan_boxes.sent_boxes(data))
    # A move of the page sends every box; the draft, else the records, count only where one is left out.
    moved = sent is not None and bool(request.GET.get(WIDTH))
    draft = None if moved or request.method == "POST" else drafts.find(job, core.PLAN_DRAFT)
    asked = {} if moved or draft is not None else core.change_of(job)
    if draft is not None:
        sent = draft.fields | (sent or {})
    boxes = plan_boxes.draw(fitted, asked, sent)
    if request.method == "POST":
        refused = _refusal(
            job, boxes, _answered(data, fitted, asked), str(data.get(IN_USE, "")), str(data.get(FROM, ""))
        )
        if refused:
            boxes.others.append(refused)
        if refused is None and boxes.file is not None:
            reason, reason_for = (str(data.get(name, ""))[:REASON_LETTERS] for name in (REASON, REASON_FOR))
            try:
                frozen = refusals.use(request.change, job, boxes.file, boxes.change, reason, reason_for)  # type: ignore[attr-defined]
            except refusals.Refused as no:
                return _not_used(request, job, boxes, fitted, no)
            messages.success(request, f"The plan is in use. {core.sentence_of(frozen)}")
            return redirect("job", number=job.number)
    if getattr(request, "htmx", False) and sent is not None:
        return _part(request, job, boxes, fitted)
    return _whole(request, job, boxes, fitted, draft)


@require_POST
def keep_draft(request: HttpRequest, number: int) -> HttpResponse:
    """Keep what is set and not yet used, or set the boxes back. What is in use, or as found, is no draft."""
    with drafts.typing(request) as doing:
        job = open_job(number)
        if request.POST.get("empty"):
            drafts.gone(job, core.PLAN_DRAFT)
            return redirect("plan", number)
        if doing is None:
            return HttpResponse(status=204)
        sent = plan_boxes.sent_boxes(request.POST)
        fields = plan_boxes.draft_of(sent, core.tables(job, {}), core.change_of(job)) if sent else {}
        kept = drafts.keep(doing, job, core.PLAN_DRAFT, fields)
    says = f"Kept as a draft at {timezone.localtime(kept.at):%H:%M}. It is not used yet." if kept else ""
    return JsonResponse({"says": says})


def _answered(data: Any, fitted: Tables, asked: Tables) -> Boxes | None:
    """The boxes whose answer is on the page of this request."""
    query = str(data.get(ANSWERED, ""))[:4000]
    sent = plan_boxes.sent_boxes(dict(parse_qsl(query, keep_blank_values=True)))
    return plan_boxes.draw(fitted, asked, sent) if sent else None


def _mark(boxes: Boxes | None) -> str:
    """Stands for everything that an answer is worked out from: the boxes, the Book, what was read."""
    return "" if boxes is None or boxes.file is None else hashlib.sha256(repr(boxes.file).encode()).hexdigest()[:16]


def _refusal(job: Job, boxes: Boxes, seen: Boxes | None, in_use: str, worked_from: str) -> str | None:
    """Why a plan is not put to use: a sentence, "" where the boxes say it, None where nothing is in the way.

    `in_use` is the plan that the page was drawn beside: two people at one job put none of theirs over the other's unseen.
    """
    if boxes.file is None:
        return ""
    now = current_plan(job)
    if now is not None and in_use and in_use != str(now.sequence):
        at = timezone.localtime(now.at)
        return f"Since this page was drawn, {now.who_name} put a plan to use at {at:%H:%M}: {now.sentence} Look at it, then use this one."
    if seen is None or not plan_boxes.same_change(boxes, seen.boxes):
        return OLD_ANSWER
    return OLD_BIKE if worked_from and worked_from != _mark(boxes) else None


def _not_used(request: HttpRequest, job: Job, boxes: Boxes, fitted: Tables, no: refusals.Refused) -> HttpResponse:
    """The page with what speaks against the plan; an owner gets a box for a reason, a technician is told to ask one."""
    boxes.others += no.against
    may = no.ask_owner and owner(request.user)
    if no.ask_owner and not may:
        boxes.others.append(ASK_OWNER)
    typed = str(request.POST.get(REASON, ""))[:REASON_LETTERS]
    more = {"reason_for": refusals.mark(no.against), "reason": typed} if may else {}
    return _whole(request, job, boxes, fitted, None, more)


def _whole(
    request: HttpRequest,
    job: Job,
    boxes: Boxes,
    fitted: Tables,
    draft: Draft | None,
    more: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """The whole page, its pictures at three sizes."""
    frozen = current_plan(job)
    context = _context(request, job, boxes, fitted, None) | {
        "nav": "bench", "lying": shelf.lying(boxes.file, job) if boxes.forked else [], "frozen": frozen, "frozen_by": frozen.who_name if frozen else "",
        "released": released(job), "draft": draft, "draft_place": reverse("plan-draft", args=[job.number]),
        **(more or {}),
    }  # fmt: skip
    return render(request, "jobs/plan.html", context, status=422 if request.method == "POST" else 200)


def _part(request: HttpRequest, job: Job, boxes: Boxes, fitted: Tables) -> HttpResponse:
    """What a move changes: one answer, its pictures at the size of the page, and the address that says the same.

    The script names the `parts` that the screen shows and asks for the others once the moves pause.
    """
    asked = request.GET.get("parts")
    had = [part for part in PARTS if part != "behind" or boxes.behind]
    wanted = [part for part in had if asked is None or part in asked.split()]
    draws = MOVING if request.GET.get(AT_REST) is None else figures.AT_REST
    context = _context(request, job, boxes, fitted, _width(request), draws) | {"wanted": wanted}
    response = render(request, "jobs/plan_part.html", context)
    beside = {
        "echoes": {box.name: box.echo for box in boxes.boxes}, "faults": {box.name: box.fault for box in boxes.boxes},
        "address": f"{context['here']}?{context['answered'] if context['current'] else boxes.query()}", "hidden": {ANSWERED: context["answered"], SAID: context["said"], FROM: context["worked_from"]},
        "heading": context["answer"].heading if context["answer"] else "Plan",
        "moving": bool(context["answer"] and context["answer"].open and draws == MOVING),
        "title": f"{'Error: ' if boxes.faults else ''}Plan, job {job.number} – Topout",
    }  # fmt: skip
    return trigger_client_event(response, "topout:boxes", beside)


def _context(
    request: HttpRequest, job: Job, boxes: Boxes, fitted: Tables, width: int | None, draws: int = figures.AT_REST
) -> dict[str, Any]:
    """What both templates need. Where the boxes are at fault the last answer stands, and is called that."""
    answered: Boxes | None = boxes
    mark_pa, end = steps.found_mark_pa(job), core.end_of(job)
    found = _answer(boxes, width, draws, mark_pa, end)
    if found is None:
        data = request.POST if request.method == "POST" else request.GET
        for last in (_answered(data, fitted, {}), plan_boxes.draw(fitted, core.change_of(job))):
            found, answered = (_answer(last, width, draws, mark_pa, end) if last is not None else None), last
            if found is not None:
                break
    warnings = []
    if found and answered and answered.file:
        warnings = step_links.named(job, answered.file, found.changed, found.warnings)
        warnings += [
            Said(NOT_IN_THE_STEPS, text) for text in both_ends.not_in_steps_of_draft(job, answered.file, found.told)
        ]
    missed = gaps(job, found.told) if found else []
    guesses = rests.guessed(job)
    taken = found.taken if found else ([], "")
    warned = "\n".join(f"{w.name}{w.text}{w.step}{w.address}" for w in warnings) + repr((missed, guesses, taken))
    said = hashlib.sha256(warned.encode()).hexdigest()[:12]
    asked: dict[str, Callable[[], Any]] = {  # worked out where a template asks, once
        "read_front": lambda: found and end == "front" and found.file.found is not None and not released(job) and not ahead.barred(job),
        "read_behind": lambda: found and end == "rear" and _by_gauge(found) and not released(job) and not ahead.why_not(job),
        "there_front": lambda: read_there(job, found.open.firm) if found and end == "rear" and found.open else None,
        "there_behind": lambda: read_there(job, found.behind.firm) if found and end == "front" and found.behind else None,
        "starts_from": lambda: [rests.from_job(job, each) for each in rests.starts_from(job)],
        "rests": lambda: rests.rests_on(job),
        "rear_sag_box": lambda: hardtail_box(job, found.told) if found else "",
        "keeps": lambda: [_keep(row, boxes) for row in found.keeps] if found else [],
        "rear_keeps": lambda: [(one, *_set(boxes, one.set_to, one.box)) for one in found.behind.keeps] if found and found.behind else [],
        "rear_open_keeps": lambda: [(one, *_set(boxes, one.set_to, box), box) for one, box in found.behind.open_keeps] if found and found.behind else [],
        "write_it": lambda: box_of_shock(job, found.behind.firm.reading) if found and found.behind and found.behind.firm else "",
        "open_keeps": lambda: [(one, *_set(boxes, one.set_to)) for one in found.open.keeps] if found and found.open else [],
    }  # fmt: skip
    return {name: cache(ask) for name, ask in asked.items()} | {
        "noun": ahead.noun(job), "end": boxes.end_at_fault or end,
        "job": job, "boxes": boxes, "faults": boxes.faults, "answer": found, "current": answered is boxes,
        "warnings": warnings, "guessed": guesses, "taken_dangers": taken[0], "taken": taken[1], "gaps": missed, "answered": answered.query() if found and answered else "", "worked_from": _mark(answered) if found else "", "said": said,
        "said_before": request.GET.get(SAID) == said, "here": reverse("plan", args=[job.number]),
    }  # fmt: skip


def _by_gauge(of: Answer) -> bool:
    """Whether what is open of the shock's end is settled by its gauge, held in."""
    firm = of.behind.firm if of.behind is not None else None
    return firm is not None and firm.reading is not None and firm.reading.kind == "gauge"


def _keep(row: KeepRow, boxes: Boxes) -> tuple[KeepRow, str, str]:
    """A keep's row, what its button puts into the box, and the address that says so."""
    return row, *_set(boxes, row.set_to)


def _set(boxes: Boxes, figure: str, name: str = "pressure") -> tuple[str, str]:
    """A figure as its box takes it, and the address that asks for it."""
    if not figure:
        return "", ""
    box = boxes.box(name)
    text = figure if box.typed_unit == box.unit else f"{figure} {box.typed_unit}"
    return text, boxes.query(**{name: text})


def _answer(boxes: Boxes, width: int | None, draws: int, mark_pa: float | None, end: core.End) -> Answer | None:
    """The answer, None where a box is at fault; a sag that can't have been found is one too, named in the summary."""
    if boxes.file is None:
        return None
    try:
        return answer(boxes.file, boxes.pressure_unit, width, draws, mark_pa, end, boxes.unit_of("shock_pressure"))
    except FaultsFound as found:
        boxes.others += [bench_tables.fault_in_words(fault) for fault in found.faults]
        return None


def _width(request: HttpRequest) -> int | None:
    text = request.GET.get(WIDTH, "")
    return int(text) if text.isdecimal() and len(text) < 6 else None
