"""Where to start with the rebound after a change: the clicks as they were, scaled by how much stiffer the spring is at sag.

The damping that just stops a mass on a spring from swinging is 2·√(k·m). The mass stays, so the damping wanted grows as √k.
What a click does is the damper's own affair: that fewer clicks from closed damp more, in proportion, is taken for want of
better. A start to be ridden, no setting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import Floats
from topout.planner import drawn, inputs, leans_on
from topout.planner import fits as fits_of
from topout.planner.design import Design
from topout.planner.fits import Fits, fits
from topout.planner.load import Loads
from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class Rebound:
    """Spring rate at sag after over before [1], the damping wanted likewise [1], and the clicks from closed to start from.

    None where it can't be told; clicks only where they were given.
    """

    rate_ratio: Interval | None
    damping_ratio: Interval | None
    clicks_before: int | None
    clicks: int | None
    drawn: bool
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on

    def as_json(self) -> dict[str, Any]:
        """The object that `topout rebound --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        found: dict[str, Any] = {"clicks_before": self.clicks_before, "clicks": self.clicks}
        found["defaults"] = [each.as_json() for each in self.defaults]
        for name, told in (("rate_ratio", self.rate_ratio), ("damping_ratio", self.damping_ratio)):
            found |= intervals.as_json(name, told, exact=not self.drawn)
        return found


def rebound(
    bench: BenchFile, clicks: int | None = None, in_all: int | None = None, draws: int = drawn.AT_REST
) -> Rebound:
    """What the change does to the damping that the bike wants on the way out, and where to start from.

    bench [SI] (one) as read; clicks [1] (one) from closed as they were, or None; in_all [1] (one) from closed to open, or
    None; draws [1] (one) 1 and more → [SI] (one). Raises FaultsFound where a key lacks, or the sag found can't be. Source:
    derived; critical damping 2·√(k·m), Rao, Mechanical Vibrations, 2011.
    """
    of = fits(bench, draws)
    ratio = _ratio(of)
    damping = of.told(np.sqrt(ratio))
    start = None
    if clicks is not None and damping is not None:
        start = max(round(clicks / damping.median), min(clicks, 1))
        start = start if in_all is None else min(start, in_all)
    taken = leans_on.of_answer(bench, of.made, lambda each: {"damping_ratio": np.sqrt(_ratio(each))}, (leans_on.KIND,))
    return Rebound(of.told(ratio), damping, clicks, start, of.made is not None, taken)


def _ratio(of: Fits) -> Floats:
    """The spring's rate at sag after the change, over that before it [1]."""
    before, after = (rates_at_sag_n_per_m(design, of.loads) for design in (of.before, of.after))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((before > 0.0) & (after > 0.0), after / before, np.nan)


def rates_at_sag_n_per_m(design: Design, loads: Loads) -> Floats:
    """The slow spring's rate where each bike rests [N/m].

    design [SI] (n,) any; loads [N] (n,) of the same bikes → [N/m] (n,) NaN where not known. Raises nothing. Source:
    physics.md 2 and 7.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(design)
        settled = fits_of.settled(design)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        rests_m = sag.at_rest_m(settled, stand, loads.load, bikes.friction)[0]
        return air_spring.force_and_rate(settled, rests_m)[1]
