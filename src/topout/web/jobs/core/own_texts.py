"""A text of the workshop's own before it is kept: read against the planner's names by the checker that ours pass."""

from __future__ import annotations

from topout.planner import variables
from topout.procedures import own
from topout.procedures.own import Own


def check(data: bytes, key: str) -> Own:
    """The procedure in these bytes; raises FaultsFound with everything that is wrong."""
    return own.check(data, key, variables.VOCABULARY)
