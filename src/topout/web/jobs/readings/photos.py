"""Photos: what comes in is never kept as it came. It is drawn anew without metadata (`draw.py`), and named by its SHA-256."""

from __future__ import annotations

import functools
import hashlib
import io
import logging
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from PIL import Image

from topout.web.access.change import ChangeContext
from topout.web.environment import photo_in
from topout.web.jobs.readings import draw
from topout.web.jobs.records.models import Job, Photo
from topout.web.jobs.records.sequence import next_sequence
from topout.web.storage import Trouble
from topout.web.unsaved import not_stored

logger = logging.getLogger(__name__)
MOST_AT_ONCE = 8
DRAWING_S = 20.0  # longest for one photo, its process' start and all
WAITING = 3  # requests that may wait while one draws; the server has threads for more
BUSY = Trouble("Photos of others are being read at this moment.", "Wait a few seconds.")
_one_at_a_time = threading.Lock()
_in_line = threading.BoundedSemaphore(1 + WAITING)


@dataclass(frozen=True)
class Drawn:
    """A photo drawn anew: JPEG bytes and their measures."""

    data: bytes
    width_px: int
    height_px: int

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()


def draw_anew(data: bytes) -> Drawn:
    """The picture drawn anew by a process of its own, one at a time; raises ValidationError with the way out."""
    with _one_at_a_time:
        try:
            done = subprocess.run(
                [sys.executable, "-I", draw.__file__], input=data, capture_output=True, timeout=DRAWING_S
            )
        except subprocess.TimeoutExpired:
            raise ValidationError(draw.TOO_MUCH) from None
    if done.returncode != 0 or len(done.stdout) < draw.HEAD.size:
        logger.warning("a photo of %d bytes was not drawn: status %d", len(data), done.returncode)
        raise ValidationError(draw.TOO_MUCH)
    kind, width, height = draw.HEAD.unpack_from(done.stdout)
    rest = done.stdout[draw.HEAD.size :]
    if kind != b"D":
        raise ValidationError(rest.decode())
    return Drawn(rest, width, height)


View = Callable[..., HttpResponse]


def drawn_first(view: View) -> View:
    """Put above `@writes` on a view whose form takes photos: they are drawn before its transaction begins.

    Drawing takes a second each; inside the transaction everybody else's save would stand in line behind it. What came of
    a file, a Drawn or a ValidationError, stands on it as `drawn`, where the form's field finds it.
    """

    @functools.wraps(view)
    def drawing(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        files = [file for name in request.FILES for file in request.FILES.getlist(name)]
        if not files:
            return view(request, *args, **kwargs)
        if not _in_line.acquire(blocking=False):
            return not_stored(request, BUSY)
        try:
            for file in files[:MOST_AT_ONCE]:
                file.drawn = _drawn(file)  # type: ignore[attr-defined]
        finally:
            _in_line.release()
        return view(request, *args, **kwargs)

    return drawing


def _drawn(file: Any) -> Drawn | ValidationError:
    if file.size > draw.MOST_BYTES:
        return ValidationError(f"The photo is larger than 12 MB. {draw.LARGE}")
    try:
        made = draw_anew(file.read())
    except ValidationError as refused:
        return refused
    finally:
        file.seek(0)
    return made


def drawn_of(file: Any) -> Drawn:
    """What `drawn_first` made of an uploaded file; raises its ValidationError."""
    made = file.drawn  # AttributeError: the view lacks @drawn_first
    if isinstance(made, ValidationError):
        raise made
    assert isinstance(made, Drawn)
    return made


def path_of(sha256: str) -> Path:
    """Where a photo's file stands."""
    return photo_in(Path(settings.PHOTOS), sha256)


def _whole(place: Path, sha256: str) -> bool:
    """Whether a photo's file is there as it was kept: one that a fault damaged is written anew when its picture comes again."""
    try:
        return hashlib.sha256(place.read_bytes()).hexdigest() == sha256
    except OSError:
        return False


def keep(doing: ChangeContext, job: Job, drawn: Drawn, of: str, step_key: str = "") -> Photo:
    """Keep a photo: the file is on the disk before the row says so."""
    assert doing.who is not None
    place = path_of(drawn.sha256)
    if not _whole(place, drawn.sha256):
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=place.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(drawn.data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, place)
        folder = os.open(place.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    return Photo.objects.create(
        job=job, sequence=next_sequence(job), who=doing.who, at=doing.at, sha256=drawn.sha256,
        width_px=drawn.width_px, height_px=drawn.height_px, size_bytes=len(drawn.data), of=of, step_key=step_key,
    )  # fmt: skip


# A photo's bytes never change under its address, so a browser keeps them: its own, no proxy's. Signing out empties that.
KEPT_BY_THE_BROWSER = "private, max-age=31536000, immutable"
SMALL_PX = 480  # the longer side of a thumbnail: a third of the card, at two points a pixel


def bytes_of(number: int, sha256: str) -> tuple[Photo, bytes]:
    """A photo of a job, its file read and compared with what was kept; 404 with the reason where that fails."""
    # The same picture may be kept twice in a job, at two steps or by a slip: any of its rows leads to the one file.
    row = Photo.objects.filter(job__number=number, sha256=sha256).order_by("sequence").first()
    if row is None:
        raise Http404("There is no such photo of this job.")
    try:
        data = path_of(row.sha256).read_bytes()
    except FileNotFoundError:
        raise Http404("The photo’s file is not there.") from None
    if hashlib.sha256(data).hexdigest() != row.sha256:
        raise Http404("The photo’s file is not what was kept.")
    return row, data


def small_of(data: bytes) -> bytes:
    """A photo of ours as a thumbnail: a JPEG of at most `SMALL_PX` a side. It is decoded at an eighth or a quarter, some 15 ms."""
    with Image.open(io.BytesIO(data), formats=("JPEG",)) as picture:
        picture.draft("RGB", (SMALL_PX, SMALL_PX))
        picture.thumbnail((SMALL_PX, SMALL_PX), reducing_gap=2.0)
        out = io.BytesIO()
        picture.convert("RGB").save(out, "JPEG", quality=78)
    return out.getvalue()


@require_safe
def photo(request: HttpRequest, number: int, sha256: str) -> HttpResponse:
    """One photo of a job, to people signed in; nothing in it can run."""
    row, data = bytes_of(number, sha256)
    return picture(data, f"job-{number}-{row.sequence}.jpg")


@require_safe
def photo_small(request: HttpRequest, number: int, sha256: str) -> HttpResponse:
    """Its thumbnail, made when it is asked for and kept by the browser alone."""
    row, data = bytes_of(number, sha256)
    return picture(small_of(data), f"job-{number}-{row.sequence}-small.jpg")


def picture(data: bytes, name: str) -> HttpResponse:
    """A JPEG in which nothing can run."""
    response = HttpResponse(data, content_type="image/jpeg")
    response.headers["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'none'; sandbox"
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    response.headers["Cache-Control"] = KEPT_BY_THE_BROWSER
    return response
