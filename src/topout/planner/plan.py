"""The plan: how the bike is, how it would be, what differs, what to set. The one entry for one bike."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile, Fork, Frame
from topout.physics import air_spring, clearance, hazards
from topout.planner import (
    change,
    defaults,
    evaluate,
    fitted,
    hurts,
    inexact,
    inputs,
    limits,
    load,
    missing,
    over_limit,
    rear,
    rear_plan,
    state,
)
from topout.planner import design as designs
from topout.planner.design import Changes, Design
from topout.planner.evaluate import Evaluation, Named
from topout.planner.hazard import Hazard
from topout.planner.inputs import Bikes
from topout.planner.keeps import Keep, Keeps
from topout.planner.load import LoadOn
from topout.planner.rear_plan import RearEvaluation
from topout.planner.results import (
    Chart,
    Clearance,
    Curve,
    EndSag,
    Geometry,
    Plan,
    RearCurve,
    Sag,
    State,
    Warned,
    as_json,
    difference,
)  # fmt: skip

if TYPE_CHECKING:
    from topout.planner.bounds import Answered
    from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class _Side:
    """One state of the plan: its bench file, its column in the evaluation, and what of it is known."""

    bench: BenchFile
    row: Literal[0, 1]
    which: Literal["before", "after"]
    stuck: bool
    lacks_spring: tuple[str, ...]
    lacks_stance: tuple[str, ...]

    @property
    def sprung(self) -> bool:
        """Its spring can be computed."""
        return not (self.stuck or self.lacks_spring)

    @property
    def framed(self) -> bool:
        """Its stance can be computed."""
        return not self.lacks_stance


def plan(bench: BenchFile, *, curves: bool = False, draws: int = 0) -> Plan:
    """Compare the bike as it is with the bike after `[change]`; what can't be computed is None and warned of.

    `after` is at the pressure that the change names, else the one fitted. With `curves` both force curves come too.
    With `draws`, what the file leaves open beside its stanchions is drawn that often: the numbers are medians, what can
    hurt is the 97.5 % point, and `bounds` says how far they are known. Raises FaultsFound where the sag found can't be.

    bench [SI] (one) as read; curves [-] (one) yes or no; draws [1] (one) 0 and more → [SI] (one). Raises FaultsFound
    where the sag found can't be. Source: bench-file.md; physics.md.
    """
    return plan_and_draws(bench, curves=curves, draws=draws)[0]


def plan_and_draws(bench: BenchFile, *, curves: bool = False, draws: int = 0) -> tuple[Plan, Answered | None]:
    """The plan, and the draws that it was told from: for pictures of them. None where nothing was drawn.

    bench [SI] (one) as read; curves [-] (one) yes or no; draws [1] (one) 0 and more → [SI] (2). Raises FaultsFound where
    the sag found can't be. Source: bench-file.md; physics.md.
    """
    if not (draws and inexact.is_drawn(bench)):
        told = hurts.on_high_side(bench, compared(bench, curves), draws == inexact.MOVING)
        return replace(told, defaults=defaults.of_plan(bench, None, told.clearance.tyre_to_crown_m)), None
    from topout.planner import bounds  # an exact plan starts without what is told of draws

    found = bounds.answer(bench, draws)
    forked = ("after", "end_force_n") not in found.bounds.of  # the fork's own force is known: its curves are lines
    told = compared(found.bench, curves and forked, found.medians, found.said, behind_too=curves)
    told = replace(told, warnings=(*found.warned, *told.warnings), bounds=found.bounds, stands_for=found.bench)
    told = hurts.on_high_side(bench, told, draws == inexact.MOVING)
    told = replace(told, defaults=defaults.of_plan(bench, found.bench, told.clearance.tyre_to_crown_m))
    return told, found


def compared(
    bench: BenchFile,
    curves: bool,
    medians: Evaluation | None = None,
    said: Mapping[tuple[str, ...], Interval] | None = None,
    *,
    behind_too: bool = False,
) -> Plan:
    """The plan of a bench file that says all; `medians` stands in place of what is evaluated from it, `said` of its rear end.
    With `behind_too` the shock's curves come where the fork's don't.

    bench [SI] (one) as read; curves, behind_too [-] (one) yes or no; medians [SI] (2, 1) or None; said [SI] (any) by place, or None → [SI] (one). Raises FaultsFound
    where the sag found can't be. Source: bench-file.md; physics.md.
    """
    before, changes = Design.of([bench]), Changes.of([bench])
    after = designs.changed(before, changes)
    changed = change.written_back(bench, before, after)
    loads = load.loads(before)
    on = load.of_one(bench, loads)
    behind = rear_plan.evaluate(before, after, loads.behind_n)
    if behind is not None and said is not None:
        from topout.planner import rear_bounds  # as above

        behind = rear_bounds.medians(behind, said)
    asked_m = changes.rear_wheel.sag_m
    before, after = rear.stood(before, loads.behind_n), rear.stood(after, loads.behind_n, asked_m)
    pairs = inputs.pairs(before, after)
    result = medians or evaluate.evaluate(pairs, loads.load, store_curves=False, points=None)
    locked = air_spring.locked(pairs.chambers)[:, 0]
    # Where one in twenty of what was drawn locks there is no middle of the rest, whatever the one bike that stands for them does.
    stuck = locked if medians is None else locked | np.isnan(medians.end_force_n[:, 0])
    sides = (_side(bench, 0, "before", bool(stuck[0])), _side(changed, 1, "after", bool(stuck[1])))
    chart = state.chart(bench, pairs.take((0, slice(None)))) if sides[0].framed else None
    one, two = (_state(side, result, on, chart, float(pairs.chambers.travel_m[side.row, 0]), behind) for side in sides)
    rests = bool(one.sag and one.sag.front)
    keeps = _keeps(result, all(side.sprung for side in sides), rests)
    on_coil = calls_for.on_coil(changed)
    warned = _missing(bench, changed)
    if behind is not None and behind.locked[1, 0]:
        text = "After the change the shock would lock before the end of its stroke. Nothing is computed from it."
        warned.append(Warned("hydraulic-lock", text, "after"))
    if locked[1]:
        text = (
            "After the change a chamber has no room left within the travel: it would lock. Nothing is computed from it."
        )
        warned.append(Warned("hydraulic-lock", text, "after"))
    columns_m = hazards.column_m(pairs.chambers)[:, 0]
    for side, of in zip(sides, (one, two), strict=True):
        if side.sprung:
            warned += limits.of_end(
                of.end_force_n, float(columns_m[side.row]), side.which, side.bench.fork.air if side.bench.fork else None
            )
        half = _half(said, side.which, "sag", "front", "share")
        warned += _of_side(side, of, result, half, least=medians is not None)
        if behind is not None:
            lost_m = float(behind.lost_m[side.row, 0])
            half = _half(said, side.which, "sag", "rear", "share_of_stroke")
            warned += limits.of_shock(side.bench, of.sag.rear if of.sag else None, lost_m, side.which, half)
    if one.geometry and one.geometry.chart.closes is False:
        text = "The chart's own figures do not agree with each other. Measure the frame, or check the chart."
        warned.append(Warned("chart-open", text, "before"))
    warned += limits.of_change(one.geometry, two.geometry)
    if on and sides[0].sprung:
        warned += limits.of_load(on.calibrated, on.implied_share, load.gauge_off_pa(before, loads))
    if all(side.sprung for side in sides):
        before_m, after_m = (float(end) for end in pairs.chambers.travel_m[:, 0])
        warned += limits.of_keeps(keeps, one, (before_m, after_m), rests=rests, on_coil=on_coil)
    drawn = [
        _curve(side, of, pairs) if curves and side.sprung else None for side, of in zip(sides, (one, two), strict=True)
    ]
    told = None if behind is None else rear_plan.said_plan(behind)
    keeps, rear_keeps = over_limit.marked(changed, keeps, None if told is None else told.keep, said)
    shocks = [_shock_curve(behind, row) if curves or behind_too else None for row in (0, 1)]
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
        on_coil=on_coil,
        rear=None if told is None or rear_keeps is None else replace(told, keep=rear_keeps),
        shock_before=shocks[0],
        shock_after=shocks[1],
    )


def _shock_curve(behind: RearEvaluation | None, row: Literal[0, 1]) -> RearCurve | None:
    """A shock's curve in one state; None where it can't be computed."""
    if behind is None or math.isnan(behind.end_force_n[row, 0]):
        return None
    of = behind.of.take(row)
    stroke_m = behind.rests.stroke_m[row]
    sag_m = None if math.isnan(stroke_m[0]) else stroke_m
    return state.curve_at_wheel(state.curve_of(air_spring.settle(of.chambers), sag_m), of.linkage, of.end_m)


def _side(bench: BenchFile, row: Literal[0, 1], which: Literal["before", "after"], stuck: bool) -> _Side:
    return _Side(bench, row, which, stuck, tuple(missing.for_spring(bench)), tuple(missing.for_stance(bench)))


def _state(
    side: _Side, result: Evaluation, on: LoadOn | None, chart: Chart | None, travel_m: float,
    behind: RearEvaluation | None,
) -> State:  # fmt: skip
    at = (side.row, 0)
    fork = side.bench.fork or Fork()
    front = None
    # A side load follows from the head angle as it was found, which a frame that lacks a figure before the change has not.
    aside = bool(side.framed and on and math.isfinite(on.load.side_n[0]))
    rests = side.sprung and (fork.friction_side == 0.0 or aside)
    if rests and on:
        x, lost = float(result.sag_m[at]), float(result.lost_m[at])
        low, high, load_n = (float(values[at]) for values in (result.low_m, result.high_m, result.load_n))
        front = EndSag(x, x / travel_m, low, high, load_n, max(x - lost, 0.0), on.implied_share)
    rear_sag = rear_plan.said_sag(behind, side.bench, side.row)
    geometry = None
    if chart:
        # A shock of which nobody knows where it rests leaves the stance at sag open: 2° of head angle hang on it.
        sits = side.bench.shock is None or (rear_sag is not None and rear_sag.travel_m is not None)
        sagged = state.stance_of(_at(result.sagged, at)) if front and sits else None
        geometry = Geometry(state.stance_of(_at(result.unloaded, at)), sagged, chart)
    angle = geometry.sagged.head_angle_rad if geometry and geometry.sagged else None
    at_rest = Sag(front, rear_sag, angle) if front or rear_sag else None
    end = None if behind is None else rear_plan.said_end(behind, side.row)
    return State(geometry, at_rest, float(result.end_force_n[at]) if side.sprung else None, end)


def _at(named: Named, at: tuple[int, ...]) -> dict[str, float]:
    return {name: float(values[at]) for name, values in named.items()}


def _curve(side: _Side, of: State, pairs: Bikes) -> Curve:
    """The curve of a state; it rests where the evaluation found it."""
    front = of.sag.front if of.sag else None
    sag_m = np.array([front.travel_m]) if front else None
    return state.curve_of(air_spring.settle(pairs.chambers.take(side.row)), sag_m)


def _hazard(side: _Side, result: Evaluation) -> Hazard | None:
    """Each number from its own inputs, None where one of those is not known; None where none of them is."""
    each = {name: None if math.isnan(v) else v for name, v in _at(result.hazard, (side.row, 0)).items()}
    return Hazard.of(each)


def _keeps(result: Evaluation, known: bool, rests: bool) -> Keeps:
    """The four pressures; without a load there is no sag to keep, also where the unloaded fork rests short."""

    def said(name: str, value: float) -> float | None:
        return value if known and math.isfinite(value) and (rests or "sag" not in name) else None

    found = {name: Keep(said(name, pa)) for name, pa in _at(result.keep_gauge_pa, (0,)).items()}
    for (name, setting), values in result.on_coil.items():
        found[name] = replace(found[name], **{setting: said(name, float(values[0]))})  # type: ignore[arg-type]
    return Keeps(**found)


def _half(said: Mapping[tuple[str, ...], Interval] | None, *place: str) -> float:
    """Half of what lies between the limits of a number; 0 where nothing was drawn."""
    one = (said or {}).get(place)
    return 0.0 if one is None else one.half_width


def _of_side(side: _Side, of: State, result: Evaluation, half: float, least: bool) -> list[Warned]:
    """What is warned of in one state alone, `half` of its sag's share; with `least` the room is the low side of what was drawn."""
    fork = side.bench.fork
    warned = list(limits.of_limits(side.bench, side.which))
    warned += limits.of_port(side.bench, side.which)
    if side.sprung:
        warned += limits.of_spring(float(result.lost_m[side.row, 0]), side.which)
    if of.sag:
        warned += limits.of_sag(of.sag, side.which, half)
    left = _at(result.room, (side.row, 0)) if least else {}
    rooms = {
        name: left[name] if gap is not None and math.isfinite(left.get(name, math.nan)) else gap
        for name, gap in as_json(room(side.bench)).items()
    }
    warned += limits.of_room(
        rooms, fork.overtravel_m if fork else 0.0, side.which, least=rooms != as_json(room(side.bench))
    )
    return warned


