"""A bench file out of the Book, and into it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from topout.errors import FaultsFound
from topout.web.access.change import writes
from topout.web.book import guessed, keeping, worth
from topout.web.book import tables as bench_tables
from topout.web.book.forms import ImportForm
from topout.web.book.kinds import KINDS
from topout.web.book.models import Rider, Unit
from topout.web.book.views import doing_of, form_methods


@require_safe
def export(request: HttpRequest, pk: int) -> HttpResponse:
    """The bike of a unit with that unit, as a bench file."""
    unit = get_object_or_404(Unit.objects.select_related("bike__rider", "family"), pk=pk)
    bike = unit.bike
    rider = bike.rider.tables if bike and bike.rider else {}
    whole = bench_tables.merged(rider, bench_tables.fitted(bike.tables if bike else {}, unit.whole_tables()))
    whole = bench_tables.one_rear_sag(whole)
    text = bench_tables.toml(whole | guessed.table(guessed.keys(unit), whole))
    response = render(
        request, "book/bench_file.toml", {"unit": unit, "text": text}, content_type="application/toml; charset=utf-8"
    )
    response.headers["Content-Disposition"] = f'attachment; filename="unit-{pk}.toml"'
    return response


@form_methods
@writes
def take_in(request: HttpRequest, rider_pk: int) -> HttpResponse:
    """Read a bench file into a bike and a unit of this rider; every finding at once, nothing half-saved."""
    rider = get_object_or_404(Rider, pk=rider_pk, erased_at=None)
    form = ImportForm(request.POST, request.FILES) if request.method == "POST" else ImportForm()
    faults: list[tuple[str, str]] = []
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        data = file.read(bench_tables.MOST_BYTES + 1) if file else form.cleaned_data["text"].encode()
        try:
            rider_tables, bike_tables, unit_tables = keeping.take_apart(data)
            bench = bench_tables.read_bytes(data)
        except FaultsFound as found:
            box = "id_file" if file else "id_text"
            faults = [(box, str(fault)) for fault in found.faults]
        else:
            doing = doing_of(request)
            was, rider.tables = rider.tables, bench_tables.merged(rider.tables, rider_tables)
            rider.worth = worth.after(was, rider.tables, rider.worth, "")
            rider.save()
            bike = keeping.make_bike(doing, rider=rider, name=form.cleaned_data["bike_name"], tables=bike_tables)
            for nth, (kind, tables) in enumerate(unit_tables.items()):
                name = form.cleaned_data["unit_name"] + (f", {KINDS[kind].words}" if nth else "")
                known = guessed.worth_of(bench, KINDS[kind].noun)
                keeping.make_unit(doing, bike=bike, name=name[:120], tables=tables, kind=kind, worth=known)
            with_units = "its unit" if len(unit_tables) == 1 else "both its units"
            messages.success(request, f"{bike} is in the Book, with {with_units}.")
            return redirect("bike", bike.pk)
    context = {"nav": "book", "form": form, "rider": rider, "faults": faults}
    return render(request, "book/import.html", context, status=422 if faults or form.errors else 200)
