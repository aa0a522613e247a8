"""What is said to a single question: a landing, the ride elsewhere, the rebound to start from, what to set for what is asked.

One wording for page and terminal: sentences, tables, sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from topout.bench_file.key import MOST_PRESSURE_BAR
from topout.bench_file.model import End
from topout.planner import at_mark, defaults_words, kept, known_to, limits, open_to
from topout.planner.facts import FORCES_SAID_TO, NONE
from topout.planner.landing import Landing
from topout.planner.rebound import Rebound
from topout.planner.results import Default
from topout.planner.ride import Ridden
from topout.planner.wanted import (
    BY_PRELOAD,
    BY_PRESSURE,
    BY_RATE,
    BY_SPACERS,
    RearTarget,
    StanceTarget,
    Target,
    Targets,
    Way,
)
from topout.uncertainty.intervals import Interval
from topout.units import NO_BREAK, System, digits, show

_ASKED: Final = {
    "sag": ("sag", "length", "mm", None), "sag-share": ("sag", "share", "%", 0),
    "end-force": ("bottom-out force", "force", "N", FORCES_SAID_TO), "head-angle": ("head angle", "angle", "deg", 1),
    "trail": ("trail", "length", "mm", 0), "bb-height": ("bottom bracket height", "length", "mm", 0),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Table:
    """A table as it is written: its title, its head, its rows; the first column is words."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def cells(self) -> list[list[tuple[str, str]]]:
        """Every row, each cell with the name of its column.

        nothing → [-] (any) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return [list(zip(self.head, row, strict=True)) for row in self.rows]


@dataclass(frozen=True, slots=True)
class Reply:
    """What is said: what may hurt, the answer, its tables, what is wrong with a figure in them, and what else is to be known."""

    first: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    wrong: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    dangers: tuple[str, ...] = ()  # what was taken for granted and may hurt; of one bike the same in every answer
    hurts: tuple[str, ...] = ()  # what can hurt of this answer alone, each with its mark; before it


def leaning(reply: Reply, of: Sequence[Default], system: System) -> Reply:
    """The same with what the answer takes for granted, dangers first of all.

    reply [-] (one) words; of [SI] (any) of the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing.
    Source: none needed, bookkeeping.
    """
    told = [each.in_degrees() for each in of]
    closing = defaults_words.closing(told, system)
    return replace(
        reply,
        dangers=tuple(defaults_words.dangers(told, system)),
        after=(*reply.after, *([closing] if closing else [])),
    )


NO_LEVERAGE: Final = "The frame’s leverage is not known: its ratio is taken as the same at both sags, and nothing is said of the rear wheel."
IN_19_OF_20: Final = "Not all of this bike is known: beside each figure, what holds for 19 of 20 that fit."


def _told(system: System, of: Interval | None, dimension: str, unit: str, decimals: int | None, drawn: bool) -> str:
    """A quantity as it is known: one figure, and with what was drawn the limits that hold 19 of 20, none finer than it is known."""
    if of is None:
        return NONE
    if drawn and dimension != "pressure":
        here = system.unit(dimension, unit)
        decimals = known_to.no_finer(of.half_width, dimension, here, decimals if here == unit else None)
        unit = here

    def said(value: float, *, second: bool = False) -> str:
        if dimension == "pressure":  # read or set, by a gauge
            return at_mark.show_in(system, value, second=second)
        # No inch finer than the centimetre beside it: two drops of 0.25 m were 9.8 in and 10.0 in.
        return system.show(
            value,
            dimension,
            unit,
            decimals=decimals,
            second=second,
            second_decimals=0 if unit == "m" else None,
            trim=dimension == "rate",  # as a spring is marked
        )

    if not drawn:
        return said(of.median, second=True)
    if of.high95 <= of.low95:
        return said(of.median)
    if dimension == "pressure":
        unit = system.unit("pressure", "psi")
        decimals = at_mark.decimals(unit)
    low, high = open_to.outward(of, dimension, unit, decimals)
    return f"{said(of.median)}, {low} to {high}"


def _inside(figure: str) -> str:
    """A figure that a sentence goes on after: its limits are closed by a comma too."""
    return f"{figure}," if ", " in figure else figure


def to_landing(of: Landing, system: System) -> Reply:
    """The drop that uses all the travel, before and after the change.

    of [SI] (one) the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    before, after = (
        _inside(_told(system, each, "length", "m", 2, of.drawn)) if each is not None else ""
        for each in (of.before, of.after)
    )
    if not after:
        return Reply(("After the change a chamber would have no room left: no landing can be told.",))
    now = "" if not before else ", as now" if before == after else f"; as it is now, {before.rstrip(',')}"
    used = {"front": "the fork’s travel", "rear": "the shock’s stroke"}[of.end]
    first = f"A drop of {after} onto both wheels just uses all {used}, by its spring alone{now}."
    if of.after is not None and of.after.high95 <= 0.0:
        first = f"The bike’s weight alone, let go at full extension, uses all {used}, by its spring alone{now}."
    left_out = "Damping, friction, tyre and legs are left out; all of them help. Compare two builds by it, promise nobody a height."
    reply = Reply((first,), after=(*((IN_19_OF_20,) if of.drawn else ()), left_out))
    return leaning(reply, of.defaults, system)


