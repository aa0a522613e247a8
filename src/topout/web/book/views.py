"""Pages of the Book: riders, bikes, units, families."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from topout.web import onward
from topout.web.access.change import ChangeContext, writes
from topout.web.access.gate import owner_only
from topout.web.book import ends, far_in, fitting, history, keeping, worth
from topout.web.book.forms import BikeForm, FamilyForm, RiderForm, TablesForm, UnitForm
from topout.web.book.kinds import KINDS
from topout.web.book.models import Bike, Family, Rider, Unit

SHOWN = 60  # rows of a list; the find box finds the rest
form_methods = require_http_methods(["GET", "HEAD", "POST"])


def doing_of(request: HttpRequest) -> ChangeContext:
    """The change that this request runs in; views marked `@writes` have one on POST."""
    doing: ChangeContext = request.change  # type: ignore[attr-defined]
    return doing


def show_form(request: HttpRequest, form: TablesForm, title: str, button: str, back: str, **more: Any) -> HttpResponse:
    """The page of a form of tables."""
    from_page = onward.back(request)
    context = {
        "nav": "book", "form": form, "title": title, "button": button, "back": from_page or back, "from_page": from_page, **more,
    }  # fmt: skip
    return render(request, "book/form.html", context, status=422 if form.errors else 200)


def _then(request: HttpRequest, name: str, pk: int) -> HttpResponse:
    """On to the page that the form was reached from, a plan perhaps; else to that of the row itself."""
    return redirect(onward.back(request) or reverse(name, args=[pk]))


def _wanted_kind(request: HttpRequest) -> str:
    """The kind of unit that the page's links ask for, or "" for what stands there."""
    wanted = request.GET.get("kind", "")
    return wanted if wanted in KINDS else ""


@require_safe
def book(request: HttpRequest) -> HttpResponse:
    """The first of the riders, bikes and units, and every family; the box in the head finds the others."""
    context = {
        "nav": "book", "riders": Rider.objects.filter(erased_at=None)[:SHOWN], "bikes": Bike.objects.select_related("rider")[:SHOWN],
        "units": Unit.objects.select_related("bike__rider", "family")[:SHOWN], "families": Family.objects.all(), "shown": SHOWN,
    }  # fmt: skip
    return render(request, "book/book.html", context)


@require_safe
def rider(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Rider, pk=pk)
    context = {
        "nav": "book",
        "rider": row,
        "bikes": row.bikes.prefetch_related("units"),
        "alone": Unit.objects.filter(Q(jobs__rider=row) | Q(came_off__rider=row), bike=None).distinct().order_by("pk"),
        "facts": worth.facts(row),
        "jobs": row.jobs.order_by("-number"),
    }
    return render(request, "book/rider.html", context)


@form_methods
@writes
def rider_new(request: HttpRequest) -> HttpResponse:
    form = RiderForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        row = keeping.make_rider(
            doing_of(request),
            tables=form.tables,
            worth=form.worth_of(None),
            **{key: data[key] for key in ("name", "phone", "email", "address")},
        )
        messages.success(request, f"{row} is in the Book.")
        return redirect("rider", row.pk)
    return show_form(request, form, "A new rider", "Put the rider in the Book", "/book/")


@form_methods
@writes
def rider_change(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Rider, pk=pk, erased_at=None)
    form = RiderForm(request.POST if request.method == "POST" else None, rider=row)
    if history.to_save(request, form, row):
        for name in ("name", "phone", "email", "address"):
            setattr(row, name, form.cleaned_data[name])
        row.worth, row.tables = form.worth_of(row), form.tables
        row.save()
        messages.success(request, f"{row} is changed.")
        return _then(request, "rider", row.pk)
    back = f"/book/riders/{pk}/"
    return show_form(request, form, f"Change {row}", "Save the rider", back, as_of=history.stamp(row))


@form_methods
@owner_only
@writes
def rider_erase(request: HttpRequest, pk: int) -> HttpResponse:
    """The check before a rider is erased, and the erasing."""
    row = get_object_or_404(Rider, pk=pk, erased_at=None)
    if request.method == "POST":
        keeping.erase_rider(doing_of(request), row)
        messages.success(request, "The rider is erased. Jobs and readings stay, without a name.")
        return redirect("rider", row.pk)
    return render(request, "book/erase.html", {"nav": "book", "rider": row, "jobs": row.jobs.count()})


@require_safe
def bike(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Bike.objects.select_related("rider"), pk=pk)
    context = {"nav": "book", "bike": row, "units": row.units.all(), "jobs": row.jobs.order_by("-number")}
    context["not_told"] = ends.not_told(row)
    context["off"] = [(each, ends.where(each)) for each in ends.came_off(row)]
    context["facts"] = worth.facts(row)
    context["changes"] = history.of(row)
    return render(request, "book/bike.html", context)


