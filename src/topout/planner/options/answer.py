"""From the front of a search to its answer: each option worked out once more as a plan, draws and all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, Final, TypeAlias

import numpy as np

from topout.bench_file.model import BenchFile, Fork
from topout.bench_file.parts import Part
from topout.physics.gas import Floats
from topout.planner import change as change_of
from topout.planner import design as designs
from topout.planner import evaluate, fitted, inputs
from topout.planner import plan as plans
from topout.planner.evaluate import Evaluation
from topout.planner.facts import FORCES_SAID_TO, Fact
from topout.planner.options import broken, neutral, states, words
from topout.planner.options import search as searching
from topout.planner.options.choices import TRAVEL_STEP_M
from topout.planner.options.front import CURVE_STEP, STANCE_STEP
from topout.planner.options.option import Option, Options
from topout.planner.options.search import ASKED, Found
from topout.planner.options.states import KEEPS
from topout.planner.options.world import middle
from topout.planner.results import as_json
from topout.units import PSI_PA

AT_REST: Final = 1_000  # draws of a search at the terminal
MOVING: Final = 200  # and while somebody waits for a page
Gaps: TypeAlias = dict[tuple[str, ...], float]  # differences by their place in a plan's JSON
# What an option is said by: place in a state's JSON, words, dimension, unit, decimals.
_FACTS: Final = {
    "head_angle": (("geometry", "sagged", "head_angle_deg"), "head angle", "angle", "deg", 1),
    "trail": (("geometry", "sagged", "trail_m"), "trail", "length", "mm", 0),
    "bb_height": (("geometry", "sagged", "bb_height_m"), "bottom bracket", "length", "mm", 0),
    "sag": (("sag", "front", "travel_m"), "sag", "length", "mm", 0),
    "sag_share": (("sag", "front", "share"), "sag", "share", "%", 0),
    "end_force": (("end_force_n",), "bottom-out force", "force", "N", FORCES_SAID_TO),
}  # fmt: skip


def options(
    bench: BenchFile,
    shelf: Sequence[Part] | None = None,
    *,
    limit: int | None = None,
    family: str | None = None,
    offsets_m: Sequence[float] = (),
    gauge_mark_pa: float = PSI_PA,
    travel_step_m: float = TRAVEL_STEP_M,
    draws: int = AT_REST,
) -> Options:
    """What to fit and set so that the bike sits and springs as it does now, with what `[change]` asks for.

    bench [SI] (one) as read; shelf [SI] (any) parts, None for the file's own; limit [1] (one) 1 and more, None for the
    whole front; family [-] (one) of the fork, or None; offsets_m [m] (any) further ones to try; gauge_mark_pa [Pa] (one)
    above 0; travel_step_m [m] (one) above 0, in which travels come; draws [1] (one) 1 and more → [SI] (one). Raises
    FaultsFound where spring or load lacks a key. Source: bench-file.md; physics.md 12.
    """
    found = searching.search(bench, shelf, family=family, offsets_m=offsets_m, gauge_mark_pa=gauge_mark_pa, draws=draws)
    return Options(
        bench,
        tuple(_options(found, limit)),
        dict(sorted(found.excluded.items())),
        found.tried,
        broken.not_looked_at(bench),
        neutral.of_bench(bench, travel_step_m),
        found.world.assumed,
        len(found.world) if found.world.uncertain else 0,
    )


def _options(found: Found, limit: int | None) -> list[Option]:
    """The first options of the front; what is said of each comes from its own plan."""
    front = found.front if limit is None else found.front.take(slice(0, limit))
    if not len(front):
        return []
    of, draws = found.world, len(found.world)
    count = len(front)
    fitted_out = found.ways.changes(front.way, of.changes)
    which = np.tile(np.arange(draws), count)
    set_pa = np.repeat(front.set_gauge_pa, draws)
    true_pa = of.gauge.take(which).true_pa(set_pa)
    changes = replace(
        fitted_out,
        asked=replace(fitted_out.asked, pressure_gauge_pa=true_pa),
        air=states.without_pressure(fitted_out.air),
    )
    one = of.design.take(which)
    result = evaluate.evaluate(
        inputs.pairs(one, designs.changed(one, changes)), of.loads.load.take(which), store_curves=False, points=None
    )
    for name, pa in result.keep_gauge_pa.items():
        result.keep_gauge_pa[name] = of.gauge.take(which).shown_pa(pa)
    at = states.settings(of, found.was, states.builds(of, fitted_out).after, np.arange(count), front.set_gauge_pa)
    alike = _alike(at.stance, at.curve)
    made = (_option(found, front, k, _of(result, k, draws, count), alike[k]) for k in range(count))
    return [replace(each, given_up=words.given_up(each)) for each in made]


def _of(result: Evaluation, k: int, draws: int, count: int) -> tuple[Evaluation, Gaps]:
    """One option's numbers: the medians as one evaluation, and the medians of the differences by place."""

    def own(values: Floats) -> Floats:
        """The draws of this option: (…, D)."""
        return values.reshape(*values.shape[:-1], count, draws)[..., k, :]

    def medians_of(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            return middle(own(value))[..., None]
        return {name: medians_of(each) for name, each in value.items()} if isinstance(value, dict) else value

    def gap(values: Floats) -> float:
        one, two = own(values)
        return float(middle(two - one))

    medians = Evaluation(**{each.name: medians_of(getattr(result, each.name)) for each in fields(Evaluation)})
    for name, values in result.hazard.items():  # what can hurt takes the high side
        medians.hazard[name] = np.quantile(own(values), 0.975, axis=-1)[..., None]
    gaps: Gaps = {("end_force_n",): gap(result.end_force_n)}
    for name in ("travel_m", "low_m", "high_m", "load_n"):
        gaps["sag", "front", name] = gap(result.sag_m if name == "travel_m" else getattr(result, name))
    for part, named in (("unloaded", result.unloaded), ("sagged", result.sagged)):
        for name, values in named.items():
            degrees = name.endswith("_rad")
            value = gap(values)
            gaps["geometry", part, name[:-4] + "_deg" if degrees else name] = math.degrees(value) if degrees else value
    return medians, gaps


def _option(found: Found, front: Any, k: int, numbers: tuple[Evaluation, Gaps], alike: tuple[int, ...]) -> Option:
    travel, spacers, *_ = chosen = found.ways.chosen(int(front.way[k]))
    bench = found.ways.bench
    has_air = bench.fork is not None and bench.fork.air is not None and not (bench.change and bench.change.coil)
    set_pa = float(front.set_gauge_pa[k]) if has_air else None
    change = found.ways.change(int(front.way[k]), set_pa)
    medians, gaps = numbers
    plan = plans.compared(replace(found.world.stands_for, change=change, shelf=(), doubts=()), False, medians)
    difference = _with_gaps(plan.difference, gaps) if found.world.uncertain else plan.difference
    setting = int(front.setting[k])
    keeps = has_air and setting < ASKED and not searching.pressure_is_given(bench)
    lacks = tuple(each.lacks for each in chosen if each.lacks)
    # What the shelf does not hold has no price here; where it is asked for, all options lack it alike.
    cost, days = (math.inf if lacks else float(values[k]) for values in (front.cost, front.days))
    after = change_of.changed(replace(bench, change=change))
    return Option(
        number=k + 1,
        travel_m=travel.value,
        spacers=int(spacers.value) if has_air else None,
        offset_m=fitted.fork_offset_m(after),
        tyre_height_m=after.front_wheel.tyre_height_m if after.front_wheel else None,
        rear_tyre_height_m=after.rear_wheel.tyre_height_m if after.rear_wheel else None,
        rate_n_per_m=after.fork.coil.rate_n_per_m if after.fork and after.fork.coil else None,
        keep=KEEPS[setting].replace("_", "-") if keeps else None,
        pressure_gauge_pa=float(front.pressure_gauge_pa[k]) if has_air else None,
        pressure_set_gauge_pa=set_pa,
        parts=tuple(used for each in chosen for used in each.used),
        lacks=lacks,
        cost=None if math.isinf(cost) else cost,
        waiting_days=None if math.isinf(days) else int(days),
        stance=float(front.stance[k]),
        curve=float(front.curve[k]),
        facts=dict(_facts(as_json(plan.before), difference)),
        difference=difference,
        alike=alike,
        change=change,
        plan=plan,
        fork=bench.fork or Fork(),
    )


def _with_gaps(difference: Any, gaps: Gaps, place: tuple[str, ...] = ()) -> Any:
    """A plan's difference with the medians of the differences where draws say them."""
    if isinstance(difference, dict):
        return {key: _with_gaps(value, gaps, (*place, key)) for key, value in difference.items()}
    value = gaps.get(place, math.nan)
    return difference if difference is None or math.isnan(value) else value


def _facts(before: Any, difference: Any) -> Any:
    """What an option is said by: the bike before, and after it the difference."""
    for name, (place, said, dimension, unit, decimals) in _FACTS.items():
        was, gap = (_at(tree, place) for tree in (before, difference))
        if place[-1].endswith("_deg"):
            was, gap = (None if each is None else math.radians(each) for each in (was, gap))
        yield name, Fact(name, said, dimension, unit, decimals, was, None if was is None or gap is None else was + gap)


def _at(tree: Any, place: tuple[str, ...]) -> float | None:
    for word in place:
        tree = tree.get(word) if isinstance(tree, dict) else None
    return tree if isinstance(tree, int | float) else None


def _alike(stance: Floats, curve: Floats) -> list[tuple[int, ...]]:
    """For each option the numbers, from 1, of those that can't be told apart from it: by a step, and by 19 of 20 draws."""
    same = np.ones((len(stance), len(stance)), dtype=bool)
    for values, step in ((stance, STANCE_STEP), (curve, CURVE_STEP)):
        for k in range(len(values)):
            gap = values - values[k]
            low, high = np.quantile(gap, (0.025, 0.975), axis=1)
            same[k] &= (np.maximum(-high, low) <= 0.0) | (np.abs(middle(gap)) <= step)
    return [tuple(int(j) + 1 for j in np.nonzero(row)[0] if j != k) for k, row in enumerate(same)]
