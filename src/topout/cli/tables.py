"""Answers for people: a sentence where there is one, then tables, in one system of units or in both.

Numbers get their digits from `units` alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from topout.bench_file.model import Air, BenchFile
from topout.cli.page import Page
from topout.physics.gas import Floats
from topout.planner import at_mark, change, defaults_words, fitted, known_to, limits, load, open_state, open_to
from topout.planner.facts import FORCES_SAID_TO, NONE, STANCE
from topout.planner.fill import Schedule
from topout.planner.known_to import Bounds
from topout.planner.results import Curve, Default, EndSag, Geometry, RearCurve, RearSag, Sag, Stance
from topout.uncertainty.intervals import Band, Interval
from topout.units import System, digits, show


def said(system: System, value_si: float | None, dimension: str, unit: str, decimals: int | None = None) -> str:
    """A quantity in the reader's units, with the other system where both are asked for; a dash where there is none."""
    if value_si is None:
        return NONE
    return system.show(value_si, dimension, unit, decimals=decimals, second=True)


def _said_to(dimension: str) -> int | None:
    """The decimals of a figure that was worked out: a force to tens of newtons, as a plan says it."""
    return FORCES_SAID_TO if dimension == "force" else None


def to_set(system: System, gauge_pa: float | None) -> str:
    """A pressure that was worked out to be set: no finer than a gauge's mark."""
    return NONE if gauge_pa is None else at_mark.show_in(system, gauge_pa, second=True)


def curve(bench: BenchFile, result: Curve, every: int, system: System) -> str:
    """The spring along the travel, every so many points and the last."""
    page = Page(system)
    rest = _dangers_first(page, bench, result.defaults)
    if bench.shock is not None and not isinstance(result, RearCurve):
        page.say("The fork’s. The shock’s: --end rear.")
    if result.bounds is not None:
        return _curve_between(page, result, result.bounds, every, rest)
    name = system.show(float(result.travel_m[-1]), "length", "mm", trim=True)
    behind = isinstance(result, RearCurve)
    page.say(
        f"Spring force along {name} of {'stroke' if behind else 'travel'}. Slow is by hand; fast is a riding stroke"
        + (" from full extension." if result.force_fast_from_sag_n is None else " from sag."),
        f"Energy to the end: {said(system, result.energy_j, 'energy', 'J')} slow, "
        f"{said(system, result.energy_fast_j, 'energy', 'J')} fast from full extension. "
        f"Lost {'stroke' if behind else 'travel'}: {said(system, result.lost_travel_m, 'length', 'mm')}.",
    )
    last = len(result.travel_m) - 1
    places = sorted({*range(0, last + 1, every), last})
    fast = result.force_fast_n if result.force_fast_from_sag_n is None else result.force_fast_from_sag_n
    ambient = fitted.ambient_abs_pa(bench)
    columns = [
        ("stroke used" if behind else "travel used", result.travel_m, "length", "mm"),
        ("slow", result.force_n, "force", "N"),
        ("fast", fast, "force", "N"),
        ("rate", result.rate_n_per_m, "rate", "N/mm"),
    ]
    for words, absolute_pa in (("main, gauge", result.positive_pa), ("negative, gauge", result.negative_pa)):
        if absolute_pa is not None:  # a coil has no chamber
            columns.append((words, absolute_pa - ambient, "pressure", "psi"))
    _table(page, "At the shock" if behind else "", columns, places)
    if isinstance(result, RearCurve):
        _at_wheel(page, result, places)
    page.say(*rest)
    return page.text()


def _dangers_first(page: Page, bench: BenchFile, of: Sequence[Default]) -> list[str]:
    """Say which bike it is, and what can hurt because it was taken for granted; what else was, to be said below the answer."""
    page.say(*change.as_it_is(bench))
    hurts, rest = defaults_words.said(of, page.system)
    page.say(*hurts)
    return rest


def _curve_between(page: Page, result: Curve, of: Bounds, every: int, rest: list[str]) -> str:
    """The slow force with its limits, the rest as the middle of what was drawn, all no finer than the force is known."""
    system = page.system
    name = system.show(float(result.travel_m[-1]), "length", "mm", trim=True)
    behind = isinstance(result, RearCurve)
    page.say(f"Spring force along {name} of {'stroke' if behind else 'travel'}, slow is by hand. {_BETWEEN}.")
    rows = [(each.words, each.median, each.low, each.high) for each in open_state.of_state(of, "curve", system)]
    if rows:
        page.table("", _BETWEEN_HEAD, rows)
    fast = "force_fast_n" if result.force_fast_from_sag_n is None else "force_fast_from_sag_n"
    columns = ((fast, "force", "N"), ("rate_n_per_m", "rate", "N/mm"))
    last = len(result.travel_m) - 1
    body = []
    for i in sorted({*range(0, last + 1, every), last}):
        cells = [said(system, float(result.travel_m[i]), "length", "mm")]
        cells += _with_ends(system, result.force_n, of.bands.get(("force_n",)), i, "force", "N")
        for key, dimension, unit in columns:
            cells.append(_with_ends(system, getattr(result, key), of.bands.get((key,)), i, dimension, unit)[0])
        body.append(cells)
    used = "stroke used" if behind else "travel used"
    page.table("At the shock" if behind else "", (used, "slow", "from", "to", "fast", "rate"), body)
    if isinstance(result, RearCurve):
        _at_wheel_between(page, result, of, every)
    page.say(*told_of(of))
    page.say(*rest)
    return page.text()


