"""One or many bikes as columns of SI arrays: what is changed, loaded and evaluated. A bench file only feeds it.

`Design.of` reads bench files, `take` repeats or selects, `dataclasses.replace` puts in what is drawn; `changed`, `bikes` and
`load.loads` are array work alone, the same for one bike and for a million. NaN is what is not known, and whatever needs it
is NaN as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file import calls_for, model
from topout.physics.gas import Bools, Floats
from topout.planner import columns, fitted, shocks
from topout.planner.columns import first_known, is_word
from topout.planner.shocks import Shocks


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Design:
    """n bikes, one state each: the tables of the bench file as columns of shape (n,), SI, NaN where nothing is known."""

    conditions: columns.Conditions
    rider: columns.Rider
    bike: columns.Bike
    frame: columns.Frame
    front_wheel: columns.Wheel
    rear_wheel: columns.Wheel
    fork: columns.Fork
    air: columns.Air
    negative_coil: columns.NegativeCoil
    coil: columns.Coil
    lower_legs: columns.LowerLegs
    damper: columns.Damper
    bumper: columns.Bumper
    top_out: columns.Bumper
    found: columns.Found
    calibrates: Bools  # there is a [found]: the load comes from it alone
    shock: Shocks | None = None  # None where no bike has a [shock]

    @classmethod
    def of(cls, benches: Sequence[model.BenchFile]) -> Design:
        """Read bench files as they are, their changes left out.

        benches [SI] (n) as read → [SI] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        forks = [bench.fork or _NO_FORK for bench in benches]
        front = columns.Wheel.of([bench.front_wheel for bench in benches])
        rear = columns.Wheel.of([bench.rear_wheel for bench in benches])
        frame = _drawn_for(columns.Frame.of([bench.frame for bench in benches]), front, rear)
        airs = [fork.air or (columns.NO_AIR if fork.coil is not None else None) for fork in forks]
        fork, air = columns.Fork.of(forks), columns.Air.of(airs)
        return cls(
            conditions=columns.Conditions.of([bench.conditions for bench in benches]),
            rider=columns.Rider.of([bench.rider for bench in benches]),
            bike=columns.Bike.of([bench.bike for bench in benches]),
            frame=frame,
            front_wheel=front,
            rear_wheel=rear,
            fork=replace(fork, friction_n=first_known(fork.friction_n, 0.0)),
            air=replace(air, port_position_m=first_known(air.port_position_m, 0.0)),
            negative_coil=columns.NegativeCoil.of([air.negative_coil if air else None for air in airs]),
            coil=columns.Coil.of([fork.coil for fork in forks]),
            lower_legs=columns.LowerLegs.of([fork.lower_legs for fork in forks]),
            damper=columns.Damper.of([fork.damper for fork in forks]),
            bumper=columns.Bumper.of([fork.bumper for fork in forks]),
            top_out=columns.Bumper.of([fork.top_out for fork in forks]),
            found=columns.Found.of([bench.found for bench in benches]),
            calibrates=np.array([calls_for.found_in_front(bench) for bench in benches]),
            shock=Shocks.of([bench.shock for bench in benches]),
        )

    def take(self, index: Any) -> Design:
        """The same for a part of the bikes, or repeated (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        tables = {name: getattr(self, name).take(index) for name in _TABLES}
        shock = None if self.shock is None else self.shock.take(index)
        return Design(**tables, calibrates=self.calibrates[index], shock=shock)

    def repeated(self, count: int) -> Design:
        """One bike so many times, none of it copied.

        count [1] (one) 1 and more → [SI] (count,) not to be written into. Raises nothing. Source: none needed, bookkeeping.
        """
        tables = {name: getattr(self, name).repeated(count) for name in _TABLES}
        shock = shocks.repeated(self.shock, count)
        return Design(**tables, calibrates=np.broadcast_to(self.calibrates, (count,)), shock=shock)

    def __len__(self) -> int:
        return int(self.calibrates.size)


def _drawn_for(frame: columns.Frame, front: columns.Wheel, rear: columns.Wheel) -> columns.Frame:
    """The charts, those that do not say their wheels drawn for those fitted."""
    radii = {
        f"{end}_radius_m": first_known(
            chart_m, fitted.radius_from_m(wheel.radius_m, wheel.bead_seat_m, wheel.tyre_height_m, np.nan)
        )
        for end, chart_m, wheel in (("front", frame.front_radius_m, front), ("rear", frame.rear_radius_m, rear))
    }
    return replace(frame, **radii)


def drawn_for_its_wheels(design: Design, chart: model.Frame | None) -> Design:
    """The bikes after their wheels were drawn: a chart that does not say its wheels follows those fitted.

    design [SI] (n,) of one file; chart [SI] (one) its frame as read, or None → [SI] (n,). Raises nothing. Source: none
    needed, bookkeeping.
    """
    says = chart or model.Frame()
    unsaid = {
        name: np.full(len(design), np.nan)
        for name in ("front_radius_m", "rear_radius_m")
        if getattr(says, name) is None
    }
    frame = replace(design.frame, **unsaid)
    return replace(design, frame=_drawn_for(frame, design.front_wheel, design.rear_wheel))


_NO_FORK: Final = model.Fork()
_TABLES: Final = tuple(name for name in Design.__slots__ if name not in ("calibrates", "shock"))


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Changes:
    """What is asked of each bike: columns of shape (n,), NaN where a change names nothing."""

    asked: columns.Asked
    front_wheel: columns.Wheel
    rear_wheel: columns.Wheel
    air: columns.Air
    negative_coil: columns.NegativeCoil
    coil: columns.Coil
    shock: columns.ShockAsked

    @classmethod
    def of(cls, benches: Sequence[model.BenchFile]) -> Changes:
        """Read what the bench files ask for; one without a change asks for nothing.

        benches [SI] (n) as read → [SI] (n,). Raises nothing. Source: none needed, bookkeeping.
        """
        asked = [bench.change or _NO_CHANGE for bench in benches]
        airs = [change.air or {} for change in asked]
        return cls(
            asked=columns.Asked.of(asked),
            front_wheel=columns.Wheel.of([change.front_wheel for change in asked]),
            rear_wheel=columns.Wheel.of([change.rear_wheel for change in asked]),
            air=columns.Air.of(airs),
            negative_coil=columns.NegativeCoil.of([air.get("negative_coil") for air in airs]),
            coil=columns.Coil.of([change.coil or {} for change in asked]),
            shock=columns.ShockAsked.of([change.shock for change in asked]),
        )

    def take(self, index: Any) -> Changes:
        """The same for a part of the bikes, or repeated (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Changes(**{name: getattr(self, name).take(index) for name in Changes.__slots__})

    def repeated(self, count: int) -> Changes:
        """What one file asks for so many times, none of it copied.

        count [1] (one) 1 and more → [SI] (count,) not to be written into. Raises nothing. Source: none needed, bookkeeping.
        """
        return Changes(**{name: getattr(self, name).repeated(count) for name in Changes.__slots__})


_NO_CHANGE: Final = model.Change()


def changed(design: Design, changes: Changes) -> Design:
    """The bikes after their changes; what a change does not name stays, the pressure too.

    Shaft: chambers as they are, the fork as much longer as the travel. Piston spacer of thickness Δ = S − S′: top-out
    moves in by Δ, so main chamber − A_p·Δ, negative + A_n·Δ less the spacer itself, port Δ nearer to full extension.
    Both let the lower legs sit as much lower, so that their room grows by their area times it. Chassis: as the change's own
    [change.air] says. A rate in [change.coil] is another spring, on an air fork in place of
    the air; preload alone winds up the one that is there, whose coils then touch as much sooner. Room at the crown grows with the fork.

    design [SI] (n,) any; changes [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 2 and 6.
    """
    fork, asked = design.fork, changes.asked
    longer_m = first_known(asked.travel_m - fork.travel_m, 0.0)
    length_m = fork_length_m(design)
    new_length_m = first_known(asked.fork_length_m, length_m + longer_m)
    legs, lower_m = design.lower_legs, np.where(is_word(asked.by, "by", "chassis"), 0.0, longer_m)
    return replace(
        design,
        fork=replace(
            fork,
            travel_m=first_known(asked.travel_m, fork.travel_m),
            length_m=new_length_m,
            length_straight_m=np.full_like(length_m, np.nan),
            offset_m=first_known(asked.offset_m, fork.offset_m),
            tyre_room_m=fork.tyre_room_m + first_known(new_length_m - length_m, longer_m),
        ),
        air=_changed_air(design, changes, longer_m),
        coil=_changed_coil(design, changes),
        negative_coil=changes.negative_coil.named_over(design.negative_coil),
        lower_legs=replace(legs, air_volume_m3=legs.air_volume_m3 + legs.area_m2 * lower_m),
        front_wheel=_changed_wheel(design.front_wheel, changes.front_wheel),
        rear_wheel=_changed_wheel(design.rear_wheel, changes.rear_wheel),
        shock=None if design.shock is None else shocks.changed(design.shock, changes.shock),
    )


def _changed_air(design: Design, changes: Changes, longer_m: Floats) -> columns.Air:
    air, asked = design.air, changes.asked
    coiled = on_coil(design)
    if coiled.any():  # off the coil, onto an air spring that the change describes whole
        air = _with(coiled & ~np.isnan(changes.air.bore_m), _UNKNOWN_AIR, air)
    onto = ~coiled & ~np.isnan(changes.coil.rate_n_per_m)
    if onto.any():
        air = _with(onto, _NO_AIR, air)
    spacer = is_word(asked.by, "by", "piston-spacer") & (longer_m != 0.0)
    if spacer.any():
        piston_m2 = 0.25 * np.pi * air.bore_m**2
        annulus_m2 = piston_m2 - 0.25 * np.pi * air.shaft_m**2
        # a spacer taken out gives its own volume back
        solid_m3 = np.where(longer_m < 0.0, asked.spacer_solid_volume_m3, -asked.spacer_solid_volume_m3)
        air = replace(
            air,
            positive_volume_m3=np.where(spacer, air.positive_volume_m3 + piston_m2 * longer_m, air.positive_volume_m3),
            negative_volume_m3=np.where(
                spacer, air.negative_volume_m3 - annulus_m2 * longer_m - solid_m3, air.negative_volume_m3
            ),
            port_position_m=np.where(spacer, air.port_position_m + longer_m, air.port_position_m),
        )
    air = replace(
        air,
        spacers=first_known(asked.spacers, air.spacers),
        pressure_gauge_pa=first_known(asked.pressure_gauge_pa, air.pressure_gauge_pa),
    )
    result: columns.Air = changes.air.named_over(air)
    coiled = result.bore_m == 0.0  # there is no air to put spacers into or to pump, whatever a change asks
    return _with(coiled, _NO_AIR, result) if coiled.any() else result


def on_coil(design: Design) -> Bools:
    """Where a fork stands on a coil in place of air.

    design [SI] (n,) any → [-] (n,). Raises nothing. Source: none needed, bookkeeping.
    """
    return np.asarray(design.air.bore_m == 0.0)


def _changed_coil(design: Design, changes: Changes) -> columns.Coil:
    old, new = design.coil, changes.coil
    off = on_coil(design) & ~np.isnan(changes.air.bore_m)
    made = shocks.changed_coil(old, new)
    rate, bind_m = (np.where(off, np.nan, value) for value in (made.rate_n_per_m, made.bind_m))
    return columns.Coil(rate, np.where(off, 0.0, made.preload_m), bind_m)


def _with(where: Bools, table: columns.Air, old: columns.Air) -> columns.Air:
    """The one table's values where it says so, the old ones elsewhere."""
    return columns.Air(*(np.where(where, getattr(table, name), getattr(old, name)) for name in old.__slots__))


_NO_AIR: Final = columns.Air.of([columns.NO_AIR])
_UNKNOWN_AIR: Final = columns.Air.of([model.Air(port_position_m=0.0)])


def _changed_wheel(old: columns.Wheel, new: columns.Wheel) -> columns.Wheel:
    """A wheel's size is one thing: naming any of it replaces the size, but a tyre alone keeps its bead seat."""
    measured = ~np.isnan(new.radius_m)
    sized = measured | ~np.isnan(new.bead_seat_m) | ~np.isnan(new.tyre_height_m)
    return columns.Wheel(
        bead_seat_m=np.where(measured, np.nan, first_known(new.bead_seat_m, old.bead_seat_m)),
        tyre_height_m=np.where(measured, np.nan, first_known(new.tyre_height_m, old.tyre_height_m)),
        radius_m=np.where(sized, new.radius_m, old.radius_m),
        sag_m=first_known(new.sag_m, old.sag_m),
    )


def ambient_abs_pa(design: Design) -> Floats:
    """Ambient pressure [Pa abs], shape (n,).

    design [SI] (n,) any → [Pa abs] (n,). Raises nothing. Source: US Standard Atmosphere 1976.
    """
    result: Floats = fitted.ambient_from_pa(design.conditions.ambient_abs_pa, design.conditions.altitude_m)
    return result


def fork_offset_m(design: Design) -> Floats:
    """The forks' offset [m], the chart's where they give none.

    design [SI] (n,) any → [m] (n,). Raises nothing. Source: bench-file.md.
    """
    result: Floats = first_known(design.fork.offset_m, design.frame.fork_offset_m)
    return result


def fork_length_m(design: Design) -> Floats:
    """The forks' length along the steering axis [m], the chart's where they give none.

    design [SI] (n,) any → [m] (n,). Raises nothing. Source: physics.md 6.
    """
    fork, frame = design.fork, design.frame
    own = fitted.length_from_m(fork.length_m, fork.length_straight_m, fork_offset_m(design))
    result: Floats = first_known(own, chart_length_m(frame))
    return result


def chart_length_m(frame: columns.Frame) -> Floats:
    """The charts' fork length along the steering axis [m].

    frame [SI] (n,) any → [m] (n,). Raises nothing. Source: physics.md 6.
    """
    result: Floats = fitted.length_from_m(frame.fork_length_m, frame.fork_length_straight_m, frame.fork_offset_m)
    return result


def framed(design: Design) -> Bools:
    """Where the frame's chart is whole, shape (n,).

    design [SI] (n,) any → [-] (n,). Raises nothing. Source: bench-file.md.
    """
    f = design.frame
    lengths = f.reach_m + f.stack_m + f.chainstay_m + f.bb_drop_m + f.front_radius_m + f.rear_radius_m + f.fork_offset_m
    whole = lengths + f.head_angle_rad + first_known(f.fork_length_m, f.fork_length_straight_m)
    return np.asarray(~np.isnan(whole))
