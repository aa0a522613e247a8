"""The hand-over: written, looked at once more, then released. The release covers the job and stays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from topout.web.access.change import fingerprint, writes
from topout.web.access.gate import owner
from topout.web.fields import WordsField
from topout.web.jobs.records import drafts
from topout.web.jobs.records.models import Draft, Job, Remark
from topout.web.jobs.records.open import HandedOver, job_of, open_job, released
from topout.web.jobs.release import drafted, leaving
from topout.web.jobs.release import typed as in_drafts
from topout.web.jobs.release.contradictions import Fault, faults_of, sides
from topout.web.jobs.release.typed import PLACE, TYPED, read_lines

REASON_LETTERS = 500
FIT = {"yes": "fit to ride", "no": "not fit to ride, and the rider was told"}


class HandOverForm(forms.Form):
    """What the rider is told. Found and left come from the readings and may be worded here."""

    found = WordsField(letters=4000, rows=5, label="Found", missing="Write what was found.")
    done = WordsField(letters=4000, rows=4, label="Done", missing="Write what was done.")
    left = WordsField(letters=4000, rows=5, label="Left", missing="Write how it is left.")
    defects = WordsField(
        letters=2000, rows=3, label="Defects and declined work", required=False, help_text="One on a line; none, if there are none.",
    )  # fmt: skip
    notes = WordsField(
        letters=1000, rows=3, label="For the rider", required=False,
        help_text="What to watch, and when to come by. It stands on the sheet.",
    )  # fmt: skip
    next_service = WordsField(
        letters=200, label="Next service", missing="Say when the next service is due.", help_text="“after 50 hours of riding”",
    )  # fmt: skip
    fit_to_ride = forms.ChoiceField(
        label="The bike is", choices=list(FIT.items()), widget=forms.RadioSelect, error_messages={"invalid_choice": "Choose one of the two."},
    )  # fmt: skip

    def __init__(self, job: Job, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        what = job.unit.what.noun if job.bike_id is None and job.unit is not None else "bike"  # one by post came alone
        self.must = (
            f"Needed: all but what is for the rider. Defects only where the {what} is not fit to ride. "
            "You see all of it again before it is released."
        )
        self.fields["fit_to_ride"].label = f"The {what} is"
        self.fields["fit_to_ride"].error_messages["required"] = f"Say whether the {what} is fit to ride."

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("fit_to_ride") == "no" and not data.get("defects") and "defects" not in self.errors:
            self.add_error("defects", "Say what makes it unfit to ride.")
        return data


def told(job: Job, stage: str) -> str:
    """The readings that count, one on a line."""
    lines = read_lines(job, stage)
    if stage == "as-found":
        lines += Remark.objects.filter(job=job, kind="condition").order_by("sequence").values_list("words", flat=True)
    return "\n".join(lines)


def _job(request: HttpRequest, number: int) -> Job:
    """The job, whose hand-over is neither shown nor taken once it is handed over."""
    job = job_of(request, number)
    if released(job):
        raise HandedOver(job)
    return job


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def write(request: HttpRequest, number: int) -> HttpResponse:
    """Write the hand-over; it is kept as a draft until it was looked at once more."""
    job = _job(request, number)
    faults, typed = faults_of(job), None
    if request.method == "POST":
        form = HandOverForm(job, request.POST)
        fit = form["fit_to_ride"].value() != "no"
        if form.is_valid() and not any(each.stops(fit) for each in faults):
            drafts.keep(request.change, job, PLACE, dict(form.cleaned_data))  # type: ignore[attr-defined]
            drafts.gone(job, TYPED)
            return redirect("hand-over-check", number)
    else:
        typed = drafts.find(job, TYPED)
        form = HandOverForm(job, initial=_offered(job) | (typed.fields if typed else {}))
        fit = form["fit_to_ride"].value() != "no"
    stops = [each.words for each in faults if each.stops(fit)]
    context = {
        "nav": "bench", "job": job, "form": form, "stops": stops, "draft": typed, "sides": sides(job),
        "against": [each.words for each in faults if not each.stops(fit)], "fit": fit,
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
    with drafts.typing(request) as doing:
        job = open_job(number)
        form = HandOverForm(job, initial=_offered(job))
        return drafts.take(request, doing, job, TYPED, form, reverse("hand-over", args=[number]))


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def check(request: HttpRequest, number: int) -> HttpResponse:
    """Everything once more, with a way back to each answer; then the release."""
    job = _job(request, number)
    kept = drafts.find(job, PLACE)
    if kept is None:
        return redirect("hand-over", number) if request.method != "POST" else _gone(request, job)
    form = HandOverForm(job, kept.fields)
    valid = form.is_valid()
    refused: tuple[str, ...] = ()
    fit = form["fit_to_ride"].value() == "yes"
    faults = faults_of(job)
    sent: Mapping[str, Any] = request.POST if request.method == "POST" else {}
    found, left, defects = (str(kept.fields.get(name, "")) for name in ("found", "left", "defects"))
    untold = [*in_drafts.against(job, found, left), *drafted.not_told(job, defects.splitlines())]
    untold += in_drafts.to_nobody(job, str(kept.fields.get("notes", "")))
    faults += [Fault(words, always=True) for words in untold]
    drawn = mark(job, kept, faults)
    old = request.method == "POST" and sent.get("drawn_at") != drawn
    if request.method == "POST" and valid and not old:
        data = form.cleaned_data
        try:
            with transaction.atomic():
                leaving.hand_over(
                    request.change, job, found=data["found"], done=data["done"], left=data["left"],  # type: ignore[attr-defined]
                    defects=[line.strip() for line in data["defects"].splitlines() if line.strip()],
                    next_service=data["next_service"], notes=data["notes"], fit_to_ride=fit, reason=str(sent.get("reason", ""))[:REASON_LETTERS],
                )  # fmt: skip
        except leaving.NotYet as not_yet:
            refused = not_yet.faults
        else:
            messages.success(request, f"Job {number} is handed over.")
            return redirect("job", number)
    stops = [each.words for each in faults if each.stops(fit)]
    against = [each.words for each in faults if not each.stops(fit)]
    rows = [(field.label, _once_more(job, field.name, field.value()), field.auto_id) for field in form]
    context = {
        "nav": "bench", "job": job, "rows": rows, "stops": stops, "drawn_at": drawn,
        "against": against, "fit": fit, "sides": sides(job), "old": old, "blocked": bool(fit and against and not owner(request.user)),
        "refused": refused if not stops else (), "reason": sent.get("reason", ""), "letters": REASON_LETTERS,
    }  # fmt: skip
    return render(request, "jobs/hand_over_check.html", context, status=409 if request.method == "POST" else 200)


def mark(job: Job, kept: Draft, faults: Sequence[Fault]) -> str:
    """Stands for what was looked at: what is released is that, the readings beside it and what stood against it."""
    return f"{kept.at.isoformat()} {fingerprint([[each.words for each in faults], [str(each) for each in sides(job)]])}"


def _once_more(job: Job, name: str, value: str) -> str:
    """An answer as it is looked at once more; a reading that stands in the table above it is not said again."""
    if name == "fit_to_ride":
        return FIT.get(value, value)
    stage = {"found": "as-found", "left": "as-left"}.get(name)
    if stage is None:
        return value
    in_table = set(read_lines(job, stage))
    lines = value.splitlines()
    own = [line for line in lines if line.strip() not in in_table]
    return value if len(own) == len(lines) else "\n".join(["The readings, as in the table.", *own])


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
