"""The pictures of one plan or one state: from bench file and results to what charts and stance draw."""

from __future__ import annotations

import math
from dataclasses import dataclass

from topout.bench_file.model import BenchFile, Wheel
from topout.documents import band_charts, charts, pose
from topout.documents.band_charts import BandSide
from topout.documents.bike import RIM_M, Standing
from topout.documents.charts import Side
from topout.documents.svg import Drawing
from topout.planner import bands, change, fitted, rear
from topout.planner.bounds import Answered
from topout.planner.design import Design
from topout.planner.results import Curve, EndSag, Geometry, Plan, Sag, State
from topout.units import BENCH, System


@dataclass(frozen=True, slots=True)
class PlanPictures:
    """What a plan has to show; None where a part could not be computed. `at_sag` is False without a rider."""

    before: Side | None
    after: Side | None
    until_mm: float  # as far as the difference of the forces is drawn: the shorter travel less its bumper
    was: Standing | None
    now: Standing | None
    at_sag: bool
    bands: tuple[BandSide, ...] = ()  # in place of the curves, where something of the spring was drawn

    @property
    def sides(self) -> tuple[Side, ...]:
        """The states that have a curve."""
        return tuple(side for side in (self.before, self.after) if side is not None)

    def force(self, width: int, name: str = "force", classes: str = "", system: System = BENCH) -> Drawing | None:
        """The force along the travel at a width in pixels; `name` begins the ids inside the drawing."""
        if self.bands:
            return band_charts.bands(self.bands, charts.room(width), name, classes, system)
        return charts.force(self.sides, charts.room(width), name, classes, system) if self.sides else None

    def difference(
        self, width: int, name: str = "difference", classes: str = "", system: System = BENCH
    ) -> Drawing | None:
        """The difference of the slow forces, where there are two."""
        if self.before is None or self.after is None:
            return None
        return charts.difference(self.before, self.after, self.until_mm, charts.room(width), name, classes, system)


def of_plan(
    bench: BenchFile, plan: Plan, changed: BenchFile | None = None, draws: Answered | None = None
) -> PlanPictures:
    """The pictures of a plan that was computed with its curves, or that was told from draws."""
    after = changed if changed is not None else change.changed(bench)
    one, two = plan.before.geometry, plan.after.geometry
    at_sag = one is not None and two is not None and one.sagged is not None and two.sagged is not None
    return PlanPictures(
        _side("before", plan.curve_before, plan.before),
        _side("after", plan.curve_after, plan.after),
        min(_free_mm(bench), _free_mm(after)),
        _standing(bench, one, plan.before.sag, at_sag),
        _standing(after, two, plan.after.sag, at_sag),
        at_sag,
        () if draws is None else _bands(draws),
    )


def _bands(draws: Answered) -> tuple[BandSide, ...]:
    """The bands of both states, each with the end that is said of it; before with the sag that was found in it."""
    both, found = bands.slow_force(draws), draws.bench.found
    if both is None:
        return ()
    sides = []
    for name, band in zip(("before", "after"), both, strict=True):
        end_n = draws.bounds.of.get((name, "end_force_n"))
        if end_n is not None:
            sides.append(BandSide(name, band, end_n, found.sag_m if found is not None and name == "before" else None))
    return tuple(sides)


@dataclass(frozen=True, slots=True)
class BehindSides:
    """The bands of a rear end in both states: its force, each with the end that is said of it, and the rate at the wheel, with that
    at sag."""

    force: tuple[BandSide, ...] = ()
    rate: tuple[BandSide, ...] = ()


def behind(draws: Answered) -> BehindSides:
    """The bands of a rear end in both states; before with the sag that was found in it."""
    both, shock, one = bands.behind(draws), draws.bench.shock, Design.of([draws.bench])
    ends = rear.rear(one)
    if both is None or shock is None or ends is None:
        return BehindSides()
    linked = bool(shock.leverage or shock.leverage_stroke)
    travel_m = float(rear.found_travel_m(one, ends)[0])  # read as stroke, drawn along the wheel's travel
    found_m = shock.sag_m if not linked else travel_m if math.isfinite(travel_m) else None
    force, rate = [], []
    for name, of in zip(("before", "after"), both, strict=True):
        sag_m = found_m if name == "before" else None
        end_n = draws.said.get((name, "rear", "wheel_end_force_n" if linked else "end_force_n"))
        if end_n is not None:
            force.append(BandSide(name, of.force, end_n, sag_m))
        at_sag = draws.said.get((name, "rear", "wheel_rate_n_per_m"))
        if of.wheel_rate is not None and at_sag is not None:
            rate.append(BandSide(name, of.wheel_rate, at_sag, sag_m))
    return BehindSides(tuple(force), tuple(rate))


def of_state(bench: BenchFile, curve: Curve | None, sag: Sag | None, geometry: Geometry | None) -> PlanPictures:
    """The same for one state alone: the bike as it is."""
    at_sag = geometry is not None and geometry.sagged is not None
    side = None if curve is None else Side("", curve, sag.front if sag is not None else None)
    return PlanPictures(None, side, _free_mm(bench), None, _standing(bench, geometry, sag, at_sag), at_sag)


def _side(name: str, curve: Curve | None, state: State) -> Side | None:
    if curve is None:
        return None
    front: EndSag | None = state.sag.front if state.sag is not None else None
    return Side(name, curve, front)


def _free_mm(bench: BenchFile) -> float:
    """Travel less the bumper [mm]."""
    fork = bench.fork
    if fork is None or fork.travel_m is None:
        return 0.0
    bumper = fork.bumper.length_m if fork.bumper is not None and fork.bumper.length_m is not None else 0.0
    return (fork.travel_m - bumper) * 1e3


def _standing(bench: BenchFile, geometry: Geometry | None, sag: Sag | None, at_sag: bool) -> Standing | None:
    """The points of a state, at sag where both states are known there, else at full extension."""
    front, rear = fitted.front_radius_m(bench), fitted.rear_radius_m(bench)
    offset, length = fitted.fork_offset_m(bench), fitted.fork_length_m(bench)
    if geometry is None or front is None or rear is None or offset is None or length is None:
        return None
    in_m = sag.front.travel_m if at_sag and sag is not None and sag.front is not None else 0.0
    stance = geometry.sagged if at_sag and geometry.sagged is not None else geometry.unloaded
    travel = (bench.fork.travel_m if bench.fork else None) or 0.0
    stands = pose.Fitted(front, rear, offset, length - in_m, max(travel - in_m, 0.0))
    shock_m = _shock_m(bench, sag if at_sag else None)
    return Standing(pose.pose(stance, stands), stance, _rim(bench.front_wheel), _rim(bench.rear_wheel), shock_m)


def _shock_m(bench: BenchFile, sag: Sag | None) -> float | None:
    """How long the shock stands, eye to eye; None where its length, or at sag the stroke used, is not known."""
    length_m = bench.shock.length_m if bench.shock is not None else None
    if length_m is None or sag is None:
        return length_m
    used_m = sag.rear.stroke_m if sag.rear is not None else None
    return None if used_m is None else length_m - used_m


def _rim(wheel: Wheel | None) -> float:
    return wheel.bead_seat_m / 2 if wheel is not None and wheel.bead_seat_m is not None else RIM_M
