"""Answers for people: a sentence where there is one, then tables, in one system of units or in both.

Numbers get their digits from `units` alone.
"""

from __future__ import annotations

from topout.bench_file.model import Air, BenchFile
from topout.cli.page import Page
from topout.planner import fitted, load
from topout.planner.facts import NONE, STANCE
from topout.planner.fill import Schedule
from topout.planner.results import Curve, EndSag, Geometry, Sag, Stance
from topout.units import System


def said(system: System, value_si: float | None, dimension: str, unit: str, decimals: int | None = None) -> str:
    """A quantity in the reader's units, with the other system where both are asked for; a dash where there is none."""
    if value_si is None:
        return NONE
    return system.show(value_si, dimension, unit, decimals=decimals, second=True)


def curve(bench: BenchFile, result: Curve, every: int, system: System) -> str:
    """The spring along the travel, every so many points and the last."""
    page = Page(system)
    name = system.show(float(result.travel_m[-1]), "length", "mm", trim=True)
    page.say(
        f"Spring force along {name} of travel. Slow is by hand; fast is a riding stroke"
        + (" from full extension." if result.force_fast_from_sag_n is None else " from sag."),
        f"Energy to the end: {said(system, result.energy_j, 'energy', 'J')} slow, "
        f"{said(system, result.energy_fast_j, 'energy', 'J')} fast from full extension. "
        f"Lost travel: {said(system, result.lost_travel_m, 'length', 'mm')}.",
    )
    fast = result.force_fast_n if result.force_fast_from_sag_n is None else result.force_fast_from_sag_n
    ambient = fitted.ambient_abs_pa(bench)
    last = len(result.travel_m) - 1
    places = sorted({*range(0, last + 1, every), last})
    rows = []
    for i in places:
        main, negative = (float(p[i]) - ambient for p in (result.positive_pa, result.negative_pa))
        rows.append(
            (
                said(system, float(result.travel_m[i]), "length", "mm"),
                said(system, float(result.force_n[i]), "force", "N"),
                said(system, float(fast[i]), "force", "N"),
                said(system, float(result.rate_n_per_m[i]), "rate", "N/mm"),
                said(system, main, "pressure", "psi"),
                said(system, negative, "pressure", "psi"),
            )
        )
    page.table("", ("travel used", "slow", "fast", "rate", "main, gauge", "negative, gauge"), rows)
    return page.text()


def sag(bench: BenchFile, result: Sag, system: System) -> str:
    """Where both ends rest."""
    page = Page(system)
    front = result.front
    rows = []
    if front is not None:
        rows += _front_rows(front, system)
    if result.rear is not None:
        rows.append(("rear wheel travel", said(system, result.rear.travel_m, "length", "mm")))
    if result.head_angle_rad is not None:
        rows.append(("head angle at sag", system.show(result.head_angle_rad, "angle", "deg")))
    found = load.said_found(bench, system)
    source = f"the sag found, {found}" if found else "an assumed share of the weight"
    page.say(f"At rest under the rider. The load comes from {source}.")
    page.table("", ("front", ""), rows)
    return page.text()


def _front_rows(front: EndSag, system: System) -> list[tuple[str, str]]:
    rows = [
        ("sag", said(system, front.travel_m, "length", "mm")),
        ("share of the travel", NONE if front.share is None else system.show(front.share, "share", "%", decimals=1)),
        ("at the least (friction holds it out)", said(system, front.low_m, "length", "mm")),
        ("at the most (friction lets it in)", said(system, front.high_m, "length", "mm")),
        ("as the sag O-ring shows it", said(system, front.shown_m, "length", "mm")),
        ("load along the steering axis", said(system, front.load_n, "force", "N")),
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
    return page.text()


def inflate(bench: BenchFile, result: Schedule, gauge_step_pa: float, hose_m3: float, system: System) -> str:
    """The filling schedule, round by round."""
    page = Page(system)
    fork = bench.fork
    assert fork is not None and fork.air is not None
    ported = fitted.port_in_reach(fork, fork.air)
    own_valve = fork.air.negative == "separate-valve"
    if fork.air.second_pressure_gauge_pa is not None:
        behind = said(system, fork.air.second_pressure_gauge_pa, "pressure", "psi")
        page.say(
            f"Fill the second chamber first, to {behind}, the main one empty: its floating piston is then on its stop."
        )
    page.say(*_how_to_inflate(ported, fork.air), "Pumped air is warm: five minutes before a reading counts.")
    settled = result.settled_after
    if ported:
        page.say(
            f"Settled after {settled} round{'s' if settled != 1 else ''}: a stroke then costs less than "
            f"{system.show(gauge_step_pa, 'pressure', 'psi')}."
            if settled is not None
            else f"Not settled after {len(result.rounds)} rounds: look at the port."
        )
    heads, rows = ["round", "pump to"], []
    if ported:
        heads.append("after one stroke")
    if hose_m3 > 0.0:
        heads.append(f"gauge on again, hose {system.show(hose_m3, 'volume', 'ml', trim=True)}")
    if own_valve:
        heads.append("negative valve to")
    for count, r in enumerate(result.rounds, 1):
        row = [str(count), said(system, r.pumped_to_gauge_pa, "pressure", "psi")]
        if ported:
            row.append(said(system, r.after_stroke_gauge_pa, "pressure", "psi"))
        if hose_m3 > 0.0:
            row.append(said(system, r.reading_gauge_pa, "pressure", "psi"))
        if own_valve:
            row.append(said(system, r.negative_to_gauge_pa, "pressure", "psi"))
        rows.append([*row, said(system, r.lost_travel_m, "length", "mm")])
    page.table("", (*heads, "rests short by"), rows)
    return page.text()


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
