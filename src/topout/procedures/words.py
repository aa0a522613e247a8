"""How a sentence of a procedure is written out: its names replaced by numbers as people read them.

The names themselves stand in the planner's table (planner/variables.py); a procedure carries those it was read with. A
number that is not there is None and is written as the words of its name, never as a guess; what stands in square
brackets is left out with it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from topout.physics import hazards
from topout.procedures.model import Definition, Name
from topout.units import BENCH, TABLE, System, digits, number, plain, show, to_si

Numbers = Mapping[str, float | None]
NAME_IN_TEXT: Final = re.compile(r"\{([^{}]*)\}")
# A piece that is said only where each of its names has a number. Brackets around no name are signs like any other.
ONLY_IF_KNOWN: Final = re.compile(r"\[([^\[\]]*\{[^\[\]]*)\]")

# A length, force or mass that a text gives itself, as “pushed in by 30 mm”: said in the reader's units where those are
# others. A pressure stays as it is written: “1 bar” is a stop of the work, whatever the gauge is marked in.
_GIVEN: Final = {unit: dimension for dimension in ("length", "force", "mass") for unit in TABLE[dimension]}
GIVEN_IN_TEXT: Final = re.compile(rf"(?<![\w.,/])(\d+(?:\.\d+)?) ({'|'.join(_GIVEN)})\b(?!/)")


def written(name: Name, value: float | None, *, second: bool = False, unit: str = "") -> str:
    """A name's number in SI as people read it, or its words where there is none; in `unit` where one is given."""
    if value is None:
        return name.says
    said_in = unit or name.unit
    if name.up:
        return rounded_up(value, name.dimension, said_in)
    if name.round_figure:
        return one_figure(value, name.dimension, said_in)
    return quantity(value, name.dimension, said_in, name.decimals if said_in == name.unit else None, second=second)


def two_figures(value: float) -> int:
    """The decimals that show two figures: 0 from 10 up, 1 from 1, 2 below."""
    return 0 if value >= 10 else 1 if value >= 1 else 2


def rounded_up(value: float, dimension: str, unit: str) -> str:
    """A danger [SI] rounded up to two figures of the unit that it is said in, with that unit."""
    up = hazards.rounded_up(number(value, dimension, unit, 6))
    return plain(up, unit, two_figures(up))


def one_figure(value: float, dimension: str, unit: str) -> str:
    """A value [SI] above 0 as the hand takes it: one figure of the unit that it is said in, with that unit."""
    said = f"{number(value, dimension, unit, 6):.0e}"
    return plain(float(said), unit, max(0, -int(said.partition("e")[2])))


def falls(energy_j: float, system: System) -> str:
    """How far 10 kg fall for an energy [J], as `as 10 kg falling …` says it: rounded up to two figures, below 0.1 m in millimetres."""
    height = hazards.fall_height_m(energy_j)
    unit = system.unit("length", "m" if height >= 0.1 else "mm")
    return rounded_up(height, "length", unit) if height > 0 else plain(0.0, unit, 0)


def quantity(value: float, dimension: str, unit: str, decimals: int | None = None, *, second: bool = False) -> str:
    """A value of a step's dimension as people read it: no needless zeros, as targets are written (docs/procedures.md)."""
    if dimension == "count":
        return digits(value, 0)
    if dimension == "energy":
        said = number(value, dimension, unit, 6)
        return plain(said, unit, two_figures(said))
    text = show(value, dimension, unit, decimals=decimals, second=second)
    return re.sub(r"(\d)\.0+(?=\N{NO-BREAK SPACE})", r"\1", text)


def fill_in(
    text: str,
    found: Numbers,
    names: Mapping[str, Name],
    *,
    second: bool = False,
    units: Mapping[str, str] | None = None,
    system: System = BENCH,
    guesses: Mapping[str, str] | None = None,
) -> str:
    """A sentence with its `{names}` and its own lengths, forces and masses written out in the reader's units; `units` gives one for a dimension before that.

    `guesses` are words behind a number that nobody measured, by its name.

    `names` are the procedure's; a name of its own definitions keeps the unit that it gave, or its like in the system.
    """

    def one(match: re.Match[str]) -> str:
        name = names[match.group(1)]
        unit = "" if name.own else (units or {}).get(name.dimension, "")
        unit = unit or (system.unit(name.dimension, name.unit) if name.unit else "")
        said = written(name, found[match.group(1)], second=second, unit=unit)
        behind = (guesses or {}).get(match.group(1), "")
        return f"{said} {behind}" if behind and found[match.group(1)] is not None else said

    def said(match: re.Match[str]) -> str:
        known = all(found[each] is not None for each in NAME_IN_TEXT.findall(match.group(1)))
        return match.group(1) if known else ""

    text = given(text, system)
    text = ONLY_IF_KNOWN.sub(said, text).strip() if "[" in text else text
    return NAME_IN_TEXT.sub(one, text)


def given(text: str, system: System) -> str:
    """A text with its own lengths, forces and masses in the reader's units, to two figures where those are others."""

    def one(match: re.Match[str]) -> str:
        dimension, unit = _GIVEN[match.group(2)], match.group(2)
        here = system.unit(dimension, unit)
        if here == unit:
            return match.group()
        size = number(to_si(float(match.group(1)), unit, dimension), dimension, here, 6)
        return plain(size, here, two_figures(size))

    return GIVEN_IN_TEXT.sub(one, text)


def whole(text: str) -> str:
    """A sentence as it reads where everything is known: what is said only then without its brackets."""
    return ONLY_IF_KNOWN.sub(r"\1", text)


def own_names(definitions: tuple[Definition, ...]) -> dict[str, Name]:
    """The names that a procedure defines itself."""
    return {
        own.key: Name(
            own.dimension, own.unit, own.key.replace("_", " "), up=own.dimension in ("force", "energy"), own=True
        )
        for own in definitions
    }
