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
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from topout.web import clock, faults
from topout.web.access.models import Answer, Change
from topout.web.access.turn import turn

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
class ChangeContext:
    """What a record function needs of the change it runs in: who and the one time. `answer` is kept for a repeat."""

    who: User | None
    at: datetime
    key: str
    answer_place: str = ""


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
) -> Iterator[ChangeContext]:
    """One change of state for a program: raises SavedBefore or KeyUsed before anything runs, else saves all or nothing.

    `payload` is plain JSON, its fingerprint is kept. `at` sets the frozen time (the demo's); left out it is now.
    """
    key = key or new_key()
    with turn(), clock.frozen(at) as moment, transaction.atomic():
        row = _claim(Change(key=key, fingerprint=fingerprint(payload), what=what, who=who, at=moment))
        doing = ChangeContext(who, moment, key)
        yield doing
        Answer.objects.create(change=row, location=doing.answer_place)


def _claim(row: Change) -> Change:
    """The change, written first: the database refuses a key that stands there, and the one before is looked at then.

    Where another with the key is under way it stands in line, and finds the first one done. Raises SavedBefore, KeyUsed.
    """
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        earlier = Change.objects.select_related("answer").filter(key=row.key).first()
        if earlier is None:
            raise
        if not _same(earlier, row.fingerprint, row.who):
            raise KeyUsed(row.key) from None
        raise SavedBefore(earlier) from None
    return row


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

    The view finds `request.change` (ChangeContext). Its records stay when it answers with a redirect; any other answer (a form
    with faults) saves nothing and leaves the key unused.
    """

    @functools.wraps(view)
    def once(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        key = _key(request)
        if not key or len(key) > 80 or not key.isprintable():
            return faults.key_missing(request)
        who = request.user if request.user.is_authenticated else None
        what = request.resolver_match.view_name if request.resolver_match else request.path
        mark = fingerprint(_payload(request))
        with turn(), clock.frozen() as at, transaction.atomic():
            try:
                row = _claim(Change(key=key, fingerprint=mark, what=what[:120], who=who, at=at))
            except KeyUsed:
                return faults.key_used(request)
            except SavedBefore as saved:
                return _moved(HttpResponseRedirect(saved.change.answer.location))
            request.change = ChangeContext(who, at, key)  # type: ignore[attr-defined]
            response = view(request, *args, **kwargs)
            if response.status_code in (302, 303):
                Answer.objects.create(change=row, location=_moved(response).headers["Location"][:500])
            else:
                transaction.set_rollback(True)
        return response

    return once


def saved_before(request: HttpRequest) -> bool:
    """Whether the form that this request sends was saved before: then it is answered again, and nothing is looked at anew."""
    return Change.objects.filter(key=_key(request)).exists()


def _key(request: HttpRequest) -> str:
    return request.POST.get(KEY_FIELD) or request.headers.get("Idempotency-Key", "")


def _moved(response: HttpResponse) -> HttpResponse:
    """303: look there by GET, whatever was sent here."""
    response.status_code = 303
    return response
