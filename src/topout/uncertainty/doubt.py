"""A value with what its writer doubts of it: "265 ± 5 ml" is read here, and written back as it was typed.

Three ways: `±` (or `+/-`), 95 % of what the writer believes lies within; `u`, the standard uncertainty; `within`, hard
limits. No number is drawn here, and nothing here takes numpy along: whoever reads a file reads this.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from topout import units
from topout.units import Typed, UnitFault

Way = Literal["±", "u", "within"]
NORMAL_95: Final = 1.959963984540054  # half-width of 95 % of a normal distribution, in standard uncertainties
_WAYS: Final[dict[str, Way]] = {"±": "±", "+/-": "±", "u": "u", "within": "within"}
_PER_CENT: Final = frozenset({"%", "percent", "per cent", "pct"})
_NO_SHARE_OF: Final = ("temperature", "angle")  # their nought is nobody's measure
_EXAMPLE: Final = 'as in "265 ± 5 ml", "265 ml u 2.5 ml" or "265 ml within 5 ml"'


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far a value may be off: the way it was written, its amount in SI of the value, the words typed, the value's key."""

    way: Way
    amount_si: float
    text: str  # "5 ml", "2 %", "0.02"
    key: str = ""  # "fork.air.bore"; of a reading "found.reading.0.travel"

    @property
    def standard_si(self) -> float:
        """The standard uncertainty.

        nothing → [SI] (one) 0 and more. Raises nothing. Source: JCGM 100:2008 4.3.4 and 4.3.7.
        """
        if self.way == "within":
            return self.amount_si / math.sqrt(3.0)
        return self.amount_si / NORMAL_95 if self.way == "±" else self.amount_si

    @property
    def even(self) -> bool:
        """Whether every value within its limits is as likely as any other; else it is normal.

        nothing → [-] (one). Raises nothing. Source: JCGM 101:2008 6.4.2.
        """
        return self.way == "within"

    def beside(self, value: str) -> str:
        """The value with it, as a file has it: "265 ± 5 ml", "265 ml ± 2 %".

        value [-] (one) as written, "265 ml" or "0.42" → [-] (one) words. Raises nothing. Source: bench-file.md.
        """
        number, _, unit = value.partition(" ")
        if self.way == "±" and unit and self.text.endswith(f" {unit}"):
            value = number
        return f"{value} {self.way} {self.text}"


def quantity(text: str, dimension: str, usual: str | None = None) -> tuple[Typed, Doubt | None]:
    """A typed quantity, and its doubt where it has one. A unit that stands once belongs to both numbers.

    text [-] (one) as typed; dimension [-] (one) of the units; usual [-] (one) the unit that a sentence shows first →
    [SI] (one). Raises UnitFault where it is no such value. Source: bench-file.md.
    """
    parts = _parts(text)
    if parts is None:
        return units.parse(text, dimension, usual=usual), None
    value, way, rest = parts
    amount, name = _amount(rest)
    given = value[len(units.number_at(value)) :].strip()
    share = name in _PER_CENT
    if share and dimension in _NO_SHARE_OF:
        noun = {"temperature": "a temperature", "angle": "an angle"}[dimension]
        raise UnitFault(
            f"per cent of {noun} say nothing; give the uncertainty in {next(iter(units.TABLE[dimension]))}."
        )
    typed = units.parse(value if given or share or not name else f"{value} {name}", dimension, usual=usual)
    if share:
        return typed, Doubt(way, amount / 100.0 * abs(typed.value_si), f"{units.number_at(rest)} %")
    unit = units.unit_named(name, dimension) if name else typed.unit
    factor, _ = units.TABLE[dimension][unit]
    return typed, Doubt(way, _finite(amount * factor), f"{units.number_at(rest)} {unit}")


def number(text: str) -> tuple[float, Doubt | None]:
    """A plain number in quotes, and its doubt: "0.42 ± 0.02", "0.42 ± 5 %".

    text [-] (one) as typed → [1] (one). Raises UnitFault where it is no such value. Source: bench-file.md.
    """
    parts = _parts(text)
    if parts is None:
        return units.parse_number(text), None
    value, way, rest = parts
    amount, name = _amount(rest)
    typed = units.parse_number(value)
    if name in _PER_CENT:
        return typed, Doubt(way, amount / 100.0 * abs(typed), f"{units.number_at(rest)} %")
    if name:
        raise UnitFault("a plain number has no unit, and its uncertainty none but %.")
    return typed, Doubt(way, amount, units.number_at(rest))


def _parts(text: str) -> tuple[str, Way, str] | None:
    """What stands before and after the sign of an uncertainty; None where there is none."""
    found = list(units.UNCERTAIN.finditer(text))
    if not found:
        return None
    if len(text) > 3 * units.DIGITS_MAX:
        raise UnitFault("that is longer than any value here.")
    if len(found) > 1:
        raise UnitFault(f"one uncertainty is expected, {_EXAMPLE}.")
    sign = found[0]
    value, rest = text[: sign.start()].strip(), text[sign.end() :].strip()
    if not value or not units.number_at(value):
        raise UnitFault(f'a value is expected before "{sign.group()}", {_EXAMPLE}.')
    return value, _WAYS[sign.group()], rest


def _amount(rest: str) -> tuple[float, str]:
    """The number of an uncertainty, and the name of its unit, empty where none stands there."""
    if re.match(r"[+-]?\d+,\d+", rest, re.ASCII):
        raise UnitFault(f'write a decimal point: "{rest.replace(",", ".", 1)[: units.DIGITS_MAX]}".')
    digits = units.number_at(rest)
    if not digits:
        raise UnitFault(f"the uncertainty is a number, 0 or more, {_EXAMPLE}.")
    amount = float(digits)
    if amount < 0.0 or digits.startswith("-"):
        raise UnitFault(f"an uncertainty is 0 or more, {_EXAMPLE}.")
    return _finite(amount), units.name_of(rest[len(digits) :])


def _finite(amount: float) -> float:
    if not math.isfinite(amount):
        raise UnitFault("an uncertainty is a number that is not endless.")
    return amount
