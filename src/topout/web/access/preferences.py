"""What holds for every job of this workshop: read once a request, changed here alone, each change written down."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from django import forms
from django.conf import settings
from django.db.models import FloatField
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from topout import units
from topout.web.access.change import ChangeContext
from topout.web.access.models import SettingChange, Workshop
from topout.web.fields import QuantityField
from topout.web.prepared import Prepared

_read: ContextVar[list[Workshop | None] | None] = ContextVar("read", default=None)
_drawn_in: ContextVar[units.System | None] = ContextVar("drawn_in", default=None)
DRAWN_IN = "drawn_in"  # the hidden box of a form that says which units stood beside its boxes
_SYSTEMS: Final = {
    f"{pressure}-{length}": units.System(metric=length == "mm", bar=pressure == "bar")
    for pressure in ("psi", "bar")
    for length in ("mm", "in")
}
_NAMED_BEFORE: Final = {"Lengths in": "length_unit"}  # what a setting was called where older changes stand
_ROW = Prepared(lambda: Workshop.objects.select_related("demo_user").order_by("pk")[:1])
# What each setting is called where its changes stand.
NAMES = {
    "name": "Name", "altitude": "Altitude", "time_zone": "Time zone", "pressure_unit": "Pressures in", "length_unit": "All else in",
    "paper": "Paper", "currency": "Currency", "label_width_mm": "Label’s width, mm", "label_length_mm": "Label’s length, mm",
}  # fmt: skip


def workshop() -> Workshop | None:
    """The workshop's row; read from the database once a request. None before the first start."""
    held = _read.get()
    if held is None:
        return _ROW.first()
    if not held:
        held.append(_ROW.first())
    return held[0]


def system() -> units.System:
    """The units that stand first on the page that is drawn; what a bench mostly has where none is, and before the first start.

    What a page sends counts in the units that stood on it, whatever the workshop was set to since.
    """
    drawn = _drawn_in.get()
    if drawn is not None:
        return drawn
    row = workshop() if _read.get() is not None else None
    if row is None:
        return units.BENCH
    return units.System(metric=row.length_unit != "in", bar=row.pressure_unit == "bar")


def units_mark() -> str:
    """The name of the units that stand first, as a form and a draft carry it."""
    now = system()
    return next(name for name, each in _SYSTEMS.items() if (each.metric, each.bar) == (now.metric, now.bar))


def unit(dimension: str, usual: str) -> str:
    """The unit that a bare number counts as here; `usual` is what a bench mostly has. Heights above the sea stay metres."""
    return usual if usual == "m" else system().unit(dimension, usual)


def own_units(form: forms.Form) -> None:
    """Let every quantity of a form count in the workshop's own units: for a form made in a page, at the end of its making."""
    for field in form.fields.values():
        if isinstance(field, QuantityField):
            field.count_in(unit(field.dimension, field.unit))


def money(amount: str) -> str:
    """An amount in the workshop's currency, where it has named one."""
    row = workshop()
    return f"{amount} {row.currency}" if row is not None and row.currency else amount


@contextmanager
def read_once() -> Iterator[None]:
    """Inside, the row is read at most once, and times are those of the workshop's zone."""
    token = _read.set([])
    try:
        with timezone.override(zone()):
            yield
    finally:
        _read.reset(token)


def as_of(at: datetime) -> Workshop | None:
    """The workshop's row as it was then: of each setting that became another since, what it was before the first of them."""
    row = _ROW.first()
    fields = {label: name for name, label in NAMES.items()} | _NAMED_BEFORE
    for each in SettingChange.objects.filter(at__gt=at).order_by("-pk"):  # the first one stands in the end
        if row is not None and each.name in fields:
            name = fields[each.name]
            number = isinstance(Workshop._meta.get_field(name), FloatField)
            setattr(row, name, (float(each.was) if each.was else None) if number else each.was)
    return row


@contextmanager
def read_as_of(at: datetime) -> Iterator[None]:
    """Inside, the settings are those of then, and times are those of the zone of then."""
    token = _read.set([as_of(at)])
    try:
        with timezone.override(zone()):
            yield
    finally:
        _read.reset(token)


def zone() -> ZoneInfo:
    """The workshop's time zone; this computer's where none is set, or where this computer doesn't know it (`zone_known`)."""
    row = workshop()
    try:
        return ZoneInfo(row.time_zone if row is not None and row.time_zone else settings.TIME_ZONE)
    except (LookupError, ValueError, OSError):
        return ZoneInfo(settings.TIME_ZONE)


def zone_known() -> bool:
    """Whether this computer knows the zone that is set; the page says so where it does not."""
    row = workshop()
    return row is None or not row.time_zone or zone().key == row.time_zone


def save(doing: ChangeContext, **values: object) -> bool:
    """Change settings of the workshop; what became another is written down. Call inside a change. Whether anything did."""
    row = Workshop.objects.select_for_update().first() or Workshop(started_at=doing.at)
    there = Workshop.objects.exists()
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    for name, value in changed.items():
        was = _text(getattr(row, name)) if there else ""
        if name in NAMES:
            SettingChange.objects.create(at=doing.at, who=doing.who, name=NAMES[name], was=was, became=_text(value))
        setattr(row, name, value)
    if changed or not there:
        row.save()
    held = _read.get()
    if held is not None:
        held.clear()
    return bool(changed)


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


class Preferences:
    """Middleware: what is shown is shown in the workshop's own time, from one reading of its settings."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sent = request.POST if request.method == "POST" else request.GET
        token = _drawn_in.set(_SYSTEMS.get(str(sent.get(DRAWN_IN, ""))))
        try:
            with read_once():
                return self.get_response(request)
        finally:
            _drawn_in.reset(token)
