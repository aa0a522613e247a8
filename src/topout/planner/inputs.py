"""What the physics takes of n bikes: their chambers, frame, what stands in it and friction, from the columns of a design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import geometry
from topout.physics.air_spring import Chambers
from topout.physics.gas import Bools, Floats
from topout.physics.geometry import AxleFrame, Chart, Fitted
from topout.physics.sag import Friction
from topout.planner import columns, fitted
from topout.planner import design as designs
from topout.planner.columns import first_known, is_word
from topout.planner.design import Design


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Bikes:
    """What the physics takes of n bikes, arrays of shape (n,), or (2, n) before and after; NaN where not known.

    Where a frame is not known (`framed` false) another stands in, for the sake of a fork whose load needs none: what is
    computed from it is never given out.
    """

    chambers: Chambers
    chart: Chart
    fitted: Fitted
    framed: Bools
    friction: Friction
    crown_room_m: Floats
    brace_room_m: Floats
    frame_room_m: Floats

    def take(self, index: Any) -> Bikes:
        """The same for a part of the bikes (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        parts = (getattr(self, name) for name in Bikes.__slots__)
        return Bikes(*(part[index] if isinstance(part, np.ndarray) else part.take(index) for part in parts))


def bikes(design: Design) -> Bikes:
    """The models' inputs of n bikes.

    design [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 2 and 6.
    """
    whole = designs.framed(design)
    return _bikes(design, _chart(design.frame, whole), whole)


def _bikes(design: Design, chart: Chart, whole: Bools) -> Bikes:
    fork, stands = design.fork, _fitted(design)
    if not whole.all():
        stands = _or_any(whole, stands, _ANY_FITTED)
    return Bikes(
        chambers=front_chambers(design),
        chart=chart,
        fitted=stands,
        framed=whole,
        friction=Friction(fork.friction_n, fork.friction_per_bar_n / 1e5, fork.friction_side),
        crown_room_m=fork.tyre_room_m,
        brace_room_m=fork.brace_room_m,
        frame_room_m=design.frame.rear_tyre_room_m,
    )


def stand(design: Design) -> AxleFrame:
    """How the bikes stand in their frames, without what they spring on; another frame where one is not known.

    design [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 6.
    """
    whole = designs.framed(design)
    stands = _fitted(design)
    if not whole.all():
        stands = _or_any(whole, stands, _ANY_FITTED)
    return geometry.axle_frame(_chart(design.frame, whole), stands)


def pairs(before: Design, after: Design) -> Bikes:
    """Before and after side by side, in the same frame: arrays of shape (2, n).

    before, after [SI] (n,) in one frame → [SI] (2, n). Raises nothing. Source: none needed, bookkeeping.
    """
    whole = designs.framed(before)
    chart = _chart(before.frame, whole)
    result: Bikes = side_by_side(_bikes(before, chart, whole), _bikes(after, chart, whole))
    return result


def side_by_side(before: Any, after: Any) -> Any:
    """The arrays of two states, (n,) each, as arrays of (2, n), table by table; what is one array in both is not copied.

    before, after [SI] (n,) of one kind → [SI] (2, n) not to be written into. Raises nothing. Source: none needed, bookkeeping.
    """
    if isinstance(before, np.ndarray):
        if before is after:
            return np.broadcast_to(before, (2, *before.shape))
        return np.array((before, after))
    return type(before)(*(side_by_side(getattr(before, name), getattr(after, name)) for name in before.__slots__))


def bikes_of(benches: Sequence[BenchFile]) -> Bikes:
    """Bench files as they are, side by side.

    benches [SI] (n) as read → [SI] (n,). Raises nothing. Source: none needed, bookkeeping.
    """
    return bikes(Design.of(benches))


def front_chambers(design: Design) -> Chambers:
    """The forks' chambers alone, for what asks for no frame.

    design [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 2.
    """
    return chambers(
        Parts(
            designs.ambient_abs_pa(design), design.conditions.fast_exponent, design.fork.travel_m, design.air,
            design.negative_coil, design.lower_legs, design.damper, design.bumper, design.top_out, design.coil,
            designs.on_coil(design),
        )
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """What one spring of a bike is made of, at either end: columns of one shape."""

    ambient_pa: Floats
    exponent: Floats
    travel_m: Floats
    air: columns.Air
    negative_coil: columns.NegativeCoil
    lower_legs: columns.LowerLegs
    damper: columns.Damper
    bumper: columns.Bumper
    top_out: columns.Bumper
    coil: columns.Coil
    on_coil: Bools  # stands on the coil, not on air


def chambers(of: Parts) -> Chambers:
    """What the air spring's model takes of these parts.

    of [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 2.
    """
    air, ambient = of.air, of.ambient_pa
    equalising, own_valve, coil = (
        is_word(air.negative, "negative", word) for word in ("self-equalising", "separate-valve", "coil")
    )
    gas = equalising | own_valve
    equalises = equalising & fitted.port_reached(air.port_position_m, air.port_length_m, of.travel_m)
    port_m = np.maximum(air.port_position_m, 0.0)
    spacers_m3 = np.where(air.spacers == 0.0, 0.0, air.spacers * air.spacer_volume_m3)
    coiled = of.on_coil
    bind_m = np.where(coiled, first_known(of.coil.bind_m, np.inf), np.inf)
    second = ~(np.isnan(air.second_volume_m3) & np.isnan(air.second_pressure_gauge_pa))
    return Chambers(
        ambient_pa=ambient,
        exponent=of.exponent,
        travel_m=np.minimum(of.travel_m, bind_m),  # bound, nothing moves beyond
        bore_m=air.bore_m,
        shaft_m=air.shaft_m,
        pressure_pa=air.pressure_gauge_pa + ambient,
        positive_m3=air.positive_volume_m3 - spacers_m3 - air.oil_on_piston_m3,
        negative_m3=np.where(gas, air.negative_volume_m3 - air.grease_in_negative_m3, 1.0),
        gas_negative=gas,
        equalises=equalises,
        negative_pa=np.where(own_valve, air.negative_pressure_gauge_pa + ambient, ambient),
        port_m=np.where(equalises, port_m, 0.0),
        port_end_m=np.where(equalises, np.maximum(air.port_position_m + air.port_length_m, port_m), 0.0),
        coil_rate_n_per_m=np.where(coil, of.negative_coil.rate_n_per_m, 0.0),
        coil_m=np.where(coil, of.negative_coil.length_m, 0.0),
        legs_m3=of.lower_legs.air_volume_m3,
        legs_m2=of.lower_legs.area_m2,
        rod_m2=0.25 * np.pi * of.damper.rod_m**2,
        damper_m3=of.damper.gas_volume_m3,
        damper_pa=np.where(of.damper.rod_m == 0.0, ambient, of.damper.gas_pressure_gauge_pa + ambient),
        contact_m=of.travel_m - of.bumper.length_m,
        bumper_m=of.bumper.length_m,
        bumper_n_per_m=of.bumper.rate_n_per_m,
        bumper_power=of.bumper.power,
        top_out_m=of.top_out.length_m,
        top_out_n_per_m=of.top_out.rate_n_per_m,
        top_out_power=of.top_out.power,
        spring_n_per_m=np.where(coiled, of.coil.rate_n_per_m, 0.0),
        preload_m=np.where(coiled, of.coil.preload_m, 0.0),
        bind_m=bind_m,
        second_m3=np.where(second, air.second_volume_m3, 0.0),
        second_pa=ambient + np.where(second, air.second_pressure_gauge_pa, 0.0),
    )


# Stands in where a frame is not known: nothing computed from it is ever given out.
_ANY_CHART: Final = Chart(
    head_angle_rad=np.array(1.15), seat_angle_rad=np.array(1.3), reach_m=np.array(0.45), stack_m=np.array(0.62),
    chainstay_m=np.array(0.435), drop_m=np.array(0.03), fork_length_m=np.array(0.53), fork_offset_m=np.array(0.044),
    front_radius_m=np.array(0.37), rear_radius_m=np.array(0.37),
)  # fmt: skip
_ANY_FITTED: Final = Fitted(
    fork_length_m=_ANY_CHART.fork_length_m, offset_m=_ANY_CHART.fork_offset_m,
    front_radius_m=_ANY_CHART.front_radius_m, rear_radius_m=_ANY_CHART.rear_radius_m, rear_sag_m=np.array(0.0),
)  # fmt: skip


def _or_any(whole: Bools, own: Any, any_one: Any) -> Any:
    """The arrays of a chart or of what stands in it, those of another one where the frame is not known."""
    return type(own)(*(np.where(whole, getattr(own, name), getattr(any_one, name)) for name in own.__slots__))


def _chart(frame: columns.Frame, whole: Bools) -> Chart:
    """The frame as its chart gives it, the drop counted from the rear axle; another one where it is not whole."""
    chart = Chart(
        head_angle_rad=frame.head_angle_rad,
        seat_angle_rad=frame.seat_angle_rad,
        reach_m=frame.reach_m,
        stack_m=frame.stack_m,
        chainstay_m=frame.chainstay_m,
        drop_m=frame.bb_drop_m,
        fork_length_m=designs.chart_length_m(frame),
        fork_offset_m=frame.fork_offset_m,
        front_radius_m=frame.front_radius_m,
        rear_radius_m=frame.rear_radius_m,
    )
    drop_m = frame.bb_drop_m
    for word in ("front axle", "axle line"):
        counted = is_word(frame.bb_drop_from, "bb_drop_from", word)
        if counted.any():
            rows = np.nonzero(counted)[0]
            some, front_m, rear_m = chart.take(rows), frame.front_radius_m[rows], frame.rear_radius_m[rows]
            drop_m = drop_m.copy()
            drop_m[rows] = geometry.drop_below_rear_axle_m(some.drop_m, word, front_m, rear_m, some)
    chart = replace(chart, drop_m=drop_m)
    return chart if whole.all() else _or_any(whole, chart, _ANY_CHART)


def _fitted(design: Design) -> Fitted:
    """What stands in the frame."""
    front, rear, frame = design.front_wheel, design.rear_wheel, design.frame
    return Fitted(
        fork_length_m=designs.fork_length_m(design),
        offset_m=designs.fork_offset_m(design),
        front_radius_m=fitted.radius_from_m(
            front.radius_m, front.bead_seat_m, front.tyre_height_m, frame.front_radius_m
        ),
        rear_radius_m=fitted.radius_from_m(rear.radius_m, rear.bead_seat_m, rear.tyre_height_m, frame.rear_radius_m),
        rear_sag_m=first_known(rear.sag_m, 0.0),
    )
