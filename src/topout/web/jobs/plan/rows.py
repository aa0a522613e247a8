"""Facts of a plan as rows of a table: the name with its unit, figures split at the decimal sign so that a column aligns."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from topout.units import beside_decimals, digits, other
from topout.web.fields import WRITTEN
from topout.web.jobs.core.figures import NONE as NO_FIGURE
from topout.web.jobs.core.figures import Chosen, Fact


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure split at its decimal sign, so that a column aligns on it."""

    whole: str
    fraction: str = ""


NONE = Cell(NO_FIGURE)


@dataclass(frozen=True, slots=True)
class Row:
    """One line: its name with the unit, cells, and whether it heads a group."""

    name: str
    cells: tuple[Cell, ...] = ()
    group: bool = False

    @property
    def columns(self) -> SafeString:
        """Its cells as table cells: before, after, difference, and again. Figures only, so nothing needs escaping.

        Written here and not in the template: a hundred cells a move cost a template 10 ms, this under 1.
        """
        kinds = ("n was", "n is", "n", "n was gap", "n is", "n")
        return mark_safe("".join(_td(kind, one) for kind, one in zip(kinds, self.cells, strict=False)))

    @property
    def plain_columns(self) -> SafeString:
        """The same without a meaning of their places."""
        return mark_safe("".join(_td("n", one) for one in self.cells))


def _td(kind: str, one: Cell) -> str:
    return f'<td class="{kind}">{one.whole}<i>{one.fraction}</i></td>'


def split(text: str) -> Cell:
    """Digits as a cell."""
    whole, point, fraction = text.partition(".")
    return Cell(whole, point + fraction)


def cell(value: float | None, places: int = 0) -> Cell:
    """A number that is rounded already; a dash where there is none."""
    return NONE if value is None or not math.isfinite(value) else split(digits(value, places))


def name_of(fact: Fact | Chosen) -> str:
    """What a row is called: "Fork length, mm; limit 550 mm"."""
    words = fact.words[:1].upper() + fact.words[1:]
    if isinstance(fact, Chosen):
        return words
    unit = "°" if fact.unit == "deg" else WRITTEN.get(fact.unit, fact.unit)
    if fact.dimension == "share":
        unit += "; difference in points"
    beside = f"{'; ' if unit else ', '}{fact.note}" if fact.note else ""
    return f"{words}{f', {unit}' if unit else ''}{beside}"


def cells_of(fact: Fact) -> tuple[Cell, ...]:
    """Before, after, and the difference of what is shown."""
    return split(fact.number("before")), split(fact.number("after")), split(fact.number("change"))


def row_of(fact: Fact | Chosen) -> Row:
    """One row."""
    if isinstance(fact, Chosen):
        return Row(name_of(fact), (Cell(fact.before), Cell(fact.after), NONE))
    return Row(name_of(fact), cells_of(fact))


def rows_of(fact: Fact | Chosen) -> list[Row]:
    """Its row, a pressure's in both systems."""
    beside = other("pressure", fact.unit) if isinstance(fact, Fact) and fact.dimension == "pressure" else None
    if isinstance(fact, Fact) and beside is not None:
        places = beside_decimals((fact.before_si, fact.after_si), "pressure", fact.unit, beside, fact.decimals)
        return [row_of(fact), row_of(fact.in_unit(beside, places))]
    return [row_of(fact)]
