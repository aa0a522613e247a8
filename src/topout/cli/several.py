"""Several bench files in one table for people: a file a row, the figures that are compared at a bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from topout.cli.files import Given
from topout.cli.page import Page
from topout.cli.tables import said, to_known, to_set
from topout.planner import change, known_to, limits, summary
from topout.planner.facts import FORCES_SAID_TO, NONE, STANCE
from topout.planner.fill import Schedule
from topout.planner.landing import Landing
from topout.planner.options import now_and_then
from topout.planner.options import words as option_words
from topout.planner.options.option import Options
from topout.planner.rebound import Rebound
from topout.planner.results import Curve, Geometry, Plan, Sag
from topout.planner.ride import Ridden
from topout.planner.wanted import Targets
from topout.planner.ways import SAYS, Ways
from topout.uncertainty.intervals import Interval
from topout.units import System, digits

Cells = dict[str, str]
_QUARTERS: Final = ((0.25, "force at a quarter"), (0.5, "at half"), (0.75, "at three quarters"), (1.0, "at the end"))
_STANCE: Final = ("head_angle_rad", "reach_m", "stack_m", "bb_height_m", "wheelbase_m", "trail_m")


def table(command: str, given: Sequence[Given], results: Sequence[Any], system: System) -> str:
    """One row for each file."""
    page = Page(system)
    if command in ("curve", "sag", "geometry", "inflate"):
        page.say(*dict.fromkeys(line for each in given for line in change.as_it_is(each.bench)))
    warned = [
        _warned(each, result, system)
        if command == "plan"
        else (["above the maker’s pressure limit"] if _over(each, result) else [], [])
        for each, result in zip(given, results, strict=True)
    ]
    page.say(*(f"! {each.name}: {'; '.join(bad)}" for each, (bad, _) in zip(given, warned, strict=True) if bad))
    leans = [_leans_on(result, system) if isinstance(result, Options) else ([], []) for result in results]
    page.say(*(f"! {line}" for line in _once([each.name for each in given], [hurts for hurts, _ in leans])))
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
    lines = [f"{name}: {'; '.join(more)}" if more else name for name, (_, more) in zip(names, warned, strict=True)]
    if body[0][0] != names[0] or any(more for _, more in warned):
        page.say(*lines)
    page.say(*_once(names, [rest for _, rest in leans]))
    parted = [name for name, each in zip(names, results, strict=True) if _is_drawn(each)]
    if command != "plan" and parted:
        unset = " A dash is a pressure that is not known yet." if command in ("target", "ride") else ""
        page.say(
            f"Not all is known exactly, the figures are the middles: {', '.join(parted)}. One file alone has the limits.{unset}"
        )
    if command == "plan":
        page.say("The maker’s sheet comes first. A plan of one file alone says what each warning is.")
    return page.text()


def _leans_on(result: Options, system: System) -> tuple[list[str], list[str]]:
    """What an answer leans on, as it says by itself: the dangers, and the rest; that it was drawn is said of all files at once."""
    hurts, rest = option_words.of_its_plan(result, system)
    return hurts, [*option_words.leans_on(replace(result, draws=0)), *rest]


def _once(names: Sequence[str], said_of: Sequence[Sequence[str]]) -> list[str]:
    """Every sentence once: by itself where it is said of every file, else behind the names of those of which it is."""
    sentences = dict.fromkeys(line for lines in said_of for line in lines)
    found = {line: [name for name, lines in zip(names, said_of, strict=True) if line in lines] for line in sentences}
    return [line if len(of) == len(names) else f"{', '.join(of)}: {line}" for line, of in found.items()]


def _over(given: Given, result: Any) -> bool:
    """Whether the pressure that an answer would have set lies above the maker's limit."""
    if isinstance(result, Ways):
        return any(way.over for way in result.ways)
    if isinstance(result, Ridden):
        return result.over and not result.leave_alone
    if isinstance(result, Targets):
        return any(each.met and each.ways[0].over for each in result.targets) or any(
            each.limit_gauge_pa is not None for each in result.rear
        )
    fork = given.bench.fork
    limit_pa = fork.air.pressure_limit_gauge_pa if fork is not None and fork.air is not None else None
    return isinstance(result, Schedule) and limits.over(result.rounds[-1].pumped_to_gauge_pa, limit_pa)


