"""What other pages say of a job's steps: where it stands in a sentence, every step in a line, minutes at each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from topout.errors import TopoutError
from topout.procedures import words
from topout.web import clock
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps import holds
from topout.web.jobs.steps.progress import LEFT, Progress, Slot, name, walk

NO_FIGURE: Final = "How much is not known here: take it as the worst."


def cautioned(here: Progress, slot: Slot) -> str:
    """What hurts or breaks at a step, and where it names a force or an energy that nobody knows here, that it does."""
    text, found, names = slot.step.caution, here.found(slot), here.procedure.names
    open_ = any(names[key].up and found[key] is None for key in words.NAME_IN_TEXT.findall(text))
    return f"{here.say(slot, text)} {NO_FIGURE}" if open_ else here.say(slot, text)


@dataclass(frozen=True)
class Where:
    """Where a job's steps stand. `kind`: no-steps, ready, running, stopped, blocked, waiting, done.

    `sentence` says what comes next; `blocked` is the stop line where a failed hold point closes everything, else empty.
    """

    kind: str
    sentence: str
    number: int = 0
    count: int = 0
    blocked: str = ""
    who: str = ""
    at: datetime | None = None
    active_minutes: int = 0


@dataclass(frozen=True)
class Line:
    """One step for the card: `state` is done, now, failed or empty; `read` is what was answered, in words."""

    number: int
    key: str
    sentence: str
    hold: bool
    state: str = ""
    read: str = ""
    who: str = ""
    at: datetime | None = None
    active_minutes: float = 0.0
    rounds: int = 0


def where(job: Job) -> Where:
    """Where the job's steps stand."""
    try:
        return where_of(walk(job))
    except TopoutError as reason:
        return Where("no-steps", str(reason))


def where_of(here: Progress) -> Where:
    """The same for a job that was walked through already."""
    last, slot = here.last, here.current
    if here.danger is not None:
        found = here.danger.entry
        said = here.say(slot, slot.step.do) if slot is not None else str(found.evidence.get("said", ""))
        return Where(
            "blocked", said, found.step_number, here.total, here.danger.title, name(found), found.at, _minutes(here)
        )
    who, at = (name(last), last.at) if last else ("", None)
    minutes = _minutes(here)
    if slot is None:
        return Where("done", "All steps are signed.", here.total, here.total, "", who, at, minutes)
    kind, sentence = _kind(here, slot)
    return Where(kind, sentence, slot.number, here.total, "", who, at, minutes)


def _minutes(here: Progress) -> int:
    return round(sum(entry.active_seconds for entry in here.entries) / 60)


def _kind(here: Progress, slot: Slot) -> tuple[str, str]:
    said = here.say(slot, slot.step.do)
    if not here.begun:
        return "ready", said
    if here.stopped is not None:
        return "stopped", said
    ready = here.ready_at(slot)
    if ready is not None and clock.now() < ready:
        if holds.judged(slot.step) is not None and holds.told(here, slot) is not None:
            return "waiting", f"Leak hold, read again from {holds.moment(ready)}."
        return "waiting", f"{said} Not before {holds.moment(ready)}."
    return "running", said


def finished(job: Job) -> bool:
    """Whether every step of the job holds, and no hold point that failed is still open."""
    try:
        here = walk(job)
        return here.current is None and not here.failed_holds
    except TopoutError:
        return False


def lines(job: Job) -> list[Line]:
    """Every step of the job in order; empty where it has none yet."""
    try:
        return lines_of(walk(job))
    except TopoutError:
        return []


def lines_of(here: Progress) -> list[Line]:
    """The same for a job that was walked through already."""
    minutes = active_minutes(here.entries)
    found: list[Line] = []
    for _, same in groupby(here.slots, key=lambda each: each.number):
        rounds = list(same)
        slot = rounds[0]
        state = (
            "done" if all(here.settled(each) for each in rounds) else "failed" if any(map(here.failed, rounds)) else ""
        )
        if here.current in rounds and state != "failed":
            state = "now"
        last = next((here.latest[each.key] for each in reversed(rounds) if each.key in here.latest), None)
        spent = minutes.get(slot.step.key, 0.0)
        sentence = here.say(rounds[-1] if state == "done" else slot, slot.step.do)
        read = "" if last is None else answered(here, last)
        who, at = (name(last), last.at) if last else ("", None)
        found.append(
            Line(slot.number, slot.step.key, sentence, slot.step.hold, state, read, who, at, spent, slot.rounds)
        )
    return found


def answered(here: Progress, entry: StepEntry) -> str:
    """What a step was answered with: `7.2 mm · Turns freely`."""
    if entry.verdict in LEFT:
        return "Not known." if entry.verdict == "not-known" else f"Not done: {entry.evidence['reason']}"
    step = next((slot.step for slot in here.slots if slot.step.key == entry.step_key), None)
    ranges = (
        {each.key for each in step.evidence if any(role.endswith("-range") for role in each.roles)} if step else set()
    )
    parts: list[str] = []
    for key, answer in entry.evidence.get("answers", {}).items():
        told = said(answer)
        if told and parts and key in ranges:
            parts[-1] += f" of {told}"  # clicks and how many there are in all
        elif told:
            parts.append(told)
    return " · ".join(parts)


def left_failing(job: Job) -> list[str]:
    """Steps whose last reading did not pass and that were gone past all the same, a sentence each: what was read is said, not that nobody looked."""
    try:
        here = walk(job)
    except TopoutError:
        return []
    found = []
    for slot in here.slots:
        before = here.before(slot) if here.left(slot) else None
        if before is not None and before.verdict == "failed":
            why = answered(here, here.latest[slot.key]).rstrip(".")
            found.append(
                f"Step {slot.words} did not pass: {here.say(slot, slot.step.do)} {answered(here, before).rstrip('.')}. "
                f"It was gone past: {why[:1].lower()}{why[1:]}."
            )
    return found


def said(answer: dict[str, Any]) -> str:
    """One answer in words; a tick and a photo say nothing of their own."""
    if "choice" in answer:
        return str(answer["choice"])
    if "value_si" in answer:
        return words.quantity(answer["value_si"], answer["dimension"], answer["unit"])
    return ""


def active_minutes(entries: Sequence[StepEntry]) -> dict[str, float]:
    """Active minutes per step key; pauses and long idle times are not in them."""
    found: dict[str, float] = {}
    for entry in entries:
        found[entry.step_key] = found.get(entry.step_key, 0.0) + entry.active_seconds / 60
    return found
