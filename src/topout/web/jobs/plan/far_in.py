"""The gauge read with the fork or the shock held far in: what to do, what it may never be taken past, and what was read.

What is saved is a reading like any other, with gauge and person; the plan is told by it from then on. A wrong one is struck
with a reason.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.units import Typed, UnitFault
from topout.web.access import preferences
from topout.web.access.change import writes
from topout.web.book import far_in as on_unit
from topout.web.book import tables as bench_tables
from topout.web.fields import AskingForm, QuantityField, WordsField
from topout.web.groups import Group, drawn
from topout.web.jobs import core
from topout.web.jobs.core import far_in as ahead
from topout.web.jobs.core import hoses
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.readings import show
from topout.web.jobs.readings.forms import NO_GAUGE, InstrumentField
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import FAR_IN
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.open import HandedOver, job_of, open_job, released
from topout.web.jobs.records.readings import Taken

GROUPS = (Group("What was read", (("start", "held"), ("shown", "gauge"), ("past",)), close=True),)


class FarInForm(AskingForm):
    """One reading. It is looked at before it is taken: what it would do to the gauge, and whether any such unit shows it."""

    must = "Needed: all four. Numbers may carry their unit."

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        self.job, self.end, noun = job, core.end_of(job), ahead.noun(job)
        super().__init__(*args, **kwargs)
        psi, mm = preferences.unit("pressure", "psi"), preferences.unit("length", "mm")
        self.fields["start"] = QuantityField(
            dimension="pressure", unit="psi", first=psi, low=1, high=870, likely=(10, 60),
            label=f"Pumped to, {noun} at full length", help_text="Cycled a few times, the pump left on.",
        )  # fmt: skip
        self.fields["held"] = QuantityField(
            dimension="length", unit="mm", first=mm, low=5, high=300, label="Held in", help_text="By the tape, from full length.",
        )  # fmt: skip
        self.fields["shown"] = QuantityField(
            dimension="pressure", unit="psi", first=psi, low=1, high=870, label="The gauge shows, held in",
        )  # fmt: skip
        gauge = InstrumentField("gauge", label="Gauge", required=False)
        gauge.take_the_only_one()
        self.fields["gauge"] = gauge
        # Offered once it is asked about: a figure past what gauge or unit are for is kept only where it was read already.
        self.fields["past"] = forms.BooleanField(label="It was read already, all the same", required=False)
        if not self.data.get("past") and not self.is_bound:
            del self.fields["past"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("gauge") is None and "gauge" not in self.errors:
            self.add_error("gauge", NO_GAUGE)
        start, held, shown = (data.get(name) for name in ("start", "held", "shown"))
        if not isinstance(start, Typed) or not isinstance(held, Typed) or not isinstance(shown, Typed):
            return self._plain(data)
        file = core.bench(self.job, {})
        noun = ahead.noun(self.job)
        whole_m, whole = (file.fork.travel_m if file.fork is not None else None), "travel"
        if self.end == "rear":
            whole_m, whole = (file.shock.stroke_m if file.shock is not None else None), "stroke"
        if whole_m is not None and held.value_si >= whole_m:
            self.add_error("held", f"“{held.text}”: less than the {whole} is expected; the bumper is there.")
        elif shown.value_si <= start.value_si:
            self.add_error("shown", f"“{shown.text}”: held in, it shows more than at full length. Was it let go?")
        if self.errors:
            return self._plain(data)
        try:
            hose_m3 = hoses.volume_m3(data["gauge"]) or 0.0
        except UnitFault:
            self.add_error("gauge", "Its hose is not written as a volume. Mend it at the instruments.")
            return self._plain(data)
        data["hose_m3"] = hose_m3
        try:
            looked = ahead.looked(file, held.value_si, start.value_si, data["gauge"], hose_m3, self.end)
            ahead.with_reading(self.job, self.taken())
        except FaultsFound as found:
            for fault in found.faults:
                self.add_error(
                    "shown", bench_tables.in_words(f"{fault.value}: {fault.message}" if fault.value else fault.message)
                )
            return self._plain(data)
        if (looked.too_much or shown.value_si > looked.most_pa) and not data.get("past"):
            most = preferences.system().show(looked.most_pa, "pressure", "psi", decimals=0)
            self.add_error(
                "start",
                f"“{start.text}”: from there, held in so far, the gauge may pass {most}, which is the most for it or for this "
                f"{noun}. Don’t pump that far: let it down, or hold it less far in.",
            )
            return data
        return self._plain(data)

    def _plain(self, data: dict[str, Any]) -> dict[str, Any]:
        """Without the last question, which belongs to a figure past the most."""
        if not data.get("past"):
            self.fields.pop("past", None)
        return data

    def taken(self) -> Taken:
        """The reading."""
        data = self.cleaned_data
        held, start = data["held"], data["start"]
        system = preferences.system()
        at = system.show(held.value_si, "length", "mm", decimals=0)
        begun = system.show(start.value_si, "pressure", start.unit, decimals=0)
        return Taken.quantity(
            FAR_IN, data["shown"], "pressure", instrument=data["gauge"], held_m=held.value_si, start_si=start.value_si,
            hose_volume_m3=data["hose_m3"] or None,
            note=f"held in by {at}, from {begun}" + (f", past the most for gauge or {ahead.noun(self.job)}" if data.get("past") else ""),
        )  # fmt: skip


class StrikeForm(forms.Form):
    """Why a reading is taken out."""

    must = ""
    reason = WordsField(letters=300, label="Why it is wrong", missing="Say why this reading is wrong.")


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def far_in(request: HttpRequest, number: int) -> HttpResponse:
    """What to do, with its caution, the boxes for what was read, and what stands."""
    job = job_of(request, number)
    if released(job):
        raise HandedOver(job)
    why = ahead.why_not(job)
    if why:
        context = {"nav": "bench", "job": job, "later": why}
        return render(request, "jobs/plan_later.html", context, status=409 if request.method == "POST" else 200)
    form = FarInForm(request.POST if request.method == "POST" else None, job=job)
    if request.method == "POST" and form.is_valid():
        was, _ = ahead.end(_file(request, job), form.end)
        reading = readings.take(request.change, job, "as-found", form.taken())  # type: ignore[attr-defined]
        if job.unit is not None:
            on_unit.keep(
                request.change, job.unit, reading.pk, job=job.number, words=show.in_words(reading),  # type: ignore[attr-defined]
                gauge=str(reading.instrument or ""), tables=core.tables(job, {}),
            )  # fmt: skip
        now, _ = ahead.end(_file(request, job), form.end)
        said = ""
        if was is not None and now is not None:
            before, after = (preferences.system().show(one.half_width, "force", "N", decimals=-1) for one in (was, now))
            said = f" The bottom-out force was known to ± {before}, now to ± {after}."
        messages.success(request, f"Saved: {show.in_words(reading)}.{said}")
        asked = request.GET.urlencode()
        return redirect(f"{reverse('plan', args=[job.number])}{f'?{asked}' if asked else ''}")
    return _shown(request, job, form)


def _file(request: HttpRequest, job: Job) -> BenchFile:
    """The job's bike with the change that the plan page asked for, which the address carries on."""
    boxes = plan_boxes.draw(core.tables(job, {}), core.change_of(job), plan_boxes.sent_boxes(request.GET))
    return boxes.file if boxes.file is not None else core.bench(job, {})


