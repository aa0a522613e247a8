"""What a tick says is understood: the forces and energies in its own words, kept with it, and whether it still covers those of now."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from topout.procedures import words
from topout.procedures.model import Procedure
from topout.procedures.words import Numbers

UNDERSTOOD: Final = "understood"  # in the answer of a tick: force and energy [SI] by name
_SLACK: Final = 1e-9  # relative, as bands are judged


def hurts(procedure: Procedure, text: str) -> list[str]:
    """The forces and energies that a text of the procedure names."""
    return [key for key in words.NAME_IN_TEXT.findall(text) if procedure.names[key].up]


def covers(procedure: Procedure, text: str, answer: Mapping[str, Any], found: Numbers, *, same_plan: bool) -> bool:
    """Whether a signed tick holds: ticked, and what its words name is no more now than what was understood.

    One signed before that was kept with it holds for the plan that it was signed with.
    """
    if not answer.get("tick"):
        return False
    names, signed = hurts(procedure, text), answer.get(UNDERSTOOD)
    if signed is None:
        return not names or same_plan
    return all((now := found[key]) is not None and now <= signed.get(key, -math.inf) * (1 + _SLACK) for key in names)
