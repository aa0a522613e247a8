"""What the draws say of a plan's rear end: each number by its place, the medians, and which reading would settle it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, replace
from typing import Final, TypeAlias

import numpy as np

from topout.physics import air_spring, leverage
from topout.physics.gas import Floats
from topout.planner import held_in, rear_plan, typical, typical_can
from topout.planner.design import Design
from topout.planner.drawn import Drawn
from topout.planner.fitted import STANDS_AT
from topout.planner.rear import AtRest
from topout.planner.rear_plan import RearEvaluation
from topout.planner.results import Warned
from topout.planner.shocks import Shocks
from topout.uncertainty import draws, intervals
from topout.uncertainty.intervals import Interval, median

Place: TypeAlias = tuple[str, ...]  # of a number in the plan's JSON
Simulated: TypeAlias = tuple[str, float | None, list[Floats], float | None, float | None]
CALIPER_M: Final = (0.00005, 0.00005)  # of a bore, of a damper body
SYRINGE: Final = 0.02  # of a volume that is filled (trade.md 2: 2 to 5 %)
SCALE_N: Final = 20.0  # standard uncertainty of a force read in a press
HELD_AT: Final = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)  # of the stroke, where a press may hold it for a reading
STEP_M: Final = 0.001  # a press is set finer than a strap
SETTLES: Final = 3  # from above and from below each
_STATES: Final = ("before", "after")


def of_draws(made: Drawn, after: Design) -> RearEvaluation | None:
    """The rear ends of draws before and after their change, pressures as the job's own gauge will show them; None without a shock.

    made [SI] (n,) the draws; after [SI] (n,) their change done → [SI] (2, n) or None. Raises nothing. Source: physics.md 2, 7
    and 12.
    """
    found = rear_plan.evaluate(made.design, after, made.loads.behind_n, made.inputs.get("shock.settle"))
    if found is None:
        return None
    return replace(found, keep_gauge_pa={name: made.gauge.shown_pa(pa) for name, pa in found.keep_gauge_pa.items()})


def answers(found: RearEvaluation | None) -> dict[str, Floats]:
    """The four answers of a rear end that a reading is chosen by, by name; none without a shock.

    found [SI] (2, n) any, pressures as the gauge shows them, or None → [SI] (n,) each. Raises nothing. Source: bench-file.md.
    """
    if found is None:
        return {}
    return {
        "rear-keep-sag": found.keep_gauge_pa["sag"], "rear-keep-sag-share": found.keep_gauge_pa["sag_share"],
        "rear-sag": found.rests.stroke_m[1], "rear-end-force": found.end_force_n[1],
    }  # fmt: skip


def values(found: RearEvaluation, made: Drawn) -> dict[Place, Floats]:
    """The draws of each number of the rear end, by its place in the plan's JSON.

    found [SI] (2, n) any, pressures as the gauge shows them; made [SI] (n,) the draws → [SI] (n,) by place. Raises nothing.
    Source: bench-file.md.
    """
    rests, of = found.rests, found.of
    whole, end = of.end_m, of.chambers.travel_m
    lost_wheel = leverage.wheel_travel_m(of.linkage, found.lost_m)
    first, last = (leverage.at(of.linkage, w)[1] for w in (np.zeros_like(whole), whole))
    both: dict[Place, Floats] = {
        ("sag", "rear", "travel_m"): rests.travel_m, ("sag", "rear", "share"): rests.travel_m / whole,
        ("sag", "rear", "low_m"): rests.low_m, ("sag", "rear", "high_m"): rests.high_m,
        ("sag", "rear", "load_n"): np.broadcast_to(found.load_n, end.shape),
        ("sag", "rear", "shown_m"): np.maximum(rests.travel_m - lost_wheel, 0.0),
        ("sag", "rear", "stroke_m"): rests.stroke_m, ("sag", "rear", "stroke_shown_m"): _shown(found, made),
        ("sag", "rear", "share_of_stroke"): rests.stroke_m / end,
        ("sag", "rear", "share_of_wheel_travel"): rests.travel_m / whole,
        ("rear", "end_force_n"): found.end_force_n, ("rear", "wheel_end_force_n"): found.wheel_end_force_n,
        ("rear", "wheel_travel_m"): whole, ("rear", "ratio_start"): first, ("rear", "ratio_end"): last,
        ("rear", "progression"): 1.0 - last / first, ("rear", "wheel_rate_n_per_m"): found.sag_rate_n_per_m,
    }  # fmt: skip
    told: dict[Place, Floats] = {}
    for place, pair in both.items():
        told["before", *place], told["after", *place] = pair
        told["difference", *place] = pair[1] - pair[0]
    for kept, unit in ((found.keep_gauge_pa, "pressure_pa"), (found.keep_n_per_m, "rate_n_per_m")):
        told |= {("rear", "keep", name.replace("_", "-"), unit): each for name, each in kept.items()}
    for name, pair in found.hazard.items():
        told |= {("rear", "hazard", state, name): each for state, each in zip(_STATES, pair, strict=True)}
    return told


def _shown(found: RearEvaluation, made: Drawn) -> Floats:
    """What the ring on the shock will show [m], settled anew in each state: the one interval that is a promise of a ring's place."""
    of, rests, shown = found.of, found.rests, np.empty_like(found.lost_m)
    strokes = [leverage.at(of.linkage, w)[0] for w in (rests.low_m, rests.high_m)]
    for row, state in enumerate(_STATES):
        chance = draws.stream(made.seed, f"as left behind, {state}")
        at = draws.uniform(chance, -1.0, 1.0, shown.shape[1])
        x = rests.stroke_m[row]
        settled_m = x + np.where(at > 0.0, at * (strokes[0][row] - x), at * (x - strokes[1][row]))
        ring_m = draws.normal(chance, 0.0, typical_can.SAG_DOUBT.standard_si, shown.shape[1])
        shown[row] = np.maximum(settled_m - found.lost_m[row] + ring_m, 0.0)
    return shown