@form_methods
@writes
def bike_new(request: HttpRequest, rider_pk: int) -> HttpResponse:
    owner = get_object_or_404(Rider, pk=rider_pk, erased_at=None)
    form = BikeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        row = keeping.make_bike(
            doing_of(request),
            rider=owner,
            name=data["name"],
            serial=data["serial"],
            tables=form.tables,
            worth=form.worth_of(None),
        )
        messages.success(request, f"{row} is in the Book.")
        return redirect("bike", row.pk)
    return show_form(request, form, f"A new bike of {owner}", "Put the bike in the Book", f"/book/riders/{rider_pk}/")


@form_methods
@writes
def bike_change(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Bike, pk=pk)
    form = BikeForm(request.POST if request.method == "POST" else None, bike=row)
    if history.to_save(request, form, row):
        row.worth = form.worth_of(row)
        row.name, row.serial, row.tables = form.cleaned_data["name"], form.cleaned_data["serial"], form.tables
        keeping.keep(doing_of(request), row)
        messages.success(request, f"{row} is changed.")
        return _then(request, "bike", row.pk)
    back = f"/book/bikes/{pk}/"
    return show_form(request, form, f"Change {row}", "Save the bike", back, as_of=history.stamp(row))


@require_safe
def unit(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Unit.objects.select_related("bike__rider", "family", "came_off"), pk=pk)
    context = {
        "nav": "book",
        "unit": row,
        "where": ends.where(row),
        "tags": row.tags.all(),
        "jobs": row.jobs.order_by("-number"),
    }
    context["facts"] = worth.facts(row)
    context["changes"] = history.of(row)
    context["far_in"] = far_in.kept(row)
    if row.bike is None:  # a unit sent by itself is whose who brought it last
        last = row.jobs.select_related("rider").order_by("-number").first()
        context["brought_by"] = last.rider if last is not None else None
    return render(request, "book/unit.html", context)


@form_methods
@writes
def unit_new(request: HttpRequest, bike_pk: int) -> HttpResponse:
    on = get_object_or_404(Bike, pk=bike_pk)
    form = UnitForm(request.POST if request.method == "POST" else None, bike=on, kind=_wanted_kind(request))
    if request.method == "POST" and form.is_valid():
        try:
            row = fitting.make(doing_of(request), on, form.there, form.cleaned_data.get("since"), form.unit_fields())
        except ends.CannotStand as why:
            form.add_error(None, str(why))
        else:
            messages.success(request, f"{row} is in the Book.")
            return _then(request, "unit", row.pk)
    title = f"A new {form.of.words} of {on}"
    return show_form(
        request, form, title, "Put the unit in the Book", f"/book/bikes/{bike_pk}/", kinds=KINDS.values(), on=on
    )


@form_methods
@writes
def unit_change(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Unit, pk=pk)
    form = UnitForm(request.POST if request.method == "POST" else None, unit=row, kind=_wanted_kind(request))
    if history.to_save(request, form, row):
        for key, value in form.unit_fields().items():
            setattr(row, key, value)
        keeping.keep(doing_of(request), row)
        messages.success(request, f"{row} is changed.")
        return _then(request, "unit", row.pk)
    return show_form(
        request,
        form,
        f"Change {row}",
        "Save the unit",
        f"/book/units/{pk}/",
        kinds=KINDS.values(),
        was=row.kind,
        unit=row,
        as_of=history.stamp(row),
    )


@form_methods
@writes
def family_new(request: HttpRequest) -> HttpResponse:
    form = FamilyForm(request.POST if request.method == "POST" else None, kind=_wanted_kind(request))
    if request.method == "POST" and form.is_valid():
        row = keeping.make_family(
            doing_of(request), tables=form.tables, **{key: form.cleaned_data[key] for key in ("name", "source", "kind")}
        )
        messages.success(request, f"The family {row} is in the Book.")
        return redirect("family-change", row.pk)
    return show_form(request, form, "A new family", "Put the family in the Book", "/book/", kinds=KINDS.values())


@form_methods
@writes
def family_change(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Family, pk=pk)
    form = FamilyForm(request.POST if request.method == "POST" else None, family=row, kind=_wanted_kind(request))
    if history.to_save(request, form, row):
        row.kind, row.name, row.source = (form.cleaned_data[key] for key in ("kind", "name", "source"))
        row.tables = form.tables
        keeping.keep(doing_of(request), row)
        messages.success(request, f"The family {row} is changed.")
        return redirect("family-change", row.pk)
    return show_form(
        request,
        form,
        f"Family {row}",
        "Save the family",
        "/book/",
        kinds=KINDS.values(),
        family=row,
        changes=history.of(row),
        as_of=history.stamp(row),
    )
