"""What an option is now and then: each figure no finer than it is known, and what it lies between where that is not well enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from topout.planner.facts import NONE, Fact
from topout.planner.known_to import most, no_finer
from topout.planner.open_to import outward
from topout.planner.options.option import Option
from topout.uncertainty.intervals import Interval
from topout.units import BENCH, NO_BREAK, System, decimals_of, digits

# A fact's number in a plan's JSON, which says how well it has to be known to be said as one figure.
_JSON: Final = {
    "head_angle": "head_angle_deg", "sag": "travel_m", "sag_share": "share", "end_force": "end_force_n",
    "rear_sag": "stroke_m", "rear_share": "share_of_stroke", "rear_end_force": "wheel_end_force_n",
}  # fmt: skip


def said(option: Option, name: str, system: System = BENCH) -> tuple[str, str]:
    """A figure before and after, without its unit: no finer than it is known, and what it lies between where that is not well enough.

    option [SI] (one) any; name [-] (one) of its facts; system [-] (one) the units to say it in → [-] (2) words. Raises nothing. Source:
    physics.md 12; JCGM 100:2008 7.2.6.
    """
    fact = option.facts[name].in_system(system)
    before, after = option.known.get(name, (None, None))
    return _no_finer(fact, "before", before), _no_finer(fact, "after", after)


def _no_finer(fact: Fact, which: Literal["before", "after"], of: Interval | None) -> str:
    if of is None or of.half_width <= 0.0 or not fact.both:
        return fact.number(which)
    own = decimals_of(fact.unit) if fact.decimals is None else fact.decimals
    told = replace(fact, decimals=no_finer(of.half_width, fact.dimension, fact.unit, own))  # an option's are in radians
    degrees = math.radians(1.0) if fact.dimension == "angle" else 1.0
    if of.half_width <= degrees * most(_JSON.get(fact.key, ""), of.median):
        return told.number(which)
    low, high = (each.partition(NO_BREAK)[0] for each in outward(of, fact.dimension, fact.unit, told.decimals))
    return f"{low} to {high}"


def cost(option: Option, among: Sequence[Option]) -> str:
    """What its parts cost, with the decimals that one of those it stands among needs: a column of amounts aligns.

    option [-] (one) any; among [-] (any) of the same table → [-] (one) words, a dash where it is not known. Raises nothing.
    Source: none needed, bookkeeping.
    """
    cents = any(each.cost is not None and each.cost != round(each.cost) for each in among)
    return NONE if option.cost is None else digits(option.cost, 2 if cents else 0)
