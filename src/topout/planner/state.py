"""One state of one bike: the curve along the travel, where it rests, how it stands, what is shut in."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, energy, geometry, leverage, spring_terms
from topout.physics import sag as rest
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Floats
from topout.physics.geometry import AxleFrame
from topout.physics.leverage import Linkage
from topout.planner import inputs, known, missing, rear, rear_plan
from topout.planner import load as loads
from topout.planner.design import Design
from topout.planner.known import Missing, Spring, SpringOrMissing, Standing, StandingOrMissing
from topout.planner.load import LoadOn
from topout.planner.rear_plan import RearEvaluation
from topout.planner.results import Chart, Curve, EndSag, Geometry, RearCurve, Sag, Stance

POINTS = 201
# How far a chart may be off and still close [m]: common practice, no source.
CLOSES_WITHIN_M = {"head_tube": 0.003, "wheelbase": 0.005, "front_centre": 0.005, "bb_height": 0.003}


@dataclass(frozen=True, slots=True)
class Parts:
    """What of a bike can be computed, and the keys that lack for the rest. Arrays inside have shape (1,)."""

    bench: BenchFile
    bikes: inputs.Bikes
    spring: SpringOrMissing
    standing: StandingOrMissing
    on: LoadOn | None
    behind: RearEvaluation | None  # its rear shock, the same before and after


def parts(bench: BenchFile, on: LoadOn | None = None) -> Parts:
    """Take a bike apart into what the models need; `on` brings the load of the state before along.

    bench [SI] (one) as read; on [N] (1,) or None → [SI] (1,). Raises FaultsFound where the sag found can't be. Source:
    none needed, bookkeeping.
    """
    design = Design.of([bench])
    if on is not None:
        behind_n = on.behind_n
    else:
        found = loads.loads(design)
        on, behind_n = loads.of_one(bench, found), found.behind_n
    behind = rear_plan.evaluate(design, design, behind_n)
    design = rear.stood(design, behind_n)
    bikes = inputs.bikes(design)
    return Parts(bench, bikes, known.spring(bench, bikes), known.standing(bench, bikes), on, behind)


def curve(bench: BenchFile, points: int = POINTS, *, of: Parts | None = None) -> Curve:
    """The spring along the travel at equally spaced points, both ends included; needs [fork] with its air spring.

    bench [SI] (one) as read and whole; points [1] (one) 2 and more; of [SI] (1,) the same bike, or None → [SI]
    (points,). Raises FaultsFound where the sag found can't be. Source: physics.md 1 and 2.
    """
    p = of or parts(bench)
    assert isinstance(p.spring, Spring), "the caller checks that the spring is described"
    at_rest = _rest(p)
    return curve_of(air_spring.settle(p.spring.chambers), at_rest and at_rest[0], points)


def curve_of(s: EquilibratedSpring, sag_m: Floats | None, points: int = POINTS) -> Curve:
    """The same of a spring that is settled already, arrays of shape (1,); `sag_m` is where it rests, None without a load.

    s [SI] (1,) settled; sag_m [m] (1,) 0 to the travel, or None; points [1] (one) 2 and more → [SI] (points,). Raises
    nothing. Source: physics.md 1 and 2.
    """
    x = s.fit.travel_m * np.linspace(0.0, 1.0, points)[:, None]
    x[-1] = s.fit.travel_m
    main, negative = (None if s.fit.bore_m[0] == 0.0 else each[:, 0] for each in air_spring.pressures(s, x))
    _, rate, _, _ = air_spring.force_and_rate(s, x)
    each = spring_terms.terms(s, x)
    force = np.sum(list(each.values()), axis=0)
    zero = np.zeros(1)
    from_sag = None if sag_m is None else air_spring.force_fast(s, x, sag_m)[:, 0]
    return Curve(
        x[:, 0], force[:, 0], air_spring.force_fast(s, x, zero)[:, 0], from_sag, rate[:, 0], main, negative,
        float(rest.lost_travel_m(s)[0]), float(energy.slow_j(s)[0]), float(energy.fast_j(s)[0]),
        {name: term[:, 0] for name, term in each.items()},
    )  # fmt: skip


def curve_behind(bench: BenchFile, points: int = POINTS) -> RearCurve:
    """The rear shock along its stroke, and with a leverage at the wheel; needs [shock] with its spring.

    bench [SI] (one) as read and whole; points [1] (one) 2 and more → [SI] (points,). Raises FaultsFound where the sag
    found can't be. Source: physics.md 2 and 7.
    """
    end = rear.rear(Design.of([bench]))
    assert end is not None, "the caller checks that the shock is described"
    return curve_at_wheel(curve_of(air_spring.settle(end.chambers), None, points), end.linkage, end.end_m)


def curve_at_wheel(of: Curve, linkage: Linkage, end_m: Floats) -> RearCurve:
    """A shock's curve with what its linkage, shape (1,), makes of it at the wheel; None of that without a leverage.

    of [SI] (points,) along the stroke; linkage [SI] (1,) any; end_m [m] (1,) wheel travel at its end, NaN without a leverage →
    [SI] (points,). Raises nothing. Source: physics.md 7.
    """
    own = {f.name: getattr(of, f.name) for f in fields(of)}
    if np.isnan(end_m[0]):
        return RearCurve(
            **own, wheel_travel_m=None, wheel_force_n=None, wheel_rate_n_per_m=None, ratio=None, progression=None
        )
    w = leverage.wheel_travel_m(linkage, of.travel_m[:, None])
    force, rate = leverage.at_wheel(linkage, w, of.force_n[:, None], of.rate_n_per_m[:, None])
    _, ratio, _ = leverage.at(linkage, w)
    return RearCurve(
        **own,
        wheel_travel_m=w[:, 0],
        wheel_force_n=force[:, 0],
        wheel_rate_n_per_m=rate[:, 0],
        ratio=ratio[:, 0],
        progression=float(leverage.progression(linkage, end_m)[0]),
    )


def _rest(p: Parts) -> tuple[Floats, Floats, Floats] | None:
    """Travel at sag, least and most, shape (1,); None where spring, load or (for an assumed load) frame are missing."""
    if isinstance(p.spring, Missing) or not p.on:
        return None
    if isinstance(p.standing, Standing):
        stand = p.standing.at_sag
    elif p.bikes.friction.side.any():
        return None
    else:
        stand = geometry.axle_frame(p.bikes.chart, p.bikes.fitted)  # a calibrated load without a frame turns nothing
    return rest.at_rest_m(air_spring.settle(p.spring.chambers), stand, p.on.load, p.bikes.friction)


def sag(bench: BenchFile, *, of: Parts | None = None) -> Sag:
    """Both ends at rest under the rider; `front` and the head angle are None where something is missing.

    bench [SI] (one) as read; of [SI] (1,) the same bike, or None → [SI] (one). Raises FaultsFound where the sag found
    can't be. Source: physics.md 7.
    """
    p = of or parts(bench)
    at_rest = _rest(p)
    behind = rear_plan.said_sag(p.behind, bench, 0)
    if isinstance(p.spring, Missing) or not at_rest or not p.on:
        return Sag(None, behind, None)
    x, low, high = (float(value[0]) for value in at_rest)
    load = p.on.load
    angle = None
    load_n = float(load.axial_n[0])
    if isinstance(p.standing, Standing):
        sin, _ = geometry.head_angle_sine(p.standing.at_sag, at_rest[0])
        load_n += float(load.vertical_n[0] * sin[0])
        angle = float(geometry.stance(p.standing.at_sag, at_rest[0])["head_angle_rad"][0])
    lost = float(rest.lost_travel_m(air_spring.settle(p.spring.chambers))[0])
    front = EndSag(x, x / p.spring.travel_m, low, high, load_n, max(x - lost, 0.0), p.on.implied_share)
    sits = bench.shock is None or (behind is not None and behind.travel_m is not None)
    return Sag(front, behind, angle if sits else None)


def geometry_of(bench: BenchFile, *, of: Parts | None = None) -> Geometry | None:
    """How the bike stands at full extension and at sag; None without a frame.

    bench [SI] (one) as read; of [SI] (1,) the same bike, or None → [SI] (one) or None. Raises FaultsFound where the sag
    found can't be. Source: physics.md 6.
    """
    p = of or parts(bench)
    if isinstance(p.standing, Missing):
        return None
    at_rest = _rest(p) if not missing.for_rear(bench) else None  # else 2° of head angle are open
    sagged = at_rest and _stance(p.standing.at_sag, at_rest[0])
    return Geometry(_stance(p.standing.unloaded, np.zeros(1)), sagged, chart(bench, p.bikes))


def _stance(stand: AxleFrame, x: Floats) -> Stance:
    return stance_of({name: float(value[0]) for name, value in geometry.stance(stand, x).items()})


def stance_of(named: dict[str, float]) -> Stance:
    """A stance from its figures by name; an angle that the chart does not say is None.

    named [SI] (10) figures of geometry.stance, NaN where not known → [SI] (one). Raises nothing. Source: physics.md 6.
    """
    stance = Stance(**named)
    return replace(stance, seat_angle_rad=None) if math.isnan(named["seat_angle_rad"]) else stance


def chart(bench: BenchFile, bikes: inputs.Bikes) -> Chart:
    """Head tube from the chart, and whether the chart's other figures agree with it; needs a whole [frame].

    `bikes` is the same bike as columns, shape (1,).

    bench [SI] (one) as read; bikes [SI] (1,) the same bike → [SI] (one). Raises nothing. Source: physics.md 6.
    """
    frame = bench.frame
    assert frame is not None
    drawn = bikes.chart
    on_its_own = geometry.Fitted(
        drawn.fork_length_m, drawn.fork_offset_m, drawn.front_radius_m, drawn.rear_radius_m, np.zeros(1)
    )
    stand = geometry.axle_frame(drawn, on_its_own)
    stance = _stance(stand, np.zeros(1))
    head_tube = float(stand.head_tube_m[0])
    pairs = {
        "head_tube": (None if frame.head_tube_m is None else frame.head_tube_m + frame.lower_headset_m, head_tube),
        "wheelbase": (frame.wheelbase_m, stance.wheelbase_m),
        "front_centre": (frame.front_centre_m, stance.front_centre_m),
        "bb_height": (frame.bb_height_m, stance.bb_height_m),
    }
    given = [(abs(is_ - says), CLOSES_WITHIN_M[word]) for word, (says, is_) in pairs.items() if says is not None]
    return Chart(head_tube, all(off <= limit + 1e-9 for off, limit in given) if given else None)
