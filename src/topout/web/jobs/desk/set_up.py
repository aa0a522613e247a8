"""The telephone call "what pressure for me?": how each unit of a rider was left, and what to set for another mass."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from topout.web.access import preferences
from topout.web.book.models import Rider
from topout.web.fields import QuantityField
from topout.web.jobs.core.by_mass import LEAST_KG, MOST_KG, for_masses
from topout.web.jobs.desk.intake import units_of

SHOWN = 7  # units, the last job's first


class MassForm(forms.Form):
    """Another mass."""

    mass = QuantityField(
        dimension="mass", unit="kg", low=LEAST_KG, high=MOST_KG, label="Another weight, dressed to ride", required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        preferences.own_units(self)


@require_safe
def set_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Last set-up and the table by mass, of every unit of the rider."""
    rider = get_object_or_404(Rider, pk=pk, erased_at=None)
    form = MassForm(request.GET if "mass" in request.GET else None)
    typed = form.cleaned_data["mass"] if form.is_valid() else None
    told: list[dict[str, Any]] = []
    for unit in units_of(rider).select_related("bike", "family")[:SHOWN]:
        bike = unit.bike if unit.bike and unit.bike.rider_id == rider.pk else None
        known = unit.what.key != "coil-fork"  # which spring of a fork's carries whom is not worked out
        table = for_masses(rider, bike, unit, typed.value_si if typed else None) if known else None
        told.append({"unit": unit, "bike": bike, "left": unit.last_left(), "table": table})
    context = {"nav": "book", "rider": rider, "form": form, "told": told}
    return render(request, "jobs/set_up.html", context, status=422 if form.errors else 200)
