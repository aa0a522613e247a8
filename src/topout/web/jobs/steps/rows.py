"""The list page: the reversible steps of a group, each with its tick. Gathered from the progress; nothing is decided here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from topout.procedures.model import Evidence
from topout.web import clock
from topout.web.jobs.core import both_ends
from topout.web.jobs.records.models import VERDICTS
from topout.web.jobs.steps import holds, not_now, page, pictures, sheet
from topout.web.jobs.steps.form import GAUGE, StepForm, small_counts
from topout.web.jobs.steps.lines import answered, cautioned
from topout.web.jobs.steps.progress import Progress, Screen, Slot, name
from topout.web.jobs.steps.sheet import Given

Kind = Literal["tick", "number", "choice", "photo", "more"]
_SHORT = 18  # letters that two buttons beside a sentence take on two lines
_MOST = 90  # letters that the buttons below a sentence take, all together


@dataclass(frozen=True)
class Struck:
    """A tick that was taken back."""

    at: datetime
    reason: str


@dataclass(frozen=True)
class Row:
    """One step of the list. `kind` says what stands at its right edge; `posts` is what one tap sends."""

    slot: Slot
    kind: Kind
    says: str
    aim: str
    aim_unit: str
    state: Literal["done", "left-out", "failed", "open", ""]  # "open": the one at hand, the first that is not done
    said: str  # what was answered, or why it was left
    verdict: str  # "passed", "not done", …
    told: str  # of a leak hold that does not hold: what its last reading says
    may_read: bool  # a leak hold that can't be told yet may be read all the same
    who: str
    at: datetime | None
    struck: tuple[Struck, ...]
    posts: tuple[tuple[str, str], ...]
    options: tuple[str, ...]
    counted: bool  # whether the answers are small counts, of which there may be more
    beside_it: str  # a number that may be read with the answer, by its label: it has its keys, or no list would take it
    beside: bool  # whether the answers of a choice stand beside the sentence, or below it
    asks: Evidence | None
    asks_unit: str
    ready: str  # when a step that waits may be signed; "-" where the wait has not begun
    may_skip: bool
    may_strike: bool
    caution: str
    detail: str
    sheet: tuple[Given, ...]
    told_seen: str
    aimed: bool  # whether the sheet's value is the target that stands beside it already


def rows_of(here: Progress, screen: Screen) -> list[Row]:
    """Every step of a page, in order."""
    first = next((slot for slot in screen.slots if not here.settled(slot) and not here.waits(slot)), None)
    return [_row(here, slot, at_hand=slot is first) for slot in screen.slots]


def _row(here: Progress, slot: Slot, *, at_hand: bool) -> Row:
    form = StepForm(walk=here, slot=slot)
    needed = [each for each in slot.step.evidence if not each.optional]
    asked = [each for each in needed if each.key not in form.on_card]
    posts = [(f"card-{each.key}", "on") for each in needed if each.key in form.on_card]
    kind: Kind = "more"
    counts: tuple[str, ...] = ()
    if all(each.kind == "tick" for each in asked) and len(asked) <= 1:
        kind, posts = "tick", posts + [(each.key, "on") for each in asked]
        if GAUGE in form.fields and here.instrument is not None:
            posts.append((GAUGE, here.instrument.code))
    elif len(asked) == 1 and not posts and asked[0].kind == "number":
        counts = small_counts(here, slot)
        kind = "choice" if counts else "number"
    elif len(asked) == 1 and not posts and len(slot.step.evidence) == 1 and asked[0].kind == "photo":
        kind = "photo"
    elif len(asked) == 1 and asked[0].kind == "choice" and not posts and _fit(asked[0].options):
        kind = "choice"
    beside_it = ""
    if kind == "choice" and not counts:
        numbers = (each for each in slot.step.evidence if each.kind == "number" and each.optional)
        beside_it = next((each.label for each in numbers if each.key not in form.on_card), "")
    entry = here.latest.get(slot.key)
    settled = here.settled(slot)
    state = (
        "left-out"
        if here.left(slot)
        else "done"
        if settled
        else "failed"
        if here.failed(slot)
        else "open"
        if at_hand
        else ""
    )
    aim, unit = page.aim_of(here, slot, form)
    readings = entry is not None and any("value_si" in row for row in entry.evidence.get("answers", {}).values())
    said = "" if entry is None else answered(here, entry)
    return Row(
        slot=slot, kind=kind, says=here.say(slot, slot.step.do), aim=aim, aim_unit=unit, state=state,  # type: ignore[arg-type]
        said=said, verdict="" if entry is None else VERDICTS[entry.verdict], told=_told(here, slot, settled=settled), may_read=_may_read(here, slot), who="" if entry is None else name(entry), at=None if entry is None else entry.at,
        struck=tuple(_struck(here, slot)), posts=tuple(posts), options=counts or asked[0].options if kind == "choice" else (),
        counted=bool(counts), beside_it=beside_it, beside=kind == "choice" and not counts and not beside_it and len(asked[0].options) == 2 and all(len(each) <= _SHORT for each in asked[0].options),
        asks=asked[0] if asked else None, asks_unit=page.unit_beside(here, asked[0]) if asked else "", ready=_ready(here, slot) if not settled else "", may_skip=slot.step.may_skip, may_strike=settled and not readings,
        caution=cautioned(here, slot), detail=here.say(slot, slot.step.detail, second=True) if at_hand else "",
        sheet=sheet.of_step(here, slot.step.evidence), told_seen=sheet.mark(here, slot), aimed=bool(aim) and kind == "number",
    )  # fmt: skip


def _told(here: Progress, slot: Slot, *, settled: bool) -> str:
    hold = holds.told(here, slot) if holds.judged(slot.step) is not None and not settled else None
    return "" if hold is None else f"{holds.says(hold)} {'' if hold.anew else hold.expects}".strip()


def _may_read(here: Progress, slot: Slot) -> bool:
    may = here.may_from(slot)
    return holds.judged(slot.step) is not None and may is not None and may <= clock.now()


def _ready(here: Progress, slot: Slot) -> str:
    if not here.waits(slot):
        return ""
    ready = here.ready_at(slot)
    return "-" if ready is None else holds.moment(ready)


def _fit(options: tuple[str, ...]) -> bool:
    return len(options) <= 3 and sum(map(len, options)) <= _MOST


def _struck(here: Progress, slot: Slot) -> list[Struck]:
    by_sequence = {entry.sequence: entry for entry in here.entries}
    return [
        Struck(by_sequence[entry.evidence["strikes"]].at, entry.evidence["reason"])
        for entry in here.entries
        if entry.verdict == "struck" and entry.step_key == slot.step.key
    ]


def list_page(here: Progress, screen: Screen) -> dict[str, Any]:
    """What the template of a list needs, whatever row is in hand."""
    rows = rows_of(here, screen)
    still = [row for row in rows if not here.settled(row.slot)]
    last = here.last
    following = here.screens[screen.number] if screen.number < len(here.screens) else None
    return {
        "nav": "bench", "job": here.job, "walk": here, "screen": screen, "group": screen.group, "rows": rows,
        "still": still, "next_row": next((row for row in still if not row.ready), None),
        "ready": next((row.ready for row in still if row.ready not in ("", "-")), ""), "screens": len(here.screens), "screen_first": screen.slots[0],
        "not_in_steps": lambda: both_ends.not_in_steps_of(here.frozen, here.procedure),
        "then": following, "then_do": here.say(following.slots[0], following.slots[0].step.do) if following else "",
        "saved": last, "saved_by": name(last) if last else "", "safe": page.safe_word(here),
        "not_now": lambda: not_now.said(here, (row.slot for row in still)),
        "stopped": here.stopped, "stopped_by": name(here.stopped) if here.stopped else "",
        "ladder_tall": pictures.ladder_of_screens(here, screen, tall=True),
        "ladder_flat": pictures.ladder_of_screens(here, screen, tall=False),
    }  # fmt: skip
