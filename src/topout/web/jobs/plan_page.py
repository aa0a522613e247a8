"""The plan page: what is set on the left, what it does on the right; answered without a page load, or with one.

A move is a GET and changes nothing; the address holds the boxes, so a page that is loaded again says the same. Using
the plan is a POST that freezes it, and only the plan whose answer was on the page: the form carries what was answered.
"""

from __future__ import annotations

import hashlib
from typing import Any, Final
from urllib.parse import parse_qsl

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from topout.errors import FaultsFound
from topout.web.access.change import writes
from topout.web.access.gate import person
from topout.web.book.tables import Tables
from topout.web.jobs import bridge, plan_boxes
from topout.web.jobs.models import Job
from topout.web.jobs.plan_answer import Answer, answer
from topout.web.jobs.plan_boxes import Boxes

ANSWERED: Final = "answered"  # hidden field: the boxes of the answer that is on the page, as a query
WIDTH, SAID = "width", "said"  # hidden fields the script fills: room for pictures; mark of the warnings on the page
OLD_ANSWER: Final = "The boxes were changed after this answer was worked out. Look at it, then use it."
RELEASED: Final = "This job is handed over. Its plan stays as it is."


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def plan(request: HttpRequest, number: int) -> HttpResponse:
    """The page, a part of it (htmx), or the plan put to use."""
    job = get_object_or_404(Job.objects.select_related("rider", "bike", "unit"), number=number)
    fitted = bridge.tables(job, {})
    asked = bridge.change_of(job)
    data = request.POST if request.method == "POST" else request.GET
    boxes = plan_boxes.draw(fitted, asked, plan_boxes.sent_boxes(data))
    seen = _answered(data, fitted, asked)
    if request.method == "POST":
        refused = _refusal(job, boxes, seen)
        if refused is None:
            frozen = bridge.freeze(request.change, job, boxes.change)  # type: ignore[attr-defined]
            messages.success(request, f"The plan is in use. {frozen.sentence}")
            return redirect("job", number=job.number)
        if refused:
            boxes.others.append(refused)
    return _page(request, job, boxes, seen)


def _answered(data: Any, fitted: Tables, asked: Tables) -> Boxes | None:
    """The boxes whose answer is on the page of this request."""
    query = str(data.get(ANSWERED, ""))[:4000]
    sent = plan_boxes.sent_boxes(dict(parse_qsl(query, keep_blank_values=True)))
    return plan_boxes.draw(fitted, asked, sent) if sent else None


def _refusal(job: Job, boxes: Boxes, seen: Boxes | None) -> str | None:
    """Why a plan is not put to use: a sentence, "" where the boxes say it, None where nothing is in the way."""
    if job.releases.exists():
        return RELEASED
    if boxes.file is None:
        return ""
    if seen is None or not plan_boxes.same_change(boxes, seen.boxes):
        return OLD_ANSWER
    return None


def _page(request: HttpRequest, job: Job, boxes: Boxes, seen: Boxes | None) -> HttpResponse:
    part = bool(getattr(request, "htmx", False))
    width = _width(request) if part else None
    good, current = _answer(boxes, width), True
    answered = boxes
    if good is None:
        current = False
        for last in (seen, plan_boxes.draw(bridge.tables(job, {}), bridge.change_of(job))):
            good = _answer(last, width) if last is not None else None
            if good is not None:
                answered = last  # type: ignore[assignment]
                break
    warned = "\n".join(f"{w.name}{w.text}" for w in good.warnings) if good else ""
    said = hashlib.sha256(warned.encode()).hexdigest()[:12]
    frozen = bridge.current_plan(job)
    context = {
        "job": job, "boxes": boxes, "faults": boxes.faults, "answer": good, "current": current, "nav": "bench",
        "answered": answered.query() if good else "", "said": said, "part": part,
        "said_before": request.GET.get(SAID) == said, "frozen": frozen, "frozen_by": person(frozen.who) if frozen else "",
        "here": reverse("plan", args=[job.number]), "released": job.releases.exists(),
        "keep_links": {row.key: boxes.query(pressure=row.set_to) for row in good.keeps} if good else {},
    }  # fmt: skip
    refused = request.method == "POST"
    return render(request, "jobs/plan_part.html" if part else "jobs/plan.html", context, status=422 if refused else 200)


def _answer(boxes: Boxes, width: int | None) -> Answer | None:
    """The answer, None where a box is at fault; a sag that can't have been found is one too, named in the summary."""
    if boxes.file is None:
        return None
    try:
        return answer(boxes.file, boxes.box("pressure").unit, width)
    except FaultsFound as found:
        boxes.others += [str(fault) for fault in found.faults]
        return None


def _width(request: HttpRequest) -> int | None:
    text = request.GET.get(WIDTH, "")
    return int(text) if text.isdecimal() and len(text) < 6 else None
