"""A practised hand at the tablet, counted: screens, taps and typed figures of a whole job, as its pages ask for them.

A screen is a page that takes the place of another; keys that open over the ticks of the same list are none. Every tap
counts as one (a photo's on our page; the camera's own button is not ours), and so does every figure that is typed, however
many signs it has; its signs are told beside. What to answer is asked of the progress, as the fork would tell it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from playwright.sync_api import Locator, Page

from topout.web.jobs.steps.progress import Progress, Slot
from web.browser.waits import loads, until
from web.steps_kit import Hands, passing, photo

EMPTY = "() => [...document.querySelectorAll('#reading .display input[required]')].some((each) => !each.value)"


class Practised:
    """One person at the stand. `wait` moves the workshop's clock by minutes."""

    def __init__(self, page: Page, here: str, hands: Hands, wait: Callable[[float], None]) -> None:
        self.page, self.here, self.hands, self.wait = page, here, hands, wait
        self.screens = self.taps = self.figures = self.signs = 0
        self.told: list[str] = []  # screens, taps with figures, and the page come to

    @property
    def number(self) -> int:
        return self.hands.job.number

    def __str__(self) -> str:
        return f"{self.screens} screens, {self.taps} taps, {self.figures} typed figures ({self.signs} signs): {self.taps + self.figures}"

    def tap(self, place: Locator) -> None:
        self.taps += 1
        place.tap()

    # What a `journey.Hand` does away from the steps, counted alike: a box that is typed in is a figure, words too.

    def go(self, place: Locator) -> None:
        self.lead(place)

    def write(self, box: Locator, text: str) -> None:
        self.tap(box)
        box.fill(text)
        self.figures += 1
        self.signs += len(text)

    def tick(self, box: Locator) -> None:
        self.tap(box)

    def choose(self, place: Locator, value: str) -> None:
        self.tap(place.and_(self.page.locator(f'[value="{value}"]')))

    def give(self, place: Locator, picture: dict[str, Any]) -> None:
        self.taps += 1
        place.set_input_files(picture)  # type: ignore[arg-type]

    def lead(self, place: Locator) -> None:
        """A tap that leads to another page."""
        with loads(self.page):
            self.tap(place)
        self._count()

    def _count(self) -> None:
        self.screens += 1
        self.told.append(f"{self.screens:3d} {self.taps + self.figures:4d} {self.page.url.removeprefix(self.here)}")

    def work(self) -> None:
        """From the Bench to the last step signed."""
        try:
            self._work()
        except Exception as stuck:
            stuck.add_note("\n".join([*self.told[-6:], self.page.url, self.page.inner_text("main")]))
            raise

    def _work(self) -> None:
        self.page.goto(f"{self.here}/jobs/{self.number}/steps/")
        self._count()
        self.lead(self.page.locator("main .go"))
        for _ in range(300):
            here = self.hands.here()
            if here.current is None:
                return
            if here.waits(here.current) and here.meanwhile is None:
                self.wait(35)
                self._inside(self._reload)
            if self.page.locator(".acts").count():
                self._list()
            elif self.page.locator("#reading").count():
                self.step()
            else:
                self._past()
        raise AssertionError("the steps have no end\n" + "\n".join(self.told[-20:]))

    def _past(self) -> None:
        """What waits, or is done: on to what comes next."""
        if (
            self.page.locator(".closed", has_text=re.compile("Not before|It can be told from")).count()
            and not self.page.get_by_text("Meanwhile: step").count()
        ):
            self.wait(35)
        self.lead(self.page.locator("main .go"))

    def _list(self) -> None:
        """Every open row of a list, from the top; the last one leads on."""
        start = self.page.url.partition("?")[0].partition("#")[0]
        here = self.hands.here()
        screen = next(each for each in here.screens if f"/{each.slots[0].step.key}/list/" in start)
        for slot in screen.slots:
            if self.page.url.partition("?")[0].partition("#")[0] != start:
                break  # what is left waits, and the page led on
            here = self.hands.here()
            if here.settled(slot):
                continue
            row = self.page.locator(f"#row-{slot.number}")
            if "?put=" in self.page.url and f"?put={slot.step.key}" not in self.page.url:
                # The keys of another row came of themselves.
                self._inside(lambda: self.tap(self.page.get_by_role("link", name="Back to the list")))
            if row.locator(".wait").count():
                continue
            self.row(slot, here)
        if self.page.url.partition("?")[0].partition("#")[0] != start:
            self._count()
            return
        done = self.page.locator("main .go")
        if done.inner_text().startswith(
            "To the Bench"
        ):  # nothing else to do meanwhile: the list is looked at again later
            self.wait(35)
            self._inside(self._reload)
            return
        assert done.inner_text().startswith(("Done", "Meanwhile")), (done.inner_text(), self.page.url)
        self.lead(done)

    def row(self, slot: Slot, here: Progress) -> None:
        """One open row of the list that is on the screen."""
        row = self.page.locator(f"#row-{slot.number}")
        ticks = row.locator(".tickform .tick")
        if ticks.count() == 1:
            self._signs(slot, ticks)
        elif ticks.count():
            self._signs(slot, ticks.get_by_text(self._word(slot, here), exact=True))
        elif row.locator(".photoform").count():
            self._inside(lambda: self.give(row.locator("input[type=file]"), photo(slot.number)))
        else:
            if f"?put={slot.step.key}" not in self.page.url:
                self._inside(lambda: self.tap(row.locator(".put")))
            self._answer(slot, self._inside, here)

    def _word(self, slot: Slot, here: Progress) -> str:
        """What stands on the button of the right answer."""
        needed = next(each for each in slot.step.evidence if not each.optional)
        if needed.kind == "choice":
            return needed.passes[0]
        return passing(here, replace(slot, step=replace(slot.step, evidence=(needed,))))[needed.key].text

    def _signs(self, slot: Slot, tick: Locator) -> None:
        """A tick; the server's word stands in the list, or its next page does."""
        was = self.page.url
        self.tap(tick)
        signed = self.page.locator(f"#row-{slot.number} .signed b")
        until(self.page, lambda: self.page.url != was or signed.count())
        self.page.wait_for_load_state()

    def step(self) -> None:
        """The step that has the page to itself."""
        here = self.hands.here()
        key, _, round_ = self.page.url.removeprefix(f"{self.here}/jobs/{self.number}/steps/").strip("/").partition("/")
        slot = here.slot(key, int(round_.partition("/")[0] or 0) if round_[:1].isdigit() else 0)
        assert slot is not None, self.page.url
        self._answer(slot, self._leads, here)

    def _inside(self, act: Callable[[], None]) -> None:
        """Something that keeps the same list on the screen."""
        with loads(self.page):
            act()

    def _reload(self) -> None:
        self.page.reload()

    def _leads(self, act: Callable[[], None]) -> None:
        """Something that leads to another page."""
        self._inside(act)
        self._count()

    def _answer(self, slot: Slot, leaves: Callable[[Callable[[], None]], None], here: Progress) -> None:
        """Give what is asked; where a choice signs by itself nothing else is tapped."""
        if self.page.locator("#reading[data-moves-on]").count():
            leaves(lambda: self._fill(here, slot))
            return
        self._fill(here, slot)
        leaves(lambda: self.tap(self.page.locator("#note")))

    def _fill(self, here: Progress, slot: Slot) -> None:
        needed = tuple(each for each in slot.step.evidence if not each.optional)
        answers = passing(here, replace(slot, step=replace(slot.step, evidence=needed)))
        for each in slot.step.evidence:
            card = self.page.locator(f"input[name=card-{each.key}]")
            if card.count():
                self.tap(self.page.locator(f"label:has(input[name=card-{each.key}])"))
                continue
            if each.optional:
                continue
            answer = answers[each.key]
            boxes: Any = self.page.locator(f"#reading [name={each.key}]:not([type=hidden], button)")
            if each.kind == "tick":  # alone on its page the button signs it
                if boxes.count():
                    self.tap(boxes.first)
            elif each.kind == "choice":
                self.tap(
                    self.page.locator(
                        "label.pick", has=self.page.locator(f'input[name={each.key}][value="{answer.choice}"]')
                    )
                )
            elif each.kind == "photo":
                self.give(boxes, photo(slot.number))
            else:
                self._type(boxes, answer.text.partition(" ")[0])

    def _type(self, box: Locator, figures: str) -> None:
        self.figures += 1
        self.signs += len(figures)
        keys = self.page.locator(".keys")
        if keys.count():
            for sign in figures:
                keys.get_by_text(sign, exact=True).tap()
        else:
            if not box.evaluate("(e) => e === document.activeElement"):
                self.tap(box)
            box.press_sequentially(figures)
            if self.page.evaluate(EMPTY):
                box.press("Enter")  # as the tablet's own keyboard has it: on to the next box
