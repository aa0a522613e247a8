"""The leak hold at the steps: which readings it runs from, what the next one makes of it, until when it runs.

All of it follows from the entries: a first reading, signed at the step that the wait runs from, and every reading after
it. A start that is read again, another gauge, or a reading that shows more than was in it, starts the hold anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Protocol

from django.utils import timezone

from topout.procedures import opening
from topout.procedures.model import Evidence, Procedure, Step
from topout.procedures.roles import HOLD_JUDGED
from topout.web import clock
from topout.web.jobs.core import leak_hold, on_cards, steps
from topout.web.jobs.core.leak_hold import NOT_YET, Hold, Kept
from topout.web.jobs.records.models import Instrument, Job, StepEntry
from topout.web.jobs.steps.entries import Records, of_others
from topout.web.jobs.steps.slots import Slot, hour, sets_other_end

RAN = "ran"  # in the evidence of a step that a wait runs from: what the machine's own running said then
PRESSURE, TEMPERATURE = "hold-start-pressure", "hold-start-temperature"


class HoldRecords(Protocol):
    """What a hold needs of a job's way: its entries and records, its slots, the gauge, the plan."""

    job: Job
    latest: dict[tuple[str, int], StepEntry]
    records: Records
    slots: tuple[Slot, ...]
    instrument: Instrument | None
    plan: steps.PlanNumbers


def judged(step: Step) -> Evidence | None:
    """The pressure of a step by which a leak hold is judged; None for every other step."""
    return next((each for each in step.evidence if HOLD_JUDGED in each.roles), None)


def begins_wait(procedure: Procedure, step: Step) -> bool:
    """Whether the minutes of another step run from this one."""
    return any(each.wait is not None and each.wait.after == step.key for each in procedure.steps())


