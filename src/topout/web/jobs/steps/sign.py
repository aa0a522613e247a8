"""The steps of a job: what may be signed. Nothing here trusts a page.

`sign` reads the entries anew inside the change's one transaction and refuses whatever does not come next. A reading
outside its band is kept and the step is not passed. A block is lifted by a later entry that passes the same point, by
nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from topout.procedures.model import BIKE
from topout.web.access.change import ChangeContext
from topout.web.jobs.records import drafts
from topout.web.jobs.records.models import Instrument, Job, StepEntry
from topout.web.jobs.records.open import released
from topout.web.jobs.steps import holds, judged, not_now, written
from topout.web.jobs.steps.judged import Refused as Refused
from topout.web.jobs.steps.lines import finished as finished
from topout.web.jobs.steps.lines import lines as lines
from topout.web.jobs.steps.lines import where as where
from topout.web.jobs.steps.progress import LEFT, ROW, Progress, Slot, hour, name, walk
from topout.web.jobs.steps.taken import Answer as Answer

VERDICT: Final = {"holds": "passed", "leaks": "failed", "not yet": holds.NOT_YET}  # of a hold, as it is signed
REASON: Final = 200  # letters


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
    if why := holds.set_forward(here, slot) or holds.disturbed(here, slot):
        raise Refused(why)
    named = instrument or here.instrument
    used = judged.read_on(here, slot, answers, named)
    around, other = not_now.Around(here), judged.other_unit(here, slot)
    if why := not_now.why(around, slot, other):
        raise Refused(why)
    judged.fit(here, slot, used, around.dangers, anew=used is named)
    kept, passed = judged.judge(here, slot, answers, used)
    hold = None
    if passed and holds.judged(slot.step) is not None:
        hold, why = holds.judge(here, slot, kept, used, doing.at)
        if hold is None:
            raise Refused(why)
    verdict = VERDICT[hold.verdict] if hold is not None else "passed" if passed else "failed"
    return written.write(doing, here, slot, kept, verdict, answers, used, hold, other)


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
    entry = written.entry(doing, here, slot, verdict, {"said": here.say(slot, slot.step.do), "reason": reason[:REASON]})
    drafts.gone(here.job, written.draft_place(slot))
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
    return written.entry(doing, here, slot, "struck", {"strikes": entry.sequence, "reason": reason[:REASON]})


def go_on(doing: ChangeContext, job: Job, here: Progress | None = None, /) -> StepEntry:
    """Begin the work, or go on after a stop."""
    here = opened(doing, job, None, here)
    if here.begun and here.stopped is None:
        raise Refused("The work is going on already.")
    began = {} if here.begun else {BIKE: here.conditions[BIKE]}
    return written.entry(doing, here, here.current, "started", began)


def stop(doing: ChangeContext, job: Job, here: Progress | None = None, /) -> StepEntry:
    """Stop, the unit safe: the state is kept, and time stands still until somebody goes on."""
    here = opened(doing, job, None, here)
    if not here.begun or here.stopped is not None:
        raise Refused("The work is not going on, so there is nothing to stop.")
    return written.entry(doing, here, here.current, "stopped", {})
