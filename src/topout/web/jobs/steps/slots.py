"""The points of a job's way: a step or a round of it, the pages they stand on, and who signed when, in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils import timezone

from topout.procedures.model import Group, Step
from topout.web.jobs.core.steps import Filling
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import FrozenPlan, StepEntry

VARIANT: Final = "variant:"  # step_key of the entry by which an owner switches one on
LEFT: Final = (
    "not-done",
    "not-known",
)  # verdicts by which a step that may be skipped is gone past, signed all the same
ROW: Final = (
    "passed",
    "failed",
    "struck",
    "not-yet",
    *LEFT,
)  # what may happen at a row while its page is open elsewhere
OPENS: Final = ("opens", "ring-out")  # roles of a step that takes something off that pressure may stand behind
BY_MISTAKE: Final = "Ticked by mistake"  # why a tick was taken back, where nothing was done


@dataclass(frozen=True, slots=True)
class Slot:
    """One screen: a step, or one round of a step that is repeated.

    `filling` stands where nothing is expected of the round: the rounds read before it judge it, and more may follow.
    """

    step: Step
    number: int
    round: int = 0
    rounds: int = 0
    pumped_to_pa: float | None = None
    reading_pa: float | None = None
    filling: Filling | None = None

    @property
    def key(self) -> tuple[str, int]:
        """What tells it apart in the entries."""
        return self.step.key, self.round

    @property
    def words(self) -> str:
        """`9`, or `14, round 3`: for sentences."""
        return f"{self.number}, round {self.round}" if self.round else str(self.number)


@dataclass(frozen=True, slots=True)
class Screen:
    """What stands on one page: one hold point or round alone, or the steps of a group up to its next hold point."""

    number: int
    group: Group
    slots: tuple[Slot, ...]

    @property
    def rows(self) -> bool:
        """Whether it is a list of reversible steps, each ticked by itself."""
        return not alone(self.slots[0].step)

    def holds(self, slot: Slot) -> bool:
        """Whether the slot stands on this page."""
        return any(each.key == slot.key for each in self.slots)


def sets_other_end(step: Step) -> bool:
    """Whether a step is of the unit at the other end of the bike, not of the job's own."""
    return any(each.card is not None and each.card[1] in BESIDE for each in step.evidence)


def alone(step: Step) -> bool:
    """A step that stands on a page of its own: a hold point, one that blocks or is repeated by rounds."""
    return step.hold or step.blocks or step.rounds is not None


def hour(at: datetime) -> str:
    """`13:49`, in the workshop's time."""
    return timezone.localtime(at).strftime("%H:%M")


def name(entry: StepEntry | FrozenPlan) -> str:
    """Who it was, by the name of then."""
    return entry.who_name


def pumped_to(entry: StepEntry, due_pa: float | None) -> bool:
    """Whether the round that an entry signed was pumped to this pressure [Pa gauge]."""
    was = entry.evidence.get("pumped_to_pa")
    return was is not None and due_pa is not None and math.isclose(was, due_pa, rel_tol=1e-6)


def filled(slot: Slot, entry: StepEntry) -> bool:
    """Whether the entry of a round was pumped to what is due there now; of a step that pumps nothing always."""
    if slot.filling is None:
        return True
    return pumped_to(entry, slot.pumped_to_pa)


def choices(entries: Iterable[StepEntry]) -> Iterator[tuple[tuple[str, str], str]]:
    """Every choice of what passed, by the keys of step and evidence, in the order of the entries."""
    for entry in entries:
        if entry.verdict == "passed":
            for key, answer in entry.evidence.get("answers", {}).items():
                if "choice" in answer:
                    yield (entry.step_key, key), answer["choice"]


def is_at(entry: StepEntry, key: tuple[str, int]) -> bool:
    """Whether an entry passed or failed this point."""
    return entry.verdict in ("passed", "failed") and (entry.step_key, int(entry.evidence.get("round", 0))) == key
