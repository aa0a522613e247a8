"""The pressure, or the coil, that holds the sag as it is under riders of other masses: the keep "same sag", with the load of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile, End
from topout.errors import FaultsFound
from topout.physics import air_spring, geometry, leverage, sag
from topout.physics.gas import G0_M_PER_S2, Floats
from topout.planner import change, inexact, inputs, keep, limits, load, missing, rear
from topout.planner.design import Design
from topout.planner.fits import Fits, fits, for_sag_pa, rests_m
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class ByMass:
    """For each mass the gauge pressure [Pa], NaN where none holds the sag; the sag [m] that they all give, of a shock its stroke.

    On a coil there is no pressure: the rate [N/m] of another one, wound up as this, or the preload [m] of this one. `limit_gauge_pa` is the maker's, None where the file has none; `over` says which pressures lie above it, or may. `lacking` names the
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
    known: tuple[Interval | None, ...] | None = None  # of what is set, each with its limits, where the unit was drawn
    sag: Interval | None = None  # the sag that they all give, likewise


def by_mass(bench: BenchFile, mass_kg: Floats, draws: int = inexact.MOVING) -> ByMass:
    """What to set for riders of these masses, so that each sits as deep in the fork as the one in the file does now.

    The load is that of the rider's share on the front wheel, so a sag found and a change are left out: the pressure for
    the file's own rider is the one fitted. A fork that is not exact is told by all that fit (`in_front`).

    bench [SI] (one) as read; mass_kg [kg] (n,) above 0; draws [1] (one) 1 and more, where the fork is not exact → [Pa gauge] (n,) 0
    to 60 bar, else NaN. Raises nothing. Source: physics.md 2, 7 and 12; `keep.at_load`.
    """
    kept = tuple(off for off in bench.doubts if not off.key.startswith("found."))
    as_is = inexact.as_it_is(replace(bench, found=None, doubts=kept))
    if is_open(as_is):
        return in_front(as_is, mass_kg, draws)
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


def is_open(bench: BenchFile) -> bool:
    """Whether what carries the fork's rider is not exact: its air spring left out in part, or something of it or of the weights doubted.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: bench-file.md.
    """
    return inexact.fills(bench) or any(off.key.startswith(("fork.", "rider.", "bike.")) for off in bench.doubts)


def in_front(bench: BenchFile, mass_kg: Floats, draws: int = inexact.MOVING) -> ByMass:
    """The same of a fork that is not exact: every one that fits is set, after the change, as the job's own gauge will show it.

    The load is that of the sag found, else of the weights; that of another rider goes with the share which either puts on the
    front wheel.

    bench [SI] (one) as read; mass_kg [kg] (n,) above 0; draws [1] (one) 1 and more → [Pa gauge] (n,) 0 to 60 bar, else NaN. Raises
    nothing. Source: physics.md 2, 7 and 12; `keep.at_load`.
    """
    after = change.changed(bench)
    air = after.fork.air if after.fork is not None else None
    limit = air.pressure_limit_gauge_pa if air is not None else None
    without = ("[fork.air] pressure",) if calls_for.on_coil(after) else _lacking_in_front(bench)
    of, lacking = _all_that_fit(bench, draws, "front", without)
    if of is None:
        return ByMass(mass_kg, np.full(mass_kg.shape, np.nan), (False,) * mass_kg.size, None, limit, lacking)
    bike, rider, on = of.after.bike, of.after.rider, of.loads.load
    share = np.where(np.isfinite(of.loads.implied_share), of.loads.implied_share, rider.front_share)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = rests_m(of, of.after)
        own_kg = (rider.mass_kg + bike.mass_kg) * share - bike.unsprung_front_kg
        told = []
        for kg in mass_kg:
            more = np.maximum((kg + bike.mass_kg) * share - bike.unsprung_front_kg, 0.0) / own_kg
            scaled = sag.Load(on.axial_n * more, on.vertical_n * more, on.side_n * more)
            told.append(of.told(of.shown_pa(for_sag_pa(of, of.after, rests, load=scaled))))
    over = tuple(limits.over(float(pa), limit) for pa in _of(told, "high95"))
    at = of.told(rests)
    return ByMass(
        mass_kg, _of(told, "median"), over, None if at is None else at.median, limit, known=tuple(told), sag=at
    )


def _all_that_fit(
    bench: BenchFile, draws: int, end: End, lacking: tuple[str, ...]
) -> tuple[Fits | None, tuple[str, ...]]:
    """Every unit that fits; or none, and what is lacking for it."""
    if lacking:
        return None, lacking
    try:
        return fits(bench, draws, end), ()
    except FaultsFound as found:
        return None, tuple(fault.location for fault in found.faults)


def _lacking_in_front(bench: BenchFile) -> tuple[str, ...]:
    """What of the fork's spring, the frame and the weights is not known and not drawn."""
    rider, bike = bench.rider, bench.bike
    share_drawn = inexact.fills(bench)
    places = [] if share_drawn else missing.for_spring(bench)
    places += [*missing.for_load(bench), *missing.for_stance(bench)]
    for place, of, name in (
        ("[rider] mass", rider, "mass_kg"), ("[bike] mass", bike, "mass_kg"),
        ("[bike] unsprung_front", bike, "unsprung_front_kg"), ("[rider] front_share", rider, "front_share"),
    ):  # fmt: skip
        if getattr(of, name, None) is None:
            places.append(place)
    implied = calls_for.found_in_front(bench)  # the sag found says the share
    given = {"[rider] front_share"} if share_drawn or implied else set()
    return tuple(place for place in dict.fromkeys(places) if place not in given)


