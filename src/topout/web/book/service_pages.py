"""Pages of a family's service data: what stands, what is added from a sheet, and correcting one value."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from topout.errors import FaultsFound
from topout.procedures.service import FIELDS, Field
from topout.units import Typed
from topout.web.access import preferences
from topout.web.access.change import writes
from topout.web.book import service
from topout.web.book.models import Family, ServiceValue
from topout.web.book.views import doing_of, form_methods
from topout.web.fields import AskingForm, CountField, QuantityField, WordsField, with_unit, written
from topout.web.groups import Group, drawn, order


def _sheet_field() -> WordsField:
    return WordsField(
        letters=service.LETTERS, label="Which sheet", missing="Say which sheet it stands in.",
        help_text="Title, number and date, as printed on it.",
    )  # fmt: skip


def _field(of: Field, **kwargs: Any) -> forms.Field:
    kwargs["label"] = of.says[:1].upper() + of.says[1:]
    if not of.dimension:
        return WordsField(letters=service.LETTERS, **kwargs)
    low, high, likely = service.RANGES[of.dimension]
    return QuantityField(dimension=of.dimension, unit=of.unit, low=low, high=high, likely=likely, **kwargs)


def _text(value: Any) -> str:
    return with_unit(value) if isinstance(value, Typed) else str(value or "")


def box_name(name: str) -> str:
    """The form's name for a value: `torque.foot-bolt` → `torque-foot-bolt`."""
    return name.replace(".", "-")


class SheetForm(AskingForm):
    """What one sheet says: every value that does not stand yet. Only what is filled in is kept."""

    must = "Needed: which sheet it is, and at least one value of it. The values are the maker’s; none is guessed here."

    def __init__(self, *args: Any, names: Iterable[str], **kwargs: Any) -> None:
        self.names = list(names)
        super().__init__(*args, **kwargs)
        self.fields["source"] = _sheet_field()
        for name in self.names:
            self.fields[box_name(name)] = _field(FIELDS[name], required=False)
            if name in service.BY_TRAVEL:
                self.fields[f"{box_name(name)}-travel"] = _travel_field(required=False)
        self.order_fields(order(self.groups()))
        preferences.own_units(self)

    def groups(self) -> tuple[Group, ...]:
        """The sheet first, then the values in the order of the closed list."""
        found = [Group("The sheet", (("source",),))]
        for start, title in service.GROUPS.items():
            rows = [(box_name(n), f"{box_name(n)}-travel") if n in service.BY_TRAVEL else (box_name(n),)
                    for n in self.names if n.partition(".")[0] == start]  # fmt: skip
            if rows:
                found.append(Group(title, tuple(rows)))
        return tuple(found)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        written_down = [name for name in self.names if data.get(box_name(name))]
        if not written_down and not self.errors:
            self.add_error(None, "No value is written yet. Write at least one that the sheet gives.")
        for name in service.BY_TRAVEL & set(self.names):
            travel = f"{box_name(name)}-travel"
            if data.get(box_name(name)) and not data.get(travel) and travel not in self.errors:
                self.add_error(travel, "Say for which travel.")
            elif data.get(travel) and not data.get(box_name(name)) and box_name(name) not in self.errors:
                self.add_error(box_name(name), "Write the length too, or leave the travel out.")
        return data

    def values(self) -> list[tuple[str, str, int]]:
        """Name, text and travel in mm of each value that was filled in."""
        data = self.cleaned_data
        return [
            (name, _text(data[box_name(name)]), int(data.get(f"{box_name(name)}-travel") or 0))
            for name in self.names
            if data.get(box_name(name))
        ]


def _travel_field(required: bool) -> forms.Field:
    return CountField(low=20, high=300, label="For a travel of, in mm", required=required)


