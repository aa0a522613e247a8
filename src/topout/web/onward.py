"""Where a form that a script has sent leads to: said in the answer's head, so that the page there is fetched once and not twice.

A script that follows a redirect itself reads a page that the browser then fetches again to show it: on a slow line a third of
the time between a tap and the next step.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

HEADER = "X-Onward"  # in a request: say it; in an answer: the address


class Onward:
    """A redirect becomes an answer without a body and with the address in its head, for whoever asks for that."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if HEADER in request.headers and response.status_code in (302, 303):
            response.headers[HEADER] = response.headers["Location"]
            del response.headers["Location"]
            response.status_code = 200
        return response
