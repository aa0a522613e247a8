"""From the front of a search to its answer: each option worked out once more as a plan, draws and all."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final, TypeAlias

import numpy as np

from topout.bench_file.model import BenchFile, Fork, Shock
from topout.bench_file.parts import Part
from topout.physics.gas import Floats
from topout.planner import change as change_of
from topout.planner import design as designs
from topout.planner import evaluate, fitted, inputs, rear, rear_bounds, rear_plan
from topout.planner import plan as plans
from topout.planner.evaluate import Evaluation
from topout.planner.known_to import with_limits
from topout.planner.options import behind, broken, ends, figures, gives_up, near, neutral, states
from topout.planner.options import search as searching
from topout.planner.options.choices import TRAVEL_STEP_M
from topout.planner.options.ends import Which
from topout.planner.options.front import CURVE_STEP, STANCE_STEP, Ranked
from topout.planner.options.gives_up import END_PERCENT
from topout.planner.options.option import Option, Options, RearOption
from topout.planner.options.search import NOTHING, Found
from topout.planner.options.states import States
from topout.planner.options.world import World, middle
from topout.planner.rear_plan import RearEvaluation
from topout.planner.results import as_json
from topout.planner.wanted import Wanted
from topout.uncertainty.intervals import Interval, interval
from topout.units import PSI_PA

AT_REST: Final = 1_000  # draws of a search at the terminal
MOVING: Final = 200  # and while somebody waits for a page
BOTH_ENDS: Final = 4  # so many fewer where each setting behind is looked at with each in front
Gaps: TypeAlias = dict[tuple[str, ...], Interval]  # differences by their place in a plan's JSON


def options(
    bench: BenchFile,
    shelf: Sequence[Part] | None = None,
    *,
    limit: int | None = None,
    family: str | None = None,
    rear_family: str | None = None,
    end: Which | None = None,
    wanted: Wanted = NOTHING,
    offsets_m: Sequence[float] = (),
    gauge_mark_pa: float = PSI_PA,
    travel_step_m: float = TRAVEL_STEP_M,
    draws: int = AT_REST,
) -> Options:
    """What to fit and set so that the bike sits and springs as it does now, or as is wanted, with what `[change]` asks for.

    bench [SI] (one) as read; shelf [SI] (any) parts, None for the file's own; limit [1] (one) 1 and more, None for the
    whole front; family, rear_family [-] (one) of fork and shock, or None; end [-] (one) front, rear or both, None for those that
    the question names; wanted [SI] (one) any; offsets_m [m] (any) further ones to try; gauge_mark_pa [Pa] (one) above 0;
    travel_step_m [m] (one) above 0, in which travels come; draws [1] (one) 1 and more → [SI] (one). Raises FaultsFound where
    spring or load lacks a key, or what is wanted can't be. Source: bench-file.md; physics.md 12.
    """
    looked = ends.of_bench(bench, end, family, rear_family, wanted)
    if looked.front and looked.rear:
        draws = max(1, draws // BOTH_ENDS)
    found = searching.search(
        bench, shelf, ends=looked, wanted=wanted, offsets_m=offsets_m, gauge_mark_pa=gauge_mark_pa, draws=draws
    )
    return Options(
        bench,
        tuple(_options(found, limit)),
        dict(sorted(found.excluded.items())),
        found.tried,
        broken.not_looked_at(bench, looked),
        neutral.of_bench(bench, travel_step_m) if looked.front else {},
        found.world.assumed,
        len(found.world) if found.world.uncertain else 0,
        looked,
        wanted,
        found.world.stands_for if found.world.uncertain else None,
        found.world.forked,
    )


def _options(found: Found, limit: int | None) -> list[Option]:
    """The first options of the front; what is said of each comes from its own plan."""
    front = found.front if limit is None else found.front.take(slice(0, limit))
    if not len(front):
        return []
    of, question, draws = found.world, found.question, len(found.world)
    count = len(front)
    which = np.tile(np.arange(draws), count)
    changes = found.ways.changes(front.way, of.changes)
    after = designs.changed(of.design.take(which), changes)
    if question.ends.rear and np.isfinite(front.rear_set_gauge_pa).all():
        after = behind.filled(after, of.gauge.take(which).true_pa(np.repeat(front.rear_set_gauge_pa, draws)))
    load_n = of.loads.behind_n
    ended = rear_plan.evaluate(of.design.take(which), after, None if load_n is None else load_n[which])
    after = rear.stood(after, None if load_n is None else load_n[which], changes.rear_wheel.sag_m)
    at = states.settings(of, question.was, after, np.arange(count), front.set_gauge_pa if question.ends.front else None)
    if question.ends.front and has_air(of.bench):
        true_pa = of.gauge.take(which).true_pa(np.repeat(front.set_gauge_pa, draws))
        after = replace(after, air=replace(after.air, pressure_gauge_pa=true_pa))
    pairs = inputs.pairs(of.design.take(which), after)
    result = evaluate.evaluate(pairs, of.loads.load.take(which), store_curves=False, points=None)
    for name, pa in result.keep_gauge_pa.items():
        result.keep_gauge_pa[name] = of.gauge.take(which).shown_pa(pa)
    curve, off, share = at.curve, at.stance, np.zeros_like(at.curve)
    ends_n = [result.end_force_n] if question.ends.front else []
    if question.ends.rear:
        one, two = (rear.rear(design) for design in (of.design.take(which), after))
        assert one is not None and two is not None and ended is not None
        share = (ended.rests.stroke_m[1] / ended.of.chambers.travel_m[1]).reshape(count, draws)
        curve = near.of_both_ends(question.ends, at.curve, behind.curve_off(one, two).reshape(count, draws))
        ends_n.append(ended.wheel_end_force_n)
    if question.wanted != NOTHING:
        off = near.miss(question.wanted, of, question.was, after, np.arange(count), at, share)
    travel_m = np.stack([of.design.take(which).fork.travel_m, after.fork.travel_m])
    firmer = [(each[1] / each[0]).reshape(count, draws) for each in ends_n]
    alike = _alike([(off, STANCE_STEP), (curve, CURVE_STEP), *((each, END_PERCENT / 100) for each in firmer)])
    told = _Told(found, front, at, off, curve, alike)
    ended_by = dict(
        zip(
            [
                name
                for name, looked in (("end_force", question.ends.front), ("rear_end_force", question.ends.rear))
                if looked
            ],
            firmer,
            strict=True,
        )
    )
    made = [
        _option(
            told, k, _of(result, k, draws, count, travel_m), _of_rear(of, ended, k, draws),
            _limits(told, k, result.keep_gauge_pa, None if ended is None else ended.keep_gauge_pa, ended_by),
        )
        for k in range(count)
    ]  # fmt: skip
    return [replace(each, given_up=gives_up.said(each)) for each in made]


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """What is said of the options of a front: their states, (n, D) how far each is off and how far its spring is."""

    found: Found
    front: Ranked
    at: States
    off: Floats
    curve: Floats
    alike: list[tuple[int, ...]]


def has_air(bench: BenchFile) -> bool:
    """Whether the fork stands on air after the change.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    return bench.fork is not None and bench.fork.air is not None and not (bench.change and bench.change.coil)


