"""Who may see and change what.

Nothing is served without sign-in unless its view says so (`login_not_required`); three kinds of people:
the owner (an account with `is_staff`), a technician (any other active account), a stranger (no account).
"""

from __future__ import annotations

import functools
import ipaddress
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from topout.web import clock
from topout.web.access import preferences
from topout.web.access.change import new_key

View = Callable[..., HttpResponse]


def owner(user: User | AnonymousUser) -> bool:
    """May make accounts, erase riders, switch on named variants."""
    return user.is_active and user.is_staff


def technician(user: User | AnonymousUser) -> bool:
    """May see and do everything at the bench; owners too."""
    return user.is_authenticated and user.is_active


def owner_only(view: View) -> View:
    """Refuse a technician with 403 and a sentence; a stranger never gets this far."""

    @functools.wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not owner(request.user):
            raise PermissionDenied("Only an owner of the workshop may open this.")
        return view(request, *args, **kwargs)

    return guarded


def person(user: User | None) -> str:
    """The name that stands beside what somebody did."""
    if user is None:
        return "nobody"
    return user.get_full_name() or user.get_username()


class DemoHand:
    """The demo's own database, bound to loopback and asked from loopback, signs its user in by itself.

    Nothing is written for it: no session, so a GET still changes nothing. What a proxy or tunnel forwards comes from
    loopback too, on behalf of anybody: a request that says so, by a header of its kind, by HTTP/1.0 (which no browser of
    today speaks, and proxies do by default) or by asking for another name than this machine's own, is a stranger's. Told of a proxy, it signs nobody in.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if (
            not request.user.is_authenticated
            and settings.LOOPBACK
            and not settings.BEHIND_PROXY
            and _from_here(request)
        ):
            workshop = preferences.workshop()
            if workshop and workshop.demo and workshop.demo_user and workshop.demo_user.is_active:
                request.user = workshop.demo_user
        return self.get_response(request)


# Names of headers that say a request was passed on; the first ones stand for whole families.
FORWARDED = ("HTTP_X_FORWARDED", "HTTP_X_ORIGINAL", "HTTP_CF_", "HTTP_TAILSCALE_", "HTTP_FORWARDED", "HTTP_VIA", "HTTP_X_REAL_IP",
             "HTTP_X_CLIENT_IP", "HTTP_TRUE_CLIENT_IP", "HTTP_X_PROXY", "HTTP_PROXY")  # fmt: skip


def _from_here(request: HttpRequest) -> bool:
    """Whether a browser of this machine asks, itself."""
    if any(name.startswith(FORWARDED) for name in request.META) or request.META.get("SERVER_PROTOCOL") == "HTTP/1.0":
        return False
    return _loopback(request.META.get("REMOTE_ADDR", "")) and only_here(request)


def only_here(request: HttpRequest) -> bool:
    """Whether the address asked for leads to this machine alone, whoever follows it."""
    host = request.get_host()
    name = host[1 : host.index("]")] if host.startswith("[") else host.partition(":")[0]
    return name == "localhost" or name.endswith(".localhost") or _loopback(name)


def _loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def for_templates(request: HttpRequest) -> dict[str, Any]:
    """`{{ change_key }}` draws a new key each time it stands in a template; `{{ units_mark }}`, `{{ is_owner }}`, `{{ now }}`."""
    user = getattr(request, "user", None)
    return {
        "change_key": new_key,
        "units_mark": preferences.units_mark,
        "is_owner": bool(user and user.is_authenticated and owner(user)),
        "person": person(user) if user and user.is_authenticated else "",
        "now": clock.now(),
    }
