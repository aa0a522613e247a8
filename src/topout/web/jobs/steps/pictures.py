"""Pictures of the step pages, drawn to scale with classes only: ladder, band, section of the spring, staircase of filling."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from topout.documents.svg import Drawing
from topout.units import digits, from_si
from topout.web.access import preferences
from topout.web.jobs.core.steps import Band, PlanNumbers
from topout.web.jobs.steps.progress import Progress, Screen, Slot

MainSaid = Literal["", "empty", "may still hold air"]  # of the main chamber; "" where nothing is known
_TALL_PX, _FLAT_PX = 788.0, 756.0
_GROUP_PX = 15.0  # between marks of groups that are not the one at hand


@dataclass(frozen=True)
class _Mark:
    """One mark of the ladder: a step of the group at hand, or a whole other group."""

    label: str
    hold: bool
    done: bool
    now: bool
    at_hand: bool


def _marks(walk: Progress, slot: Slot) -> list[_Mark]:
    here = walk.procedure.group_of(slot.step)
    open_ = {each.number for each in walk.slots if not walk.passed(each)}
    marks: list[_Mark] = []
    for group in walk.procedure.groups:
        keys = {step.key for step in group.steps}
        slots = [each for each in walk.slots if each.step.key in keys and each.round <= 1]
        if not slots:
            continue
        if group is here:
            marks += [
                _Mark(str(s.number), s.step.hold, s.number not in open_, s.number == slot.number, True) for s in slots
            ]
        else:
            marks.append(_Mark("", False, all(s.number not in open_ for s in slots), False, False))
    return marks


def ladder(walk: Progress, slot: Slot, *, tall: bool) -> str:
    """The ladder: other groups as short marks, every step of the group at hand, hold points as squares."""
    marks = _marks(walk, slot)
    others = sum(not mark.at_hand for mark in marks)
    length = (_TALL_PX if tall else _FLAT_PX) - (32 if tall else 16)
    stride = (length - _GROUP_PX * others) / max(1, len(marks) - 1 - others + (others > 0))
    size = (64.0, _TALL_PX) if tall else (_FLAT_PX, 44.0)
    holds = ", ".join(mark.label for mark in marks if mark.hold) or "none"
    group = walk.procedure.group_of(slot.step)
    title = f"Step {slot.number} of {walk.total}, {group.title}; hold points here: {holds}"
    drawing = Drawing(
        "ladder-tall" if tall else "ladder-flat", *size, title, classes="ladder " + ("tall" if tall else "flat")
    )
    places, at = [], 16.0 if tall else 8.0
    for n, mark in enumerate(marks):
        if n:
            at += (
                stride
                if mark.at_hand and marks[n - 1].at_hand
                else (stride + _GROUP_PX) / 2
                if mark.at_hand or marks[n - 1].at_hand
                else _GROUP_PX
            )
        places.append(at)
    done = next((place for place, mark in zip(places, marks, strict=True) if mark.now), places[-1])

    def line(cls: str, along: tuple[float, float], across: tuple[float, float]) -> None:
        if tall:
            drawing.line(cls, (across[0], along[0]), (across[1], along[1]))
        else:
            drawing.line(cls, (along[0], across[0] - 22), (along[1], across[1] - 22))

    line("lrail", (places[0], places[-1]), (60, 60))
    line("ldone", (places[0], done), (60, 60))
    for place, mark in zip(places, marks, strict=True):
        cls = "lnow" if mark.now else "ldone" if mark.done else "lrail"
        # Three digits of 24 px are 46 px wide: the mark begins further in, so that they stand whole.
        x = 34.0 if len(mark.label) < 3 or not mark.now else 52.0
        start = x if mark.now else 44.0 if mark.hold else 50.0 if mark.at_hand else 55.0
        line(cls, (place, place), (start, 60))
        if mark.hold:
            corner = (x - 4 if x > 34 else 38.0, place - 6) if tall else (place - 6, 14.0)
            drawing.rect("lh done" if mark.done else "lh", corner, 12, 12)
        if mark.now and tall:
            drawing.text((x - 6, place + 9), mark.label, "lt", "end")
    return drawing.svg()


def ladder_of_screens(walk: Progress, screen: Screen, *, tall: bool) -> str:
    """The ladder of a list: every page of the job as a mark, hold points as squares, the page at hand in carbon."""
    screens = walk.screens
    length = _TALL_PX - 32 if tall else _FLAT_PX - 16
    first = 16.0 if tall else 8.0
    size = (64.0, _TALL_PX) if tall else (_FLAT_PX, 44.0)
    title = f"Page {screen.number} of {len(screens)}, {screen.group.title}"
    classes = "ladder " + ("tall" if tall else "flat")
    drawing = Drawing("ladder-tall" if tall else "ladder-flat", *size, title, classes=classes)
    stride = length / max(1, len(screens) - 1)
    places = [first + stride * n for n in range(len(screens))]

    def line(cls: str, along: tuple[float, float], across: tuple[float, float]) -> None:
        if tall:
            drawing.line(cls, (across[0], along[0]), (across[1], along[1]))
        else:
            drawing.line(cls, (along[0], across[0] - 22), (along[1], across[1] - 22))

    line("lrail", (places[0], places[-1]), (60, 60))
    line("ldone", (places[0], places[screen.number - 1]), (60, 60))
    for place, each in zip(places, screens, strict=True):
        now, done = each is screen, all(walk.settled(slot) for slot in each.slots)
        hold = each.slots[0].step.hold
        line(
            "lnow" if now else "ldone" if done else "lrail",
            (place, place),
            (34.0 if now else 44.0 if hold else 50.0, 60),
        )
        if hold:
            drawing.rect("lh done" if done else "lh", (40.0, place - 5) if tall else (place - 5, 14.0), 10, 10)
        if now and tall:
            drawing.text((28, place + 9), str(each.number), "lt", "end")
    return drawing.svg()


def _nice(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts the span into at least four."""
    raw = span / 4
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (5, 2, 1) if factor * power <= raw * (1 + 1e-9))