def _of(
    result: Evaluation, k: int, draws: int, count: int, travel_m: Floats
) -> tuple[Evaluation, Gaps, dict[tuple[str, ...], figures.Both]]:
    """One option's numbers: the medians as one evaluation, what is known of the differences by place, and of both states."""

    def own(values: Floats) -> Floats:
        """The draws of this option: (…, D)."""
        return values.reshape(*values.shape[:-1], count, draws)[..., k, :]

    def medians_of(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            return middle(own(value))[..., None]
        return {name: medians_of(each) for name, each in value.items()} if isinstance(value, dict) else value

    def put(place: tuple[str, ...], values: Floats, factor: float = 1.0) -> None:
        one, two = own(values)
        known = interval((two - one) * factor)
        if known is not None:
            gaps[place] = known
        stand(place, one, two)

    def stand(place: tuple[str, ...], one: Floats, two: Floats) -> None:
        was, then = interval(one), interval(two)  # an angle in radians
        if was is not None and then is not None:
            stood[place] = was, then

    medians = Evaluation(**{each.name: medians_of(getattr(result, each.name)) for each in fields(Evaluation)})
    for name, values in result.hazard.items():  # what can hurt takes the high side
        medians.hazard[name] = np.quantile(own(values), 0.975, axis=-1)[..., None]
    gaps: Gaps = {}
    stood: dict[tuple[str, ...], figures.Both] = {}
    stand(("sag", "front", "share"), *own(result.sag_m / travel_m))
    put(("end_force_n",), result.end_force_n)
    for name in ("travel_m", "low_m", "high_m", "load_n"):
        put(("sag", "front", name), result.sag_m if name == "travel_m" else getattr(result, name))
    for part, named in (("unloaded", result.unloaded), ("sagged", result.sagged)):
        for name, values in named.items():
            degrees = name.endswith("_rad")
            put(
                ("geometry", part, name[:-4] + "_deg" if degrees else name),
                values,
                math.degrees(1.0) if degrees else 1.0,
            )
    return medians, gaps, stood


def _limits(
    told: _Told,
    k: int,
    keeps: Mapping[str, Floats],
    behind_keeps: Mapping[str, Floats] | None,
    firmer: Mapping[str, Floats],
) -> dict[str, Interval]:
    """How far an option's pressures are known, and by how much its ends are firmer, as a share; nothing of an exact file."""
    question, front, draws = told.found.question, told.front, len(told.found.world)
    if not told.found.world.uncertain:
        return {}
    at_rear, at_front = divmod(int(front.setting[k]), len(question.named_front))
    own = slice(k * draws, (k + 1) * draws)
    rows: dict[str, Floats] = {name: each[k] - 1.0 for name, each in firmer.items()}
    kept = keeps.get(question.named_front[at_front])  # as the job's own gauge shows it
    if kept is not None and question.ends.front:
        rows["pressure_pa"] = kept[own]
    kept = (behind_keeps or {}).get(question.named_rear[at_rear])
    if kept is not None and question.ends.rear:
        rows["rear_pressure_pa"] = told.found.world.gauge.shown_pa(kept[own])
    found = {name: interval(values) for name, values in rows.items()}
    return {name: each for name, each in found.items() if each is not None and each.high95 > each.low95}


def _of_rear(of: World, ended: RearEvaluation | None, k: int, draws: int) -> dict[tuple[str, ...], Interval] | None:
    """What the draws say of one option's rear end, by place; None where nothing was drawn or there is no shock."""
    if ended is None or of.made is None:
        return None
    own = rear_plan.take(ended, slice(k * draws, (k + 1) * draws))
    shown = {name: of.gauge.shown_pa(pa) for name, pa in own.keep_gauge_pa.items()}
    values = rear_bounds.values(replace(own, keep_gauge_pa=shown), of.made)
    told = {place: interval(each) for place, each in values.items()}
    return {place: each for place, each in told.items() if each is not None}


def _option(
    told: _Told,
    k: int,
    numbers: tuple[Evaluation, Gaps, dict[tuple[str, ...], figures.Both]],
    said: dict[tuple[str, ...], Interval] | None,
    limits: dict[str, Interval],
) -> Option:
    found, front = told.found, told.front
    question, bench = found.question, found.ways.bench
    travel, spacers, *_ = chosen = found.ways.chosen(int(front.way[k]))
    on_air = has_air(bench)
    set_pa = float(front.set_gauge_pa[k]) if on_air and question.ends.front else None
    can = question.ends.rear and math.isfinite(front.rear_set_gauge_pa[k])
    rear_pa = float(front.rear_set_gauge_pa[k]) if can else None
    change = found.ways.change(int(front.way[k]), set_pa, rear_pa)
    medians, gaps, stood = numbers
    gaps |= {place[1:]: each for place, each in (said or {}).items() if place[0] == "difference"}
    plan = plans.compared(replace(found.world.stands_for, change=change, shelf=(), doubts=()), False, medians, said)
    difference = _with_gaps(plan.difference, gaps) if found.world.uncertain else plan.difference
    shown = _with_limits(difference, gaps) if found.world.uncertain else difference
    behind_name, front_name = (
        names[int(n)] for names, n in zip(
            (question.named_rear, question.named_front), divmod(int(front.setting[k]), len(question.named_front)), strict=True
        )
    )  # fmt: skip
    lacks = tuple(each.lacks for each in chosen if each.lacks)
    # What the shelf does not hold has no price here; where it is asked for, all options lack it alike.
    cost, days = (math.inf if lacks else float(values[k]) for values in (front.cost, front.days))
    after = change_of.changed(replace(bench, change=change))
    return Option(
        number=k + 1,
        travel_m=travel.value if math.isfinite(travel.value) else None,
        spacers=int(spacers.value) if on_air else None,
        offset_m=fitted.fork_offset_m(after),
        tyre_height_m=after.front_wheel.tyre_height_m if after.front_wheel else None,
        rear_tyre_height_m=after.rear_wheel.tyre_height_m if after.rear_wheel else None,
        rate_n_per_m=after.fork.coil.rate_n_per_m if after.fork and after.fork.coil else None,
        preload_m=after.fork.coil.preload_m if after.fork and after.fork.coil else None,
        negative_pressure_gauge_pa=after.fork.air.negative_pressure_gauge_pa if after.fork and after.fork.air else None,
        keep=front_name.replace("_", "-") or None,
        pressure_gauge_pa=float(front.pressure_gauge_pa[k]) if set_pa is not None else None,
        pressure_set_gauge_pa=set_pa,
        rear=_rear(told, k, after, behind_name, rear_pa) if question.ends.rear else None,
        parts=tuple(used for each in chosen for used in each.used),
        lacks=lacks,
        cost=None if math.isinf(cost) else cost,
        waiting_days=None if math.isinf(days) else int(days),
        stance=float(middle(told.at.stance)[k]),
        curve=float(front.curve[k]),
        miss=float(front.stance[k]) if question.wanted != NOTHING else None,
        facts=dict(figures.facts(found, told.at, k, as_json(plan.before), difference)),
        difference=shown,
        limits=limits,
        known=dict(figures.known(found, told.at, k, stood, said or {})) if found.world.uncertain else {},
        alike=told.alike[k],
        spacers_m3=found.ways.spacers_m3(int(front.way[k])),
        change=change,
        plan=plan,
        fork=bench.fork or Fork(),
        shock=bench.shock,
        front=question.ends.front,
    )


def _rear(told: _Told, k: int, after: BenchFile, name: str, set_pa: float | None) -> RearOption:
    """What an option fits and sets behind."""
    shock = after.shock or Shock()
    air, coil = shock.air, shock.coil
    return RearOption(
        stroke_m=shock.stroke_m or math.nan,
        spacers=air.spacers if air is not None else None,
        rate_n_per_m=coil.rate_n_per_m if coil is not None else None,
        preload_m=coil.preload_m if coil is not None else None,
        keep=name.replace("_", "-") or None,
        pressure_gauge_pa=float(told.front.rear_gauge_pa[k]) if set_pa is not None else None,
        pressure_set_gauge_pa=set_pa,
    )


def _with_gaps(difference: Any, gaps: Gaps, place: tuple[str, ...] = ()) -> Any:
    """A plan's difference with the medians of the differences where draws say them."""
    if isinstance(difference, dict):
        return {key: _with_gaps(value, gaps, (*place, key)) for key, value in difference.items()}
    known = gaps.get(place)
    return difference if difference is None or known is None else known.median


def _with_limits(difference: Any, gaps: Gaps) -> Any:
    """The same with the limits beside each number that is not exact."""
    of = {("difference", *at): each for at, each in gaps.items() if each.high95 - each.low95 > 1e-9 * abs(each.median)}
    return with_limits({"difference": difference}, of)["difference"]


def _alike(respects: Sequence[tuple[Floats, float]]) -> list[tuple[int, ...]]:
    """For each option the numbers, from 1, of those that can't be told apart from it: by a step, and by 19 of 20 draws."""
    count = len(respects[0][0])
    same = np.ones((count, count), dtype=bool)
    for values, step in respects:
        for k in range(len(values)):
            gap = values - values[k]
            low, high = np.quantile(gap, (0.025, 0.975), axis=1)
            same[k] &= (np.maximum(-high, low) <= 0.0) | (np.abs(middle(gap)) <= step)
    return [tuple(int(j) + 1 for j in np.nonzero(row)[0] if j != k) for k, row in enumerate(same)]
