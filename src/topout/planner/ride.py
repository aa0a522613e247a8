"""A bike that is set here and ridden elsewhere: colder or warmer, higher up. What the gauge and the sag do there, and what to
set here so that it is right there.

The gas that is shut in follows the absolute temperature, p₂ = p₁·T₂/T₁, in every chamber alike; the outside pressure is
that of the other height. A spring that is settled here is settled there, since main and negative chamber change alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile, End, Ride
from topout.errors import Fault, FaultsFound
from topout.physics import air_spring, gas, geometry, leverage, sag
from topout.physics.air_spring import Chambers
from topout.physics.gas import Floats
from topout.physics.sag import Load
from topout.planner import (
    change,
    fitted,
    inexact,
    inputs,
    keep,
    leans_on,
    limits,
    missing,
    rear,
    shock_alone,
    typical,
    typical_can,
)
from topout.planner import fits as fits_of
from topout.planner.design import Design
from topout.planner.fits import Fits, fits
from topout.planner.results import Default
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval

# physics.md 12: a rider's posture repeats to so much, behind of the stroke
LEAVE_ALONE_M: Final[dict[End, float]] = {"front": typical.POSTURE_M, "rear": typical_can.POSTURE_M}
_JSON: Final[dict[End, dict[str, str]]] = {  # a place's numbers: name in the JSON, attribute
    "front": {"pressure_pa": "gauge_pa", "travel_m": "sag_m", "share": "share", "end_force_n": "end_force_n"},
    "rear": {
        "pressure_pa": "gauge_pa", "stroke_m": "sag_m", "share_of_stroke": "share", "travel_m": "wheel_sag_m",
        "share_of_wheel_travel": "wheel_share", "wheel_end_force_n": "end_force_n",
    },
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """The bike after its change at one place: what the gauge shows [Pa gauge], sag [m] and its share, slow end force [N].

    Behind, sag and share are of the shock's stroke, `wheel_sag_m` and `wheel_share` of the rear wheel's travel, and the force is
    that at the wheel.
    """

    temperature_k: float
    ambient_abs_pa: float
    gauge_pa: Interval | None
    sag_m: Interval | None
    share: Interval | None
    end_force_n: Interval | None
    wheel_sag_m: Interval | None = None
    wheel_share: Interval | None = None


@dataclass(frozen=True, slots=True)
class Ridden:
    """Here and there, left alone; how much deeper it sits there [m], behind of the stroke; and the pressure to set here [Pa gauge]
    for the same sag."""

    end: End
    here: Place
    there: Place
    deeper_m: Interval | None
    set_gauge_pa: Interval | None
    drawn: bool
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    by_stroke: bool = False  # of a shock whose frame's leverage is not known: told of its stroke alone
    limit_gauge_pa: float | None = None  # the maker's, of the bike after its change

    @property
    def over(self) -> bool:
        """Whether the pressure to set, on the high side, lies above the maker's limit.

        nothing → [-] (one) yes or no. Raises nothing. Source: the makers' limits in the file.
        """
        return self.set_gauge_pa is not None and limits.over(self.set_gauge_pa.high95, self.limit_gauge_pa)

    @property
    def leave_alone(self) -> bool:
        """Whether the sag there moves by less than a rider's posture.

        nothing → [-] (one). Raises nothing. Source: physics.md 11 and 12.
        """
        return self.deeper_m is not None and abs(self.deeper_m.median) < LEAVE_ALONE_M[self.end]

    def as_json(self) -> dict[str, Any]:
        """The object that `topout ride --json` prints.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        result: dict[str, Any] = {"end": self.end}
        for name, place in (("here", self.here), ("there", self.there)):
            told: dict[str, Any] = {"temperature_k": place.temperature_k, "ambient_pa": place.ambient_abs_pa}
            for key, attribute in _JSON[self.end].items():
                told |= self._number(key, getattr(place, attribute))
            result[name] = told
        deeper, to_set = self._number("deeper_m", self.deeper_m), self._number("set_pa", self.set_gauge_pa)
        taken = [each.as_json() for each in self.defaults]
        found = {
            "leave_alone": self.leave_alone, "over_limit": self.over, "by_stroke": self.by_stroke, "defaults": taken,
        }  # fmt: skip
        return result | deeper | to_set | found

    def _number(self, name: str, told: Interval | None) -> dict[str, float | None]:
        return intervals.as_json(name, told, exact=not self.drawn)


