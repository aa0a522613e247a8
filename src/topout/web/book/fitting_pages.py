"""The page on which a unit comes off its bike, or goes on another, with the day."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from topout.web.access.change import writes
from topout.web.book import ends, fitting, history
from topout.web.book.models import Bike, Rider, Unit
from topout.web.book.views import doing_of, form_methods
from topout.web.choices import PickField
from topout.web.days import DayField
from topout.web.fields import WordsField
from topout.web.folding import folded

OFF: Final = "off"
MOST_NAMED: Final = 3  # bikes of one name that a sentence lists


class WhereForm(forms.Form):
    """Where a unit stands: off the bike, on another of its rider's, or on another rider's, by its name or frame number."""

    must = "Needed: which bike it is on, or that it is off, and since when."

    where = PickField(
        label="It is", required=False, error_messages={"invalid_choice": "One of the answers is expected."}
    )
    named = WordsField(
        letters=120, label="On another rider’s bike", required=False, help_text="Its name or its frame number, as in the Book."
    )  # fmt: skip
    since = DayField(label="Since", error_messages={"required": "Write the day."})
    instead = forms.BooleanField(label="What stands at that end of the bike is off it since that day", required=False)

    def __init__(self, data: Any = None, *, unit: Unit, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.unit = unit
        off = [(OFF, "off the bike")] if unit.bike is not None or unit.came_off is not None else []
        rider = rider_of(unit)
        self.bikes = {str(bike.pk): bike for bike in rider.bikes.all()} if rider is not None else {}
        if unit.bike is not None:
            self.bikes.setdefault(str(unit.bike.pk), unit.bike)
        self.fields["where"].choices = [*off, *((key, f"on {bike}") for key, bike in self.bikes.items())]  # type: ignore[attr-defined]
        if not self.fields["where"].choices:  # type: ignore[attr-defined]
            self.fields["where"].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        where, named = data.get("where"), data.get("named")
        if bool(where) == bool(named) and not {"where", "named"} & self.errors.keys():
            self.add_error("where", "Say where it is: one of the answers, or another rider’s bike, not both.")
        elif named:
            self.bike = self._named(named)
        else:
            self.bike = self.bikes.get(where or "")
        return data

    def _named(self, named: str) -> Bike | None:
        """The bike of that name or frame number; the database's own comparing knows no accents."""
        asked = folded(named)
        rows = [
            bike for bike in Bike.objects.select_related("rider") if asked in (folded(bike.name), folded(bike.serial))
        ]
        if len(rows) == 1:
            return rows[0]
        if not rows:
            self.add_error("named", f"“{named}”: no bike of that name or frame number is in the Book.")
        else:
            of = ", ".join(
                f"{bike.rider or 'nobody'}’s ({bike.serial or 'no frame number'})" for bike in rows[:MOST_NAMED]
            )
            self.add_error(
                "named",
                f"{len(rows)} bikes are called so: {of}{', …' if len(rows) > MOST_NAMED else ''}. Write its frame number.",
            )
        return None


def rider_of(unit: Unit) -> Rider | None:
    """Whose it is: of the bike it stands on, else who brought it last, else of the bike it came off."""
    if unit.bike is not None:
        return unit.bike.rider
    last = unit.jobs.select_related("rider").order_by("-number").first()
    return last.rider if last is not None else unit.came_off.rider if unit.came_off is not None else None


@form_methods
@writes
def fit(request: HttpRequest, pk: int) -> HttpResponse:
    """Say where a unit stands now."""
    row = get_object_or_404(Unit.objects.select_related("bike__rider", "came_off__rider", "family"), pk=pk)
    form = WhereForm(request.POST if request.method == "POST" else None, unit=row, initial={"since": "today"})
    if history.to_save(request, form, row):
        try:
            off = fitting.fit(
                doing_of(request), row, form.bike, form.cleaned_data["since"], instead=form.cleaned_data["instead"]
            )
        except ends.CannotStand as why:
            form.add_error(None, str(why))
        else:
            too = "".join(f" {each} is {ends.where(each)}." for each in off)
            messages.success(request, f"{row} is {ends.where(row)}.{too}")
            return redirect("unit", row.pk)
    context = {"nav": "book", "unit": row, "where": ends.where(row), "form": form, "as_of": history.stamp(row)}
    return render(request, "book/fitting.html", context, status=422 if form.errors else 200)
