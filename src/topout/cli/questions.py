"""A reply to a single question, printed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from topout.cli.files import Given
from topout.cli.page import Page
from topout.planner import replies, ways_words
from topout.planner.landing import Landing
from topout.planner.rebound import Rebound
from topout.planner.replies import Reply
from topout.planner.ride import Ridden
from topout.planner.wanted import Targets
from topout.planner.ways import Ways
from topout.units import System

_WORDS: Final[dict[type, Callable[[Any, System], Reply]]] = {
    Landing: replies.to_landing, Rebound: replies.to_rebound, Ridden: replies.to_ride, Targets: replies.to_targets, Ways: ways_words.to_ways,
}  # fmt: skip


def said(given: Given, result: Any) -> str:
    """What may hurt, the answer, its tables, what is wrong with a figure, and what else is to be known."""
    page = Page(given.system)
    reply = _WORDS[type(result)](result, given.system)
    page.say(*reply.hurts)
    page.say(*(f"! {each}" for each in reply.dangers))
    page.say(*reply.first)
    for table in reply.tables:
        page.table(table.title, table.head, table.rows)
    page.say(*reply.wrong)
    page.say(*reply.after)
    return page.text()
