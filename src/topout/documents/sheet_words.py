"""What changed, in sentences for the rider that can be read out over the telephone.

Every figure is one of `planner.summary`, rounded there; here it is only put into a rider's words.
"""

from __future__ import annotations

from typing import Final, Literal

from topout.planner import defaults_words, open_to, other_half
from topout.planner.facts import Fact
from topout.planner.sentence import number_word, rear_does, rear_to_set, said, to_set
from topout.planner.summary import Summary
from topout.units import BENCH, NO_BREAK, System, decimals_of, digits, from_si, plain

TRAIL_FELT_M: Final = 0.003  # below that nobody feels it: common practice, no source
_WRITTEN_OUT: Final = {"mm": ("millimetre", "millimetres"), "in": ("inch", "inches")}


def changed(of: Summary, posture: str = "at rest", system: System = BENCH) -> str:
    """Travel, sag and the last part of the travel, after beside before; empty where the fork is not described.

    Where something was drawn: what to set with its limits as the plan says it, what is not known, and what was not measured.
    """
    told = [_travel(of.travel), _sag(of, posture), _end(of)]
    if of.bounds is not None:
        firm = open_to.end(of.bounds, system)
        told = [
            said(to_set(of, system.unit("pressure", "psi"), system.beside)), *told,
            f"{firm.what} {firm.between}" if firm is not None else "", open_to.not_measured(of.bounds),
        ]  # fmt: skip
    told.append(defaults_words.for_rider(of.defaults))
    return " ".join(sentence for sentence in told if sentence)


def changed_behind(of: Summary, system: System = BENCH) -> str:
    """What is set on a rear shock and what it does; empty without one. Where something was drawn, also what is not known."""
    if of.rear is None:
        return ""
    unit = system.unit("pressure", "psi")
    told = [said(rear_to_set(of.rear, unit, system.beside, of.bounds)) + rear_does(of.rear)]
    if of.bounds is not None:
        firm = open_to.end_behind(of.bounds, system)
        told += [f"{firm.what} {firm.between}" if firm is not None else "", open_to.not_measured(of.bounds)]
    return " ".join(sentence for sentence in told if sentence)


def with_other_half(words: str, of: Summary, end: Literal["front", "rear"], other_is_set: bool) -> str:
    """The same with what the plan sets at the other end, which this job's steps did not, unless that was done all the same."""
    half = "" if other_is_set else other_half.for_rider(of, end)
    return f"{words} {half}".strip()


def stands(of: Summary) -> str:
    """How the bike stands, at sag where there is a rider, else unloaded; empty without a frame."""
    moves = {key: fact.value("change") for key, fact in of.stance.items()}
    bottom, stack, reach, trail, angle = (
        moves.get(key) for key in ("bb_height_m", "stack_m", "reach_m", "trail_m", "head_angle_rad")
    )
    if bottom is None or stack is None or reach is None or trail is None or angle is None:
        return ""
    unit = of.stance["trail_m"].unit
    bars = round(bottom + stack, 6)  # of the figures shown, so that whoever adds them up finds the same
    first = []
    if bottom:
        first.append(f"bottom bracket {_size(of, 'bb_height_m')} {'up' if bottom > 0 else 'down'}")
    moved = [f"{plain(abs(bars), unit, of.stance['stack_m'].decimals)} {'up' if bars > 0 else 'down'}"] if bars else []
    if reach:
        moved.append(f"{_size(of, 'reach_m')} {'further away' if reach > 0 else 'nearer'}")
    if moved:
        first.append(f"bars {' and '.join(moved)}")
    second = []
    if angle:
        second.append(f"head angle {of.stance['head_angle_rad'].size()} {'steeper' if angle > 0 else 'slacker'}")
    if trail:
        second.append(f"trail {_size(of, 'trail_m')} {'longer' if trail > 0 else 'shorter'}")
    felt = ""
    felt_from = from_si(TRAIL_FELT_M, unit, "length") - 1e-9
    if trail >= felt_from:
        felt = ": it steers a little calmer and wants a firmer hand in tight turns"
    elif trail <= -felt_from:
        felt = ": it steers a little quicker and wants a lighter hand at speed"
    sentences = [", ".join(first), ", ".join(second) + felt if second else ""]
    said = " ".join(f"{part[0].upper()}{part[1:]}." for part in sentences if part)
    return said or "The bike stands as it did."


def _travel(travel: Fact) -> str:
    step = travel.value("change")
    if step is None:
        return ""
    if step == 0:
        return f"The travel stays {travel.says('after')}."
    size = abs(step)
    places = decimals_of(travel.unit) if travel.decimals is None else travel.decimals
    many = number_word(int(size)) if size == int(size) else digits(size, max(places, 1))
    unit = _WRITTEN_OUT[travel.unit][size != 1]
    more = "more" if step > 0 else "less"
    return f"{many[0].upper()}{many[1:]} {unit} {more} travel, {travel.trimmed('after')} instead of {travel.trimmed('before')}."


def _sag(of: Summary, posture: str) -> str:
    step = of.sag.value("change")
    if step is None:
        return ""
    if step == 0:
        beside = "as before"
    else:
        beside = f"{of.sag.size()} {'more' if step > 0 else 'less'} than before"
    shows = f" (the O-ring shows {of.ring.says('after')})" if of.ring.number("after") != of.sag.number("after") else ""
    return f"{posture[0].upper()}{posture[1:]}, you use {of.sag.says('after')} of it{shows}, {beside}."


def _end(of: Summary) -> str:
    percent = of.firmer_percent
    if percent is None:
        return ""
    if percent == 0:
        return "The last part is as firm as before."
    if percent > 0:
        return f"The last part is {percent}{NO_BREAK}% firmer: big hits stop a little earlier."
    return f"The last part is {-percent}{NO_BREAK}% softer: big hits go a little deeper."


def _size(of: Summary, key: str) -> str:
    """How far something of the stance moves, without a sign."""
    return of.stance[key].size()
