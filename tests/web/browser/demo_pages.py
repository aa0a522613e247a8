"""The demo's pages for rooms that only look: one served copy, the owner signed in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.contrib.auth.models import User
from django.test.utils import override_settings
from playwright.sync_api import Browser, Page

from web import addresses
from web.served import served, signed_in
from web.shared import using_file


@contextmanager
def demo_served(demo_file: Path, folder: Path) -> Iterator[str]:
    """The address of a copy of the demo; looking and wrong forms change nothing of it."""
    path = folder / "demo.sqlite3"
    shutil.copyfile(demo_file, path)
    with using_file(path), override_settings(PHOTOS=demo_file.parent / "photos"), served() as address:
        yield address


def opened(browser: Browser, here: str, name: str) -> Page:
    """A page of the demo, as the owner sees it on a tablet. Close its context at the end."""
    owner = User.objects.order_by("pk").filter(is_staff=True).first()
    assert owner is not None
    page = signed_in(browser, here, owner, viewport={"width": 1180, "height": 820}).new_page()
    page.goto(here + addresses.address_of(name), wait_until="load")
    return page
