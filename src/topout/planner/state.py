"""One state of one bike: the curve along the travel, where it rests, how it stands, what is shut in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from topout.bench_file.model import BenchFile
from topout.physics import air_spring, energy, geometry
from topout.physics import sag as rest
from topout.physics.air_spring import Settled
from topout.physics.gas import Floats
from topout.physics.geometry import Stand
from topout.planner import load as loads
from topout.planner import missing, stack
from topout.planner.load import LoadOn
from topout.planner.results import Chart, Curve, EndSag, Geometry, Sag, Stance
from topout.records import dataclass

POINTS = 201
# How far a chart may be off and still close [m]: common practice, no source.
CLOSES_WITHIN_M = {"head_tube": 0.003, "wheelbase": 0.005, "front_centre": 0.005, "bb_height": 0.003}


@dataclass(frozen=True, slots=True)
class Parts:
    """What of a bike can be computed; None where its tables are missing. Arrays inside have shape (1,)."""

    bench: BenchFile
    bikes: stack.Bikes
    spring: Settled | None
    stand: Stand | None  # rear wheel at sag
    unloaded: Stand | None  # rear wheel at full extension
    on: LoadOn | None


def parts(bench: BenchFile, on: LoadOn | None = None) -> Parts:
    """Take a bike apart into what the models need; `on` brings the load of the state before along."""
    bikes = stack.bikes([bench])
    spring = None
    if not missing.for_spring(bench):
        spring = air_spring.settle(bikes.chambers)
    framed = not missing.for_stance(bench)
    unloaded_fit = replace(bikes.fitted, rear_sag_m=np.zeros(1))
    return Parts(
        bench,
        bikes,
        spring,
        geometry.stand(bikes.chart, bikes.fitted) if framed else None,
        geometry.stand(bikes.chart, unloaded_fit) if framed else None,
        on if on is not None else loads.load_on(bench),
    )


def curve(bench: BenchFile, points: int = POINTS, *, of: Parts | None = None) -> Curve:
    """The spring along the travel at equally spaced points, both ends included; needs [fork] with its air spring."""
    p = of or parts(bench)
    assert p.spring is not None, "the caller checks that the spring is described"
    at_rest = _rest(p)
    return curve_of(p.spring, None if at_rest is None else at_rest[0], points)


def curve_of(s: Settled, sag_m: Floats | None, points: int = POINTS) -> Curve:
    """The same of a spring that is settled already, arrays of shape (1,); `sag_m` is where it rests, None without a load."""
    x = s.fit.travel_m * np.linspace(0.0, 1.0, points)[:, None]
    x[-1] = s.fit.travel_m
    main, negative = air_spring.pressures(s, x)
    _, rate, _, _ = air_spring.force_and_rate(s, x)
    each = air_spring.terms(s, x)
    force = np.sum(list(each.values()), axis=0)
    zero = np.zeros(1)
    from_sag = None if sag_m is None else air_spring.force_fast(s, x, sag_m)[:, 0]
    return Curve(
        x[:, 0], force[:, 0], air_spring.force_fast(s, x, zero)[:, 0], from_sag, rate[:, 0], main[:, 0], negative[:, 0],
        float(rest.lost_travel_m(s)[0]), float(energy.slow_j(s)[0]), float(energy.fast_j(s)[0]),
        {name: term[:, 0] for name, term in each.items()},
    )  # fmt: skip


def _rest(p: Parts) -> tuple[Floats, Floats, Floats] | None:
    """Travel at sag, least and most, shape (1,); None where spring, load or (for an assumed load) frame are missing."""
    if p.spring is None or p.on is None:
        return None
    stand = p.stand or geometry.stand(p.bikes.chart, p.bikes.fitted)  # a calibrated load without a frame turns nothing
    if p.stand is None and p.bikes.friction.side.any():
        return None
    return rest.at_rest_m(p.spring, stand, p.on.load, p.bikes.friction)


def sag(bench: BenchFile, *, of: Parts | None = None) -> Sag:
    """Both ends at rest under the rider; `front` and the head angle are None where something is missing."""
    p = of or parts(bench)
    at_rest = _rest(p)
    rear = None
    if bench.rear_wheel is not None and bench.rear_wheel.sag_m is not None:
        rear = EndSag(bench.rear_wheel.sag_m)
    if at_rest is None or p.spring is None or p.on is None:
        return Sag(None, rear, None)
    x, low, high = (float(value[0]) for value in at_rest)
    load = p.on.load
    angle = None
    load_n = float(load.axial_n[0])
    if p.stand is not None:
        sin, _ = geometry.head_angle_sine(p.stand, at_rest[0])
        load_n += float(load.vertical_n[0] * sin[0])
        angle = float(geometry.stance(p.stand, at_rest[0])["head_angle_rad"][0])
    lost = float(rest.lost_travel_m(p.spring)[0])
    front = EndSag(x, x / float(p.spring.fit.travel_m[0]), low, high, load_n, max(x - lost, 0.0), p.on.implied_share)
    return Sag(front, rear, angle)


def geometry_of(bench: BenchFile, *, of: Parts | None = None) -> Geometry | None:
    """How the bike stands at full extension and at sag; None without a frame."""
    p = of or parts(bench)
    if p.stand is None or p.unloaded is None:
        return None
    at_rest = _rest(p)
    sagged = None if at_rest is None else _stance(p.stand, at_rest[0])
    return Geometry(_stance(p.unloaded, np.zeros(1)), sagged, chart(bench))


def _stance(stand: Stand, x: Floats) -> Stance:
    return Stance(**{name: float(value[0]) for name, value in geometry.stance(stand, x).items()})


def chart(bench: BenchFile) -> Chart:
    """Head tube from the chart, and whether the chart's other figures agree with it; needs a whole [frame]."""
    frame = bench.frame
    assert frame is not None
    drawn_for = stack.bikes([BenchFile(frame=frame)])
    stand = geometry.stand(drawn_for.chart, drawn_for.fitted)
    drawn = _stance(stand, np.zeros(1))
    head_tube = float(stand.head_tube_m[0])
    pairs = {
        "head_tube": (None if frame.head_tube_m is None else frame.head_tube_m + frame.lower_headset_m, head_tube),
        "wheelbase": (frame.wheelbase_m, drawn.wheelbase_m),
        "front_centre": (frame.front_centre_m, drawn.front_centre_m),
        "bb_height": (frame.bb_height_m, drawn.bb_height_m),
    }
    given = [(abs(is_ - says), CLOSES_WITHIN_M[word]) for word, (says, is_) in pairs.items() if says is not None]
    return Chart(head_tube, all(off <= limit + 1e-9 for off, limit in given) if given else None)
