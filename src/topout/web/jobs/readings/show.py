"""Readings and plans as people read them: typed first, what was understood beside it, in both systems."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from topout import units
from topout.web.access import preferences
from topout.web.fields import WRITTEN, decimals
from topout.web.jobs.records.kinds import KINDS, label
from topout.web.jobs.records.models import Reading


@dataclass(frozen=True)
class Row:
    """One line of the card's table of readings."""

    reading: Reading
    label: str
    whole: str  # the figure split at its decimal sign, so that a column aligns on it
    fraction: str
    unit: str
    understood: str
    instrument: str
    struck: bool
    again: bool
    reason: str  # of a struck one: why, and when it was struck
    struck_at: Any = None


def reading_row(reading: Reading, noun: str = "fork") -> Row:
    """`reading.struck_by` is set by readings.rows(); `noun` is what its job is about."""
    newer = getattr(reading, "struck_by", None)
    number, unit = split(reading)
    whole, point, fraction = number.partition(".")
    return Row(
        reading, label(reading.kind, noun), whole, point + fraction, unit, understood(reading),
        str(reading.instrument) if reading.instrument else "", newer is not None, reading.corrects_id is not None,
        newer.reason if newer else "", newer.at if newer else None,
    )  # fmt: skip


def split(reading: Reading) -> tuple[str, str]:
    """The number as typed, and its unit: `("71", "psi")`, for clicks `("7", "of 14")`."""
    if not reading.dimension:
        return reading.text, f"of {reading.of_range}" if reading.of_range else ""
    typed = units.Typed(reading.value_si, reading.unit, reading.text)
    number = units.number_of(typed.text)
    return number, WRITTEN.get(reading.unit, reading.unit)


def understood(reading: Reading) -> str:
    """What the tool took it for; a pressure before the hose where that is known."""
    if not reading.dimension:
        clicks = reading.of_range or reading.kind in KINDS and KINDS[reading.kind].clicks
        parts = ["clicks from closed" if clicks else ""]
    elif reading.corrected_si is not None and reading.hose_volume_m3 is not None:
        left = reading.stage == "as-left"
        before = before_the_hose(reading, second=not left)
        parts = [f"{before} before the hose, {units.show(reading.hose_volume_m3, 'volume', 'ml')}"]
        if left:  # unscrewing costs the unit nothing
            parts.insert(0, f"{_typed(reading)} stays in")
    else:
        parts = [_typed(reading)]
    return ", ".join(part for part in [*parts, reading.posture, reading.note] if part)


def in_short(reading: Reading) -> str:
    """What counts, and what was read where that is another number. Of a gauge’s hose nothing: the card’s table tells it."""
    if reading.kind not in KINDS or not KINDS[reading.kind].pressure:
        return in_words(reading)
    if reading.counts_si == reading.value_si:
        return _typed(reading)
    number, unit = split(reading)
    return f"{before_the_hose(reading, second=True)}, read as {number}{units.NO_BREAK}{unit}"


def _typed(reading: Reading) -> str:
    """The quantity as it was typed, in both systems."""
    return units.show(reading.value_si, reading.dimension, reading.unit, decimals=decimals(reading.text), second=True)


def before_the_hose(reading: Reading, *, second: bool = False) -> str:
    """What a reading was before its gauge's hose took its share: computed, so in the workshop's own units."""
    assert reading.corrected_si is not None
    system = preferences.system()
    return system.show(reading.corrected_si, "pressure", "psi", decimals=1, second=second)


def in_words(reading: Reading) -> str:
    """A reading in a line: what it was taken for, and what was read where that is another number."""
    number, unit = split(reading)
    if not reading.dimension:
        return ", ".join(part for part in [f"{number} {unit}".strip(), understood(reading)] if part)
    read = f", read as {number} {unit}" if reading.counts_si != reading.value_si else ""
    return understood(reading) + read
