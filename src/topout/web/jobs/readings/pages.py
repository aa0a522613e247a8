"""Pages on which readings are written down and corrected."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout import units
from topout.units import UnitFault
from topout.web.access.change import writes
from topout.web.fields import TwoWays, echo, with_point
from topout.web.groups import drawn
from topout.web.jobs import core
from topout.web.jobs.readings import photos, show
from topout.web.jobs.readings.forms import CorrectForm, ReadingsForm, groups_of, value_field
from topout.web.jobs.records import changes, drafts, readings
from topout.web.jobs.records.kinds import FAR_IN, KINDS, Kind, kinds_of, label
from topout.web.jobs.records.models import STAGES, Job, Reading, StepEntry
from topout.web.jobs.records.open import HandedOver, job_of, open_job, released
from topout.web.jobs.records.plans import current_plan


def _boxes(form: Any) -> list[tuple[Any, str, str]]:
    """Each box with its unit and what was understood of it."""
    return [
        (
            field,
            getattr(form.fields[field.name], "unit_written", ""),
            (form.echo(field.name) if form.is_bound else "") or " ",
        )
        for field in form
    ]


def _kinds(job: Job, stage: str) -> tuple[Kind, ...]:
    """The kinds of reading of a stage; 404 for no stage."""
    if stage not in ("as-found", "as-left"):
        raise Http404
    return kinds_of(job, stage)


@require_http_methods(["GET", "HEAD", "POST"])
@photos.drawn_first
@writes
def write_down(request: HttpRequest, number: int, stage: str) -> HttpResponse:
    """Write down readings as found or as left."""
    job = job_of(request, number)
    kinds = _kinds(job, stage)
    if released(job):
        raise HandedOver(job)
    place, kept = drafts.of_readings(stage), None
    if request.method == "POST":
        form = ReadingsForm(request.POST, request.FILES, job=job, kinds=kinds, stage=stage)
        if form.is_valid():
            doing = request.change  # type: ignore[attr-defined]
            for taken in form.taken():
                readings.take(doing, job, stage, taken)
            if form.cleaned_data["condition"]:
                changes.remark(doing, job, "condition", form.cleaned_data["condition"])
            for picture in form.cleaned_data["photos"] or []:
                photos.keep(doing, job, picture, of=form.cleaned_data["photos-of"])
            drafts.gone(job, place)
            messages.success(request, f"Saved, job {number}, {STAGES[stage]}.")
            return redirect("job", number)
    else:
        kept = drafts.find(job, place)
        form = ReadingsForm(job=job, kinds=kinds, stage=stage, initial=kept.fields if kept else None)
    frozen = current_plan(job) if stage == "as-left" else None
    context = {
        "nav": "bench", "job": job, "form": form, "groups": drawn(form, groups_of(form), echo=True), "stage": STAGES[stage],
        "planned": core.sentence_of(frozen) if frozen is not None else "",
        "draft": kept, "draft_place": reverse("readings-draft", args=[number, stage]),
        "written": [show.reading_row(row, job.noun) for row in readings.rows(job, stage)],
    }  # fmt: skip
    return render(request, "jobs/readings.html", context, status=422 if form.errors else 200)


@require_POST
def draft(request: HttpRequest, number: int, stage: str) -> HttpResponse:
    """Keep what is typed and not yet saved of a stage's readings; photos are not kept."""
    with drafts.typing(request) as doing:
        job = open_job(number)
        kinds = _kinds(job, stage)
        form = ReadingsForm(job=job, kinds=kinds, stage=stage)
        return drafts.take(
            request, doing, job, drafts.of_readings(stage), form, reverse("readings", args=[number, stage])
        )


def _instead(job: Job, old: Reading) -> dict[str, str] | None:
    """Where a reading that can't be corrected here is mended; None where it can."""
    newest = old
    if old.kind == FAR_IN:
        words = "It was read held in. Strike it there, and read it again."
        return {"words": words, "place": reverse("far-in", args=[job.number]), "button": "To that page"}
    while (newer := Reading.objects.filter(corrects=newest).first()) is not None:
        newest = newer
    if newest.stage == "step":
        entry = _signed_with(job, newest)
        if entry is None:
            return {"words": "It was read at a step. Read it again there.", "place": reverse("steps", args=[job.number]), "button": "To the steps"}  # fmt: skip
        round_ = int(entry.evidence.get("round", 0))
        place = (
            reverse("step-round", args=[job.number, entry.step_key, round_])
            if round_
            else reverse("step", args=[job.number, entry.step_key])
        )
        words = f"It was read at step {entry.step_number}: {entry.evidence.get('said', '')} Read it again there."
        return {"words": words, "place": f"{place}?again", "button": f"To step {entry.step_number}"}
    if newest is not old:
        words = "It is corrected already. Correct the one in its place."
        return {"words": words, "place": reverse("correct", args=[job.number, newest.pk]), "button": "To the one that counts"}  # fmt: skip
    return None


def _signed_with(job: Job, reading: Reading) -> StepEntry | None:
    """The entry of the step that a reading was signed with."""
    for entry in StepEntry.objects.filter(job=job, verdict__in=("passed", "failed", "not-yet")).order_by("-sequence"):
        if any(row.get("reading") == reading.pk for row in entry.evidence.get("answers", {}).values()):
            return entry
    return None


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def correct(request: HttpRequest, number: int, pk: int) -> HttpResponse:
    """Correct a reading by a new one with a reason; the old one stays, struck."""
    job = job_of(request, number)
    old = get_object_or_404(Reading.objects.select_related("instrument"), pk=pk, job=job)
    instead = _instead(job, old)
    if instead is not None:
        context = {"nav": "bench", "job": job, "old": show.reading_row(old, job.noun), **instead}
        return render(request, "jobs/correct_elsewhere.html", context, status=409)
    kind = KINDS.get(old.kind) or Kind(old.kind, label(old.kind), high=1e6)
    if request.method == "POST":
        form = CorrectForm(request.POST, job=job, kind=kind)
        if form.is_valid():
            readings.correct(request.change, old, form.taken(), form.cleaned_data["reason"])  # type: ignore[attr-defined]
            messages.success(request, f"{kind.label} is corrected. Both stand on the card.")
            return redirect("job", number)
    else:
        initial = {f"{kind.key}-gauge": old.instrument.code if old.instrument else None, f"{kind.key}-of": old.of_range}
        form = CorrectForm(job=job, kind=kind, initial={**initial, f"{kind.key}-posture": old.posture})
    context = {"nav": "bench", "job": job, "form": form, "boxes": _boxes(form), "old": show.reading_row(old, job.noun)}
    return render(request, "jobs/correct.html", context, status=422 if form.errors else 200)


@require_safe
def understood(request: HttpRequest) -> HttpResponse:
    """What is understood of a box while it is typed in: a line of text, nothing is saved."""
    for name, text in request.GET.items():
        kind = KINDS.get(name)
        if kind is None or not kind.dimension or not isinstance(text, str) or not text.strip():
            continue
        field: Any = value_field(kind)
        try:
            typed = units.parse(with_point(text), kind.dimension, field.unit)
        except (UnitFault, TwoWays) as fault:
            return HttpResponse(str(fault), content_type="text/plain; charset=utf-8")
        return HttpResponse(echo(typed, field), content_type="text/plain; charset=utf-8")
    return HttpResponse("", content_type="text/plain; charset=utf-8")
