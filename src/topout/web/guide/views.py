"""The guide in the workshop: the list of its pages, a page, and which page explains which."""

from __future__ import annotations

from typing import Any, Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from topout.web.guide import pages

# Page of the workshop (name of its address) → page of the guide, and the heading that explains it.
EXPLAINS: Final = {
    "bench": ("take-in", ""),
    "job-new": ("take-in", "take-a-job-in"),
    "job-change": ("take-in", "take-a-job-in"),
    "job": ("take-in", "when-it-waits"),
    "job-waits": ("take-in", "when-it-waits"),
    "readings": ("take-in", "as-found"),
    "correct": ("when", ""),
    "plan": ("plan", "work-it-out"),
    "steps-overview": ("steps", ""),
    "hand-over": ("hand-over", "hand-over"),
    "hand-over-check": ("hand-over", "hand-over"),
    "papers": ("hand-over", "the-sheet-and-the-tag"),
    "book": ("book-and-shelf", "the-book"),
    "rider": ("book-and-shelf", "the-book"),
    "bike": ("book-and-shelf", "the-book"),
    "unit": ("book-and-shelf", "the-book"),
    "family-service": ("book-and-shelf", "the-book"),
    "shelf": ("book-and-shelf", "the-shelf"),
    "instruments": ("book-and-shelf", "instruments"),
    "instrument-new": ("book-and-shelf", "instruments"),
    "workshop": ("settings", ""),
    "accounts": ("first-hour", ""),
    "health": ("safe", ""),
}


def for_templates(request: HttpRequest) -> dict[str, Any]:
    """`{{ explained_in }}`: the address in the guide that explains this page, empty where none does."""
    match = request.resolver_match
    name, place = EXPLAINS.get(match.url_name or "", ("", "")) if match else ("", "")
    return {"explained_in": f"/guide/{name}/" + (f"#{place}" if place else "") if name else ""}


@require_safe
def contents(request: HttpRequest) -> HttpResponse:
    """The list of the pages."""
    return render(request, "guide/contents.html", {"nav": "guide", "pages": [pages.page(name) for name in pages.ORDER]})


@require_safe
def page(request: HttpRequest, name: str) -> HttpResponse:
    """One page, with the one before and the one after."""
    try:
        found = pages.page(name)
    except KeyError:
        raise Http404 from None
    place = pages.ORDER.index(name)
    near = {
        "before": pages.page(pages.ORDER[place - 1]) if place else None,
        "after": pages.page(pages.ORDER[place + 1]) if place + 1 < len(pages.ORDER) else None,
    }
    return render(request, "guide/page.html", {"nav": "guide", "page": found, **near})
