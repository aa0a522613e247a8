"""A step's entry as it is written: its readings and photos, the gauge, how long it took."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import Max

from topout.procedures.roles import HOLD_JUDGED, LOOKED_FOR, SHOW_EMPTY
from topout.web import clock
from topout.web.access.change import ChangeContext
from topout.web.book.models import Unit
from topout.web.jobs.core import both_ends, on_cards
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.core.danger import BY_READINGS
from topout.web.jobs.core.leak_hold import Hold
from topout.web.jobs.readings.photos import keep as keep_photo
from topout.web.jobs.records import drafts, texts
from topout.web.jobs.records.models import Instrument, Reading, StepEntry
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.steps import conditions, holds
from topout.web.jobs.steps.progress import Progress, Slot
from topout.web.jobs.steps.taken import Answer, means_of, range_of, read_before, take

# Longer without a sign than this, and somebody was called away: no more of it counts as active (ours, no source).
IDLE_MOST: Final = timedelta(minutes=15)


def write(
    doing: ChangeContext, here: Progress, slot: Slot, kept: dict[str, dict[str, Any]], verdict: str,
    answers: Mapping[str, Answer], used: Instrument | None, hold: Hold | None, other: Unit | None,
) -> StepEntry:  # fmt: skip
    """The readings, photos and the entry itself. What was read here before is struck by what is read now.

    The readings of a leak hold stand beside each other: a later one corrects none before it.
    """
    before = here.before(slot)
    means = means_of(slot, kept)
    first_reading = first_photo = None
    pressure = False
    rows: dict[str, int] = {}  # the readings by role
    degrees = next((row["value_si"] for row in kept.values() if row.get("dimension") == "temperature"), None)
    for each in slot.step.evidence:
        row, answer = kept.get(each.key), answers.get(each.key)
        if row is None or answer is None:
            continue
        if answer.photo is not None:
            photo = keep_photo(doing, here.job, answer.photo, here.say(slot, each.label), slot.step.key)
            row |= {"photo": photo.pk, "sha256": photo.sha256}
            first_photo = first_photo or photo
        if each.kind == "number":
            pressure = pressure or each.dimension == "pressure"
            if not answer.from_card:
                reading = take(
                    doing, here, each, answer, passed=row["pass"] and verdict != holds.NOT_YET, means=means, used=used,
                    of_range=range_of(slot, each, kept), temperature_k=degrees,
                    corrects=read_before(here, each, before) if hold is None else None, reason=f"read again at step {slot.words}",
                )  # fmt: skip
                row["reading"] = reading.pk
                rows |= dict.fromkeys(each.roles, reading.pk)
                first_reading = first_reading or reading
    evidence: dict[str, Any] = {"said": here.say(slot, slot.step.do), "answers": kept}
    if slot.round:
        evidence |= {"round": slot.round, "rounds": slot.rounds, "pumped_to_pa": slot.pumped_to_pa}
        if slot.filling is not None:
            level = verdict == "passed" and _level(slot, kept, used)
            evidence |= {BY_READINGS: True, "rounds": slot.round if level else 0}
    if pressure and used is not None:
        evidence["gauge"] = used.code
    if other is not None:
        evidence[both_ends.OTHER_UNIT] = other.pk
    if holds.begins_wait(here.procedure, slot.step) and (ran := clock.running()) is not None:
        evidence[holds.RAN] = ran
    if any(map(slot.step.has, SHOW_EMPTY)):
        evidence[on_cards.READ_BEFORE] = Reading.objects.aggregate(last=Max("pk"))["last"] or 0
    if verdict == "passed" and (hung := conditions.hung_on(slot.step, here.conditions)):
        evidence[conditions.HUNG_ON] = hung
    if slot.step.has(LOOKED_FOR):
        evidence[LOOKED_FOR] = True
    if hold is not None:
        evidence["hold"] = hold.with_rows(rows[HOLD_JUDGED], rows["hold-temperature"]).row()
    signed = entry(doing, here, slot, verdict, evidence, reading=first_reading, photo=first_photo)
    drafts.gone(here.job, draft_place(slot))
    return signed


def _level(slot: Slot, kept: Mapping[str, Mapping[str, Any]], used: Instrument | None) -> bool:
    """Whether this reading ends a filling of which nothing was expected: no other round is due after it."""
    assert slot.filling is not None and slot.step.rounds is not None
    read = next(row["value_si"] for row in kept.values() if row.get("dimension") == "pressure")
    after = replace(slot.filling, read=(*slot.filling.read, read))
    return len(after.pumped_to(core_steps.step_pa(slot.step.rounds, used))) == slot.round


def entry(
    doing: ChangeContext, here: Progress, slot: Slot | None, verdict: str, evidence: dict[str, Any], **more: Any
) -> StepEntry:
    """One row of the job's entries; the first pins the text that it is signed under."""
    assert doing.who is not None
    if not here.entries:
        texts.pin(doing, here.shipped)
    evidence = {**conditions.news(here.entries, here.conditions), **evidence}
    return StepEntry.objects.create(
        job=here.job, sequence=next_sequence(here.job), who=doing.who, at=doing.at, procedure=here.procedure.key,
        procedure_hash=here.shipped.sha256, step_key=slot.step.key if slot else "", step_number=slot.number if slot else 0,
        verdict=verdict, evidence=evidence, plan=here.frozen, active_seconds=_active(here, slot, doing.at), **more,
    )  # fmt: skip


def _active(here: Progress, slot: Slot | None, now: datetime) -> int:
    """Seconds at this step since the last entry: none while stopped or waiting, at most IDLE_MOST."""
    last = here.last
    if last is None or last.verdict == "stopped":
        return 0
    start = last.at
    ready = here.ready_at(slot) if slot is not None else None
    if ready is not None:
        start = max(start, min(ready, now))
    return max(0, int(min(now - start, IDLE_MOST).total_seconds()))


def draft_place(slot: Slot) -> str:
    """Where what is typed and not yet sent stands."""
    return f"step:{slot.step.key}:{slot.round}"
