"""The pressure, or the coil, that holds the sag as it is under riders of other masses: the keep "same sag", with the load of each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, geometry, leverage, sag
from topout.physics.gas import Floats
from topout.planner import inputs, keep, limits, load, missing, rear
from topout.planner.design import Design


@dataclass(frozen=True, slots=True)
class ByMass:
    """For each mass the gauge pressure [Pa], NaN where none holds the sag; the sag [m] that they all give, of a shock its stroke.

    On a coil there is no pressure: the rate [N/m] of another one, wound up as this, or the preload [m] of this one. `limit_gauge_pa` is the maker's, None where the file has none; `over` says which pressures lie above it. `lacking` names the
    keys without which nothing could be computed: then there are no pressures.
    """

    mass_kg: Floats
    pressure_gauge_pa: Floats
    over: tuple[bool, ...]
    sag_m: float | None
    limit_gauge_pa: float | None
    lacking: tuple[str, ...] = ()
    rate_n_per_m: Floats | None = None
    preload_m: Floats | None = None


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


def behind(bench: BenchFile, mass_kg: Floats) -> ByMass:
    """The same for the rear shock: each rider uses as much of its stroke as the one in the file does now.

    The load is what the rider's share on the front wheel leaves for the rear one; a sag found and a change are left out.

    bench [SI] (one) as read, with a shock; mass_kg [kg] (n,) above 0 → [SI] (n,) by name, else NaN. Raises
    nothing. Source: physics.md 2 and 7; `keep.at_force`, `keep.coil_rate`, linear in pressure, rate and preload.
    """
    shock = bench.shock
    air = shock.air if shock is not None else None
    on_coil = shock is not None and shock.coil is not None
    limit = air.pressure_limit_gauge_pa if air is not None and not on_coil else None
    none = np.full(mass_kg.shape, np.nan)
    lacking = _lacking_behind(bench)
    if lacking or shock is None:
        return ByMass(mass_kg, none, (False,) * mass_kg.size, None, limit, lacking)
    wheel = replace(bench.rear_wheel, sag_m=None) if bench.rear_wheel is not None else None
    one = Design.of([replace(bench, found=None, change=None, shock=replace(shock, sag_m=None), rear_wheel=wheel)])
    many = one.take(np.zeros(mass_kg.size, dtype=int))
    many = replace(many, rider=replace(many.rider, mass_kg=mass_kg))
    own, end = load.loads(one).behind_n, rear.rear(one)
    wanted, ends = load.loads(many).behind_n, rear.rear(many)
    assert own is not None and end is not None and wanted is not None and ends is not None
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = rear.at_rest(end, own)
        stroke = float(rests.stroke_m[0])
        at_m = np.full(mass_kg.shape, stroke)
        spring = air_spring.settle(air_spring.computable(ends.chambers))
        _, ratio, _ = leverage.at(ends.linkage, np.full(mass_kg.shape, float(rests.travel_m[0])))
        force_n = wanted * ratio
        gauge = none if on_coil else keep.at_force(spring, at_m, force_n)
        rate = keep.coil_rate(spring, at_m, force_n) if on_coil else None
        preload = keep.coil_preload(spring, at_m, force_n) if on_coil else None
    over = tuple(limits.over(float(pa), limit) for pa in gauge)
    told_m = stroke if np.isfinite(stroke) else None
    return ByMass(mass_kg, gauge, over, told_m, limit, (), rate, preload)


def _lacking_behind(bench: BenchFile) -> tuple[str, ...]:
    """What of the shock's spring, its linkage and the weights is not known."""
    if bench.shock is None:
        return ("[shock]",)
    shock, rider, bike = bench.shock, bench.rider, bench.bike
    places = [*missing.for_shock(bench)]
    if not (shock.leverage or shock.leverage_stroke):
        places.append("[shock] leverage")
    for place, of, name in (
        ("[rider] mass", rider, "mass_kg"), ("[rider] front_share", rider, "front_share"), ("[bike] mass", bike, "mass_kg"),
        ("[bike] unsprung_front", bike, "unsprung_front_kg"), ("[bike] unsprung_rear", bike, "unsprung_rear_kg"),
    ):  # fmt: skip
        if getattr(of, name, None) is None:
            places.append(place)
    return tuple(dict.fromkeys(places))
