"""The hand-over: written, looked at once more, then released. The release covers the job and stays."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from topout.web.access.change import writes
from topout.web.fields import WordsField
from topout.web.jobs.readings import show
from topout.web.jobs.records import drafts, readings
from topout.web.jobs.records.kinds import label
from topout.web.jobs.records.models import Job, Reading, Release, Remark
from topout.web.jobs.records.open import job_or_404
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.release import drafted, leaving
from topout.web.jobs.steps import sign

PLACE = "hand-over"  # of what is written and looked at once more
TYPED = "hand-over:typed"  # of what is typed and not yet sent
FIT = {"yes": "fit to ride", "no": "not fit to ride, and the rider was told"}


class HandOverForm(forms.Form):
    """What the rider is told. Found and left come from the readings and may be worded here."""

    must = "Needed: all but the defects, and those too where the bike is not fit to ride."

    found = WordsField(letters=4000, rows=5, label="Found", missing="Write what was found.")
    done = WordsField(letters=4000, rows=4, label="Done", missing="Write what was done.")
    left = WordsField(letters=4000, rows=5, label="Left", missing="Write how it is left.")
    defects = WordsField(
        letters=2000, rows=3, label="Defects and declined work", required=False, help_text="One on a line; none, if there are none.",
    )  # fmt: skip
    next_service = WordsField(
        letters=200, label="Next service", missing="Say when the next service is due.", help_text="“after 50 hours of riding”",
    )  # fmt: skip
    fit_to_ride = forms.ChoiceField(
        label="The bike is", choices=list(FIT.items()), widget=forms.RadioSelect,
        error_messages={"required": "Say whether the bike is fit to ride.", "invalid_choice": "Choose one of the two."},
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("fit_to_ride") == "no" and not data.get("defects") and "defects" not in self.errors:
            self.add_error("defects", "Say what makes it unfit to ride.")
        return data


def in_the_way(job: Job) -> list[str]:
    """What must be done before the job can be handed over; each a sentence."""
    stages = set(Reading.objects.filter(job=job, corrected_by=None).values_list("stage", flat=True))
    found = []
    if "as-found" not in stages:
        found.append("How it was found is not written down.")
    if job.procedure:
        if current_plan(job) is None:
            found.append("No plan is frozen.")
        elif not sign.finished(job):
            found.append("The steps are not all signed.")
    if "as-left" not in stages:
        found.append("How it is left is not written down.")
    return found


def told(job: Job, stage: str) -> str:
    """The readings that count, one on a line."""
    lines = []
    for reading in readings.current(job, stage).values():
        lines.append(f"{label(reading.kind)}: {show.in_words(reading)}")
    if stage == "as-found":
        lines += Remark.objects.filter(job=job, kind="condition").order_by("sequence").values_list("words", flat=True)
    return "\n".join(lines)


def _open(job: Job) -> None:
    if Release.objects.filter(job=job).exists():
        raise PermissionDenied(f"Job {job.number} is handed over already. A come-back is a new job.")


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def write(request: HttpRequest, number: int) -> HttpResponse:
    """Write the hand-over; it is kept as a draft until it was looked at once more."""
    job = job_or_404(number)
    _open(job)
    stops = in_the_way(job)
    typed = None
    if request.method == "POST":
        form = HandOverForm(request.POST)
        if form.is_valid() and not stops:
            drafts.keep(request.change, job, PLACE, dict(form.cleaned_data))  # type: ignore[attr-defined]
            drafts.gone(job, TYPED)
            return redirect("hand-over-check", number)
    else:
        typed = drafts.find(job, TYPED)
        form = HandOverForm(initial=_offered(job) | (typed.fields if typed else {}))
    context = {
        "nav": "bench", "job": job, "form": form, "stops": stops, "draft": typed,
        "draft_place": reverse("hand-over-draft", args=[number]),
    }  # fmt: skip
    return render(
        request,
        "jobs/hand_over.html",
        context,
        status=422 if form.errors or (stops and request.method == "POST") else 200,
    )


def _offered(job: Job) -> dict[str, Any]:
    """What stands in the form before anybody types: what was written last, else the readings that count."""
    kept = drafts.find(job, PLACE)
    if kept is not None:
        return dict(kept.fields)
    return {
        "found": told(job, "as-found"),
        "left": told(job, "as-left"),
        "done": "\n".join(drafted.done(job)),
        "defects": "\n".join(drafted.not_checked(job)),
        "next_service": drafted.next_service(job),
    }


@require_POST
def draft(request: HttpRequest, number: int) -> HttpResponse:
    """Keep what is typed of a hand-over and not yet sent; what stands as it was offered is offered anew."""
    job = job_or_404(number)
    _open(job)
    form = HandOverForm(initial=_offered(job))
    return drafts.take(request, job, TYPED, form, reverse("hand-over", args=[number]))


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def check(request: HttpRequest, number: int) -> HttpResponse:
    """Everything once more, with a way back to each answer; then the release."""
    job = job_or_404(number)
    _open(job)
    kept = drafts.find(job, PLACE)
    if kept is None:
        return redirect("hand-over", number) if request.method != "POST" else _gone(request, job)
    form = HandOverForm(kept.fields)
    stops = in_the_way(job)
    if (
        request.method == "POST"
        and form.is_valid()
        and not stops
        and request.POST.get("drawn_at") == kept.at.isoformat()
    ):
        data = form.cleaned_data
        leaving.hand_over(
            request.change, job, found=data["found"], done=data["done"], left=data["left"],  # type: ignore[attr-defined]
            defects=[line.strip() for line in data["defects"].splitlines() if line.strip()],
            next_service=data["next_service"], fit_to_ride=data["fit_to_ride"] == "yes",
        )  # fmt: skip
        messages.success(request, f"Job {number} is handed over.")
        return redirect("job", number)
    rows = [
        (
            field.label,
            FIT.get(field.value(), field.value()) if field.name == "fit_to_ride" else field.value(),
            field.auto_id,
        )
        for field in form
    ]
    context = {
        "nav": "bench", "job": job, "rows": rows, "stops": stops, "drawn_at": kept.at.isoformat(),
        "old": request.method == "POST" and not stops,
    }  # fmt: skip
    return render(request, "jobs/hand_over_check.html", context, status=409 if request.method == "POST" else 200)


def _gone(request: HttpRequest, job: Job) -> HttpResponse:
    context = {
        "nav": "bench",
        "job": job,
        "rows": [],
        "stops": ["Nothing is written for the hand-over yet."],
        "drawn_at": "",
        "old": False,
    }
    return render(request, "jobs/hand_over_check.html", context, status=409)
