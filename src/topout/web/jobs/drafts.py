"""Drafts: what is typed and not yet sent, kept on the server so that it stands there after an interruption.

One mechanism for every form: the page's form carries `data-draft="ADDRESS"` and `static/draft.js` sends what stands in
it there; the address keeps it here under a place of the job and the form opens with it, on any device. A draft is no
record: the last one stands, it needs no key, and it goes when its form is saved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest

from topout.web import clock
from topout.web.access.change import KEY_FIELD, Doing
from topout.web.access.models import Change
from topout.web.jobs.models import Draft, Job


def find(job: Job | None, place: str) -> Draft | None:
    """What is kept at a place of a job; without a job, at a place of the workshop."""
    return Draft.objects.filter(job=job, place=place).select_related("who").first()


def keep(doing: Doing, job: Job | None, place: str, fields: Mapping[str, object]) -> Draft | None:
    """Keep what is typed in place of what stood there; nothing typed is no draft."""
    assert doing.who is not None
    if not fields:
        gone(job, place)
        return None
    row, _ = Draft.objects.update_or_create(
        job=job, place=place, defaults={"fields": dict(fields), "who": doing.who, "at": doing.at}
    )
    return row


def gone(job: Job | None, place: str) -> None:
    """The form is saved, or emptied on purpose: the draft goes. Call inside the change that saves."""
    Draft.objects.filter(job=job, place=place).delete()


def typed(sent: Mapping[str, object], known: Mapping[str, int]) -> dict[str, str]:
    """What of `sent` may be kept: known boxes that are not empty, each cut at so many letters. NUL is dropped."""
    return {
        name: str(sent[name])[:letters].replace("\0", "")
        for name, letters in known.items()
        if str(sent.get(name) or "").strip()
    }


@contextmanager
def typing(request: HttpRequest) -> Iterator[Doing | None]:
    """The change in which a draft is kept: None where the form was saved already and its last draft came late."""
    assert isinstance(request.user, User)
    with clock.frozen() as at, transaction.atomic():
        key = request.POST.get(KEY_FIELD, "")
        late = bool(key) and Change.objects.filter(key=key).exists()
        yield None if late else Doing(request.user, at, "")