def band_rule(band: Band, dimension: str, unit: str, read_si: float | None, name: str, *, wide: bool) -> str | None:
    """The expected band on an engraved rule, with the reading where there is one; None where the band is open."""
    if band.low_si is None or band.high_si is None or dimension == "count":
        return None
    low, high = (from_si(end, unit, dimension) for end in (band.low_si, band.high_si))
    width = max(high - low, abs(high) * 1e-3, 1e-6)
    if width > 40 * max(1.0, abs(from_si(band.expect_si, unit, dimension) if band.expect_si is not None else 1.0)):
        return None
    step = _nice(5 * width)
    first = math.floor((low - 1.5 * width) / step) * step
    last = math.ceil((high + 1.5 * width) / step) * step
    pixels = 666.0 if wide else 358.0
    places = max(0, -math.floor(math.log10(step) + 1e-9))

    def x(value: float) -> float:
        return 2 + (pixels - 4) * (value - first) / (last - first)

    read = None if read_si is None else from_si(read_si, unit, dimension)
    title = f"Expected {digits(low, places + 1)} to {digits(high, places + 1)} {unit}"
    title += "" if read is None else f", read {digits(read, places + 1)} {unit}"
    drawing = Drawing(name, pixels, 98, title, classes="wide" if wide else "narrow")
    drawing.rect("band", (x(low), 28), x(high) - x(low), 26)
    drawing.line("rule", (2, 54), (pixels - 2, 54))
    count = round((last - first) / step)
    for n in range(count * 5 + 1):
        value = first + n * step / 5
        drawing.line("ax", (x(value), 54), (x(value), 66 if n % 5 == 0 else 60))
    every = max(1, math.ceil(count / (6 if wide else 4)))
    for n in range(0, count + 1, every):
        anchor = "start" if n == 0 else "end" if n == count else "middle"
        drawing.text((x(first + n * step), 90), digits(first + n * step, places), "t sm2", anchor)
    if x(low) > 130:
        drawing.text((x(low) - 10, 47), "expected", "t ta", "end")
    else:
        drawing.text((x(high) + 10, 47), "expected", "t ta")
    if read is not None and first <= read <= last:
        drawing.path("gotmark", f"M{x(read):.1f} 54l-9 -20h18z")
        anchor = "middle" if 60 < x(read) < pixels - 60 else "start" if x(read) <= 60 else "end"
        drawing.text((x(read), 22), "read", "t bold", anchor)
    elif read is not None and read > last:
        drawing.path("gotmark", f"M{pixels - 2:.1f} 41l-16 -9v18z")
        drawing.text((pixels - 2, 22), f"{read:g}, far off", "t bold", "end")
    elif read is not None:
        drawing.path("gotmark", "M2 41l16 -9v18z")
        drawing.text((2, 22), f"{read:g}, far off", "t bold")
    return drawing.svg()


