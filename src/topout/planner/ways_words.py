"""The ways to another travel in words, for terminal and page alike: one column each; what is wrong with one, and what it lacks, below."""

from __future__ import annotations

from typing import Final

from topout.planner import at_mark, known_to, limits, missing, open_to
from topout.planner.facts import FORCES_SAID_TO, NEVER, NONE
from topout.planner.replies import IN_19_OF_20, Reply, Table, leaning
from topout.planner.ways import SAYS, Way, Ways
from topout.uncertainty.intervals import Interval
from topout.units import System, digits

_ROWS: Final = (
    ("fork length", "fork_length_m", "length", "mm", 0), ("fork length bottomed", "bottomed_length_m", "length", "mm", 0),
    ("main chamber, extended", "positive_m3", "volume", "ml", 0), ("main chamber, bottomed", "positive_end_m3", "volume", "ml", 0),
    ("compression ratio", "compression_ratio", "", "", 2), ("negative chamber", "negative_m3", "volume", "ml", 0),
    ("port opens at", "port_m", "length", "mm", 0), ("air in the lower legs", "lower_legs_m3", "volume", "ml", 0),
    ("sag at this pressure", "sag_m", "length", "mm", 1), ("bottom-out force", "end_force_n", "force", "N", FORCES_SAID_TO),
    ("for the same sag in %, set", "same_share_gauge_pa", "pressure", "psi", None),
    ("bottom-out force then", "same_share_end_force_n", "force", "N", FORCES_SAID_TO),
)  # fmt: skip


def to_ways(of: Ways, system: System) -> Reply:
    """The three ways side by side.

    of [SI] (one) the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    travels = [system.show(each, "length", "mm", trim=True) for each in (of.travel_m, of.asked_m)]
    first = [f"From {travels[0]} to {travels[1]} of travel, by each way it can be changed. Ask which one was built."]
    if of.share is not None and of.sag_m is not None and of.end_force_n is not None:
        sag = _said(of.sag_m, of.of.get("sag_m"), "length", "mm", 1, system)
        share = _said(of.share, of.of.get("share"), "share", "%", 1, system)
        now = _said(of.end_force_n, of.of.get("end_force_n"), "force", "N", FORCES_SAID_TO, system)
        first.append(f"As it is: sag {sag}, {share}; bottom-out force {now}.")
    rows = [
        (words, *(_of_way(way, name, kind, unit, places, system) for way in of.ways))
        for words, name, kind, unit, places in _ROWS
    ]
    table = Table("", ("", *(SAYS[way.by] for way in of.ways)), tuple(row for row in rows if set(row[1:]) != {NONE}))
    wrong = [
        f"{SAYS[way.by].capitalize()}: not known: {', '.join(map(missing.words, way.lacks))}."
        for way in of.ways
        if way.lacks
    ]
    heard: dict[tuple[str, bool], list[str]] = {}
    for way in of.ways:
        for warned in way.warned:
            text = warned.said(system)
            heard.setdefault((text, warned.code in limits.DANGERS), []).append(SAYS[way.by])
    hurts = [
        f"! {SAYS[way.by].capitalize()}, the same sag in %: {limits.said_over(way.most_gauge_pa, way.limit_gauge_pa, system)}"
        for way in of.ways
        if way.over
    ]
    for (text, danger), names in heard.items():
        which = "All three" if len(names) == len(of.ways) else " and ".join(names).capitalize()
        (hurts if danger else wrong).append(f"! {which}: {text}")
    maker = "The maker says which of them this fork allows. Let the air out before anything is opened."
    open_still = (IN_19_OF_20,) if of.of or any(way.of for way in of.ways) else ()
    reply = Reply(tuple(first), (table,), tuple(wrong), (*open_still, maker), hurts=tuple(hurts))
    return leaning(reply, of.defaults, system)


def _of_way(way: Way, name: str, dimension: str, unit: str, decimals: int | None, system: System) -> str:
    """A figure of one way; a port that lies out past full extension opens never."""
    value, known = getattr(way, name), way.of.get(name)
    most = value if known is None else known.high95
    if name == "port_m" and most is not None and most < 0.0:
        return NEVER
    return _said(value, known, dimension, unit, decimals, system)


def _said(
    value: float | None, of: Interval | None, dimension: str, unit: str, decimals: int | None, system: System
) -> str:
    """A figure as it is known: one, or where it was drawn what it lies between."""
    if value is None:
        return NONE
    if of is None or of.high95 <= of.low95:
        return _figure(value, dimension, unit, decimals, system)
    here = system.unit(dimension, unit) if dimension else unit
    places: int | None = 1  # of a ratio
    if dimension == "pressure":
        places = at_mark.decimals(here)
    elif dimension:
        places = known_to.no_finer(of.half_width, dimension, here, decimals if here == unit else None)
    return " to ".join(open_to.outward(of, dimension or "ratio", here, places))


def _figure(value: float, dimension: str, unit: str, decimals: int | None, system: System) -> str:
    if dimension == "pressure":
        return at_mark.show_in(system, value)
    return system.show(value, dimension, unit, decimals=decimals) if dimension else digits(value, decimals or 0)
