"""The chambers of every fork or shock that fits a file, as the steps need them: what can hurt is worked out on all of them.

A value that somebody guessed and typed is drawn here as if it were left out: what it was guessed as is one of many.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any, Final

from topout.bench_file.model import BenchFile, End
from topout.errors import FaultsFound
from topout.physics.air_spring import Chambers
from topout.planner import design as designs
from topout.planner import drawn, inexact, inputs, left_out, rear, typical, typical_can
from topout.planner.design import Design
from topout.planner.plan_numbers import DrawnChambers

COUNT: Final = 4_000  # a force at 97.5 % to about a hundredth; worked out once a process and file
# A bore that is known, and no stanchion or body written: what is outside it, its wall in the middle of what walls are.
_WALL_M: Final = {"front": sum(typical.WALL_M), "rear": sum(typical_can.WALL_M)}


def of_file(
    bench: BenchFile, end: End = "front", guessed: Collection[str] = (), count: int = COUNT
) -> DrawnChambers | None:
    """Before and after the file's change; None of an exact file without a guess, and where no unit shows what was found.

    bench [SI] (one) as read; end [-] (one) whose chambers; guessed [-] (any) keys that were guessed and typed, "fork.air.bore"; count [1] (one) 1 and more →
    [SI] (n,) or None. Raises nothing. Source: physics.md 9 and 12.
    """
    rule = left_out.FORK if end == "front" else left_out.SHOCK
    keys = {key: rule.places[key] for key in guessed if key in rule.places}
    bench = _without(bench, end, keys) if keys else bench
    unit = bench.fork if end == "front" else bench.shock
    if unit is None or unit.air is None or not inexact.is_drawn(bench):
        return None
    try:
        made = drawn.draw(bench, count)
    except FaultsFound:  # the plan names it; here nothing is known
        return None
    one, two = (_chambers(each, end) for each in (made.design, designs.changed(made.design, made.changes)))
    assumed = inexact.hurt_by(made.assumed, end)
    return None if one is None or two is None else DrawnChambers(one, two, made.weights, assumed)


def _without(bench: BenchFile, end: End, keys: Mapping[str, str]) -> BenchFile:
    """The file with these values of an air spring left out, and its outside where none stands there."""
    out: dict[str, Any] = dict.fromkeys(keys.values())
    doubts = tuple(each for each in bench.doubts if each.key not in keys)
    fork, shock = bench.fork, bench.shock
    if end == "front" and fork is not None and fork.air is not None:
        around_m = None if fork.air.bore_m is None else fork.air.bore_m + _WALL_M[end]
        fork = replace(fork, air=replace(fork.air, **out), stanchion_m=fork.stanchion_m or around_m)
    elif end == "rear" and shock is not None and shock.air is not None:
        around_m = None if shock.air.bore_m is None else shock.air.bore_m + _WALL_M[end]
        shock = replace(shock, air=replace(shock.air, **out), body_m=shock.body_m or around_m)
    return replace(bench, doubts=doubts, fork=fork, shock=shock)


def _chambers(of: Design, end: End) -> Chambers | None:
    if end == "front":
        return inputs.bikes(of).chambers
    behind = rear.rear(of)
    return None if behind is None else behind.chambers
