"""What a file does not say and the answer is worked out with all the same: nothing is taken in silence.

Each default that an answer leans on, with what the answer would be otherwise: the plan once more with what such bikes usually
have, all of them in one array call. What is drawn in its place (physics.md 12) is no default.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final, TypeAlias

import numpy as np

from topout.bench_file import calls_for
from topout.bench_file.model import Air, BenchFile, Bumper, Fork, LowerLegs, Wheel
from topout.errors import FaultsFound
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import Bools, Floats
from topout.physics.geometry import AxleFrame
from topout.planner import fits, inexact, inputs, keep, limits, missing, typical
from topout.planner.design import Design
from topout.planner.fits import Fits
from topout.planner.results import Default
from topout.units import PSI_PA

Rows: TypeAlias = Callable[
    [Sequence[BenchFile]], Mapping[str, Floats]
]  # an answer's figures of n files, (n,) each, by name

FRICTION_N: Final = sum(typical.FRICTION_N) / 2
LEGS_M3: Final = sum(typical.LEGS_M3) / 2
PORT_M: Final = sum(typical.PORT_M) / 2  # where it does not open at full extension
BUMPER_M: Final = sum(typical.BUMPER_M) / 2
BUMPER_N_PER_M: Final = sum(typical.BUMPER_N_PER_M) / 2
REAR_SAG_M: Final = 0.045  # 30 % of 150 mm: common practice, no source
ALTITUDE_M: Final = 1500.0  # physics.md 11
WARMER_K: Final = 15.0  # a winter's morning to a summer's noon: common practice, no source
OVERTRAVEL_M: Final = 0.005  # the most of physics.md 8's 2 to 5 mm

LEAST: Final = {  # a change below it is not worth a word
    "keep_sag_pa": 0.5 * PSI_PA, "sag_m": 0.0005, "sag_either_way_m": 0.0005, "end_force_n": 5.0,
    "head_angle_rad": math.radians(0.05), "drop_m": 0.005, "damping_ratio": 0.005, "deeper_m": 0.0005,
    "after_stroke_pa": 0.5 * PSI_PA, "lost_travel_m": 0.0005,
    "set_here_pa": 0.5 * PSI_PA, "set_sag_pa": 0.5 * PSI_PA, "set_share_pa": 0.5 * PSI_PA, "set_end_pa": 0.5 * PSI_PA,
}  # fmt: skip
_OF_THE_END: Final = ("end_force_n", "drop_m", "set_end_pa")
_USUAL: Final = {
    "fork.friction": FRICTION_N, "fork.bumper": BUMPER_M, "rear_wheel.sag": REAR_SAG_M, "fork.air.port_position": PORT_M,
    "conditions.altitude": ALTITUDE_M, "conditions.temperature": 293.15 + WARMER_K,
}  # fmt: skip


def of_plan(bench: BenchFile, standing: BenchFile | None = None, crown_m: float | None = None) -> tuple[Default, ...]:
    """Each default that the plan of a bench file leans on, those by which somebody can be hurt first.

    bench [SI] (one) as read; standing [SI] (one) the same with the medians of what was drawn, or None; crown_m [m] (one) the
    tyre's room at the crown after the change, or None → [SI] (any). Raises nothing. Source: bench-file.md's defaults; physics.md 2, 8, 11 and 12.
    """
    found = taken(bench, standing, _of_plan)
    if standing is not None:
        found = [without_end(each) for each in found]
    if crown_m is not None and _by_hand(bench) and limits.TYRE_GAP_M < crown_m <= limits.TYRE_GAP_M + OVERTRAVEL_M:
        found.append(Default("fork.overtravel", {"tyre_to_crown_m": -OVERTRAVEL_M}, True, OVERTRAVEL_M))
    return tuple(sorted(found, key=lambda each: not each.danger))


def taken(bench: BenchFile, standing: BenchFile | None, rows: Rows) -> list[Default]:
    """Each key that nobody wrote, with what an answer would be otherwise; the plan's own about the travel not among them.

    bench [SI] (one) as read; standing [SI] (one) the same with the medians of what was drawn, or None; rows [SI] (n,) the answer's
    figures of n files, by name → [SI] (any). Raises nothing. Source: bench-file.md's defaults; physics.md 2, 11 and 12.
    """
    tried = list(_left_out(bench, standing))
    base = standing or bench
    others = [_usual(base, key) for key, _ in tried]
    try:
        gaps = changes(base, [each for each in others if each is not None], rows)
    except FaultsFound:  # a sag found that can't be is said by the answer itself
        gaps = []
    found, at = [], iter(gaps)
    for (key, danger), other in zip(tried, others, strict=True):
        change = next(at, None) if other is not None else None
        found.append(Default(key, change, danger, None if change is None else _usual_si(other, key)))
    return found


def without_end(of: Default) -> Default:
    """The same for a bike that was drawn: how firm its end is hangs on what was drawn, nobody knows what moves it by how much.

    of [SI] (one) as worked out → [SI] (one). Raises nothing. Source: physics.md 12.
    """
    known = {name: gap for name, gap in (of.change or {}).items() if name not in _OF_THE_END}
    return replace(of, change=known or None, usual=of.usual if known else None)


def _left_out(bench: BenchFile, standing: BenchFile | None) -> Iterator[tuple[str, bool]]:
    """The keys, and whether somebody can be hurt by what is taken in their place."""
    fork, filled = bench.fork, inexact.fills(bench)
    written = bench.written

    def silent(key: str, at_default: bool) -> bool:
        return (
            at_default and (written is None or key not in written) and not (filled and key in typical.MAY_BE_LEFT_OUT)
        )

    if fork is not None and (fork.air is not None or fork.coil is not None):
        air = fork.air
        own = air is not None and air.negative == "self-equalising"
        yield from _of_negative("fork", air, silent)
        if silent("fork.lower_legs", fork.lower_legs is None):
            yield "fork.lower_legs", False
        if silent("fork.friction", fork.friction_n is None):
            yield "fork.friction", False
        if silent("fork.bumper", fork.bumper is None):
            yield "fork.bumper", False
        if air is not None:
            if silent("fork.air.spacers", air.spacers == 0):
                yield "fork.air.spacers", False
            if silent("fork.air.oil_on_piston", air.oil_on_piston_m3 == 0.0):
                yield "fork.air.oil_on_piston", False
            if own and silent("fork.air.grease_in_negative", air.grease_in_negative_m3 == 0.0):
                yield "fork.air.grease_in_negative", False
    shock = bench.shock
    if shock is not None and (shock.air is not None or shock.coil is not None):
        can_drawn = inexact.fills_behind(bench)
        if not can_drawn:  # a port that nobody saw is drawn, and warned of as charged
            yield from _of_negative("shock", shock.air, silent)
        if shock.air is not None and silent("shock.air.spacers", shock.air.spacers == 0):
            yield "shock.air.spacers", False
        if silent("shock.friction", shock.friction_n is None and not can_drawn):
            yield "shock.friction", False
        if silent("shock.bumper", shock.bumper is None and not can_drawn):
            yield "shock.bumper", False
    behind = bench.rear_wheel.sag_m if bench.rear_wheel is not None else None
    # Nobody knows where it rests: at full extension, then. A can that is drawn rests where its draws say.
    stands = shock is None or bool(missing.for_rear(standing or bench))
    if bench.frame is not None and stands and silent("rear_wheel.sag", behind is None):
        yield "rear_wheel.sag", False
    if calls_for.on_coil(bench) and shock is None:
        return
    if silent("conditions.temperature", bench.conditions.temperature_k == type(bench.conditions)().temperature_k):
        yield "conditions.temperature", False
    height = bench.conditions.altitude_m is None and bench.conditions.ambient_abs_pa is None
    if silent("conditions.altitude", height):
        yield "conditions.altitude", False


def _of_negative(end: str, air: Air | None, silent: Callable[[str, bool], bool]) -> Iterator[tuple[str, bool]]:
    """What is taken of the negative chamber of a fork or a shock; of a coil nothing."""
    if air is None:
        return
    own = air.negative == "self-equalising"
    if silent(f"{end}.air.negative", own and air.port_position_m is None):  # a port belongs to no other kind
        yield f"{end}.air.negative", True
    if own and silent(f"{end}.air.port_position", air.port_position_m is None):
        yield f"{end}.air.port_position", True


def _by_hand(bench: BenchFile) -> bool:
    """Whether the travel may have been measured by hand, short of the solid stop, for all the file says."""
    fork, written = bench.fork, bench.written
    return fork is not None and fork.overtravel_m == 0.0 and (written is None or "fork.overtravel" not in written)


def _usual(bench: BenchFile, key: str) -> BenchFile | None:
    """The same bike with what is usual in the place of a default; None where nobody can say what is."""
    fork = bench.fork or Fork()
    if key == "fork.friction":
        return replace(bench, fork=replace(fork, friction_n=FRICTION_N))
    if key == "fork.bumper":
        return replace(bench, fork=replace(fork, bumper=Bumper(length_m=BUMPER_M, rate_n_per_m=BUMPER_N_PER_M)))
    if key == "fork.lower_legs" and (area_m2 := _legs_m2(fork)) is not None:
        least_m3 = typical.LEGS_LEAST * area_m2 * ((fork.travel_m or 0.0) + typical.LEGS_MORE_TRAVEL_M)
        legs = LowerLegs(air_volume_m3=max(LEGS_M3, least_m3), area_m2=area_m2)
        return replace(bench, fork=replace(fork, lower_legs=legs))
    if key == "fork.air.port_position" and fork.air is not None:
        return replace(bench, fork=replace(fork, air=replace(fork.air, port_position_m=PORT_M)))
    if key == "rear_wheel.sag":
        return replace(bench, rear_wheel=replace(bench.rear_wheel or Wheel(), sag_m=REAR_SAG_M))
    if key == "conditions.temperature":
        warmer_k = bench.conditions.temperature_k + WARMER_K
        return replace(bench, conditions=replace(bench.conditions, temperature_k=warmer_k))
    if key == "conditions.altitude":
        return replace(bench, conditions=replace(bench.conditions, altitude_m=ALTITUDE_M))
    return None


def _usual_si(other: BenchFile | None, key: str) -> float | None:
    """What stands there in the place of the default, in the first of its numbers."""
    if other is not None and key == "fork.lower_legs" and other.fork is not None and other.fork.lower_legs is not None:
        return other.fork.lower_legs.air_volume_m3  # never less than this travel takes
    return _USUAL.get(key)


def _legs_m2(fork: Fork) -> float | None:
    """Both stanchions' outside area less two rods: from the stanchion, else from the bore and a usual wall."""
    outside_m = fork.stanchion_m
    if outside_m is None and fork.air is not None and fork.air.bore_m is not None:
        outside_m = fork.air.bore_m + sum(typical.WALL_M)  # a wall each side, of the middle of the range
    return None if outside_m is None else 0.5 * math.pi * (outside_m**2 - typical.ROD_M**2)


