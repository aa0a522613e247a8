"""What is said of a plan that is not known exactly: between what each answer lies, and what would settle it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

from topout.bench_file.model import End
from topout.planner import at_mark, known_to, limits, missing
from topout.planner.facts import FORCES_SAID_TO, KEEPS
from topout.planner.known_to import MOST_OF_A_FORCE, MOST_PRESSURE_PA, Bounds, Next
from topout.uncertainty.intervals import Interval
from topout.units import NO_BREAK, System, decimals_of, number, plain, show

Said: TypeAlias = Mapping[tuple[str, ...], Interval]
MOST_OF_A_RATE: Final = 0.05  # ours: coils are sold in steps of 25 lb/in, 5 % of a usual one
# Place in the plan's JSON, the words, dimension, unit, decimals.
_ROWS: Final = (
    (("keep", "sag", "pressure_pa"), "pressure for the same sag", "pressure", "psi", 0),
    (("keep", "sag-share", "pressure_pa"), "pressure for the same sag in %", "pressure", "psi", 0),
    (("keep", "curve", "pressure_pa"), "pressure for the same feel", "pressure", "psi", 0),
    (("keep", "end-force", "pressure_pa"), "pressure for the same end", "pressure", "psi", 0),
    (("after", "sag", "front", "travel_m"), "sag after", "length", "mm", 0),
    (("after", "sag", "front", "shown_m"), "sag O-ring after, settled as often as it was found", "length", "mm", 0),
    (("difference", "sag", "front", "travel_m"), "change of sag", "length", "mm", 1),
    (("after", "end_force_n"), "bottom-out force after", "force", "N", -1),
    (("difference", "end_force_n"), "change of it", "force", "N", -1),
    (("rear", "keep", "sag", "pressure_pa"), "shock, pressure for the same sag", "pressure", "psi", 0),
    (("rear", "keep", "sag-share", "pressure_pa"), "shock, pressure for the same sag in %", "pressure", "psi", 0),
    (("rear", "keep", "curve", "pressure_pa"), "shock, pressure for the same feel", "pressure", "psi", 0),
    (("rear", "keep", "end-force", "pressure_pa"), "shock, pressure for the same end", "pressure", "psi", 0),
    (("rear", "keep", "sag", "rate_n_per_m"), "shock, spring for the same sag", "rate", "N/mm", 1),
    (("after", "sag", "rear", "stroke_m"), "shock, stroke used at sag after", "length", "mm", 1),
    (("after", "sag", "rear", "stroke_shown_m"), "shock, its ring after, settled once", "length", "mm", 1),
    (("difference", "sag", "rear", "stroke_m"), "shock, change of stroke used", "length", "mm", 1),
    (("after", "rear", "wheel_rate_n_per_m"), "rear wheel, rate at sag after", "rate", "N/mm", 1),
    (("difference", "rear", "wheel_rate_n_per_m"), "rear wheel, change of it", "rate", "N/mm", 1),
    (("after", "rear", "end_force_n"), "shock, bottom-out force after", "force", "N", -1),
    (("difference", "rear", "end_force_n"), "shock, change of it", "force", "N", -1),
)  # fmt: skip
_DRAWN: Final = {
    "shock.air.bore": "the bore of the shock’s can", "shock.air.shaft": "the damper body that the can slides on",
    "shock.air.positive_volume": "the volume of the shock’s air chamber", "shock.air.negative_volume": "the volume of its negative chamber",
    "shock.air.port_position": "the place of the shock’s port", "shock.air.spacer_volume": "the volume of a spacer in the shock",
    "shock.friction": "the friction of the shock", "shock.damper": "the gas behind the shock’s damper",
    "shock.bumper": "the bumper of the shock",
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
    to_set: bool  # a pressure that keeps one thing as it was
    over: bool = False  # and lies above the maker's limit


def between(of: Bounds, system: System, over: Collection[tuple[str, ...]] = ()) -> list[Between]:
    """Each answer that is not exact.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in; over [-] (any) the places of keeps above the maker's limit
    → [SI] (any) as written. Raises nothing.
    Source: physics.md 12.
    """
    found = []
    for place, words, dimension, unit, decimals in _ROWS:
        one = of.of.get(place)
        if one is not None:
            here = system.unit(dimension, unit)
            places = at_mark.decimals(here) if dimension == "pressure" else decimals if here == unit else None
            if dimension != "pressure":
                places = known_to.no_finer(one.half_width, dimension, here, places)
            low, high = outward(one, dimension, here, places)
            middle, above = show(one.median, dimension, here, decimals=places), place[:-1] in over
            found.append(Between(words, middle, low, high, "keep" in place, above))
    return found


def for_same_sag(of: Bounds, unit: str, answer: str = "keep-sag", limit_pa: float | None = None) -> str:
    """The pressure that keeps the sag, with its limits; that it is not known where they lie too far apart; else nothing.

    of [SI] (one) what the draws say; unit [-] (one) of pressure; answer [-] (one) "keep-sag", or "rear-keep-sag" of a shock;
    limit_pa [Pa gauge] (one) the maker's, where that pressure may lie above it, or None → [-] (one) words. Raises nothing. Source: physics.md 12.
    """
    one = of.answers.get(answer)
    if one is None:
        return ""
    low, high = outward(one, "pressure", unit, at_mark.decimals(unit))
    if one.half_width > MOST_PRESSURE_PA:
        return f"The pressure for the same sag is not known yet: between {low} and {high}."
    middle = show(one.median, "pressure", unit, decimals=at_mark.decimals(unit))
    if limit_pa is not None:
        above = "above" if limits.over(one.median, limit_pa) else "it may be above"
        limit = show(limit_pa, "pressure", unit, trim=True)
        return f"The same sag would take {middle}, {_figure(low)} to {high}: {above} the maker’s limit of {limit}."
    return f"For the same sag set {middle}, {_figure(low)} to {high}."


def sag_is_kept(of: Bounds, set_gauge_pa: float, unit: str, answer: str = "keep-sag") -> str:
    """The limits of the pressure that keeps the sag, where they are close and what is set lies within; else nothing.

    of [SI] (one) what the draws say; set_gauge_pa [Pa gauge] (one) above 0; unit [-] (one) of pressure; answer [-] (one)
    "keep-sag", or "rear-keep-sag" of a shock → [-] (one) words, "69 to 71 psi". Raises nothing. Source: physics.md 12.
    """
    one = of.answers.get(answer)
    if one is None or one.half_width > MOST_PRESSURE_PA:
        return ""
    if not one.low95 <= set_gauge_pa <= one.high95:
        return ""
    low, high = outward(one, "pressure", unit, at_mark.decimals(unit))
    return f"{_figure(low)} to {high}"


@dataclass(frozen=True, slots=True)
class KeepTo:
    """One thing to keep, and the pressure that keeps it as a gauge shows it, or a coil's rate: middle and limits; what is wrong.

    `set_to` is the number to set, "" where it is not known well enough to be set.
    """

    key: str
    words: str
    median: str
    low: str
    high: str
    set_to: str
    over: bool


def keeps(of: Said, unit: str, limit_pa: float | None) -> list[KeepTo]:
    """The pressures that keep one thing each, in the order in which riders think; none past the maker's limit is to be set.

    of [SI] (any) every number of the plan by its place, as it is known; unit [-] (one) of pressure; limit_pa [Pa gauge] (one)
    above 0, or None → [-] (any) as written. Raises nothing. Source: physics.md 12.
    """
    return list(_keeps(of, ("keep",), "pressure", unit, limit_pa))


def keeps_behind(of: Said, unit: str, limit_pa: float | None, *, on_coil: bool = False) -> list[KeepTo]:
    """The same at the shock: the pressure of its can, or with `on_coil` the rate of another coil, wound up as this.

    of [SI] (any) every number of the plan by its place, as it is known; unit [-] (one) of pressure, or of rate; limit_pa [Pa gauge] (one) above 0, or None;
    on_coil [-] (one) yes or no → [-] (any) as written. Raises nothing. Source: physics.md 12.
    """
    return list(_keeps(of, ("rear", "keep"), "rate" if on_coil else "pressure", unit, limit_pa))


def _keeps(of: Said, place: tuple[str, ...], dimension: str, unit: str, limit_pa: float | None) -> Iterator[KeepTo]:
    word = {"pressure": "pressure_pa", "rate": "rate_n_per_m"}[dimension]
    for key, words in KEEPS.items():
        one = of.get((*place, key.replace("_", "-"), word))
        if one is not None:
            yield setting(key, words, one, dimension, unit, limit_pa)


def setting(key: str, words: str, one: Interval, dimension: str, unit: str, limit_pa: float | None) -> KeepTo:
    """A pressure to set, or a coil's rate, that is not known exactly, as it is written; none past the maker's limit is to be set.

    key, words [-] (one) what it keeps; one [SI] (one) as it is known; dimension, unit [-] (one) of pressure or rate; limit_pa [Pa gauge]
    (one) above 0, or None → [-] (one) as written. Raises nothing. Source: physics.md 12.
    """
    places = at_mark.decimals(unit) if dimension == "pressure" else 1 if unit == "N/mm" else 0
    low, high = outward(one, dimension, unit, places)
    middle = show(one.median, dimension, unit, decimals=places)
    most = MOST_PRESSURE_PA if dimension == "pressure" else MOST_OF_A_RATE * one.median
    over = limits.over(one.high95, limit_pa)
    return KeepTo(key, words, middle, low, high, _figure(middle) if one.half_width <= most and not over else "", over)


def outward(one: Interval, dimension: str, unit: str, decimals: int | None = None) -> tuple[str, str]:
    """The limits of a quantity as written, rounded away from each other: nothing is said to be known better than it is.

    one [SI] (one) an interval; dimension, unit [-] (one) as units know them; decimals [1] (one), below 0 for tens, or None for the
    unit's own → [-] (2) words. Raises nothing. Source: none needed, bookkeeping.
    """
    places = decimals_of(unit) if decimals is None else decimals
    step = 10.0**-places
    low = math.floor(number(one.low95, dimension, unit, 12) / step + 1e-9) * step
    high = math.ceil(number(one.high95, dimension, unit, 12) / step - 1e-9) * step
    return plain(low, unit, places), plain(high, unit, places)


def percents(one: Interval) -> tuple[int, int]:
    """The limits of a share in whole per cent, rounded away from each other likewise.

    one [1] (one) an interval → [1] (2) hundredths, whole. Raises nothing. Source: none needed, bookkeeping.
    """
    return math.floor(100.0 * one.low95 + 1e-9), math.ceil(100.0 * one.high95 - 1e-9)


def _figure(said: str) -> str:
    """Without its unit, which follows."""
    return said.partition(NO_BREAK)[0]


@dataclass(frozen=True, slots=True)
class NotYet:
    """What is not known yet, as it is said: what, between what it lies, and the one reading that helps, if there is one."""

    what: str
    between: str
    helps: str
    reading: Next | None

    @property
    def sentences(self) -> list[str]:
        """The same as sentences.

        nothing → [-] (any) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return [f"{self.what} {self.between}", *([self.helps] if self.helps else [])]


