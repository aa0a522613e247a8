"""The bikes that a question is worked out on: the one that an exact file describes, or all that fit one that leaves something open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from topout.bench_file import checks
from topout.bench_file.model import BenchFile, End
from topout.errors import FaultsFound
from topout.physics import air_spring, geometry, sag
from topout.physics.air_spring import Chambers, EquilibratedSpring
from topout.physics.gas import Floats
from topout.physics.sag import Load
from topout.planner import design as designs
from topout.planner import inexact, inputs, keep, load, missing, rear
from topout.planner.design import Changes, Design
from topout.planner.load import Loads

if TYPE_CHECKING:  # an exact plan starts without what is drawn
    from topout.planner.drawn import Drawn
    from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """n bikes before and after their change with their loads, shape (n,); `made` where they were drawn, else there is one."""

    before: Design
    after: Design
    loads: Loads
    made: Drawn | None

    def told(self, values: Floats) -> Interval | None:
        """A quantity of them as it is known: one figure where the file is exact, None where it has none.

        values [SI] (n,) NaN where a bike gives none → [SI] (one) or None. Raises nothing. Source: JCGM 101:2008 7.5.
        """
        from topout.uncertainty.intervals import Interval, interval

        if self.made is not None:
            return interval(values, self.made.weights)
        value = float(values[0])
        return Interval(value, value, value, 0.0) if np.isfinite(value) else None

    def shown_pa(self, true_pa: Floats) -> Floats:
        """What the job's own gauge shows of a true gauge pressure [Pa]; the same where nothing was drawn.

        true_pa [Pa] (n,) any → [Pa gauge] (n,). Raises nothing. Source: physics.md 12.
        """
        return true_pa if self.made is None else self.made.gauge.shown_pa(true_pa)


def fits(bench: BenchFile, count: int = inexact.AT_REST, end: End = "front") -> Fits:
    """The bikes of a file, as they are and as its change would have them.

    bench [SI] (one) as read; count [1] (one) 1 and more, how many are drawn where something is left open; end [-] (one)
    whose spring is asked about → [SI] (one).
    Raises FaultsFound where a key lacks that no bike can be drawn without, or no bike could have shown what was found.
    Source: physics.md 12.
    """
    lacking = _lacking_in_front(bench) if end == "front" else _lacking_behind(bench)
    if lacking:
        raise FaultsFound([missing.needed(place) for place in dict.fromkeys(lacking)])
    if inexact.is_drawn(bench):
        from topout.planner import drawn

        made = drawn.draw(bench, count)
        found = _standing(made.design, made.changes, made.loads, made)
    else:
        found = of_exact([bench])
        load.of_one(bench, found.loads)  # a sag found past the end of the travel is refused, as by a plan
    if end == "rear" and (found.loads.behind_n is None or np.isnan(found.loads.behind_n).all()):
        raise FaultsFound([checks.unfound_behind()])
    return found


def _lacking_in_front(bench: BenchFile) -> list[str]:
    lacking = [*missing.for_spring(bench), *missing.for_load(bench), *missing.for_stance(bench)]
    if not inexact.fills(bench):
        return lacking
    without = {*missing.for_spring(bench), "[rider] front_share"}  # drawn in their place
    return [place for place in lacking if place not in without]


def _lacking_behind(bench: BenchFile) -> list[str]:
    """Of a shock: its spring and the leverage; that its load is known is seen when it is worked out."""
    spring = [] if inexact.fills_behind(bench) else missing.for_spring_behind(bench)
    return [*spring, *missing.for_wheel(bench)]


def end_of(bench: BenchFile, asked: End | None = None) -> End:
    """The end that a question is about: the one asked for, else what the file has, the front first.

    bench [SI] (one) as read; asked [-] (one) or None → [-] (one). Raises nothing. Source: bench-file.md.
    """
    if asked is not None:
        return asked
    return "rear" if bench.fork is None and bench.shock is not None else "front"


def of_exact(benches: Sequence[BenchFile]) -> Fits:
    """The bikes of several files of which nothing is drawn, side by side.

    benches [SI] (n) as read, whole for what is asked → [SI] (n,). Raises FaultsFound where a sag found can't be. Source:
    none needed, bookkeeping.
    """
    before, changes = Design.of(benches), Changes.of(benches)
    return _standing(before, changes, load.loads(before), None)


def _standing(before: Design, changes: Changes, loads: load.Loads, made: Drawn | None) -> Fits:
    """Both states, with the rear wheel where it rests behind a shock."""
    after, asked_m = designs.changed(before, changes), changes.rear_wheel.sag_m
    return Fits(rear.stood(before, loads.behind_n), rear.stood(after, loads.behind_n, asked_m), loads, made)


def settled(design: Design) -> EquilibratedSpring:
    """The springs of these bikes, NaN where a chamber locks.

    design [SI] (n,) any → [SI] (n,). Raises nothing. Source: physics.md 2.
    """
    return air_spring.settle(air_spring.computable(inputs.bikes(design).chambers))


def end_force_n(design: Design) -> Floats:
    """Slow force at the end of the travel [N].

    design [SI] (n,) any → [N] (n,) NaN where a chamber locks. Raises nothing. Source: physics.md 2.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        spring = settled(design)
        return air_spring.force(spring, spring.fit.travel_m)


def for_sag_pa(
    of: Fits, design: Design, rests_m: Floats, chambers: Chambers | None = None, load: Load | None = None
) -> Floats:
    """The true gauge pressure at which these bikes rest so far in [Pa], NaN where none in range does it.

    of [SI] (n,) bikes and loads; design [SI] (n,) the same with another setting; rests_m [m] (n,) 0 to the travel; chambers
    [SI] (n,) in place of the design's own, or None; load [N] (n,) in place of theirs, or None → [Pa gauge] (n,). Raises
    nothing. Source: physics.md 2 and 7; linear in the pressure.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        spring = settled(design) if chambers is None else air_spring.settle(chambers)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        return keep.at_load(spring, stand, of.loads.load if load is None else load, rests_m)


def rests_m(of: Fits, design: Design) -> Floats:
    """The sag of these bikes under the loads [m].

    of [SI] (n,) bikes and loads; design [SI] (n,) the same with another setting → [m] (n,). Raises nothing. Source:
    physics.md 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        return sag.at_rest_m(settled(design), stand, of.loads.load, bikes.friction)[0]
