"""The job card: asked, as found, plan, steps, as left, handed over, in the order in which it happened."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from topout.web.access.change import writes
from topout.web.access.gate import person
from topout.web.fields import WordsField
from topout.web.jobs import bridge, keeping, readings, show, state
from topout.web.jobs.models import IMMUTABLE, Job, Photo, Release, Remark


def job_or_404(number: int) -> Job:
    """The job with what its pages show."""
    return get_object_or_404(
        Job.objects.select_related("rider", "bike", "unit__family", "technician", "taken_in_by", "comes_back_from"),
        number=number,
    )


class WaitForm(forms.Form):
    """What a job waits for."""

    words = WordsField(
        letters=300, label="What it waits for", missing="Say what it waits for.", help_text="“two bushings, 35 mm”"
    )


@require_safe
def card(request: HttpRequest, number: int) -> HttpResponse:
    """Everything that is known about one job."""
    job = job_or_404(number)
    frozen = bridge.current_plan(job)
    remarks = list(Remark.objects.filter(job=job).select_related("who").order_by("sequence"))
    last = max(
        (row for model in IMMUTABLE for row in model._default_manager.filter(job=job).select_related("who").order_by("-sequence")[:1]),
        key=lambda row: row.sequence, default=None,
    )  # fmt: skip
    on_stand = state.last_worked_on([job]) == job.pk
    context: dict[str, Any] = {
        "nav": "bench", "job": job, "next": state.next_of(job, on_stand), "frozen": frozen,
        "plan_rows": show.plan_rows(frozen) if frozen else [],
        "warnings": show.warnings(frozen) if frozen else [],
        "found": [show.reading_row(row) for row in readings.rows(job, "as-found")],
        "left": [show.reading_row(row) for row in readings.rows(job, "as-left")],
        "conditions": [row for row in remarks if row.kind == "condition"],
        "remarks": [row for row in remarks if row.kind != "condition"],
        "photos": Photo.objects.filter(job=job).order_by("sequence"),
        "release": Release.objects.filter(job=job).select_related("who").first(),
        "come_backs": job.come_backs.order_by("number"),
        "steps": _steps(job),
        "saved": last.at if last else None, "saved_by": person(last.who) if last else "",
    }  # fmt: skip
    return render(request, "jobs/card.html", context)


def _steps(job: Job) -> Any:
    if not job.procedure:
        return None
    from topout.web.jobs import steps

    return steps.lines(job)


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def wait(request: HttpRequest, number: int) -> HttpResponse:
    """Say what a job waits for, or that it goes on."""
    job = job_or_404(number)
    last = Remark.objects.filter(job=job, kind__in=("waits", "goes on")).order_by("-sequence").first()
    waiting = last is not None and last.kind == "waits"
    form = WaitForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and request.POST.get("goes-on"):
        keeping.remark(request.change, job, "goes on", "It goes on.")  # type: ignore[attr-defined]
        return redirect("job", number)
    if request.method == "POST" and form.is_valid():
        keeping.remark(request.change, job, "waits", form.cleaned_data["words"])  # type: ignore[attr-defined]
        return redirect("job", number)
    context = {"nav": "bench", "job": job, "form": form, "waiting": waiting, "last": last}
    return render(request, "jobs/wait.html", context, status=422 if form.errors else 200)
