"""How a sentence of a procedure is written out: its names replaced by numbers as people read them.

The names themselves stand in the planner's table (planner/variables.py); a procedure carries those it was read with. A
number that is not there is None and is written as the words of its name, never as a guess.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from topout.physics import hazards
from topout.procedures.model import Definition, Name
from topout.units import NO_BREAK, digits, show

Numbers = Mapping[str, float | None]
NAME_IN_TEXT: Final = re.compile(r"\{([^{}]*)\}")


def written(name: Name, value: float | None, *, second: bool = False, unit: str = "") -> str:
    """A name's number in SI as people read it, or its words where there is none."""
    if value is None:
        return name.says
    decimals = name.decimals
    if name.up:
        value = hazards.rounded_up(value)
        decimals = two_figures(value)
    return quantity(value, name.dimension, unit or name.unit, decimals, second=second)


def two_figures(value: float) -> int:
    """The decimals that show two figures: 0 from 10 up, 1 from 1, 2 below."""
    return 0 if value >= 10 else 1 if value >= 1 else 2


def two_up(force_n: float) -> str:
    """A force rounded up to two figures, with its unit."""
    up = hazards.rounded_up(force_n)
    return quantity(up, "force", "N", two_figures(up))


def quantity(value: float, dimension: str, unit: str, decimals: int | None = None, *, second: bool = False) -> str:
    """A value of a step's dimension as people read it: no needless zeros, as targets are written (docs/procedures.md)."""
    if dimension == "count":
        return digits(value, 0)
    if dimension == "energy":
        return digits(value, two_figures(value)) + NO_BREAK + "J"
    text = show(value, dimension, unit, decimals=decimals, second=second)
    return re.sub(r"(\d)\.0+(?=\N{NO-BREAK SPACE})", r"\1", text)


def fill_in(
    text: str,
    found: Numbers,
    names: Mapping[str, Name],
    *,
    second: bool = False,
    units: Mapping[str, str] | None = None,
) -> str:
    """A sentence with its `{names}` written out; `units` gives the unit per dimension instead of the name's own.

    `names` are the procedure's; a name of its own definitions keeps the unit that it gave.
    """

    def one(match: re.Match[str]) -> str:
        name = names[match.group(1)]
        unit = "" if name.own else (units or {}).get(name.dimension, "")
        return written(name, found[match.group(1)], second=second, unit=unit)

    return NAME_IN_TEXT.sub(one, text)


def own_names(definitions: tuple[Definition, ...]) -> dict[str, Name]:
    """The names that a procedure defines itself."""
    return {
        own.key: Name(
            own.dimension, own.unit, own.key.replace("_", " "), up=own.dimension in ("force", "energy"), own=True
        )
        for own in definitions
    }