def ride(bench: BenchFile, draws: int = inexact.AT_REST, end: End | None = None) -> Ridden:
    """What becomes of one end of the bike after its change where it is ridden, and what to set here for the same sag there.

    bench [SI] (one) as read, with [ride]; draws [1] (one) 1 and more; end [-] (one) None for the front where there is one →
    [SI] (one). Raises FaultsFound where a key lacks, or the sag found can't be. Source: physics.md 1, 2 and 11.
    """
    end = fits_of.end_of(bench, end)
    both, also = (_both, leans_on.OF_SPRING) if end == "front" else (_both_behind, leans_on.OF_CAN)
    where = bench.ride or Ride()
    if where.temperature_k is None and where.altitude_m is None:
        raise FaultsFound([Fault("[ride]", 'is needed for this: temperature = "0 degC", altitude = "1500 m" or both.')])
    missing.refuse_coil(bench, change.changed(bench), end)
    alone = shock_alone.by_stroke(bench) if end == "rear" else None
    bench = alone or bench
    of = fits(bench, draws, end)
    here_k, here_pa = np.array([bench.conditions.temperature_k]), np.array([fitted.ambient_abs_pa(bench)])
    there_k, there_pa = _there(where, here_k, here_pa)
    here, there, set_pa = both(of, where, here_k, here_pa)

    def otherwise(benches: Sequence[BenchFile]) -> Mapping[str, Floats]:
        warm = np.array([each.conditions.temperature_k for each in benches])
        outside = np.array([fitted.ambient_abs_pa(each) for each in benches])
        one, other, to_set = both(fits_of.of_exact(benches), where, warm, outside)
        return {"deeper_m": other.sag_m - one.sag_m, "set_here_pa": to_set}

    if alone is not None:  # what stands at the wheel there is the shock's own end
        here, there = (replace(each, end_force_n=None, wheel_sag_m=None, wheel_share=None) for each in (here, there))
    return Ridden(
        end, _place(of, here, float(here_k[0]), float(here_pa[0])), _place(of, there, float(there_k[0]), float(there_pa[0])),
        of.told(there.sag_m - here.sag_m), of.told(of.shown_pa(set_pa)), of.made is not None,
        leans_on.of_benches(bench, of.made, otherwise, also), alone is not None, _limit_pa(bench, end),
    )  # fmt: skip


def _limit_pa(bench: BenchFile, end: End) -> float | None:
    """The maker's limit after the change [Pa gauge]; None where the file has none."""
    after = change.changed(bench)
    unit = after.fork if end == "front" else after.shock
    return unit.air.pressure_limit_gauge_pa if unit is not None and unit.air is not None else None


def _there(where: Ride, here_k: Floats, here_pa: Floats) -> tuple[Floats, Floats]:
    """Temperature [K] and ambient pressure [Pa abs] of the ride; what it does not say is as here."""
    there_k = here_k if where.temperature_k is None else np.full_like(here_k, where.temperature_k)
    there_pa = here_pa if where.altitude_m is None else np.full_like(here_pa, gas.ambient_abs_pa(where.altitude_m))
    return there_k, there_pa


def _both(of: Fits, where: Ride, here_k: Floats, here_pa: Floats) -> tuple[_Found, _Found, Floats]:
    """The bikes here and there, and the true gauge pressure to set here [Pa] so that they sit there as they do here now."""
    there_k, there_pa = _there(where, here_k, here_pa)
    chambers = air_spring.computable(inputs.bikes(of.after).chambers)
    here = _at(of, chambers, np.zeros_like(chambers.travel_m))
    carried, press_n = _carried(chambers, there_k / here_k, there_pa)
    of = replace(of, after=_stood_there(of, there_k / here_k, there_pa))
    there = _at(of, carried, press_n)
    right_pa = fits_of.for_sag_pa(of, of.after, here.sag_m, carried, _less(of.loads.load, press_n))
    set_pa = (right_pa + there_pa) * here_k / there_k - here_pa
    return here, there, np.where(set_pa >= 0.0, set_pa, np.nan)


def _stood_there(of: Fits, warmer: Floats, there_pa: Floats) -> Design:
    """The bikes with the rear wheel so much deeper or higher as the air behind lets it there."""
    behind = rear.rear(of.after)
    if behind is None or of.loads.behind_n is None:
        return of.after
    fit = air_spring.computable(behind.chambers)
    here, there = (
        rear.at_rest(replace(behind, chambers=each), of.loads.behind_n).travel_m
        for each in (fit, _carried(fit, warmer, there_pa)[0])
    )
    deeper_m = np.where(np.isnan(there - here), 0.0, there - here)
    return replace(of.after, rear_wheel=replace(of.after.rear_wheel, sag_m=of.after.rear_wheel.sag_m + deeper_m))


