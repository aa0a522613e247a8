"""The job card: asked, as found, plan, steps, as left, handed over, in the order in which it happened."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from topout.web.access.change import writes
from topout.web.book import history
from topout.web.fields import WordsField
from topout.web.jobs import core
from topout.web.jobs.desk import up_next
from topout.web.jobs.plan.frozen import told
from topout.web.jobs.readings import show
from topout.web.jobs.records import changes, own, readings
from topout.web.jobs.records.models import IMMUTABLE, Job, Photo, Release, Remark
from topout.web.jobs.records.open import job_of, job_or_404
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.steps.lines import lines_of
from topout.web.jobs.steps.progress import Progress


class WaitForm(forms.Form):
    """What a job waits for."""

    words = WordsField(
        letters=300,
        label="What it waits for",
        missing="Say what it waits for.",
        help_text="“two bushings”, “an answer from the rider”",
    )


@require_safe
def card(request: HttpRequest, number: int) -> HttpResponse:
    """Everything that is known about one job."""
    job = job_or_404(number)
    frozen = current_plan(job)
    remarks = list(Remark.objects.filter(job=job).order_by("sequence"))
    last = max(
        (row for model in IMMUTABLE for row in model._default_manager.filter(job=job).order_by("-sequence")[:1]),
        key=lambda row: row.sequence, default=None,
    )  # fmt: skip
    release = Release.objects.filter(job=job).select_related("notes").first()
    have = up_next.standings([job], released=[job.pk] if release else [])
    on_stand = up_next.last_worked_on(have) == job.pk
    context: dict[str, Any] = {
        "nav": "bench", "job": job, "next": up_next.next_of(job, on_stand, have[job.pk]), "frozen": frozen,
        "plan": told(frozen) if frozen else None,
        "found": [show.reading_row(row, job.noun) for row in readings.rows(job, "as-found")],
        "left": [show.reading_row(row, job.noun) for row in readings.rows(job, "as-left")],
        "conditions": [row for row in remarks if row.kind == "condition"],
        "remarks": [row for row in remarks if row.kind != "condition"],
        "photos": Photo.objects.filter(job=job).order_by("sequence"),
        "release": release,
        "come_backs": sorted(job.come_backs.order_by(), key=lambda back: back.number),  # in order, SQLite may read all jobs
        "dangers": have[job.pk].dangers,
        "elsewhere": "" if release else core.elsewhere(job), "own_steps": own.unchecked(job),
        "steps": _steps(job, have[job.pk].here), "set": _pressure(have[job.pk]),
        "changes": history.of(job)[:-1],  # the oldest is the taking in itself
        "saved": last.at if last else None, "saved_by": last.who_name if last else "",
    }  # fmt: skip
    return render(request, "jobs/card.html", context)


def _pressure(have: up_next.Standing) -> str:
    """What a rider asks for on the telephone: the pressure as left, else what the plan sets, else as found."""
    for stage, says in (("as-left", "Left with"), ("as-found", "Found with")):
        reading = have.records.readings.get((stage, "pressure"))
        if reading is not None:
            return f"{says} {show.in_short(reading)}."
        if have.records.frozen is not None:
            return core.sentence_of(have.records.frozen)
    return ""


def _steps(job: Job, here: Progress | None) -> Any:
    if here is not None:
        return lines_of(here)
    return [] if job.procedure else None


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def wait(request: HttpRequest, number: int) -> HttpResponse:
    """Say what a job waits for, or that it goes on."""
    job = job_of(request, number)
    last = Remark.objects.filter(job=job, kind__in=("waits", "goes on")).order_by("-sequence").first()
    waiting = last is not None and last.kind == "waits"
    form = WaitForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and request.POST.get("goes-on"):
        changes.remark(request.change, job, "goes on", "It goes on.")  # type: ignore[attr-defined]
        return redirect("job", number)
    if request.method == "POST" and form.is_valid():
        changes.remark(request.change, job, "waits", form.cleaned_data["words"])  # type: ignore[attr-defined]
        return redirect("job", number)
    context = {"nav": "bench", "job": job, "form": form, "waiting": waiting, "last": last}
    return render(request, "jobs/wait.html", context, status=422 if form.errors else 200)