BETWEEN: Final = "not all is known exactly: the middle, and what holds for 19 of 20 that fit"
_BETWEEN: Final = BETWEEN[0].upper() + BETWEEN[1:]
_BETWEEN_HEAD: Final = ("", "middle", "from", "to")


def _with_ends(
    system: System, values: Floats, band: Band | None, i: int, dimension: str, unit: str
) -> tuple[str, str, str]:
    """One number along the travel as finely as it is known, and its limits rounded as everywhere; three alike where it is exact."""
    if band is None or not band.high95[i] > band.low95[i]:
        return (said(system, float(values[i]), dimension, unit, _said_to(dimension)),) * 3
    one = Interval(float(values[i]), float(band.low95[i]), float(band.high95[i]), float(band.standard[i]))
    return open_state.limits(one, dimension, unit, system)


def to_known(
    system: System, value_si: float, half_si: float, dimension: str, unit: str, decimals: int | None = None
) -> str:
    """A figure no finer than it is known, nor than `decimals` of `unit`; `half_si` is half of what lies between its limits."""
    here = system.unit(dimension, unit)
    places = known_to.no_finer(half_si, dimension, here, decimals if here == unit else None)
    return show(value_si, dimension, here, decimals=places)


def told_of(of: Bounds) -> list[str]:
    """What was drawn, and what of it had to be drawn anew."""
    return [words for words in (open_to.assumed(of), open_state.redrawn(of)) if words]


def _at_wheel_between(page: Page, result: RearCurve, of: Bounds, every: int) -> None:
    """What the linkage makes of a shock's curve that is not known exactly: force and rate at the wheel with their limits."""
    wheel_m, force_n, rate = result.wheel_travel_m, result.wheel_force_n, result.wheel_rate_n_per_m
    if wheel_m is None or force_n is None or rate is None or result.ratio is None:
        page.say(_NO_WHEEL)
        return
    last, body = len(wheel_m) - 1, []
    for i in sorted({*range(0, last + 1, every), last}):
        cells = [said(page.system, float(wheel_m[i]), "length", "mm"), digits(float(result.ratio[i]), 2)]
        for key, values, dimension, unit in (
            ("wheel_force_n", force_n, "force", "N"),
            ("wheel_rate_n_per_m", rate, "rate", "N/mm"),
        ):
            cells += _with_ends(page.system, values, of.bands.get((key,)), i, dimension, unit)
        body.append(cells)
    heads = ("wheel travel", "ratio", "slow", "from", "to", "wheel rate", "from", "to")
    page.table("At the rear wheel", heads, body)


_NO_WHEEL: Final = "What the wheel has of it is not known: give [shock] leverage."


def _at_wheel(page: Page, result: RearCurve, places: list[int]) -> None:
    """What the linkage makes of a shock's curve, where there is a leverage."""
    if result.wheel_travel_m is None or result.wheel_force_n is None or result.wheel_rate_n_per_m is None:
        page.say(_NO_WHEEL)
        return
    end = page.system.show(float(result.wheel_travel_m[-1]), "length", "mm")
    falls = page.system.show(result.progression or 0.0, "share", "%", decimals=1)
    page.say(f"Rear wheel travel {end}; the leverage ratio falls by {falls} of what it is at the start (progression).")
    columns = [
        ("stroke used", result.travel_m, "length", "mm"),
        ("wheel travel", result.wheel_travel_m, "length", "mm"),
        ("ratio", result.ratio, "", ""),
        ("slow, at the wheel", result.wheel_force_n, "force", "N"),
        ("wheel rate", result.wheel_rate_n_per_m, "rate", "N/mm"),
    ]
    _table(page, "At the rear wheel", columns, places)


def _table(page: Page, title: str, columns: list[tuple[str, Any, str, str]], places: list[int]) -> None:
    """Some places of curves side by side: each with its head, values [SI], dimension and unit; "" for a plain number."""
    rows = [
        tuple(
            said(page.system, float(values[i]), dimension, unit, _said_to(dimension))
            if dimension
            else digits(float(values[i]), 2)
            for _, values, dimension, unit in columns
        )
        for i in places
    ]
    page.table(title, tuple(head for head, *_ in columns), rows)


