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
from topout.web.access.change import new_key
from topout.web.access.models import Workshop

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

    Nothing is written for it: no session, so a GET still changes nothing.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated and settings.LOOPBACK and _from_loopback(request):
            workshop = Workshop.objects.select_related("demo_user").filter(demo=True).first()
            if workshop and workshop.demo_user and workshop.demo_user.is_active:
                request.user = workshop.demo_user
        return self.get_response(request)


def _from_loopback(request: HttpRequest) -> bool:
    try:
        return ipaddress.ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False


def for_templates(request: HttpRequest) -> dict[str, Any]:
    """`{{ change_key }}` draws a new key each time it stands in a template; `{{ is_owner }}`, `{{ now }}`."""
    user = getattr(request, "user", None)
    return {
        "change_key": new_key,
        "is_owner": bool(user and user.is_authenticated and owner(user)),
        "person": person(user) if user and user.is_authenticated else "",
        "now": clock.now(),
    }
