"""A change of state: one transaction, one frozen time, who did it, and a key that makes it happen once.

A form draws a key (`{{ change_key }}`); the view is marked `@writes` and finds its `Change` at `request.change`.
Sent twice, the view runs once and the stored answer is given again (IETF draft Idempotency-Key): a missing key is
400, a used key with another payload 422. Programs and the demo use `change(...)` directly.
"""

from __future__ import annotations

import functools
import hashlib
import json
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import AbstractBaseUser, User
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from topout.web import clock, faults
from topout.web.access.models import Change

KEY_FIELD = "change_key"
_LEFT_OUT = frozenset({KEY_FIELD, "csrfmiddlewaretoken"})


class SavedBefore(Exception):
    """The key was used; `change` is the first one. Raised by `change()` for programs, which then answer with it."""

    def __init__(self, earlier: Change) -> None:
        super().__init__(f"saved before, at {earlier.at:%H:%M}")
        self.change = earlier


class KeyUsed(Exception):
    """The key was used with another payload."""


@dataclass
class Doing:
    """What a record function needs of the change it runs in: who and the one time. `answer` is kept for a repeat."""

    who: User | None
    at: datetime
    key: str
    answer_place: str = ""
    applied: bool = False


def new_key() -> str:
    """A key for one form or one program's write."""
    return secrets.token_urlsafe(18)


def fingerprint(payload: Any) -> str:
    """SHA-256 of a payload of plain JSON values."""
    text = json.dumps(payload, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


@contextmanager
def change(
    who: User | None, what: str, payload: Any, key: str | None = None, at: datetime | None = None
) -> Iterator[Doing]:
    """One change of state for a program: raises SavedBefore or KeyUsed before anything runs, else saves all or nothing.

    `payload` is plain JSON, its fingerprint is kept. `at` sets the frozen time (the demo's); left out it is now.
    """
    key = key or new_key()
    mark = fingerprint(payload)
    with clock.frozen(at) as moment, transaction.atomic():
        earlier = Change.objects.filter(key=key).first()
        if earlier is not None:
            if not _same(earlier, mark, who):
                raise KeyUsed(key)
            raise SavedBefore(earlier)
        doing = Doing(who, moment, key)
        yield doing
        Change.objects.create(key=key, fingerprint=mark, what=what, who=who, at=moment, answer_place=doing.answer_place)


def _same(earlier: Change, mark: str, who: AbstractBaseUser | None) -> bool:
    return earlier.fingerprint == mark and earlier.who_id == (who.pk if who else None)


def _payload(request: HttpRequest) -> dict[str, Any]:
    """What was sent, without key and token; a file by its SHA-256."""
    fields = {name: request.POST.getlist(name) for name in sorted(request.POST) if name not in _LEFT_OUT}
    files: dict[str, list[str]] = {}
    for name in sorted(request.FILES):
        for file in request.FILES.getlist(name):
            digest = hashlib.sha256()
            for part in file.chunks():
                digest.update(part)
            file.seek(0)
            files.setdefault(name, []).append(digest.hexdigest())
    return {"path": request.path, "fields": fields, "files": files}


View = Callable[..., HttpResponse]


def writes(view: View) -> View:
    """Mark a view that changes records: on POST it runs once per key, in one transaction, at one frozen time.

    The view finds `request.change` (Doing). Its records stay when it answers with a redirect, or sets
    `request.change.applied = True`; any other answer (a form with faults) saves nothing and leaves the key unused.
    """

    @functools.wraps(view)
    def once(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        key = request.POST.get(KEY_FIELD) or request.headers.get("Idempotency-Key", "")
        if not key or len(key) > 80 or not key.isprintable():
            return faults.key_missing(request)
        who = request.user if request.user.is_authenticated else None
        mark = fingerprint(_payload(request))
        with clock.frozen() as at, transaction.atomic():
            earlier = Change.objects.filter(key=key).first()
            if earlier is not None:
                return _again(request, earlier) if _same(earlier, mark, who) else faults.key_used(request)
            doing = Doing(who, at, key)
            request.change = doing  # type: ignore[attr-defined]
            response = view(request, *args, **kwargs)
            if doing.applied or response.status_code in (302, 303):
                _keep(doing, mark, request, response)
            else:
                transaction.set_rollback(True)
        return response

    return once


def _keep(doing: Doing, mark: str, request: HttpRequest, response: HttpResponse) -> None:
    moved = response.status_code in (302, 303)
    if moved:
        response.status_code = 303
    Change.objects.create(
        key=doing.key,
        fingerprint=mark,
        what=request.resolver_match.view_name[:120] if request.resolver_match else request.path[:120],
        who=doing.who,
        at=doing.at,
        answer_status=response.status_code,
        answer_place=response.headers.get("Location", "")[:500],
        answer_body="" if moved else response.content.decode(),
    )


def _again(request: HttpRequest, earlier: Change) -> HttpResponse:
    if earlier.answer_status == 303:
        response: HttpResponse = HttpResponseRedirect(earlier.answer_place)
        response.status_code = 303
        return response
    return HttpResponse(earlier.answer_body, status=earlier.answer_status)