@require_POST
@writes
def strike(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Strike a reading, with the reason."""
    job = open_job(number)
    row = next((each for each in readings.far_in(job) if each.pk == pk), None)
    if row is None:
        later = "No such reading of this job stands there: it may be struck already."
        return render(request, "jobs/plan_later.html", {"nav": "bench", "job": job, "later": later}, status=409)
    form = StrikeForm(request.POST)
    if form.is_valid():
        readings.strike(request.change, row, form.cleaned_data["reason"])  # type: ignore[attr-defined]
        if job.unit is not None:
            on_unit.take_out(request.change, job.unit, row.pk)  # type: ignore[attr-defined]
        messages.success(request, "The reading is struck. It stays on the card, with the reason.")
        return redirect("far-in", number=job.number)
    return _shown(request, job, FarInForm(job=job), form, pk)


@require_safe
def earlier(request: HttpRequest, number: int) -> HttpResponse:
    """What was read far in at other jobs of this unit, and of the shock behind: what the plan starts from, what lapsed and why."""
    return _earlier(request, job_of(request, number))


@require_POST
@writes
def strike_earlier(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Strike a reading of an earlier job, with the reason; this job says so from then on."""
    job = open_job(number)
    one = next((each for each in ahead.earlier(job) if each.row.pk == pk), None)
    if one is None:
        later = "No reading of an earlier job stands there: it may be struck already."
        return render(request, "jobs/plan_later.html", {"nav": "bench", "job": job, "later": later}, status=409)
    form = StrikeForm(request.POST)
    if not form.is_valid():
        return _earlier(request, job, form, pk)
    readings.strike(request.change, one.row, form.cleaned_data["reason"], job)  # type: ignore[attr-defined]
    on_unit.take_out(request.change, one.unit, pk)  # type: ignore[attr-defined]
    messages.success(request, "The reading is struck. It stays on both cards, with the reason.")
    return redirect("plan", number=job.number)


def _earlier(request: HttpRequest, job: Job, form: StrikeForm | None = None, at: int | None = None) -> HttpResponse:
    rows = ahead.earlier(job)
    told = [(each, form if each.row.pk == at and form is not None else StrikeForm(auto_id=f"id_{each.row.pk}_%s")) for each in rows]  # fmt: skip
    context = {"nav": "bench", "job": job, "noun": ahead.noun(job), "rows": told, "released": released(job)}
    return render(request, "jobs/far_in_earlier.html", context, status=200 if form is None else 422)


def _shown(
    request: HttpRequest, job: Job, form: FarInForm, strikes: StrikeForm | None = None, at: int | None = None
) -> HttpResponse:
    system = preferences.system()
    file, end = _file(request, job), core.end_of(job)
    start_pa, limit_pa = ahead.limits(file, end)
    try:
        _, firm = ahead.end(file, end)
        contradicts = ""
    except FaultsFound as found:
        firm, contradicts = None, bench_tables.fault_in_words(found.faults[0])
    rows = [(row, show.in_words(row), strikes if row.pk == at and strikes is not None else StrikeForm(auto_id=f"id_{row.pk}_%s")) for row in readings.far_in(job)]  # fmt: skip
    context = {
        "nav": "bench", "job": job, "noun": ahead.noun(job), "form": form, "groups": drawn(form, GROUPS, echo=True), "firm": firm, "rows": rows,
        "start": system.show(start_pa, "pressure", "psi", decimals=0, second=True), "contradicts": contradicts,
        "earlier": ahead.earlier(job),
        "limit": system.show(limit_pa, "pressure", "psi", decimals=0) if limit_pa is not None else "",
    }  # fmt: skip
    bad = form.errors or (strikes is not None and strikes.errors)
    return render(request, "jobs/far_in.html", context, status=422 if bad else 200)
