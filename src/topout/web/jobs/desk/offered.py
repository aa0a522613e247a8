"""Which procedures a job is offered: those that are written for its unit; where nobody knows what the unit is, every one."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from topout.procedures import library
from topout.web.book import kinds
from topout.web.jobs.core import written_for
from topout.web.jobs.records import own

NONE = ("", "none; the work as asked")


@dataclass(frozen=True)
class Offer:
    """A procedure that may be chosen: the name that a card keeps, what it is called, the kinds of unit it is written for."""

    name: str
    words: str
    units: tuple[str, ...]


class Offers:
    """Every procedure that comes with the tool, and the workshop's own that are switched on, read once a form."""

    def __init__(self) -> None:
        shipped = sorted(library.heads().items(), key=lambda each: each[1].title)
        self.every = [Offer(key, head.title[0].lower() + head.title[1:], head.units) for key, head in shipped]
        self.every += [
            Offer(row.text.procedure, own.said(row), library.head_of(row.source).units) for row in own.offered()
        ]

    def choices(self, kind: str | None) -> list[tuple[str, str]]:
        """Name and words of what a unit of this kind can have; None, or a kind there is not: of all."""
        return [
            NONE,
            *((each.name, each.words) for each in self.every if kind not in kinds.KINDS or kind in each.units),
        ]

    def left_out(self, kind: str | None) -> str:
        """How many are not among them, and what those are for; "" where all are."""
        if kind not in kinds.KINDS:
            return ""
        others = [each for each in self.every if kind not in each.units]
        of = Counter(each.units[0] for each in others)
        if not others:
            return ""
        listed = ", ".join(f"{number} for a {kinds.KINDS[unit].words}" for unit, number in of.most_common())
        return f"What is written for a {kinds.KINDS[kind].words}. Not here: {listed}."

    def refusal(self, name: str, kind: str | None) -> str:
        """Why a unit of this kind can't have the procedure; "" where it can, or where one of the two is not known."""
        offer = next((each for each in self.every if each.name == name), None)
        if offer is None or kind not in kinds.KINDS or kind in offer.units:
            return ""
        words = offer.words[0].upper() + offer.words[1:]
        return f"{words}: {written_for.said(offer.units, f'a {kinds.KINDS[kind].words}')} Choose another procedure."


def label(name: str) -> str:
    """A procedure that a job has, in words, whether it is offered still or not."""
    row = own.named(name)
    if row is not None:
        return own.said(row)
    head = library.heads().get(name)
    return head.title[0].lower() + head.title[1:] if head is not None else name or NONE[1]
