"""The pressure that holds the sag as it is under riders of other masses: the keep "same sag", with the load of each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import Floats
from topout.planner import inputs, keep, limits, load, missing, rear
from topout.planner.design import Design


@dataclass(frozen=True, slots=True)
class ByMass:
    """For each mass the gauge pressure [Pa], NaN where none holds the sag; the sag [m] that they all give.

    `limit_gauge_pa` is the maker's, None where the file has none; `over` says which pressures lie above it. `lacking` names the
    keys without which nothing could be computed: then there are no pressures.
    """

    mass_kg: Floats
    pressure_gauge_pa: Floats
    over: tuple[bool, ...]
    sag_m: float | None
    limit_gauge_pa: float | None
    lacking: tuple[str, ...] = ()


def by_mass(bench: BenchFile, mass_kg: Floats) -> ByMass:
    """What to set for riders of these masses, so that each sits as deep in the fork as the one in the file does now.

    The load is that of the rider's share on the front wheel, so a sag found and a change are left out: the pressure for
    the file's own rider is the one fitted.

    bench [SI] (one) as read; mass_kg [kg] (n,) above 0 → [Pa gauge] (n,) 0 to 60 bar, else NaN. Raises nothing. Source:
    physics.md 2 and 7; `keep.at_load`.
    """
    as_is = replace(bench, found=None, change=None)
    air = bench.fork.air if bench.fork else None
    limit = air.pressure_limit_gauge_pa if air else None
    lacking = tuple(dict.fromkeys([*missing.for_spring(as_is), *missing.for_load(as_is), *missing.for_stance(as_is)]))
    none = np.full(mass_kg.shape, np.nan)
    one = Design.of([as_is])
    if lacking or air is None or air.pressure_gauge_pa is None:
        lacking = lacking or ("[fork.air] pressure",)
        return ByMass(mass_kg, none, (False,) * mass_kg.size, None, limit, lacking)
    many = one.take(np.zeros(mass_kg.size, dtype=int))
    many = replace(many, rider=replace(many.rider, mass_kg=mass_kg))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = float(_rests_m(one)[0])
        on = load.loads(many)
        bikes = inputs.bikes(rear.stood(many, on.behind_n))
        settled = air_spring.settle(air_spring.computable(bikes.chambers))
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        gauge = keep.at_load(settled, stand, on.load, np.full(mass_kg.shape, rests))
    over = tuple(limits.over(float(pa), limit) for pa in gauge)
    return ByMass(mass_kg, gauge, over, rests if np.isfinite(rests) else None, limit)


def _rests_m(design: Design) -> Floats:
    on = load.loads(design)
    bikes = inputs.bikes(rear.stood(design, on.behind_n))
    settled = air_spring.settle(air_spring.computable(bikes.chambers))
    stand = geometry.axle_frame(bikes.chart, bikes.fitted)
    return sag.at_rest_m(settled, stand, on.load, bikes.friction)[0]
