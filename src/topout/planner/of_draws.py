"""One state of a bike of which not everything is known exactly: curve, sag and stance as medians with their limits.

What is exact goes to `state`; the twin of these functions there takes one bike, here all that fit are worked out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, energy, geometry, leverage, spring_terms
from topout.physics import sag as rest
from topout.physics.gas import Floats
from topout.planner import (
    bounds,
    columns,
    drawn,
    fill,
    held_in,
    inexact,
    inputs,
    leans_on,
    next_reading,
    plan,
    rear,
    rear_bounds,
    state,
)
from topout.planner.drawn import Drawn
from topout.planner.fill import Filled, FillRound, Schedule
from topout.planner.known_to import Bounds
from topout.planner.results import Curve, Geometry, RearCurve, Sag
from topout.uncertainty.intervals import Band, Interval, band, interval
from topout.units import PSI_PA

CURVE_DRAWS: Final = 4_000  # a limit every few millimetres costs as much as a plan; more until they are worth 500
_ROWS: Final = 16  # points along the travel that are worked out at a time


def sag(bench: BenchFile, count: int = inexact.AT_REST) -> Sag:
    """Both ends at rest under the rider.

    bench [SI] (one) as read; count [1] (one) draws, where the file is not exact → [SI] (one). Raises FaultsFound where the
    sag found can't be. Source: physics.md 7 and 12.
    """
    if not inexact.is_drawn(bench):
        return replace(state.sag(bench), defaults=leans_on.of_sag(bench, None))
    found, of = plan.plan_and_draws(inexact.as_it_is(bench), draws=count)
    assert found.bounds is not None and of is not None
    under = found.bounds.under(("before", "sag"), ("sag",))
    taken = leans_on.of_sag(bench, of.made)
    return replace(found.before.sag or Sag(None, None, None), bounds=under, defaults=taken)


def stance(bench: BenchFile, count: int = inexact.AT_REST) -> Geometry | None:
    """How the bike stands, at full extension and at sag; None without a frame.

    bench [SI] (one) as read; count [1] (one) draws, where the file is not exact → [SI] (one) or None. Raises FaultsFound
    where the sag found can't be. Source: physics.md 6 and 12.
    """
    if not inexact.is_drawn(bench):
        stands = state.geometry_of(bench)
        return None if stands is None else leans_on.of_stance(bench, None, stands)
    found, of = plan.plan_and_draws(inexact.as_it_is(bench), draws=count)
    assert found.bounds is not None and of is not None
    if found.before.geometry is None:
        return None
    under = found.bounds.under(("before", "geometry"), ("sag",))
    return leans_on.of_stance(bench, of.made, replace(found.before.geometry, bounds=under))


def curve(bench: BenchFile, points: int = state.POINTS, count: int = CURVE_DRAWS) -> Curve:
    """The spring along the travel at equally spaced points, both ends included; its terms are medians each, and need not add up.

    bench [SI] (one) as read, whole but for what is drawn; points [1] (one) 2 and more; count [1] (one) draws, where the file
    is not exact → [SI] (points,). Raises FaultsFound where the sag found can't be. Source: physics.md 1, 2 and 12.
    """
    if not inexact.is_drawn(bench):
        return replace(state.curve(bench, points), defaults=leans_on.of_curve(bench, None))
    made = drawn.draw(inexact.as_it_is(bench), count)
    bikes = inputs.bikes(rear.stood(made.design, made.loads.behind_n))
    settled = air_spring.settle(air_spring.computable(bikes.chambers))
    sag_m, _, _ = rest.at_rest_m(
        settled, geometry.axle_frame(bikes.chart, bikes.fitted), made.loads.load, bikes.friction
    )
    shares = np.linspace(0.0, 1.0, points)
    parts = [
        _along(settled, np.multiply.outer(shares[first : first + _ROWS], settled.fit.travel_m), sag_m, made.weights)
        for first in range(0, points, _ROWS)
    ]
    along = {place: _joined([part[place] for part in parts]) for place in parts[0]}
    each, known = _whole(settled, made.weights)
    end_force = air_spring.force(settled, settled.fit.travel_m)
    return Curve(
        **_told(along, each, bool(settled.fit.bore_m.any())),
        bounds=_bounds(made, end_force, known, {place: found for place, found in along.items() if _open(found)}),
        defaults=leans_on.of_curve(bench, made),
    )


def curve_behind(bench: BenchFile, points: int = state.POINTS, count: int = CURVE_DRAWS) -> RearCurve:
    """The rear shock along its stroke, and with a leverage at the wheel; drawn only where something of the shock is open.

    bench [SI] (one) as read, whole behind but for what is drawn; points [1] (one) 2 and more; count [1] (one) draws, where the
    shock is not exact → [SI] (points,). Raises FaultsFound where the sag found can't be. Source: physics.md 2, 7 and 12.
    """
    doubted = any(off.key.startswith("shock.") for off in bench.doubts)
    if not doubted and not inexact.fills_behind(bench):
        return replace(state.curve_behind(bench, points), defaults=leans_on.of_curve_behind(bench))
    made = drawn.draw(inexact.as_it_is(bench), count)
    of = rear.rear(made.design)
    assert of is not None, "the caller checks that the shock is described"
    settled = air_spring.settle(air_spring.computable(of.chambers))
    shares, linked = np.linspace(0.0, 1.0, points), bool(np.isfinite(of.end_m).any())
    parts = [
        _along_behind(settled, of, shares[first : first + _ROWS], made.weights, linked)
        for first in range(0, points, _ROWS)
    ]
    along = {place: _joined([part[place] for part in parts]) for place in parts[0]}
    each, known = _whole(settled, made.weights)
    wheel: dict[str, Any] = {}
    if linked:
        falls = interval(leverage.progression(of.linkage, of.end_m), made.weights)
        wheel = {name: along[name,].median for name in WHEEL}
        wheel["progression"] = None if falls is None else falls.median
        if falls is not None and falls.high95 > falls.low95:
            known["progression",] = falls
    end_n = air_spring.force(settled, settled.fit.travel_m)
    next_ = next_reading.behind(made, {"rear-end-force": end_n}, rear_bounds.of_draws(made, made.design))
    return RearCurve(
        **_told(along, each, bool(settled.fit.bore_m.any())),
        bounds=Bounds(
            known, made.count, made.effective, made.seed, made.assumed, made.redrawn,
            {"rear-end-force": bounds.hangs_on(made, end_n)}, tuple(next_),
            {place: found for place, found in along.items() if _open(found)},
        ),
        defaults=leans_on.of_curve_behind(bench),
        **wheel,
    )  # fmt: skip


WHEEL: Final = ("wheel_travel_m", "wheel_force_n", "wheel_rate_n_per_m", "ratio")


def _along_behind(
    s: air_spring.EquilibratedSpring, of: rear.Rear, shares: Floats, weights: Floats, linked: bool
) -> dict[tuple[str, ...], Band]:
    """Everything at some shares of the stroke, and what the wheel has of it."""
    x = np.multiply.outer(shares, s.fit.travel_m)
    found = _along(s, x, np.full_like(s.fit.travel_m, np.nan), weights)
    if not linked:
        return found
    force_n, rate_n_per_m, _, _ = air_spring.force_and_rate(s, x)
    w = leverage.wheel_travel_m(of.linkage, x)
    values = (w, *leverage.at_wheel(of.linkage, w, force_n, rate_n_per_m), leverage.at(of.linkage, w)[1])
    return found | {(name,): band(each, weights) for name, each in zip(WHEEL, values, strict=True)}


def _whole(
    settled: air_spring.EquilibratedSpring, weights: Floats
) -> tuple[dict[str, Interval | None], dict[rear_bounds.Place, Interval]]:
    """What a curve says of all of its travel, and of that what is not exact."""
    values = {
        "lost_travel_m": rest.lost_travel_m(settled), "energy_j": energy.slow_j(settled), "energy_fast_j": energy.fast_j(settled),
    }  # fmt: skip
    each = {name: interval(of, weights) for name, of in values.items()}
    return each, {(name,): one for name, one in each.items() if one is not None and one.high95 > one.low95}


def _told(along: Mapping[tuple[str, ...], Band], each: Mapping[str, Interval | None], gas: bool) -> dict[str, Any]:
    """What a curve is made of, by its fields, medians each; pressures only where there is a chamber."""
    from_sag = along["force_fast_from_sag_n",].median
    middle: dict[str, Any] = {name: np.nan if one is None else one.median for name, one in each.items()}
    for name in ("travel_m", "force_n", "force_fast_n", "rate_n_per_m"):
        middle[name] = along[name,].median
    middle["force_fast_from_sag_n"] = None if np.isnan(from_sag).any() else from_sag
    for name in ("positive_pa", "negative_pa"):
        middle[name] = along[name,].median if gas else None
    middle["terms"] = {place[1]: found.median for place, found in along.items() if place[0] == "terms"}
    return middle


def schedule(
    bench: BenchFile,
    to_gauge_pa: float,
    stops_gauge_pa: Sequence[float] = (),
    gauge_step_pa: float = PSI_PA,
    hose_m3: float = 0.0,
    count: int = CURVE_DRAWS,
) -> Schedule:
    """The filling schedule, each reading as the job's own gauge shows it; rounds until half of the forks that fit have settled.

    bench [SI] (one) as read, whole but for what is drawn; to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge]
    (any) rising, below it; gauge_step_pa [Pa] (one) above 0; hose_m3 [m³] (one) 0 and more; count [1] (one) draws, where
    the file is not exact → [SI] (one). Raises OutOfRange at a stop that does not rise or is not below the last, FaultsFound
    where the sag found can't be. Source: physics.md 3 and 12.
    """
    if not inexact.is_drawn(bench):
        exact = fill.schedule(bench, to_gauge_pa, stops_gauge_pa, gauge_step_pa, hose_m3)
        return replace(exact, defaults=leans_on.of_filling(bench, None, to_gauge_pa, stops_gauge_pa))
    fill.check_stops(to_gauge_pa, stops_gauge_pa)
    made = drawn.draw(inexact.as_it_is(bench), count)
    settled = air_spring.settle(air_spring.computable(inputs.bikes(made.design).chambers))
    air = made.design.air
    own_pa = (
        air.negative_pressure_gauge_pa
        if bool(columns.is_word(air.negative, "negative", "separate-valve").all())
        else None
    )
    said = bench.fork.air if bench.fork is not None else None
    second_pa, limit_pa = (
        (None, None) if said is None else (said.second_pressure_gauge_pa, said.pressure_limit_gauge_pa)
    )
    rounds: list[FillRound] = []
    took = np.full(len(made.design), np.nan)  # rounds until a stroke costs less than the gauge shows
    half = 0.5 * float(np.sum(made.weights))
    settled_after = None
    for number, each in enumerate(fill.filled(settled, to_gauge_pa, stops_gauge_pa, own_pa, hose_m3, made.gauge), 1):
        done = each.last & (each.pumped_gauge_pa - each.after_gauge_pa < gauge_step_pa)
        took = np.where(np.isnan(took) & done, float(number), took)
        if settled_after is None:
            rounds.append(_round(each, own_pa, None if rounds else second_pa, made.weights))
            settled_after = number if float(np.sum(made.weights[~np.isnan(took)])) >= half else None
        if not np.isnan(took).any():
            break
    counted = interval(np.nan_to_num(took, nan=len(stops_gauge_pa) + fill.MOST_ROUNDS + 1.0), made.weights)
    of: dict[rear_bounds.Place, Interval] = (
        {("settled_after",): counted} if counted is not None and counted.high95 > counted.low95 else {}
    )
    return Schedule(
        tuple(rounds), settled_after, _bounds(made, air_spring.force(settled, settled.fit.travel_m), of, {}),
        leans_on.of_filling(bench, made, to_gauge_pa, stops_gauge_pa), limit_pa,
    )  # fmt: skip


def _round(each: Filled, own_pa: Floats | None, second_pa: float | None, weights: Floats) -> FillRound:
    """A round with the limits of what is read in it."""
    values = {"after_stroke_pa": each.after_gauge_pa, "lost_travel_m": each.lost_m}
    if each.reading_gauge_pa is not None:
        values["reading_pa"] = each.reading_gauge_pa
    if own_pa is not None and each.last:
        values["negative_to_pa"] = own_pa
    known = {word: one for word, of in values.items() if (one := interval(of, weights)) is not None}
    middle = {word: one.median for word, one in known.items()}
    limits = {word: one for word, one in known.items() if one.high95 > one.low95}
    return FillRound(
        each.pumped_gauge_pa, middle["after_stroke_pa"], middle.get("reading_pa"), middle["lost_travel_m"],
        middle.get("negative_to_pa"), second_pa, limits,
    )  # fmt: skip


def _along(s: air_spring.EquilibratedSpring, x: Floats, sag_m: Floats, weights: Floats) -> dict[tuple[str, ...], Band]:
    """Everything at some places of the travel, x (rows, n)."""
    main, negative = air_spring.pressures(s, x)
    _, rate, _, _ = air_spring.force_and_rate(s, x)
    terms = spring_terms.terms(s, x)
    found: dict[tuple[str, ...], Floats] = {
        ("travel_m",): x, ("force_n",): np.sum(list(terms.values()), axis=0),
        ("force_fast_n",): air_spring.force_fast(s, x, np.zeros_like(s.fit.travel_m)),
        ("force_fast_from_sag_n",): air_spring.force_fast(s, x, sag_m), ("rate_n_per_m",): rate,
        ("positive_pa",): main, ("negative_pa",): negative,
    }  # fmt: skip
    found |= {("terms", name): values for name, values in terms.items()}
    return {place: band(values, weights) for place, values in found.items()}


def _joined(parts: list[Band]) -> Band:
    return Band(*(np.concatenate([getattr(part, name) for part in parts]) for name in Band.__slots__))


def _open(found: Band) -> bool:
    """Whether anything of it is not exact."""
    return bool(np.any(found.high95 - found.low95 > 1e-9 * np.abs(found.median)))


def _bounds(
    made: Drawn, end_force: Floats, of: dict[tuple[str, ...], Interval], bands: dict[tuple[str, ...], Band]
) -> Bounds:
    return Bounds(
        of, made.count, made.effective, made.seed, made.assumed, made.redrawn,
        {"end-force": bounds.hangs_on(made, end_force)}, tuple(next_reading.in_front(made, {"end-force": end_force}, held_in.of_unit(made.bench))), bands,
    )  # fmt: skip
