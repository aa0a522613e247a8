"""The workshop's instruments: what a reading is taken with. A gauge says what it can tell: mark, span, class, hose."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout import units
from topout.bench_file.key import MOST_PRESSURE_BAR
from topout.units import Typed, UnitFault
from topout.web import clock
from topout.web.access import preferences
from topout.web.access.change import writes
from topout.web.access.gate import owner, owner_only
from topout.web.choices import NamedField
from topout.web.fields import AskingForm, QuantityField, WordsField, with_point, with_unit, written
from topout.web.groups import Group, drawn
from topout.web.jobs.core.steps import MOST_CLASS_PERCENT
from topout.web.jobs.records.models import Instrument

KINDS = {
    "gauge": "pressure gauge", "tape": "tape or rule", "caliper": "caliper", "scale": "scale",
    "thermometer": "thermometer", "torque wrench": "torque wrench",
    "balance": "spring balance, for a pull",
}  # fmt: skip
DIMENSIONS = {
    "gauge": "pressure", "tape": "length", "caliper": "length", "scale": "mass", "thermometer": "temperature",
    "torque wrench": "torque", "balance": "force",
}  # fmt: skip


# What a scale looks like; ours, no source. A gauge that ends above that is not one for a fork (a bench file's limit).
LEAST_MARKS, MOST_MARKS = 20, 20_000
GAUGE_SPAN = ("1 bar", f"{MOST_PRESSURE_BAR} bar")


class InstrumentForm(AskingForm):
    """A new instrument. A gauge needs mark, span and class: the bands of readings come from them."""

    must = "Needed: its kind, a short name and what it is. A gauge needs the end of its scale, its smallest mark and its class too."
    groups = (
        Group("What it is", (("kind",), ("code", "name"))),
        Group("What it can tell", (("span", "mark"), ("accuracy", "hose"))),
    )

    kind = NamedField(
        label="Kind", choices=list(KINDS.items()),
        error_messages={"required": "Say what kind it is.", "invalid_choice": "Choose one of the kinds."},
    )  # fmt: skip
    code = WordsField(letters=12, label="Short name", help_text="As written on it: P2.")
    name = WordsField(letters=80, label="What it is", help_text="As people call it: blue pump.")
    span = WordsField(
        letters=40, label="End of its scale", required=False, help_text="With the unit, as printed on it: 300 psi."
    )
    mark = WordsField(letters=40, label="Smallest mark", required=False, help_text="One division of its scale: 2 psi.")
    accuracy = WordsField(
        letters=10,
        label="Class, % of the end of its scale",
        required=False,
        help_text="How far it may be off, wherever it stands. On its face as “cl. 1.6”, or on its sheet.",
    )
    hose = QuantityField(
        dimension="volume", unit="ml", low=0, high=200, likely=(0.5, 20), label="Volume of its hose", required=False,
        help_text="What an empty hose takes when it is pushed on.",
    )  # fmt: skip

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        if Instrument.objects.filter(code__iexact=code).exists():
            raise ValidationError(f"“{code}” is in use. Give it another short name.")
        return code

    def clean_accuracy(self) -> float | None:
        text = self.cleaned_data["accuracy"].removesuffix("%").strip()
        if not text:
            return None
        try:
            value = units.parse_number(with_point(text))
        except UnitFault as fault:
            raise ValidationError(f"“{text}”: {fault}") from None
        if not 0 < value <= MOST_CLASS_PERCENT:
            raise ValidationError(
                f"“{text}”: a class is above 0 and at most {MOST_CLASS_PERCENT:g} % of the end of the scale."
            )
        return value

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        kind = data.get("kind")
        if kind is None:
            return data
        sizes: dict[str, Typed] = {}
        usual = preferences.unit(DIMENSIONS[kind], "")
        for key in ("span", "mark"):
            if not data.get(key):
                continue
            try:
                data[key] = with_point(data[key])
                of_span = sizes["span"].unit if "span" in sizes else None  # a scale has one unit
                sizes[key] = units.parse(data[key], DIMENSIONS[kind], of_span, usual=usual or None)
                data[key] = with_unit(sizes[key])
            except UnitFault as fault:
                self.add_error(key, f"“{data[key]}”: {fault}")
                continue
            if kind != "thermometer" and sizes[key].value_si <= 0:
                self.add_error(key, f"“{data[key]}”: more than nothing is expected.")
        if kind == "gauge" and "span" in sizes and "span" not in self.errors:
            least, most = (units.parse(end, "pressure").value_si for end in GAUGE_SPAN)
            if not least <= sizes["span"].value_si <= most:
                self.add_error(
                    "span", f"“{data['span']}”: a gauge for a fork or a shock ends between {' and '.join(GAUGE_SPAN)}."
                )
        if len(sizes) == 2 and not self.errors and kind != "thermometer":
            marks = sizes["span"].value_si / sizes["mark"].value_si
            if not LEAST_MARKS <= marks <= MOST_MARKS:
                self.add_error(
                    "mark",
                    f"“{data['mark']}” on {data['span']} makes {marks:.4g} divisions; {LEAST_MARKS} to {MOST_MARKS} are expected.",
                )
        if kind == "gauge":
            for key, says in (("span", "the end of its scale"), ("mark", "one division"), ("accuracy", "its class")):
                if data.get(key) in (None, "") and key not in self.errors:
                    self.add_error(key, f"A gauge needs {says}: how far its readings may be off comes from it.")
        return data


@require_safe
def instruments(request: HttpRequest) -> HttpResponse:
    """Every instrument in use, then those put away."""
    rows = [
        (each, written(each.span), written(each.mark), written(each.hose_volume))
        for each in Instrument.objects.order_by("retired_at", "kind", "code")
    ]
    return render(request, "jobs/instruments.html", {"nav": "shelf", "rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def instrument_new(request: HttpRequest) -> HttpResponse:
    """Put an instrument on the list."""
    form = InstrumentForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        hose = data["hose"]
        row = Instrument.objects.create(
            code=data["code"], kind=data["kind"], name=data["name"], dimension=DIMENSIONS[data["kind"]], span=data["span"],
            mark=data["mark"], accuracy_class_percent=data["accuracy"],
            hose_volume="" if hose is None else with_unit(hose), **(_confirmed(request) if owner(request.user) else {}),
        )  # fmt: skip
        said = "" if row.confirmed_at else " Until an owner confirms it, no hold point is judged with it."
        messages.success(request, f"{row} is on the list.{said}")
        return redirect("instruments")
    context = {"nav": "shelf", "form": form, "groups": drawn(form, form.groups)}
    return render(request, "jobs/instrument.html", context, status=422 if form.errors else 200)


def _confirmed(request: HttpRequest) -> dict[str, Any]:
    return {"confirmed_at": clock.now(), "confirmed_by": request.user}


@owner_only
@require_POST
@writes
def instrument_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """An owner says that what stands on the list is what stands on the instrument: from now on it judges hold points."""
    row = get_object_or_404(Instrument, pk=pk)
    if row.confirmed_at is None:
        for name, value in _confirmed(request).items():
            setattr(row, name, value)
        row.save(update_fields=["confirmed_at", "confirmed_by"])
    messages.success(request, f"{row} is confirmed.")
    return redirect("instruments")


@require_POST
@writes
def instrument_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an instrument away: its readings stay, no new one is taken with it."""
    row = get_object_or_404(Instrument, pk=pk)
    if row.retired_at is None:
        row.retired_at = clock.now()
        row.save(update_fields=["retired_at"])
    messages.success(request, f"{row} is put away. Its readings stay.")
    return redirect("instruments")
