"""Where a job stands in its procedure: read from its entries alone, once per page and once inside every change."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, Final

from django.utils import timezone

from topout.procedures import words
from topout.procedures.model import BIKE, Evidence, Group, Procedure, Step
from topout.procedures.read import Shipped
from topout.web import clock
from topout.web.jobs.core import steps
from topout.web.jobs.records import texts
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, ProcedureText, StepEntry
from topout.web.jobs.steps import entries
from topout.web.jobs.steps.entries import Records

VARIANT: Final = "variant:"  # step_key of the entry by which an owner switches one on
LEFT: Final = (
    "not-done",
    "not-known",
)  # verdicts by which a step that may be skipped is gone past, signed all the same
ROW: Final = ("passed", "failed", "struck", *LEFT)  # what may happen at a row while its page is open elsewhere


@dataclass(frozen=True, slots=True)
class Slot:
    """One screen: a step, or one round of a step that is repeated."""

    step: Step
    number: int
    round: int = 0
    rounds: int = 0
    pumped_to_pa: float | None = None
    reading_pa: float | None = None

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
        return not _alone(self.slots[0].step)

    def holds(self, slot: Slot) -> bool:
        """Whether the slot stands on this page."""
        return any(each.key == slot.key for each in self.slots)


def _alone(step: Step) -> bool:
    """A step that stands on a page of its own: a hold point, one that blocks or is repeated by rounds."""
    return step.hold or step.blocks or step.rounds is not None


@dataclass
class Walk:
    """A job's way through its procedure, read from the database once."""

    job: Job
    shipped: Shipped
    records: Records
    plan: steps.PlanNumbers
    variants: frozenset[str]
    instrument: Instrument | None
    hose_loss_pa: float | None = None
    slots: tuple[Slot, ...] = ()
    latest: dict[tuple[str, int], StepEntry] = field(default_factory=dict)
    readings: dict[str, float | None] = field(default_factory=dict)  # by role, SI
    current: Slot | None = None
    _numbers: dict[tuple[float | None, float | None], dict[str, float | None]] = field(default_factory=dict)

    @cached_property
    def dangers(self) -> dict[str, float | None]:
        """What can hurt, by the plan."""
        return steps.dangers(self.plan)

    @property
    def frozen(self) -> FrozenPlan:
        """The plan that the steps are taken from."""
        assert self.records.frozen is not None
        return self.records.frozen

    @property
    def entries(self) -> tuple[StepEntry, ...]:
        """What happened at the steps, in order."""
        return self.records.entries

    def then(self, entry: StepEntry) -> Walk:
        """Where the job stands once this entry is written, without a query."""
        kept = ProcedureText(sha256=self.shipped.sha256, procedure=self.procedure.key, text=self.shipped.text)
        texts_then = {self.shipped.sha256: kept, **self.records.texts}
        return derive(self.job, replace(self.records, entries=(*self.entries, entry), newest=entry, texts=texts_then))

    @property
    def procedure(self) -> Procedure:
        """The procedure of the job."""
        return self.shipped.procedure

    @property
    def total(self) -> int:
        """How many steps the job has."""
        return self.slots[-1].number

    @property
    def seen(self) -> int:
        """The sequence of the last entry: a form drawn before it is old."""
        return self.entries[-1].sequence if self.entries else 0

    @property
    def last(self) -> StepEntry | None:
        """The last entry that is not about a variant."""
        return next((entry for entry in reversed(self.entries) if not entry.step_key.startswith(VARIANT)), None)

    @property
    def begun(self) -> bool:
        """Whether the work was begun."""
        return self.last is not None

    @property
    def stopped(self) -> StepEntry | None:
        """The entry that stopped the work, while it stands."""
        return self.last if self.last is not None and self.last.verdict == "stopped" else None

    @property
    def blocked(self) -> bool:
        """Whether a failed hold point closes everything after it."""
        return any(slot.step.blocks and self.failed(slot) for slot in self.open)

    @cached_property
    def screens(self) -> tuple[Screen, ...]:
        """The job's pages, in the order of work."""
        found: list[list[Slot]] = []
        for slot in self.slots:
            before = found[-1][-1] if found else None
            same = before is not None and self.procedure.group_of(before.step) is self.procedure.group_of(slot.step)
            if before is not None and same and not _alone(slot.step) and not _alone(before.step):
                found[-1].append(slot)
            else:
                found.append([slot])
        return tuple(Screen(n, self.procedure.group_of(run[0].step), tuple(run)) for n, run in enumerate(found, 1))

    def screen_of(self, slot: Slot) -> Screen:
        """The page that a slot stands on."""
        return next(each for each in self.screens if each.holds(slot))

    @cached_property
    def conditions(self) -> dict[str, str]:
        """What its steps depend on, by the plan and by what came."""
        return {**steps.conditions(self.plan), BIKE: self.bike}

    @property
    def bike(self) -> str:
        """Whether the unit came with its bike: "here", or "away" where it came alone and alone it still is.

        What was so when the work began stays so: a bike taken off the card later takes no step out of the job.
        """
        begun = next((entry.evidence[BIKE] for entry in self.entries if BIKE in entry.evidence), None)
        alone = self.job.bike_id is None and self.job.unit_id is not None
        if begun is None and self.entries:
            return "here"
        return "away" if alone and begun in (None, "away") else "here"

    @cached_property
    def meanwhile(self) -> Slot | None:
        """What may be done while the step that comes next waits for its minutes; None where it waits for nothing."""
        if self.current is None or self.ready_at(self.current) is None:
            return None
        later = self.slots[self.at(self.current) + 1 :]
        return next((slot for slot in later if self._meanwhile(slot) and not self.settled(slot)), None)

    def _meanwhile(self, slot: Slot) -> bool:
        return self.procedure.group_of(slot.step).meanwhile

    @cached_property
    def open(self) -> tuple[Slot, ...]:
        """The slots that may be signed now: the one that comes next, the rows beside it, and what may be done meanwhile."""
        if self.current is None:
            return ()
        found: list[Slot] = []
        for first in (self.current, self.meanwhile):
            if first is not None:
                screen = self.screen_of(first)
                found += screen.slots if screen.rows else (first,)
        return tuple(found)

    def is_open(self, slot: Slot) -> bool:
        """Whether the slot may be signed now."""
        return any(each.key == slot.key for each in self.open)

    def settled(self, slot: Slot) -> bool:
        """Whether the work may go on past this point: it passed, or it was left with a reason where that may be."""
        return self.passed(slot) or self.left(slot)

    def left(self, slot: Slot) -> bool:
        """Whether it was signed as not done or not known."""
        entry = self.latest.get(slot.key)
        return entry is not None and entry.verdict in LEFT and slot.step.may_skip

    def failed(self, slot: Slot) -> bool:
        """Whether the last thing at this point was a failure."""
        entry = self.latest.get(slot.key)
        return entry is not None and entry.verdict == "failed"

    def passed(self, slot: Slot) -> bool:
        """Whether the point holds: its last entry passed; under a newer plan, or another text, its answers pass that too."""
        entry = self.latest.get(slot.key)
        if entry is None or entry.verdict != "passed":
            return False
        same = entry.plan_id == self.frozen.pk and entry.procedure_hash == self.shipped.sha256
        return same or self._holds_still(slot, entry)

    def _holds_still(self, slot: Slot, entry: StepEntry) -> bool:
        answers: dict[str, dict[str, Any]] = entry.evidence.get("answers", {})
        found = self.found(slot)
        for each in slot.step.evidence:
            answer = answers.get(each.key)
            if answer is None:
                if not each.optional:
                    return False
            elif each.kind == "choice":
                if answer.get("choice") not in each.passes:
                    return False
            elif each.kind == "number":
                try:
                    if not self.band(each, found).holds(answer.get("value_si", math.nan)):
                        return False
                except steps.NotKnown:
                    return False
        return True

    def found(self, slot: Slot, more: Mapping[str, float | None] | None = None) -> Mapping[str, float | None]:
        """Every name's number as this slot sees it; `more` adds readings typed at this very step."""
        if more:
            return self._computed(slot, more)
        # Slots differ in their round alone, so one set of numbers serves every step that has none.
        key = slot.pumped_to_pa, slot.reading_pa
        if key not in self._numbers:
            self._numbers[key] = self._computed(slot, {})
        return self._numbers[key]

    def _computed(self, slot: Slot, more: Mapping[str, float | None]) -> dict[str, float | None]:
        here = {
            "round_pressure": slot.pumped_to_pa, "round_reading": slot.reading_pa, "hose_loss": self.hose_loss_pa,
            "gauge_mark": steps.mark_pa(self.instrument),
        }  # fmt: skip
        typed = self.procedure.readings(more)
        return steps.named(self.plan, {**self.readings, **here, **typed}, self.procedure, self.dangers)

    def band(
        self, evidence: Evidence, found: Mapping[str, float | None], instrument: Instrument | None = None
    ) -> steps.Band:
        """The band of a number at this job's gauge, or at another one."""
        return steps.band(evidence, found, steps.gauge_of(instrument or self.instrument))

    def say(self, slot: Slot, text: str, *, second: bool = False) -> str:
        """A sentence of the procedure with the job's numbers in it."""
        if "{" not in text:
            return text
        units = {"pressure": steps.gauge_unit(self.instrument)}
        return words.fill_in(text, self.found(slot), self.procedure.names, second=second, units=units)

    def slot(self, key: str, round_: int = 0) -> Slot | None:
        """The slot of that step and round, None where the job has none."""
        return next((slot for slot in self.slots if slot.key == (key, round_)), None)

    def at(self, slot: Slot) -> int:
        """Where a slot stands in the order of work."""
        return next(n for n, each in enumerate(self.slots) if each.key == slot.key)

    def waits(self, slot: Slot) -> bool:
        """Whether the step can't be signed yet: its minutes run, or what they run from is not signed."""
        if slot.step.wait is None or self.slot(slot.step.wait.after) is None:
            return False
        ready = self.ready_at(slot)
        return ready is None or clock.now() < ready

    @property
    def at_hand(self) -> Slot | None:
        """What is to be done now: the step that comes next, or another that is open while that one waits."""
        return next((slot for slot in self.open if not self.settled(slot) and not self.waits(slot)), self.current)

    def ready_at(self, slot: Slot) -> datetime | None:
        """When a step that waits may be signed; None where it waits for nothing."""
        if slot.step.wait is None:
            return None
        before = self.latest.get((slot.step.wait.after, 0))
        return None if before is None else before.at + timedelta(minutes=slot.step.wait.minutes)


