"""The load on the fork: from the sag that was found, or from an assumed share of the weight."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics import air_spring, filling, geometry, sag
from topout.physics.gas import G0_M_PER_S2, Bools, Floats
from topout.physics.sag import Load
from topout.planner import design as designs
from topout.planner import inputs, rear, typical
from topout.planner.columns import first_known
from topout.planner.design import Design
from topout.units import BENCH, PSI_PA, System, show


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Loads:
    """The loads of n bikes, arrays of shape (n,), NaN where a bike gives neither a sag found nor rider, bike and frame.

    `calibrated` where the sag found gave it, `implied_share` the share of rider and bike on the front wheel that follows
    then; `beyond` where the sag found lies at or past the end of the travel, so that there is no load either.
    """

    load: Load
    calibrated: Bools
    implied_share: Floats
    beyond: Bools
    behind_n: Floats | None = None  # on the rear wheel; None where no bike has a [shock]

    def take(self, index: Any) -> Loads:
        """The same for a part of the bikes (any numpy index).

        index [1] (any) a numpy index → [N] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        behind = None if self.behind_n is None else self.behind_n[index]
        own = (self.calibrated[index], self.implied_share[index], self.beyond[index])
        return Loads(self.load.take(index), *own, behind)


@dataclass(frozen=True, slots=True)
class LoadOn:
    """The load of one bike, used before and after; `calibrated` where the sag found gave it.

    `implied_share` of rider and bike on the front wheel follows from a calibrated load, None where it can't.
    """

    load: Load  # arrays of shape (1,)
    calibrated: bool
    implied_share: float | None
    behind_n: Floats | None = None  # on the rear wheel, of a bike with a [shock]; NaN where not known


def loads(design: Design, settled: Floats | None = None, settled_behind: Floats | None = None) -> Loads:
    """The loads on the forks as they are.

    Calibrated: at the pressure found the fork is `sag` (as the ring shows it, so lost travel comes on top) in; the
    slow force there, friction left out, is the load along the steering axis, the same number before and after.
    Assumed: (rider + bike)·share less the unsprung mass, vertical; sin α of it presses along the axis.
    Behind, on bikes with a rear shock: by the rear sag found, else what weight is left. Where the front was calibrated that
    weight follows from the head angle, that from the rear's sag, and that from the weight: repeated until it stays, each turn
    taking the error down tenfold and more (a rear wheel turns the head by its travel over the wheelbase).
    `settled` says where in its band of friction each fork stood when the sag was found: 1 held out all it can, −1 held in.

    design [SI] (n,) any; settled, settled_behind [1] (n,) −1 to 1, None for friction left out → [N] (n,) NaN where not known. Raises nothing. Source: physics.md 7.
    """
    rider, bike, found = design.rider, design.bike, design.calibrates
    framed = designs.framed(design)
    weight_kg = rider.mass_kg + bike.mass_kg
    sprung_kg = weight_kg * rider.front_share - bike.unsprung_front_kg
    upright = np.maximum(sprung_kg, 0.0) * G0_M_PER_S2
    vertical = np.where(framed, upright, np.nan)
    axial, side = np.zeros_like(vertical), vertical.copy()
    share, beyond = np.full_like(vertical, np.nan), np.zeros(vertical.shape, dtype=bool)
    rows = slice(None) if found.all() else np.nonzero(found)[0]
    behind, standing = None, design
    end = rear.rear(design)
    if end is not None:
        spring = rear.spring(end)  # the same in every turn
        by_sag = rear.found_load_n(design, end, settled_behind, spring)
        behind = first_known(by_sag, rear.weight_left_n(design, np.where(found, np.nan, upright)))
        standing = rear.stood(design, behind, of=end, settled=spring)
    if found.any():
        some = standing if found.all() else standing.take(rows)
        axial[rows], at_m, beyond[rows] = _calibrated(some, None if settled is None else settled[rows])
        for _ in range(1 if end is None else _TURNS):
            some = standing if found.all() else standing.take(rows)
            side[rows] = _upright(some, axial[rows], at_m)
            if behind is None:
                break
            last, behind = behind, first_known(by_sag, rear.weight_left_n(design, side))
            standing = rear.stood(design, behind, of=end, settled=spring, near_m=standing.rear_wheel.sag_m)
            if not ((np.abs(behind - last) > _SETTLED_N) | (np.isnan(last) & ~np.isnan(behind))).any():
                break
        vertical[rows] = 0.0 * axial[rows]
        share[rows] = ((side / G0_M_PER_S2 + bike.unsprung_front_kg) / weight_kg)[rows]
    return Loads(Load(axial, vertical, side), found, share, beyond, behind)


_TURNS: Final = 20
_SETTLED_N: Final = 1e-9


