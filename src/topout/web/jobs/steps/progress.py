"""Where a job stands in its procedure: read from its entries alone, once per page and once inside every change."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, Final

from django.utils import timezone

from topout.procedures import words
from topout.procedures.model import Evidence, Procedure, Step
from topout.procedures.read import Shipped
from topout.web.jobs.core import steps
from topout.web.jobs.records import readings, texts
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, StepEntry
from topout.web.jobs.records.plans import current_plan

VARIANT: Final = "variant:"  # step_key of the entry by which an owner switches one on


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


@dataclass
class Walk:
    """A job's way through its procedure, read from the database once."""

    job: Job
    shipped: Shipped
    frozen: FrozenPlan
    plan: steps.PlanNumbers
    entries: list[StepEntry]
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
        return self.current is not None and self.current.step.blocks and self.failed(self.current)

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

    def ready_at(self, slot: Slot) -> datetime | None:
        """When a step that waits may be signed; None where it waits for nothing."""
        if slot.step.wait is None:
            return None
        before = self.latest.get((slot.step.wait.after, 0))
        return None if before is None else before.at + timedelta(minutes=slot.step.wait.minutes)


def walk(job: Job) -> Walk:
    """Read where a job stands. Raises NoSteps where it has no procedure or no plan that its steps can be taken from."""
    entries = entries_of(job)
    known = steps.procedure_of(job, entries)
    frozen = current_plan(job)
    if frozen is None:
        raise texts.NoSteps("No plan is in use yet. Make the plan first: its numbers stand in the steps.")
    variants: set[str] = set()
    for entry in entries:
        if entry.step_key.startswith(VARIANT):
            change = variants.add if entry.verdict == "started" else variants.discard
            change(entry.step_key.removeprefix(VARIANT))
    plan = steps.numbers(frozen)
    here = Walk(job, known, frozen, plan, entries, frozenset(variants), _instrument(job, entries))
    here.hose_loss_pa = steps.hose_loss_pa(plan, here.instrument)
    here.slots = _slots(here)
    _read_entries(here)
    here.current = next((slot for slot in here.slots if not here.passed(slot)), None)
    return here


def entries_of(job: Job) -> list[StepEntry]:
    """What happened at the steps of the job's procedure, in order."""
    found = StepEntry.objects.filter(job=job, procedure=job.procedure).order_by("sequence")
    return list(found.prefetch_related("who"))  # a hundred entries are signed by two or three people


def _instrument(job: Job, entries: list[StepEntry]) -> Instrument | None:
    """The gauge last named at a step, else the one that read the pressure as found, else the only one there is."""
    code = next((entry.evidence["gauge"] for entry in reversed(entries) if entry.evidence.get("gauge")), None)
    if code is not None:
        return Instrument.objects.get(code=code)
    found = readings.current(job, "as-found").get("pressure")
    if found is not None and found.instrument is not None:
        return found.instrument
    gauges = list(gauges_in_use()[:2])
    return gauges[0] if len(gauges) == 1 else None


def gauges_in_use() -> Any:
    """The gauges of the workshop that are not put away."""
    return Instrument.objects.filter(kind="gauge", retired_at=None).order_by("code")


def _slots(here: Walk) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    for number, step in enumerate(here.procedure.applying(steps.conditions(here.plan), here.variants), 1):
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
    for entry in here.entries:
        if entry.verdict not in ("passed", "failed"):
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
