"""The pace of a job without a browser: the pages that its groups make, and what each asks of a practised hand.

The second way to the numbers that `pace.py` counts on the pages themselves: addresses, rows and forms are asked of the same rooms
that draw them, and the engine signs. A screen, a tap and a typed figure are what they are there.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

from django.db import transaction

from topout.web.jobs.steps import lists, page, rows
from topout.web.jobs.steps.addresses import page_of
from topout.web.jobs.steps.form import StepForm
from topout.web.jobs.steps.progress import Progress, Slot
from web.browser.conftest import Clock
from web.steps_kit import Hands, passing

ANYBODY: Any = SimpleNamespace(one_a_page=False)  # whose request it is: the pages ask it for no more


@dataclass
class Foreseen:
    """What a job will ask, from the Bench to its last step."""

    hands: Hands
    clock: Clock
    screens: int = 2  # where it begins, and its first page
    asked: int = 1  # "Begin"
    at: str = field(init=False)

    def work(self) -> tuple[int, int]:
        """Screens; taps and typed figures together."""
        self.hands.at = self.clock.now()
        self.hands.begin()
        here = self.hands.here()
        self.at = page_of(ANYBODY, here, here.at_hand)
        for _ in range(300):
            here = self.hands.here()
            if here.current is None:
                return self.screens, self.asked
            if here.waits(here.current) and here.meanwhile is None:
                self.clock.wait(35)
            elif "/list/" in self.at:
                self._list(here)
            else:
                assert here.at_hand is not None
                self._form(here, here.at_hand)
                self._on()
        raise AssertionError(f"the steps have no end: {self.at}")

    def _on(self) -> None:
        here = self.hands.here()
        self.at = page_of(ANYBODY, here, here.at_hand)
        self.screens += 1

    def _list(self, here: Progress) -> None:
        start = self.at.partition("?")[0]
        assert here.at_hand is not None
        for slot in here.screen_of(here.at_hand).slots:
            if self.at.partition("?")[0] != start:
                break
            here = self.hands.here()
            if here.settled(slot):
                continue
            if "?put=" in self.at and not self.at.endswith(f"?put={slot.step.key}"):
                self.asked += 1  # "Back to the list": the keys of another row came of themselves
                self.at = start
            if here.waits(slot):
                continue
            row = rows._row(here, slot, at_hand=False)
            if row.kind in ("tick", "choice", "photo"):
                self.asked += 1
                self._sign(here, slot)
            else:
                self.asked += "?put=" not in self.at
                self._form(here, slot)
            self.at = lists.after_row(ANYBODY, self.hands.here(), slot)
        if self.at.partition("?")[0] != start:
            self.screens += 1
        else:  # nothing else to do meanwhile: the list is looked at again later
            self.clock.wait(35)

    def _form(self, here: Progress, slot: Slot) -> None:
        """The boxes of a step, and the button that signs them where no choice signs by itself."""
        form = StepForm(walk=here, slot=slot)
        evidence = slot.step.evidence
        if page._moves_on(slot, form):
            self.asked += 1
        else:
            keys = [each.kind for each in evidence] == ["number"] and not form.on_card
            empty = [e.key for e in evidence if e.kind == "number" and not e.optional and e.key not in form.on_card]
            cursor = empty[0] if empty else ""
            for each in evidence:
                if each.key in form.on_card:
                    self.asked += 1
                    cursor = ""
                elif each.optional:
                    pass
                elif each.kind == "number":
                    self.asked += 1 if keys or cursor == each.key else 2
                    empty.remove(each.key)
                    cursor = empty[0] if empty else ""  # Enter goes on to it
                elif each.kind == "photo":
                    self.asked += 1
                elif each.key != page._sole(slot, form):
                    self.asked += 1
                    cursor = ""
            self.asked += 1
        self._sign(here, slot)

    def _sign(self, here: Progress, slot: Slot) -> None:
        needed = tuple(each for each in slot.step.evidence if not each.optional)
        answers = passing(here, replace(slot, step=replace(slot.step, evidence=needed)))
        self.hands.at = self.clock.now()
        entry = self.hands.sign(slot, answers, minutes=0, here=here)
        assert entry.verdict == "passed", (slot.step.key, entry.evidence)


def foreseen(hands: Hands, clock: Clock) -> tuple[int, int]:
    """What a job will ask that is worked by pages afterwards: all that is signed here is taken back."""
    ahead, at = clock.ahead, hands.at
    with transaction.atomic():
        found = Foreseen(hands, clock).work()
        transaction.set_rollback(True)
    clock.ahead, hands.at = ahead, at
    return found