def walk(job: Job) -> Walk:
    """Read where a job stands. Raises NoSteps where it has no procedure or no plan that its steps can be taken from."""
    return derive(job, entries.read([job])[job.pk])


def derive(job: Job, records: Records) -> Walk:
    """Where a job stands by its records, without a query. Raises as `walk` does."""
    known = steps.procedure_of(job, records.entries, records.texts)
    if records.frozen is None:
        raise texts.NoSteps("No plan is in use yet. Make the plan first: its numbers stand in the steps.")
    variants: set[str] = set()
    for entry in records.entries:
        if entry.step_key.startswith(VARIANT):
            change = variants.add if entry.verdict == "started" else variants.discard
            change(entry.step_key.removeprefix(VARIANT))
    plan = steps.numbers(records.frozen)
    here = Walk(job, known, records, plan, frozenset(variants), _instrument(records))
    here.hose_loss_pa = steps.hose_loss_pa(plan, here.instrument)
    here.slots = _slots(here)
    _read_entries(here)
    here.current = next((slot for slot in here.slots if not here.settled(slot)), None)
    return here


def entries_of(job: Job) -> list[StepEntry]:
    """What happened at the steps of the job's procedure, in order."""
    found = StepEntry.objects.filter(job=job, procedure=job.procedure).order_by("sequence")
    return list(found.prefetch_related("who"))


