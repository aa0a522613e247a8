"""A unit of the Book under riders of other masses: what to set, in words, each with what speaks against it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from topout import units
from topout.errors import FaultsFound
from topout.planner import at_mark, missing, open_state, open_to
from topout.planner.by_mass import ByMass, as_left, behind, by_mass
from topout.uncertainty.intervals import Interval
from topout.web.access import preferences
from topout.web.book import tables as bench_tables
from topout.web.book.models import Bike, Rider, Unit

AROUND = {"kg": (5, 20), "lb": (10, 40)}  # step and span of the table, on each side of the rider
LEAST_KG, MOST_KG = 10.0, 250.0  # of a rider, as the bench file takes it


@dataclass(frozen=True)
class Row:
    """One line: the mass, the pressure to set or the coil to fit ("" where none is given), why not, and whether it is the rider's or
    the one asked for."""

    mass: str
    pressure: str
    why_not: str = ""
    own: bool = False
    asked: bool = False


@dataclass(frozen=True)
class ForMass:
    """A unit's table. `lacking` says in words what is not known: then there are no rows."""

    rows: tuple[Row, ...]
    sag: str = ""
    limit: str = ""
    guessed: bool = False  # whether the share on the front wheel is
    lacking: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    on_coil: bool = False
    behind: bool = False  # of a rear shock: the sag is stroke used
    drawn: bool = False  # not all of it is known: each figure has its limits


def for_masses(rider: Rider, bike: Bike | None, unit: Unit, asked_kg: float | None = None) -> ForMass:
    """What to set in this unit, as it was left, for masses around the rider's and for the one that is asked for."""
    workshop = preferences.workshop()
    conditions: bench_tables.Tables = (
        {"conditions": {"altitude": workshop.altitude}} if workshop and workshop.altitude else {}
    )
    at_rear = unit.what.noun == "shock"
    # a linkage without its shock says nothing of where the rear wheel rests
    whole = bike.tables if bike else {}
    own = {name: held for name, held in whole.items() if at_rear or name in bench_tables.BIKE}
    tables = bench_tables.one_rear_sag(bench_tables.merged(conditions, rider.tables, own, unit.whole_tables()))
    try:
        bench = bench_tables.read(tables)
    except FaultsFound as found:
        return ForMass((), faults=tuple(bench_tables.fault_in_words(fault) for fault in found.faults))
    own_kg = bench.rider.mass_kg if bench.rider else None
    masses = _masses(own_kg, asked_kg)
    every = np.array(masses or [75.0])
    told = behind(as_left(bench), every) if at_rear else by_mass(bench, every)
    lacking = told.lacking or (() if masses else ("[rider] mass",))
    if lacking:
        return ForMass((), lacking=tuple(dict.fromkeys(map(missing.words, lacking))))
    system = preferences.system()
    unit_word = system.unit("pressure", "psi")
    limit = (
        system.show(told.limit_gauge_pa, "pressure", "psi", second=True, trim=True)
        if told.limit_gauge_pa is not None
        else ""
    )
    rows = []
    for at, (kg, pa, over) in enumerate(zip(masses, told.pressure_gauge_pa, told.over, strict=True)):
        said, why = "", ""
        known = told.known[at] if told.known is not None else None
        if known is not None:
            said, why = _between(known, told, system, limit)
        elif told.rate_n_per_m is not None and told.preload_m is not None:
            said = _coil(float(told.rate_n_per_m[at]), float(told.preload_m[at]), system)
            why = "" if said else "no spring gives that sag"
        elif not math.isfinite(pa):
            why = "no pressure gives that sag"
        elif over:
            why = f"would be above the maker’s limit of {limit}"
        else:
            said = at_mark.show(float(pa), unit_word, second=True)
        rows.append(Row(system.show(kg, "mass", "kg", trim=True), said, why, kg == own_kg, kg == asked_kg))
    guessed = bench.rider is None or bench.rider.front_share is None
    sag = _sag(told, system, at_rear)
    on_coil = told.rate_n_per_m is not None
    return ForMass(
        tuple(rows), sag, limit, guessed and not at_rear, on_coil=on_coil, behind=at_rear, drawn=told.known is not None
    )


def _between(known: Interval, told: ByMass, system: units.System, limit: str) -> tuple[str, str]:
    """What to set of a unit that was drawn, with its limits, or why nothing."""
    dimension, usual = ("rate", "N/mm") if told.rate_n_per_m is not None else ("pressure", "psi")
    one = open_to.setting("", "", known, dimension, system.unit(dimension, usual), told.limit_gauge_pa)
    between = f"{one.low} to {one.high}".replace(" ", units.NO_BREAK)  # a cell breaks before it, not in it
    if one.over:
        return "", f"may be above the maker’s limit of {limit}"
    return (f"{one.median}, {between}", "") if one.set_to else ("", f"not known yet, between {between}")


def _sag(told: ByMass, system: units.System, at_rear: bool) -> str:
    """The sag that they all give, with its limits where the unit was drawn."""
    if told.sag is not None:
        median, low, high = open_state.limits(told.sag, "length", "mm", system)
        return f"{median}, {low} to {high}"
    return system.show(told.sag_m, "length", "mm", decimals=None if at_rear else 0) if told.sag_m is not None else ""


def _coil(rate_n_per_m: float, preload_m: float, system: units.System) -> str:
    """Another spring wound up as this one, or this one wound up otherwise; "" where neither does it."""
    told = []
    if math.isfinite(rate_n_per_m):
        told.append(f"a spring of {system.show(rate_n_per_m, 'rate', 'N/mm', second=True, trim=True)}")
    if math.isfinite(preload_m):
        told.append(f"this one wound up {system.show(preload_m, 'length', 'mm')}")
    return ", or ".join(told)


def _masses(own_kg: float | None, asked_kg: float | None) -> list[float]:
    """The rider's mass, round numbers of the workshop's unit around it, and what is asked for; ascending."""
    if own_kg is None:
        return []
    unit = preferences.unit("mass", "kg")
    step, span = AROUND[unit]
    middle = step * round(units.from_si(own_kg, unit, "mass") / step)
    around = [units.to_si(middle + more, unit, "mass") for more in range(-span, span + 1, step)]
    every = {own_kg, *around} | ({asked_kg} if asked_kg is not None else set())
    return sorted(kg for kg in every if LEAST_KG <= kg <= MOST_KG)
