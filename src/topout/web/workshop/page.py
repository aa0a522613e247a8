"""The Workshop page, the owner's: what holds for every job, how the records are kept, and what was changed when by whom.

At the first start it asks the same, and who works here.
"""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from topout.web import clock
from topout.web.access import preferences
from topout.web.access.accounts import make_technicians
from topout.web.access.change import writes
from topout.web.access.gate import owner_only, person
from topout.web.access.models import SettingChange, Workshop
from topout.web.backup import page as backup
from topout.web.groups import drawn, order
from topout.web.workshop import health, parts

SHOWN = 30  # changes, the newest first


def form_class(first: bool) -> type[parts.Part]:
    """One form of all parts."""
    bases: tuple[type[parts.Part], ...] = (*parts.PARTS, *([parts.WhoWorksHere] if first else []))
    groups = tuple(base.group for base in bases)

    def values(self: parts.Part) -> dict[str, Any]:
        return {name: value for base in bases for name, value in base.values(self).items()}

    made = type("WorkshopForm", bases, {"values": values, "field_order": order(groups), "groups": groups})
    assert issubclass(made, parts.Part)
    return made


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def workshop(request: HttpRequest) -> HttpResponse:
    """Change what holds for every job; plans that are in use stay as they are."""
    row = preferences.workshop() or Workshop(started_at=clock.now())
    first = row.set_up_at is None
    made = form_class(first)
    initial = {name: value for part in parts.PARTS for name, value in part.initial_of(row).items()}
    form = made(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        return _saved(request, form, first)
    context = {
        "nav": "bench", "form": form, "first": first, "groups": drawn(form, form.groups),  # type: ignore[attr-defined]
        "zones": sorted(available_timezones()), "facts": [] if first else [*health.whereabouts(), *health.facts()],
        "copies": {} if first else backup.for_workshop(), "changes": [] if first else _changes(),
    }  # fmt: skip
    return render(request, "workshop/page.html", context, status=422 if form.errors else 200)


def _saved(request: HttpRequest, form: parts.Part, first: bool) -> HttpResponse:
    doing = request.change  # type: ignore[attr-defined]
    changed = preferences.save(doing, **form.values())
    if not first:
        messages.success(
            request,
            "The workshop is changed. What comes from now on counts with it." if changed else "Nothing was changed.",
        )
        return redirect("workshop")
    preferences.save(doing, set_up_at=doing.at)
    people = form.cleaned_data["people"]
    make_technicians(request, people)
    if people:
        return redirect("accounts")
    messages.success(request, "The workshop is open. Take in the first job.")
    return redirect("bench")


def _changes() -> list[dict[str, Any]]:
    rows = SettingChange.objects.select_related("who").order_by("-pk")[:SHOWN]
    return [
        {
            "at": row.at,
            "by": person(row.who) if row.who else "the program",
            "name": row.name,
            "was": row.was,
            "became": row.became,
        }
        for row in rows
    ]