def section(plan: PlanNumbers, travel_in_m: float, *, charged: bool, main: MainSaid, wide: bool) -> str:
    """The air spring cut open, bore, shaft, spacers and negative chamber to one scale, the fork so far in.

    The main chamber is broken off. Parts without a size in the bench file (cap, piston, seal head, ring) are drawn in a
    share of the bore. Of the main chamber it says what is known. "" where the chambers are not known.
    """
    fit = plan.before
    if fit is None:
        return ""
    bore, shaft = float(fit.bore_m[0]), float(fit.shaft_m[0])
    annulus = math.pi * (bore**2 - shaft**2) / 4
    has_gas = bool(fit.gas_negative[0])
    long_m = (float(fit.negative_m3[0]) / annulus if has_gas else 0.0) + max(0.0, travel_in_m)
    pixels = 666.0 if wide else 358.0
    right = 0.80 * pixels  # left face of the seal head
    scale = min((61.3 if wide else 40.5) / bore, 0.47 * pixels / max(long_m, 1e-3))
    text_px = 24 if wide else 18
    half, thick, wall = bore * scale / 2, 0.47 * bore * scale, 0.047 * bore * scale
    middle = 44 + half
    rod, top, bottom = shaft * scale / 2, middle - half, middle + half
    proved = "negative chamber empty" if main == "empty" else ""
    negative = "negative chamber charged and pressing on the seal head" if charged else proved
    said = ", ".join(part for part in (f"main chamber {main}" if main else "", negative) if part)
    stands = preferences.system().show(travel_in_m, "length", "mm", decimals=0)
    title = f"The air spring cut open, to scale, the fork {stands} in" + (f": {said}" if said else "")
    warns = text_px + 6 if main == "may still hold air" else 0  # a line of its own: the others have no room for it
    drawing = Drawing(
        "section-wide" if wide else "section-narrow",
        pixels,
        bottom + text_px + 24 + warns,
        title,
        classes="wide" if wide else "narrow",
    )
    piston = right - long_m * scale
    if charged:
        drawing.rect("gas", (piston, top), right - piston, 2 * half)
    for y in (top - wall, bottom):
        drawing.rect("cut", (2, y), right + 1.44 * thick, wall)
    drawing.rect("cut", (2, top), thick, 2 * half)
    spacers = min(plan.spacers_before or 0, 4)
    for n in range(spacers):
        drawing.rect("part", (2 + thick * (1 + 0.86 * n), middle - 0.82 * half), 0.86 * thick, 1.64 * half)
    drawing.rect("part", (piston, middle - rod), pixels - 2 - piston, 2 * rod)
    drawing.rect("cut", (piston - 0.87 * thick, top), 0.87 * thick, 2 * half)
    for y in (top, middle + rod):
        drawing.rect("cut", (right, y), thick, half - rod)
    for y in (top - wall / 2, bottom - 0.14 * 2 * half + wall / 2):
        drawing.rect("ringx", (right + 1.05 * thick, y), 0.15 * thick, 0.14 * 2 * half)
    broken = (2 + thick * (1 + 0.86 * spacers) + piston - 0.87 * thick) / 2 - 7
    zigzag = f"M{broken:.1f} {top - 9:.1f}l8 {half / 1.7 + 4:.1f}l-8 {half / 1.7 + 4:.1f}l8 {half / 1.7 + 4:.1f}"
    back = f"l-8 {-half / 1.7 - 4:.1f}l8 {-half / 1.7 - 4:.1f}l-8 {-half / 1.7 - 4:.1f}"
    drawing.path("gap", zigzag + "h14" + back + "z")
    drawing.path("dim", zigzag + f"m14 0{back}")
    if charged:
        for y in (middle - (half + rod) / 2, middle + (half + rod) / 2):
            drawing.line("arrow", (right - 52, y), (right - 12, y))
            drawing.path("arrowh", f"M{right - 2:.1f} {y:.1f}l-15 -8v16z")
    below = bottom + text_px + 8
    drawing.text(
        ((piston + right) / 2, 26), "negative chamber, charged" if charged else "negative chamber", "t bold", "middle"
    )
    drawing.text(
        (right + 1.4 * thick, below), "seal head and circlip" if wide else "seal head, circlip", "t bold", "end"
    )
    room = (
        right
        + 1.4 * thick
        - (0.6 if wide else 0.5) * text_px * len("seal head and circlip" if wide else "seal head, circlip")
    )
    drawing.text((max(min(piston, room - 10), 60), below), "piston", "t", "end")
    if wide:
        drawing.text((2, 26), "main, empty" if main == "empty" else "main")
        drawing.text((pixels - 2, 26), "shaft", "t", "end")
    if warns:
        drawing.text((2, below + warns), f"main: {main}", "t bold")
    return drawing.svg()