def _instrument(records: Records) -> Instrument | None:
    """The gauge last named at a step, else the one that read the pressure as found, else the only one there is."""
    code = next((entry.evidence["gauge"] for entry in reversed(records.entries) if entry.evidence.get("gauge")), None)
    if code is not None:
        return records.instruments[code]
    found = records.readings.get(("as-found", "pressure"))
    if found is not None and found.instrument is not None:
        return found.instrument
    return records.gauges[0] if len(records.gauges) == 1 else None


def _slots(here: Walk) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    for number, step in enumerate(here.procedure.applying(here.conditions, here.variants), 1):
        if step.rounds is None:
            slots.append(Slot(step, number))
            continue
        rounds = steps.schedule(here.frozen, step.rounds, here.instrument).rounds
        for n, each in enumerate(rounds, 1):
            reading = each.after_stroke_gauge_pa if each.reading_gauge_pa is None else each.reading_gauge_pa
            slots.append(Slot(step, number, n, len(rounds), each.pumped_to_gauge_pa, reading))
    return tuple(slots)


def _read_entries(here: Walk) -> None:
    """The last entry of each point. A round done again undoes the rounds after it, a wait's start undoes its end."""
    waits = {step.key: step.wait.after for step in here.procedure.steps() if step.wait is not None}
    struck = {entry.evidence["strikes"] for entry in here.entries if entry.verdict == "struck"}
    for entry in here.entries:
        if entry.verdict not in ("passed", "failed", *LEFT) or entry.sequence in struck:
            continue
        round_ = int(entry.evidence.get("round", 0))
        for key in list(here.latest):
            if (key[0] == entry.step_key and key[1] > round_) or waits.get(key[0]) == entry.step_key:
                del here.latest[key]
        here.latest[entry.step_key, round_] = entry
        if entry.verdict == "passed":
            given = entry.evidence.get("answers", {})
            here.readings |= here.procedure.readings(
                {k: row["value_si"] for k, row in given.items() if "value_si" in row}
            )


def hour(at: datetime) -> str:
    """`13:49`, in the workshop's time."""
    return timezone.localtime(at).strftime("%H:%M")


def name(entry: StepEntry) -> str:
    """Who it was."""
    return entry.who.get_full_name() or entry.who.get_username()
