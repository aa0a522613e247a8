"""The load on the fork: from the sag that was found, or from an assumed share of the weight."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import G0_M_PER_S2
from topout.physics.sag import Load
from topout.planner import missing, stack
from topout.records import dataclass
from topout.units import show


@dataclass(frozen=True, slots=True)
class LoadOn:
    """The load of one bike, used before and after; `calibrated` where the sag found gave it.

    `implied_share` of rider and bike on the front wheel follows from a calibrated load, None where it can't.
    """

    load: Load  # arrays of shape (1,)
    calibrated: bool
    implied_share: float | None


def load_on(bench: BenchFile) -> LoadOn | None:
    """The load on the fork as it is, None where the file gives neither a sag found nor rider, bike and frame.

    Calibrated: at the pressure found the fork is `sag` (as the ring shows it, so lost travel comes on top) in; the
    slow force there, friction left out, is the load along the steering axis, the same number before and after.
    Assumed: (rider + bike)·share less the unsprung mass, vertical; sin α of it presses along the axis.
    Raises FaultsFound where the sag found lies beyond the travel.
    """
    framed = not missing.for_stance(bench)
    if bench.found is not None:
        return _calibrated(bench, framed)
    rider, bike = bench.rider, bench.bike
    if missing.for_load(bench) or not framed or rider is None or bike is None:
        return None
    assert rider.mass_kg and rider.front_share and bike.mass_kg and bike.unsprung_front_kg is not None
    sprung_kg = (rider.mass_kg + bike.mass_kg) * rider.front_share - bike.unsprung_front_kg
    vertical = np.array([max(sprung_kg, 0.0) * G0_M_PER_S2])
    return LoadOn(Load(np.zeros(1), vertical, vertical), False, None)


def _calibrated(bench: BenchFile, framed: bool) -> LoadOn | None:
    found, fork = bench.found, bench.fork
    assert found is not None
    if found.sag_m is None or found.pressure_gauge_pa is None or fork is None or fork.air is None:
        return None
    as_found = replace(bench, fork=replace(fork, air=replace(fork.air, pressure_gauge_pa=found.pressure_gauge_pa)))
    if missing.for_spring(as_found):
        return None
    bikes = stack.bikes([as_found])
    settled = air_spring.settle(bikes.chambers)
    x = sag.lost_travel_m(settled) + found.sag_m
    if x[0] >= settled.fit.travel_m[0]:
        shown = show(found.sag_m, "length", "mm")
        travel = show(float(settled.fit.travel_m[0]), "length", "mm")
        raise FaultsFound(
            [Fault("[found] sag", f"is at or past the end of the {travel} travel. Measure it again.", shown)]
        )
    axial = np.maximum(air_spring.force(settled, x), 0.0)
    if not framed:
        return LoadOn(Load(axial, np.zeros(1), np.zeros(1)), True, None)
    sin, _ = geometry.head_angle_sine(geometry.stand(bikes.chart, bikes.fitted), x)
    vertical = axial / sin
    return LoadOn(Load(axial, np.zeros(1), vertical), True, _share(bench, float(vertical[0])))


def _share(bench: BenchFile, vertical_n: float) -> float | None:
    """Share of rider and bike on the front wheel that this vertical load means."""
    rider, bike = bench.rider, bench.bike
    if rider is None or bike is None or rider.mass_kg is None or bike.mass_kg is None or bike.unsprung_front_kg is None:
        return None
    share = (vertical_n / G0_M_PER_S2 + bike.unsprung_front_kg) / (rider.mass_kg + bike.mass_kg)
    return share if math.isfinite(share) else None
