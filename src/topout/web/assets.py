"""What a page is sent with: style sheets, scripts and typefaces under names that hold a hash of their content, and text compressed.

A browser keeps such a file for a year and never asks again; another content has another name. Nothing is collected or written
beforehand: names are made from the files that are there when the process starts. What a page asks for together is one file to
its browser, joined here (`JOINED`): each one asked for costs a phone on a workshop's Wi-Fi a turn, and its processor a look.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Mapping
from functools import cache
from http import HTTPStatus
from io import BytesIO
from pathlib import Path
from typing import Any, ClassVar
from wsgiref.headers import Headers

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import StaticFilesStorage
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from whitenoise.middleware import WhiteNoiseMiddleware
from whitenoise.responders import NOT_ALLOWED_RESPONSE, Response

HASHED = r"\.[0-9a-f]{12}\.[a-z0-9]+$"
# What compression makes smaller. Photos, typefaces and papers are compressed in themselves.
TEXT = re.compile(r"text/|image/svg\+xml|application/(json|javascript|manifest\+json|xml)")
# What templates name, and the files that people write: one after the other, as a page would name them. A page has one of the first
# sheet and one of a first script, and at most one more of each that only its kind wants.
_LOOK = (
    "fonts.css", "style.css", "forms.css", "tables.css", "pictures.css", "desk.css", "plan.css", "glance.css", "find.css",
    "print.css",
)  # fmt: skip
_AT_STEPS = ("draft.js", "find_over.js", "steps.js")
JOINED = {
    "pages.css": _LOOK,
    "list-page.css": ("steps.css", "list.css"),
    "pages.js": ("page.js", "django_htmx/htmx-2.min.js", "find.js"),
    "step-page.js": _AT_STEPS,
    "list-page.js": (*_AT_STEPS, "list.js"),
    "plan-page.js": ("plan.js", "draft.js"),
    "readings-page.js": ("draft.js", "photos.js"),
}
BETWEEN = {".css": b"\n", ".js": b"\n;\n"}  # a script may end without its semicolon, or in a comment


def content(name: str) -> bytes:
    """The bytes of a static file or of several joined. Raises ValueError where there is no such file."""
    if name in JOINED:
        return BETWEEN[posixpath.splitext(name)[1]].join(content(part) for part in JOINED[name])
    path = finders.find(name)
    if path is None:
        raise ValueError(f"no static file {name!r}")
    return Path(path).read_bytes()


@cache
def hashed(name: str) -> str:
    """`style.css` as `style.0123456789ab.css`; a name that has its hash stays. Raises ValueError where there is no such file."""
    if re.search(HASHED, name):
        return name
    root, extension = posixpath.splitext(name)
    return f"{root}.{hashlib.sha256(content(name)).hexdigest()[:12]}{extension}"


class Names(StaticFilesStorage):
    """The addresses that `{% static %}` writes; a page has fifteen of them, and a process the same ones on every page."""

    _urls: ClassVar[dict[str, str]] = {}

    def url(self, name: str | None) -> str:
        """The address of a static file, hash included."""
        name = name or ""
        if name not in self._urls:
            self._urls[name] = super().url(hashed(name))
        return self._urls[name]


class Joined:
    """Several files as the one that is sent: what the middleware asks of a file. Its name is its content's, so that nobody asks
    whether it is still the same, or for a part."""

    def __init__(self, content: bytes, headers: list[tuple[str, str]]) -> None:
        self.content, self.headers = content, headers

    def get_response(self, method: str, _: Mapping[str, Any]) -> Response:
        """The whole of it, or its headers alone."""
        if method not in ("GET", "HEAD"):
            return NOT_ALLOWED_RESPONSE
        return Response(HTTPStatus.OK, self.headers, BytesIO(self.content) if method == "GET" else None)


class Files(WhiteNoiseMiddleware):  # type: ignore[misc]
    """Serves every static file under its hashed name, and under no other.

    The files are looked for once a process: each test's browser makes its own of this, and looking took most of its first page.
    """

    _found: ClassVar[dict[str, Any]] = {}

    def add_files_from_finders(self) -> None:
        """Called at start."""
        if not self._found:
            super().add_files_from_finders()
            self._found.update(self.files)
            self._found.update(self._joined())
        self.files.update(self._found)

    def _joined(self) -> dict[str, Joined]:
        """What is sent as one, by address; with the headers of a file."""
        made = {}
        for name in JOINED:
            url, whole, headers = self.static_prefix + hashed(name), content(name), Headers([])
            self.add_mime_headers(headers, name, url)
            self.add_cache_headers(headers, name, url)
            headers["Content-Length"] = str(len(whole))
            made[url] = Joined(whole, headers.items())
        return made

    def add_file_to_dictionary(self, url: str, path: str, stat_cache: Mapping[str, Any] | None = None) -> None:
        """Called for each file at start."""
        prefix = self.static_prefix
        super().add_file_to_dictionary(prefix + hashed(url.removeprefix(prefix)), path, stat_cache=stat_cache)

    def immutable_file_test(self, path: str, url: str) -> bool:
        """A name with a hash stands for one content for ever."""
        return True


class Compressed(GZipMiddleware):
    """Text leaves compressed where the browser takes that; Django's own way, which hides lengths (BREACH)."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """Leave what is not text as it is."""
        if not TEXT.match(response.headers.get("Content-Type", "")):
            return response
        return super().process_response(request, response)
