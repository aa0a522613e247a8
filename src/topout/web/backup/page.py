"""What the pages say of the copies, and the download of a fresh one: the Bench's line, the Workshop's section."""

from __future__ import annotations

import io
import shutil
import tempfile
import time
from pathlib import Path
from typing import Any, Final, cast

from django.conf import settings
from django.contrib import messages
from django.db import connection
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from topout.web import clock
from topout.web.access import preferences
from topout.web.access.gate import owner_only
from topout.web.access.models import Workshop
from topout.web.backup import copies, make, names, snapshot
from topout.web.backup.make import NoCopy

DOWNLOAD: Final = ".topout-download-"
STALE_S: Final = 24 * 3600.0


def for_bench() -> str:
    """What the Bench says when the last copy is older than it should be; "" else, in the demo, and with copies off."""
    row = preferences.workshop()
    if settings.BACKUP_AT is None or row is None or row.demo or connection.vendor != "sqlite":
        return ""
    of, now = copies.of_settings(), clock.now()
    return copies.too_old(of.newest(_mark(row), now), of.last(), row.started_at, now)


def for_workshop() -> dict[str, Any]:
    """What the Workshop page says of its copies: a context for `parts/copies.html`."""
    row = preferences.workshop()
    if row is None or row.demo or connection.vendor != "sqlite":
        return {"vendor": connection.vendor, "demo": True}
    of, now = copies.of_settings(), clock.now()
    there, last, newest = of.listed(_mark(row)), of.last(), of.newest(_mark(row), now)
    return {
        "vendor": connection.vendor, "demo": False, "folder": of.folder, "at": settings.BACKUP_AT, "stays": str(of.retention),
        "newest": newest and {"at": newest.name.at, "size": make.size(newest.bytes), "reason": names.REASONS[newest.name.reason]},
        "number": len(there), "size": make.size(sum(copy.bytes for copy in there)),
        "failed": last if last and last.failed else None, "lacks": copies.counted(last.losses) if last and last.losses else "",
        "old": copies.too_old(newest, None, row.started_at, now) if settings.BACKUP_AT is not None else "",
    }  # fmt: skip


def _mark(row: Workshop) -> str:
    return snapshot.mark(snapshot.as_written(row.started_at))


@owner_only
@require_POST
def download(request: HttpRequest) -> HttpResponse:
    """A fresh copy, made and read back before the first byte is sent, and gone from here when the last one was."""
    of = copies.of_settings()
    try:
        with make.words(of.source.database):
            for old in of.source.database.parent.glob(f"{DOWNLOAD}*"):
                if old.stat().st_mtime < time.time() - STALE_S:
                    shutil.rmtree(old, ignore_errors=True)
            folder = Path(tempfile.mkdtemp(prefix=DOWNLOAD, dir=of.source.database.parent))
        try:
            made = make.make(of.source, folder, names.ASKED, clock.now())
            response = FileResponse(
                Once(made.path, folder), as_attachment=True, filename=made.path.name, content_type="application/zip"
            )
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
    except NoCopy as error:
        messages.error(request, str(error))
        return redirect("workshop")
    return cast(HttpResponse, response)  # a file is sent where a page would be


class Once(io.BufferedReader):
    """A file that is gone, with its folder, once it was read to its end or nobody reads on."""

    def __init__(self, path: Path, folder: Path) -> None:
        super().__init__(io.FileIO(path))
        self._folder = folder

    def close(self) -> None:
        super().close()
        shutil.rmtree(self._folder, ignore_errors=True)
