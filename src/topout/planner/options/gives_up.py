"""What an option gives up, in words: what a rider feels most first, and by how much an end is firmer. Page and terminal say these."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from topout.planner import open_to
from topout.planner.facts import NONE, Fact, percent
from topout.planner.known_to import MOST_OF_A_FORCE
from topout.planner.options import now_and_then
from topout.planner.options.near import END_SHARE, SAG_SHARE
from topout.planner.options.option import Option
from topout.planner.sentence import number_word
from topout.uncertainty.intervals import Interval
from topout.units import BENCH, NO_BREAK, System, digits

NOTHING: Final = "Nothing that shows: it sits and springs as it did."
MOST_GIVEN_UP: Final = 3
END_PERCENT: Final = 3  # a bottom-out force that differs by less is the same to a rider (common practice, no source)
TRAVEL_M: Final = 0.010  # of a wheel, that a rider must learn again (common practice, no source)


def end(option: Option, name: str) -> str:
    """By how many per cent an end is firmer, signed, without the sign of per cent; what that lies between, where it is not known to 8 %.

    option [SI] (one) any; name [-] (one) "end_force" or "rear_end_force", of its facts → [-] (one) words. Raises nothing. Source:
    physics.md 12.
    """
    of = _open_end(option, name)
    if of is not None:
        low, high = (digits(each, 0, signed=True) for each in open_to.percents(of))
        return f"{low} to {high}"
    known = percent(option.facts[name])
    return NONE if known is None else digits(known, 0, signed=True)


def _open_end(option: Option, name: str) -> Interval | None:
    """By which share an end is firmer, where that is not known well enough to be said as one figure."""
    of = option.limits.get(name)
    return of if of is not None and of.half_width > MOST_OF_A_FORCE else None


def said(option: Option, system: System = BENCH) -> str:
    """What an option gives up, in one sentence: what a rider feels most first, then what is waited for.

    option [SI] (one) any; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: common practice,
    no source.
    """
    felt = sorted(_felt(option, system), key=lambda each: -each[0])[:MOST_GIVEN_UP]
    pieces = [words for _, words in felt] or ["nothing that shows"]
    if option.waiting_days:
        pieces.append(f"{number_word(option.waiting_days)} day{'s' if option.waiting_days > 1 else ''} to wait")
    pieces += [_LACKS[each].format(**_of_lack(option, system)) for each in option.lacks]
    if pieces == ["nothing that shows"]:
        return NOTHING
    told = "; ".join(pieces)
    return f"{told[:1].upper()}{told[1:]}."


_LACKS: Final = {
    "shaft": "no {travel} shaft lies on the shelf",
    "spacer": "the spacers for it do not lie on the shelf",
    "offset": "another fork with {offset} of offset is needed",
    "shock-spacer": "the spacers for the shock do not lie on the shelf",
    "reducer": "the stroke reducer for it does not lie on the shelf",
}  # fmt: skip


def _of_lack(option: Option, system: System) -> dict[str, str]:
    return {
        "travel": "" if option.travel_m is None else system.show(option.travel_m, "length", "mm", trim=True),
        "offset": system.show(option.offset_m or 0.0, "length", "mm", trim=True),
    }


def _felt(option: Option, system: System) -> Iterator[tuple[float, str]]:
    """Each change that shows in the figures, with its weight in what a rider must learn again."""
    facts: Mapping[str, Fact] = {name: each.in_system(system) for name, each in option.facts.items()}

    def change(name: str) -> float:
        return (facts[name].value("change") if name in facts and facts[name].both else None) or 0.0

    def si(name: str) -> float:
        fact = facts[name]
        return abs((fact.after_si or 0.0) - (fact.before_si or 0.0))

    angle, bracket, trail = (change(name) for name in ("head_angle", "bb_height", "trail"))
    if angle:
        yield (
            si("head_angle") / 0.01745,
            f"it sits {facts['head_angle'].size()} {'steeper' if angle > 0 else 'slacker'}",
        )
    if bracket:
        yield (
            si("bb_height") / 0.008,
            f"the bottom bracket {facts['bb_height'].size()} {'higher' if bracket > 0 else 'lower'}",
        )
    if trail:
        yield si("trail") / 0.008, f"trail {facts['trail'].size()} {'longer' if trail > 0 else 'shorter'}"
    shorter = change("rear_travel")
    if shorter:
        size = facts["rear_travel"].size()
        yield si("rear_travel") / TRAVEL_M, f"{size} {'more' if shorter > 0 else 'less'} travel of the rear wheel"
    for name, of in (
        ("sag_share", "sag {} of the travel, before {}"),
        ("rear_share", "sag behind {} of the stroke, before {}"),
    ):
        if change(name):
            before, after = (f"{each}{NO_BREAK}%" for each in now_and_then.said(option, name, system))
            yield si(name) / SAG_SHARE, of.format(after, before)
    for name, where in (
        ("end_force", "at the end of the travel"),
        ("rear_end_force", "at the end of the rear’s travel"),
    ):
        unsure = _open_end(option, name) if name in facts else None
        if unsure is not None:
            yield abs(unsure.median) / END_SHARE, f"{_from_to(unsure)} {where}"
            continue
        known = (percent(facts[name]) if name in facts else None) or 0
        if abs(known) >= END_PERCENT:
            yield (
                abs(known) / (100 * END_SHARE),
                f"{abs(known)}{NO_BREAK}% {'firmer' if known > 0 else 'softer'} {where}",
            )


def _from_to(of: Interval) -> str:
    """What the change of an end lies between: "21 to 58 % firmer", "from 4 % softer to 12 % firmer"."""
    low, high = open_to.percents(of)
    if low >= 0 or high <= 0:
        less, more = sorted((abs(low), abs(high)))
        return f"{less} to {more}{NO_BREAK}% {'firmer' if high > 0 else 'softer'}"
    return f"from {-low}{NO_BREAK}% softer to {high}{NO_BREAK}% firmer"
