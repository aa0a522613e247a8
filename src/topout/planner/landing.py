"""How hard a landing uses all the travel: the drop whose energy the spring takes up over its whole length.

Damping, friction, tyre and the rider's legs are left out, and all of them help: a real bike stands a higher drop. It is a
figure to compare two builds by, not a promise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import energy, geometry
from topout.physics.gas import Floats
from topout.planner import drawn, inputs, leans_on
from topout.planner import fits as fits_of
from topout.planner.design import Design
from topout.planner.fits import fits
from topout.planner.load import Loads
from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class Landing:
    """The drop [m] that uses all the fork's travel, before and after the change; None where it can't be told."""

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
        return {**told, "defaults": [each.as_json() for each in self.defaults]}


def landing(bench: BenchFile, draws: int = drawn.AT_REST) -> Landing:
    """The drop onto both wheels that just uses all the travel of the fork, before and after the change.

    bench [SI] (one) as read; draws [1] (one) 1 and more → [m] (2). Raises FaultsFound where a key lacks, or the sag
    found can't be. Source: derived from physics.md 1, 2 and 7 by conservation of energy.
    """
    of = fits(bench, draws)
    before, after = (of.told(drops_m(design, of.loads)) for design in (of.before, of.after))
    taken = leans_on.of_answer(bench, of.made, lambda each: {"drop_m": drops_m(each.after, each.loads)})
    return Landing(before, after, of.made is not None, taken)


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