def _is_drawn(result: Any) -> bool:
    """Whether something was drawn for an answer: one of a state or a plan has bounds, the others say so."""
    return getattr(result, "bounds", None) is not None or any(
        getattr(result, name, 0) for name in ("drawn", "draws", "of")
    )


def _curve(given: Given, result: Curve, system: System) -> Cells:
    travel_m = result.travel_m
    end_m = float(travel_m[-1])
    cells = {"travel": said(system, end_m, "length", "mm", 0)}
    for share, words in _QUARTERS:
        force_n = float(np.interp(share * end_m, travel_m, result.force_n))
        cells[words] = _no_finer(system, force_n, _along(result, share * end_m), "force", "N", FORCES_SAID_TO)
    energy = _limits(result).get(("energy_j",))
    return cells | {"energy": _no_finer(system, result.energy_j, energy, "energy", "J")}


def _along(result: Curve, travel_m: float) -> Interval | None:
    """How far a curve's slow force is known at a travel."""
    band = result.bounds.bands.get(("force_n",)) if result.bounds is not None else None
    if band is None:
        return None
    median, low, high = (
        float(np.interp(travel_m, result.travel_m, values)) for values in (result.force_n, band.low95, band.high95)
    )
    return Interval(median, low, high, 0.0)


def _limits(result: Curve | Sag | Geometry | Plan) -> Mapping[tuple[str, ...], Interval]:
    """How far each number is known, by its place in the JSON; nothing of an exact file."""
    return {} if result.bounds is None else result.bounds.of


def _no_finer(
    system: System,
    value_si: float | None,
    known: Interval | None,
    dimension: str,
    unit: str,
    decimals: int | None = None,
) -> str:
    """A figure no finer than it is known; an angle is known in degrees."""
    if value_si is None or known is None or known.half_width <= 0.0:
        return said(system, value_si, dimension, unit, decimals)
    return to_known(system, value_si, known_to.half_si(known, dimension), dimension, unit, decimals)


def _sag(given: Given, result: Sag, system: System) -> Cells:
    front, of = result.front, _limits(result)
    cells = {}
    for name, words, dimension, unit, decimals in (
        ("travel_m", "sag", "length", "mm", None), ("share", "share", "share", "%", 1), ("low_m", "least", "length", "mm", None),
        ("high_m", "most", "length", "mm", None), ("load_n", "load", "force", "N", FORCES_SAID_TO),
    ):  # fmt: skip
        value = getattr(front, name) if front is not None else None
        cells[words] = _no_finer(system, value, of.get(("front", name)), dimension, unit, decimals)
    return cells


def _geometry(given: Given, result: Geometry, system: System) -> Cells:
    cells = {}
    for name, words, dimension, unit, decimals in STANCE:
        if name in _STANCE:
            key = f"{name.removesuffix('_rad')}_deg" if dimension == "angle" else name
            known = _limits(result).get(("unloaded", key))
            cells[words] = _no_finer(system, getattr(result.unloaded, name), known, dimension, unit, decimals)
    return cells


