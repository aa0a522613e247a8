"""The find box's answers: a page without script, and the list under the box while one types."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from topout.web.jobs.search.find import MOST, Found, find
from topout.web.jobs.search.fold import cleaned
from topout.web.jobs.search.lines import lines

FEWEST = 2  # letters; one would find half the Book


def answered(typed: str) -> dict[str, object]:
    """What page and list show of an answer."""
    text = cleaned(typed)
    found = find(text) if len(text) >= FEWEST or text.isdigit() else Found((), False, ())
    return {"q": text, "lines": lines(found), "units": [hit.unit for hit in found.hits], "says": _says(text, found)}


def _says(text: str, found: Found) -> str:
    count = len(found.hits)
    if not text:
        return "A name, the end of a telephone number, a tag, a serial number, a job, or a word of a note."
    if len(text) < FEWEST and not text.isdigit():
        return "One letter more."
    if not count:
        return f"Nothing here holds “{text}”."
    if found.more:
        return f"The latest {MOST}; there are more. A letter more tells them apart."
    return f"{count} found, the latest first." if count > 1 else "One found."


@require_safe
def find_page(request: HttpRequest) -> HttpResponse:
    """The list for the box, where its script asks for it; else the whole page."""
    context = {"nav": "", "taking": request.GET.get("for") == "take-in", **answered(request.GET.get("q", ""))}
    return render(request, "search/list.html" if request.htmx else "search/find.html", context)  # type: ignore[attr-defined]