def medians(exact: RearEvaluation, said: Mapping[Place, Interval]) -> RearEvaluation:
    """One rear end, each number the median of the draws; what can hurt is its 97.5 % point.

    exact [SI] (2, 1) of the bench file that stands for the draws; said [SI] (any) by place → [SI] (2, 1). Raises nothing.
    Source: physics.md 12.
    """

    def at(place: Place, point: str = "median") -> float:
        one = said.get(place)
        return np.nan if one is None else float(getattr(one, point))

    def both(*place: str) -> Floats:
        return np.array([[at((state, *place))] for state in _STATES])

    def kept(named: Mapping[str, Floats], unit: str) -> dict[str, Floats]:
        return {name: np.array([at(("rear", "keep", name.replace("_", "-"), unit))]) for name in named}

    rests = AtRest(*(both("sag", "rear", f.name) for f in fields(AtRest)))
    return replace(
        exact,
        load_n=np.array([at(("after", "sag", "rear", "load_n"))]),
        rests=rests,
        end_force_n=both("rear", "end_force_n"),
        wheel_end_force_n=both("rear", "wheel_end_force_n"),
        sag_rate_n_per_m=both("rear", "wheel_rate_n_per_m"),
        hazard={
            name: np.array([[at(("rear", "hazard", state, name), "high95")] for state in _STATES])
            for name in exact.hazard
        },
        keep_gauge_pa=kept(exact.keep_gauge_pa, "pressure_pa"),
        keep_n_per_m=kept(exact.keep_n_per_m, "rate_n_per_m"),
    )


