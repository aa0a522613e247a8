"""What a page is sent with: style sheets, scripts and typefaces under names that hold a hash of their content, and text compressed.

A browser keeps such a file for a year and never asks again; another content has another name. Nothing is collected or written
beforehand: names are made from the files that are there when the process starts.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, ClassVar

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import StaticFilesStorage
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from whitenoise.middleware import WhiteNoiseMiddleware

HASHED = r"\.[0-9a-f]{12}\.[a-z0-9]+$"
# What compression makes smaller. Photos, typefaces and papers are compressed in themselves.
TEXT = re.compile(r"text/|image/svg\+xml|application/(json|javascript|manifest\+json|xml)")


@cache
def hashed(name: str) -> str:
    """`style.css` as `style.0123456789ab.css`; a name that has its hash stays. Raises ValueError where there is no such file."""
    if re.search(HASHED, name):
        return name
    path = finders.find(name)
    if path is None:
        raise ValueError(f"no static file {name!r}")
    root, extension = posixpath.splitext(name)
    return f"{root}.{hashlib.sha256(Path(path).read_bytes()).hexdigest()[:12]}{extension}"


class Names(StaticFilesStorage):
    """The addresses that `{% static %}` writes; a page has fifteen of them, and a process the same ones on every page."""

    _urls: ClassVar[dict[str, str]] = {}

    def url(self, name: str | None) -> str:
        """The address of a static file, hash included."""
        name = name or ""
        if name not in self._urls:
            self._urls[name] = super().url(hashed(name))
        return self._urls[name]


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
        self.files.update(self._found)

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