def end(of: Bounds, system: System) -> NotYet | None:
    """That the end of the travel is not known yet, between what it lies, and which one reading narrows it most.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in → [-] (one) words, or None where it is
    known. Raises nothing. Source: physics.md 12.
    """
    one = of.answers.get("end-force")
    if one is None or one.half_width <= MOST_OF_A_FORCE * abs(one.median):
        return None
    low, high = forces(one, system)
    reading = next((each for each in of.next if each.kind == "gauge" and "end-force" in each.half_width), None)
    return NotYet(
        "How firm the end is: not known yet.",
        f"Between {low} and {high}.",
        _far_in(reading, one, system) if reading is not None else "",
        reading,
    )


_BEHIND: Final = "rear-end-force"
UNOPENED: Final = 2.0  # ours: so many times what the best reading leaves, and the gauge's is still the one to take
_SAYS: Final = {  # the readings of a shock beside the gauge's
    "syringe": "with the can off, measure its bore and the damper body, and fill its air chamber from a syringe",
    "caliper": "with the can off, measure its bore and the damper body with a caliper",
    "scale": "read the force in a press half-way in",
    "settles": "let it settle three times from above and three from below",
    "front-share": "put both wheels on scales with the rider on the bike",
}


def end_behind(of: Bounds, system: System) -> NotYet | None:
    """The same of a rear shock: between what its end lies, and the one reading that narrows it most.

    of [SI] (one) what the draws say; system [-] (one) the units to say it in → [-] (one) words, or None where it is
    known. Raises nothing. Source: physics.md 5 and 12.
    """
    one = of.answers.get(_BEHIND)
    if one is None or one.half_width <= MOST_OF_A_FORCE * abs(one.median):
        return None
    low, high = forces(one, system)
    reading = _of_shock([each for each in of.next if _BEHIND in each.half_width])
    helps = ""
    if reading is not None and reading.kind == "gauge":
        helps = _far_in(reading, one, system, "rear")
    elif reading is not None:
        after, now = (
            system.show(half, "force", "N", decimals=-1) for half in (reading.half_width[_BEHIND], one.half_width)
        )
        helps = f"One reading helps: {_SAYS[reading.kind]}. Then it is known to ± {after}, now to ± {now}."
    return NotYet("How firm the end of the shock is: not known yet.", f"Between {low} and {high}.", helps, reading)