def to_rebound(of: Rebound, system: System) -> Reply:
    """The damping that the changed spring wants, and the clicks to start from.

    of [SI] (one) the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    if of.rate_ratio is None or of.damping_ratio is None:
        return Reply(("The spring’s rate at sag is not known before and after: nothing can be said of the rebound.",))
    spring, root = {
        "front": ("the spring", "the root of the rate"),
        "rear": ("the rear wheel’s spring", "the root of the wheel’s rate, and with the leverage ratio twice over"),
    }[of.end]
    if of.by_stroke:
        spring, root = "the shock’s spring", "the root of its rate"
    rate = _against_now(of.rate_ratio, "stiffer", "softer", of.drawn) or "as stiff as now"
    damping = _against_now(of.damping_ratio, "more damping", "less damping", of.drawn) or "the damping it has"
    first = [f"Where the bike rests, {spring} is {rate}: it wants {damping} on the way out."]
    if of.clicks is not None:
        start = "Leave it at" if of.clicks == of.clicks_before else f"It was {of.clicks_before}. Start at"
        first.append(f"{start} {of.clicks} clicks from closed. Then ride it.")
    after = (
        f"Damping wanted grows with {root}. What a click does is the damper’s own affair: fewer clicks from "
        "closed are taken to damp more in proportion. A start, no setting; the maker’s sheet comes first."
    )
    return leaning(Reply(tuple(first), after=(*_of_stroke(of.by_stroke), after)), of.defaults, system)


def _of_stroke(by_stroke: bool) -> tuple[str, ...]:
    """What is taken for granted of a shock whose frame's leverage is not known."""
    return (NO_LEVERAGE,) if by_stroke else ()


def _to_set(system: System, of: Interval | None, drawn: bool) -> str:
    """A pressure to set, no finer than a gauge shows it."""
    return _told(system, of, "pressure", "psi", None, drawn)


def _against_now(ratio: Interval, more: str, less: str, drawn: bool) -> str:
    """How much more or less, in whole per cent; empty where that is none."""
    middle, low, high = (round(100.0 * (value - 1.0)) for value in (ratio.median, ratio.low95, ratio.high95))
    span = f" ({digits(low, 0, signed=True)} to {digits(high, 0, signed=True)})" if drawn and low != high else ""
    return f"{abs(middle)}{NO_BREAK}% {less if middle < 0 else more}{span}" if middle or span else ""


_GAUGE: Final = ("gauge shows", "gauge_pa", "pressure", "psi", None)
_AT_A_PLACE: Final[dict[End, tuple[tuple[str, str, str, str, int | None], ...]]] = {
    "front": (
        _GAUGE, ("sag", "sag_m", "length", "mm", None), ("share of the travel", "share", "share", "%", 1),
        ("bottom-out force", "end_force_n", "force", "N", FORCES_SAID_TO),
    ),
    "rear": (
        _GAUGE, ("sag, stroke used", "sag_m", "length", "mm", None), ("share of the stroke", "share", "share", "%", 1),
        ("sag, travel of the rear wheel", "wheel_sag_m", "length", "mm", None),
        ("share of the wheel’s travel", "wheel_share", "share", "%", 1),
        ("bottom-out force at the rear wheel", "end_force_n", "force", "N", FORCES_SAID_TO),
    ),
}  # fmt: skip


