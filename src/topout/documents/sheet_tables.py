"""The tables of the set-up sheet that are computed: pressure by mass, by temperature, and on the rider's own pump."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import Air, BenchFile, Change, ShockChange
from topout.documents.setup_sheet import OwnPump, Table
from topout.physics import air_spring, filling, gas
from topout.physics.gas import Floats
from topout.physics.geometry import AxleFrame
from topout.physics.sag import Load
from topout.planner import at_mark, change, keep, known, load, missing, open_state, open_to, rear, state
from topout.planner.by_mass import ByMass, behind, in_front, is_open
from topout.planner.design import Design
from topout.planner.known import Missing, Spring
from topout.planner.sentence import number_word
from topout.units import BENCH, NO_BREAK, System, beside_decimals, digits, number, show, to_si

STEP: Final = {"kg": 5.0, "lb": 10.0}  # of the table by mass
STEPS: Final = 3  # above and below the rider's mass
PLACES_K: Final = tuple(gas.KELVIN + celsius for celsius in (-5.0, 0.0, 10.0, 20.0, 30.0))
PLACES_F: Final = (20.0, 32.0, 50.0, 68.0, 86.0)
NEAR_K: Final = 5.0  # a place this near to the workshop's temperature gives way to it
# A comparison further from the set pressure says nothing about it: common practice, no source.
COMPARED_WITHIN: Final = 0.2


def pressure(gauge_pa: float, unit: str) -> str:
    """A pressure to set, as the plan says it: `70 psi`, `62.5 psi`."""
    return show(gauge_pa, "pressure", unit, trim=True)


def other_unit(unit: str) -> str:
    """The unit shown second."""
    return "bar" if unit == "psi" else "psi"


def by_mass(bench: BenchFile, system: System = BENCH) -> Table | None:
    """Pressures for riders lighter and heavier than this one that keep the same share of sag after the change.

    The load on the fork goes with (rider + bike)·share − unsprung mass; with a sag found its implied share is taken,
    so that this rider's row is exactly the pressure set. One division a row (`planner.keep.at_load`). None where
    spring, load, rider or frame are not described, or the fork does not rest inside its travel. Of a fork that was drawn each with
    its limits.
    """
    rider, bike = bench.rider, bench.bike
    if is_open(bench):
        return _in_front(bench, system)
    on = load.load_on(bench)
    after = change.changed(bench)
    parts = state.parts(after, on)
    spring = parts.spring
    if isinstance(spring, Missing) or isinstance(parts.standing, Missing) or not (on and rider and bike):
        return None
    if spring.air is None:  # a coil has no pressure to set by weight
        return None
    if air_spring.locked(spring.chambers)[0]:  # nothing is set of a build that locks
        return None
    share = on.implied_share if on.calibrated else rider.front_share
    if rider.mass_kg is None or bike.mass_kg is None or bike.unsprung_front_kg is None or share is None:
        return None
    at_rest = state.sag(after, of=parts).front
    if not at_rest:
        return None
    unit, heavy = system.unit("pressure", "psi"), system.unit("mass", "kg")
    masses = rider.mass_kg + to_si(STEP[heavy], heavy, "mass") * np.arange(-STEPS, STEPS + 1)
    sprung = (masses + bike.mass_kg) * share - bike.unsprung_front_kg
    ratios = sprung / sprung[STEPS]
    if sprung[STEPS] <= 0.0:
        return None
    limit = spring.air.pressure_limit_gauge_pa
    rows: list[tuple[str, ...]] = []
    here = None
    over = False
    told = [
        (mass, _gauge_at(spring, parts.standing.at_sag, on.load, float(ratio), at_rest.travel_m))
        for mass, ratio in zip(masses, ratios, strict=True)
        if mass >= 10.0 and ratio > 0.0
    ]
    places = _places_beside([gauge for _, gauge in told], unit)
    for mass, gauge in told:
        name = system.show(float(mass), "mass", "kg", decimals=0, second_decimals=0)
        if mass == rider.mass_kg:
            here, name = len(rows), f"{name} · you"
        if math.isnan(gauge) or (limit is not None and gauge > limit):
            over = True
            rows.append((name, "none", "none"))
            continue
        say = figure_set if mass == rider.mass_kg else _figure
        rows.append((name, say(gauge, unit), _second(gauge, unit, places)))
    note = f"Same share of sag, {number_word(spring.air.spacers)} spacer{'' if spring.air.spacers == 1 else 's'}{_beside(spring.air, unit)}."
    if over:
        note += " Where it says none, no pressure this spring may hold gives that."
    return _telling(
        Table("If your weight changes", ("dressed to ride", unit, other_unit(unit)), tuple(rows), here, note)
    )


def _telling(table: Table) -> Table | None:
    """The table, where any of its rows holds a figure: seven times "none" says nothing."""
    return table if any(row[1] != "none" for row in table.rows) else None


def _beside(air: Air, unit: str) -> str:
    """What stays in the other chambers under every rider."""
    own = air.negative_pressure_gauge_pa if air.negative == "separate-valve" else None
    told = [
        f", {pressure(held, unit)} {where}"
        for held, where in ((own, "in the negative chamber"), (air.second_pressure_gauge_pa, "in the second"))
        if held is not None
    ]
    return "".join(told)


def _in_front(bench: BenchFile, system: System) -> Table | None:
    """The table of a fork that is not exact."""
    masses = _masses(bench, system)
    if masses is None or bench.rider is None or bench.rider.mass_kg is None:
        return None
    told = in_front(bench, masses)
    if told.lacking or told.sag_m is None:
        return None
    return _between(told, masses, bench.rider.mass_kg, system.unit("pressure", "psi"), system, "fork")


def _masses(bench: BenchFile, system: System) -> Floats | None:
    """The rider's mass and those around it [kg]; None where it is not known."""
    if bench.rider is None or bench.rider.mass_kg is None:
        return None
    heavy = system.unit("mass", "kg")
    every = bench.rider.mass_kg + to_si(STEP[heavy], heavy, "mass") * np.arange(-STEPS, STEPS + 1)
    return np.asarray(every[every >= 10.0], dtype=np.float64)