def _rests_m(design: Design) -> Floats:
    on = load.loads(design)
    bikes = inputs.bikes(rear.stood(design, on.behind_n))
    settled = air_spring.settle(air_spring.computable(bikes.chambers))
    stand = geometry.axle_frame(bikes.chart, bikes.fitted)
    return sag.at_rest_m(settled, stand, on.load, bikes.friction)[0]


def behind(bench: BenchFile, mass_kg: Floats, draws: int = inexact.MOVING) -> ByMass:
    """The same for the rear shock: each rider uses as much of its stroke as the one in the file does now.

    The load is that of the file's own rider by the sag that was found, else by the weights, and of another what the same share of
    rider and bike puts on the rear wheel. The shock is that after the change, so what is set holds the file's own rider. Of a
    shock that was drawn every one that fits is set, as the job's own gauge will show it.

    bench [SI] (one) as read, with a shock; mass_kg [kg] (n,) above 0; draws [1] (one) 1 and more, where the shock is not exact →
    [SI] (n,) by name, else NaN. Raises nothing. Source: physics.md 2, 7 and 12; `keep.at_force`, `keep.coil_rate`, linear in
    pressure, rate and preload.
    """
    shock = bench.shock
    air = shock.air if shock is not None else None
    on_coil = calls_for.on_coil_behind(change.changed(bench))
    limit = air.pressure_limit_gauge_pa if air is not None and not on_coil else None
    of, lacking = _all_that_fit(bench, draws, "rear", _lacking_behind(bench))
    if of is None:
        return ByMass(mass_kg, np.full(mass_kg.shape, np.nan), (False,) * mass_kg.size, None, limit, lacking)
    end, own_n = rear.rear(of.after), of.loads.behind_n
    assert end is not None and own_n is not None, "what lacks was named"
    bike, rider = of.after.bike, of.after.rider
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = rear.at_rest(end, own_n)
        spring = air_spring.settle(air_spring.computable(end.chambers))
        _, ratio, _ = leverage.at(end.linkage, rests.travel_m)
        unsprung_n = bike.unsprung_rear_kg * G0_M_PER_S2
        each_n = (own_n + unsprung_n) / (rider.mass_kg + bike.mass_kg)  # per kilogram of rider and bike
        told: dict[str, list[Interval | None]] = {"pressure": [], "rate": [], "preload": []}
        for kg in mass_kg:
            force_n = np.maximum(each_n * (kg + bike.mass_kg) - unsprung_n, 0.0) * ratio
            if on_coil:
                told["rate"].append(of.told(keep.coil_rate(spring, rests.stroke_m, force_n)))
                told["preload"].append(of.told(keep.coil_preload(spring, rests.stroke_m, force_n)))
            else:
                told["pressure"].append(of.told(of.shown_pa(keep.at_force(spring, rests.stroke_m, force_n))))
    gauge, rate, preload = (_medians(told[name], mass_kg) for name in ("pressure", "rate", "preload"))
    known = tuple(told["rate" if on_coil else "pressure"]) if of.made is not None else None
    most = gauge if known is None or on_coil else _of(known, "high95")
    over = tuple(limits.over(float(pa), limit) for pa in most)
    stroke = of.told(rests.stroke_m)
    return ByMass(
        mass_kg, gauge, over, stroke.median if stroke is not None else None, limit, (), rate if on_coil else None,
        preload if on_coil else None, known, stroke if of.made is not None else None,
    )  # fmt: skip


def as_left(bench: BenchFile) -> BenchFile:
    """The bike without its change and the sags that were found, which were those of another setting than it was left at.

    bench [SI] (one) as read → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    shock = replace(bench.shock, sag_m=None) if bench.shock is not None else None
    wheel = replace(bench.rear_wheel, sag_m=None) if bench.rear_wheel is not None else None
    of_sags = ("found.", "shock.sag", "rear_wheel.sag")
    kept = tuple(off for off in bench.doubts if not off.key.startswith(of_sags))
    return inexact.as_it_is(replace(bench, found=None, shock=shock, rear_wheel=wheel, doubts=kept))


def _medians(told: Sequence[Interval | None], mass_kg: Floats) -> Floats:
    return _of(told, "median") if told else np.full(mass_kg.shape, np.nan)


def _of(told: Sequence[Interval | None], point: str) -> Floats:
    return np.array([np.nan if one is None else getattr(one, point) for one in told])


def _lacking_behind(bench: BenchFile) -> tuple[str, ...]:
    """What of the shock's spring, its linkage and the weights is not known; where its sag was found, no share is asked for."""
    if bench.shock is None:
        return ("[shock]",)
    shock, rider, bike = bench.shock, bench.rider, bench.bike
    places = [] if inexact.fills_behind(bench) else missing.for_shock(bench)
    places += missing.for_wheel(bench)
    of_share = (("[rider] front_share", rider, "front_share"), ("[bike] unsprung_front", bike, "unsprung_front_kg"))
    found = shock.sag_m is not None or (bench.rear_wheel is not None and bench.rear_wheel.sag_m is not None)
    for place, of, name in (
        ("[rider] mass", rider, "mass_kg"), ("[bike] mass", bike, "mass_kg"),
        ("[bike] unsprung_rear", bike, "unsprung_rear_kg"), *(() if found else of_share),
    ):  # fmt: skip
        if getattr(of, name, None) is None:
            places.append(place)
    return tuple(dict.fromkeys(places))