def to_ride(of: Ridden, system: System) -> Reply:
    """Here and there side by side, and what to set.

    of [SI] (one) the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    if of.deeper_m is None:
        return Reply(("Nothing can be said: a chamber would have no room left within the travel.",))
    here = system.unit("length", "mm")  # half a width of nothing, of an exact file, leaves the unit's own decimals
    size = show(
        abs(of.deeper_m.median), "length", here, decimals=known_to.decimals(of.deeper_m.half_width, "length", here)
    )
    of_what = "" if of.end == "front" else " of the shock’s stroke"
    way = f"There it sits {size}{of_what} {'deeper' if of.deeper_m.median > 0.0 else 'higher'}"
    if of.leave_alone and not any(digit in "123456789" for digit in size):
        first = "Leave it alone: there it sits as it does here. The gauge shows another figure there; that is no leak."
    elif of.leave_alone:
        first = f"Leave it alone. {way}, less than a rider’s posture. The gauge shows another figure there; that is no leak."
    elif of.set_gauge_pa is None:
        first = f"{way}. No pressure from 0 to {MOST_PRESSURE_BAR} bar, set here, makes up for it."
    elif of.over:
        over = limits.said_over(of.set_gauge_pa.high95, of.limit_gauge_pa, system)
        first = f"! {way}. Don’t make up for it by the pressure here: {over}"
    else:
        to_set = _inside(_to_set(system, of.set_gauge_pa, of.drawn))
        first = f"{way}. Set {to_set} here, and there it sits as it does here now."
    rows = []
    for words, name, dimension, unit, decimals in _AT_A_PLACE[of.end]:
        places = tuple(getattr(place, name) for place in (of.here, of.there))
        if of.by_stroke and places == (None, None):  # of the wheel
            continue
        rows.append((words, *(_told(system, each, dimension, unit, decimals, of.drawn) for each in places)))
    at = [system.show(place.temperature_k, "temperature", "degC", decimals=0) for place in (of.here, of.there)]
    table = Table("Left alone", ("", f"here, {at[0]}", f"there, {at[1]}"), tuple(rows))
    legs = "The air in the lower legs is taken as shut in here; where the legs are vented there, that part goes. "
    after = f"{legs if of.end == 'front' else ''}Damper oil and rubber change with the cold too: not reckoned."
    also = (*((IN_19_OF_20,) if of.drawn else ()), *_of_stroke(of.by_stroke))
    fitted_pa = of.here.gauge_pa.median if of.here.gauge_pa is not None else None
    above = limits.said_over(fitted_pa, of.limit_gauge_pa, system)
    reply = Reply((first,), (table,), after=(*also, after), hurts=(f"! {above}",) if above else ())
    return leaning(reply, of.defaults, system)


def to_targets(of: Targets, system: System) -> Reply:
    """What to set for each thing that is asked, with what else it does.

    of [SI] (one) the answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    first, tables, wrong = [], [], []
    for each in of.targets:
        words, dimension, unit, decimals = _ASKED[each.asked]
        wanted = f"{words} {_told(system, each.wanted, dimension, unit, decimals, of.drawn)}"
        if not each.ways:
            first.append(f"For {wanted}: no setting within range does it.")
            continue
        first.append(_to_do(each, wanted, of, system) if each.met else f"For {wanted}: {_UNMET}")
        rows = []
        for way in each.ways:
            marks = _marks(way, of, system)
            wrong += marks
            rows.append(_way(way, of, system, bool(marks)))
        on_coil = each.ways[0].by in (BY_RATE, BY_PRELOAD)
        head = ("", *(("fit or wind up",) if on_coil else ("volume spacers", "set")), "sag", "bottom-out force")
        tables.append(Table(f"{wanted[:1].upper()}{wanted[1:]}", head, tuple(rows)))
    first += [_of_stance(each, system) for each in of.stance]
    first += [_of_rear(each, of, system) for each in of.rear]
    sheet = "The maker’s sheet comes first. Set it, measure the sag, and go by what the bike shows."
    after = (*((IN_19_OF_20,) if of.drawn else ()), *_of_stroke(of.by_stroke), sheet)
    return leaning(Reply(tuple(first), tuple(tables), tuple(wrong), after), of.defaults, system)


def _of_stance(each: StanceTarget, system: System) -> str:
    words, dimension, unit, decimals = _ASKED[each.asked]
    wanted = f"{words} {system.show(each.wanted, dimension, unit, decimals=decimals)} at full extension"
    if each.fork.fork_length_m is None:
        return f"For {wanted}: no fork gives it."
    length = system.show(each.fork.fork_length_m, "length", "mm", decimals=0)
    nearest = "" if each.fork.travel_m is None else system.show(each.fork.travel_m, "length", "mm", trim=True)
    travel = f"; the nearest travel that is made is {nearest}" if nearest else ""
    if each.limit_m is not None:
        limit = system.show(each.limit_m, "length", "mm", trim=True)
        return f"! For {wanted} it would take a fork {length} long: above the frame maker’s limit of {limit}."
    return f"For {wanted} fit a fork {length} long along the steering axis{travel}."


