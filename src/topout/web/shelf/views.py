"""Pages of the Shelf: parts as measured, and what a tag stands for."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from topout.web.access.change import writes
from topout.web.access.codes import tidy
from topout.web.book import history
from topout.web.groups import drawn
from topout.web.shelf import keeping
from topout.web.shelf.forms import KEPT, PartForm
from topout.web.shelf.models import PART_KINDS, Part, Tag


@require_safe
def shelf(request: HttpRequest) -> HttpResponse:
    """Every part, and a box for a tag's number."""
    typed = request.GET.get("tag", "").replace("\0", "")[:40]
    if typed:
        found = Tag.objects.filter(code=tidy(typed)).first()
        if found:
            return redirect("tag", found.code)
    parts = Part.objects.select_related("tag", "family")
    context = {"nav": "shelf", "parts": parts, "typed": typed, "unknown": bool(typed)}
    return render(request, "shelf/shelf.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def part_new(request: HttpRequest) -> HttpResponse:
    return _part(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def part_change(request: HttpRequest, pk: int) -> HttpResponse:
    """A part measured or counted again."""
    return _part(request, get_object_or_404(Part.objects.select_related("tag", "family"), pk=pk))


def _part(request: HttpRequest, part: Part | None) -> HttpResponse:
    initial = PartForm.initial_of(part) if part is not None else None
    form = PartForm(request.POST if request.method == "POST" else None, initial=initial)
    if history.to_save(request, form, part) if part is not None else request.method == "POST" and form.is_valid():
        data = {key: form.cleaned_data[key] for key in KEPT} | {"measured": form.measured()}
        doing = request.change  # type: ignore[attr-defined]
        if part is None:
            part = keeping.make_part(doing, **data)
            messages.success(request, f"The part has the tag {part.tag}.")
        else:
            keeping.change_part(doing, part, **data)
            messages.success(request, "Saved.")
        return redirect("tag", part.tag.code)  # type: ignore[union-attr]
    context = {"nav": "shelf", "form": form, "part": part, "groups": drawn(form, form.groups)}
    context["as_of"] = "" if part is None else history.stamp(part)
    return render(request, "shelf/part.html", context, status=422 if form.errors else 200)


@require_safe
def tag(request: HttpRequest, code: str) -> HttpResponse:
    """What a tag stands for: the address in its QR code leads here."""
    if code != tidy(code):
        return redirect("tag", tidy(code)) if tidy(code) else _none()
    row = get_object_or_404(Tag.objects.select_related("unit__bike__rider", "part__family", "made_by"), code=code)
    return render(request, "shelf/tag.html", {"nav": "shelf", "tag": row, "kinds": PART_KINDS})


def _none() -> HttpResponse:
    raise Http404
