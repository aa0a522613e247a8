"""What was typed stands there still when it could not be stored: a page that says why, with every box as it was sent.

One page for every writing address. Its boxes carry the names and the key of the form that was sent, so sending it again is
sending that form again: once stored, it is stored once. Labels are taken from the form's own page where that can be drawn.
"""

from __future__ import annotations

import copy
import logging
from collections.abc import Callable
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote, urlsplit

from django.db import connection
from django.http import HttpRequest, HttpResponse, QueryDict
from django.template.loader import render_to_string
from django.urls import resolve

from topout.web.storage import Trouble, trouble

logger = logging.getLogger(__name__)
_TOKEN = "csrfmiddlewaretoken"
_HIDDEN = ("change_key", "drawn_in", _TOKEN, "next", "seen")  # known where the form's page can't be drawn
_SECRET = ("password",)
_A_LINE = 30  # letters that a box of one line shows on a phone


@dataclass(frozen=True)
class Box:
    """One box as it was sent: how it is drawn, and the words beside it."""

    name: str
    value: str
    kind: str  # hidden, text, lines, tick, picked, secret, file
    label: str
    shown: str = ""  # the words of an answer that was picked


class Stored:
    """Innermost middleware: a view that failed for want of storage is answered with what was typed, not with a fault."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        found = trouble(exception)
        return None if found is None else not_stored(request, found)


def not_stored(request: HttpRequest, why: Trouble) -> HttpResponse:
    """503 that says what stands in the way, with the form as it was sent."""
    logger.error("%s %s: not stored. %s", request.method, request.path, why.words)
    boxes: list[Box] = []
    if request.method == "POST":
        try:
            boxes = _boxes(request)
        except Exception:  # what was sent could not even be read: the sentence alone is left
            logger.exception("%s: what was sent could not be read", request.path)
    context = {"words": why.words, "way": why.way(), "boxes": boxes, "action": request.get_full_path(),
               "typed": [box for box in boxes if box.kind != "hidden"],
               "files": any(box.kind == "file" for box in boxes)}  # fmt: skip
    # What a page says that holds the form and sends it again by itself; a header takes plain letters alone.
    headers = {"Retry-After": "10", "X-Not-Stored": quote(why.words)}
    return HttpResponse(render_to_string("unsaved.html", context), status=503, headers=headers)


def _boxes(request: HttpRequest) -> list[Box]:
    drawn = _form_page(request)
    boxes = []
    for name in request.POST:
        for value in request.POST.getlist(name):
            kind = drawn.kinds.get(name, "hidden" if name in _HIDDEN else "text")
            if any(word in name for word in _SECRET):
                kind, value = "secret", ""
            elif kind == "file":
                continue  # an empty box of photos comes among the words
            elif not value and kind != "tick":
                kind = "hidden"  # what was left empty is sent again, and stands in nobody's way
            elif kind == "text" and ("\n" in value or len(value) > _A_LINE):
                kind = "lines"
            boxes.append(Box(name, value, kind, drawn.label(name), drawn.answer(name, value)))
    boxes += [Box(name, "", "file", drawn.label(name)) for name in request.FILES]
    return boxes


class _FormPage(HTMLParser):
    """The labels and kinds of a page's boxes, by name; of answers to pick from, the words of the question and of each answer."""

    def __init__(self) -> None:
        super().__init__()
        self.kinds: dict[str, str] = {}
        self._ids: dict[str, str] = {}
        self._labels: dict[str, str] = {}
        self._for: str | None = None
        self._answers: dict[tuple[str, str], str] = {}
        self._legend = ""
        self._in_legend = False
        self._asked: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name = found.get("name")
        if tag == "label":
            self._for = found.get("for")
        elif tag in ("fieldset", "legend"):
            self._legend, self._in_legend = "", tag == "legend"
        elif name and tag in ("input", "select", "textarea"):
            kind = found.get("type") or "text"
            kinds = {
                "hidden": "hidden",
                "checkbox": "tick",
                "radio": "picked",
                "password": "secret",
                "file": "file",
                "submit": "hidden",
            }
            self.kinds[name] = "lines" if tag == "textarea" else kinds.get(kind, "text")
            self._ids.setdefault(name, found.get("id") or "")
            if kind == "radio":
                self._answers[name, found.get("value") or ""] = found.get("id") or ""
                self._asked[name] = self._legend
        elif name and tag == "button":
            self.kinds[name] = "hidden"

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._for = None
        elif tag == "legend":
            self._in_legend = False

    def handle_data(self, data: str) -> None:
        if self._in_legend:
            self._legend = f"{self._legend} {data}".strip()
        if self._for:
            self._labels[self._for] = f"{self._labels.get(self._for, '')} {data}".strip()

    def label(self, name: str) -> str:
        asked = self._asked.get(name)
        return (
            asked or self._labels.get(self._ids.get(name, "")) or name.replace("-", " ").replace("_", " ").capitalize()
        )

    def answer(self, name: str, value: str) -> str:
        """The words of the answer that was picked; the value itself where the page does not say."""
        return self._labels.get(self._answers.get((name, value), "")) or value


def _form_page(request: HttpRequest) -> _FormPage:
    """The page that the form stood on, drawn once more for its labels; empty where it can't be, or not at once."""
    page = _FormPage()
    try:
        with connection.cursor() as cursor:
            patience = cursor.execute("PRAGMA busy_timeout").fetchone()[0]
            cursor.execute("PRAGMA busy_timeout = 100")  # whoever sent the form waited already
        try:
            page.feed(_drawn_again(request))
        finally:
            with connection.cursor() as cursor:
                cursor.execute(f"PRAGMA busy_timeout = {patience}")
    except Exception:
        logger.info("%s: the form’s page could not be drawn for its labels", request.path, exc_info=True)
    return page


def _drawn_again(request: HttpRequest) -> str:
    came = urlsplit(request.headers.get("Referer", ""))
    # Another address than the form's own is drawn only for who is signed in: its gate has not been passed by this request.
    path = came.path if came.netloc == request.get_host() and request.user.is_authenticated else request.path
    look = copy.copy(request)
    look.method = "GET"
    look.GET = QueryDict(came.query if path == came.path else "")
    look._post, look._files = QueryDict(), {}  # type: ignore[attr-defined]
    match = resolve(path)
    answer: Any = match.func(look, *match.args, **match.kwargs)
    return answer.content.decode() if answer.status_code == 200 else ""
