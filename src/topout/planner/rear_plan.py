"""The rear end of n plans, before and after side by side: where it rests, its end forces, what can hurt, what keeps what."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Any, Literal

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, hazards, leverage
from topout.physics import sag as rest
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Bools, Floats
from topout.planner import keep, rear
from topout.planner.columns import first_known
from topout.planner.design import Design
from topout.planner.evaluate import Named
from topout.planner.hazard import Hazard
from topout.planner.keeps import RearKeep, RearKeeps
from topout.planner.rear import AtRest, Rear
from topout.planner.results import RearEnd, RearPlan, RearSag


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class RearEvaluation:
    """Results of n rear ends, state axis first, (2, n); NaN where locked or not known.

    `keep_gauge_pa` and, on a coil, `keep_n_per_m` are (n,) each by the names of Keeps; `load_n` on the wheel is (n,).
    """

    of: Rear
    load_n: Floats
    rests: AtRest
    lost_m: Floats
    end_force_n: Floats
    wheel_end_force_n: Floats
    sag_rate_n_per_m: Floats  # of the wheel where it rests
    hazard: Named
    keep_gauge_pa: Named
    keep_n_per_m: Named
    locked: Bools


def evaluate(
    before: Design, after: Design, load_n: Floats | None, settle_n: Floats | None = None
) -> RearEvaluation | None:
    """The rear ends of n plans; None where none has a [shock].

    Without a leverage nobody knows what the wheel carries; where the sag was found at the shock, what it carried there is known
    all the same, and the pressure that holds it there. `settle_n` is by how much friction held each shock out then, below 0 in.

    before, after [SI] (n,) any; load_n [N] (n,) on the rear wheels, or None; settle_n [N] (n,) or None for friction left out →
    [SI] (2, n) or None. Raises nothing. Source: physics.md 2, 7 and 9.
    """
    one, two = rear.rear(before), rear.rear(after)
    if one is None or two is None or load_n is None:
        return None
    of = rear.side_by_side(one, two)
    chambers, locked = of.chambers, air_spring.locked(of.chambers)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = rear.at_rest(of, load_n)
        settled = air_spring.settle(air_spring.computable(chambers))
        end = chambers.travel_m
        end_force, rate, _, _ = air_spring.force_and_rate(settled, end)
        wheel, _ = leverage.at_wheel(of.linkage, of.end_m, end_force, rate)
        names = (f.name for f in fields(Hazard))
        hurts = dict(zip(names, hazards.at_full_extension(chambers), strict=True))
        springs = settled.take(0), settled.take(1)
        on_coil = springs[1].sprung is not None
        inside = (rests.travel_m[0] > 0.0) & (rests.stroke_m[0] < end[0])
        stroke = np.where(inside, rests.stroke_m[0], np.nan)
        gauge, rates = {}, {}
        held_m = np.where(np.isnan(of.end_m[0]), _held_m(springs[0], before, settle_n), np.nan)
        held_n = air_spring.force(springs[0], held_m)
        for name, share in (("sag", np.ones_like(stroke)), ("sag_share", end[1] / end[0])):
            at_m = stroke * share
            _, ratio, _ = leverage.at(of.linkage.take(1), leverage.wheel_travel_m(of.linkage.take(1), at_m))
            at_m = first_known(at_m, np.where(share == 1.0, held_m, np.nan))  # at another stroke the ratio is another
            wanted_n = first_known(load_n * ratio, held_n)
            gauge[name] = keep.at_force(springs[1], at_m, wanted_n)
            rates[name] = keep.coil_rate(springs[1], at_m, wanted_n) if on_coil else np.full_like(stroke, np.nan)
        gauge["end_force"] = keep.at_end_force(springs[1], end_force[1], end_force[0])
        gauge["curve"] = keep.at_curve(*springs)
        rates["end_force"] = keep.coil_rate(springs[1], end[1], end_force[0])
        rates["curve"] = keep.coil_rate_of_curve(*springs)
        coils = chambers.spring_n_per_m[1] > 0.0
    return RearEvaluation(
        of,
        load_n,
        rests,
        rest.lost_travel_m(settled),
        end_force,
        wheel,
        rear.at_sag(of, rests)[0],
        {name: np.where(locked, np.nan, value) for name, value in hurts.items()},
        {name: np.where(coils, np.nan, value) for name, value in gauge.items()},
        {name: np.where(coils, value, np.nan) for name, value in rates.items()},
        locked,
    )


def _held_m(spring: EquilibratedSpring, design: Design, settle_n: Floats | None) -> Floats:
    """The stroke [m] at which each shock balances what it carried where its sag was found; NaN where none was found."""
    assert design.shock is not None
    found_m = design.shock.unit.sag_m
    if settle_n is None or np.isnan(found_m).all():
        return found_m
    return found_m + settle_n / air_spring.force_and_rate(spring, found_m)[1]


def take(found: RearEvaluation, rows: slice) -> RearEvaluation:
    """A part of the plans.

    found [SI] (2, n) any; rows [1] (one) a slice of n → [SI] (2, m). Raises nothing. Source: none needed, bookkeeping.
    """
    at = (slice(None), rows)

    def of(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: each[..., rows] for key, each in value.items()}
        return value[..., rows] if isinstance(value, np.ndarray) else value.take(at)

    rests = AtRest(*(of(getattr(found.rests, f.name)) for f in fields(AtRest)))
    others = {f.name: of(getattr(found, f.name)) for f in fields(RearEvaluation) if f.name != "rests"}
    return RearEvaluation(rests=rests, **others)


def said_end(found: RearEvaluation, row: Literal[0, 1]) -> RearEnd:
    """The end of the stroke of one bike's state, and its linkage; None where something is not known.

    found [SI] (2, 1) of one plan; row [-] (one) before or after → [SI] (one). Raises nothing. Source: physics.md 7.
    """
    linkage, end_m = found.of.linkage.take(row), found.of.end_m[row]
    _, first, _ = leverage.at(linkage, np.zeros_like(end_m))
    _, last, _ = leverage.at(linkage, end_m)
    values = (
        found.end_force_n[row], found.wheel_end_force_n[row], end_m, first, last, leverage.progression(linkage, end_m),
        found.sag_rate_n_per_m[row],
    )  # fmt: skip
    return RearEnd(*(_number(value) for value in values))


def said_sag(found: RearEvaluation | None, bench: BenchFile, row: Literal[0, 1]) -> RearSag | None:
    """Where one bike's rear end rests in a state: as computed, else as it was found; None where neither is known.

    found [SI] (2, 1) of one plan, or None; bench [SI] (one) that state as read; row [-] (one) before or after → [SI] (one) or
    None. Raises nothing. Source: physics.md 7.
    """
    asked = bench.rear_wheel.sag_m if bench.rear_wheel else None
    if found is None:
        return None if asked is None else RearSag(asked)
    at = (row, 0)
    travel, stroke, end = found.rests.travel_m[at], found.rests.stroke_m[at], found.of.chambers.travel_m[at]
    if math.isnan(travel):
        return _as_found(found, bench, row, asked)
    whole, lost = found.of.end_m[at], found.lost_m[at]
    lost_wheel = leverage.wheel_travel_m(found.of.linkage.take(row), found.lost_m[row])[0]
    return RearSag(
        travel_m=float(travel), share=float(travel / whole), low_m=float(found.rests.low_m[at]),
        high_m=float(found.rests.high_m[at]), load_n=_number(found.load_n), shown_m=float(max(travel - lost_wheel, 0.0)),
        stroke_m=float(stroke), stroke_shown_m=float(max(stroke - lost, 0.0)), share_of_stroke=float(stroke / end),
        share_of_wheel_travel=float(travel / whole),
    )  # fmt: skip


def _as_found(found: RearEvaluation, bench: BenchFile, row: Literal[0, 1], asked: float | None) -> RearSag | None:
    """The sag found, where nothing can be computed: of the stroke and, through the leverage, of the wheel; or of the wheel."""
    shock = bench.shock
    if asked is not None:
        return RearSag(asked)
    if shock is None or shock.sag_m is None:
        return None
    travel = _number(leverage.wheel_travel_m(found.of.linkage.take(row), np.array([shock.sag_m])))
    whole = _number(found.of.end_m[row])
    share = None if travel is None or whole is None else travel / whole
    of_stroke = shock.sag_m / shock.stroke_m if shock.stroke_m else None
    return RearSag(travel, share, stroke_m=shock.sag_m, share_of_stroke=of_stroke, share_of_wheel_travel=share)


def said_plan(found: RearEvaluation) -> RearPlan:
    """The keeps and hazards of one bike's rear end.

    found [SI] (2, 1) of one plan → [SI] (one). Raises nothing. Source: bench-file.md.
    """
    keeps = {name: RearKeep(_number(pa), _number(found.keep_n_per_m[name])) for name, pa in found.keep_gauge_pa.items()}
    states = ({name: _number(value[row]) for name, value in found.hazard.items()} for row in (0, 1))
    before, after = (Hazard.of(each) for each in states)
    return RearPlan(RearKeeps(**keeps), before, after)


def _number(value: Floats) -> float | None:
    """A number of one bike, shape (1,); None where it is not known."""
    one = float(value[0])
    return one if math.isfinite(one) else None
