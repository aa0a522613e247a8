"""What changed, in sentences that can be read out over the telephone.

A difference is that of the figures shown, so that a reader who subtracts finds the same. Before a difference is said
it is rounded as it is shown: millimetres whole, angles to a tenth, shares to a per cent.
"""

from __future__ import annotations

import math
from typing import Final

from topout.bench_file.model import BenchFile
from topout.planner import change
from topout.planner.results import Plan, Stance, State
from topout.units import NO_BREAK, digits

_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip
TRAIL_FELT_MM: Final = 3  # below that nobody feels it: common practice, no source


def number_word(count: int, zero: str = "no") -> str:
    """A small whole number as a word, a larger one in figures."""
    if count == 0:
        return zero
    return _NUMBERS[count] if count < len(_NUMBERS) else digits(count, 0)


def changed(bench: BenchFile, plan: Plan) -> str:
    """Travel, sag and the last part of the travel, after beside before; empty where the fork is not described."""
    told = [_travel(bench), _sag(bench, plan), _end(plan)]
    return " ".join(sentence for sentence in told if sentence)


def stands(plan: Plan) -> str:
    """How the bike stands, at sag where there is a rider, else unloaded; empty without a frame."""
    pair = _stances(plan.before, plan.after)
    if pair is None:
        return ""
    before, after = pair
    bars = _mm(after.bb_height_m + after.stack_m) - _mm(before.bb_height_m + before.stack_m)
    reach = _mm(after.reach_m) - _mm(before.reach_m)
    bottom = _mm(after.bb_height_m) - _mm(before.bb_height_m)
    trail = _mm(after.trail_m) - _mm(before.trail_m)
    angle = _tenths(after.head_angle_rad) - _tenths(before.head_angle_rad)
    first = []
    if bottom:
        first.append(f"bottom bracket {_length(bottom)} {'up' if bottom > 0 else 'down'}")
    moved = [f"{_length(bars)} {'up' if bars > 0 else 'down'}"] if bars else []
    if reach:
        moved.append(f"{_length(reach)} {'further away' if reach > 0 else 'nearer'}")
    if moved:
        first.append(f"bars {' and '.join(moved)}")
    second = []
    if angle:
        second.append(f"head angle {digits(abs(angle) / 10, 1)}° {'steeper' if angle > 0 else 'slacker'}")
    if trail:
        second.append(f"trail {_length(trail)} {'longer' if trail > 0 else 'shorter'}")
    felt = ""
    if trail >= TRAIL_FELT_MM:
        felt = ": it steers a little calmer and wants a firmer hand in tight turns"
    elif trail <= -TRAIL_FELT_MM:
        felt = ": it steers a little quicker and wants a lighter hand at speed"
    sentences = [", ".join(first), ", ".join(second) + felt if second else ""]
    said = " ".join(f"{part[0].upper()}{part[1:]}." for part in sentences if part)
    return said or "The bike stands as it did."


def _travel(bench: BenchFile) -> str:
    fork, after = bench.fork, change.changed(bench).fork
    if fork is None or after is None or fork.travel_m is None or after.travel_m is None:
        return ""
    before_mm, after_mm = _mm(fork.travel_m), _mm(after.travel_m)
    step = abs(after_mm - before_mm)
    if step == 0:
        return f"The travel stays {_length(after_mm)}."
    many = number_word(step)
    unit = "millimetre" if step == 1 else "millimetres"
    more = "more" if after_mm > before_mm else "less"
    return f"{many[0].upper()}{many[1:]} {unit} {more} travel, {after_mm} instead of {before_mm}."


def _sag(bench: BenchFile, plan: Plan) -> str:
    if (
        plan.before.sag is None
        or plan.after.sag is None
        or plan.before.sag.front is None
        or plan.after.sag.front is None
    ):
        return ""
    before, after = plan.before.sag.front.shown_m, plan.after.sag.front.shown_m
    if before is None or after is None:
        return ""
    posture = bench.found.posture if bench.found and bench.found.posture else "at rest"
    step = _mm(after) - _mm(before)
    if step == 0:
        beside = "as before"
    else:
        beside = f"{number_word(abs(step))} {'more' if step > 0 else 'less'} than before"
    return f"{posture[0].upper()}{posture[1:]}, you use {_length(_mm(after))} of it, {beside}."


def _end(plan: Plan) -> str:
    before, after = plan.before.end_force_n, plan.after.end_force_n
    if before is None or after is None or before <= 0:
        return ""
    # From the forces as they are shown, to 10 N.
    share = round((round(after, -1) / round(before, -1) - 1.0) * 100) if round(before, -1) else 0
    if share == 0:
        return "The last part is as firm as before."
    if share > 0:
        return f"The last part is {share}{NO_BREAK}% firmer: big hits stop a little earlier."
    return f"The last part is {-share}{NO_BREAK}% softer: big hits go a little deeper."


def _stances(before: State, after: State) -> tuple[Stance, Stance] | None:
    if before.geometry is None or after.geometry is None:
        return None
    if before.geometry.sagged is not None and after.geometry.sagged is not None:
        return before.geometry.sagged, after.geometry.sagged
    return before.geometry.unloaded, after.geometry.unloaded


def _mm(length_m: float) -> int:
    return round(length_m * 1e3)


def _tenths(angle_rad: float) -> int:
    return round(math.degrees(angle_rad) * 10)


def _length(mm: int) -> str:
    return f"{digits(abs(mm), 0)}{NO_BREAK}mm"
