"""The rear end of n bikes: the shock's spring behind its linkage, the load on the wheel, where it rests.

The frame turns about its wheels, so the fork's sag follows from the rear's and not the other way round, but for a load that
was calibrated in front: the weight that is left for the rear wheel follows from the head angle at which the fork was found,
and that from the rear's sag. Those few are found by repetition (`load.loads`).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from topout.physics import air_spring, leverage, sag
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import G0_M_PER_S2, Floats
from topout.physics.leverage import Linkage
from topout.planner import columns, inputs
from topout.planner import design as designs
from topout.planner.columns import first_known
from topout.planner.design import Design


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Rear:
    """What the physics takes of n rear ends, arrays of shape (n,), or (2, n) before and after; NaN where not known."""

    chambers: Chambers
    linkage: Linkage
    friction_n: Floats
    end_m: Floats  # wheel travel at the end of the stroke

    def take(self, index: Any) -> Rear:
        """The same for a part of the bikes (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        parts = (getattr(self, f.name) for f in fields(self))
        return Rear(*(part[index] if isinstance(part, np.ndarray) else part.take(index) for part in parts))


def rear(design: Design) -> Rear | None:
    """The rear ends of n bikes; None where none has a [shock].

    design [SI] (n,) any → [SI] (n,) or None. Raises nothing. Source: physics.md 2 and 7.
    """
    of, chambers = design.shock, cans(design)
    if of is None or chambers is None:
        return None
    linkage = _linkage(of.leverage)
    return Rear(chambers, linkage, of.unit.friction_n, leverage.wheel_travel_m(linkage, chambers.travel_m))


def cans(design: Design) -> Chambers | None:
    """Their springs alone: air cans or coils with what lies beside them; None where none has a [shock].

    design [SI] (n,) any → [SI] (n,) or None. Raises nothing. Source: physics.md 2.
    """
    of = design.shock
    if of is None:
        return None
    stroke_m = of.unit.stroke_m
    nothing = np.zeros_like(stroke_m)
    return inputs.chambers(
        inputs.Parts(
            designs.ambient_abs_pa(design), design.conditions.fast_exponent, stroke_m, of.air, of.negative_coil,
            columns.LowerLegs(nothing + 1.0, nothing), of.damper, of.bumper,
            columns.Bumper(nothing + 1.0, nothing, nothing + 1.0), of.coil, of.on_coil,
        )
    )  # fmt: skip


def side_by_side(before: Rear, after: Rear) -> Rear:
    """Two states of rear ends side by side; their linkages are the same, since no change is one of the frame, and are not copied.

    before, after [SI] (n,) of one bike each → [SI] (2, n). Raises nothing. Source: none needed, bookkeeping.
    """
    shared = Linkage(
        *(np.broadcast_to(v, (2, *v.shape)) for v in (getattr(before.linkage, f.name) for f in fields(Linkage)))
    )
    chambers, friction_n, end_m = (
        inputs.side_by_side(getattr(before, name), getattr(after, name)) for name in ("chambers", "friction_n", "end_m")
    )
    return Rear(chambers, shared, friction_n, end_m)


def _linkage(table: columns.Leverage) -> Linkage:
    """The linkages of these tables, worked out once where all are the same: draws of one bike share theirs."""
    one = table.take(slice(0, 1))
    alike = all(np.array_equal(a, np.broadcast_to(b, a.shape), equal_nan=True) for a, b in _pairs(table, one))
    if len(table.of_stroke) < 2 or not alike:
        return leverage.linkage(table.travel_m, table.value, table.of_stroke)
    made = leverage.linkage(one.travel_m, one.value, one.of_stroke)
    count = len(table.of_stroke)
    return Linkage(*(np.broadcast_to(v, (count, *v.shape[1:])) for v in (getattr(made, f.name) for f in fields(made))))


def _pairs(table: columns.Leverage, one: columns.Leverage) -> list[tuple[Any, Any]]:
    return [(getattr(table, f.name).astype(float), getattr(one, f.name).astype(float)) for f in fields(table)]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class AtRest:
    """Where n rear wheels rest, arrays of the loads' shape: wheel travel [m] at sag, least and most; stroke [m] there."""

    travel_m: Floats
    low_m: Floats
    high_m: Floats
    stroke_m: Floats


def spring(of: Rear) -> EquilibratedSpring:
    """Their springs, settled: the same whatever they carry.

    of [SI] (…) any → [SI] (…) NaN where a chamber locks. Raises nothing. Source: physics.md 2.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return air_spring.settle(air_spring.computable(of.chambers))


def at_rest(of: Rear, load_n: Floats) -> AtRest:
    """Where the rear ends rest under a load on the wheel; NaN where spring, leverage or load are not known.

    of [SI] (…) any; load_n [N] (…) or one for both states → [m] (…). Raises nothing. Source: physics.md 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = spring(of)
        load = np.broadcast_to(load_n, of.end_m.shape)
        w, low, high = sag.behind_at_rest_m(settled, of.linkage, of.end_m, load, of.friction_n)
        known = load + of.friction_n
        stroke, _, _ = leverage.at(of.linkage, w)
    return AtRest(*(value + 0.0 * known for value in (w, low, high, stroke)))


def at_sag(of: Rear, rests: AtRest) -> tuple[Floats, Floats]:
    """Rate [N/m] of the rear wheels where they rest, the change of ratio counted in, and the leverage ratio [1] there.

    of [SI] (…) any; rests [SI] (…) where they rest → [N/m], [1] (…) each, NaN where not known. Raises nothing. Source:
    physics.md 2 and 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = air_spring.settle(air_spring.computable(of.chambers))
        force, rate, _, _ = air_spring.force_and_rate(settled, np.minimum(rests.stroke_m, settled.fit.travel_m))
        wheel_rate = leverage.at_wheel(of.linkage, rests.travel_m, force, rate)[1]
        return wheel_rate, leverage.at(of.linkage, rests.travel_m)[1]


def wheel_end_force_n(of: Rear) -> Floats:
    """Slow force [N] at the rear wheel at the end of the stroke.

    of [SI] (…) any → [N] (…) NaN where a chamber locks or nothing is known. Raises nothing. Source: physics.md 2 and 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = air_spring.settle(air_spring.computable(of.chambers))
        force, rate, _, _ = air_spring.force_and_rate(settled, of.chambers.travel_m)
        return leverage.at_wheel(of.linkage, of.end_m, force, rate)[0]


def found_travel_m(design: Design, of: Rear) -> Floats:
    """Rear wheel travel [m] at the sag that was found: of the shock's stroke through its leverage, or of the wheel itself.

    design [SI] (n,) any; of [SI] (n,) its rear ends → [m] (n,) NaN where none was found. Raises nothing. Source:
    physics.md 7.
    """
    assert design.shock is not None
    by_stroke = leverage.wheel_travel_m(of.linkage, design.shock.unit.sag_m)
    result: Floats = first_known(by_stroke, design.rear_wheel.sag_m)
    return result


def found_load_n(
    design: Design, of: Rear, settled_at: Floats | None = None, settled: EquilibratedSpring | None = None
) -> Floats:
    """Load [N] on the rear wheel by the sag that was found at the pressure or coil fitted.

    `settled_at` says where in its band of friction each shock stood then: 1 held out all it can, −1 held in.

    design [SI] (n,) any; of [SI] (n,) its rear ends; settled_at [1] (n,) −1 to 1, None for friction left out; settled [SI] (n,) their
    springs where they were settled already, or None → [N] (n,) NaN
    where none was found or the spring is not known. Raises nothing. Source: physics.md 7.
    """
    w = found_travel_m(design, of)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = settled or spring(of)
        stroke, ratio, _ = leverage.at(of.linkage, w)
        force = air_spring.force(settled, np.minimum(stroke, settled.fit.travel_m))
        if settled_at is not None:
            force = force + settled_at * of.friction_n
    return np.maximum(force, 0.0) / ratio


def weight_left_n(design: Design, front_n: Floats) -> Floats:
    """Load [N] on the rear wheel: rider and bike less what the front wheel carries, less the rear's unsprung mass.

    design [SI] (n,) any; front_n [N] (n,) the sprung load on the front wheel, upright → [N] (n,) 0 and more, NaN where not
    known. Raises nothing. Source: physics.md 7.
    """
    bike = design.bike
    unsprung_kg = bike.unsprung_front_kg + bike.unsprung_rear_kg
    return np.maximum((design.rider.mass_kg + bike.mass_kg - unsprung_kg) * G0_M_PER_S2 - front_n, 0.0)


def implied_front_share(design: Design, load_n: Floats) -> Floats:
    """The share [1] of rider and bike on the front wheel that a load on the rear wheel leaves.

    design [SI] (n,) any; load_n [N] (n,) on the rear wheels → [1] (n,) NaN where not known. Raises nothing. Source: physics.md
    7.
    """
    bike = design.bike
    return 1.0 - (load_n / G0_M_PER_S2 + bike.unsprung_rear_kg) / (design.rider.mass_kg + bike.mass_kg)


def stood(
    design: Design,
    load_n: Floats | None,
    asked_m: Floats | None = None,
    of: Rear | None = None,
    settled: EquilibratedSpring | None = None,
    near_m: Floats | None = None,
) -> Design:
    """The bikes with their rear wheels where they rest under that load, `rear_wheel.sag_m`; as they are without shocks.

    Where the shock's spring or the load is not known, the sag that was found stands; `asked_m` is one that a change names.
    `of` are their rear ends, and `settled` the springs of these, where they were worked out already; `near_m` is where they rested
    under nearly that load.

    design [SI] (n,) any; load_n [N] (n,) or None without shocks; asked_m [m] (n,) NaN where none is asked for, or None;
    of [SI] (n,) or None; settled [SI] (n,) or None; near_m [m] (n,) or None → [SI] (n,). Raises nothing. Source: physics.md 7.
    """
    of = of or rear(design)
    if of is None or load_n is None:
        return design
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        alone_m = sag.behind_m(settled or spring(of), of.linkage, of.end_m, load_n, of.friction_n, near_m)
    rests_m = first_known(alone_m + 0.0 * (load_n + of.friction_n), found_travel_m(design, of))
    if asked_m is not None:
        rests_m = first_known(asked_m, rests_m)
    return replace(design, rear_wheel=replace(design.rear_wheel, sag_m=rests_m))
