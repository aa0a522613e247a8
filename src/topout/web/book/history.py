"""Who changed what in the Book, and when: from the history that each change keeps, in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.forms import BaseForm
from django.http import HttpRequest
from django.utils import timezone

from topout.web.access.gate import person
from topout.web.book import tables as bench_tables
from topout.web.book import worth
from topout.web.book.models import Bike, Family, Unit

_Row = TypeVar("_Row", Bike, Family, Unit)
SHOWN = 30  # changes of one row on its page, the newest first
_PLAIN = {"name": "Name", "serial": "Serial number", "source": "Source", "number": "Number", "asked_title": "Work wanted",
          "asked": "In the rider’s words", "budget": "Money"}  # fmt: skip


@dataclass(frozen=True)
class Changed:
    """One change: when, by whom, and each thing that became another."""

    at: datetime
    by: str
    what: tuple[str, ...]


def of(row: Any) -> list[Changed]:
    """The changes of a row that keeps its history, newest first, at most `SHOWN`; the first entry is "added"."""
    entries = list(row.history.select_related("history_user").order_by("-history_id")[: SHOWN + 1])
    found = []
    for nth, entry in enumerate(entries[:SHOWN]):
        earlier = entries[nth + 1] if nth + 1 < len(entries) else None
        what = _differences(earlier, entry) if earlier is not None else ("added",)
        if what:
            by = person(entry.history_user) if entry.history_user else "the program"
            found.append(Changed(entry.history_date, by, what))
    return found


def as_of(row: _Row, at: datetime) -> _Row:
    """A row as the Book had it then; as it is where its history begins later."""
    kept = row.history.filter(history_date__lte=at).order_by("-history_date", "-history_id").first()
    return row if kept is None else kept.instance


def unit_as_of(unit: Unit, at: datetime) -> Unit:
    """A unit as the Book had it then, with its family as that was."""
    then = as_of(unit, at)
    then.family = as_of(then.family, at) if then.family is not None else None
    return then


_STANDS = "What you typed stands here still: look at both, then save it."
AS_OF = "as_of"  # hidden field of a form: the row as it was when the form was drawn, its `stamp`


def stamp(row: Any) -> str:
    """Stands for a row as it is now: a form drawn of it is old once another change was kept.

    Of a row without a history, a rider's or a part's, it is made of what stands in it.
    """
    if not hasattr(row, "history"):
        held = [(field.attname, str(getattr(row, field.attname))) for field in row._meta.concrete_fields]
        return sha256(repr(held).encode("utf-8", "surrogatepass")).hexdigest()[:16]
    newest = row.history.order_by("-history_id").values_list("history_id", flat=True).first()
    return "" if newest is None else str(newest)


def since(row: Any, drawn_of: str) -> str:
    """What became of a row since a form was drawn of it, in a sentence with who and when; "" where nothing did, or nobody knows."""
    if not drawn_of or drawn_of == stamp(row):
        return ""
    if not hasattr(row, "history"):
        return f"Since this page was drawn, somebody changed {row}. What you typed stands here still; saving it goes over that. Opened anew, the page shows it."
    newest = next(iter(of(row)), None)
    if newest is None:
        return ""
    return f"Since this page was drawn, {newest.by} changed it at {timezone.localtime(newest.at):%H:%M}: {'; '.join(newest.what)}. {_STANDS}"


def to_save(request: HttpRequest, form: BaseForm, row: Any) -> bool:
    """Whether a form is sent, good, and of the row as it is: one drawn before another change, a release's perhaps, goes over nothing unseen."""
    if request.method != "POST":
        return False
    good = form.is_valid()
    if told := since(row, request.POST.get(AS_OF, "")):
        form.add_error(None, told)
    return good and not told


def _differences(old: Any, new: Any) -> tuple[str, ...]:
    told = _moved(old, new) if hasattr(new, "stands_since") else []
    for field in new.tracked_fields:
        was, now = getattr(old, field.attname), getattr(new, field.attname)
        if was == now or field.name in ("made_at", "left", "came_off", "stands_since") or field.name == "bike" and told:
            continue
        if field.name == "tables":
            told += _tables(was, now)
        elif field.name == "worth":
            told += [
                _became(
                    f"{worth.label_of(key)}, known as", worth.WORTHS.get(was.get(key)), worth.WORTHS.get(now.get(key))
                )
                for key in {**was, **now}
                if was.get(key) != now.get(key)
            ]
        elif field.name == "far_in":
            told += [
                _became("Gauge read far in", was.get(key, {}).get("words"), now.get(key, {}).get("words"))
                for key in {**was, **now}
                if was.get(key) != now.get(key)
            ]
        elif field.name == "extras":
            told += [
                _became(key.replace("-", " ").capitalize(), was.get(key), now.get(key))
                for key in {**was, **now}
                if was.get(key) != now.get(key)
            ]
        elif field.name in _PLAIN:
            told.append(_became(_PLAIN[field.name], _quoted(was), _quoted(now)))
        elif field.is_relation:
            told.append(_became(field.verbose_name.capitalize(), _named(field, was), _named(field, now)))
        else:
            told.append(_became(field.verbose_name.capitalize(), _shown(was), _shown(now)))
    return tuple(told)


def _moved(old: Any, new: Any) -> list[str]:
    """Where a unit stands, where that became another: "off Hollin, since 3 Dec 2026"."""
    since = f", since {new.stands_since:%-d %b %Y}" if new.stands_since is not None else ""
    if old.bike_id != new.bike_id:
        on = f"on {_named(new._meta.get_field('bike'), new.bike_id)}" if new.bike_id is not None else ""
        off = f"off {_named(new._meta.get_field('bike'), old.bike_id)}" if old.bike_id is not None else ""
        return [f"{' and '.join(part for part in (off, on) if part)}{since}"]
    return (
        [_became("There since", _shown(old.stands_since), _shown(new.stands_since))]
        if since and old.stands_since != new.stands_since
        else []
    )


def _quoted(words: Any) -> str:
    return f"“{words}”" if words else ""


def _named(field: Any, pk: Any) -> str:
    """What a foreign key points at, by its name as it is now; a person by their name."""
    row = field.related_model.objects.filter(pk=pk).first() if pk is not None else None
    if row is None:
        return ""
    return person(row) if isinstance(row, User) else str(row)


def _shown(value: Any) -> Any:
    """A time or a day as people write it."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return f"{value:%-d %b %Y}"
    return f"{timezone.localtime(value):%-d %b %Y, %H:%M}" if isinstance(value, datetime) else value


def _tables(was: bench_tables.Tables, now: bench_tables.Tables) -> list[str]:
    before, after = bench_tables.facts_by_key(was), bench_tables.facts_by_key(now)
    return [
        _became(" ".join(label), before.get(label), after.get(label))
        for label in {**before, **after}
        if before.get(label) != after.get(label)
    ]


def _became(label: str, was: Any, now: Any) -> str:
    if was in (None, ""):
        return f"{label}: {now}"
    if now in (None, ""):
        return f"{label}: {was} taken out"
    return f"{label}: {was} → {now}"
