"""A job's way through its procedure, from records that were read: what passed, what is open, what a danger closes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from topout.procedures import words
from topout.procedures.model import Evidence, Procedure
from topout.procedures.read import Shipped
from topout.web import clock
from topout.web.access import preferences
from topout.web.book.service import Known, by_name
from topout.web.jobs.core import steps
from topout.web.jobs.core.danger import Danger
from topout.web.jobs.records import own
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, Reading, StepEntry
from topout.web.jobs.steps import bands, conditions, holds
from topout.web.jobs.steps.entries import Records
from topout.web.jobs.steps.slots import LEFT, VARIANT, Screen, Slot, alone, filled, hour, is_at
from topout.web.jobs.steps.understood import covers


@dataclass
class Progress:
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
    failed_holds: tuple[Danger, ...] = ()  # every hold point that failed and was not passed since
    readings: dict[str, float | None] = field(default_factory=dict)  # by role, SI
    current: Slot | None = None
    _holds: dict[int, bool] = field(default_factory=dict)
    _due: dict[tuple[str, int], datetime | None] = field(default_factory=dict)
    _numbers: dict[tuple[float | None, float | None], dict[str, float | None]] = field(default_factory=dict)

    @cached_property
    def sheet(self) -> dict[str, Known]:
        """What the maker's sheet says of the unit's family, by field; lengths by travel are those of the new travel."""
        return by_name(self.records.sheets, self.plan.new_travel_m)

    def shown(self, each: Evidence) -> dict[str, Any]:
        """What stays in an entry of the sheet's value that stood on the page: what was signed, whatever it says later."""
        known = self.sheet.get(each.service) if each.service else None
        return {} if known is None else {"sheet": {"value": known.words, "source": known.source}}

    @property
    def frozen(self) -> FrozenPlan | None:
        """The plan that the steps are taken from."""
        return self.records.frozen

    @property
    def standing(self) -> Mapping[int, Reading]:
        """For each corrected reading, what stands in its place."""
        return self.records.standing

    @property
    def gauges(self) -> Mapping[str, Instrument]:
        """The workshop's instruments by their mark, those put away too."""
        return self.records.instruments

    @property
    def entries(self) -> tuple[StepEntry, ...]:
        """What happened at the steps, in order."""
        return self.records.entries

    @property
    def procedure(self) -> Procedure:
        """The procedure of the job."""
        return self.shipped.procedure

    @property
    def unchecked(self) -> str:
        """What is said of its steps where they are the workshop's own; "" where they come with the tool."""
        return own.told(self.procedure.title, self.procedure.version) if own.is_own(self.procedure.key) else ""

    @property
    def total(self) -> int:
        """How many steps the job has."""
        return self.slots[-1].number

    @property
    def seen(self) -> int:
        """The sequence of the last entry, or of a plan put to use since: a form drawn before it is old, its sentences too."""
        return max(self.entries[-1].sequence if self.entries else 0, self.frozen.sequence if self.frozen else 0)

    @property
    def replanned(self) -> bool:
        """Whether a plan was put to use after the last entry."""
        return self.frozen is not None and self.seen == self.frozen.sequence

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
    def danger(self) -> Danger | None:
        """The failed hold point that closes everything after it, the first of them, whatever the plan or order now."""
        return next((each for each in self.failed_holds if each.stops), None)

    @property
    def blocked(self) -> bool:
        """Whether a failed hold point closes everything after it."""
        return self.danger is not None

    @cached_property
    def screens(self) -> tuple[Screen, ...]:
        """The job's pages, in the order of work."""
        found: list[list[Slot]] = []
        for slot in self.slots:
            before = found[-1][-1] if found else None
            same = before is not None and self.procedure.group_of(before.step) is self.procedure.group_of(slot.step)
            if before is not None and same and not alone(slot.step) and not alone(before.step):
                found[-1].append(slot)
            else:
                found.append([slot])
        return tuple(Screen(n, self.procedure.group_of(run[0].step), tuple(run)) for n, run in enumerate(found, 1))

    def screen_of(self, slot: Slot) -> Screen:
        """The page that a slot stands on."""
        return next(each for each in self.screens if each.holds(slot))

    @cached_property
    def conditions(self) -> dict[str, str]:
        """What its steps depend on, by the plan, by what came and by what was answered."""
        return conditions.of_job(self.job, self.procedure, self.entries, self.plan)

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

    def closed(self, slot: Slot) -> str:
        """Why a failed hold point closes this step; empty where it does not.

        Open are the point itself, what was signed before it failed, and under the same text what comes before it.
        """
        for each in self.failed_holds:
            if not each.stops or slot.key == each.point:
                continue
            there = self.slot(*each.point) or self.proves(each)
            if any(e.step_key == slot.step.key and e.sequence < each.entry.sequence for e in self.entries):
                continue
            if there is None:
                return (
                    f"{each.title} Step {each.entry.step_number} failed at {hour(each.entry.at)}, and the plan in use has no "
                    "such step. Make the plan as it was and test again, or hand it back not fit to ride."
                )
            if self.at(slot) > self.at(there):
                return f"Step {there.words} comes first. Step {slot.words} is not open yet: {each.title}"
            if each.entry.procedure_hash != self.shipped.sha256:
                return f"{each.title} Step {there.words} failed and comes first, whatever the order of the steps now."
        return ""

    def proves(self, danger: Danger) -> Slot | None:
        """The step that proves empty what was looked for, where the job has no such look any more: the Book was put right."""
        return next((slot for slot in self.slots if danger.proved_by(self.procedure.key, slot.step)), None)

    def before(self, slot: Slot) -> StepEntry | None:
        """The last time this point was signed, passed or failed."""
        return next((entry for entry in reversed(self.entries) if is_at(entry, slot.key)), None)

    def gauges_failed(self, slot: Slot, elsewhere: Sequence[StepEntry] = ()) -> list[Instrument]:
        """The gauges that this step failed on, in any of its rounds, and did not pass on since; `elsewhere` is the same step at other jobs of the unit."""
        failed: dict[tuple[int, int], dict[str, Instrument]] = {}
        for entry in (*elsewhere, *self.entries):
            if entry.step_key != slot.step.key or entry.verdict not in ("passed", "failed"):
                continue
            key = entry.job_id, int(entry.evidence.get("round", 0))
            gauge = self.gauges.get(entry.evidence.get("gauge", ""))
            if entry.verdict == "passed":
                failed.pop(key, None)
            elif gauge is not None:
                failed.setdefault(key, {})[gauge.code] = gauge
        return [gauge for found in failed.values() for gauge in found.values()]

    def failed(self, slot: Slot) -> bool:
        """Whether the last thing at this point was a failure."""
        entry = self.latest.get(slot.key)
        return entry is not None and entry.verdict == "failed"

    def passed(self, slot: Slot) -> bool:
        """Whether the point holds: its last entry passed, and what stands of its answers passes by plan and text of now."""
        entry = self.latest.get(slot.key)
        if entry is None or entry.verdict != "passed":
            return False
        if entry.pk not in self._holds:
            self._holds[entry.pk] = self._holds_still(slot, entry)
        return self._holds[entry.pk]

    def _holds_still(self, slot: Slot, entry: StepEntry) -> bool:
        if not filled(slot, entry):
            return False
        answers: dict[str, dict[str, Any]] = entry.evidence.get("answers", {})
        found = self.found(slot)
        gauge = self.gauges.get(entry.evidence.get("gauge", ""))  # it is judged by the gauge that it was read on
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
                    if not self._band_of(slot, each, found, gauge, entry).holds(self.stands(each, answer)):
                        return False
                except steps.NotKnown:
                    return False
            elif each.kind == "tick":
                if not covers(self.procedure, each.label, answer, found, same_plan=self._by_this_plan(entry)):
                    return False
            elif not answer.get("sha256"):  # a photo
                return False
        return holds.judged(slot.step) is None or holds.holds(self, entry)

    def _by_this_plan(self, entry: StepEntry) -> bool:
        return entry.plan_id == (self.frozen.pk if self.frozen is not None else None)

    def _band_of(
        self, slot: Slot, each: Evidence, found: Mapping[str, float | None], gauge: Instrument | None, entry: StepEntry
    ) -> steps.Band:
        """The band of an old answer: as it is now; as it was, where plan and text are and the gauge's row is not legible now."""
        kept = entry.evidence.get("answers", {}).get(each.key, {})
        same = self._by_this_plan(entry) and entry.procedure_hash == self.shipped.sha256
        if same and "low_si" in kept and gauge is not None and not steps.legible(gauge):
            return steps.Band(kept.get("expect_si"), kept["low_si"], kept["high_si"])
        return self.band(slot, each, found, gauge)

    def stands(self, each: Evidence, answer: Mapping[str, Any]) -> float:
        """What stands of a number that was given at a step: corrected on the card, it is the correction; NaN for none."""
        row = self.standing.get(answer.get("reading") or 0)
        if answer.get("from_card") and each.card is not None and row is None:
            row = self.records.readings.get(each.card)
        return row.value_si if row is not None else float(answer.get("value_si", math.nan))

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
        }  # fmt: skip
        typed = slot.step.readings(more)
        named = steps.named(self.plan, {**self.readings, **here, **typed}, self.procedure)
        return {**named} | {name: value.value_si for name, value in self.sheet.items() if value.value_si is not None}

    def band(
        self, slot: Slot, evidence: Evidence, found: Mapping[str, float | None], instrument: Instrument | None = None
    ) -> steps.Band:
        """The band of a number of a slot at this job's gauge, or at another one."""
        used = instrument or self.instrument
        of_round = bands.of_round(slot, used) if evidence.dimension == "pressure" else None
        if of_round is not None:
            return of_round
        gauge = steps.gauge_of(used) if evidence.dimension == "pressure" else None
        return bands.under_limit(steps.band(evidence, found, gauge), slot.step, evidence, self.plan, self.job.unit)

    def say(self, slot: Slot, text: str, *, second: bool = False) -> str:
        """A sentence of the procedure with the job's numbers in it."""
        if "{" not in text:
            return words.given(text, preferences.system())
        units = {"pressure": steps.gauge_unit(self.instrument)}
        return words.fill_in(
            text,
            self.found(slot),
            self.procedure.names,
            second=second,
            units=units,
            system=preferences.system(),
            guesses=steps.guesses(self.plan, self.job, self.procedure, self.readings),
        )

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
        """When a step that waits is due; None where it waits for nothing. A leak hold: from when a reading can tell."""
        may = self.may_from(slot)
        if may is None or holds.judged(slot.step) is None:
            return may
        if slot.key not in self._due:
            self._due[slot.key] = holds.worth_reading(self, slot)
        tells = self._due[slot.key]
        return may if tells is None else max(may, tells)

    def may_from(self, slot: Slot) -> datetime | None:
        """From when a step that waits may be signed; None where it waits for nothing."""
        began, wait = self._wait_began(slot), slot.step.wait
        return None if began is None or wait is None else began + timedelta(minutes=wait.minutes)

    def waits_since(self, slot: Slot) -> datetime | None:
        """When the wait of a step began: for a leak hold its first reading, also one that started it anew."""
        if holds.judged(slot.step) is not None and (read := holds.readings(self, slot)):
            return read[0][0].at
        return self._wait_began(slot)

    def _wait_began(self, slot: Slot) -> datetime | None:
        """When the step that a step waits after was signed; None where it waits for nothing, or that is still to do."""
        if slot.step.wait is None:
            return None
        before = self.latest.get((slot.step.wait.after, 0))
        return None if before is None else before.at
