"""The page of what to fit: the answer first, then every way with what it changes and gives up, and what was left out.

Looking changes nothing: the address holds the question, the plan's boxes as they were set. A way leads to the plan page, its
boxes filled in; using it is that page's, and goes through the one guarded door.
"""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from topout import units
from topout.errors import FaultsFound
from topout.units import UnitFault
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.fields import TwoWays, with_point
from topout.web.jobs import core
from topout.web.jobs.core import lacks
from topout.web.jobs.core import wanted as near_to
from topout.web.jobs.core.ways import Way, Ways, looked_at, ways
from topout.web.jobs.options import map as small_map
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.plan.boxes import Boxes
from topout.web.jobs.plan.gaps import not_begun
from topout.web.jobs.records import drafts
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.open import job_of

SORTS: Final = {"stance": "how it sits", "spring": "how it springs", "cost": "cost", "days": "days"}
ONLY: Final = {"": "all", "here": "nothing to wait for", "none": "no part"}
USUALLY_FREE: Final = (
    "pressure",
    "spacers",
    "shock_pressure",
    "shock_spacers",
    "shock_preload",
)  # of what the plan sets, until somebody says what is to stay
ENDS: Final = {"": "what is asked", "front": "fork", "rear": "shock", "both": "both together"}
SHOWN: Final = 12
OFFSET_MM: Final = (-50.0, 150.0)


@require_safe
def options(request: HttpRequest, number: int) -> HttpResponse:
    """Every way to what is asked for; `way` is the one looked at."""
    job = job_of(request, number)
    fitted = core.tables(job, {})
    if later := not_begun(job, fitted):
        return render(request, "jobs/plan_later.html", {"nav": "bench", "job": job, **later})
    asked = _asked(request, job, fitted)
    named = [box for box in asked.boxes if plan_boxes.is_asked(box) and box.text.strip()]
    said = request.GET.getlist("free")
    free = {box.name for box in named if box.name in (said if "looked" in request.GET else USUALLY_FREE)}
    question = plan_boxes.draw(fitted, {}, {box.name: box.text for box in asked.boxes if box.name not in free})
    faults = list(question.faults)
    offset, offset_m = request.GET.get("offset_too", "")[:40].replace("\0", ""), None
    if offset.strip():
        offset_m, wrong = _offset(offset)
        faults += [("offset_too", wrong)] if wrong else []
    end = request.GET.get("end", "")
    end = end if end in ENDS else ""
    near, wrong_near = near_to.read(request.GET)
    faults += wrong_near
    found = None
    if question.file is not None and not faults:
        try:
            looked = looked_at(job, question.file, end, near)
            found = ways(question.file, looked, near, [] if offset_m is None else [offset_m])
        except FaultsFound as lacking:
            faults += [("", words) for words in lacks.said(lacking.faults)]
    context = {
        "nav": "bench", "job": job, "asked": [(box, box.name in free) for box in named], "held": [box for box in named if box.name not in free], "faults": faults, "offset_fault": dict(faults).get("offset_too", ""), "found": found,
        "here": reverse("options", args=[job.number]), "boxes": asked, "offset_too": offset,
        "length": preferences.unit("length", "mm"), "sorts": SORTS if near == near_to.NOTHING else SORTS | {"stance": "what is wanted"}, "only": ONLY,
        "ends": ENDS if asked.both else {}, "end": end, "wanted": near_to.boxes(request.GET, asked.forked, asked.behind, dict(wrong_near)), "is_wanted": near != near_to.NOTHING,
    }  # fmt: skip
    if found is not None:
        context |= _shown(request, job, found, fitted, asked, free, offset)
    return render(request, "jobs/options.html", context, status=422 if faults else 200)


def _asked(request: HttpRequest, job: Job, fitted: bench_tables.Tables) -> Boxes:
    """What is asked for: the boxes that were sent along, else the plan that is worked out, else the one in use."""
    sent = plan_boxes.sent_boxes(request.GET)
    if sent is not None:
        return plan_boxes.draw(fitted, {}, sent)
    draft = drafts.find(job, core.PLAN_DRAFT)
    if draft is not None:
        return plan_boxes.draw(fitted, {}, draft.fields)
    return plan_boxes.draw(fitted, core.change_of(job))


def _offset(text: str) -> tuple[float | None, str]:
    """An offset to try too, and what is wrong with it."""
    unit = preferences.unit("length", "mm")
    try:
        typed = units.parse(with_point(text), "length", unit)
    except (UnitFault, TwoWays) as fault:
        return None, f"Offset to try too, “{text}”: {fault}"
    low, high = (units.to_si(mm, "mm", "length") for mm in OFFSET_MM)
    if not low <= typed.value_si <= high:
        return None, f"Offset to try too, “{text}”: an offset is −50 to 150 mm."
    return typed.value_si, ""


def _shown(
    request: HttpRequest, job: Job, found: Ways, fitted: bench_tables.Tables, asked: Boxes, free: set[str], offset: str
) -> dict[str, Any]:
    """The ways that are shown, in the order and choice that the address asks for, and the one looked at."""
    sort = request.GET.get("sort", "")
    only = request.GET.get("only", "")
    sort, only = sort if sort in SORTS else "stance", only if only in ONLY else ""
    kept = [way for way in found.ways if _kept(way, only)]
    kept.sort(key=lambda way: (way.order[sort], way.number))
    everything = bool(request.GET.get("all"))
    shown = kept if everything else kept[:SHOWN]
    numbers = {str(way.number): way for way in shown}
    chosen = numbers.get(request.GET.get("way", ""), shown[0] if shown else None)
    sent = {box.name: box.text for box in asked.boxes}
    question = [*sent.items(), ("looked", "1"), *(("free", name) for name in sorted(free)), ("offset_too", offset)]
    question += [(name, request.GET[name][:40]) for name in ("end", *near_to.NAMES) if request.GET.get(name)]
    base = urlencode([*question, ("sort", sort), ("only", only), *([("all", "1")] if everything else [])])
    return {
        "ways": [(way, _plan_address(job, way, fitted)) for way in shown], "chosen": chosen, "base": base, "sort": sort,
        "only_now": only, "hidden": len(kept) - len(shown), "map": small_map.drawn(shown), "sent": sent,
    }  # fmt: skip


def _kept(way: Way, only: str) -> bool:
    return only == "" or (way.here if only == "here" else way.here and not way.parts)


def _plan_address(job: Job, way: Way, fitted: bench_tables.Tables) -> str:
    """The plan page with this way in its boxes."""
    return f"{reverse('plan', args=[job.number])}?{plan_boxes.draw(fitted, way.change).query()}"
