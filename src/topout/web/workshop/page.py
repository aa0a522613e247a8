"""The workshop's own page: its name and its altitude, which says how heavy the air is that a gauge reads against."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from topout.web import clock
from topout.web.access.change import writes
from topout.web.access.gate import owner_only
from topout.web.access.models import Workshop
from topout.web.fields import QuantityField, WordsField, with_unit


class WorkshopForm(forms.Form):
    """What holds for every job."""

    name = WordsField(letters=80, label="Name of the workshop", missing="Write the workshop’s name.")
    altitude = QuantityField(
        dimension="length", unit="m", low=-400, high=6000, signed=True, label="Altitude", help_text="Above sea level.",
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def workshop(request: HttpRequest) -> HttpResponse:
    """Change what holds for every job; plans that are in use stay as they are."""
    row = Workshop.objects.first() or Workshop(started_at=clock.now())
    if request.method == "POST":
        form = WorkshopForm(request.POST)
        if form.is_valid():
            row.name, row.altitude = form.cleaned_data["name"], with_unit(form.cleaned_data["altitude"])
            row.save()
            messages.success(request, "The workshop is changed. Plans from now on count with it.")
            return redirect("workshop")
    else:
        form = WorkshopForm(initial={"name": row.name, "altitude": row.altitude})
    boxes = [(field, getattr(form.fields[field.name], "unit_written", "")) for field in form]
    context = {"nav": "bench", "form": form, "boxes": boxes}
    return render(request, "jobs/workshop.html", context, status=422 if form.errors else 200)
