"""The guide in the workshop: the list of its pages, a page, and which page explains which."""

from __future__ import annotations

from typing import Any, Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from topout.web.guide import pages

# Room of the workshop → page of the guide and the heading there that explain its pages. A new page of a room is explained
# without a line here.
ROOMS: Final = {
    "topout.web.access": ("first-hour", "accounts"),
    "topout.web.backup": ("safe", "copies"),
    "topout.web.book": ("book-and-shelf", "the-book"),
    "topout.web.shelf": ("book-and-shelf", "the-shelf"),
    "topout.web.workshop": ("settings", "the-workshop-page"),
    "topout.web.export": ("safe", "take-it-all-out-bring-riders-in"),
    "topout.web.jobs.desk": ("take-in", ""),
    "topout.web.jobs.options": ("options", ""),
    "topout.web.jobs.plan": ("plan", "work-it-out"),
    "topout.web.jobs.readings": ("take-in", "as-found"),
    "topout.web.jobs.release": ("hand-over", "hand-over"),
    "topout.web.jobs.search": ("book-and-shelf", "find-it-again"),
    "topout.web.jobs.steps": ("steps", ""),
}
# The same by the name of an address, where one page of a room is explained elsewhere.
EXPLAINS: Final = {
    "job-new": ("take-in", "take-a-job-in"),
    "job-change": ("take-in", "take-a-job-in"),
    "job-waits": ("take-in", "when-it-waits"),
    "correct": ("when", ""),
    "questions": ("plan", "ask-more"),
    "far-in": ("plan", "read-it-far-in"),
    "far-in-earlier": ("plan", "read-it-far-in"),
    "papers": ("hand-over", "the-sheet-and-the-tag"),
    "job-tag": ("hand-over", "the-sheet-and-the-tag"),
    "held": ("hand-over", "the-sheet-and-the-tag"),
    "instruments": ("book-and-shelf", "instruments"),
    "instrument-new": ("book-and-shelf", "instruments"),
    "health": ("safe", ""),
    "set-up": ("book-and-shelf", "what-pressure-for-me"),
    "own-procedures": ("procedures", ""),
    "own-procedures-folder": ("procedures", "check-it-and-give-it-to-the-workshop"),
    "own-procedure": ("procedures", "versions"),
    "own-procedure-new": ("procedures", "write-it"),
}


def explained_in(name: str, module: str) -> str:
    """The address in the guide that explains a page: by its address's name, else by the room of its view; "" where none does."""
    rooms = [room for room in ROOMS if module == room or module.startswith(f"{room}.")]
    found = EXPLAINS.get(name) or (ROOMS[rooms[0]] if rooms else None)
    if found is None:
        return ""
    page_, place = found
    return f"/guide/{page_}/" + (f"#{place}" if place else "")


def for_templates(request: HttpRequest) -> dict[str, Any]:
    """`{{ explained_in }}`: the address in the guide that explains this page, empty where none does."""
    match = request.resolver_match
    return {"explained_in": explained_in(match.url_name or "", match.func.__module__) if match else ""}


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
