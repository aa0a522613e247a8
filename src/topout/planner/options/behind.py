"""The rear's settings in a search: which pressures each way to build is looked at with behind, what excludes them, how near they lie.

What the rear wheel carries does not follow from the fork, so where it rests is settled first; the fork's settings then stand
on it. The curves are compared at the wheel, since that is what a rider has of them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from topout.physics import air_spring, leverage
from topout.physics import sag as rest
from topout.physics.gas import Bools, Floats
from topout.planner import keep, rear, rear_plan
from topout.planner.design import Design
from topout.planner.options import broken, pressures
from topout.planner.options.states import KEEPS, NODES, WEIGHTS
from topout.planner.options.world import World, middle
from topout.planner.rear import Rear
from topout.planner.wanted import Wanted


@dataclass(frozen=True, slots=True, eq=False)
class Settings:
    """Settings of the rear that break no limit, m of them: way and setting by number, pressures [Pa gauge], exact and as the gauge
    can show them (NaN without a can); (m, D) each wheel travel at sag [m], share of the stroke, and how far the curve lies off."""

    way: Any
    setting: Any
    gauge_pa: Floats
    set_pa: Floats
    travel_m: Floats
    share: Floats
    curve: Floats

    def take(self, index: Any) -> Settings:
        """A part of them (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Settings(*(getattr(self, name)[index] for name in Settings.__slots__))

    def __len__(self) -> int:
        return int(self.way.size)


def as_it_is(ways: int, after: Design, draws: int) -> Settings:
    """One setting for each way, where nobody looks at the rear: the wheel rests as the design has it.

    ways [1] (one) 1 and more; after [SI] (ways·D,) way by way; draws [1] (one) 1 and more → [SI] (ways,). Raises nothing.
    Source: none needed, bookkeeping.
    """
    none = np.full(ways, np.nan)
    nothing = np.zeros((ways, draws))
    at_m = after.rear_wheel.sag_m.reshape(ways, draws)
    return Settings(np.arange(ways), np.zeros(ways, dtype=int), none, none, at_m, nothing, nothing)


def settings(
    of: World, after: Design, which: Any, wanted: Wanted, mark_pa: float, out: Bools
) -> tuple[Settings, Counter[str], int]:
    """The rear's settings of these ways, how many break which limit, and how many there were.

    of [SI] (one) D draws; after [SI] (n·D,) way by way, with the shocks as they would be at the pressure fitted or asked for;
    which [1] (n·D,) the draw of each; wanted [SI] (one) what is asked for; mark_pa [Pa] (one) above 0; out [-] (n,) ways that
    break another limit already → [SI] (m,) settings, and counts. Raises nothing. Source: physics.md 2, 7 and 9.
    """
    draws, bench = len(of), of.bench
    assert of.loads.behind_n is not None
    one, load_n = of.design.take(which), of.loads.behind_n[which]
    found = rear_plan.evaluate(one, after, load_n)
    assert found is not None and after.shock is not None
    bad = {
        code: broken.often(each.reshape(-1, draws))
        for code, each in broken.of_shock(bench, after, found.of.take(1)).items()
    }
    whole = ~np.any([*bad.values(), out], axis=0)
    kept = {name: found.keep_gauge_pa[name] for name in KEEPS}
    kept |= {"wanted": _for_sag_pa(found.of.take(1), load_n, wanted)} if wanted.at_rear else {}
    shown = {name: middle(of.gauge.take(which).shown_pa(each).reshape(-1, draws)) for name, each in kept.items()}
    given = pressures.of_shock(bench)
    exact, set_pa = pressures.table(shown, given, mark_pa, len(whole))
    asked_for = pressures.first_of_its_kind(set_pa, mark_pa)
    excluded = Counter({f"rear-{code}": int(asked_for[each & ~out].sum()) for code, each in bad.items()})
    looked = asked_for & whole[:, None]
    if given.has_air:
        excluded["rear-no-pressure"] = int((looked & np.isnan(set_pa)).sum())
        looked &= np.isfinite(set_pa)
    way, setting = np.nonzero(looked)
    tried = int(asked_for[~out].sum())
    if not way.size:
        return _none(draws), excluded, tried
    rows = (way[:, None] * draws + np.arange(draws)).ravel()
    at, again = after.take(rows), which[rows]
    at = filled(at, of.gauge.take(again).true_pa(np.repeat(set_pa[way, setting], draws)) if given.has_air else None)
    end = rear.rear(at)
    assert end is not None and at.shock is not None
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rests = rear.at_rest(end, of.loads.behind_n[again])
        lost_m = rest.lost_travel_m(air_spring.settle(air_spring.computable(end.chambers)))
        curve = curve_off(_before(of, again), end)
    share = rests.stroke_m / end.chambers.travel_m
    limits_of = broken.of_shock_setting(
        bench, set_pa[way, setting][:, None], share.reshape(-1, draws), lost_m.reshape(-1, draws)
    )
    bad = {code: broken.often(each) for code, each in limits_of.items()}
    excluded.update({f"rear-{code}": int(each.sum()) for code, each in bad.items()})
    fine = ~np.any(list(bad.values()), axis=0)
    told = Settings(
        way, setting, exact[way, setting], set_pa[way, setting],
        *(each.reshape(-1, draws) for each in (rests.travel_m, share, curve)),
    )  # fmt: skip
    fine &= np.isfinite(middle(told.travel_m)) & np.isfinite(middle(told.curve))
    return told.take(fine), excluded, tried


def _none(draws: int) -> Settings:
    none, nothing = np.empty(0, dtype=int), np.empty((0, draws))
    return Settings(none, none, np.empty(0), np.empty(0), nothing, nothing, nothing)


def _before(of: World, which: Any) -> Rear:
    """The rear ends as they are, the draw of each."""
    end = rear.rear(of.design.take(which))
    assert end is not None
    return end


def filled(design: Design, true_gauge_pa: Floats | None) -> Design:
    """The bikes with their cans at these pressures; as they are where there is none to set.

    design [SI] (n,) with shocks; true_gauge_pa [Pa gauge] (n,) or None → [SI] (n,). Raises nothing. Source: none needed,
    bookkeeping.
    """
    if true_gauge_pa is None or design.shock is None:
        return design
    return replace(design, shock=replace(design.shock, air=replace(design.shock.air, pressure_gauge_pa=true_gauge_pa)))


def _for_sag_pa(end: Rear, load_n: Floats, wanted: Wanted) -> Floats:
    """The true gauge pressures [Pa] at which the rear rests as wanted; NaN where none in range does it."""
    stroke_m = end.chambers.travel_m
    at_m = (
        np.full_like(stroke_m, wanted.rear_sag_m)
        if wanted.rear_sag_m is not None
        else (wanted.rear_share or 0.0) * stroke_m
    )
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spring = air_spring.settle(air_spring.computable(end.chambers))
        _, ratio, _ = leverage.at(end.linkage, leverage.wheel_travel_m(end.linkage, at_m))
        return keep.at_force(spring, at_m, load_n * ratio)


def curve_off(before: Rear, after: Rear) -> Floats:
    """How far the force at the rear wheel lies from the one before over the wheel travel both have, as a share of it [1].

    √(∫₀^W′ (F_after − F_before)² dw / ∫₀^W′ F_before² dw), slow, friction not; W′ the shorter wheel travel less its bumper's.

    before, after [SI] (n,) rear ends of one linkage each → [1] (n,). Raises nothing. Source: bench-file.md, as the keep of the
    curve, at the wheel by virtual work; Golub and Welsch 1969 for the nodes.
    """
    springs = [air_spring.settle(air_spring.computable(end.chambers)) for end in (before, after)]
    free_m = [_to_bumper_m(end) for end in (before, after)]
    w = NODES.reshape(-1, 1) * np.minimum(*free_m)
    stroke, ratio, _ = leverage.at(before.linkage, w)
    one, two = (air_spring.force(spring, np.minimum(stroke, spring.fit.travel_m)) / ratio for spring in springs)
    weights = WEIGHTS.reshape(-1, 1)
    result: Floats = np.sqrt((weights * (two - one) ** 2).sum(axis=0) / (weights * one**2).sum(axis=0))
    return result


def _to_bumper_m(end: Rear) -> Floats:
    """Wheel travel [m] where the shock meets its bumper, at its end where it has none."""
    fit = end.chambers
    met = (fit.bumper_n_per_m > 0.0) & (fit.bumper_m > 0.0)
    at_m = leverage.wheel_travel_m(end.linkage, np.maximum(fit.contact_m, 0.0)) if met.any() else end.end_m
    return np.where(met, np.minimum(at_m, end.end_m), end.end_m)
