"""Somebody at the stand with a finger: taps, the page's own number keys, and the tablet's keyboard for words."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Locator, Page

from web.browser.waits import loads


class Fingers:
    """Taps alone: no drag, no swipe, nothing held (look.md B7 row 11)."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.on("filechooser", lambda _: None)  # from the start: asked for at the tap, it may come too late

    def go(self, place: Locator) -> None:
        """Follow a link or send a form, and wait for the page."""
        with loads(self.page):
            place.tap()

    def write(self, box: Locator, text: str) -> None:
        own = self.page.locator(".keys")
        if own.count() and own.is_visible() and re.fullmatch(r"[\d.]+", text):
            for _ in range(len(box.input_value())):
                own.locator(".wipe").tap()
            for sign in text:
                own.get_by_text(sign, exact=True).tap()
            assert box.input_value() == text
        else:
            box.tap()
            box.fill(text)

    def tick(self, box: Locator) -> None:
        box.tap()
        assert box.is_checked()

    def choose(self, place: Locator, value: str) -> None:
        place.and_(self.page.locator(f'[value="{value}"]')).tap()

    def give(self, place: Locator, picture: dict[str, Any]) -> None:
        with self.page.expect_file_chooser() as window:
            place.tap()
        window.value.set_files(picture)  # type: ignore[arg-type]