def _of_shock(told: list[Next]) -> Next | None:
    """The reading that narrows the end of a shock most; a can is not taken off for what the gauge tells nearly as well."""
    best = min(told, key=lambda each: each.half_width[_BEHIND], default=None)
    gauge = next((each for each in told if each.kind == "gauge"), None)
    if best is None or gauge is None:
        return best
    return gauge if gauge.half_width[_BEHIND] <= UNOPENED * best.half_width[_BEHIND] else best


def is_open_behind(of: Bounds) -> bool:
    """Whether a rear shock's own force is not known exactly, before or after: it is then told with its limits.

    of [SI] (one) what the draws say → [-] (one) yes or no. Raises nothing. Source: none needed, bookkeeping.
    """
    return any((state, "rear", "end_force_n") in of.of for state in ("before", "after"))


def forces(one: Interval, system: System) -> tuple[str, str]:
    """The limits of a force as written, no finer than it is known, newtons to 10 at the finest.

    one [N] (one) an interval; system [-] (one) the units to say it in → [-] (2) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    unit = system.unit("force", "N")
    own = FORCES_SAID_TO if unit == "N" else None
    return outward(one, "force", unit, known_to.no_finer(one.half_width, "force", unit, own))


_HELD: Final = {"front": "hold the fork in by {}", "rear": "hold the shock in by {}, in a press"}
_HOLDS: Final = {"front": "a strap or a press holds it, not hands", "rear": "a press holds it, never a strap or hands"}


def _far_in(reading: Next, now: Interval, system: System, at_end: End = "front") -> str:
    answer = "end-force" if at_end == "front" else _BEHIND
    at = _HELD[at_end].format(system.show(reading.travel_m or 0.0, "length", "mm", decimals=0))
    after = system.show(reading.half_width[answer], "force", "N", decimals=-1)
    before = system.show(now.half_width, "force", "N", decimals=-1)
    begin = ""
    if reading.start_pa is not None:
        begin = f"at {system.show(reading.start_pa, 'pressure', 'psi', decimals=0)}, "
    by_reading = _by_what_it_reads(reading.between.get(answer), now.half_width, system)
    words = (
        f"One reading helps: {begin}{at}, pump on, and read the gauge. "
        f"Then it is known to ± {after}{by_reading}, now to ± {before}."
    )
    return f"{words} {caution(reading, system, at_end)}".rstrip()


_WIDE: Final = 2.0  # a reading whose figures leave one more than so many times another is not told by its middle alone


def _by_what_it_reads(between: tuple[float, float] | None, now_n: float, system: System) -> str:
    """What the figure that is read makes of it, where that is no small matter: of forks some of which nearly lock."""
    if between is None or between[1] <= _WIDE * between[0]:
        return ""
    least, most = (system.show(each, "force", "N", decimals=-1) for each in between)
    return (
        f" (by what it reads to ± {least}, or {'no better than now' if between[1] >= now_n else f'only to ± {most}'})"
    )


def caution(reading: Next, system: System, at_end: End = "front") -> str:
    """What it takes to hold a fork or a shock far in, and what the gauge may show; nothing where that was not worked out.

    reading [SI] (one) a gauge's, held in; system [-] (one) the units to say it in; at_end [-] (one) front or rear → [-] (one) words.
    Raises nothing. Source: physics.md 5.
    """
    if reading.hold_n is None or reading.shows_pa is None:
        return ""
    force = system.show(reading.hold_n, "force", "N", decimals=-1)
    shows = system.show(reading.shows_pa, "pressure", "psi", decimals=0)
    return f"It takes up to {force}: {_HOLDS[at_end]}. The gauge may show {shows}."


def assumed(of: Bounds) -> str:
    """What was drawn from what such forks usually are.

    of [SI] (one) what the draws say → [-] (one) words. Raises nothing. Source: physics.md 12.
    """
    named = [drawn_words(word) for word in of.assumed]
    such = [unit for unit in ("fork", "shock") if any(word.startswith(f"{unit}.") for word in of.assumed)]
    units = " and ".join(f"{unit}s" for unit in such) or "bikes"
    return f"Not known here, and drawn from what such {units} usually are: {', '.join(named)}." if named else ""


def not_measured(of: Bounds) -> str:
    """The same for a rider: which of it nobody measured, marked as the pages mark it.

    of [SI] (one) what the draws say → [-] (one) words, or none. Raises nothing. Source: physics.md 12.
    """
    named = [drawn_words(word) for word in of.assumed]
    return f"○ Typical, not measured here: {', '.join(named)}." if named else ""


def drawn_words(word: str) -> str:
    """What was drawn, as a mechanic calls it: "fork.air.bore" → the bore of the air tube.

    word [-] (one) of a bench file → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return _DRAWN.get(word) or missing.words(missing.place_of(word))