def by_mass_behind(bench: BenchFile, system: System = BENCH) -> Table | None:
    """The same of a rear shock: the pressure, or on a coil the rate wound up as set, at which each rider uses as much of its stroke.

    Of a shock that was drawn each with its limits. None where something of it, of the leverage or of the weights is not described.
    """
    rider, masses = bench.rider, _masses(bench, system)
    if masses is None or rider is None or rider.mass_kg is None:
        return None
    told = behind(bench, masses)
    if told.lacking or told.sag_m is None:
        return None
    on_coil = told.rate_n_per_m is not None
    first = system.unit("rate", "N/mm") if on_coil else system.unit("pressure", "psi")
    if told.known is not None:
        return _between(told, masses, rider.mass_kg, first, system, "shock")
    heads = (first, ("lbf/in" if first == "N/mm" else "N/mm") if on_coil else other_unit(first))
    rows: list[tuple[str, ...]] = []
    here = None
    beside = (
        beside_decimals(told.rate_n_per_m[np.isfinite(told.rate_n_per_m)], "rate", *heads)
        if told.rate_n_per_m is not None
        else _places_beside(told.pressure_gauge_pa, first)
    )
    for at, mass in enumerate(masses):
        value = float((told.rate_n_per_m if told.rate_n_per_m is not None else told.pressure_gauge_pa)[at])
        name = system.show(float(mass), "mass", "kg", decimals=0, second_decimals=0)
        own = mass == rider.mass_kg
        if own:
            here, name = len(rows), f"{name} · you"
        if not math.isfinite(value) or told.over[at]:
            rows.append((name, "none", "none"))
        elif on_coil:
            rates = (
                show(value, "rate", each, decimals=places) for each, places in zip(heads, (None, beside), strict=True)
            )
            rows.append((name, *(rate.partition(NO_BREAK)[0] for rate in rates)))
        else:
            rows.append((name, (figure_set if own else _figure)(value, first), _second(value, first, beside)))
    note = f"Same sag, {system.show(told.sag_m, 'length', 'mm')} of the shock’s stroke{_set_with(bench, system)}."
    if any(row[1] == "none" for row in rows):
        note += " Where it says none, nothing that this shock may hold gives that."
    return _telling(Table("If your weight changes", ("dressed to ride", *heads), tuple(rows), here, note))


def _set_with(bench: BenchFile, system: System) -> str:
    """With what a shock's pressures, or its rates, hold: its spacers as set, or how far its coil is wound up."""
    shock = change.changed(bench).shock
    if shock is not None and shock.coil is not None:
        return f", wound up {system.show(shock.coil.preload_m or 0.0, 'length', 'mm', trim=True)}"
    if shock is None or shock.air is None:
        return ""
    return f", {number_word(shock.air.spacers)} spacer{'' if shock.air.spacers == 1 else 's'}"


