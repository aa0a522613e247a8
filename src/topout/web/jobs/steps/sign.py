"""The steps of a job: what may be signed. Nothing here trusts a page.

`sign` reads the entries anew inside the change's one transaction and refuses whatever does not come next. A reading
outside its band is kept and the step is not passed. A block is lifted by a later entry that passes the same point, by
nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Final

from topout.errors import TopoutError
from topout.procedures.model import BIKE, Evidence
from topout.procedures.roles import HOLD_JUDGED
from topout.web.access.change import ChangeContext
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import both_ends
from topout.web.jobs.core import steps as core_steps
from topout.web.jobs.core.danger import BY_READINGS
from topout.web.jobs.core.leak_hold import Hold
from topout.web.jobs.readings.photos import keep as keep_photo
from topout.web.jobs.records import drafts, texts
from topout.web.jobs.records.kinds import BESIDE
from topout.web.jobs.records.models import Instrument, Job, StepEntry
from topout.web.jobs.records.open import released
from topout.web.jobs.records.sequence import next_sequence
from topout.web.jobs.steps import holds
from topout.web.jobs.steps.lines import finished as finished
from topout.web.jobs.steps.lines import lines as lines
from topout.web.jobs.steps.lines import where as where
from topout.web.jobs.steps.progress import LEFT, ROW, Progress, Slot, hour, name, walk
from topout.web.jobs.steps.taken import Answer as Answer
from topout.web.jobs.steps.taken import means_of, range_of, read_before, take
from topout.web.jobs.steps.understood import UNDERSTOOD, hurts

# Longer without a sign than this, and somebody was called away: no more of it counts as active (ours, no source).
IDLE_MOST: Final = timedelta(minutes=15)


VERDICT: Final = {"holds": "passed", "leaks": "failed", "not yet": holds.NOT_YET}  # of a hold, as it is signed
REASON: Final = 200  # letters


class Refused(TopoutError):
    """What was asked may not be done now; the text says why. Nothing is kept."""


def opened(
    doing: ChangeContext, job: Job, seen: int | None, here: Progress | None, row: tuple[str, int] | None = None
) -> Progress:
    """The job's progress inside a change, or a refusal that holds for everything: handed over, or the form is old.

    `here` is the progress that the change read already, with the job's row taken first; left out, it is read now. A `row`
    of a list may be signed from a page on which only its neighbours have been signed since.
    """
    assert doing.who is not None
    if here is None:
        here = walk(job)
    if released(job):
        raise Refused("The job is handed over. A come-back is a new job.")
    if seen is not None and seen != here.seen and not _beside(here, row, seen):
        last = here.entries[-1] if here.entries else None
        if here.replanned and here.frozen is not None and seen < here.frozen.sequence:
            raise Refused(
                f"Since this page was drawn, {name(here.frozen)} put another plan to use at {hour(here.frozen.at)}. Look again."
            )
        if last is None:
            raise Refused("This page is older than the job. Look again.")
        raise Refused(
            f"Since this page was drawn, {name(last)} signed step {last.step_number} at {hour(last.at)}. Look again."
        )
    return here


def _beside(here: Progress, row: tuple[str, int] | None, seen: int) -> bool:
    """Whether all that happened since the page was drawn happened at other rows of the list that this row stands in."""
    slot = here.slot(*row) if row is not None else None
    if slot is None or seen > here.seen or not here.screen_of(slot).rows:
        return False
    beside = {each.step.key for each in here.screen_of(slot).slots} - {slot.step.key}
    since = [entry for entry in here.entries if entry.sequence > seen]
    if here.frozen is not None and here.frozen.sequence > seen:
        return False
    return all(entry.step_key in beside and entry.verdict in ROW for entry in since)


def sign(
    doing: ChangeContext, job: Job, key: str, answers: Mapping[str, Answer], seen: int, *,
    round_: int = 0, again: bool = False, instrument: Instrument | None = None, here: Progress | None = None,
) -> StepEntry:  # fmt: skip
    """Sign one step. Call inside a change: the entries are read and the new one is written in its transaction.

    `here` is the job's progress where this change has read it, with the job's row taken first.

    Raises Refused where the step does not come next, the page was old, the work is stopped, or evidence is missing.
    """
    here = opened(doing, job, seen, here, (key, round_))
    slot = _at_work(here, key, round_)
    if here.passed(slot) and not again:
        raise Refused(f"Step {slot.words} is signed already.")
    ready = here.may_from(slot)
    if ready is None and here.waits(slot):
        assert slot.step.wait is not None
        start = here.slot(slot.step.wait.after)
        assert start is not None
        raise Refused(f"Step {start.words} comes first: the wait runs from it.")
    if ready is not None and doing.at < ready:
        raise Refused(f"Not before {hour(ready)}: the wait is part of the step.")
    used = instrument or here.instrument
    _fit(here, slot, used)
    other = other_unit(here, slot)
    kept, passed = _judge(here, slot, answers, used)
    hold = None
    if passed and holds.judged(slot.step) is not None:
        hold, why = holds.judge(here, slot, kept, used, doing.at)
        if hold is None:
            raise Refused(why)
    verdict = VERDICT[hold.verdict] if hold is not None else "passed" if passed else "failed"
    return _write(doing, here, slot, kept, verdict, answers, used, hold, other)


def _at_work(here: Progress, key: str, round_: int) -> Slot:
    """The slot that is asked for, where the work goes on and has come to it."""
    if not here.begun:
        raise Refused("The work is not begun. Begin it first.")
    if here.stopped is not None:
        raise Refused("The work is stopped. Go on first.")
    slot = here.slot(key, round_)
    if slot is None:
        raise Refused("This job has no such step.")
    closed = here.closed(slot)
    if closed:
        raise Refused(closed)
    now = len(here.slots) if here.current is None else here.at(here.current)
    if here.at(slot) > now and not here.is_open(slot):
        assert here.current is not None
        raise Refused(f"Step {here.current.words} comes first. Step {slot.words} is not open yet.")
    return slot


def leave(
    doing: ChangeContext, job: Job, key: str, verdict: str, reason: str, seen: int, here: Progress | None = None
) -> StepEntry:
    """Sign that a step was not done, and why, or that it is not known. Refused at what keeps hands whole."""
    here = opened(doing, job, seen, here, (key, 0))
    slot = _at_work(here, key, 0)
    if verdict not in LEFT:
        raise Refused("A step is left as not done, or as not known.")
    if not slot.step.may_skip or here.blocked or slot.step.holds_back and here.failed(slot):
        raise Refused(f"Step {slot.words} can’t be left out: hands and riders hang on it.")
    if here.settled(slot):
        raise Refused(f"Step {slot.words} is signed already.")
    if verdict == "not-done" and not reason:
        raise Refused("Say why it was not done.")
    entry = _entry(doing, here, slot, verdict, {"said": here.say(slot, slot.step.do), "reason": reason[:REASON]})
    drafts.gone(here.job, draft_place(slot))
    return entry


def strike(doing: ChangeContext, job: Job, key: str, reason: str, seen: int, here: Progress | None = None) -> StepEntry:
    """Take a tick back: the entry stays, struck, with a reason; the step is open again.

    Only a reversible step's: a hold point is tested again instead, and a number is read again, which corrects it.
    """
    here = opened(doing, job, seen, here, (key, 0))
    slot = _at_work(here, key, 0)
    entry = here.latest.get(slot.key)
    if entry is None or not here.settled(slot):
        raise Refused(f"Step {slot.words} is not signed, so there is nothing to strike.")
    if not here.screen_of(slot).rows or here.blocked:
        raise Refused(f"Step {slot.words} is not taken back. Do it again and sign it again.")
    if any("value_si" in row or "photo" in row for row in entry.evidence.get("answers", {}).values()):
        raise Refused(f"Step {slot.words} holds a reading. Read it again: the new one takes its place.")
    if not reason:
        raise Refused("Say why it is struck.")
    return _entry(doing, here, slot, "struck", {"strikes": entry.sequence, "reason": reason[:REASON]})


def _judge(
    here: Progress, slot: Slot, answers: Mapping[str, Answer], used: Instrument | None
) -> tuple[dict[str, dict[str, Any]], bool]:
    """Every answer as it is kept, and whether all of them pass."""
    others = set(answers) - {each.key for each in slot.step.evidence}
    if others:
        raise Refused(f"This step does not ask for {', '.join(sorted(others))}.")
    kept: dict[str, dict[str, Any]] = {}
    typed: dict[str, float | None] = {}
    passed = True
    for each in slot.step.evidence:
        answer = answers.get(each.key)
        row = _kept(each, answer) if answer is not None else None
        if row is None:
            if each.optional:
                continue
            if holds.judged(slot.step) is not None and "hold-temperature" in each.roles:
                raise Refused(
                    "No temperature was read. Without it colder air looks like a leak, and warmer air hides one."
                )
            raise Refused(f"{here.say(slot, each.label)}: this step can’t be signed without it.")
        if each.kind == "tick" and (unknown := _unknown(here, slot, each)):
            raise Refused(f"Nobody can sign that this is understood: {', '.join(unknown)} is not known.")
        if each.kind == "tick" and (names := hurts(here.procedure, each.label)):
            row[UNDERSTOOD] = {key: here.found(slot)[key] for key in names}
        if each.kind == "choice":
            row["pass"] = answer is not None and answer.choice in each.passes
        if each.kind == "number" and answer is not None and answer.value_si is not None:
            typed[each.key] = answer.value_si
            try:
                span = here.band(slot, each, here.found(slot, typed), used)
            except core_steps.NotKnown as missing:
                raise Refused(f"{here.say(slot, each.label)}: {missing}") from None
            row |= {"expect_si": span.expect_si, "low_si": span.low_si, "high_si": span.high_si}
            row["pass"] = span.holds(answer.value_si)
        row |= here.shown(each)
        passed = passed and row["pass"]
        kept[each.key] = row
    return kept, passed


def _unknown(here: Progress, slot: Slot, each: Evidence) -> list[str]:
    """The forces and energies that a tick says are understood, and that have no number here."""
    found = here.found(slot)
    return [here.procedure.names[key].says for key in hurts(here.procedure, each.label) if found[key] is None]


def _fit(here: Progress, slot: Slot, used: Instrument | None) -> None:
    """Refuse a gauge that may not judge this point: not confirmed at a hold point, or coarser than one that failed it."""
    if used is None or not any(each.kind == "number" and each.dimension == "pressure" for each in slot.step.evidence):
        return
    if slot.step.holds_back and used.confirmed_at is None:
        raise Refused(
            f"Gauge {used.code} is not confirmed: an owner looks at its face and says so under Instruments. Until then no "
            "hold point is judged with it."
        )
    try:
        gauge = core_steps.gauge_of(used)
        failed = [each for each in map(core_steps.gauge_of, here.gauges_failed(slot)) if each is not None]
    except core_steps.NotKnown as missing:
        raise Refused(f"{missing}") from None
    if gauge is not None and any(not gauge.as_fine_as(other) for other in failed):
        finest = min(here.gauges_failed(slot), key=lambda each: core_steps.mark_pa(each) or 0.0)
        raise Refused(
            f"It failed on gauge {finest.code}. A gauge with wider marks, or a wider class, can’t tell better: read it "
            f"again on {finest.code}, or on one as fine."
        )


def other_unit(here: Progress, slot: Slot) -> Unit | None:
    """The unit at the other end, where the step sets something there; None at any other step. Refused where a danger stands on it."""
    if not any(each.card is not None and each.card[1] in BESIDE for each in slot.step.evidence):
        return None
    other = core.other_end(here.job)
    if other is None:
        raise Refused("The Book has no unit at the other end of this bike any more. Put it in there first.")
    if told := both_ends.dangers_there(other):
        raise Refused(
            f"{other}: {told[0]} Leave it alone: no air in or out, no collar turned, until its own job has passed that."
        )
    return other


def _kept(each: Evidence, answer: Answer) -> dict[str, Any] | None:
    """An answer as the entry holds it; None where it says nothing."""
    if each.kind == "tick":
        return {"tick": True, "pass": True} if answer.tick else None
    if each.kind == "choice":
        if answer.choice and answer.choice not in each.options:
            raise Refused(f"{each.label}: “{answer.choice[:40]}” is not one of its answers.")
        return {"choice": answer.choice} if answer.choice else None
    if each.kind == "photo":
        return {"pass": True} if answer.photo is not None else None
    if answer.value_si is None:
        return None
    row: dict[str, Any] = {
        "text": answer.text,
        "value_si": answer.value_si,
        "dimension": each.dimension,
        "unit": answer.unit,
    }
    if answer.typed_first:
        row["typed_first"] = answer.typed_first
    if answer.from_card:
        row["from_card"] = True
    return row


def _write(
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
    if hold is not None:
        evidence["hold"] = hold.with_rows(rows[HOLD_JUDGED], rows["hold-temperature"]).row()
    entry = _entry(doing, here, slot, verdict, evidence, reading=first_reading, photo=first_photo)
    drafts.gone(here.job, draft_place(slot))
    return entry


def _level(slot: Slot, kept: Mapping[str, Mapping[str, Any]], used: Instrument | None) -> bool:
    """Whether this reading ends a filling of which nothing was expected: no other round is due after it."""
    assert slot.filling is not None and slot.step.rounds is not None
    read = next(row["value_si"] for row in kept.values() if row.get("dimension") == "pressure")
    after = replace(slot.filling, read=(*slot.filling.read, read))
    return len(after.pumped_to(core_steps.step_pa(slot.step.rounds, used))) == slot.round


def _entry(
    doing: ChangeContext, here: Progress, slot: Slot | None, verdict: str, evidence: dict[str, Any], **more: Any
) -> StepEntry:
    assert doing.who is not None
    if not here.entries:
        texts.pin(doing, here.shipped)
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


def go_on(doing: ChangeContext, job: Job, here: Progress | None = None, /) -> StepEntry:
    """Begin the work, or go on after a stop."""
    here = opened(doing, job, None, here)
    if here.begun and here.stopped is None:
        raise Refused("The work is going on already.")
    return _entry(doing, here, here.current, "started", {} if here.begun else {BIKE: here.bike})


def stop(doing: ChangeContext, job: Job, here: Progress | None = None, /) -> StepEntry:
    """Stop, the unit safe: the state is kept, and time stands still until somebody goes on."""
    here = opened(doing, job, None, here)
    if not here.begun or here.stopped is not None:
        raise Refused("The work is not going on, so there is nothing to stop.")
    return _entry(doing, here, here.current, "stopped", {})


def draft_place(slot: Slot) -> str:
    """Where what is typed and not yet sent stands."""
    return f"step:{slot.step.key}:{slot.round}"