def sag(bench: BenchFile, result: Sag, system: System) -> str:
    """Where both ends rest."""
    page = Page(system)
    rest = _dangers_first(page, bench, result.defaults)
    if result.bounds is not None:
        found = load.said_found(bench, system)
        source = f"the sag found, {found}" if found else "an assumed share of the weight"
        page.say(f"At rest under the rider. {_BETWEEN}. The load comes from {source}.")
        between = open_state.of_state(result.bounds, "sag", system)
        page.table("", _BETWEEN_HEAD, [(each.words, each.median, each.low, each.high) for each in between])
        page.say(*told_of(result.bounds))
        page.say(*rest)
        return page.text()
    front = result.front
    rows = []
    if front is not None:
        rows += _front_rows(front, system)
    if result.head_angle_rad is not None:
        rows.append(("head angle at sag", system.show(result.head_angle_rad, "angle", "deg")))
    found = load.said_found(bench, system)
    source = f"the sag found, {found}" if found else "an assumed share of the weight"
    page.say(f"At rest under the rider. The load comes from {source}.")
    if rows:
        page.table("", ("front", ""), rows)
    if result.rear is not None:
        page.table("", ("rear", ""), _rear_rows(result.rear, system))
    page.say(*rest)
    return page.text()


def _rear_rows(rear: RearSag, system: System) -> list[tuple[str, str]]:
    """The rear end at rest: the shock's stroke, then the wheel's travel, each share with what it is of."""
    mm = ("length", "mm")
    values = (
        ("sag, stroke of the shock used", rear.stroke_m, *mm),
        ("share of the stroke", rear.share_of_stroke, "share", "%"),
        ("as read at the shock", rear.stroke_shown_m, *mm),
        ("sag, travel of the rear wheel", rear.travel_m, *mm),
        ("share of the wheel’s travel", rear.share_of_wheel_travel, "share", "%"),
        ("wheel at the least (friction holds it out)", rear.low_m, *mm),
        ("wheel at the most (friction lets it in)", rear.high_m, *mm),
        ("load on the wheel", rear.load_n, "force", "N"),
    )
    return [
        (
            words,
            system.show(value, dimension, unit, decimals=1)
            if dimension == "share"
            else said(system, value, dimension, unit, _said_to(dimension)),
        )
        for words, value, dimension, unit in values
        if value is not None
    ]


def _front_rows(front: EndSag, system: System) -> list[tuple[str, str]]:
    rows = [
        ("sag", said(system, front.travel_m, "length", "mm")),
        ("share of the travel", NONE if front.share is None else system.show(front.share, "share", "%", decimals=1)),
        ("at the least (friction holds it out)", said(system, front.low_m, "length", "mm")),
        ("at the most (friction lets it in)", said(system, front.high_m, "length", "mm")),
        ("as the sag O-ring shows it", said(system, front.shown_m, "length", "mm")),
        ("load along the steering axis", said(system, front.load_n, "force", "N", FORCES_SAID_TO)),
    ]
    if front.implied_share is not None:
        rows.append(("share of the weight on the front wheel", system.show(front.implied_share, "share", "%")))
    return rows


def stance_cell(stance: Stance | None, name: str, dimension: str, unit: str, decimals: int, system: System) -> str:
    """One figure of a stance."""
    return NONE if stance is None else said(system, getattr(stance, name), dimension, unit, decimals)


def geometry(bench: BenchFile, result: Geometry, system: System) -> str:
    """How the bike stands, at full extension and at sag."""
    page = Page(system)
    rest = _dangers_first(page, bench, result.defaults)
    closes = {
        True: "The chart's figures agree.",
        False: "The chart's own figures do not agree with each other. Measure the frame, or check the chart.",
        None: "Nothing in the file to check the chart against.",
    }[result.chart.closes]
    page.say(f"Head tube to the crown race: {said(system, result.chart.head_tube_m, 'length', 'mm')}. {closes}")
    rows = [
        (words, *(stance_cell(s, name, dimension, unit, decimals, system) for s in (result.unloaded, result.sagged)))
        for name, words, dimension, unit, decimals in STANCE
    ]
    page.table("", ("stance", "at full extension", "at sag"), rows)
    if result.bounds is not None:
        for part, title in (("unloaded", "At full extension"), ("sagged", "At sag")):
            between = open_state.of_stance(result.bounds, part, system)
            if between:
                page.table(f"{title}: {BETWEEN}", _BETWEEN_HEAD, [(b.words, b.median, b.low, b.high) for b in between])
        page.say(*told_of(result.bounds))
    page.say(*rest)
    return page.text()


