"""Where a job's unit stands while nobody works on it: asked where the work is stopped, shown there and on its tag."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from topout.web.access.change import writes
from topout.web.fields import WordsField
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job, Remark, StepEntry
from topout.web.jobs.records.open import HandedOver, job_of, released

LETTERS = 20  # what a line of the tag holds beside its name


class StandsForm(forms.Form):
    """The place, in a word or two."""

    stands = WordsField(
        letters=LETTERS, label="Where it stands", missing="Say where it stands.", help_text="As on the shelf’s own sign: rack 2.",
    )  # fmt: skip


def of(job: Job) -> str:
    """Where the unit stands now; empty where nobody said so since the work went on last."""
    said = Remark.objects.filter(job=job, kind="stands").order_by("-sequence").first()
    if said is None or StepEntry.objects.filter(job=job, verdict="started", sequence__gt=said.sequence).exists():
        return ""
    return said.words


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def stands(request: HttpRequest, number: int) -> HttpResponse:
    """Say where the unit stands. The last word counts; earlier ones stay on the card."""
    job = job_of(request, number)
    if released(job):
        raise HandedOver(job)
    form = StandsForm(request.POST if request.method == "POST" else None, initial={"stands": of(job)})
    if request.method == "POST" and form.is_valid():
        changes.remark(request.change, job, "stands", form.cleaned_data["stands"])  # type: ignore[attr-defined]
        messages.success(request, f"Noted: it stands in {form.cleaned_data['stands']}.")
        return redirect("steps" if request.POST.get("back") == "steps" else "job", number)
    return render(
        request, "jobs/stands.html", {"nav": "bench", "job": job, "form": form}, status=422 if form.errors else 200
    )
