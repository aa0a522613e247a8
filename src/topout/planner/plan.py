"""The plan: how the bike is, how it would be, what differs, what to set. The one entry for one bike."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, clearance, sag
from topout.planner import evaluate, keep, limits, stack, state
from topout.planner.results import (
    Clearance, Keep, Keeps, Plan, State, Warned, as_json, difference,
)  # fmt: skip
from topout.planner.state import Parts

_NO_KEEP = Keep(None)


def plan(bench: BenchFile, *, curves: bool = False) -> Plan:
    """Compare the bike as it is with the bike after `[change]`; what can't be computed is None and warned of.

    `after` is at the pressure that the change names, else the one fitted. With `curves` both force curves come too.
    Raises FaultsFound where the sag found can't be.
    """
    before = state.parts(bench)
    changed = stack.changed(bench)
    stuck = before.spring is not None and bool(evaluate.locked(stack.bikes([changed]).chambers)[0])
    after = state.parts(changed, before.on)
    if stuck:
        after = replace(after, spring=None)
    one, two = _state(before), _state(after)
    keeps = _keeps(before, after, one)
    warned = [*_missing(bench, changed, before)]
    if stuck:
        text = "After the change a chamber has no room left within the travel: it would lock. Nothing is computed from it."
        warned.append(Warned("hydraulic-lock", text, "after"))
    for parts, of, which in ((before, one, "before"), (after, two, "after")):
        warned += limits.of_limits(parts.bench, which)  # type: ignore[arg-type]
        if parts.spring is not None:
            lost = float(sag.lost_travel_m(parts.spring)[0])
            warned += limits.of_spring(parts.bench, lost, which)  # type: ignore[arg-type]
        if of.sag is not None:
            warned += limits.of_sag(of.sag, which)  # type: ignore[arg-type]
        fork = parts.bench.fork
        warned += limits.of_room(as_json(room(parts.bench)), fork.overtravel_m if fork else 0.0, which)  # type: ignore[arg-type]
    if one.geometry is not None and one.geometry.chart.closes is False:
        text = "The chart's own figures do not agree with each other. Measure the frame, or check the chart."
        warned.append(Warned("chart-open", text, "before"))
    warned += limits.of_change(one.geometry, two.geometry)
    if before.spring is not None and before.on is not None:
        warned += limits.of_load(before.on.calibrated, before.on.implied_share)
    if before.spring is not None and after.spring is not None:
        warned += _without_pressure(keeps, one)
    return Plan(
        one,
        two,
        difference(as_json(one), as_json(two)),
        keeps,
        room(changed),
        state.hazard(before),
        state.hazard(after),
        tuple(warned),
        state.curve(bench, of=before) if curves and before.spring is not None else None,
        state.curve(changed, of=after) if curves and after.spring is not None else None,
    )


def _state(parts: Parts) -> State:
    end = None
    if parts.spring is not None:
        end = float(air_spring.force_and_rate(parts.spring, parts.spring.fit.travel_m)[0][0])
    at_rest = state.sag(parts.bench, of=parts)
    known = at_rest.front is not None or at_rest.rear is not None
    return State(state.geometry_of(parts.bench, of=parts), at_rest if known else None, end)


def _keeps(before: Parts, after: Parts, one: State) -> Keeps:
    """The four pressures; None where there is no spring, no sag to keep, or none in range."""
    if before.spring is None or after.spring is None:
        return Keeps(_NO_KEEP, _NO_KEEP, _NO_KEEP, _NO_KEEP)
    with np.errstate(invalid="ignore"):
        wanted = air_spring.force_and_rate(before.spring, before.spring.fit.travel_m)[0]
        reached = air_spring.force_and_rate(after.spring, after.spring.fit.travel_m)[0]
        end_force = keep.at_end_force(after.spring, reached, wanted)
        curve = keep.at_curve(before.spring, after.spring)
        front = one.sag.front if one.sag is not None else None
        at_sag = at_share = np.array([np.nan])
        own = float(before.spring.fit.travel_m[0])
        if front is not None and front.travel_m is not None and before.on is not None and 0.0 < front.travel_m < own:
            stand = after.stand or state.geometry.stand(after.bikes.chart, after.bikes.fitted)
            held = np.array([front.travel_m])
            at_sag = keep.at_load(after.spring, stand, before.on.load, held)
            at_share = keep.at_load(after.spring, stand, before.on.load, held / own * after.spring.fit.travel_m)
    return Keeps(*(Keep(_or_none(float(p[0]))) for p in (at_sag, at_share, end_force, curve)))


def _without_pressure(keeps: Keeps, one: State) -> list[Warned]:
    """`no-pressure` where a keep should exist; a sag that can't be computed is already named as missing."""
    warned = list(limits.of_keeps(keeps))
    if one.sag is None or one.sag.front is None:
        warned = [w for w in warned if "sag" not in w.text]
    return warned


def room(bench: BenchFile) -> Clearance:
    """Room for the tyres of one state [m], None where the file does not say."""
    fork, frame = bench.fork, bench.frame
    front, rear = stack.front_radius_m(bench), stack.rear_radius_m(bench)
    crown = brace = behind = None
    if fork is not None and front is not None:
        if fork.tyre_room_m is not None and fork.travel_m is not None:
            crown = float(clearance.tyre_to_crown_m(fork.tyre_room_m, fork.travel_m, front))
        if fork.brace_room_m is not None:
            brace = float(clearance.tyre_to_fixed_m(fork.brace_room_m, front))
    if frame is not None and frame.rear_tyre_room_m is not None and rear is not None:
        behind = float(clearance.tyre_to_fixed_m(frame.rear_tyre_room_m, rear))
    return Clearance(crown, brace, behind)


def _missing(bench: BenchFile, changed: BenchFile, before: Parts) -> list[Warned]:
    """One warning for each key without which a part of the plan is None."""

    def lacking(of: BenchFile) -> list[str]:
        keys = stack.missing_for_spring(of) + stack.missing_for_stance(of) + stack.missing_for_load(of)
        if of.fork is not None and of.fork.tyre_room_m is None:
            keys.append("[fork] tyre_room")
        return keys

    first = lacking(bench)
    later = [key for key in lacking(changed) if key not in first]
    warned: list[Any] = []
    for keys, which in ((first, "before"), (later, "after")):
        for key in keys:
            text = f"{key} is not given: what follows from it is left out."
            warned.append(Warned("missing-input", text, which))  # type: ignore[arg-type]
    return warned


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