def inflate(bench: BenchFile, result: Schedule, gauge_step_pa: float, hose_m3: float, system: System) -> str:
    """The filling schedule, round by round."""
    page = Page(system)
    rest = _dangers_first(page, bench, result.defaults)
    fork = bench.fork
    assert fork is not None and fork.air is not None
    ported = fitted.port_in_reach(fork, fork.air)
    unseen = result.bounds is not None and "fork.air.port_position" in result.bounds.assumed
    own_valve = fork.air.negative == "separate-valve"
    above = limits.said_over(result.most_gauge_pa, result.limit_gauge_pa, system)
    page.say(*([f"! Don’t pump to that: {above}"] if above else []))
    if fork.air.second_pressure_gauge_pa is not None:
        behind = said(system, fork.air.second_pressure_gauge_pa, "pressure", "psi")
        page.say(
            f"Fill the second chamber first, to {behind}, the main one empty: its floating piston is then on its stop."
        )
    page.say(
        *(["The fork’s. A shock has its own: by the steps of its job."] if bench.shock is not None else []),
        *(_UNSEEN if unseen else _how_to_inflate(ported, fork.air)),
        "Pumped air is warm: five minutes before a reading counts.",
    )
    settled = result.settled_after
    if ported:
        page.say(
            f"Settled after {settled} round{'s' if settled != 1 else ''}: a stroke then costs less than "
            f"{system.show(gauge_step_pa, 'pressure', 'psi', trim=True)}."
            if settled is not None
            else f"Not settled after {len(result.rounds)} rounds: look at the port."
        )
    finest = None if result.bounds is None else 0  # a gauge's mark, where not all is known
    heads, rows = ["round", "pump to"], []
    if ported:
        heads.append("after one stroke")
    if hose_m3 > 0.0:
        heads.append(f"gauge on again, hose {system.show(hose_m3, 'volume', 'ml', trim=True)}")
    if own_valve:
        heads.append("negative valve to")
    for count, r in enumerate(result.rounds, 1):
        pressures: list[float | None] = [r.pumped_to_gauge_pa]
        pressures += [r.after_stroke_gauge_pa] if ported else []
        pressures += [r.reading_gauge_pa] if hose_m3 > 0.0 else []
        pressures += [r.negative_to_gauge_pa] if own_valve else []
        row = [str(count), *(said(system, each, "pressure", "psi", finest) for each in pressures)]
        rows.append([*row, said(system, r.lost_travel_m, "length", "mm")])
    page.table("", (*heads, "rests short by"), rows)
    if result.bounds is not None:
        _inflate_between(page, result, result.bounds, system)
    page.say(*rest)
    return page.text()


def _inflate_between(page: Page, result: Schedule, of: Bounds, system: System) -> None:
    """The limits of each round's readings; the table above them holds the middles."""
    rows = []
    for count, each in enumerate(result.rounds, 1):
        for word, words, dimension, unit in _READ:
            if word in each.limits:
                rows.append((f"round {count}, {words}", *open_state.limits(each.limits[word], dimension, unit, system)))
    if rows:
        page.table(_BETWEEN, _BETWEEN_HEAD, rows)
    most = of.of.get(("settled_after",))
    if most is not None:
        page.say(
            f"Settled after {most.low95:.0f} to {most.high95:.0f} rounds, by where the port lies: go on until a stroke costs nothing."
        )
    page.say(*told_of(of))


_READ: Final = (
    ("after_stroke_pa", "after one stroke", "pressure", "psi"), ("reading_pa", "gauge on again", "pressure", "psi"),
    ("negative_to_pa", "negative valve", "pressure", "psi"), ("lost_travel_m", "rests short by", "length", "mm"),
)  # fmt: skip


_UNSEEN: Final = (
    "Where the port lies is not known: pump at full extension, pump off, one stroke through the sag, back to full extension, read.",
)


def _how_to_inflate(ported: bool, air: Air) -> tuple[str, ...]:
    """What is done in a round, for what this fork has: a port, a port that is never reached, a valve of its own, neither."""
    if ported and air.port_position_m:
        return ("Pump at full extension. Pump off, one stroke past the port, back to full extension, read.",)
    if ported:
        return (
            "Pump at full extension: the port is open there and both chambers fill.",
            "A stroke with the pump off changes nothing.",
        )
    if air.negative == "separate-valve":
        return (
            "Fill the main chamber first, at full extension.",
            "Then the negative chamber, through its own valve. No air passes between them.",
        )
    if air.negative == "self-equalising":
        return ("Pump at full extension. The piston never comes past the port: the negative chamber does not fill.",)
    return ("Pump at full extension. There is one chamber to fill, the main one.",)
