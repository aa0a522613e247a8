"""Photos of a form that was not saved: drawn anew already, they are held for its next try, so that nobody takes them twice.

A held photo is no record. It stands in a folder of its own under its SHA-256; the form carries a signed name of it, and
nothing else can fetch it or put it into a job. What nobody came back to goes after two weeks, as drafts do.
"""

from __future__ import annotations

import io
import os
import re
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django import forms
from django.conf import settings
from django.core import signing
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST, require_safe
from PIL import Image

from topout.web.jobs.readings.photos import MOST_AT_ONCE, Drawn, drawn_first, drawn_of
from topout.web.jobs.records.drafts import ABANDONED

_SALT = "topout.held-photo"
_SHA256 = re.compile(r"[0-9a-f]{64}")


def _folder() -> Path:
    return Path(settings.PHOTOS) / "held"


def hold(drawn: Drawn) -> str:
    """Hold a photo; the name under which a form asks for it again."""
    folder = _folder()
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.jpg"):
        if old.stat().st_mtime < time.time() - ABANDONED.total_seconds():
            old.unlink(missing_ok=True)
    place = folder / f"{drawn.sha256}.jpg"
    handle, temporary = tempfile.mkstemp(dir=folder)
    with os.fdopen(handle, "wb") as file:
        file.write(drawn.data)
    os.replace(temporary, place)
    return signing.dumps(drawn.sha256, salt=_SALT)


def held(token: str) -> Drawn | None:
    """The photo of that name; None where the name is not ours, is too old, or the file is not what was held."""
    try:
        sha256 = signing.loads(token, salt=_SALT, max_age=ABANDONED)
    except signing.BadSignature:
        return None
    if not isinstance(sha256, str) or not _SHA256.fullmatch(sha256):
        return None
    try:
        data = (_folder() / f"{sha256}.jpg").read_bytes()
    except FileNotFoundError:
        return None
    with Image.open(io.BytesIO(data), formats=("JPEG",)) as picture:
        drawn = Drawn(data, *picture.size)
    return drawn if drawn.sha256 == sha256 else None


@dataclass(frozen=True)
class Sent:
    """What came of a file box: new files, and the names of those held from the try before."""

    files: list[UploadedFile[Any]] = field(default_factory=list)
    tokens: list[str] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.files or self.tokens)


class HoldingInput(forms.FileInput):
    """A file box that shows what it holds already, and sends it again."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Sent:
        new = files.getlist(name) if hasattr(files, "getlist") else [files[name]] if files.get(name) else []
        tokens = data.getlist(f"held-{name}") if hasattr(data, "getlist") else []
        return Sent([file for file in new if file], tokens)

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        box = super().render(name, None, attrs, renderer)
        tokens = value if isinstance(value, list) else []
        if not tokens:
            return box
        shown = format_html_join(
            "",
            '<span class="held-photo"><img class="photo-thumb" src="{}" alt="Photo that is not saved yet"><input type="hidden" name="held-{}" value="{}"></span>',
            ((reverse("held-photo", args=[token]), name, token) for token in tokens),
        )
        return format_html('<span class="held-photos">{}</span>{}', shown, box)


class HoldingField(forms.FileField):
    """A file box whose photos survive a form error."""

    widget: Any = HoldingInput

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pictures: list[Drawn] = []

    def held_of(self, data: Any) -> list[Drawn]:
        """The photos that the form held from its last try."""
        return [photo for photo in map(held, data.tokens if isinstance(data, Sent) else []) if photo is not None]

    def bound_data(self, data: Any, initial: Any) -> list[str]:
        # Asked for only where the form is shown again: what was good of its photos waits for the next try.
        return [hold(photo) for photo in self.pictures]


class PhotosInput(HoldingInput):
    """A file box that takes several, beside one that opens the tablet's camera; both send under the one name.

    With script each photo goes up as it is chosen, while one goes on writing (`photos.js`).
    """

    allow_multiple_selected = True

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        chooser = super().render(name, value, attrs, renderer)
        camera = format_html(
            '<label class="camera">Take one with the camera <input type="file" name="{}" id="{}-camera" accept="{}" capture="environment"></label>',
            name, (attrs or {}).get("id", f"id_{name}"), self.attrs["accept"],
        )  # fmt: skip
        says = SafeString('<span class="note" role="status" data-photos-says></span>')
        return format_html(
            '<span class="photo-boxes" data-photos="{}">{}{}{}</span>', reverse("hold-photos"), chooser, camera, says
        )


class PhotosField(HoldingField):
    """Several photos at once; cleans to a list of Drawn."""

    widget = PhotosInput(attrs={"accept": "image/jpeg,image/png,image/webp"})

    def clean(self, data: Any, initial: Any = None) -> Any:
        sent = data if isinstance(data, Sent) else Sent()
        self.pictures = self.held_of(sent)
        if len(sent.files) + len(self.pictures) > MOST_AT_ONCE:
            raise ValidationError(
                f"{len(sent.files) + len(self.pictures)} photos at once; at most {MOST_AT_ONCE} go together."
            )
        wrong = None
        for file in sent.files:
            try:
                self.pictures.append(drawn_of(file))
            except ValidationError as fault:
                wrong = fault
        if wrong is not None:
            raise wrong
        if self.required and not self.pictures:
            raise ValidationError("Take a photo, or choose one.")
        return self.pictures


class PhotoField(HoldingField):
    """One photo; cleans to a picture drawn anew, or to None. A new one takes the place of the one held."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        sent = data if isinstance(data, Sent) else Sent()
        self.pictures = self.held_of(sent)[:1]
        if sent.files:
            file = super().clean(sent.files[0], initial)
            self.pictures = [drawn_of(file)]
        elif self.required and not self.pictures:
            raise ValidationError(self.error_messages["required"], code="required")
        return self.pictures[0] if self.pictures else None


@require_POST
@drawn_first
def hold_photos(request: HttpRequest) -> HttpResponse:
    """Hold photos while their form is still being written; answers each one's name, or what is wrong with it. No record."""
    answers = []
    for file in [file for name in request.FILES for file in request.FILES.getlist(name)][:MOST_AT_ONCE]:
        try:
            token = hold(drawn_of(file))
        except ValidationError as refused:
            answers.append({"wrong": " ".join(refused.messages)})
        else:
            answers.append({"token": token, "src": reverse("held-photo", args=[token])})
    return JsonResponse({"photos": answers})


@require_safe
def held_photo(request: HttpRequest, token: str) -> HttpResponse:
    """A photo that is held, to people signed in."""
    drawn = held(token)
    if drawn is None:
        raise Http404("This photo is not held any more.")
    response = HttpResponse(drawn.data, content_type="image/jpeg")
    response.headers["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'none'; sandbox"
    return response