def _calibrated(design: Design, where: Floats | None) -> tuple[Floats, Floats, Bools]:
    """Load along the axis [N], the travel used there [m], and where the sag found is past the travel: the fork's own affair."""
    pressed = replace(design, air=replace(design.air, pressure_gauge_pa=_found_gauge_pa(design)))
    bikes = inputs.bikes(pressed)
    settled = air_spring.settle(air_spring.computable(bikes.chambers))
    x = sag.lost_travel_m(settled) + design.found.sag_m
    beyond = x >= settled.fit.travel_m
    force = air_spring.force(settled, x)
    if where is not None:
        main, _ = air_spring.pressures(settled, x)
        force = force + where * (bikes.friction.still_n + bikes.friction.per_pa * (main - settled.fit.ambient_pa))
    return np.where(beyond, np.nan, np.maximum(force, 0.0)), x, beyond


def _upright(design: Design, axial: Floats, at_m: Floats) -> Floats:
    """The vertical load [N] that presses so along the axis as the bike stands, NaN without a frame."""
    sin, _ = geometry.head_angle_sine(inputs.stand(design), at_m)
    return np.where(designs.framed(design), axial / sin, np.nan)


def _found_gauge_pa(design: Design) -> Floats:
    """The pressure found [Pa gauge] as it is at full extension; one read where the fork rested short is converted."""
    at_m = first_known(design.found.read_at_m, 0.0)
    read = np.where(designs.on_coil(design), 0.0, design.found.pressure_gauge_pa)  # a coil has none
    if not np.any(at_m):
        return read
    chambers = inputs.bikes(design).chambers
    return np.where(at_m > 0.0, filling.at_full_extension_pa(read, at_m, chambers), read)


def gauge_off_pa(design: Design, of: Loads) -> float | None:
    """What the gauge would have to show too much [Pa] for the load of the sag found to put the usual share on the front wheel.

    The share that the file gives, else what is usual; the slow force is linear in the pressure, so that one step says it.

    design [SI] (1,) as found; of [N] (1,) its loads → [Pa] (one) below 0 where it shows too little, or None. Raises nothing.
    Source: physics.md 2 and 7, derived.
    """
    share = float(of.implied_share[0])
    if not of.calibrated[0] or math.isnan(share):
        return None
    usual = first_known(design.rider.front_share, typical.FRONT_SHARE[0])[0]
    found = design.found
    more = replace(design, found=replace(found, pressure_gauge_pa=found.pressure_gauge_pa + PSI_PA))
    slope = (float(loads(more).implied_share[0]) - share) / PSI_PA
    return (share - float(usual)) / slope if slope > 0.0 else None


def said_found(bench: BenchFile, system: System = BENCH) -> str:
    """The sag found with its pressure, and the reading converted where it was taken short of full extension.

    bench [SI] (one) as read; system [-] (one) the units to say it in → [-] (one) words, none without both. Raises
    nothing. Source: physics.md 2.
    """
    found = bench.found
    if not found or found.sag_m is None:
        return ""
    if found.pressure_gauge_pa is None:
        return system.show(found.sag_m, "length", "mm", trim=True) if calls_for.on_coil(bench) else ""
    said = f"{system.show(found.sag_m, 'length', 'mm', trim=True)} at {system.show(found.pressure_gauge_pa, 'pressure', 'psi', trim=True)}"
    there = float(_found_gauge_pa(Design.of([bench]))[0])
    if not found.read_at_m or math.isnan(there):
        return said
    short = system.show(found.read_at_m, "length", "mm", trim=True)
    return f"{said} read {short} short, {system.show(there, 'pressure', 'psi')} at full extension"


def load_on(bench: BenchFile) -> LoadOn | None:
    """The load on the fork as it is, None where the file gives neither a sag found nor rider, bike and frame.

    Raises FaultsFound where the sag found lies beyond the travel.

    bench [SI] (one) as read → [N] (1,) or None. Raises FaultsFound where the sag found lies beyond the travel. Source:
    physics.md 7.
    """
    return of_one(bench, loads(Design.of([bench])))


def of_one(bench: BenchFile, on: Loads) -> LoadOn | None:
    """The one load in `on`, which belongs to this bench file. Raises FaultsFound as `load_on` does.

    bench [SI] (one) as read; on [N] (1,) its loads → [N] (1,) or None. Raises FaultsFound where the sag found lies
    beyond the travel. Source: physics.md 7.
    """
    found, fork = bench.found, bench.fork
    if on.beyond[0] and found is not None and fork is not None:
        shown, travel = (show(length_m or 0.0, "length", "mm") for length_m in (found.sag_m, fork.travel_m))
        raise FaultsFound(
            [Fault("[found] sag", f"is at or past the end of the {travel} travel. Measure it again.", shown)]
        )
    if math.isnan(on.load.axial_n[0] + on.load.vertical_n[0]):
        return None
    share = float(on.implied_share[0])
    return LoadOn(on.load, bool(on.calibrated[0]), share if math.isfinite(share) else None, on.behind_n)
