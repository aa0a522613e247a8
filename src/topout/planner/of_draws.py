"""One state of a bike of which not everything is known exactly: curve, sag and stance as medians with their limits.

What is exact goes to `state`; the twin of these functions there takes one bike, here all that fit are worked out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, energy, geometry, spring_terms
from topout.physics import sag as rest
from topout.physics.gas import Floats
from topout.planner import bounds, columns, drawn, fill, held_in, inputs, leans_on, plan, rear, rear_bounds, state
from topout.planner.drawn import Drawn
from topout.planner.fill import Filled, FillRound, Schedule
from topout.planner.known_to import Bounds
from topout.planner.results import Curve, Geometry, Sag
from topout.uncertainty.intervals import Band, Interval, band, interval
from topout.units import PSI_PA

CURVE_DRAWS: Final = 4_000  # a limit every few millimetres costs as much as a plan; more until they are worth 500
_ROWS: Final = 16  # points along the travel that are worked out at a time


def sag(bench: BenchFile, count: int = drawn.AT_REST) -> Sag:
    """Both ends at rest under the rider.

    bench [SI] (one) as read; count [1] (one) draws, where the file is not exact → [SI] (one). Raises FaultsFound where the
    sag found can't be. Source: physics.md 7 and 12.
    """
    if not drawn.is_drawn(bench):
        return replace(state.sag(bench), defaults=leans_on.of_sag(bench, None))
    found, of = plan.plan_and_draws(drawn.as_it_is(bench), draws=count)
    assert found.bounds is not None and of is not None
    under = found.bounds.under(("before", "sag"), ("sag",))
    taken = leans_on.of_sag(bench, of.made)
    return replace(found.before.sag or Sag(None, None, None), bounds=under, defaults=taken)


def stance(bench: BenchFile, count: int = drawn.AT_REST) -> Geometry | None:
    """How the bike stands, at full extension and at sag; None without a frame.

    bench [SI] (one) as read; count [1] (one) draws, where the file is not exact → [SI] (one) or None. Raises FaultsFound
    where the sag found can't be. Source: physics.md 6 and 12.
    """
    if not drawn.is_drawn(bench):
        stands = state.geometry_of(bench)
        return None if stands is None else leans_on.of_stance(bench, None, stands)
    found, of = plan.plan_and_draws(drawn.as_it_is(bench), draws=count)
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
    if not drawn.is_drawn(bench):
        return replace(state.curve(bench, points), defaults=leans_on.of_curve(bench, None))
    made = drawn.draw(drawn.as_it_is(bench), count)
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
    whole = {
        "lost_travel_m": rest.lost_travel_m(settled), "energy_j": energy.slow_j(settled), "energy_fast_j": energy.fast_j(settled),
    }  # fmt: skip
    each = {name: interval(values, made.weights) for name, values in whole.items()}
    middle = {name: np.nan if one is None else one.median for name, one in each.items()}
    end_force = air_spring.force(settled, settled.fit.travel_m)
    from_sag = along["force_fast_from_sag_n",].median
    coiled = not settled.fit.bore_m.any()  # no chamber, no pressure
    known: dict[rear_bounds.Place, Interval] = {
        (name,): one for name, one in each.items() if one is not None and one.high95 > one.low95
    }
    return Curve(
        along["travel_m",].median, along["force_n",].median, along["force_fast_n",].median,
        None if np.isnan(from_sag).any() else from_sag,
        along["rate_n_per_m",].median, None if coiled else along["positive_pa",].median,
        None if coiled else along["negative_pa",].median,
        middle["lost_travel_m"], middle["energy_j"], middle["energy_fast_j"],
        {place[1]: found.median for place, found in along.items() if place[0] == "terms"},
        _bounds(made, end_force, known, {place: found for place, found in along.items() if _open(found)}),
        leans_on.of_curve(bench, made),
    )  # fmt: skip


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
    if not drawn.is_drawn(bench):
        return fill.schedule(bench, to_gauge_pa, stops_gauge_pa, gauge_step_pa, hose_m3)
    fill.check_stops(to_gauge_pa, stops_gauge_pa)
    made = drawn.draw(drawn.as_it_is(bench), count)
    settled = air_spring.settle(air_spring.computable(inputs.bikes(made.design).chambers))
    air = made.design.air
    own_pa = (
        air.negative_pressure_gauge_pa
        if bool(columns.is_word(air.negative, "negative", "separate-valve").all())
        else None
    )
    fork = bench.fork
    second_pa = fork.air.second_pressure_gauge_pa if fork is not None and fork.air is not None else None
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
        tuple(rounds), settled_after, _bounds(made, air_spring.force(settled, settled.fit.travel_m), of, {})
    )


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
        {"end-force": bounds.hangs_on(made, end_force)}, tuple(bounds.next_readings(made, {"end-force": end_force}, held_in.of_unit(made.bench))), bands,
    )  # fmt: skip