def room(bench: BenchFile) -> Clearance:
    """Room for the tyres of one state [m], None where the file does not say.

    bench [SI] (one) as read → [m] (3) or None each. Raises nothing. Source: physics.md 8.
    """
    fork, frame = bench.fork or Fork(), bench.frame or Frame()
    front, rear = fitted.front_radius_m(bench), fitted.rear_radius_m(bench)
    crown = brace = behind = None
    if front and fork.tyre_room_m and fork.travel_m:
        crown = float(clearance.tyre_to_crown_m(fork.tyre_room_m, fork.travel_m, front))
    if front and fork.brace_room_m:
        brace = float(clearance.tyre_to_fixed_m(fork.brace_room_m, front))
    if rear and frame.rear_tyre_room_m:
        behind = float(clearance.tyre_to_fixed_m(frame.rear_tyre_room_m, rear))
    return Clearance(crown, brace, behind)


def _missing(bench: BenchFile, changed: BenchFile) -> list[Warned]:
    """One warning for each key without which a part of the plan is None, named as programs look it up."""
    first, later = missing.of_plan(bench, changed)
    text = "{} is not given: what follows from it is left out."
    warned = [Warned("missing-input", text.format(place), "before") for place in first]
    return warned + [Warned("missing-input", text.format(place), "after") for place in later]
