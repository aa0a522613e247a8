"""What is said of a plan that is not known exactly: between what each answer lies, and what would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from topout.planner import missing
from topout.planner.known_to import MOST_OF_A_FORCE, MOST_PRESSURE_PA, Bounds, Next
from topout.uncertainty.intervals import Interval
from topout.units import System

# Place in the plan's JSON, the words, dimension, unit, decimals.
_ROWS: Final = (
    (("keep", "sag", "pressure_pa"), "pressure for the same sag", "pressure", "psi", 1),
    (("keep", "sag-share", "pressure_pa"), "pressure for the same sag in %", "pressure", "psi", 1),
    (("keep", "curve", "pressure_pa"), "pressure for the same feel", "pressure", "psi", 1),
    (("keep", "end-force", "pressure_pa"), "pressure for the same end", "pressure", "psi", 1),
    (("after", "sag", "front", "travel_m"), "sag after", "length", "mm", 1),
    (("difference", "sag", "front", "travel_m"), "change of sag", "length", "mm", 1),
    (("after", "end_force_n"), "bottom-out force after", "force", "N", -1),
    (("difference", "end_force_n"), "change of it", "force", "N", -1),
)  # fmt: skip
_DRAWN: Final = {
    "fork.lower_legs": "the air in the lower legs", "fork.bumper": "the bumper", "fork.friction": "the friction",
    "fork.air.port_position": "the place of the port", "fork.air.spacer_volume": "the volume of a spacer",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Between:
    """An answer with the limits that hold 19 of 20 forks that fit, each as it is written."""

    words: str
    median: str
    low: str
    high: str


def between(of: Bounds, system: System) -> list[Between]:
    """Each answer that is not exact.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in → [SI] (any) as written. Raises nothing.
    Source: physics.md 12.
    """
    found = []
    for place, words, dimension, unit, decimals in _ROWS:
        one = of.of.get(place)
        if one is not None:
            said = [system.show(v, dimension, unit, decimals=decimals) for v in (one.median, one.low95, one.high95)]
            found.append(Between(words, *said))
    return found


def to_set(of: Bounds, system: System) -> str:
    """The pressure that keeps the sag, with its limits; that it is not known where they lie too far apart; else nothing.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source:
    physics.md 12.
    """
    one = of.answers.get("keep-sag")
    if one is None:
        return ""
    low, high = (system.show(v, "pressure", "psi", decimals=0) for v in (one.low95, one.high95))
    if one.half_width > MOST_PRESSURE_PA:
        return f"The pressure for the same sag is not known yet: between {low} and {high}."
    middle = system.show(one.median, "pressure", "psi", decimals=0)
    if low == high:
        return f"For the same sag set {middle}; it is known to less than a mark of the gauge."
    return f"For the same sag set {middle}, between {low} and {high}."


def end(of: Bounds, system: System) -> list[str]:
    """That the end of the travel is not known yet, between what it lies, and which one reading narrows it most.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in → [-] (any) words. Raises nothing. Source:
    physics.md 12.
    """
    one = of.answers.get("end-force")
    if one is None or one.half_width <= MOST_OF_A_FORCE * abs(one.median):
        return []
    low, high = (system.show(v, "force", "N", decimals=-1) for v in (one.low95, one.high95))
    said = [f"How firm the end is: not known yet. Between {low} and {high}."]
    reading = next((each for each in of.next if each.kind == "gauge" and "end-force" in each.half_width), None)
    if reading is not None:
        said.append(_far_in(reading, one, system))
    return said


def _far_in(reading: Next, now: Interval, system: System) -> str:
    at = system.show(reading.travel_m or 0.0, "length", "mm", decimals=0)
    after = system.show(reading.half_width["end-force"], "force", "N", decimals=-1)
    before = system.show(now.half_width, "force", "N", decimals=-1)
    words = f"One reading helps: hold the fork {at} in, pump on, and read the gauge. Then it is known to ± {after}, now to ± {before}."
    if reading.hold_n is not None and reading.shows_pa is not None:
        force = system.show(reading.hold_n, "force", "N", decimals=-1)
        shows = system.show(reading.shows_pa, "pressure", "psi", decimals=0)
        words += f" It takes up to {force}: a strap or a press holds it, not hands. The gauge may show {shows}."
    return words


def assumed(of: Bounds) -> str:
    """What was drawn from what such forks usually are.

    of [SI] (one) what the draws say → [-] (one) words. Raises nothing. Source: physics.md 12.
    """
    named = [_DRAWN.get(word) or missing.words(_place(word)) for word in of.assumed]
    return f"Not known here, and drawn from what such forks usually are: {', '.join(named)}." if named else ""


def _place(word: str) -> str:
    table, _, key = word.rpartition(".")
    return f"[{table}] {key}"
