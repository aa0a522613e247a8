"""Answers to single questions for people: a landing, the rebound to start from, what to set for what is asked."""

from __future__ import annotations

from typing import Final

from topout.cli.page import Page
from topout.planner import kept
from topout.planner.facts import FORCES_SAID_TO, NONE
from topout.planner.landing import Landing
from topout.planner.rebound import Rebound
from topout.planner.ride import Ridden
from topout.planner.target import BY_PRESSURE, Target, Targets
from topout.uncertainty.intervals import Interval
from topout.units import NO_BREAK, System, digits

_ASKED: Final = {
    "sag": ("sag", "length", "mm", None), "sag-share": ("sag", "share", "%", 0),
    "end-force": ("bottom-out force", "force", "N", FORCES_SAID_TO),
}  # fmt: skip


def told(system: System, of: Interval | None, dimension: str, unit: str, decimals: int | None, drawn: bool) -> str:
    """A quantity as it is known: one figure, and with what was drawn the limits that hold 19 of 20 forks that fit."""
    if of is None:
        return NONE
    middle = system.show(of.median, dimension, unit, decimals=decimals)
    if not drawn:
        return middle
    low, high = (system.show(value, dimension, unit, decimals=decimals) for value in (of.low95, of.high95))
    return middle if low == high else f"{middle}, {low} to {high}"


def landing(of: Landing, system: System) -> str:
    """The drop that uses all the travel, before and after the change."""
    page = Page(system)
    page.say(
        "The drop onto both wheels that just uses all the fork’s travel, by its spring alone.",
        "Damping, friction, tyre and legs are left out; all of them help. Compare two builds by it, promise nobody a height.",
    )
    if of.drawn:
        page.say("Not all of this fork is known: beside each figure, what holds for 19 of 20 forks that fit.")
    rows = [
        (words, told(system, each, "length", "m", 2, of.drawn))
        for words, each in (("before", of.before), ("after", of.after))
    ]
    page.table("", ("", "drop"), rows)
    return page.text()


def rebound(of: Rebound, system: System) -> str:
    """The damping that the changed spring wants, and the clicks to start from."""
    page = Page(system)
    if of.rate_ratio is None or of.damping_ratio is None:
        page.say("The spring’s rate at sag is not known before and after: nothing can be said of the rebound.")
        return page.text()
    rate = _against_now(of.rate_ratio, "stiffer", "softer", of.drawn) or "as stiff as now"
    damping = _against_now(of.damping_ratio, "more damping", "less damping", of.drawn) or "the damping it has"
    page.say(f"Where the bike rests, the spring is {rate}: it wants {damping} on the way out.")
    if of.clicks is not None:
        as_now = of.clicks == of.clicks_before
        start = "Leave it at" if as_now else f"It was {of.clicks_before}. Start at"
        page.say(f"{start} {of.clicks} clicks from closed. Then ride it.")
    page.say(
        "Damping wanted grows with the root of the rate. What a click does is the damper’s own affair: fewer clicks from "
        "closed are taken to damp more in proportion. A start, no setting; the maker’s sheet comes first."
    )
    return page.text()


def _against_now(ratio: Interval, more: str, less: str, drawn: bool) -> str:
    """How much more or less, in whole per cent; empty where that is none."""
    middle, low, high = (round(100.0 * (value - 1.0)) for value in (ratio.median, ratio.low95, ratio.high95))
    span = f" ({digits(low, 0, signed=True)} to {digits(high, 0, signed=True)})" if drawn and low != high else ""
    return f"{abs(middle)}{NO_BREAK}% {less if middle < 0 else more}{span}" if middle or span else ""


def ride(of: Ridden, system: System) -> str:
    """Here and there side by side, and what to set."""
    page = Page(system)
    deeper = of.deeper_m
    if deeper is None:
        page.say("Nothing can be said: a chamber would have no room left within the travel.")
        return page.text()
    size = system.show(abs(deeper.median), "length", "mm")
    way = "deeper" if deeper.median > 0.0 else "higher"
    to_set = told(system, of.set_gauge_pa, "pressure", "psi", None, of.drawn)
    if of.leave_alone:
        page.say(
            f"Leave it alone: there it sits {size} {way}, less than a rider’s posture. The gauge shows another figure there; that is no leak."
        )
    elif of.set_gauge_pa is None:
        page.say(f"There it sits {size} {way}. No pressure from 0 to 60 bar, set here, makes up for it.")
    else:
        page.say(f"There it sits {size} {way}. Set {to_set} here, and there it sits as it does here now.")
    rows = []
    for words, name, dimension, unit, decimals in (
        ("gauge shows", "gauge_pa", "pressure", "psi", None), ("sag", "sag_m", "length", "mm", None),
        ("share of the travel", "share", "share", "%", 1), ("bottom-out force", "end_force_n", "force", "N", FORCES_SAID_TO),
    ):  # fmt: skip
        cells = (
            told(system, getattr(place, name), dimension, unit, decimals, of.drawn) for place in (of.here, of.there)
        )
        rows.append((words, *cells))
    at = [system.show(place.temperature_k, "temperature", "degC", decimals=0) for place in (of.here, of.there)]
    page.table("Left alone", ("", f"here, {at[0]}", f"there, {at[1]}"), rows)
    page.say(
        "The air in the lower legs is taken as shut in here; where the legs are vented there, that part goes. Damper oil and "
        "rubber change with the cold too: not reckoned."
    )
    return page.text()


def targets(of: Targets, system: System) -> str:
    """What to set for each thing that is asked, with what else it does."""
    page = Page(system)
    for each in of.targets:
        _target(page, each, of, system)
    if of.drawn:
        page.say("Not all of this fork is known: beside each figure, what holds for 19 of 20 forks that fit.")
    page.say("The maker’s sheet comes first. Set it, measure the sag, and go by what the bike shows.")
    return page.text()


def _target(page: Page, each: Target, of: Targets, system: System) -> None:
    words, dimension, unit, decimals = _ASKED[each.asked]
    wanted = told(system, each.wanted, dimension, unit, decimals, of.drawn)
    if not each.ways:
        page.say(f"For {words} {wanted}: no pressure from 0 to 60 bar does it.")
        return
    rows, wrong = [], []
    for way in each.ways:
        share = way.share.median if way.share is not None else None
        set_pa = way.pressure_gauge_pa.median if way.pressure_gauge_pa is not None else 0.0
        marks = kept.marks(set_pa, of.limit_gauge_pa, share, system)
        wrong += [f"! {system.show(set_pa, 'pressure', 'psi')}: {mark}." for mark in marks]
        name = "pressure alone" if way.by == BY_PRESSURE else "spacers, same sag"
        rows.append(
            (
                f"{name}{' !' if marks else ''}",
                str(way.spacers),
                told(system, way.pressure_gauge_pa, "pressure", "psi", None, of.drawn),
                told(system, way.sag_m, "length", "mm", None, of.drawn),
                told(system, way.end_force_n, "force", "N", FORCES_SAID_TO, of.drawn),
            )
        )
    page.table(f"For {words} {wanted}", ("", "volume spacers", "set", "sag", "bottom-out force"), rows)
    page.say(*wrong)