def set_forward(here: HoldRecords, slot: Slot) -> str:
    """That the clock was set forward since the step signed that a wait runs from, and what then; "" where it was not.

    A wait that is over by the machine's own running is over; a hold is judged by how long it was.
    """
    wait = slot.step.wait
    start = here.latest.get((wait.after, 0)) if wait is not None else None
    true = clock.set_forward(start.at, start.evidence.get(RAN)) if start is not None else None
    if wait is None or start is None or true is None:
        return ""
    if judged(slot.step) is None and true >= timedelta(minutes=wait.minutes):
        return ""
    minutes = max(0, int(true.total_seconds() // 60))
    return (
        f"The clock was set forward since step {start.step_number} was signed: this machine ran {minutes} "
        f"minute{'' if minutes == 1 else 's'} since. Sign step {start.step_number} again: the wait runs from it anew."
    )


def disturbed(here: HoldRecords, slot: Slot) -> str:
    """That air went in, or a gauge was pushed on, since the hold began, and what then; "" where nothing of that was signed.

    Here a step that pumps; at another job of the unit, or from the other end's, any step that read its pressure, or its card.
    """
    start = here.latest.get((slot.step.wait.after, 0)) if slot.step.wait is not None else None
    if judged(slot.step) is None or start is None:
        return ""
    pumps = {each.step.key for each in here.slots if _pumps_here(each.step)}
    since = [each for each in here.records.entries if each.sequence > start.sequence and each.step_key in pumps]
    found = next((each for each in since if each.verdict in ("passed", "failed")), None)
    what = f"Step {found.step_number} pumped at {hour(found.at)}" if found is not None else ""
    if found is None and here.job.unit_id is not None:
        other = of_others(here.job).filter(pk__gt=start.pk, evidence__has_key="gauge").first()
        by = other or on_cards.pressure_since(here.job, start.at)
        what = f"Job {by.job.number} read its pressure at {hour(by.at)}" if by is not None else ""
    if not what:
        return ""
    return f"{what}, since step {start.step_number} began the hold: it tells nothing any more. Sign step {start.step_number} again."


def _pumps_here(step: Step) -> bool:
    return opening.does(step, "pumps") and not sets_other_end(step)


def readings(here: HoldRecords, slot: Slot) -> list[tuple[Kept, str]]:
    """The readings of a hold as it runs, the first one first, each with its gauge; empty where it is not begun."""
    start = here.latest.get((slot.step.wait.after, 0)) if slot.step.wait is not None else None
    if start is None or start.verdict != "passed":
        return []
    gauge, corrected = str(start.evidence.get("gauge", "")), here.records.corrected
    first = _first(here, start, gauge)
    found = [] if first is None else [(first, gauge)]
    for entry in signed(here, slot):
        row = entry.evidence["hold"]
        if row["anew"]:
            found = []
        kept = leak_hold.standing(Kept.of(row["last"]), row["gauge"], corrected)
        found += [] if kept is None else [(kept, row["gauge"])]
    return found


def signed(here: HoldRecords, slot: Slot) -> list[StepEntry]:
    """The entries that read this hold since its start, whatever they told."""
    start = here.latest.get((slot.step.wait.after, 0)) if slot.step.wait is not None else None
    since = 0 if start is None else start.sequence
    return [
        each
        for each in here.records.entries
        if each.sequence > since and each.step_key == slot.step.key and "hold" in each.evidence
    ]


def _first(here: HoldRecords, start: StepEntry, gauge: str) -> Kept | None:
    step = next((each.step for each in here.slots if each.step.key == start.step_key), None)
    answers: Mapping[str, Any] = start.evidence.get("answers", {})
    found: dict[str, tuple[float, int | None]] = {}
    for each in step.evidence if step is not None else ():
        row = answers.get(each.key)
        for role in each.roles:
            if row is not None and "value_si" in row:
                found[role] = float(row["value_si"]), row.get("reading")
    if PRESSURE not in found or TEMPERATURE not in found:
        return None
    first = Kept(start.at, found[PRESSURE][0], found[TEMPERATURE][0], found[PRESSURE][1], found[TEMPERATURE][1])
    return leak_hold.standing(first, gauge, here.records.corrected)


def judge(
    here: HoldRecords, slot: Slot, kept: dict[str, dict[str, Any]], used: Instrument | None, now: datetime
) -> tuple[Hold | None, str]:
    """What a reading makes of the hold, or why it can't be read now. `kept` are the step's answers; a leak fails its own."""
    if used is None:
        return None, "Say which gauge it is: a hold is read on one gauge throughout."
    values = {
        role: kept[each.key]["value_si"] for each in slot.step.evidence if each.key in kept for role in each.roles
    }
    before = readings(here, slot)
    if not before:
        return None, "The hold has no first reading. Read its start first."
    if now < before[-1][0].at:
        return None, (
            f"The clock stands before the reading of {hour(before[-1][0].at)}, so nobody can tell how long it held. "
            "Set the clock right, or read the start again."
        )
    mark = steps.mark_pa(used)
    pressure, temperature = values.get(HOLD_JUDGED), values.get("hold-temperature")
    # The text of such a step asks for both (procedures/check.py); on a gauge that is not legible nothing is signed (judged.py).
    assert pressure is not None and temperature is not None and mark is not None
    last = Kept(now, pressure, temperature)
    (first, gauge), between = before[0], tuple(each for each, _ in before[1:])
    found = leak_hold.hold(first, last, between, (gauge, used.code), steps.gauge_unit(used), mark, here.plan)
    start = here.latest.get((slot.step.wait.after, 0)) if slot.step.wait is not None else None
    if start is not None and clock.started_anew(start.at, start.evidence.get(RAN)):
        found = replace(found, by_clock=True)
    own = judged(slot.step)
    assert own is not None
    kept[own.key]["pass"] = found.verdict != "leaks"
    return found, ""


def told(here: HoldRecords, slot: Slot) -> Hold | None:
    """What the last reading of a hold says, with what stands of its readings; None before there is one."""
    found = signed(here, slot)
    return leak_hold.again(found[-1].evidence["hold"], here.records.corrected) if found else None


def holds(here: HoldRecords, entry: StepEntry) -> bool:
    """Whether an entry's hold, judged by what stands of its readings, holds."""
    found = leak_hold.again(entry.evidence.get("hold"), here.records.corrected)
    return found is not None and found.verdict == "holds"


def worth_reading(here: HoldRecords, slot: Slot) -> datetime | None:
    """From when a reading can tell: of the hold as it stands, else with nothing lost; None where that is not known."""
    last = told(here, slot)
    if last is not None:
        return last.tell_at
    before, mark = readings(here, slot), steps.mark_pa(here.instrument)
    if not before or mark is None or here.instrument is None:
        return None
    first, gauge = before[0]
    if gauge != here.instrument.code:
        return None
    return leak_hold.soonest(first, gauge, steps.gauge_unit(here.instrument), mark, here.plan)


def says(hold: Hold) -> str:
    """The verdict with the time from which it can be told."""
    if hold.tell_at is None:
        return hold.says
    said = hold.says.removesuffix(".")
    return f"{said}{'.' if hold.anew else ':'} {'Read' if hold.anew else 'read'} again from {moment(hold.tell_at)}."


def moment(at: datetime) -> str:
    """`16:40`, or with its day where that is not today."""
    there, now = timezone.localtime(at), timezone.localtime(clock.now())
    days = (there.date() - now.date()).days
    day = {0: "", 1: " tomorrow", -1: " yesterday"}.get(days, f" on {there:%Y-%m-%d}")
    return f"{hour(at)}{day}"


def overrides(entries: Iterable[StepEntry]) -> dict[str, float | None]:
    """The first reading of a hold that was started anew, by role, and the last temperature: for its sentences."""
    found: dict[str, float | None] = {}
    for entry in entries:
        row = entry.evidence.get("hold")
        if row is None:
            continue
        found["hold-temperature"] = row["last"]["temperature_k"]
        if row["anew"]:
            found |= {PRESSURE: row["last"]["pressure_gauge_pa"], TEMPERATURE: row["last"]["temperature_k"]}
    return found


__all__ = ["NOT_YET", "holds", "judge", "judged", "moment", "says", "told", "worth_reading"]
