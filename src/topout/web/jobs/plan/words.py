"""The plan in sentences: what to set and what it does, fit to be read out over the telephone; and its warnings."""

from __future__ import annotations

import math
from dataclasses import dataclass

from topout.bench_file.model import BenchFile
from topout.units import NO_BREAK, digits, from_si, show
from topout.web.jobs.core.figures import WARNING_NAMES, Curve, Plan, Stance, State

COUNTED = {0: "no volume spacer", 1: "one volume spacer", 2: "two volume spacers", 3: "three volume spacers",
           4: "four volume spacers", 5: "five volume spacers", 6: "six volume spacers"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a sentence; `strong` ones are what is set."""

    words: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """A warning as the page says it: its name, its sentence, which state it is about where that is the one as found."""

    name: str
    text: str
    code: str = ""
    step: str = ""  # the sentence of the step that deals with it
    address: str = ""  # of that step, once the job's steps have begun


def answer(changed: BenchFile, plan: Plan, pressure_unit: str) -> list[Piece]:
    """The sentence: what to set, then sag, end of travel and head angle against now. `changed` is the state after."""
    pieces: list[Piece] = []
    if locks(plan):
        return [
            Piece("Don’t build this. ", True),
            Piece("A chamber would have no room left within the travel; nothing is set."),
        ]
    air = changed.fork.air if changed.fork is not None else None
    if air is not None and air.pressure_gauge_pa is not None:
        pieces.append(Piece("Set "))
        pieces.append(Piece(pressure_words(air.pressure_gauge_pa, pressure_unit), True))
        if air.negative == "separate-valve" and air.negative_pressure_gauge_pa is not None:
            pieces.append(Piece(" main and "))
            pieces.append(Piece(pressure_words(air.negative_pressure_gauge_pa, pressure_unit) + " negative", True))
        pieces.append(Piece(" with "))
        pieces.append(Piece(COUNTED.get(air.spacers, f"{air.spacers} volume spacers"), True))
        pieces.append(Piece(". "))
    effects = [words for words in (_sag(plan), _end(plan), _head_angle(plan)) if words]
    if effects:
        text = "; ".join(effects)
        pieces.append(Piece(text[0].upper() + text[1:] + "."))
    return pieces or [Piece("Nothing can be computed from what the Book holds. The warnings say what is not given.")]


def locks(plan: Plan) -> bool:
    """Whether the state after would lock: nothing is computed from it and nobody is told to set it."""
    return any(warned.code == "hydraulic-lock" and warned.state != "before" for warned in plan.warnings)


def pressure_words(pressure_gauge_pa: float, unit: str) -> str:
    """A pressure to set: whole psi, else as fine as it was asked for; the other system after it."""
    number = from_si(pressure_gauge_pa, unit, "pressure")
    places = 0 if unit == "psi" and abs(number - round(number)) < 0.05 else None
    return show(pressure_gauge_pa, "pressure", unit, decimals=places, second=True)


def _sag(plan: Plan) -> str:
    was, now = _front_mm(plan.before), _front_mm(plan.after)
    if now is None:
        return ""
    after = round(now)
    text = f"sag {digits(after, 0)}{NO_BREAK}mm"
    if was is None:
        return text
    change = after - round(was)
    if change == 0:
        return text + ", as now"
    return text + f", {digits(abs(change), 0)}{NO_BREAK}mm {'more' if change > 0 else 'less'} than now"


def _front_mm(state: State) -> float | None:
    front = state.sag.front if state.sag is not None else None
    return None if front is None or front.travel_m is None else front.travel_m * 1e3


def _end(plan: Plan) -> str:
    was, now = plan.before.end_force_n, plan.after.end_force_n
    if was is None or now is None or was <= 0:
        return ""
    percent = round((now / was - 1) * 100)
    if percent == 0:
        return "the end of the travel as firm as now"
    return f"the end of the travel {abs(percent)}{NO_BREAK}% {'firmer' if percent > 0 else 'softer'}"


def _head_angle(plan: Plan) -> str:
    one, two = plan.before.geometry, plan.after.geometry
    if one is None or two is None:
        return ""
    at_sag = one.sagged is not None and two.sagged is not None
    was, now = _angle(one.sagged if at_sag else one.unloaded), _angle(two.sagged if at_sag else two.unloaded)
    where = "at sag" if at_sag else "unloaded"
    change = round(now - was, 1)
    if change == 0:
        return f"{where} the head angle as now"
    return f"{where} the head angle {digits(abs(change), 1)}° {'steeper' if change > 0 else 'slacker'}"


def _angle(stance: Stance | None) -> float:
    assert stance is not None
    return round(math.degrees(stance.head_angle_rad), 1)


def warnings(plan: Plan) -> list[Said]:
    """Each warning once; one that the state as found raises alone says so. Missing inputs stand last, in one sentence."""
    first: list[Said] = []
    lacking: list[str] = []
    after = {(w.code, w.text) for w in plan.warnings if w.state != "before"}
    for warned in plan.warnings:
        if warned.code == "missing-input":
            lacking.append(warned.text)
            continue
        if warned.state == "before" and (warned.code, warned.text) in after:
            continue
        name = WARNING_NAMES[warned.code]
        if warned.state == "before" and warned.code not in ("load-assumed", "load-implausible", "chart-open"):
            name += ", as found"
        first.append(Said(name, warned.text, warned.code))
    return first + [Said(WARNING_NAMES["missing-input"], text, "missing-input") for text in lacking]


def load_note(bench: BenchFile, plan: Plan) -> str:
    """Where the load comes from."""
    front = plan.before.sag.front if plan.before.sag is not None else None
    found = bench.found
    if front is None:
        return ""
    if found is None or found.sag_m is None or found.pressure_gauge_pa is None:
        share = bench.rider.front_share if bench.rider is not None else None
        said = f", {digits(share * 100, 0)}{NO_BREAK}% of rider and bike" if share is not None else ""
        return f"The load comes from an assumed share on the front wheel{said}. Nobody knows it better than 3{NO_BREAK}% either way."
    text = f"The load comes from the sag found: {show(found.sag_m, 'length', 'mm', decimals=0)} at {show(found.pressure_gauge_pa, 'pressure', 'psi', decimals=0)}."
    if front.implied_share is not None:
        text += f" It puts {digits(front.implied_share * 100, 0)}{NO_BREAK}% of rider and bike on the front wheel."
    return text


def fast_note(curve: Curve | None) -> str:
    """Which fast line is drawn."""
    if curve is not None and curve.force_fast_from_sag_n is not None:
        return "thin is fast, a hit while riding at sag"
    return "thin is fast, from full extension: no load is known"