def _of_rear(each: RearTarget, of: Targets, system: System) -> str:
    stroke = _told(system, each.stroke_m, "length", "mm", None, of.drawn)
    of_stroke, of_wheel = (
        _told(system, share, "share", "%", 1, of.drawn) for share in (each.share_of_stroke, each.share_of_wheel_travel)
    )
    wheel = "" if of.by_stroke else f", {of_wheel} of the wheel’s travel"
    wanted = f"rear sag of {stroke} of the shock’s stroke ({of_stroke} of the stroke{wheel})"
    force = _told(system, each.wheel_end_force_n, "force", "N", FORCES_SAID_TO, of.drawn)
    end = "" if of.by_stroke else f" Bottom-out force at the rear wheel {force}."
    if each.rate_n_per_m is not None:
        rate = _told(system, each.rate_n_per_m, "rate", "N/mm", None, of.drawn)
        wound = ""
        if each.preload_m is not None:
            wound = (
                f" Or wind the one that is there up {_told(system, each.preload_m, 'length', 'mm', None, of.drawn)}."
            )
        return f"For a {wanted} fit a spring of {rate}, wound up as now.{end}{wound}"
    if each.pressure_gauge_pa is None:
        return f"For a {wanted}: no setting within range does it."
    if not_yet := _not_known_yet(each.pressure_gauge_pa, of.drawn, system):
        return f"For a {wanted} {not_yet}"
    to_set = _to_set(system, each.pressure_gauge_pa, of.drawn)
    if each.limit_gauge_pa is not None:
        limit = system.show(each.limit_gauge_pa, "pressure", "psi", trim=True)
        return f"! For a {wanted} it would take {to_set}: above the maker’s limit of {limit}."
    return f"For a {wanted} set the shock to {to_set}.{end}"


def _marks(way: Way, of: Targets, system: System) -> list[str]:
    if way.pressure_gauge_pa is None:
        return []
    set_pa, share = way.pressure_gauge_pa.median, way.share.median if way.share is not None else None
    shown = _to_set(system, way.pressure_gauge_pa, False)
    half = way.share.half_width if way.share is not None else 0.0
    return [f"! {shown}: {mark}." for mark in kept.marks(set_pa, of.limit_gauge_pa, share, system, half)]


def _to_do(each: Target, wanted: str, of: Targets, system: System) -> str:
    """The first way, as it would be called out."""
    way = each.ways[0]
    if way.by == BY_RATE:
        rate = _told(system, way.rate_n_per_m, "rate", "N/mm", None, of.drawn)
        return f"For {wanted} fit a spring of {rate}, wound up as now."
    if way.by == BY_PRELOAD:
        return f"For {wanted} wind the spring up {_told(system, way.preload_m, 'length', 'mm', None, of.drawn)}."
    mark = " !" if _marks(way, of, system) else ""
    if way.over and of.limit_gauge_pa is not None:
        limit = system.show(of.limit_gauge_pa, "pressure", "psi", trim=True)
        to_set = _to_set(system, way.pressure_gauge_pa, of.drawn)
        return f"! For {wanted} it would take {to_set}: above the maker’s limit of {limit}."
    if not_yet := _not_known_yet(way.pressure_gauge_pa, of.drawn, system, mark):
        return f"For {wanted} {not_yet}"
    return f"For {wanted} set {_to_set(system, way.pressure_gauge_pa, of.drawn)}{mark}."


def _not_known_yet(known: Interval | None, drawn: bool, system: System, mark: str = "") -> str:
    """That a pressure for what is asked is not known well enough to be set; empty where it is."""
    if not drawn or known is None or known.half_width <= known_to.MOST_PRESSURE_PA:
        return ""
    unit, middle = system.unit("pressure", "psi"), at_mark.show_in(system, known.median)
    low, high = open_to.outward(known, "pressure", unit, at_mark.decimals(unit))
    return f"the pressure is not known yet: between {low} and {high}. Begin at {middle}{mark}, measure the sag, and ask again."


_UNMET: Final = "no pressure alone does it. What comes nearest with other spacers, the sag as it is, stands below."
_BY: Final = {
    BY_PRESSURE: "pressure alone", BY_SPACERS: "spacers, same sag", BY_RATE: "another spring", BY_PRELOAD: "preload",
}  # fmt: skip


def _way(way: Way, of: Targets, system: System, marked: bool) -> tuple[str, ...]:
    setting: tuple[str, ...]
    if way.by == BY_RATE:
        setting = (_told(system, way.rate_n_per_m, "rate", "N/mm", None, of.drawn),)
    elif way.by == BY_PRELOAD:
        setting = (_told(system, way.preload_m, "length", "mm", None, of.drawn),)
    else:
        setting = (str(way.spacers), _to_set(system, way.pressure_gauge_pa, of.drawn))
    return (
        f"{_BY[way.by]}{' !' if marked else ''}",
        *setting,
        _told(system, way.sag_m, "length", "mm", None, of.drawn),
        _told(system, way.end_force_n, "force", "N", FORCES_SAID_TO, of.drawn),
    )
