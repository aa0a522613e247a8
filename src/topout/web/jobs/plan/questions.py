"""Single questions about a job's plan: a sag wanted, a ride elsewhere, a landing, the rebound. Nothing is saved by asking."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from topout.bench_file.model import BenchFile, Ride
from topout.units import Typed
from topout.web.access import preferences
from topout.web.fields import CountField, QuantityField
from topout.web.jobs import core
from topout.web.jobs.core import questions
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.plan.gaps import not_begun
from topout.web.jobs.records import drafts, readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.open import job_of

OF_FORK = ("share", "sag", "end", "head_angle", "trail")  # what a shock's job is not asked


class QuestionsForm(forms.Form):
    """What may be asked; a box left empty asks nothing. `end` is the one that the job is about."""

    def __init__(self, data: Any = None, end: core.End = "front") -> None:
        super().__init__(data)
        system = preferences.system()
        self.fields["share"] = CountField(low=1, high=90, label="Sag wanted, of the travel", required=False)
        self.fields["sag"] = QuantityField(
            dimension="length", unit="mm", low=1, high=300, first=system.unit("length", "mm"), label="or as a length", required=False,
        )  # fmt: skip
        self.fields["end"] = QuantityField(
            dimension="force", unit="N", low=1, high=50_000, first=system.unit("force", "N"), label="Bottom-out force wanted", required=False,
        )  # fmt: skip
        self.fields["rear_share"] = CountField(
            low=1, high=90, label="Rear sag wanted, of the shock’s stroke", required=False
        )
        self.fields["rear_sag"] = QuantityField(
            dimension="length", unit="mm", low=1, high=120, first=system.unit("length", "mm"), label="or as a length of the stroke", required=False,
        )  # fmt: skip
        self.fields["head_angle"] = QuantityField(
            dimension="angle", unit="deg", low=45, high=90, label="Head angle wanted, unloaded", required=False,
        )  # fmt: skip
        self.fields["trail"] = QuantityField(
            dimension="length", unit="mm", low=0, high=300, first=system.unit("length", "mm"), label="Trail wanted, unloaded", required=False,
        )  # fmt: skip
        self.fields["temperature"] = QuantityField(
            dimension="temperature", unit="degC", low=-40, high=60, signed=True, first=system.unit("temperature", "degC"),
            label="Temperature there", required=False,
        )  # fmt: skip
        self.fields["altitude"] = QuantityField(
            dimension="length", unit="m", low=-400, high=6000, signed=True, first=system.unit("length", "m"), label="Height there", required=False,
        )  # fmt: skip
        self.fields["clicks"] = CountField(low=0, high=60, label="Rebound clicks from closed, now", required=False)
        self.fields["in_all"] = CountField(low=0, high=60, label="of so many in all", required=False)
        if end == "rear":
            self.fields = {name: field for name, field in self.fields.items() if name not in OF_FORK}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        clicks, in_all = data.get("clicks"), data.get("in_all")
        if in_all is not None and clicks is not None and clicks > in_all:
            self.add_error("in_all", "No fewer than the clicks now.")
        if data.get("share") is not None and data.get("sag") is not None:
            self.add_error("sag", "Give the sag once: per cent or a length.")
        if data.get("rear_share") is not None and data.get("rear_sag") is not None:
            self.add_error("rear_sag", "Give the rear sag once: per cent or a length.")
        return data


@require_safe
def ask(request: HttpRequest, number: int) -> HttpResponse:
    """The questions and what is said to them, for the plan that is in use or being worked out."""
    job = job_of(request, number)
    end = core.end_of(job)
    fitted = core.tables(job, {})
    if later := not_begun(job, fitted):
        return render(request, "jobs/plan_later.html", {"nav": "bench", "job": job, **later})
    draft = drafts.find(job, core.PLAN_DRAFT)
    boxes = plan_boxes.draw(fitted, core.change_of(job), draft.fields if draft is not None else None)
    form = QuestionsForm(request.GET if request.GET else _known(job), end)
    sprung_behind = boxes.file is not None and boxes.file.shock is not None
    context: dict[str, Any] = {
        "nav": "bench",
        "sprung_behind": sprung_behind,
        "end": end,
        "job": job,
        "form": form,
        "file_faults": boxes.faults,
        "draft": draft,
    }
    if boxes.file is not None and form.is_valid():
        told = _told(boxes.file, form.cleaned_data, end)
        replies = [each.reply for each in told.values() if each is not None and each.reply is not None]
        context |= {"told": told, "dangers": list(dict.fromkeys(each for reply in replies for each in reply.dangers))}
    return render(request, "jobs/questions.html", context, status=422 if form.errors else 200)


def _known(job: Job) -> dict[str, str]:
    """What the job's records answer already: the clicks as found."""
    found = readings.current(job, "as-found").get("rebound")
    if found is None:
        return {}
    return {"clicks": str(int(found.value_si)), "in_all": str(found.of_range or "")}


def _told(bench: BenchFile, asked: dict[str, Any], end: core.End) -> dict[str, questions.Answered | None]:
    """The answer to each question that was asked; the landing's stands there unasked."""
    told: dict[str, questions.Answered | None] = {"landing": questions.of_landing(bench, end)}
    told["target"] = _target(bench, asked)
    where = Ride(temperature_k=_si(asked["temperature"]), altitude_m=_si(asked["altitude"]))
    if where != Ride():
        told["ride"] = questions.of_ride(bench, where, end)
    if end == "front":
        told["ways"] = questions.of_ways(bench)
    told["rebound"] = questions.of_rebound(bench, asked["clicks"], asked["in_all"], end)
    return told


def _target(bench: BenchFile, asked: dict[str, Any]) -> questions.Answered | None:
    """What to set for what is asked of either end."""
    shares = {name: None if asked.get(name) is None else asked[name] / 100.0 for name in ("share", "rear_share")}
    return questions.of_target(
        bench,
        sag_m=_si(asked.get("sag")),
        sag_share=shares["share"],
        end_force_n=_si(asked.get("end")),
        head_angle_rad=_si(asked.get("head_angle")),
        trail_m=_si(asked.get("trail")),
        rear_sag_m=_si(asked.get("rear_sag")),
        rear_share=shares["rear_share"],
    )


def _si(typed: Typed | None) -> float | None:
    return None if typed is None else typed.value_si
