"""The plan: how the bike is, how it would be, what differs, what to set. The one entry for one bike."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, clearance
from topout.physics.sag import Load
from topout.planner import change, evaluate, fitted, limits, load, missing, stack, state
from topout.planner.evaluate import STANCE_NAMES, Evaluation
from topout.planner.load import LoadOn
from topout.planner.results import (
    Clearance,
    Curve,
    EndSag,
    Geometry,
    Hazard,
    Keep,
    Keeps,
    Plan,
    Sag,
    Stance,
    State,
    Warned,
    as_json,
    difference,
)  # fmt: skip
from topout.planner.stack import Bikes
from topout.records import dataclass

_NOTHING = Load(np.zeros(1), np.zeros(1), np.zeros(1))


@dataclass(frozen=True, slots=True)
class _Side:
    """One state of the plan: its bench file, its column in the evaluation, and what of it is known."""

    bench: BenchFile
    row: Literal[0, 1]
    which: Literal["before", "after"]
    sprung: bool
    framed: bool


def plan(bench: BenchFile, *, curves: bool = False) -> Plan:
    """Compare the bike as it is with the bike after `[change]`; what can't be computed is None and warned of.

    `after` is at the pressure that the change names, else the one fitted. With `curves` both force curves come too.
    Raises FaultsFound where the sag found can't be.
    """
    changed = change.changed(bench)
    on = load.load_on(bench)
    pairs = stack.pairs([bench])
    result = evaluate.evaluate(pairs, on.load if on else _NOTHING, kept=False, points=None)
    stuck = evaluate.locked(pairs.chambers)[:, 0]
    sides = (_side(bench, 0, "before", bool(stuck[0])), _side(changed, 1, "after", bool(stuck[1])))
    one, two = (_state(side, result, on) for side in sides)
    rests = one.sag is not None and one.sag.front is not None
    keeps = _keeps(result, all(side.sprung for side in sides), rests)
    warned = _missing(bench, changed)
    if stuck[1]:
        text = (
            "After the change a chamber has no room left within the travel: it would lock. Nothing is computed from it."
        )
        warned.append(Warned("hydraulic-lock", text, "after"))
    for side, of in zip(sides, (one, two), strict=True):
        warned += _of_side(side, of, result)
    if one.geometry is not None and one.geometry.chart.closes is False:
        text = "The chart's own figures do not agree with each other. Measure the frame, or check the chart."
        warned.append(Warned("chart-open", text, "before"))
    warned += limits.of_change(one.geometry, two.geometry)
    if on is not None and sides[0].sprung:
        warned += limits.of_load(on.calibrated, on.implied_share)
    if all(side.sprung for side in sides):
        before_m, after_m = (float(end) for end in pairs.chambers.travel_m[:, 0])
        warned += limits.of_keeps(keeps, one, (before_m, after_m), rests=rests)
    drawn = [
        _curve(side, of, pairs) if curves and side.sprung else None for side, of in zip(sides, (one, two), strict=True)
    ]
    return Plan(
        one,
        two,
        difference(as_json(one), as_json(two)),
        keeps,
        room(changed),
        _hazard(sides[0], result),
        _hazard(sides[1], result),
        tuple(warned),
        drawn[0],
        drawn[1],
    )


def _side(bench: BenchFile, row: Literal[0, 1], which: Literal["before", "after"], stuck: bool) -> _Side:
    sprung = not missing.for_spring(bench) and not stuck
    return _Side(bench, row, which, sprung, not missing.for_stance(bench))


def _state(side: _Side, result: Evaluation, on: LoadOn | None) -> State:
    at = (side.row, 0)
    fork = side.bench.fork
    turned_by_friction = fork is not None and fork.friction_side > 0.0
    rests = side.sprung and on is not None and (side.framed or not turned_by_friction)
    front = rear = None
    if rests and on is not None and fork is not None and fork.travel_m is not None:
        x, lost = float(result.sag_m[at]), float(result.lost_m[at])
        low, high, load_n = (float(values[at]) for values in (result.low_m, result.high_m, result.load_n))
        front = EndSag(x, x / fork.travel_m, low, high, load_n, max(x - lost, 0.0), on.implied_share)
    if side.bench.rear_wheel is not None and side.bench.rear_wheel.sag_m is not None:
        rear = EndSag(side.bench.rear_wheel.sag_m)
    geometry = None
    if side.framed:
        sagged = _stance(result.sagged[(slice(None), *at)]) if rests else None
        geometry = Geometry(_stance(result.unloaded[(slice(None), *at)]), sagged, state.chart(side.bench))
    angle = geometry.sagged.head_angle_rad if geometry is not None and geometry.sagged is not None else None
    at_rest = Sag(front, rear, angle) if front is not None or rear is not None else None
    return State(geometry, at_rest, float(result.end_force_n[at]) if side.sprung else None)


def _stance(column: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Stance:
    return Stance(**dict(zip(STANCE_NAMES, map(float, column), strict=True)))


def _curve(side: _Side, of: State, pairs: Bikes) -> Curve:
    """The curve of a state; it rests where the evaluation found it."""
    front = of.sag.front if of.sag is not None else None
    sag_m = None if front is None or front.travel_m is None else np.array([front.travel_m])
    return state.curve_of(air_spring.settle(pairs.chambers.take(side.row)), sag_m)


def _hazard(side: _Side, result: Evaluation) -> Hazard | None:
    return Hazard(*(float(v) for v in result.hazard[:, side.row, 0])) if side.sprung else None


def _keeps(result: Evaluation, known: bool, rests: bool) -> Keeps:
    """The four pressures; without a load there is no sag to keep, also where the unloaded fork rests short."""
    values = [float(p) if known and math.isfinite(p) else None for p in result.keep_gauge_pa[:, 0]]
    if not rests:
        values[:2] = [None, None]
    return Keeps(*map(Keep, values))


def _of_side(side: _Side, of: State, result: Evaluation) -> list[Warned]:
    """What is warned of in one state alone."""
    fork = side.bench.fork
    warned = list(limits.of_limits(side.bench, side.which))
    warned += limits.of_port(side.bench, side.which)
    if side.sprung:
        warned += limits.of_spring(float(result.lost_m[side.row, 0]), side.which)
    if of.sag is not None:
        warned += limits.of_sag(of.sag, side.which)
    warned += limits.of_room(as_json(room(side.bench)), fork.overtravel_m if fork else 0.0, side.which)
    return warned


def room(bench: BenchFile) -> Clearance:
    """Room for the tyres of one state [m], None where the file does not say."""
    fork, frame = bench.fork, bench.frame
    front, rear = fitted.front_radius_m(bench), fitted.rear_radius_m(bench)
    crown = brace = behind = None
    if fork is not None and front is not None:
        if fork.tyre_room_m is not None and fork.travel_m is not None:
            crown = float(clearance.tyre_to_crown_m(fork.tyre_room_m, fork.travel_m, front))
        if fork.brace_room_m is not None:
            brace = float(clearance.tyre_to_fixed_m(fork.brace_room_m, front))
    if frame is not None and frame.rear_tyre_room_m is not None and rear is not None:
        behind = float(clearance.tyre_to_fixed_m(frame.rear_tyre_room_m, rear))
    return Clearance(crown, brace, behind)


def _missing(bench: BenchFile, changed: BenchFile) -> list[Warned]:
    """One warning for each key without which a part of the plan is None, named as programs look it up."""
    first, later = missing.of_plan(bench, changed)
    text = "{} is not given: what follows from it is left out."
    warned = [Warned("missing-input", text.format(place), "before") for place in first]
    return warned + [Warned("missing-input", text.format(place), "after") for place in later]
