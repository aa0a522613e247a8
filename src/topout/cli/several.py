"""Several bench files in one table for people: a file a row, the figures that are compared at a bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np

from topout.cli.files import Given
from topout.cli.page import Page
from topout.cli.tables import said, to_set
from topout.planner import change, summary
from topout.planner.facts import FORCES_SAID_TO, NONE, STANCE
from topout.planner.fill import Schedule
from topout.planner.landing import Landing
from topout.planner.options import words as option_words
from topout.planner.options.option import Options
from topout.planner.rebound import Rebound
from topout.planner.results import Curve, Geometry, Plan, Sag
from topout.planner.ride import Ridden
from topout.planner.wanted import Targets
from topout.planner.ways import SAYS, Ways
from topout.uncertainty.intervals import Interval
from topout.units import System, digits, show

Cells = dict[str, str]
_QUARTERS: Final = ((0.25, "force at a quarter"), (0.5, "at half"), (0.75, "at three quarters"), (1.0, "at the end"))
_STANCE: Final = ("head_angle_rad", "reach_m", "stack_m", "bb_height_m", "wheelbase_m", "trail_m")


def table(command: str, given: Sequence[Given], results: Sequence[Any], system: System) -> str:
    """One row for each file."""
    page = Page(system)
    warned = [
        _warned(each, result, system) if command == "plan" else ((), ())
        for each, result in zip(given, results, strict=True)
    ]
    page.say(*(f"! {each.name}: {', '.join(bad)}" for each, (bad, _) in zip(given, warned, strict=True) if bad))
    rows = [_CELLS[command](each, result, system) for each, result in zip(given, results, strict=True)]
    titles = {
        "geometry": "At full extension",
        "inflate": "Filling",
        "options": "Nearest to how it sits now",
        "plan": "After the change",
        "ways": "For the same sag in %, set",
    }
    heads = ("file", *rows[0])
    names = [each.name for each in given]
    body = [(name, *row.values()) for name, row in zip(names, rows, strict=True)]
    if not page.fits(heads, body):  # long names stand below the table, each by its number
        body = [(str(number), *row.values()) for number, row in enumerate(rows, 1)]
        names = [f"{number}. {name}" for number, name in enumerate(names, 1)]
    page.table(titles.get(command, ""), heads, body)
    lines = [f"{name}: {', '.join(more)}" if more else name for name, (_, more) in zip(names, warned, strict=True)]
    if body[0][0] != names[0] or any(more for _, more in warned):
        page.say(*lines)
    parted = [name for name, each in zip(names, results, strict=True) if getattr(each, "bounds", None) is not None]
    if command != "plan" and parted:
        page.say(
            f"Not all is known exactly, the figures are the middles: {', '.join(parted)}. One file alone has the limits."
        )
    if command == "plan":
        page.say("The maker’s sheet comes first. A plan of one file alone says what each warning is.")
    return page.text()


def _curve(given: Given, result: Curve, system: System) -> Cells:
    travel_m = result.travel_m
    end_m = float(travel_m[-1])
    cells = {"travel": said(system, end_m, "length", "mm", 0)}
    for share, words in _QUARTERS:
        force_n = float(np.interp(share * end_m, travel_m, result.force_n))
        cells[words] = said(system, force_n, "force", "N", FORCES_SAID_TO)
    return cells | {"energy": said(system, result.energy_j, "energy", "J")}


def _sag(given: Given, result: Sag, system: System) -> Cells:
    front = result.front
    mm = {
        words: said(system, getattr(front, name) if front is not None else None, "length", "mm")
        for name, words in (("travel_m", "sag"), ("low_m", "least"), ("high_m", "most"))
    }
    share = NONE if front is None or front.share is None else show(front.share, "share", "%", decimals=1)
    load = said(system, front.load_n if front is not None else None, "force", "N")
    return {"sag": mm["sag"], "share": share, "least": mm["least"], "most": mm["most"], "load": load}


def _geometry(given: Given, result: Geometry, system: System) -> Cells:
    cells = {}
    for name, words, dimension, unit, decimals in STANCE:
        if name in _STANCE:
            cells[words] = said(system, getattr(result.unloaded, name), dimension, unit, decimals)
    return cells


def _plan(given: Given, result: Plan, system: System) -> Cells:
    after = change.changed(given.bench)
    fork = after.fork
    air = fork.air if fork is not None else None
    front = result.after.sag.front if result.after.sag is not None else None
    angle = result.after.geometry.unloaded.head_angle_rad if result.after.geometry is not None else None
    share = front.share if front is not None else None
    return {
        "travel": said(system, fork.travel_m if fork is not None else None, "length", "mm", 0),
        "volume spacers": NONE if air is None else str(air.spacers),
        "pressure": said(system, air.pressure_gauge_pa if air is not None else None, "pressure", "psi"),
        "sag": said(system, front.travel_m if front is not None else None, "length", "mm"),
        "share": NONE if share is None else show(share, "share", "%", decimals=1),
        "bottom-out force": said(system, result.after.end_force_n, "force", "N", FORCES_SAID_TO),
        "head angle": said(system, angle, "angle", "deg"),
    }


def _warned(given: Given, result: Plan, system: System) -> tuple[list[str], list[str]]:
    """What is warned of, by its name: the dangers, and the rest."""
    heard = summary.of_plan(given.bench, result, system=system).heard
    names = dict.fromkeys((each.danger, each.name.lower()) for each in heard)
    dangers, more = ([name for danger, name in names if danger is wanted] for wanted in (True, False))
    if result.bounds is not None:
        more.append("drawn in part, its figures are the middles")
    return dangers, more


def _inflate(given: Given, result: Schedule, system: System) -> Cells:
    first, last = result.rounds[0], result.rounds[-1]
    return {
        "pump to": said(system, last.pumped_to_gauge_pa, "pressure", "psi"),
        "after the first stroke": said(system, first.after_stroke_gauge_pa, "pressure", "psi"),
        "rounds": NONE if result.settled_after is None else str(result.settled_after),
        "settles at": said(system, last.after_stroke_gauge_pa, "pressure", "psi"),
        "rests short by": said(system, last.lost_travel_m, "length", "mm"),
    }


def _target(given: Given, result: Targets, system: System) -> Cells:
    cells = {}
    for each in result.targets:
        way = each.ways[0] if each.ways else None
        told, dimension, unit = (way.pressure_gauge_pa if way is not None else None), "pressure", "psi"
        if way is not None and way.rate_n_per_m is not None:
            told, dimension, unit = way.rate_n_per_m, "rate", "N/mm"
        cells[f"for {each.asked.replace('-', ' ')}"] = _to_set(system, told, dimension, unit)
    for rear in result.rear:
        told, dimension, unit = (
            (rear.rate_n_per_m, "rate", "N/mm") if rear.rate_n_per_m else (rear.pressure_gauge_pa, "pressure", "psi")
        )
        cells["shock for rear sag"] = _to_set(system, told, dimension, unit)
    for stance in result.stance:
        cells[f"fork for {stance.asked.replace('-', ' ')}"] = said(system, stance.fork.fork_length_m, "length", "mm", 0)
    return cells


def _to_set(system: System, told: Interval | None, dimension: str, unit: str) -> str:
    """A setting that was worked out; a pressure no finer than a gauge's mark."""
    middle = told.median if told else None
    return to_set(system, middle) if dimension == "pressure" else said(system, middle, dimension, unit)