def changes(base: BenchFile, others: Sequence[BenchFile], rows: Rows) -> list[dict[str, float] | None]:
    """By how much an answer's figures differ with each other bike from those of the one as it is; None where none is known of either.

    base [SI] (one) as read; others [SI] (n) the same with something else in it; rows [SI] (1 + n,) each figure by name →
    [SI] (n) by name, or None. Raises FaultsFound where the sag found can't be. Source: none needed, bookkeeping.
    """
    behind = base.shock is not None and not missing.for_shock(base)
    if not others or (missing.for_spring(base) and missing.for_stance(base) and not behind):
        return [None] * len(others)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        told = rows([base, *others])
    found: list[dict[str, float] | None] = []
    for n in range(1, len(others) + 1):
        gaps = {name: float(values[n] - values[0]) for name, values in told.items()}
        known = {name: gap for name, gap in gaps.items() if math.isfinite(gap)}
        found.append(known or None)
    return found


def of_rest(of: Fits, design: Design) -> dict[str, Floats]:
    """How these bikes rest: sag [m], how far friction lets it be either way [m], head angle there [rad].

    of [SI] (n,) bikes and loads; design [SI] (n,) the same in one state → [SI] (n,) by name, NaN where not known. Raises
    nothing. Source: physics.md 6 and 7.
    """
    bikes = inputs.bikes(design)
    stand = geometry.axle_frame(bikes.chart, bikes.fitted)
    sag_m, low_m, high_m = sag.at_rest_m(fits.settled(design), stand, of.loads.load, bikes.friction)
    angle_rad = _angle_rad(stand, sag_m, bikes.framed)
    return {"sag_m": sag_m, "sag_either_way_m": 0.5 * (high_m - low_m), "head_angle_rad": angle_rad}


