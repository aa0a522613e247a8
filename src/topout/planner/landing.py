"""How hard a landing uses all the travel: the drop whose energy the spring takes up over its whole length, in front or behind.

Damping, friction, tyre and the rider's legs are left out, and all of them help: a real bike stands a higher drop. It is a
figure to compare two builds by, not a promise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile, End
from topout.physics import air_spring, energy, geometry
from topout.physics.gas import Floats
from topout.planner import fits as fits_of
from topout.planner import inexact, inputs, leans_on, rear
from topout.planner.design import Design
from topout.planner.fits import fits
from topout.planner.load import Loads
from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class Landing:
    """The drop [m] that uses all the travel at one end, before and after the change; None where it can't be told."""

    end: End
    before: Interval | None
    after: Interval | None
    drawn: bool
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on

    def as_json(self) -> dict[str, Any]:
        """The object that `topout landing --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        both = {"before": self.before, "after": self.after}
        told = {name: intervals.as_json("drop_m", each, exact=not self.drawn) for name, each in both.items()}
        return {"end": self.end, **told, "defaults": [each.as_json() for each in self.defaults]}


def landing(bench: BenchFile, draws: int = inexact.AT_REST, end: End | None = None) -> Landing:
    """The drop onto both wheels that just uses all the travel of the fork, or all the stroke behind, before and after the change.

    bench [SI] (one) as read; draws [1] (one) 1 and more; end [-] (one) None for the front where there is one → [m] (2). Raises
    FaultsFound where a key lacks, or the sag found can't be. Source: derived from physics.md 1, 2 and 7 by conservation of
    energy.
    """
    end = fits_of.end_of(bench, end)
    drops, also = (drops_m, leans_on.OF_SPRING) if end == "front" else (drops_behind_m, leans_on.OF_SHOCK)
    of = fits(bench, draws, end)
    before, after = (of.told(drops(design, of.loads)) for design in (of.before, of.after))
    taken = leans_on.of_answer(bench, of.made, lambda each: {"drop_m": drops(each.after, each.loads)}, also)
    return Landing(end, before, after, of.made is not None, taken)


def drops_m(design: Design, loads: Loads) -> Floats:
    """The drop [m] whose energy each fork takes up over its whole travel; 0 where standing on it already does.

    Weight·(h + the way the head sinks meanwhile) = ∫F dx of a quick stroke from full extension. The weight is the rider's
    and the bike's share on the front wheel without the unsprung part, the same as at sag.

    design [SI] (n,) any; loads [N] (n,) of the same bikes → [m] (n,) 0 and more, NaN where not known. Raises nothing.
    Source: derived from physics.md 1, 2 and 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        settled = fits_of.settled(design)
        end_m = settled.fit.travel_m
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        sin, _ = geometry.head_angle_sine(
            stand, 0.5 * end_m
        )  # it sinks along the axis, whose angle hardly turns meanwhile
        weight_n = np.where(loads.load.side_n > 0.0, loads.load.side_n, np.nan)
        drop = energy.fast_j(settled) / weight_n - end_m * sin
    return np.where(bikes.framed, np.maximum(drop, 0.0), np.nan)


def drops_behind_m(design: Design, loads: Loads) -> Floats:
    """The same behind: weight·(h + rear wheel travel) = ∫F ds of a quick stroke of the shock, which is ∫F dw at the wheel.

    design [SI] (n,) any; loads [N] (n,) of the same bikes → [m] (n,) 0 and more, NaN where not known. Raises nothing.
    Source: derived from physics.md 1, 2 and 7; virtual work.
    """
    of = rear.rear(design)
    if of is None or loads.behind_n is None:
        return np.full(len(design), np.nan)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        settled = air_spring.settle(air_spring.computable(of.chambers))
        weight_n = np.where(loads.behind_n > 0.0, loads.behind_n, np.nan)
        return np.maximum(energy.fast_j(settled) / weight_n - of.end_m, 0.0)