class CorrectValueForm(AskingForm):
    """A value of a sheet in place of the one that stands, with the reason; left empty it is taken out."""

    must = "Needed: which sheet, and why what stands is wrong. Left empty, the value is taken out."

    def __init__(self, *args: Any, name: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"] = _field(FIELDS[name], required=False)
        self.fields["source"] = _sheet_field()
        self.fields["reason"] = WordsField(
            letters=service.LETTERS, label="Why it is corrected", missing="Say why it is corrected.",
            help_text="What stood stays below, struck, with this beside it.",
        )  # fmt: skip
        preferences.own_units(self)


def _rows(family: Family) -> list[dict[str, Any]]:
    """What stands, in groups of the closed list: words, value, sheet, who, when, and what was struck."""
    every: dict[tuple[str, int], list[ServiceValue]] = {}
    for row in ServiceValue.objects.filter(family=family).select_related("read_by").order_by("number"):
        every.setdefault((row.name, row.travel_mm), []).append(row)
    found = []
    for start, title in service.GROUPS.items():
        rows = []
        for name, of in FIELDS.items():
            chains = sorted(key for key in every if key[0] == name and name.partition(".")[0] == start)
            for key in chains:
                *_, now = every[key]
                rows.append({
                    "says": of.says[:1].upper() + of.says[1:], "name": name, "travel_mm": key[1], "row": now,
                    "value": written(now.text) if now.value_si is not None else now.text,
                    "struck": list(itertools.pairwise(every[key])),
                })  # fmt: skip
        if rows:
            found.append({"title": title, "rows": rows})
    return found


@form_methods
@writes
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """What a family's sheets say, and boxes for what does not stand yet."""
    family = get_object_or_404(Family, pk=pk)
    there = {name for (name, _), row in service.standing(family).items()} - service.BY_TRAVEL
    only = request.GET.get("only", "")
    names = [name for name in FIELDS if name not in there and only in ("", name)]
    form = SheetForm(request.POST if request.method == "POST" else None, names=names)
    if request.method == "POST" and form.is_valid():
        faults = []
        for name, text, travel_mm in form.values():
            try:
                service.save_service(
                    doing_of(request), family, name, text, form.cleaned_data["source"], travel_mm=travel_mm
                )
            except FaultsFound as found:
                faults += [(box_name(name), fault.message) for fault in found.faults]
        if not faults:
            messages.success(request, f"Saved for the family {family}.")
            job = request.GET.get("job", "")  # a step asked for it: back to the steps
            return (
                redirect("steps", int(job))
                if only and job.isdecimal() and len(job) < 9
                else redirect("family-service", pk)
            )
        for box, message in faults:
            form.add_error(box, message)
    context = {
        "nav": "book",
        "family": family,
        "form": form,
        "groups": drawn(form, form.groups()),
        "known": _rows(family),
    }
    return render(request, "book/service.html", context, status=422 if form.errors else 200)


@form_methods
@writes
def correct(request: HttpRequest, pk: int, name: str, travel_mm: int) -> HttpResponse:
    """Correct one value; what stood stays, struck, with the reason."""
    family = get_object_or_404(Family, pk=pk)
    old = service.standing(family).get((name, travel_mm))
    if old is None or name not in FIELDS:
        raise Http404("This value is not kept for the family.")
    if request.method == "POST":
        form = CorrectValueForm(request.POST, name=name)
        if form.is_valid() and form.data.get("number") == str(old.number):
            data = form.cleaned_data
            service.save_service(
                doing_of(request), family, name, _text(data["value"]), data["source"], travel_mm=travel_mm, reason=data["reason"]
            )  # fmt: skip
            messages.success(request, "Corrected. Both stand on the page.")
            return redirect("family-service", pk)
        if form.is_valid():
            form.add_error(None, "Somebody corrected this value meanwhile. Look at what stands now, then correct it.")
    else:
        form = CorrectValueForm(name=name, initial={"value": old.text, "source": old.source})
    context = {"nav": "book", "family": family, "form": form, "old": old, "says": FIELDS[name].says}
    return render(request, "book/service_correct.html", context, status=422 if form.errors else 200)