def _landing(given: Given, result: Landing, system: System) -> Cells:
    return {
        words: said(system, told.median if told is not None else None, "length", "m", 2)
        for words, told in (("drop before", result.before), ("drop after", result.after))
    }


def _ride(given: Given, result: Ridden, system: System) -> Cells:
    sag = {"front": "sag", "rear": "stroke used"}[result.end]
    return {
        "gauge there": _to_set(system, result.there.gauge_pa, "pressure", "psi"),
        f"{sag} here": _to_set(system, result.here.sag_m, "length", "mm"),
        f"{sag} there": _to_set(system, result.there.sag_m, "length", "mm"),
        "set here": "as it is" if result.leave_alone else _to_set(system, result.set_gauge_pa, "pressure", "psi"),
    }


def _rebound(given: Given, result: Rebound, system: System) -> Cells:
    ratio = result.damping_ratio.median if result.damping_ratio is not None else None
    return {
        "damping wanted, × now": NONE if ratio is None else f"{ratio:.2f}",
        "clicks from closed": NONE if result.clicks is None else str(result.clicks),
    }


def _options(given: Given, result: Options, system: System) -> Cells:
    first = result.options[0] if result.options else None
    facts = {} if first is None else {name: each.in_system(system) for name, each in first.facts.items()}
    changes = {
        words: facts[name].says("change", second=system.beside) if name in facts else NONE
        for name, words in (("head_angle", "head angle"), ("trail", "trail"), ("bb_height", "bottom bracket"))
    }
    cost = first.cost if first is not None else None
    return {
        "nearest": NONE if first is None else option_words.fits(first, system),
        "pressure": said(system, first.pressure_set_gauge_pa if first is not None else None, "pressure", "psi"),
        **changes,
        "cost": NONE if cost is None else digits(cost, 0 if cost == round(cost) else 2),
        "ways": digits(len(result.options), 0),
    }


def _ways(given: Given, result: Ways, system: System) -> Cells:
    return {SAYS[way.by]: to_set(system, way.same_share_gauge_pa) for way in result.ways}


_CELLS: Final[dict[str, Callable[[Given, Any, System], Cells]]] = {
    "curve": _curve, "sag": _sag, "geometry": _geometry, "plan": _plan, "inflate": _inflate, "target": _target,
    "landing": _landing, "rebound": _rebound, "ride": _ride,
    "options": _options, "ways": _ways,
}  # fmt: skip
