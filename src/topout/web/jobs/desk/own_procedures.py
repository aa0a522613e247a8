"""The workshop's own procedures: the list, a version, a new text, the folder, off and on. Only an owner changes anything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from topout.errors import Fault, FaultsFound
from topout.procedures.own import NAME, UNCHECKED, Own, key_of
from topout.procedures.read import FILE_LIMIT_BYTES
from topout.web.access.change import ChangeContext, writes
from topout.web.access.gate import owner_only
from topout.web.fields import WordsField
from topout.web.jobs.core import own_texts
from topout.web.jobs.desk import own_folder
from topout.web.jobs.records import own
from topout.web.jobs.records.models import Job, OwnVersion

_FORM_METHODS = ["GET", "HEAD", "POST"]


class OwnForm(forms.Form):
    """A text, as a file or typed; the file's name is the procedure's."""

    must = "Needed: a file, or a short name with the text."

    file = forms.FileField(
        label="File", required=False, allow_empty_file=True, help_text="seal-check.toml becomes seal-check.",
        error_messages={"max_length": "The file’s name is too long."}, max_length=100,
    )  # fmt: skip
    key = WordsField(
        letters=60, label="or its short name", required=False, help_text="Small letters joined by “-”: seal-check."
    )
    text = forms.CharField(
        label="with its text",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 18, "spellcheck": "false"}),
    )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if not data.get("file") and not (data.get("text") or "").strip() and not self.errors:
            self.add_error("file", "Choose a file, or write the text below.")
        return data


@dataclass(frozen=True)
class _Given:
    """What was sent: the form, with the text in its box to be mended and what is wrong with it; the procedure."""

    form: OwnForm
    own: Own | None = None


@require_safe
def own_procedures(request: HttpRequest) -> HttpResponse:
    """Every procedure of the workshop's own, with its newest version."""
    switched = own.switches()
    rows = [(row, switched.get(row.key)) for row in own.newest()]
    context = {"nav": "bench", "rows": rows, "folder": own_folder.folder(), "unchecked": UNCHECKED}
    return render(request, "jobs/own_procedures.html", context)


@require_safe
def own_procedure(request: HttpRequest, key: str, version: int) -> HttpResponse:
    """One version: who gave it, which jobs have it, its text."""
    row = get_object_or_404(OwnVersion.objects.select_related("text"), key=key, version=version)
    try:
        own_texts.check(row.source.encode(), row.key)
        today: tuple[Fault, ...] = ()
    except FaultsFound as found:
        today = found.faults
    context = {
        "nav": "bench", "row": row, "unchecked": UNCHECKED, "today": today, "switch": own.switches().get(key),
        "versions": OwnVersion.objects.filter(key=key).defer("source").order_by("-version"),
        "jobs": Job.objects.filter(procedure=row.text.procedure).order_by("number").values_list("number", flat=True),
    }  # fmt: skip
    return render(request, "jobs/own_procedure.html", context)


@require_safe
def own_procedure_file(request: HttpRequest, key: str, version: int) -> HttpResponse:
    """The text of a version as it was given."""
    row = get_object_or_404(OwnVersion, key=key, version=version)
    response = HttpResponse(row.source, content_type="application/toml; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{row.key}.toml"'
    return response


@require_http_methods(_FORM_METHODS)
@owner_only
def own_procedure_new(request: HttpRequest) -> HttpResponse:
    """Give a text: a new procedure, or a new version of one. It is checked before the change begins."""
    return _new(request, _given(request) if request.method == "POST" else _Given(OwnForm()))


@writes
def _new(request: HttpRequest, given: _Given) -> HttpResponse:
    if given.own is not None:
        try:
            row = own.keep(_doing(request), given.own)
        except own.NotKept as why:
            given.form.add_error("text", str(why))
        else:
            messages.success(request, _kept(row))
            return redirect("own-procedures")
    context = {"nav": "bench", "form": given.form, "folder": own_folder.folder()}
    return render(request, "jobs/own_procedure_new.html", context, status=422 if given.form.errors else 200)


def _given(request: HttpRequest) -> _Given:
    form = OwnForm(request.POST, request.FILES)
    if not form.is_valid():
        return _Given(form)
    file = form.cleaned_data["file"]
    if file:
        data, key = file.read(FILE_LIMIT_BYTES + 1), key_of(file.name)
    else:
        data, key = form.cleaned_data["text"].encode("utf-8", "surrogatepass"), form.cleaned_data["key"]
    text = _legible(data)
    form = OwnForm({"key": key, "text": text})
    form.errors.clear()  # what was sent was whole as a form; here it is drawn anew, to be mended
    try:
        return _Given(form, own_texts.check(data, key))
    except FaultsFound as found:
        for fault in found.faults:
            form.add_error("key" if fault.location == NAME else "text" if text else "file", str(fault))
    return _Given(form)


def _legible(data: bytes) -> str:
    """The text of a file for the box; "" where it is none."""
    try:
        return data.decode() if len(data) <= FILE_LIMIT_BYTES and b"\0" not in data else ""
    except UnicodeDecodeError:
        return ""


@require_http_methods(_FORM_METHODS)
@owner_only
def own_procedures_folder(request: HttpRequest) -> HttpResponse:
    """Look in the folder; keep what is whole and new in it when asked to. What is not is said beside its file."""
    return _folder(request, own_folder.look())


@writes
def _folder(request: HttpRequest, found: list[own_folder.Found]) -> HttpResponse:
    if request.method == "POST":
        for each in found:
            if each.own is not None:
                try:
                    messages.success(request, _kept(own.keep(_doing(request), each.own)))
                except own.NotKept:
                    continue  # said beside the file, on the page that this leads to
        return redirect("own-procedures-folder")
    rows = [(each, own_folder.stands(each)) for each in found]
    context = {
        "nav": "bench", "rows": rows, "folder": own_folder.folder(), "there": own_folder.folder().is_dir(),
        "new": sum(stands == "new" for _, stands in rows),
    }  # fmt: skip
    return render(request, "jobs/own_folder.html", context)


@owner_only
@require_POST
@writes
def own_procedure_switch(request: HttpRequest, key: str) -> HttpResponse:
    """Offer a procedure no more, or again. A job that has it keeps it."""
    if not OwnVersion.objects.filter(key=key).exists():
        raise Http404("No procedure of the workshop’s own has this name.")
    on = request.POST.get("on") == "1"
    own.switch(_doing(request), key, on)
    words = "is offered again" if on else "is not offered any more; a job that has it keeps it"
    messages.success(request, f"{key} {words}.")
    return redirect("own-procedures")


def _doing(request: HttpRequest) -> ChangeContext:
    doing: ChangeContext = request.change  # type: ignore[attr-defined]
    return doing


def _kept(row: OwnVersion) -> str:
    off = own.switches().get(row.key)
    if off is not None and not off.offered:
        return f"{row} is saved. It is switched off: switch it on to offer it."
    return f"{row} is saved. It may be chosen for a job from now on."