def _of_plan(benches: Sequence[BenchFile]) -> dict[str, Floats]:
    """What a plan is asked for first, and no more of it: this is worked out with each move of the plan page."""
    of = fits.of_exact(benches)
    pairs = inputs.pairs(of.before, of.after)
    settled = air_spring.settle(air_spring.computable(pairs.chambers))
    stand = geometry.axle_frame(pairs.chart, pairs.fitted)
    end_m = settled.fit.travel_m
    sag_m, low_m, high_m = sag.at_rest_m(settled, stand, of.loads.load, pairs.friction)
    inside_m = np.where((sag_m[0] > 0.0) & (sag_m[0] < end_m[0]), sag_m[0], np.nan)
    after, stands_after = settled.take(1), stand.take(1)
    return {
        "keep_sag_pa": keep.at_load(after, stands_after, of.loads.load, inside_m), "sag_m": sag_m[1],
        "sag_either_way_m": 0.5 * (high_m - low_m)[1], "end_force_n": air_spring.force(after, end_m[1]),
        "head_angle_rad": _angle_rad(stands_after, sag_m[1], pairs.framed[1]),
    }  # fmt: skip


def _angle_rad(stand: AxleFrame, sag_m: Floats, framed: Bools) -> Floats:
    return np.where(framed, np.arcsin(geometry.head_angle_sine(stand, sag_m)[0]), np.nan)