def _between(told: ByMass, masses: Floats, own_kg: float, unit: str, system: System, noun: str) -> Table | None:
    """The table of a fork or a shock that was drawn: what to set, from and to; no figure where it is not known well enough, or may not be set."""
    assert told.known is not None
    rows: list[tuple[str, ...]] = []
    here, none = None, False
    for mass, limits in zip(masses, told.known, strict=True):
        name = system.show(float(mass), "mass", "kg", decimals=0, second_decimals=0)
        if mass == own_kg:
            here, name = len(rows), f"{name} · you"
        dimension = "pressure" if told.rate_n_per_m is None else "rate"
        one = None if limits is None else open_to.setting("", "", limits, dimension, unit, told.limit_gauge_pa)
        none = none or one is None or one.over
        if one is None or one.over:
            rows.append((name, "none", "none", "none"))
        else:
            rows.append((name, one.set_to or "?", one.low.partition(NO_BREAK)[0], one.high.partition(NO_BREAK)[0]))
    if told.sag is None:
        return None
    median, low, high = open_state.limits(told.sag, "length", "mm", system)
    of = "of the shock’s stroke " if noun == "shock" else ""
    note = f"Same sag, {median} {of}({low} to {high}); each holds for 19 of 20 {noun}s that fit."
    if any("?" in row for row in rows):
        note += " A question mark: not known well enough to be set."
    if none:
        note += f" Where it says none, nothing that this {noun} surely may hold gives that."
    return _telling(Table("If your weight changes", ("dressed to ride", unit, "from", "to"), tuple(rows), here, note))


def _gauge_at(spring: Spring, stand: AxleFrame, on: Load, ratio: float, travel_m: float) -> float:
    scaled = Load(on.axial_n * ratio, on.vertical_n * ratio, on.side_n * ratio)
    return float(keep.at_load(air_spring.settle(spring.chambers), stand, scaled, np.array([travel_m]))[0])


def figure_set(gauge_pa: float, unit: str) -> str:
    """The digits of a pressure that is set, as the plan says it."""
    return pressure(gauge_pa, unit).partition(NO_BREAK)[0]


def _figure(gauge_pa: float, unit: str) -> str:
    """The digits of a pressure that follows from one, to what a hand pump can be read to."""
    return digits(*at_mark.figure(gauge_pa, unit))


def _places_beside(gauges_pa: Iterable[float], unit: str) -> int:
    """The decimals of a column in the other unit: no finer than a gauge in it shows, nor than the figures before it."""
    beside = other_unit(unit)
    known = [gauge for gauge in gauges_pa if math.isfinite(gauge)]
    return min(at_mark.decimals(beside), beside_decimals(known, "pressure", unit, beside, at_mark.decimals(unit)))


def _second(gauge_pa: float, unit: str, places: int) -> str:
    """The digits of a pressure in the other unit, of the one set too."""
    return digits(number(gauge_pa, "pressure", other_unit(unit), places), places)


def by_temperature(gauge_pa: float, temperature_k: float, ambient_pa: float, system: System = BENCH) -> Table:
    """What the gauge reads at other temperatures when `gauge_pa` was set at `temperature_k`; volume and height kept.

    p₂ = p₁·T₂/T₁ in absolute pressures (physics/gas.py). Both pressures [Pa], temperature [K].
    """
    unit = system.unit("pressure", "psi")
    places = [place for place in _places_k(system) if abs(place - temperature_k) > NEAR_K] + [temperature_k]
    places.sort()
    rows = []
    for place in places:
        reads = float(gas.warmed_gauge_pa(gauge_pa, temperature_k, place, ambient_pa))
        where = " · workshop" if place == temperature_k else ""
        rows.append(
            (
                system.show(place, "temperature", "degC", decimals=0) + where,
                (figure_set if where else _figure)(max(reads, 0.0), unit),
            )
        )
    step_k, step = (10.0, f"10{NO_BREAK}°C") if system.metric else (20.0 * 5 / 9, f"20{NO_BREAK}°F")
    per_step = float(gas.warmed_gauge_pa(gauge_pa, temperature_k, temperature_k + step_k, ambient_pa)) - gauge_pa
    said = show(per_step, "pressure", unit, decimals=at_mark.decimals(unit))
    note = f"{said} for every {step}. Set it again where you ride."
    heads = ("where you ride", f"your {pressure(gauge_pa, unit)} reads")
    return Table("If it gets colder or warmer", heads, tuple(rows), places.index(temperature_k), note)


