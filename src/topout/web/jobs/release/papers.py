"""The papers of a job: the set-up sheet as a PDF, and its tags for the label printer."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.documents import pdf, setup_sheet
from topout.documents import tag as paper
from topout.errors import FaultsFound, TopoutError
from topout.units import NO_BREAK
from topout.web.access import preferences
from topout.web.access.change import writes
from topout.web.access.codes import grouped, tidy
from topout.web.access.gate import only_here
from topout.web.access.models import Workshop
from topout.web.jobs import core
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.records.models import Job, ReleasedSheet
from topout.web.jobs.records.open import job_of, job_or_404, released
from topout.web.jobs.release import tags
from topout.web.jobs.release.leaving import TOO_LONG
from topout.web.jobs.release.sheet import sheet_of
from topout.web.jobs.release.tags import LabelForm
from topout.web.shelf import keeping as shelf
from topout.web.shelf.models import Tag
from topout.web.workshop.parts import PAPERS

CSS_PX_PER_MM = 96 / 25.4
LARGE = 2.8  # how many times its true size a tag is shown
PREVIEW_PPI = 300.0


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def papers(request: HttpRequest, number: int) -> HttpResponse:
    """What can be printed for a job; a tag for its unit is made here where it has none."""
    job = job_of(request, number)
    rows = tags.rows_of(job)
    loaded = unit_dangers.loaded_of(job)
    own = tags.of_unit(job, loaded)
    untagged = job.unit is not None and own is None
    if request.method == "POST":
        if untagged:
            made = shelf.make_tag(request.change, unit=job.unit, job_number=job.number)  # type: ignore[attr-defined]
            return redirect("job-tag", number, made.code)
        return redirect("job-tag", number, own.code) if own is not None else redirect("papers", number)
    context = {
        "nav": "bench", "job": job, "tags": rows, "untagged": untagged,
        "stopped_by": loaded, "own": own,
        "released": released(job), "sheet_paper": PAPERS[(preferences.workshop() or Workshop()).paper].partition(",")[0],
    }  # fmt: skip
    return render(request, "jobs/papers.html", context)


@require_safe
def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """The set-up sheet; once the job is handed over, the bytes that were kept then."""
    job = job_or_404(number)
    kept = ReleasedSheet.objects.filter(release__job=job).first()
    if kept is not None:
        return _file(bytes(kept.pdf), "application/pdf", f"set-up-sheet-{number}.pdf")
    try:
        told, as_of = sheet_of(job)
        made = setup_sheet.sheet_pdf(told, as_of)
    except pdf.DoesNotFit:
        return _unmade(request, job, TOO_LONG)
    except FaultsFound as found:
        return _unmade(request, job, core.not_readable(found))
    return _file(made, "application/pdf", f"set-up-sheet-{number}.pdf")


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def tag(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """A tag as it will be printed, and the label it is printed on."""
    job, row = _row(number, code)
    label = tags.label()
    form = LabelForm(
        request.POST if request.method == "POST" else None,
        initial=LabelForm.initial_of(preferences.workshop() or Workshop()),
    )
    if request.method == "POST" and form.is_valid():
        preferences.save(request.change, **form.values())  # type: ignore[attr-defined]
        messages.success(request, f"Tags are drawn for labels of {_sides(form.label())}.")
        return redirect("job-tag", number, row.code)
    refused, words, version, size = "", "", 0, 0.0
    try:
        drawn = tags.tag_of(job, row, tags.address(request, row))
        words, made = paper.spoken(drawn), paper.code_of(drawn)
        version, size = made.version, made.size_mm
        paper.tag_picture(
            drawn, label, "png", 72.0
        )  # a label too small for its words is said here, not in a broken picture
    except TopoutError as reason:
        refused = str(reason)
    context = {
        "nav": "bench", "job": job, "tag": row, "form": form, "words": words, "refused": refused, "version": version,
        "size": preferences.system().show(size / 1e3, "length", "mm", trim=True), "sides": _sides(label),
        "large": tuple(round(mm * CSS_PX_PER_MM * LARGE) for mm in (label.width_mm, label.length_mm)),
        "true": tuple(round(mm * CSS_PX_PER_MM) for mm in (label.width_mm, label.length_mm)),
        "address": tags.address(request, row).upper(), "only_here": only_here(request),
        "prints": row.prints.order_by("-number"), "boxes": [(field, preferences.unit("length", "mm")) for field in form],
    }  # fmt: skip
    return render(request, "jobs/papers_tag.html", context, status=422 if form.errors else 200)


def _sides(label: paper.Label) -> str:
    """A label's size: "60 × 40 mm"."""
    unit = preferences.unit("length", "mm")
    width, length = (tags.in_own_unit(mm) for mm in (label.width_mm, label.length_mm))
    return f"{float(width):.3g} × {float(length):.3g}{NO_BREAK}{unit}"


@require_POST
@writes
def print_tag(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """Write down that the label was asked for, with what it says now, and lead to it. Of a job that is handed over too."""
    job, row = _row(number, code)
    try:
        drawn = tags.tag_of(job, row, tags.address(request, row))
        paper.tag_pdf(drawn, tags.label(), row.made_at)
    except TopoutError as reason:
        return _unmade(request, job, str(reason))
    shelf.ask_for(request.change, row, paper.spoken(drawn), stop=drawn.kind == "stop")  # type: ignore[attr-defined]
    return redirect("job-tag-pdf", number, row.code)


@require_safe
def tag_pdf(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """The label, for the printer."""
    job, row = _row(number, code)
    try:
        drawn = tags.tag_of(job, row, tags.address(request, row))
        made = paper.tag_pdf(drawn, tags.label(), row.made_at)
    except TopoutError as reason:
        return _unmade(request, job, str(reason))
    return _file(made, "application/pdf", f"tag-{grouped(row.code)}.pdf")


@require_safe
def tag_png(request: HttpRequest, number: int, code: str) -> HttpResponse:
    """The label, for the page."""
    job, row = _row(number, code)
    try:
        drawn = tags.tag_of(job, row, tags.address(request, row))
        made = paper.tag_picture(drawn, tags.label(), "png", PREVIEW_PPI)
    except TopoutError as reason:
        return _unmade(request, job, str(reason))
    return _file(made, "image/png", f"tag-{grouped(row.code)}.png")


@require_safe
def held(request: HttpRequest, code: str) -> HttpResponse:
    """The address in a QR code is in capitals; it leads to the tag's own page."""
    if not tidy(code):
        raise Http404
    return redirect("tag", tidy(code))


def _row(number: int, code: str) -> tuple[Job, Tag]:
    job = job_or_404(number)
    for row in tags.rows_of(job):
        if row.code == tidy(code):
            return job, row
    raise Http404


def _file(made: bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(made, content_type=kind, headers={"Content-Disposition": f'inline; filename="{name}"'})


def _unmade(request: HttpRequest, job: Job, words: str) -> HttpResponse:
    return render(request, "jobs/papers_unmade.html", {"nav": "bench", "job": job, "words": words}, status=409)
