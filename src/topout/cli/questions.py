"""A reply to a single question, printed."""

from __future__ import annotations

from topout.cli.page import Page
from topout.planner.replies import Reply
from topout.units import System


def printed(reply: Reply, system: System) -> str:
    """The answer, its tables, what is wrong with a figure, and what else is to be known."""
    page = Page(system)
    page.say(*reply.first)
    for table in reply.tables:
        page.table(table.title, table.head, table.rows)
    page.say(*reply.wrong)
    page.say(*reply.after)
    return page.text()
