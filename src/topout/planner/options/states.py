"""States of many bikes at once, and how near each is to the bike as it is: in stance at sag, and in its spring curve.

An option is compared with the bike before the change, draw by draw: what is common to both falls out. The rear wheel stands
where the rear's own setting has it (`behind`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.physics import air_spring, geometry
from topout.physics.air_spring import Chambers
from topout.physics.gas import Floats
from topout.physics.quadrature import gauss_legendre
from topout.planner import evaluate, inputs, limits
from topout.planner.design import Design
from topout.planner.evaluate import Named
from topout.planner.inputs import Bikes
from topout.planner.options.world import World

TRAIL_CHANGE_M: Final = 0.008  # common practice, no source: about what a degree of head angle makes of it
NODES, WEIGHTS = gauss_legendre(12)
KEEPS: Final = ("sag_share", "sag", "curve", "end_force")  # in the order in which one pressure is called after


@dataclass(frozen=True, slots=True, eq=False)
class Before:
    """The bike as it is, one a draw: its stance at sag by name, its spring, the force at its end [N]."""

    sagged: Named
    fit: Chambers
    spring: air_spring.EquilibratedSpring
    end_force_n: Floats


@dataclass(frozen=True, slots=True, eq=False)
class States:
    """Settings of builds, arrays of shape (n, D): sag and lost travel [m], end force [N], how near to the bike as it is.

    `sagged` and `unloaded` are the stances by name, (n, D) each.
    """

    sag_m: Floats
    share: Floats
    lost_m: Floats
    end_force_n: Floats
    stance: Floats
    curve: Floats
    sagged: Named
    unloaded: Named


@dataclass(frozen=True, slots=True, eq=False)
class Builds:
    """Ways to build at the pressure fitted or asked for: rows way by way, D draws each; keeps [Pa gauge, true] by name."""

    after: Design
    bikes: Bikes
    room: Named
    keep_gauge_pa: Named
    end_force_n: Floats


def before(world: World) -> Before:
    """The bike as it is, each draw once.

    world [SI] (one) D draws → [SI] (D,). Raises nothing. Source: physics.md 2 and 7.
    """
    pairs = inputs.pairs(world.design, world.design)
    result = evaluate.evaluate(pairs, world.loads.load, store_curves=False, points=None)
    sagged = {name: both[0] for name, both in _sagged(world, result, pairs).items()}
    fit = air_spring.computable(inputs.bikes(world.design).chambers)
    return Before(sagged, fit, air_spring.settle(fit), result.end_force_n[0])


def _sagged(world: World, result: evaluate.Evaluation, pairs: Bikes) -> Named:
    """The stances at sag; of bikes whose fork nobody knows with the fork at full extension, the rear where it rests."""
    if world.forked:
        return result.sagged
    frame = geometry.axle_frame(pairs.chart, pairs.fitted)
    stance = geometry.stance(frame, np.zeros_like(pairs.fitted.fork_length_m))
    return {name: np.where(pairs.framed, values, np.nan) for name, values in stance.items()}


def builds(world: World, after: Design, which: Any) -> Builds:
    """Bikes with their change done, and the pressures that keep something in front.

    world [SI] (one) D draws; after [SI] (n·D,) way by way; which [1] (n·D,) the draw of each → [SI] (n·D,). Raises nothing.
    Source: physics.md 2, 6 and 8; bench-file.md.
    """
    one = world.design.take(which)
    pairs = inputs.pairs(one, after)
    result = evaluate.evaluate(pairs, world.loads.load.take(which), store_curves=False, points=None)
    room = {name: both[1] for name, both in result.room.items()}
    return Builds(after, pairs.take((1, slice(None))), room, result.keep_gauge_pa, result.end_force_n[1])


def settings(world: World, was: Before, built: Design, rows: Any, set_gauge_pa: Floats | None) -> States:
    """Builds at the pressures to set, each on every draw, beside the bike as it is.

    world [SI] (one) D draws; was [SI] (D,) before; built [SI] (m·D,) way by way; rows [1] (n,) way of each setting;
    set_gauge_pa [Pa gauge] (n,) as the gauge shows it, None to leave what is in the fork → [SI] (n, D). Raises nothing. Source: physics.md 2, 6 and 7.
    """
    draws, count = len(world), rows.size
    if count % 2:  # two settings share a pair: nothing but the last one is worked out twice
        rows = np.append(rows, rows[-1])
        set_gauge_pa = None if set_gauge_pa is None else np.append(set_gauge_pa, set_gauge_pa[-1])
    which = np.tile(np.arange(draws), rows.size)
    after = built.take((rows[:, None] * draws + np.arange(draws)).ravel())
    if set_gauge_pa is not None:
        true_pa = world.gauge.take(which).true_pa(np.repeat(set_gauge_pa, draws))
        after = replace(after, air=replace(after.air, pressure_gauge_pa=true_pa))
    half = which.size // 2
    pairs = inputs.pairs(after.take(slice(0, half)), after.take(slice(half, None)))
    load = world.loads.load.take(which[:half])
    result = evaluate.evaluate(pairs, load, store_curves=False, points=None, keeps=False)
    first = was.fit, was.spring
    fit = air_spring.computable(pairs.chambers)

    def table(values: Floats) -> Floats:
        both: Floats = values.reshape(-1, draws)[:count]
        return both

    def tables(named: Named) -> Named:
        return {name: table(values) for name, values in named.items()}

    sagged = _sagged(world, result, pairs)
    return States(
        sag_m=table(result.sag_m),
        share=table(result.sag_m.ravel() / after.fork.travel_m),
        lost_m=table(result.lost_m),
        end_force_n=table(result.end_force_n),
        stance=table(stance_off({name: values.ravel() for name, values in sagged.items()}, was.sagged, which)),
        curve=table(curve_off(*first, which[:half], fit)),
        sagged=tables(sagged),
        unloaded=tables(result.unloaded),
    )


def stance_off(sagged: Named, was: Named, which: Any) -> Floats:
    """How far a stance at sag lies from the one before, in what a rider must learn again [1].

    √((Δα/1°)² + (Δbb/8 mm)² + (Δtrail/8 mm)²); 0 where no frame is known.

    sagged [SI] (n,) by name; was [SI] (D,) by name; which [1] (n,) draw of each → [1] (n,). Raises nothing. Source: common
    practice, no source.
    """
    steps = {
        "head_angle_rad": limits.HEAD_ANGLE_CHANGE_RAD, "bb_height_m": limits.BB_CHANGE_M, "trail_m": TRAIL_CHANGE_M,
    }  # fmt: skip
    square = sum(((sagged[name] - was[name][which]) / step) ** 2 for name, step in steps.items())
    result: Floats = np.sqrt(np.asarray(square))
    return np.where(np.isnan(was["trail_m"][which]), 0.0, result)


def curve_off(fit: Chambers, spring: air_spring.EquilibratedSpring, which: Any, after: Chambers) -> Floats:
    """How far a spring lies from the one before over the travel both have, as a share of its force [1].

    √(∫₀^S′ (F_after − F_before)² dx / ∫₀^S′ F_before² dx), slow, friction not; S′ the shorter travel less its bumper.

    fit, spring [SI] (D,) before; which [1] (n,) draw of each; after [SI] (2, n) chambers → [1] (2, n). Raises nothing.
    Source: bench-file.md, the keep of the curve; Golub and Welsch 1969 for the nodes.
    """
    one = fit.take(which)
    settled = air_spring.settle(after)
    shorter = np.where(one.travel_m <= after.travel_m, one.travel_m - _bumper_m(one), after.travel_m - _bumper_m(after))
    with np.errstate(invalid="ignore", divide="ignore"):
        x = NODES.reshape(-1, 1, 1) * shorter
        force_before = air_spring.force(spring.take(which), x)
        gap = air_spring.force(settled, x) - force_before
        weights = WEIGHTS.reshape(-1, 1, 1)
        result: Floats = np.sqrt((weights * gap**2).sum(axis=0) / (weights * force_before**2).sum(axis=0))
    return result


def _bumper_m(fit: Chambers) -> Floats:
    return np.where(fit.bumper_n_per_m > 0.0, fit.bumper_m, 0.0)
