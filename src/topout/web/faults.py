"""Pages for what went wrong: 400, 403, 404, 422, 500 and a form that came without its token."""

from __future__ import annotations

import sys
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from topout.web.storage import trouble
from topout.web.unsaved import not_stored


def _page(request: HttpRequest, status: int, title: str, words: str, way: str = "") -> HttpResponse:
    context = {"title": title, "words": words, "way": way, "status": status}
    return render(request, "fault.html", context, status=status)


def bad_request(request: HttpRequest, exception: Any = None) -> HttpResponse:
    found = trouble(exception)
    if found is not None:  # a session that could not be stored
        return not_stored(request, found)
    return _page(request, 400, "That can’t be read", "The request was not as a page here sends it. Nothing was saved.")


def host_fault(request: HttpRequest) -> HttpResponse:
    """The address holds a host name that is not this workshop's; nothing of the request is trusted or shown."""
    words = "This address is not one of the workshop’s. Open an address that the start command printed."
    way = "If this name shall be one: start with topout serve --host and the name."
    context = {"title": "Not this address", "words": words, "way": way, "status": 400}
    return HttpResponse(render_to_string("fault_bare.html", context), status=400)


def not_through_proxy(request: HttpRequest) -> HttpResponse:
    """The workshop was told that a proxy does the TLS; what comes without it could not keep anybody signed in."""
    words = f"This workshop is open through its proxy alone. Open https://{settings.NAMES[0]}/ instead."
    way = "If you did: the proxy does not say X-Forwarded-Proto; docs/serving.md has what it must say."
    context = {"title": "Not without TLS", "words": words, "way": way, "status": 400}
    return HttpResponse(render_to_string("fault_bare.html", context), status=400)


def csrf_fault(request: HttpRequest, reason: str = "") -> HttpResponse:
    words = "The form was drawn before you signed in, or its cookie is gone. Nothing was saved."
    return _page(request, 403, "The form is too old", words, "Go back, load the page again, and send it once more.")


def forbidden(request: HttpRequest, exception: Any = None) -> HttpResponse:
    words = str(exception) if exception and str(exception) else "Your account may not open this."
    title = getattr(exception, "title", "Not for this account")
    return _page(request, 403, title, words, getattr(exception, "way", "Ask the owner of the workshop."))


def not_found(request: HttpRequest, exception: Any = None) -> HttpResponse:
    return _page(request, 404, "Nothing here", "There is no page at this address.", "The Bench has today’s jobs.")


def key_missing(request: HttpRequest) -> HttpResponse:
    words = "The form came without its key, so it can’t be told from one sent before. Nothing was saved."
    return _page(request, 400, "The form has no key", words, "Load the page again and send it once more.")


def key_used(request: HttpRequest) -> HttpResponse:
    words = "This form was saved before with other words in it. The first one stands; nothing was changed now."
    return _page(request, 422, "Saved before", words, "Load the page again and write what is new.")


def server_fault(request: HttpRequest) -> HttpResponse:
    """Django calls it while the exception is still handled; what comes from the storage is no fault of ours."""
    found = trouble(sys.exc_info()[1])
    if found is not None:
        return not_stored(request, found)
    words = "A fault in Topout itself. Nothing of this was saved; what was saved before is whole."
    context = {"title": "That broke", "words": words, "way": "Try again, or go back to the Bench.", "status": 500}
    return HttpResponse(render_to_string("fault_bare.html", context), status=500)