def _places_k(system: System) -> tuple[float, ...]:
    """Temperatures of the table, round in the reader's own scale."""
    return PLACES_K if system.metric else tuple(to_si(each, "degF", "temperature") for each in PLACES_F)


def own_pump(
    set_gauge_pa: float,
    ours_gauge_pa: float,
    theirs_gauge_pa: float,
    unit: str = "psi",
    *,
    hose_m3: float | None = None,
    valve_m3: float | None = None,
) -> OwnPump | None:
    """What the rider's pump shows at the pressure set, from one comparison of both gauges at one pressure.

    The difference is kept as it was seen; None where the comparison was made further than a fifth from the pressure
    set. With the volume of the pump's hose and of what the valve sees [m³], also what pushing it on costs: the
    reading is the true one over 1 + V_h/V (physics/filling.py).
    """
    if set_gauge_pa <= 0.0 or abs(ours_gauge_pa - set_gauge_pa) > COMPARED_WITHIN * set_gauge_pa:
        return None
    yours = set_gauge_pa + theirs_gauge_pa - ours_gauge_pa
    told = [f"Pump to {_figure(yours, unit)} on yours."]
    if hose_m3 is not None and valve_m3 is not None:
        cost_pa = set_gauge_pa - set_gauge_pa / float(filling.hose_factor(hose_m3, valve_m3))
        least = 0.5 * 10.0 ** -at_mark.decimals(unit) * to_si(1.0, unit, "pressure")
        if cost_pa >= least:
            told.append(f"Pushing it on costs {_figure(cost_pa, unit)}{NO_BREAK}{unit}; that is the hose, not a leak.")
    return OwnPump(pressure(set_gauge_pa, unit), f"{_figure(yours, unit)}{NO_BREAK}{unit}", tuple(told))


def valve_volume_m3(bench: BenchFile, what: str = "fork") -> float | None:
    """What the valve of the fork, or of the shock, sees after the change [m³]; None where the spring is not described."""
    if what == "shock":
        after = change.changed(bench)
        end = rear.rear(Design.of([after]))
        if end is None or missing.for_shock(after):
            return None
        return float(filling.seen_by_valve_m3(air_spring.settle(end.chambers)).item())
    spring = known.spring(change.changed(bench))
    return (
        float(filling.seen_by_valve_m3(air_spring.settle(spring.chambers)).item())
        if isinstance(spring, Spring)
        else None
    )


def as_left(
    bench: BenchFile,
    gauge_pa: float | None = None,
    spacers: int | None = None,
    temperature_k: float | None = None,
    what: str = "fork",
) -> BenchFile:
    """The same file with what was really left in the fork, or in the shock (`what`): pressure [Pa gauge], spacers, temperature
    [K]; None keeps the plan's."""
    if temperature_k is not None:
        bench = replace(bench, conditions=replace(bench.conditions, temperature_k=temperature_k))
    if what == "shock":
        return _shock_as_left(bench, gauge_pa, spacers)
    if bench.fork is None or bench.fork.air is None:
        return bench
    new: dict[str, Any] = {}
    if gauge_pa is not None:
        new["pressure_gauge_pa"] = gauge_pa
    if spacers is not None:
        new["spacers"] = spacers
    asked = bench.change if bench.change is not None else Change()
    named = {key: value for key, value in (asked.air or {}).items() if key not in new}
    return replace(bench, change=replace(asked, air=named or None, **new))


def _shock_as_left(bench: BenchFile, gauge_pa: float | None, spacers: int | None) -> BenchFile:
    if bench.shock is None or bench.shock.air is None:
        return bench
    asked = bench.change if bench.change is not None else Change()
    shock = asked.shock if asked.shock is not None else ShockChange()
    shock = replace(
        shock,
        pressure_gauge_pa=shock.pressure_gauge_pa if gauge_pa is None else gauge_pa,
        spacers=shock.spacers if spacers is None else spacers,
    )
    return replace(bench, change=replace(asked, shock=shock))


def pressure_set(bench: BenchFile, what: str = "fork") -> float | None:
    """The pressure of the fork, or of the shock, after the change [Pa gauge], None where the file gives none."""
    changed = change.changed(bench)
    after = changed.shock if what == "shock" else changed.fork
    return after.air.pressure_gauge_pa if after is not None and after.air is not None else None
