"""Which reading would settle an answer that is not known exactly: what each that could be taken next would leave of its doubt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from topout.physics import air_spring
from topout.planner import held_in, inputs, rear_bounds, typical
from topout.planner.drawn import Drawn
from topout.planner.known_to import Next
from topout.planner.rear_bounds import Simulated
from topout.planner.rear_plan import RearEvaluation
from topout.uncertainty import draws, intervals, left
from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import median

HELD_AT: Final = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8)  # of the travel, where the fork may be held for a reading
CALIPER_M: Final = (0.00005, 0.00002)  # of a bore, of a shaft
SETTLES: Final = 3  # from above and from below each
SCALE_N: Final = 10.0  # standard uncertainty of a force read at a travel
SHARE_ON_SCALE: Final = 0.005  # of the front share with both wheels on scales
ALIKE: Final = 1.05  # two half-widths that differ by less are one to whoever takes the reading
ENOUGH_TO_COMPARE: Final = 4_000  # draws by which readings are compared with each other


def in_front(made: Drawn, answers: Mapping[str, Floats], begins: held_in.Begins) -> list[Next]:
    """What each further reading would leave of the doubt, best first: by how much it narrows the answers, taken together.

    made [SI] (n,) as drawn; answers [SI] (n,) each, by name; begins [SI] (one) how a reading far in is begun → [SI] (any). Raises nothing. Source: physics.md 12.
    """
    simulated = _readings(made, begins) if made.of_moves is None else _readings_of_moves(made.of_moves, begins)
    return _best(made, answers, simulated, begins.start_pa)


def behind(made: Drawn, answers: Mapping[str, Floats], ends: RearEvaluation | None) -> list[Next]:
    """The same of a rear shock; the gauge is read with it held in by a press.

    made [SI] (n,) as drawn; answers [SI] (n,) each, by name; ends [SI] (2, n) its rear ends, or None → [SI] (any). Raises nothing.
    Source: physics.md 12.
    """
    if ends is None:
        return []
    begins = held_in.of_unit(made.bench, end="rear")
    shock = made.bench.shock
    if shock is None or shock.air is None:
        begins = replace(begins, most_pa=0.0)  # a coil has no gauge
    return _best(made, answers, rear_bounds.readings(made, ends, begins), begins.start_pa)


def _best(made: Drawn, answers: Mapping[str, Floats], simulated: list[Simulated], start: float) -> list[Next]:
    some = draws.alike(made.weights, min(ENOUGH_TO_COMPARE, len(made.weights)))  # one drawn twice tells no more
    answers = {name: values[some] for name, values in answers.items()}
    now = {name: known.half for name, known in left.half_widths(answers, []).items()}
    found = []
    for kind, travel_m, readings, hold_n, shows_pa in simulated:
        half = left.half_widths(answers, [each[some] for each in readings])
        usable = {name: value for name, value in half.items() if np.isfinite(value.half)}
        start_pa = start if kind == "gauge" else None
        if usable:
            between = {name: (known.least, known.most) for name, known in usable.items()}
            found.append(
                Next(
                    kind,
                    travel_m,
                    {name: known.half for name, known in usable.items()},
                    hold_n,
                    shows_pa,
                    start_pa,
                    between,
                )
            )
    best: dict[str, Next] = {}
    for each in sorted(found, key=lambda n: _narrows(n, now)):
        best.setdefault(each.kind, each)
    for end in ("end-force", "rear-end-force"):
        if far := [each for each in found if each.kind == "gauge" and end in each.half_width]:
            # The end is what a gauge alone tells; where several travels tell nearly as much, the one that takes least to hold.
            least = ALIKE * min(each.half_width[end] for each in far)
            best["gauge"] = next(each for each in far if each.half_width[end] <= least)
    return sorted(best.values(), key=lambda n: _narrows(n, now))


def _narrows(reading: Next, now: Mapping[str, float]) -> float:
    """The mean over the answers of what is left, as a share of what there is: less is better."""
    shares = [reading.half_width[name] / now[name] for name in reading.half_width if now[name] > 0.0]
    return float(np.mean(shares)) if shares else 1.0


@lru_cache(maxsize=4)
def _readings_of_moves(made: Drawn, begins: held_in.Begins) -> list[Simulated]:
    return _readings(made, begins)


def _readings(made: Drawn, begins: held_in.Begins) -> list[Simulated]:
    """Each reading that could be taken, as every draw would give it, with its own scatter: kind, travel, numbers; and for
    one far in, begun low, the force that holds it and what the gauge may show, both on the high side."""
    design, n = made.design, len(made.design)
    chance = draws.stream(made.seed, "readings to come")

    def noisy(values: Floats, standard: float | Floats) -> Floats:
        return values + standard * chance.standard_normal(n)

    mark_pa = typical.GAUGE_READ_PA
    travel_m = float(median(design.fork.travel_m))
    bikes = inputs.bikes(design)
    settled = air_spring.settle(air_spring.computable(bikes.chambers))
    found: list[Simulated] = []
    shares = HELD_AT if np.isfinite(travel_m) else ()
    at = np.array([held_in.STEP_M * round(share * travel_m / held_in.STEP_M) for share in shares])
    true, force, scatter = held_in.held(made, at, begins.start_pa)
    told = zip(
        at.tolist(), true, scatter, *(intervals.each(list(of), made.weights) for of in (true, force)), strict=True
    )
    for at_m, true_pa, scatter_pa, high, holds in told:
        if high is not None and high.high95 <= begins.most_pa:
            read = noisy(made.gauge.shown_pa(true_pa), scatter_pa)
            found.append(("gauge", at_m, [read], holds.high95 if holds else None, high.high95))
    found.append(
        ("caliper", None, [noisy(design.air.bore_m, CALIPER_M[0]), noisy(design.air.shaft_m, CALIPER_M[1])], None, None)
    )
    stood = made.inputs.get("found.settle")
    if stood is not None:
        several = [noisy(each, 4.0 / SETTLES**0.5) for each in (stood, bikes.friction.still_n)]
        found.append(("settles", None, several, None, None))
    half_way = np.full(n, 0.5 * travel_m)
    found.append(("scale", 0.5 * travel_m, [noisy(air_spring.force(settled, half_way), SCALE_N)], None, None))
    front = made.inputs.get("rider.front_share")
    if front is not None and np.isfinite(front).all():
        found.append(("front-share", None, [noisy(front, SHARE_ON_SCALE)], None, None))
    chambers = bikes.chambers
    pumped_pa = made.gauge.true_pa(np.full(n, float(median(design.air.pressure_gauge_pa)))) + chambers.ambient_pa
    at_port_m3 = chambers.positive_m3 - settled.positive_m2 * chambers.port_m
    negative_m3 = chambers.negative_m3 + settled.negative_m2 * chambers.port_m
    # Both amounts pooled at the port and parted there by volume, the negative chamber empty before (physics.md 3).
    pooled_pa = (pumped_pa * chambers.positive_m3 + chambers.ambient_pa * chambers.negative_m3) / (
        at_port_m3 + negative_m3
    )
    drop = np.where(chambers.port_m > 0.0, pumped_pa - pooled_pa * at_port_m3 / chambers.positive_m3, 0.0)
    found.append(("first-stroke", None, [noisy(drop, 2**0.5 * mark_pa)], None, None))
    return found
