"""The pressure that keeps one thing as it was: sag, sag share, end force or the curve. All in closed form.

Force is linear in the absolute filling pressure, F = P·a(x) + b(x), so each keep is one division: for the two sags the
travel is known and so is the load there; the curve keep is the vertex of a parabola.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from topout.physics import air_spring, geometry
from topout.physics.air_spring import Settled
from topout.physics.gas import Floats
from topout.physics.geometry import Stand
from topout.physics.sag import Load

HIGHEST_GAUGE_PA: Final = 60e5  # the range of the bench file
_NODES: Final = 12
_STEEP: Final = 6.0  # main volume at full extension over that at the end; above it one span of nodes is too few
_SPANS: Final = 4  # of equal length, for steep ones, between the kinks


def _gauss_legendre(count: int) -> tuple[Floats, Floats]:
    """Nodes and weights on 0 … 1 from the Jacobi matrix (Golub and Welsch 1969). Importing numpy's own takes longer than a plan."""
    k = np.arange(1.0, count)
    beside = k / np.sqrt(4.0 * k * k - 1.0)
    x, vectors = np.linalg.eigh(np.diag(beside, 1) + np.diag(beside, -1))
    return 0.5 * (x + 1.0), vectors[0] ** 2


_UNIT_NODES, _UNIT_WEIGHTS = _gauss_legendre(_NODES)


def at_load(after: Settled, stand: Stand, load: Load, travel_used_m: Floats) -> Floats:
    """Gauge pressure [Pa] at which the bike after the change rests at this travel [m]; NaN outside 0 < x < S."""
    end = after.fit.travel_m
    inside = (travel_used_m > 0.0) & (travel_used_m < end)
    x = np.where(inside, travel_used_m, 0.5 * end)
    sin, _ = geometry.head_angle_sine(stand, x)
    wanted = load.axial_n + load.vertical_n * sin
    force = air_spring.force(after, x)
    return np.where(inside, _gauge(after, (wanted - force) / air_spring.force_per_pa(after, x)), np.nan)


def at_end_force(after: Settled, end_force_n: Floats, wanted_n: Floats) -> Floats:
    """Gauge pressure [Pa] that gives the wanted slow force at the end of its own travel."""
    return _gauge(after, (wanted_n - end_force_n) / air_spring.force_per_pa(after, after.fit.travel_m))


def at_curve(before: Settled, after: Settled) -> Floats:
    """Gauge pressure [Pa] of the least ∫₀^S′ (F_after − F_before)² dx, slow, friction not.

    S′ is the shorter travel less its bumper. Gauss–Legendre, 12 nodes between the places where a force has a kink
    (port edges, end of a negative coil or top-out bumper) and on a quarter of a span where the spring is steep: 1e-7 of
    the integral or better (tests). NaN where nothing is left of S′.
    """
    a, b = before.fit, after.fit
    shorter = np.where(a.travel_m <= b.travel_m, a.travel_m - _own_bumper(a), b.travel_m - _own_bumper(b))
    span = np.where(shorter > 0.0, shorter, np.nan)
    result = np.full_like(span, np.nan)
    hard = np.zeros(span.shape, dtype=bool)
    for s in (before, after):
        for kinked in (s.ported, s.topped, s.coiled):
            if kinked is not None:
                hard[kinked] = True
        ratio = s.fit.positive_m3 / (s.fit.positive_m3 - s.positive_m2 * np.minimum(span, s.fit.travel_m))
        hard |= ratio > _STEEP
    easy = np.nonzero(~hard)[0]
    if easy.size == span.size:
        return _gauge(after, _vertex(before, after, np.zeros_like(span)[None], span[None]))
    if easy.size:
        b1, a1 = before.take(easy), after.take(easy)
        result[easy] = _gauge(a1, _vertex(b1, a1, np.zeros(easy.size)[None], span[easy][None]))
    rows = np.nonzero(hard)[0]
    b2, a2 = before.take(rows), after.take(rows)
    edges = _edges(b2, a2, span[rows])
    result[rows] = _gauge(a2, _vertex(b2, a2, edges[:-1], edges[1:]))
    return result


def _own_bumper(fit: air_spring.Chambers) -> Floats:
    return np.where(fit.bumper_n_per_m > 0.0, fit.bumper_m, 0.0)


def _edges(before: Settled, after: Settled, span: Floats) -> Floats:
    """Places where a force has a kink, with steep spans cut in four, sorted and clipped to 0…S′; shape (edges, m)."""
    places = [np.zeros_like(span), *(span * k / _SPANS for k in range(1, _SPANS + 1))]
    for s in (before, after):
        fit = s.fit
        places += [
            np.where(fit.equalises, fit.port_m, 0.0),
            np.where(fit.equalises, fit.port_end_m, 0.0),
            np.where(fit.coil_rate_n_per_m > 0.0, fit.coil_m, 0.0),
            np.where(fit.top_out_n_per_m > 0.0, fit.top_out_m, 0.0),
        ]
    return np.sort(np.clip(np.array(places), 0.0, span), axis=0)


def _vertex(before: Settled, after: Settled, low: Floats, high: Floats) -> Floats:
    """Rise of the pressure [Pa] to the parabola's vertex: ∫a(F_b − F_a) / ∫a² over the spans low…high (spans, m)."""
    width = high - low
    nodes = low + width * _UNIT_NODES[:, None, None]
    weights = width * _UNIT_WEIGHTS[:, None, None]
    x = nodes.reshape(-1, nodes.shape[-1])
    weights = weights.reshape(x.shape)
    slope = air_spring.force_per_pa(after, x)
    weighted = weights * slope
    gap = air_spring.force(before, x) - air_spring.force(after, x)
    result: Floats = (weighted * gap).sum(axis=0) / (weighted * slope).sum(axis=0)
    return result


def _gauge(after: Settled, rise_pa: Floats) -> Floats:
    """The gauge pressure this much above the one filled, NaN outside 0–60 bar."""
    gauge = after.fit.pressure_pa + rise_pa - after.fit.ambient_pa
    with np.errstate(invalid="ignore"):
        return np.where((gauge >= 0.0) & (gauge <= HIGHEST_GAUGE_PA), gauge, np.nan)
