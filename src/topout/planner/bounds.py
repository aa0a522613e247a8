"""What the draws say of a plan: each answer with its limits, and what its doubt hangs on; which reading would settle it says `next_reading`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, geometry
from topout.planner import (
    change,
    columns,
    doubted,
    drawn,
    drawn_can,
    evaluate,
    held_in,
    inexact,
    inputs,
    left_out,
    next_reading,
    rear,
    rear_bounds,
    typical,
)
from topout.planner import design as designs
from topout.planner.design import Design
from topout.planner.drawn import Drawn
from topout.planner.evaluate import Evaluation, Named
from topout.planner.fitted import STANDS_AT
from topout.planner.inputs import Bikes
from topout.planner.known_to import Bounds
from topout.planner.rear_bounds import Place
from topout.planner.results import Warned
from topout.uncertainty import draws, intervals
from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import Interval, interval
from topout.uncertainty.shares import Cut, variance_shares

MOST_NAMED: Final = 3  # keys that an answer is said to hang on
LEAST_SHARE: Final = 0.02  # of the variance, for a key to be named
ENOUGH_TO_SHARE: Final = 8_000  # draws by which a variance is shared out


@dataclass(frozen=True, slots=True, eq=False)
class Answered:
    """A plan worked out on every draw: the medians as one evaluation, the bench file that stands for them, and the bounds."""

    bench: BenchFile
    medians: Evaluation
    bounds: Bounds
    warned: tuple[Warned, ...]
    made: Drawn  # the draws themselves, with their weights
    pairs: Bikes  # before and after of each, (2, n)
    end_force_n: Floats  # of each, (2, n)
    said: Mapping[Place, Interval]  # every number of the plan as it is known


def answer(bench: BenchFile, count: int = inexact.AT_REST) -> Answered:
    """Work a plan out on every draw.

    bench [SI] (one) as read, something of it to be drawn; count [1] (one) 1 and more → [SI] (one). Raises FaultsFound
    where no fork that looks like this could have shown the sag found. Source: physics.md 12; JCGM 101:2008.
    """
    made = drawn.draw(bench, count)
    after, behind_n = designs.changed(made.design, made.changes), made.loads.behind_n
    pairs = inputs.pairs(rear.stood(made.design, behind_n), rear.stood(after, behind_n, made.changes.rear_wheel.sag_m))
    result = evaluate.evaluate(pairs, made.loads.load, store_curves=False, points=None)
    for name, true_pa in result.keep_gauge_pa.items():  # said as the job's own gauge will show it
        result.keep_gauge_pa[name] = made.gauge.shown_pa(true_pa)
    answers = {
        "keep-sag": result.keep_gauge_pa["sag"], "keep-sag-share": result.keep_gauge_pa["sag_share"],
        "sag": result.sag_m[1], "end-force": result.end_force_n[1],
    }  # fmt: skip
    values = _values(result, pairs, made)
    behind = rear_bounds.of_draws(made, after)
    if behind is not None:
        values |= rear_bounds.values(behind, made)
    at_rear = rear_bounds.answers(behind)
    cuts: dict[str, Cut] = {} if made.of_moves is None else _cuts_of_moves(made.of_moves)
    said = intervals.named(values, made.weights, None if made.of_moves is None else _said_of_moves(made.of_moves))
    bounds = Bounds(
        {place: one for place, one in said.items() if one.high95 - one.low95 > 1e-9 * abs(one.median)},
        made.count,
        made.effective,
        made.seed,
        made.assumed,
        made.redrawn,
        {name: hangs_on(made, values, cuts) for name, values in (answers | at_rear).items()},
        (*next_reading.in_front(made, answers, held_in.of_unit(bench)), *next_reading.behind(made, at_rear, behind)),
        values=values,
        weights=made.weights,
    )
    locks = air_spring.locked(pairs.chambers)[1]
    may_lock = float(np.sum(made.weights[locks]) / np.sum(made.weights))
    return Answered(
        stands_for(bench, made),
        _medians(result, said),
        bounds,
        (*_dangers(made, may_lock), *(rear_bounds.dangers(made, behind) if behind is not None else ())),
        made,
        pairs,
        result.end_force_n,
        said,
    )


def _dangers(made: Drawn, may_lock: float) -> Iterator[Warned]:
    """What can hurt in some of the forks that fit: what is not known is taken from its bad side."""
    if "fork.air.port_position" in made.assumed:
        text = f"Air may stay trapped in the negative chamber after bleeding at {STANDS_AT['fork']}: where the port lies is not known."
        yield Warned("charged-negative", text, "before")
        yield Warned("charged-negative", text, "after")
    if may_lock > 0.05:
        text = "After the change a chamber may have no room left within the travel: it could lock. Measure its volume first."
        yield Warned("hydraulic-lock", text, "after")


def _values(result: Evaluation, pairs: Bikes, made: Drawn) -> dict[Place, Floats]:
    """The draws of each number of the plan, by its place in the JSON."""
    both: dict[Place, Floats] = {_sag(name): getattr(result, name) for name in _RESTS}
    both |= {("end_force_n",): result.end_force_n, ("lost_m",): result.lost_m}
    both["sag", "front", "share"] = result.sag_m / pairs.chambers.travel_m
    both["sag", "front", "shown_m"] = _shown(result, made)
    both["sag", "head_angle_deg"] = np.degrees(result.sagged["head_angle_rad"])
    for part, values in (("unloaded", result.unloaded), ("sagged", result.sagged)):
        for name, pair in values.items():
            both["geometry", part, _key(name)] = np.degrees(pair) if name.endswith("_rad") else pair
    found: dict[Place, Floats] = {}
    for place, pair in both.items():
        found["before", *place], found["after", *place] = pair
        found["difference", *place] = pair[1] - pair[0]
    for name, pressure_pa in result.keep_gauge_pa.items():
        found["keep", name.replace("_", "-"), "pressure_pa"] = pressure_pa
    for name, pair in result.room.items():
        found["clearance", "before", name], found["clearance", name] = pair
    for name, hurts in result.hazard.items():
        found["hazard", "before", name], found["hazard", "after", name] = hurts
    for row, state in enumerate(("before", "after")):
        found[state, "sag", "front", "implied_share"] = made.loads.implied_share
        found[state, "sag", "rear", "travel_m"] = pairs.fitted.rear_sag_m[row]
    chart = pairs.chart.take(0)
    flat = np.zeros(len(made.weights))
    own = geometry.Fitted(chart.fork_length_m, chart.fork_offset_m, chart.front_radius_m, chart.rear_radius_m, flat)
    on_chart = geometry.axle_frame(chart, own)
    tube_m = np.where(pairs.framed[0], on_chart.head_tube_m, np.nan)
    found["before", "geometry", "chart", "head_tube_m"] = found["after", "geometry", "chart", "head_tube_m"] = tube_m
    return found


def _shown(result: Evaluation, made: Drawn) -> Floats:
    """What the sag O-ring will show, settled as often as it was found, both states anew: the one interval that is a promise of
    where a ring is found. The band of friction is none."""
    shown = np.empty_like(result.sag_m)
    for row, state in enumerate(("before", "after")):
        chance = draws.stream(made.seed, f"as left, {state}")
        stood = doubted.stood(made.bench, chance, shown.shape[1])
        x, out, further = result.sag_m[row], result.low_m[row], result.high_m[row]
        settled_m = x + np.where(stood > 0.0, stood * (out - x), stood * (x - further))
        ring_m = draws.normal(chance, 0.0, doubted.ring(made.bench).standard_si, shown.shape[1])
        shown[row] = np.maximum(settled_m - result.lost_m[row] + ring_m, 0.0)
    return shown


_RESTS: Final = ("sag_m", "low_m", "high_m", "load_n")


def _sag(name: str) -> Place:
    return ("sag", "front", "travel_m" if name == "sag_m" else name)


def _key(name: str) -> str:
    """The key of a result in the JSON."""
    return name.removesuffix("_rad") + "_deg" if name.endswith("_rad") else name


def _medians(result: Evaluation, said: Mapping[Place, Interval]) -> Evaluation:
    """One evaluation, each number the median of the draws; what can hurt is its 97.5 % point, room its 2.5 % point."""

    def at(place: Place, point: str = "median") -> float:
        found = said.get(place)
        return np.nan if found is None else float(getattr(found, point))

    def both(*place: str, point: str = "median", of: tuple[Place, Place] = (("before",), ("after",))) -> Floats:
        return np.array([[at((*state, *place), point)] for state in of])

    def stance(part: str) -> Named:
        names = {name: both("geometry", part, _key(name)) for name in result.unloaded}
        return {name: np.radians(values) if name.endswith("_rad") else values for name, values in names.items()}

    return replace(
        result,
        sag_m=both(*_sag("sag_m")),
        low_m=both(*_sag("low_m")),
        high_m=both(*_sag("high_m")),
        load_n=both(*_sag("load_n")),
        lost_m=both("lost_m"),
        end_force_n=both("end_force_n"),
        unloaded=stance("unloaded"),
        sagged=stance("sagged"),
        room={name: both(name, point="low95", of=_ROOMS) for name in result.room},
        hazard={name: both(name, point="high95", of=_HAZARDS) for name in result.hazard},
        keep_gauge_pa={
            name: np.array([at(("keep", name.replace("_", "-"), "pressure_pa"))]) for name in result.keep_gauge_pa
        },
    )


_HAZARDS: Final = (("hazard", "before"), ("hazard", "after"))
_ROOMS: Final = (("clearance", "before"), ("clearance",))


def stands_for(bench: BenchFile, made: Drawn) -> BenchFile:
    """The bench file with the median of each key that was drawn: for what asks for one bike, a warning or a picture.

    What is written stays as it is written, and a port that nobody saw is at no place: a warning speaks of it.

    bench [SI] (one) as read; made [SI] (n,) its draws → [SI] (one) a bench file. Raises nothing. Source: physics.md 12.
    """
    one = Design.of([bench])
    middle: dict[str, dict[str, Floats]] = {}
    for table, name in _drawn_columns(made.assumed):
        found = interval(getattr(getattr(made.design, table), name), made.weights)
        if found is not None:
            middle.setdefault(table, {})[name] = np.array([found.median])
    full = replace(one, **{table: replace(getattr(one, table), **values) for table, values in middle.items()})
    rider = bench.rider
    if rider is not None and "rider.front_share" in made.assumed:
        rider = replace(rider, front_share=typical.FRONT_SHARE[0])
    filled = drawn_can.middle(change.filled(bench, one, full), made.design.shock, made.weights)
    return replace(filled, rider=rider, doubts=())


def _drawn_columns(assumed: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """The columns of a design that hold what was drawn from usual ranges."""
    for word in assumed:
        if word == "fork.friction":
            yield "fork", "friction_n"
        elif word in ("fork.lower_legs", "fork.bumper"):
            table = word.removeprefix("fork.")
            yield from ((table, name) for name in getattr(columns, _TABLE[table]).__slots__)
        elif word in left_out.FORK.places and word != "fork.air.port_position":
            yield "air", left_out.FORK.places[word]


_TABLE: Final = {"lower_legs": "LowerLegs", "bumper": "Bumper"}


def hangs_on(made: Drawn, values: Floats, cuts: dict[str, Cut] | None = None) -> list[tuple[str, float]]:
    """Up to three keys that bring most of an answer's doubt, with their share of its variance.

    made [SI] (n,) as drawn; values [SI] (n,) the answer; cuts [1] (any) shared by answers of the same draws, or None → [1] (any) by key. Raises nothing. Source: bench-file.md.
    """
    some = slice(0, ENOUGH_TO_SHARE)
    inputs_of = {name: each[some] for name, each in made.inputs.items()}
    shares = variance_shares(inputs_of, values[some], made.weights[some], cuts)
    named = sorted(((share, name) for name, share in shares.items() if share >= LEAST_SHARE), reverse=True)
    return [(name, share) for share, name in named[:MOST_NAMED]]


@lru_cache(maxsize=4)
def _said_of_moves(made: Drawn) -> dict[Place, tuple[Floats, Interval | None]]:
    """The intervals of the last move, filled by `answer`: the state before is the same in every one."""
    return {}


@lru_cache(maxsize=4)
def _cuts_of_moves(made: Drawn) -> dict[str, Cut]:
    """What `hangs_on` works out of the draws themselves, filled by it; the same for every move."""
    return {}
