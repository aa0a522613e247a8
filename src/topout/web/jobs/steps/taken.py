"""The readings that a step takes: with what, of which chamber, and which earlier one each strikes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from topout.procedures.model import Evidence
from topout.web.access.change import ChangeContext
from topout.web.jobs.core import hoses
from topout.web.jobs.readings.photos import Drawn
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import BESIDE, KINDS
from topout.web.jobs.records.models import Instrument, Reading, StepEntry
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.steps.slots import Slot
from topout.web.jobs.steps.way import Progress


@dataclass(frozen=True, slots=True)
class Answer:
    """What was given for one piece of evidence: a tick, a choice, a number as typed with its SI value, or a photo."""

    choice: str = ""
    tick: bool = False
    text: str = ""
    value_si: float | None = None
    unit: str = ""
    typed_first: str = ""  # where a question was answered: what stood in the box before
    photo: Drawn | None = None
    from_card: bool = False


def take(
    doing: ChangeContext, here: Progress, each: Evidence, answer: Answer, *, passed: bool, means: Mapping[str, str],
    used: Instrument | None, of_range: int | None, temperature_k: float | None, corrects: Reading | None, reason: str,
) -> Reading:  # fmt: skip
    """One reading of the job. What failed is kept as a step's reading, never as how the bike left.

    `temperature_k` is what was read at the same step: hours later the workshop is another, so no earlier one stands in for it.
    """
    assert answer.value_si is not None
    stage, kind = ("step", each.key) if each.card is None or not passed else each.card
    more: dict[str, Any] = {}
    if kind in KINDS and KINDS[kind].posture:
        posture = means.get("posture", "")
        more["posture"] = "" if posture == "not-measured" else posture
    if of_range is not None:
        more["of_range"] = of_range
    if each.dimension == "pressure":
        more["temperature_k"] = temperature_k
        # As found the pump is pushed on to read. As left the step asks: set with the pump on, its hose is full already.
        pushed_on = stage == "as-found" or (stage == "as-left" and means.get("pump") == "pushed-on")
        chambers = here.plan.before if stage == "as-found" else here.plan.after
        if kind in BESIDE:
            chambers = here.plan.other_before
        if used is not None and each.card is not None and pushed_on and chambers is not None:
            more |= hoses.correction(BESIDE.get(kind, kind), answer.value_si, used, chambers)
    dimension = "" if each.dimension == "count" else each.dimension
    instrument = used if each.dimension == "pressure" else None
    taken = Taken(kind, answer.text, answer.value_si, dimension, answer.unit, instrument, more)
    return readings.take(doing, here.job, stage, taken, corrects, reason if corrects is not None else "")


def read_before(here: Progress, each: Evidence, before: StepEntry | None) -> Reading | None:
    """The reading that the new one takes the place of: what stands of the one at this point, else of the card's."""
    row = before.evidence.get("answers", {}).get(each.key, {}) if before is not None else {}
    if row.get("reading"):
        return here.standing.get(row["reading"]) or Reading.objects.get(pk=row["reading"])
    return readings.current(here.job, each.card[0]).get(each.card[1]) if each.card is not None else None


def means_of(slot: Slot, kept: Mapping[str, dict[str, Any]]) -> dict[str, str]:
    """What the step's choices are for its readings, by role: `pump` is `pushed-on`."""
    return {
        role: each.meaning(kept[each.key].get("choice", ""))
        for each in slot.step.evidence
        if each.kind == "choice" and each.key in kept
        for role in each.roles
    }


def range_of(slot: Slot, clicks: Evidence, kept: Mapping[str, dict[str, Any]]) -> int | None:
    """Clicks in all that the same step counted beside a reading of the card; None where it did not."""
    role = f"{clicks.card[1]}-range" if clicks.card is not None else ""
    row = next((kept.get(each.key) for each in slot.step.evidence if role in each.roles), None)
    return None if row is None else int(row["value_si"])
