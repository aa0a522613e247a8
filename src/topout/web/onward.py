"""Where a form leads to: back to the page it was reached from; of one that a script has sent, said in the answer's head, so that the page
there is fetched once and not twice.

A script that follows a redirect itself reads a page that the browser then fetches again to show it: on a slow line a third of
the time between a tap and the next step.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final
from urllib.parse import urlencode

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.http import url_has_allowed_host_and_scheme

HEADER = "X-Onward"  # in a request: say it; in an answer: the address


_OF_A_JOB: Final = re.compile(r"/jobs/[0-9]+/[a-z/-]*(#[a-z0-9_-]*)?")
BACK: Final = "to"  # in an address: the page that a form was reached from, and leads back to


def here_alone(request: HttpRequest, wanted: str) -> str:
    """An address of this workshop's own, as it was asked for; "" for any other."""
    safe = url_has_allowed_host_and_scheme(wanted, allowed_hosts=None, require_https=request.is_secure())
    return wanted if safe and wanted.startswith("/") else ""


def back(request: HttpRequest) -> str:
    """The page of a job that a form was reached from, where its address says one; "" else.

    The answer to a change is kept for good, with the address that it leads to: one that was looked for by a rider's name would
    outlive the rider. So no other page, and no query.
    """
    wanted = here_alone(request, request.GET.get(BACK, ""))
    return wanted if _OF_A_JOB.fullmatch(wanted) else ""


def leading_back(address: str, to: str) -> str:
    """An address of a form that leads back to another page once it is saved."""
    page, mark, place = address.partition("#")
    return f"{page}{'&' if '?' in page else '?'}{urlencode({BACK: to}, safe='/')}{mark}{place}"


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