def _both_behind(of: Fits, where: Ride, here_k: Floats, here_pa: Floats) -> tuple[_Found, _Found, Floats]:
    """The same of the rear ends; a shock has no lower legs, what its damper's gas does is in its chambers."""
    there_k, there_pa = _there(where, here_k, here_pa)
    behind, load_n = rear.rear(of.after), of.loads.behind_n
    if behind is None or load_n is None:
        nothing = np.full(len(of.after), np.nan)
        return _Found(*[nothing] * 6), _Found(*[nothing] * 6), nothing
    fit = air_spring.computable(behind.chambers)
    carried = _carried(fit, there_k / here_k, there_pa)[0]
    here, there = (_at_behind(of, replace(behind, chambers=each), load_n) for each in (fit, carried))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = leverage.at(behind.linkage, leverage.wheel_travel_m(behind.linkage, here.sag_m))[1]
        right_pa = keep.at_force(air_spring.settle(carried), here.sag_m, load_n * ratio)
    set_pa = (right_pa + there_pa) * here_k / there_k - here_pa
    return here, there, np.where(set_pa >= 0.0, set_pa, np.nan)


def _at_behind(of: Fits, behind: rear.Rear, load_n: Floats) -> _Found:
    """The rear ends as they are given."""
    rests, end_n = rear.at_rest(behind, load_n), rear.wheel_end_force_n(behind)
    fit = behind.chambers
    gauge_pa = of.shown_pa(fit.pressure_pa - fit.ambient_pa)
    shares = rests.stroke_m / fit.travel_m, rests.travel_m / behind.end_m
    return _Found(gauge_pa, rests.stroke_m, shares[0], end_n, rests.travel_m, shares[1])


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """What the bikes do at one place, shape (n,)."""

    gauge_pa: Floats
    sag_m: Floats
    share: Floats
    end_force_n: Floats | None
    wheel_sag_m: Floats | None = None
    wheel_share: Floats | None = None


def _carried(fit: Chambers, warmer: Floats, ambient_abs_pa: Floats) -> tuple[Chambers, Floats]:
    """The chambers with the gas as warm and the air outside as thin as there, and a steady force [N] beside them.

    The lower legs were closed here, at the pressure outside here: with the area scaled by what is shut in over what is
    outside, their term rises as it should, but for a force that is the same all along the travel.
    """
    outside = np.zeros_like(fit.ambient_pa) + ambient_abs_pa
    fuller = fit.ambient_pa * warmer / outside
    own = fit.gas_negative & ~fit.equalises
    carried = replace(
        fit,
        ambient_pa=outside,
        pressure_pa=fit.pressure_pa * warmer,
        negative_pa=np.where(own, fit.negative_pa * warmer, outside),
        damper_pa=np.where(fit.rod_m2 > 0.0, fit.damper_pa * warmer, outside),
        second_pa=np.where(fit.second_m3 > 0.0, fit.second_pa * warmer, outside),
        legs_m3=fit.legs_m3 * fuller,
        legs_m2=fit.legs_m2 * fuller,
    )
    return carried, (fit.ambient_pa * warmer - outside) * fit.legs_m2


def _at(of: Fits, chambers: Chambers, press_n: Floats) -> _Found:
    """The bikes with these chambers, and a force beside them that helps to carry the load."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        bikes = inputs.bikes(of.after)
        settled = air_spring.settle(chambers)
        stand = geometry.axle_frame(bikes.chart, bikes.fitted)
        rests_m = sag.at_rest_m(settled, stand, _less(of.loads.load, press_n), bikes.friction)[0]
        end_n = air_spring.force(settled, chambers.travel_m) + press_n
    gauge_pa = of.shown_pa(chambers.pressure_pa - chambers.ambient_pa)
    return _Found(gauge_pa, rests_m, rests_m / chambers.travel_m, end_n)


def _less(load: Load, press_n: Floats) -> Load:
    """The load that is left to the gas."""
    return replace(load, axial_n=load.axial_n - press_n)


def _place(of: Fits, found: _Found, temperature_k: float, ambient_abs_pa: float) -> Place:
    values = (getattr(found, each.name) for each in fields(_Found))
    return Place(temperature_k, ambient_abs_pa, *(None if each is None else of.told(each) for each in values))
