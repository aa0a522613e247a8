"""A frozen plan as card and terminal tell it: its own figures, and this version's where they come out otherwise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from topout.errors import FaultsFound
from topout.web.access import preferences
from topout.web.jobs import core
from topout.web.jobs.core import both_ends
from topout.web.jobs.core.figures import Heard, Hurts, Summary, defaults_words, not_known, open_to
from topout.web.jobs.plan.rests import corrected_since
from topout.web.jobs.plan.rows import Row, row_of
from topout.web.jobs.records.models import FrozenPlan

SHOWN: Final = (
    "sag", "ring", "end_force", "rear_stroke", "rear_share_of_stroke", "rear_share_of_wheel", "rear_end", "rear_wheel_end",
    "head_angle_rad", "bb_height_m", "trail_m",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of a frozen plan. `again` holds this version's figures, empty where they are the same.

    `sentence` says what it sets. `differs` is a sentence where this version works it out otherwise, `unread` one where it
    can't read the plan.
    """

    sentence: str
    rows: tuple[Row, ...] = ()
    heard: tuple[Heard, ...] = ()
    gaps: str = ""
    open: str = ""  # what is not known yet, with what it lies between
    again: tuple[Row, ...] = ()
    differs: str = ""
    unread: str = ""
    hurts: tuple[Hurts, ...] = ()


def told(frozen: FrozenPlan) -> Told:
    """A frozen plan: sag, bottom-out force and how the bike stands, warnings, what is not known, and the same today."""
    try:
        of = core.told_frozen(frozen)
        now = core.recompute(frozen)
    except FaultsFound as found:
        return Told(frozen.sentence, unread=f"This version of Topout can’t read the plan: {found}")
    rows, sets = _rows(of), core.what_to_set(of, preferences.unit("pressure", "psi"), core.end_of(frozen.job))
    half = both_ends.not_in_steps_of(frozen, both_ends.procedure_now(frozen.job))
    gaps = " ".join(
        each
        for each in (
            *half,
            *corrected_since(frozen),
            defaults_words.closing(of.defaults, preferences.system()),
            not_known(of),
        )
        if each
    )
    if now.holds:
        return Told(sets, rows, of.heard, gaps, _open(of), hurts=of.hurts)
    today = _rows(core.told_again(frozen, now))
    by = "this version" if now.same_version else f"the version that froze it, {frozen.version}, and this one"
    text = f"Worked out again the figures come out otherwise ({by})."
    if today == rows:
        return Told(
            sets, rows, of.heard, gaps, _open(of), (), f"{text} Those shown here are the same in both.", hurts=of.hurts
        )
    return Told(
        sets,
        rows,
        of.heard,
        gaps,
        _open(of),
        today,
        f"{text} Both stand here: make the plan again before you go by it.",
        hurts=of.hurts,
    )


def _open(of: Summary) -> str:
    if of.bounds is None:
        return ""
    ends = (tell(of.bounds, preferences.system()) for tell in (open_to.end, open_to.end_behind))
    return " ".join(f"{firm.what} {firm.between}" for firm in ends if firm is not None)


def _rows(of: Summary) -> tuple[Row, ...]:
    """The few that a card shows."""
    where = " at sag" if of.at_sag else ""
    stance = {key: replace(fact, words=fact.words + where) for key, fact in of.stance.items()}
    behind = [fact for _, group in of.rear.groups for fact in group] if of.rear is not None else []
    front = [replace(fact, words=f"fork: {fact.words}") if behind else fact for fact in of.listed()]
    listed = {fact.key: fact for fact in (*front, *behind)} | stance
    return tuple(row_of(listed[key]) for key in SHOWN if key in listed and listed[key].both)
