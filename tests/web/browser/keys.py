"""Somebody who works with a keyboard alone: Tab to get somewhere, letters, Space, Enter, arrows. Nothing else touches the page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Locator, Page

from topout.web.jobs.steps.progress import Progress, Slot
from web.browser.pace import Practised
from web.browser.waits import loads
from web.steps_kit import Hands

MOST_TABS = 160  # the longest form of the workshop has fewer stops


class Keys:
    """Hands on a keyboard."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.on("filechooser", lambda _: None)  # from the start: asked for as the key is pressed, it may come too late

    def reach(self, place: Locator) -> None:
        """Tab until the place has the focus; a place that Tab does not come to fails here."""
        for _ in range(MOST_TABS):
            if place.evaluate("(e) => e === document.activeElement"):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"Tab does not come to {place}")

    def go(self, place: Locator) -> None:
        """Follow a link or send a form, and wait for the page."""
        self.reach(place)
        with loads(self.page):
            self.page.keyboard.press("Enter")

    def write(self, box: Locator, text: str) -> None:
        self.reach(box)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def tick(self, box: Locator) -> None:
        """A tick box, or one of several to choose from: Tab comes to the chosen or the first of them, the arrows to the others."""
        name = box.get_attribute("name")
        if box.get_attribute("type") == "radio":
            several = self.page.locator(f'input[type=radio][name="{name}"]')
            chosen = several.and_(self.page.locator(":checked"))
            self.reach(chosen if chosen.count() else several.first)
            for _ in range(30):
                if box.evaluate("(e) => e === document.activeElement"):
                    break
                self.page.keyboard.press("ArrowDown")
        else:
            self.reach(box)
        if not box.is_checked():
            self.page.keyboard.press("Space")
        assert box.is_checked()

    def choose(self, place: Locator, value: str) -> None:
        """One of several answers."""
        self.tick(place.and_(self.page.locator(f'[value="{value}"]')))

    def give(self, place: Locator, picture: dict[str, Any]) -> None:
        """A photo: the machine's own window for files opens on Space; what is chosen there is no part of the page."""
        self.reach(place)
        with self.page.expect_file_chooser() as window:
            self.page.keyboard.press("Space")
        window.value.set_files(picture)  # type: ignore[arg-type]


class Typist(Practised):
    """A practised hand with no finger on the page: what it would tap is come to by Tab and pressed, figures are typed."""

    def __init__(self, page: Page, here: str, hands: Hands, wait: Callable[[float], None]) -> None:
        super().__init__(page, here, hands, wait)
        self.keys = Keys(page)

    def tap(self, place: Locator) -> None:
        self.taps += 1
        place = place.locator(
            "xpath=ancestor-or-self::*[self::a or self::button or self::input or self::textarea or self::label][1]"
        )
        inside = place.locator("input[type=radio], input[type=checkbox]")
        box = inside if inside.count() else place
        what = box.evaluate(
            "(e) => e.matches('[type=radio], [type=checkbox]') ? 'tick' : e.matches('a, button') ? 'press' : 'reach'"
        )
        if what == "tick":
            self.keys.tick(box)
            return
        self.keys.reach(box)
        if what == "press":
            self.page.keyboard.press("Enter")

    def write(self, box: Locator, text: str) -> None:
        self.keys.write(box, text)
        self.figures += 1
        self.signs += len(text)

    def give(self, place: Locator, picture: dict[str, Any]) -> None:
        self.taps += 1
        self.keys.give(place, picture)

    def _answer(self, slot: Slot, leaves: Callable[[Callable[[], None]], None], here: Progress) -> None:
        """A choice that a finger's tap would sign is gone through by arrows, and signed by its button."""
        if self.page.locator("#reading[data-moves-on] input[type=radio]").count() == 0:
            super()._answer(slot, leaves, here)
            return
        self._fill(here, slot)
        leaves(lambda: self.tap(self.page.locator("#note")))

    def _type(self, box: Locator, figures: str) -> None:
        self.write(box, figures)
