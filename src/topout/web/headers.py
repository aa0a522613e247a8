"""Headers that every answer carries, static files and error pages included, beside those of Django's own middleware."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse

from topout.web import faults, network

# Nothing but this host is asked for anything; no inline script or style runs. (OWASP's strict policy; CSP level 3.)
POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)
ALWAYS = {
    "Content-Security-Policy": POLICY,
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class Headers:
    """Outermost of our middleware: checks the host's name, sets the headers, keeps records out of every cache."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not _asked_by_our_name(request):
            response: HttpResponse = faults.host_fault(request)
        elif settings.BEHIND_PROXY and not request.is_secure():
            response = faults.not_through_proxy(request)
        else:
            response = self.get_response(request)
        for name, value in ALWAYS.items():
            response.headers.setdefault(name, value)
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "no-store")
        return _bare(response) if request.method == "HEAD" else response


def _asked_by_our_name(request: HttpRequest) -> bool:
    """Whether the host asked for is this workshop's; a new address of this computer is one too."""
    try:
        request.get_host()
        return True
    except DisallowedHost:
        if not network.admit_new_addresses():
            return False
    try:
        request.get_host()
        return True
    except DisallowedHost:
        return False


def _bare(response: HttpResponse) -> HttpResponse:
    """The answer to HEAD: the headers of GET, the length among them, and no body (RFC 9110, 9.3.2)."""
    if response.streaming:
        response.close()
        response.streaming_content = ()  # type: ignore[attr-defined]
    else:
        response.headers.setdefault("Content-Length", str(len(response.content)))
        response.content = b""
    return response