@dataclass(frozen=True)
class RoundDrawn:
    """One round for the staircase, gauge pressures [Pa]."""

    pumped_to_pa: float
    expect_pa: float
    low_pa: float
    high_pa: float
    read_pa: float | None


def staircase(rounds: Sequence[RoundDrawn], top_pa: float, label: str, *, wide: bool, name: str) -> str:
    """What the gauge will show, round by round: pumped up, down by the stroke, slots for readings, dots for those taken."""
    left, pixels = (132.0, 666.0) if wide else (86.0, 358.0)
    height = 132.0 if wide else 110.0
    highest = max(max(r.high_pa, r.pumped_to_pa) for r in rounds)
    scale = (height - 18) / highest
    stride = (pixels - left) / len(rounds)

    def y(pascal: float) -> float:
        return height - 6 - pascal * scale

    title = "Readings to expect, round by round, and those taken; the table below holds the values"
    drawing = Drawing(name, pixels, height, title, classes="wide flatwide" if wide else "narrow")
    drawing.line("ca hair", (left, y(top_pa)), (pixels, y(top_pa)))
    drawing.text((left - 10, y(top_pa) + 8), label, "t ta", "end")
    drawing.line("ax", (left, y(0)), (pixels, y(0)))
    drawing.text((left - 10, y(0) + 4), "0", "t", "end")
    before = 0.0
    for n, each in enumerate(rounds):
        x0, x1 = left + n * stride, left + n * stride + 0.42 * stride
        drawing.rect("band", (x1, y(each.high_pa)), 0.58 * stride, max(2.0, (each.high_pa - each.low_pa) * scale))
        later = "" if each.read_pa is not None else " later"
        path = f"M{x0:.1f} {y(before):.1f}L{x1:.1f} {y(each.pumped_to_pa):.1f}L{x1:.1f} {y(each.expect_pa):.1f}"
        drawing.path(f"ca{later} stepl", path)
        before = each.expect_pa
        if each.read_pa is not None:
            drawing.circle("mread", (x1 + 0.29 * stride, y(each.read_pa)), 7)
    return drawing.svg()
