"""The words for what may be wanted of a bike, each with what it is read as: `topout target`, `topout options --target`, the pages.

Nothing heavy is imported here: the command line describes its options by this table.
"""

from __future__ import annotations

from dataclasses import dataclass

TYPE_CHECKING = False  # typing's own costs its import, a tenth of what --help takes
if TYPE_CHECKING:
    from typing import Final


class WrongWord(ValueError):
    """What was typed for something wanted can't be; `str()` is the line to show, without what was typed."""


@dataclass(frozen=True, slots=True)
class Word:
    """One thing that may be wanted: its name on the command line, what a page calls it, how it is read, what it is for.

    `key` is the attribute of `Wanted`; of a sag it is the length's, and `share` that of a share of travel or stroke. Limits in
    `unit`, both ends in.
    """

    name: str
    label: str
    key: str
    dimension: str
    unit: str
    low: float
    high: float
    noun: str
    metavar: str
    help: str
    share: str = ""
    rear: bool = False


WORDS: Final = {
    word.name: word
    for word in (
        Word("sag", "Sag in front", "sag_m", "length", "mm", 1, 300, "a sag", "SAG",
             'the sag wanted, a share of the travel or a length: "20%", "30 mm"', share="sag_share"),
        Word("end-force", "Bottom-out force", "end_force_n", "force", "N", 1, 50_000, "a force", "FORCE",
             'the force wanted at the end of the travel, "1800 N"'),
        Word("end-force-change", "Bottom-out force, more or less", "end_force_more_n", "force", "N", -50_000, 50_000,
             "a change of force", "FORCE", "the same against the bike as it is; a lesser one is written --end-force-change=-52N"),
        Word("rear-sag", "Sag behind, of the stroke", "rear_sag_m", "length", "mm", 1, 300, "a sag", "SAG",
             'the sag wanted at the shock, a share of its stroke or a length of it: "30%", "16 mm"', share="rear_share", rear=True),
        Word("head-angle", "Head angle, unloaded", "head_angle_rad", "angle", "deg", 45, 90, "a head angle", "ANGLE",
             'the head angle wanted at full extension, "65 deg": which fork length gives it'),
        Word("trail", "Trail, unloaded", "trail_m", "length", "mm", 0, 300, "a trail", "LENGTH", 'the trail wanted, likewise, "115 mm"'),
        Word("bb-height", "Bottom bracket, unloaded", "bb_height_m", "length", "mm", 150, 500, "a bottom bracket height", "LENGTH",
             'the height of the bottom bracket wanted, likewise, "340 mm"'),
    )
}  # fmt: skip


def read(word: Word, text: str, unit: str | None = None) -> dict[str, float]:
    """What was typed for a word, as `Wanted` takes it: a length or a share, a force, an angle.

    word [-] (one) of the table; text [-] (one) as typed; unit [-] (one) that a bare number counts as, None for none → [SI] (1)
    by attribute. Raises WrongWord where it can't be read or lies outside the word's limits. Source: bench-file.md.
    """
    typed = text.strip()
    if word.share and typed.endswith("%"):
        try:
            percent = float(typed[:-1])
        except ValueError:
            percent = 0.0
        if not 1.0 <= percent <= 90.0:
            raise WrongWord(f"a share of the {'stroke' if word.rear else 'travel'} is 1 to 90 %.")
        return {word.share: percent / 100.0}
    return {word.key: within(text, word.dimension, word.unit, word.low, word.high, word.noun, unit)}


def within(text: str, dimension: str, unit: str, low: float, high: float, noun: str, bare: str | None = None) -> float:
    """A quantity as typed, inside its limits.

    text [-] (one) as typed; dimension, unit [-] (one) of the limits; low, high [SI] (one) in that unit, both ends in; noun [-]
    (one) what it is; bare [-] (one) unit that a bare number counts as, None for none → [SI] (one). Raises WrongWord where it
    can't be read or lies outside. Source: bench-file.md.
    """
    from topout import units

    try:
        value = (units.parse(text, dimension) if bare is None else units.parse(text, dimension, bare)).value_si
    except units.UnitFault as fault:
        raise WrongWord(str(fault)) from None
    low_si, high_si = (units.to_si(each, unit, dimension) for each in (low, high))
    if not low_si <= value <= high_si * (1 + 1e-12):
        raise WrongWord(f"{noun} is {low:g} to {high:g} {unit}.")
    return value


def read_named(text: str) -> dict[str, float]:
    """What is wanted, named and with its value: "rear sag 30 %", "head-angle = 64 deg".

    text [-] (one) as typed → [SI] (1) by attribute of `Wanted`. Raises WrongWord where the name is none of the table, or what
    follows can't be read. Source: bench-file.md.
    """
    value = next(
        (
            place
            for place, letter in enumerate(text)
            if letter in "+-.0123456789" and (place == 0 or text[place - 1] in " =")
        ),
        None,
    )
    name = "" if value is None else "-".join(text[:value].replace("=", " ").replace("_", " ").lower().split())
    word = WORDS.get(name)
    if word is None or value is None:
        raise WrongWord(f'a name and its value are expected, as in "rear sag 30 %": one of {", ".join(WORDS)}.')
    return read(word, text[value:])
