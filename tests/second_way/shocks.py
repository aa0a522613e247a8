"""Random bikes with a rear shock, as bench files and once more as plain numbers; the spring written anew for floats."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from second_way.linkages import Table, tables
from topout.bench_file import model

ATM = 101325.0
G0 = 9.80665
# NumPy's own rule, from point to point of a table: forty nodes give SciPy's adaptive quadrature to rounding, in a hundredth of its time.
NODES, WEIGHTS = np.polynomial.legendre.leggauss(40)
Force = Callable[[float], float]


@dataclass(frozen=True)
class Shocked:
    """One bike: its file; the force of its shock by stroke [N]; stroke by wheel travel [m] and ratio there; load [N]."""

    bench: model.BenchFile
    force_n: Force
    stroke_m: Force
    ratio: Force
    wheel_end_m: float
    load_n: float
    friction_n: float


def bikes(count: int, seed: int = 20261129) -> list[Shocked]:
    """That many bikes on air or on a coil, with and without damper gas, bumper and a port further in."""
    rng = np.random.default_rng(seed)
    return [_bike(rng, table) for table in tables(count, seed)]


def _linkage(table: Table) -> tuple[Force, Force, float]:
    """Stroke and ratio by wheel travel through SciPy, and the whole stroke."""
    cubic = PchipInterpolator(table.travel_m, table.value)
    if table.of_stroke:
        slope = cubic.derivative()
        return lambda w: float(cubic(w)), lambda w: 1.0 / float(slope(w)), float(table.value[-1])
    knots = table.travel_m

    def stroke(w: float) -> float:
        edges = np.append(knots[knots < w], w)
        half = 0.5 * np.diff(edges)[:, None]
        return float((half * WEIGHTS / cubic(edges[:-1, None] + half * (1.0 + NODES))).sum())

    return stroke, lambda w: float(cubic(w)), stroke(float(knots[-1]))


def _bike(rng: np.random.Generator, table: Table) -> Shocked:
    stroke, ratio, whole = _linkage(table)
    travel = round(whole, 5)
    mass, share = rng.uniform(55, 105), rng.uniform(0.36, 0.46)
    load = ((mass + 15.0) * (1 - share) - 3.5) * G0
    sag = rng.uniform(0.2, 0.35) * whole
    wanted = load * float(ratio(float(sag * float(table.travel_m[-1]) / whole)))
    damper = model.Damper(rod_m=0.009, gas_pressure_gauge_pa=14e5, gas_volume_m3=18e-6) if rng.random() < 0.5 else None
    bumper = model.Bumper(length_m=0.007, rate_n_per_m=90e3, power=2.0) if rng.random() < 0.7 else None
    air = coil = None
    if rng.random() < 0.3:
        preload = float(rng.choice([0.0, 0.002]))
        coil = model.Coil(rate_n_per_m=wanted / (sag + preload), preload_m=preload)
    else:
        bore, body = rng.uniform(0.040, 0.050), rng.uniform(0.024, 0.030)
        main = math.pi / 4 * bore**2 * whole * rng.uniform(1.4, 2.0)
        spacers = int(rng.integers(0, 3))
        air = model.CanAir(
            bore_m=bore, shaft_m=body, positive_volume_m3=main + spacers * 5e-6, negative_volume_m3=main * rng.uniform(0.2, 0.5),
            port_position_m=float(rng.choice([0.0, 0.002])), spacers=spacers, spacer_volume_m3=5e-6,
            pressure_gauge_pa=rng.uniform(6e5, 14e5),
        )  # fmt: skip
    friction = float(rng.choice([0.0, 25.0]))
    pairs = tuple((float(a), float(b)) for a, b in zip(table.travel_m, table.value, strict=True))
    shock = model.Shock(
        length_m=0.21, stroke_m=travel, friction_n=friction, air=air, coil=coil, damper=damper, bumper=bumper,
        leverage=None if table.of_stroke else pairs, leverage_stroke=pairs if table.of_stroke else None,
    )  # fmt: skip
    bench = model.BenchFile(
        rider=model.Rider(mass_kg=mass, front_share=share),
        bike=model.Bike(mass_kg=15.0, unsprung_front_kg=3.0, unsprung_rear_kg=3.5),
        frame=model.Frame(
            head_angle_rad=math.radians(65), seat_angle_rad=math.radians(77), reach_m=0.47, stack_m=0.63, chainstay_m=0.438,
            bb_drop_m=0.028, fork_length_m=0.556, fork_offset_m=0.044, front_radius_m=0.371, rear_radius_m=0.371,
        ),
        fork=model.Fork(
            length_m=0.556, offset_m=0.044, travel_m=0.150, friction_n=12.0,
            air=model.Air(
                bore_m=0.0346, shaft_m=0.010, positive_volume_m3=228e-6, negative_volume_m3=60e-6, pressure_gauge_pa=5e5
            ),
        ),
        shock=shock,
    )  # fmt: skip
    return Shocked(bench, spring(shock), stroke, ratio, float(table.travel_m[-1]), load, friction)


def spring(shock: model.Shock) -> Force:
    """A shock's slow force by stroke: absolute pressures on every area, the outside pressure taken off once at the end."""
    end = shock.stroke_m or 0.0

    def force(s: float) -> float:
        total = 0.0
        if shock.air is not None:
            a = shock.air
            piston = math.pi / 4 * a.bore_m**2
            ring = piston - math.pi / 4 * a.shaft_m**2
            main = a.positive_volume_m3 - a.spacers * (a.spacer_volume_m3 or 0.0)
            fill = a.pressure_gauge_pa + ATM
            port = a.port_position_m or 0.0
            parted = fill * main / (main - piston * port)
            negative = parted * (a.negative_volume_m3 + ring * port)
            total += fill * main / (main - piston * s) * piston - negative / (a.negative_volume_m3 + ring * s) * ring
            total -= ATM * (piston - ring)
        if shock.coil is not None:
            total += shock.coil.rate_n_per_m * (s + shock.coil.preload_m)
        if shock.damper is not None:
            d = shock.damper
            rod = math.pi / 4 * d.rod_m**2
            total += rod * ((d.gas_pressure_gauge_pa + ATM) * d.gas_volume_m3 / (d.gas_volume_m3 - rod * s) - ATM)
        if shock.bumper is not None:
            b = shock.bumper
            crush = s - (end - b.length_m)
            if crush > 0:
                total += b.rate_n_per_m * b.length_m * (crush / b.length_m) ** b.power
        return total

    return force
