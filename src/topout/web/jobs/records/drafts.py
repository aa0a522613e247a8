"""Drafts: what is typed and not yet sent, kept on the server so that it stands there after an interruption.

One mechanism for every form: the page's form carries `data-draft="ADDRESS"` and `static/draft.js` sends what stands in
it there; the address keeps it here under a place of the job and the form opens with it, on any device. A draft is no
record: the last one stands, it needs no key, and it goes when its form is saved.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import timedelta

from django import forms
from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone

from topout.units import BARE_NUMBER
from topout.web import clock
from topout.web.access import preferences
from topout.web.access.change import KEY_FIELD, ChangeContext
from topout.web.access.models import Change
from topout.web.access.turn import turn
from topout.web.book.models import Rider
from topout.web.fields import with_point
from topout.web.jobs.records.models import Draft, Job
from topout.web.prepared import Prepared

LETTERS = 80  # of a box that says nothing of its own
ABANDONED = timedelta(days=14)  # ours, no source
_OF_JOB = Prepared(lambda job, place: Draft.objects.filter(job=job, place=place).select_related("who"))
_OF_NO_JOB = Prepared(lambda place: Draft.objects.filter(job=None, place=place).select_related("who"))


def of_readings(stage: str) -> str:
    """Where readings of a stage stand that are typed and not sent yet: their page keeps them, a release asks for them."""
    return f"readings:{stage}"


def find(job: Job | None, place: str) -> Draft | None:
    """What is kept at a place of a job; without a job, at a place of the workshop.

    Figures without a unit of their own are left out where other units stood beside them than do today: `lost` says so.
    """
    row = _OF_NO_JOB.first(place) if job is None else _OF_JOB.first(job.pk, place)
    if row is not None and row.units not in ("", preferences.units_mark()):
        fields = {
            box: text for box, text in row.fields.items() if not BARE_NUMBER.fullmatch(with_point(str(text).strip()))
        }
        row.fields, row.lost = fields, len(fields) < len(row.fields)
    return row


def keep(doing: ChangeContext, job: Job | None, place: str, fields: Mapping[str, object]) -> Draft | None:
    """Keep what is typed in place of what stood there; nothing typed is no draft."""
    assert doing.who is not None
    if job is None:  # names of riders stand in the Book alone: what nobody came back to is not kept for good
        Draft.objects.filter(job=None, at__lt=doing.at - ABANDONED).delete()
    if not fields:
        gone(job, place)
        return None
    row, _ = Draft.objects.update_or_create(
        job=job,
        place=place,
        defaults={"fields": dict(fields), "who": doing.who, "at": doing.at, "units": preferences.units_mark()},
    )
    return row


def gone(job: Job | None, place: str) -> None:
    """The form is saved, or emptied on purpose: the draft goes. Call inside the change that saves."""
    if find(job, place) is None:  # as after most ticks; to look costs a third of a DELETE that Django writes anew
        return
    Draft.objects.filter(job=job, place=place).delete()


def forget(sender: object, rider: Rider, name: str, told: Sequence[str], **_: object) -> None:
    """A rider is erased: what was begun for the rider goes, and every box of any draft that tells who it was.

    In drafts of the rider's own jobs one word of the name is enough; elsewhere it may be another person's.
    """
    Draft.objects.filter(job=None, place__startswith="take-in:", place__endswith=f":{rider.pk}").delete()
    wholes = [text.casefold() for text in told]
    words = set(re.findall(r"\w{3,}", name.casefold()))
    for row in Draft.objects.select_related("job"):
        own = words if row.job is not None and row.job.rider_id == rider.pk else set()
        left = {box: text for box, text in row.fields.items() if not _tells(str(text).casefold(), wholes, own)}
        if not left:
            row.delete()
        elif left != row.fields:
            row.fields = left
            row.save(update_fields=["fields"])


def _tells(text: str, wholes: Sequence[str], words: set[str]) -> bool:
    return any(whole in text for whole in wholes) or bool(words & set(re.findall(r"\w+", text)))


def typed(
    sent: Mapping[str, object], known: Mapping[str, int], offered: Mapping[str, object] | None = None
) -> dict[str, str]:
    """What of `sent` may be kept: known boxes that are not empty, each cut at so many letters. NUL is dropped.

    A box that stands as the form `offered` it is not kept: what the form offers may be newer when it is opened again.
    """
    found = {}
    for name, letters in known.items():
        text = str(sent.get(name) or "")[:letters].replace("\0", "").replace("\r\n", "\n")
        if text.strip() and text != str((offered or {}).get(name, "")):
            found[name] = text
    return found


def boxes(form: forms.Form) -> dict[str, int]:
    """The boxes of a form that a draft keeps, with most letters of each: more than fit, since a draft cuts no words."""
    return {
        form.add_prefix(name): 4 * getattr(field, "letters", LETTERS)
        for name, field in form.fields.items()
        if not isinstance(field, forms.FileField)
    }


def take(
    request: HttpRequest, doing: ChangeContext | None, job: Job | None, place: str, form: forms.Form, back: str
) -> HttpResponse:
    """Answer the address that a form's draft is sent to, inside its `typing`: keep what is typed over what `form` offers
    as its initial values, or empty the boxes and go `back`."""
    if request.POST.get("empty"):
        gone(job, place)
        return redirect(back)
    if doing is None:
        return HttpResponse(status=204)
    kept = keep(doing, job, place, typed(request.POST, boxes(form), form.initial))
    says = f"Kept as a draft at {timezone.localtime(kept.at):%H:%M}. It is not saved yet." if kept else ""
    return JsonResponse({"says": says})


@contextmanager
def typing(request: HttpRequest) -> Iterator[ChangeContext | None]:
    """The change in which a draft is kept: None where the form was saved already and its last draft came late."""
    assert isinstance(request.user, User)
    with turn(), clock.frozen() as at, transaction.atomic():
        key = request.POST.get(KEY_FIELD, "")
        late = bool(key) and Change.objects.filter(key=key).exists()
        yield None if late else ChangeContext(request.user, at, "")
