"""Where to start with the rebound after a change: the clicks as they were, scaled by how much stiffer the spring is at sag.

The damping that just stops a mass on a spring from swinging is 2·√(k·m). The mass stays, so the damping wanted grows as √k. Behind,
mass and rate are those at the wheel, and a damper at the shock gives the wheel its own over the square of the leverage ratio:
what is wanted of it grows as r²·√k. What a click does is the damper's own affair: that fewer clicks from closed damp more, in proportion, is taken for want of
better. A start to be ridden, no setting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from topout.bench_file.model import BenchFile, End
from topout.physics import air_spring, geometry, sag
from topout.physics.gas import Floats
from topout.planner import fits as fits_of
from topout.planner import inexact, inputs, leans_on, rear, shock_alone
from topout.planner.design import Design
from topout.planner.fits import Fits, fits
from topout.planner.load import Loads
from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True)
class Rebound:
    """Spring rate at sag after over before [1], behind at the wheel, the damping wanted of the unit likewise [1], and the clicks
    from closed to start from.

    None where it can't be told; clicks only where they were given.
    """

    end: End
    rate_ratio: Interval | None
    damping_ratio: Interval | None
    clicks_before: int | None
    clicks: int | None
    drawn: bool
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    by_stroke: bool = False  # of a shock whose frame's leverage is not known: the rate is its own

    def as_json(self) -> dict[str, Any]:
        """The object that `topout rebound --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        found: dict[str, Any] = {"end": self.end, "clicks_before": self.clicks_before, "clicks": self.clicks}
        found["by_stroke"] = self.by_stroke
        found["defaults"] = [each.as_json() for each in self.defaults]
        for name, told in (("rate_ratio", self.rate_ratio), ("damping_ratio", self.damping_ratio)):
            found |= intervals.as_json(name, told, exact=not self.drawn)
        return found


def rebound(
    bench: BenchFile,
    clicks: int | None = None,
    in_all: int | None = None,
    draws: int = inexact.AT_REST,
    end: End | None = None,
) -> Rebound:
    """What the change does to the damping that the bike wants on the way out, and where to start from.

    bench [SI] (one) as read; clicks [1] (one) from closed as they were, or None; in_all [1] (one) from closed to open, or
    None; draws [1] (one) 1 and more; end [-] (one) None for the front where there is one → [SI] (one). Raises FaultsFound
    where a key lacks, or the sag found can't be. Source: derived; critical damping 2·√(k·m), Rao, Mechanical Vibrations, 2011.
    """
    end = fits_of.end_of(bench, end)
    ratios, also = (_ratios, leans_on.NEGATIVE) if end == "front" else (_ratios_behind, leans_on.NEGATIVE_BEHIND)
    alone = shock_alone.by_stroke(bench) if end == "rear" else None
    bench = alone or bench
    of = fits(bench, draws, end)
    rate, wanted = ratios(of)
    damping = of.told(wanted)
    start = None
    if clicks is not None and damping is not None:
        start = max(round(clicks / damping.median), min(clicks, 1))
        start = start if in_all is None else min(start, in_all)
    taken = leans_on.of_answer(bench, of.made, lambda each: {"damping_ratio": ratios(each)[1]}, also)
    return Rebound(end, of.told(rate), damping, clicks, start, of.made is not None, taken, alone is not None)


def _ratios(of: Fits) -> tuple[Floats, Floats]:
    """The spring's rate at sag after the change, over that before it, and the damping wanted likewise [1]."""
    rate = _over(*(rates_at_sag_n_per_m(design, of.loads) for design in (of.before, of.after)))
    return rate, np.sqrt(rate)


def _ratios_behind(of: Fits) -> tuple[Floats, Floats]:
    """The same of the rear wheel's rate, and of the shock's damping."""
    (one, first), (two, second) = (at_sag_behind(design, of.loads) for design in (of.before, of.after))
    rate = _over(one, two)
    return rate, np.sqrt(rate) * (second / first) ** 2


def _over(before: Floats, after: Floats) -> Floats:
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


def at_sag_behind(design: Design, loads: Loads) -> tuple[Floats, Floats]:
    """The rear wheel's slow rate where each bike rests [N/m], and the leverage ratio there [1].

    design [SI] (n,) any; loads [N] (n,) of the same bikes → [N/m], [1] (n,) each, NaN where not known. Raises nothing. Source:
    physics.md 2 and 7.
    """
    of = rear.rear(design)
    if of is None or loads.behind_n is None:
        return np.full(len(design), np.nan), np.full(len(design), np.nan)
    return rear.at_sag(of, rear.at_rest(of, loads.behind_n))
