"""The ways to another travel for people: one column each; what is wrong with one, and what is missing for it, below."""

from __future__ import annotations

from topout.cli.page import Page
from topout.cli.tables import said
from topout.planner import missing
from topout.planner.facts import FORCES_SAID_TO, NONE
from topout.planner.ways import SAYS, Way, Ways
from topout.units import System, digits

_ROWS = (
    ("fork length", "fork_length_m", "length", "mm", 0), ("fork length bottomed", "bottomed_length_m", "length", "mm", 0),
    ("main chamber, extended", "positive_m3", "volume", "ml", 0), ("main chamber, bottomed", "positive_end_m3", "volume", "ml", 0),
    ("compression ratio", "compression_ratio", "", "", 2), ("negative chamber", "negative_m3", "volume", "ml", 0),
    ("port opens at", "port_m", "length", "mm", 0), ("air in the lower legs", "lower_legs_m3", "volume", "ml", 0),
    ("sag at this pressure", "sag_m", "length", "mm", 1),
    ("bottom-out force", "end_force_n", "force", "N", FORCES_SAID_TO),
    ("for the same sag in %, set", "same_share_gauge_pa", "pressure", "psi", None),
    ("bottom-out force then", "same_share_end_force_n", "force", "N", FORCES_SAID_TO),
)  # fmt: skip


def ways(of: Ways, system: System) -> str:
    """The three ways side by side."""
    page = Page(system)
    travels = [system.show(each, "length", "mm", trim=True) for each in (of.travel_m, of.asked_m)]
    page.say(f"From {travels[0]} to {travels[1]} of travel, by each way it can be changed. Ask which one was built.")
    if of.share is not None:
        now = said(system, of.end_force_n, "force", "N", FORCES_SAID_TO)
        page.say(
            f"As it is: sag {said(system, of.sag_m, 'length', 'mm')}, {system.show(of.share, 'share', '%', decimals=1)}; bottom-out force {now}."
        )
    rows = [
        (words, *(_cell(way, name, kind, unit, places, system) for way in of.ways))
        for words, name, kind, unit, places in _ROWS
    ]
    page.table("", ("", *(SAYS[way.by] for way in of.ways)), [row for row in rows if set(row[1:]) != {NONE}])
    for way in of.ways:
        if way.lacks:
            page.say(f"{SAYS[way.by].capitalize()}: not known: {', '.join(map(missing.words, way.lacks))}.")
    heard: dict[str, list[str]] = {}
    for way in of.ways:
        for warned in way.warned:
            text = warned.phrase.said(system) if warned.phrase is not None else warned.text
            heard.setdefault(text, []).append(SAYS[way.by])
    page.say(*(f"! {' and '.join(names) if len(names) < 3 else 'All three'}: {text}" for text, names in heard.items()))
    page.say("The maker says which of them this fork allows. Let the air out before anything is opened.")
    return page.text()


def _cell(way: Way, name: str, dimension: str, unit: str, decimals: int | None, system: System) -> str:
    value = getattr(way, name)
    if value is None:
        return NONE
    if not dimension:
        return digits(value, decimals or 0)
    return said(system, value, dimension, unit, decimals)
