"""A workshop's data, or one rider's, to a browser; riders and bikes from a file, each row's fate first. The owner's alone."""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path
from typing import Any, Final, cast

from django import forms
from django.contrib import messages
from django.db import connection
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from topout.web import clock
from topout.web.access.change import writes
from topout.web.access.gate import owner_only
from topout.web.backup.page import STALE_S, Once
from topout.web.book.models import Rider
from topout.web.export import tables, take_in, write
from topout.web.export.tables import Table
from topout.web.fields import WordsField

FOLDER: Final = ".topout-export-page-"  # beside the database; what a broken download left is gone a day later
MOST_LETTERS: Final = 500_000  # of a file that is looked at on a page; the terminal takes longer ones
SHOWN: Final = 500  # rows on the page of fates; the rest is counted


@owner_only
@require_POST
def whole(request: HttpRequest) -> HttpResponse:
    """All data of the workshop as one file."""
    return _sent(request, tables.whole(), "workshop", redirect("workshop"))


@owner_only
@require_POST
def of_rider(request: HttpRequest, pk: int) -> HttpResponse:
    """What is kept of one rider, as one file."""
    rider = get_object_or_404(Rider, pk=pk, erased_at=None)
    return _sent(request, tables.of_rider(rider), f"rider-{pk}", redirect("rider", pk))


def _sent(request: HttpRequest, held: list[Table], name: str, back: HttpResponse) -> HttpResponse:
    """The file whole before the first byte is sent, and gone from here when the last one was."""
    if connection.vendor != "sqlite":
        messages.error(request, "The file is made from SQLite. PostgreSQL’s own tools read this database out.")
        return back
    beside = Path(str(connection.settings_dict["NAME"])).parent
    try:
        for old in beside.glob(f"{FOLDER}*"):
            if old.stat().st_mtime < time.time() - STALE_S:
                shutil.rmtree(old, ignore_errors=True)
        folder = Path(tempfile.mkdtemp(prefix=FOLDER, dir=beside))
        try:
            path = folder / f"{name}-{timezone.localtime(clock.now()):%Y-%m-%d}.zip"
            write.save(path, held, clock.now())
            sent = FileResponse(
                Once(path, folder), as_attachment=True, filename=path.name, content_type="application/zip"
            )
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
    except OSError as fault:
        messages.error(request, f"The file could not be made ({fault.strerror or fault}). Nothing was changed.")
        return back
    return cast(HttpResponse, sent)  # a file is sent where a page would be


class FileForm(forms.Form):
    """A CSV file; once it was looked at, its text and what was seen of it."""

    file = forms.FileField(
        label="CSV file", required=False,
        error_messages={"empty": "The file is empty.", "invalid": "The file did not come through. Choose it again."},
    )  # fmt: skip
    text = WordsField(letters=MOST_LETTERS, rows=1, label="Its text", required=False, strip=False)
    seen = WordsField(letters=64, label="What was seen", required=False)

    def data_of(self) -> bytes:
        """What the file holds, or the text that was looked at."""
        file = self.cleaned_data["file"]
        if file:
            return bytes(file.read(MOST_LETTERS + 1))
        return str(self.cleaned_data["text"]).encode("utf-8")


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def riders_in(request: HttpRequest) -> HttpResponse:
    """Choose a file; see what would become of every row; put it in the Book, all of it or nothing."""
    form = FileForm(request.POST, request.FILES) if request.method == "POST" else FileForm()
    context: dict[str, Any] = {"nav": "book", "form": form, "columns": list(take_in.COLUMNS)[:9]}
    faults: list[tuple[str, str]] = []
    if request.method == "POST" and form.is_valid():
        data = form.data_of()
        try:
            if not data.strip():
                raise take_in.NotRead("there is nothing in it; choose a file")
            if len(data) > MOST_LETTERS:
                raise take_in.NotRead(
                    f"it is longer than {MOST_LETTERS // 1000} kB; take it in parts, or by topout import"
                )
            if form.cleaned_data["seen"] and not form.cleaned_data["file"]:
                found = take_in.save_seen(request.change, data, form.cleaned_data["seen"])  # type: ignore[attr-defined]
                messages.success(request, f"{take_in.counted(found)}: saved.")
                return redirect("book")
            found = take_in.fates(take_in.rows_of(data))
        except take_in.Changed:
            found = take_in.fates(take_in.rows_of(data))
            faults = [("", "The Book changed meanwhile. Look at the rows once more; nothing is saved yet.")]
        except take_in.NotRead as wrong:
            found, faults = [], [("id_file", f"The file can’t be read: {wrong}.")]
        faults += [("", f"Line {fate.line}: {fault}") for fate in found for fault in fate.faults]
        if found:
            context |= {
                "fates": found[:SHOWN], "more": len(found) - SHOWN if len(found) > SHOWN else 0, "new": take_in.counted(found),
                "anything": any(fate.rider or fate.bike for fate in found),
                "text": data.decode("utf-8-sig", "replace"), "seen": take_in.mark(found),
            }  # fmt: skip
    context["faults"] = faults
    return render(request, "export/riders_in.html", context, status=422 if faults or form.errors else 200)