def dangers(made: Drawn, found: RearEvaluation) -> Iterator[Warned]:
    """What can hurt in some of the shocks that fit: what is not known is taken from its bad side.

    made [SI] (n,) the draws; found [SI] (2, n) their rear ends → [-] (any) warnings. Raises nothing. Source: physics.md 9.
    """
    if "shock.air.port_position" in made.assumed:
        text = f"Air may stay trapped in the negative chamber of the shock after bleeding at {STANDS_AT['shock']}: where the port lies is not known."
        yield Warned("charged-negative", text, "before")
        yield Warned("charged-negative", text, "after")
    if float(np.sum(made.weights[found.locked[1]])) > 0.05 * float(np.sum(made.weights)):
        text = "After the change the shock may lock before the end of its stroke. Measure its volume first."
        yield Warned("hydraulic-lock", text, "after")


def readings(made: Drawn, found: RearEvaluation, begins: held_in.Begins) -> list[Simulated]:
    """Each reading of a shock that could be taken, as every draw would give it, with its own scatter.

    The gauge is read with the pump on and the shock held in by a press: a rear shock is never compressed so outside one (physics.md 5).

    made [SI] (n,) the draws; found [SI] (2, n) their rear ends; begins [SI] (one) how a reading far in is begun → [SI] (any). Raises nothing. Source: physics.md 5 and 12.
    """
    shock = made.design.shock
    assert shock is not None
    n = len(made.design)
    chance = draws.stream(made.seed, "readings of the shock to come")

    def noisy(of: Floats, standard: float | Floats) -> Floats:
        return of + standard * chance.standard_normal(n)

    one = found.of.take(0)
    told: list[Simulated] = [
        ("syringe", None, _opened(noisy, shock), None, None),
        ("caliper", None, [noisy(shock.air.bore_m, CALIPER_M[0]), noisy(shock.air.shaft_m, CALIPER_M[1])], None, None),
    ]
    at = _places(one.chambers.travel_m) if begins.most_pa > 0.0 else np.zeros(0)
    true, force, scatter = held_in.held(made, at, begins.start_pa, end="rear")
    of_each = (intervals.each(list(of), made.weights) for of in (true, force))
    for at_m, true_pa, scatter_pa, high, holds in zip(at.tolist(), true, scatter, *of_each, strict=True):
        if high is not None and high.high95 <= begins.most_pa:
            read = noisy(made.gauge.shown_pa(true_pa), scatter_pa)
            told.append(("gauge", at_m, [read], holds.high95 if holds else None, high.high95))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = air_spring.settle(air_spring.computable(one.chambers))
        half_m = 0.5 * float(median(one.chambers.travel_m))
        pressed = air_spring.force(settled, np.full(n, half_m))
    told.append(("scale", half_m, [noisy(pressed, SCALE_N)], None, None))
    stood = made.inputs.get("shock.settle")
    if stood is not None:
        several = [noisy(each, 8.0 / SETTLES**0.5) for each in (stood, shock.unit.friction_n)]
        told.append(("settles", None, several, None, None))
    if "rider.front_share" in made.assumed:
        share = made.design.rider.front_share
        told.append(("front-share", None, [noisy(share, typical.FRONT_SHARE[1] / 3.0)], None, None))
    return [each for each in told if all(np.isfinite(values).all() for values in each[2])]


def _places(stroke_m: Floats) -> Floats:
    """Where a shock may be held for a reading, to whole steps of a press [m]."""
    whole_m = float(median(stroke_m))
    if not np.isfinite(whole_m):
        return np.zeros(0)
    return np.round(STEP_M * np.round(np.array(HELD_AT) * whole_m / STEP_M), 6)


def _opened(noisy: Callable[[Floats, float | Floats], Floats], shock: Shocks) -> list[Floats]:
    """What is measured with the can off: its volume, bore and damper body, and the column of air that follows."""
    volume_m3 = noisy(shock.air.positive_volume_m3, SYRINGE * shock.air.positive_volume_m3)
    bore_m, body_m = (noisy(of, off) for of, off in zip((shock.air.bore_m, shock.air.shaft_m), CALIPER_M, strict=True))
    return [volume_m3, bore_m, body_m, volume_m3 / bore_m**2]
