"""Photos: what comes in is never kept as it came. It is opened, drawn anew without metadata, and named by its SHA-256."""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from PIL import Image, ImageOps, UnidentifiedImageError

from topout.web.access.change import Doing
from topout.web.jobs.records.models import Job, Photo
from topout.web.jobs.records.sequence import next_sequence

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 50_000_000
LONGEST_SIDE_PX = 2400
MOST_AT_ONCE = 8
NO_PICTURE = (  # what Pillow raises for bytes that are no picture, or one that would not fit in memory
    UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning, MemoryError, EOFError, OverflowError,
    Image.DecompressionBombError,
)  # fmt: skip
FORMATS = ("JPEG", "PNG", "WEBP")


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
    """Decode a picture and encode it as a JPEG without metadata; raises ValidationError with the way out."""
    if len(data) > MOST_BYTES:
        raise ValidationError("The photo is larger than 12 MB. Take it again with a lower setting.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise ValidationError(
                        "The photo has more than 50 million points. Take it again with a lower setting."
                    )
                picture.load()
                whole = ImageOps.exif_transpose(picture).convert("RGB")
    except ValidationError:
        raise
    except NO_PICTURE:
        raise ValidationError("This can’t be opened as a photo. A JPEG, PNG or WebP is expected.") from None
    whole.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    clean = Image.frombytes("RGB", whole.size, whole.tobytes())  # pixels alone: no profile, no text, no place
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=85)
    return Drawn(out.getvalue(), *whole.size)


def path_of(sha256: str) -> Path:
    """Where a photo's file stands."""
    return Path(settings.PHOTOS) / sha256[:2] / f"{sha256}.jpg"


def keep(doing: Doing, job: Job, drawn: Drawn, of: str, step_key: str = "") -> Photo:
    """Keep a photo: the file is on the disk before the row says so."""
    assert doing.who is not None
    place = path_of(drawn.sha256)
    if not place.exists():
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


class PhotosInput(forms.FileInput):
    """A file box that takes several."""

    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Several photos at once; cleans to a list of Drawn."""

    widget = PhotosInput(attrs={"accept": "image/jpeg,image/png,image/webp"})

    def clean(self, data: Any, initial: Any = None) -> Any:
        files = [file for file in (data if isinstance(data, list | tuple) else [data]) if file]
        if len(files) > MOST_AT_ONCE:
            raise ValidationError(f"{len(files)} photos at once; at most {MOST_AT_ONCE} go together.")
        if self.required and not files:
            raise ValidationError("Take a photo, or choose one.")
        drawn = []
        for file in files:
            if file.size > MOST_BYTES:
                raise ValidationError("The photo is larger than 12 MB. Take it again with a lower setting.")
            drawn.append(draw_anew(file.read()))
        return drawn


@require_safe
def photo(request: HttpRequest, number: int, sha256: str) -> HttpResponse:
    """One photo of a job, to people signed in; nothing in it can run."""
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
    response = HttpResponse(data, content_type="image/jpeg")
    response.headers["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'none'; sandbox"
    response.headers["Content-Disposition"] = f'inline; filename="job-{number}-{row.sequence}.jpg"'
    return response