def _plan(given: Given, result: Plan, system: System) -> Cells:
    after = change.changed(given.bench)
    fork = after.fork
    air = fork.air if fork is not None else None
    front = result.after.sag.front if result.after.sag is not None else None
    angle = result.after.geometry.unloaded.head_angle_rad if result.after.geometry is not None else None
    of = _limits(result)

    def cell(value: float | None, place: tuple[str, ...], how: tuple[str, str, int | None]) -> str:
        return _no_finer(system, value, of.get(("after", *place)), *how)

    return {
        "travel": said(system, fork.travel_m if fork is not None else None, "length", "mm", 0),
        "volume spacers": NONE if air is None else str(air.spacers),
        "pressure": said(system, air.pressure_gauge_pa if air is not None else None, "pressure", "psi"),
        "sag": cell(front.travel_m if front else None, ("sag", "front", "travel_m"), ("length", "mm", None)),
        "share": cell(front.share if front else None, ("sag", "front", "share"), ("share", "%", 1)),
        "bottom-out force": cell(result.after.end_force_n, ("end_force_n",), ("force", "N", FORCES_SAID_TO)),
        "head angle": cell(angle, ("geometry", "unloaded", "head_angle_deg"), ("angle", "deg", None)),
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
    stroke, psi = "after_stroke_pa", ("pressure", "psi", None if result.bounds is None else 0)
    return {
        "pump to": said(system, last.pumped_to_gauge_pa, *psi),
        "after the first stroke": _no_finer(system, first.after_stroke_gauge_pa, first.limits.get(stroke), *psi),
        "rounds": NONE if result.settled_after is None else str(result.settled_after),
        "settles at": _no_finer(system, last.after_stroke_gauge_pa, last.limits.get(stroke), *psi),
        "rests short by": _no_finer(system, last.lost_travel_m, last.limits.get("lost_travel_m"), "length", "mm"),
    }


def _target(given: Given, result: Targets, system: System) -> Cells:
    cells = {}
    for each in result.targets:
        way = each.ways[0] if each.met else None
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
    """A setting that was worked out: no finer than it is known, a pressure never finer than a gauge's mark; a dash where it is not
    known well enough to be set."""
    if dimension != "pressure":
        return _of(system, told, dimension, unit)
    unset = told is None or told.half_width > known_to.MOST_PRESSURE_PA
    return NONE if unset or told is None else to_set(system, told.median)


def _of(system: System, told: Interval | None, dimension: str, unit: str, decimals: int | None = None) -> str:
    """The middle of a figure, no finer than it is known."""
    return _no_finer(system, told.median if told else None, told, dimension, unit, decimals)


def _landing(given: Given, result: Landing, system: System) -> Cells:
    return {
        words: _of(system, told, "length", "m", 2)
        for words, told in (("drop before", result.before), ("drop after", result.after))
    }


def _ride(given: Given, result: Ridden, system: System) -> Cells:
    sag = {"front": "sag", "rear": "stroke used"}[result.end]
    return {
        "gauge there": _to_set(system, result.there.gauge_pa, "pressure", "psi"),
        f"{sag} here": _of(system, result.here.sag_m, "length", "mm"),
        f"{sag} there": _of(system, result.there.sag_m, "length", "mm"),
        "set here": "as it is" if result.leave_alone else _to_set(system, result.set_gauge_pa, "pressure", "psi"),
    }


def _rebound(given: Given, result: Rebound, system: System) -> Cells:
    told = result.damping_ratio
    places = known_to.ratio_decimals(told.half_width) if told is not None else None
    return {
        "damping wanted, × now": NONE if told is None else digits(told.median, 2 if places is None else min(2, places)),
        "clicks from closed": NONE if result.clicks is None else str(result.clicks),
    }


def _options(given: Given, result: Options, system: System) -> Cells:
    first = result.options[0] if result.options else None
    facts = {} if first is None else {name: each.in_system(system) for name, each in first.facts.items()}
    changes = {
        words: facts[name].says("change", second=system.beside) if name in facts else NONE
        for name, words in (("head_angle", "head angle"), ("trail", "trail"), ("bb_height", "bottom bracket"))
    }
    return {
        "nearest": NONE if first is None else option_words.fits(first, system),
        "pressure": to_set(system, first.pressure_set_gauge_pa if first is not None else None),
        **changes,
        "cost": NONE if first is None else now_and_then.cost(first, [first]),
        "ways": digits(len(result.options), 0),
    }


def _ways(given: Given, result: Ways, system: System) -> Cells:
    return {SAYS[way.by]: to_set(system, way.same_share_gauge_pa) for way in result.ways}


_CELLS: Final[dict[str, Callable[[Given, Any, System], Cells]]] = {
    "curve": _curve, "sag": _sag, "geometry": _geometry, "plan": _plan, "inflate": _inflate, "target": _target,
    "landing": _landing, "rebound": _rebound, "ride": _ride,
    "options": _options, "ways": _ways,
}  # fmt: skip
