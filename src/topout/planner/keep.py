"""The pressure that keeps one thing as it was: sag, sag share, end force or the curve. In closed form.

Force is linear in the absolute filling pressure, F = P·a(x) + b(x), so each keep is one division: for the two sags the
travel is known and so is the load there; the curve keep is the vertex of a parabola. With a second chamber it is so piece
by piece: those rows alone are sought between two ends, and stepped from vertex to vertex. The second pressure stays as it was set.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from topout.bench_file import model
from topout.physics import air_spring, geometry, smooth, spring_terms
from topout.physics.air_spring import EquilibratedSpring
from topout.physics.gas import Bools, Floats, Ints
from topout.physics.geometry import AxleFrame
from topout.physics.quadrature import gauss_legendre
from topout.physics.sag import Load
from topout.physics.smooth import Smooth

Per = Callable[[EquilibratedSpring, Floats], Floats]


def _most_si(table: type, word: str) -> float:
    """The highest value that the bench file takes for a key."""
    most = model.keys(table)[word][1].high_si
    assert most is not None, "the key has a limit"
    return most


HIGHEST_GAUGE_PA: Final = _most_si(model.Air, "pressure")
MOST_PRELOAD_M: Final = _most_si(model.Coil, "preload")
_NODES: Final = 12
_ONE_PANEL: Final = 4.5  # the most that a chamber's volume may change over the whole span for one panel of nodes to do
_GRADE: Final = 4.0  # and over one of several panels
_GRADES: Final = 6  # panels toward the contact of a bumper
# One panel of so many nodes where a volume changes so many times: the error falls by ((√r + 1)/(√r − 1))² a node.
_SMOOTH_NODES: Final = ((4.5, 12), (14.0, 24), (35.0, 40))
_AT_ONCE: Final = 512  # rows: what their nodes hold between two passes stays in the processor's own memory
_FAR_M: Final = 1e3  # where there is no such chamber, its pole
_STEPS: Final = 60
_ROOT_PA: Final = 1e-6
_VERTICES: Final = 60
_CLOSE_PA: Final = 1e-3


_UNIT_NODES, _UNIT_WEIGHTS = gauss_legendre(_NODES)


def at_force(after: EquilibratedSpring, travel_used_m: Floats, wanted_n: Floats) -> Floats:
    """Gauge pressure [Pa] at which the slow force at this travel is the wanted one; NaN outside 0 < x < S.

    after [SI] (n,) settled; travel_used_m [m] (n,) any; wanted_n [N] (n,) any → [Pa gauge] (n,) 0 to 60 bar, else NaN.
    Raises nothing. Source: derived from physics.md 2, linear in the pressure.
    """
    inside = (travel_used_m > 0.0) & (travel_used_m < after.fit.travel_m)
    x = np.where(inside, travel_used_m, 0.5 * after.fit.travel_m)
    return np.where(inside, _for_force(after, x, wanted_n), np.nan)


def coil_rate(after: EquilibratedSpring, travel_m: Floats, wanted_n: Floats) -> Floats:
    """Rate [N/m] of a main coil, wound up as it is, that gives the wanted slow force at a travel.

    after [SI] (n,) settled; travel_m [m] (n,) above 0; wanted_n [N] (n,) any → [N/m] (n,) NaN where that is none above 0.
    Raises nothing. Source: derived, F = k·(x + p) and what else pushes.
    """
    fit = after.fit
    rate = fit.spring_n_per_m + (wanted_n - air_spring.force(after, travel_m)) / (travel_m + fit.preload_m)
    return np.where(rate > 0.0, rate, np.nan)


def coil_preload(after: EquilibratedSpring, travel_m: Floats, wanted_n: Floats) -> Floats:
    """Preload [m] of the coil that is there for the wanted slow force at a travel.

    after [SI] (n,) settled; travel_m [m] (n,) 0 and more; wanted_n [N] (n,) any → [m] (n,) NaN where there is no coil, where
    that is not within 0 to 60 mm, or the coil, wound up so, binds before the end. Raises nothing. Source: derived,
    F = k·(x + p) and what else pushes.
    """
    fit = after.fit
    rate = np.where(fit.spring_n_per_m > 0.0, fit.spring_n_per_m, np.nan)
    more_m = (wanted_n - air_spring.force(after, travel_m)) / rate
    wound_m = fit.preload_m + more_m
    binds = fit.bind_m - more_m < fit.travel_m
    return np.where(binds | (wound_m < 0.0) | (wound_m > MOST_PRELOAD_M), np.nan, wound_m)


def coil_rate_of_curve(before: EquilibratedSpring, after: EquilibratedSpring) -> Floats:
    """Rate [N/m] of a main coil with the least ∫(F_after − F_before)² dx along the travel less its bumper.

    before, after [SI] (n,) settled, of one travel → [N/m] (n,) NaN where that is none above 0. Raises nothing. Source:
    derived, the vertex of a parabola; smooth forces, 12 nodes.
    """
    fit = after.fit
    span = np.minimum(_to_bumper_m(fit), _to_bumper_m(before.fit))
    x = np.maximum(span, 0.0) * _UNIT_NODES[:, None]
    weighted = _UNIT_WEIGHTS[:, None] * (x + fit.preload_m)
    gap = air_spring.force(before, x) - air_spring.force(after, x)
    rate = fit.spring_n_per_m + (weighted * gap).sum(axis=0) / (weighted * (x + fit.preload_m)).sum(axis=0)
    return np.where((rate > 0.0) & (span > 0.0), rate, np.nan)


def at_load(after: EquilibratedSpring, stand: AxleFrame, load: Load, travel_used_m: Floats) -> Floats:
    """Gauge pressure [Pa] at which the bike after the change rests at this travel [m]; NaN outside 0 < x < S.

    after [SI] (n,) settled; stand [SI] (n,) whole; load [N] (n,) any; travel_used_m [m] (n,) NaN outside 0 to the
    travel → [Pa gauge] (n,) 0 to 60 bar, else NaN. Raises nothing. Source: derived from physics.md 2 and 7, linear in
    the pressure.
    """
    sin, _ = geometry.head_angle_sine(stand, np.where(np.isnan(travel_used_m), 0.0, travel_used_m))
    return at_force(after, travel_used_m, load.axial_n + load.vertical_n * sin)


def at_end_force(after: EquilibratedSpring, end_force_n: Floats, wanted_n: Floats) -> Floats:
    """Gauge pressure [Pa] that gives the wanted slow force at the end of its own travel.

    after [SI] (n,) settled; end_force_n, wanted_n [N] (n,) any → [Pa gauge] (n,) 0 to 60 bar, else NaN. Raises nothing.
    Source: derived from physics.md 2.
    """
    return _for_force(after, after.fit.travel_m, wanted_n, end_force_n)


def _for_force(after: EquilibratedSpring, x: Floats, wanted_n: Floats, force_n: Floats | None = None) -> Floats:
    """Gauge pressure [Pa] that gives the wanted slow force at x, where it has `force_n` now."""
    now_n = air_spring.force(after, x) if force_n is None else force_n
    result = _gauge(after, (wanted_n - now_n) / spring_terms.force_per_pa(after, x))
    if after.second is not None:
        d, fit = after.second, after.fit.take(after.second)
        low, high = fit.ambient_pa, fit.ambient_pa + HIGHEST_GAUGE_PA
        least, most = (_filled(fit, pressure_pa, x[d]) - wanted_n[d] for pressure_pa in (low, high))
        inside = (least <= 0.0) & (most >= 0.0) & ~np.isnan(fit.pressure_pa)
        result[d] = np.nan
        if inside.any():
            rows, some, at_m, want_n = np.arange(x.size)[d][inside], fit.take(inside), x[d][inside], wanted_n[d][inside]
            ends = (n[inside] for n in (low, high, least, most))
            result[rows] = _between(lambda pa: _filled(some, pa, at_m) - want_n, *ends) - some.ambient_pa
    return result


def _between(short_n: Callable[[Floats], Floats], low: Floats, high: Floats, least: Floats, most: Floats) -> Floats:
    """Roots of a rising function between two ends where it is `least` and `most`, by false position: force is all but linear in
    the pressure between its kinks. An end that stays twice running counts half (Illinois), so that it does not stay for ever.
    """
    at, stayed = low, np.zeros_like(low)
    for _ in range(_STEPS):
        last, at = (
            at,
            np.where(most > least, (low * most - high * least) / np.where(most > least, most - least, 1.0), low),
        )
        value = short_n(at)
        side = np.where(value < 0.0, -1.0, 1.0)
        half = np.where(side == stayed, 0.5, 1.0)
        low, least, most = (
            np.where(side < 0.0, at, low),
            np.where(side < 0.0, value, least * half),
            np.where(side < 0.0, most * half, value),
        )
        high, stayed = np.where(side < 0.0, high, at), side
        if not ((np.abs(at - last) > _ROOT_PA) & (value != 0.0)).any():
            return at
    return np.where((np.abs(at - last) > _ROOT_PA) & (value != 0.0), np.nan, at)


def _filled(fit: air_spring.Chambers, pressure_pa: Floats, x: Floats) -> Floats:
    """Slow force [N] at x with the main chamber at another pressure [Pa abs]."""
    return air_spring.force(air_spring.settle(replace(fit, pressure_pa=pressure_pa)), x)


def at_curve(before: EquilibratedSpring, after: EquilibratedSpring) -> Floats:
    """Gauge pressure [Pa] of the least ∫₀^S′ (F_after − F_before)² dx, slow, friction not.

    S′ is the shorter travel less its bumper. Gauss–Legendre, 12 nodes on panels over which no chamber of either spring
    changes its volume by more than a few times (see `_edges`), cut where a force has a kink: 1e-5 psi or better on wild
    bikes (tests). NaN where nothing is left of S′.

    before, after [SI] (n,) settled → [Pa gauge] (n,) 0 to 60 bar, else NaN. Raises nothing. Source: bench-file.md;
    derived; Golub and Welsch 1969 for the nodes.
    """
    rise_pa, smoothly = _smooth_vertex(before, after)
    others = np.nonzero(~smoothly)[0]
    if others.size:
        rise_pa[others] = to_vertex(before.take(others), after.take(others), spring_terms.force_per_pa)
    if after.second is not None:
        d, fit, of_before = after.second, after.fit.take(after.second), before.take(after.second)
        at_pa = fit.pressure_pa
        for _ in range(_VERTICES):  # force is linear in P between kinks: the next vertex from where this one lies
            step = to_vertex(of_before, air_spring.settle(replace(fit, pressure_pa=at_pa)), spring_terms.force_per_pa)
            new_pa = np.clip(at_pa + step, fit.ambient_pa, fit.ambient_pa + HIGHEST_GAUGE_PA)
            moved = np.abs(new_pa - at_pa)
            at_pa = new_pa
            if not (moved > _CLOSE_PA).any():
                break
        rise_pa[d] = np.where(moved > _CLOSE_PA, np.nan, at_pa + step - fit.pressure_pa)
    return _gauge(after, rise_pa)


def _smooth_vertex(before: EquilibratedSpring, after: EquilibratedSpring) -> tuple[Floats, Bools]:
    """Rise of the pressure to the parabola's vertex where neither force has a kink but a negative coil's end; and where that is.

    One panel over the whole span, of more nodes the more a chamber's volume changes; what a coil pulls is a line of its own up
    to where it ends.
    """
    of_before, of_after = smooth.of(before), smooth.of(after)
    span = np.where(after.fit.travel_m <= before.fit.travel_m, _to_bumper_m(after.fit), _to_bumper_m(before.fit))
    change = np.maximum(*(_change(of, span) for of in (of_before, of_after)))
    there = (span > 0.0) & (of_before.from_m <= 0.0) & (of_after.from_m <= 0.0)
    there &= (of_before.upto_m >= span) & (of_after.upto_m >= span)
    rise_pa = np.full_like(span, np.nan)
    done = np.zeros(span.shape, dtype=bool)
    for most, count in _SMOOTH_NODES:
        now = there & ~done & (change <= most)
        if now.any():
            at = slice(None) if now.all() else np.nonzero(now)[0]
            parts = (of_before.take(at), of_after.take(at), after.main_per_pa[at], after.negative_per_pa[at], span[at])
            rise_pa[at] = _by_nodes(*parts, *gauss_legendre(count))
            done |= now
    return rise_pa, done


def _change(of: Smooth, span: Floats) -> Floats:
    """How many times the volume of that chamber changes over the span which changes most; not above 0 where one locks."""
    far = of.main_m
    for _, room_m in of.beside:
        far = np.minimum(far, room_m)
    left = far - span
    return np.where(left > 0.0, np.maximum(far / np.where(left > 0.0, left, 1.0), 1.0 + span / of.negative_m), np.inf)


def _by_nodes(
    before: Smooth,
    after: Smooth,
    main_per_pa: Floats,
    negative_per_pa: Floats,
    span: Floats,
    nodes: Floats,
    weights: Floats,
) -> Floats:
    """∫a(F_b − F_a) / ∫a² over 0 … span, by these nodes and weights on 0 … 1."""

    if len(span) > _AT_ONCE:
        parts = [slice(first, first + _AT_ONCE) for first in range(0, len(span), _AT_ONCE)]
        some = ((before.take(at), after.take(at), main_per_pa[at], negative_per_pa[at], span[at]) for at in parts)
        return np.concatenate([_by_nodes(*each, nodes, weights) for each in some])

    def per_pa(x: Floats) -> tuple[Floats, Floats, Floats]:
        main, negative = np.subtract(after.main_m, x), np.add(after.negative_m, x)
        np.divide(1.0, main, out=main)
        np.divide(1.0, negative, out=negative)
        slope = main_per_pa * main
        slope -= negative_per_pa * negative
        return slope, main, negative

    x = span * nodes[:, None]
    slope, main, negative = per_pa(x)
    gap = smooth.gas_n(before, x)
    gap -= smooth.gas_n(after, x, main, negative)
    weighted = slope * weights[:, None]
    gap *= weighted
    weighted *= slope
    across, square = span * gap.sum(axis=0), span * weighted.sum(axis=0)
    for of, sign in ((before, -1.0), (after, 1.0)):
        if of.coil is not None and of.coil[0].any():
            rate, length_m = of.coil
            upto = np.clip(length_m, 0.0, span) * (rate > 0.0)
            x = upto * nodes[:, None]
            pull = per_pa(x)[0]
            pull *= length_m - x
            across += sign * rate * upto * (weights[:, None] * pull).sum(axis=0)
    result: Floats = across / square
    return result


def to_vertex(before: EquilibratedSpring, after: EquilibratedSpring, per: Per) -> Floats:
    """Rise of what is set, to the least ∫(F_after − F_before)² dx, as if force went on as it does there.

    before, after [SI] (n,) settled; per [-] (one) what gives ∂F/∂(what is set) at x → [SI] (n,) in the unit of what is
    set. Raises nothing. Source: bench-file.md; derived, a parabola's vertex.
    """
    a, b = before.fit, after.fit
    shorter = np.where(a.travel_m <= b.travel_m, _to_bumper_m(a), _to_bumper_m(b))
    (far_a, near_a), (far_b, near_b) = _poles_m(before), _poles_m(after)
    far, near = np.minimum(far_a, far_b), np.minimum(near_a, near_b)
    span = np.where((shorter > 0.0) & (far > shorter) & (near > 0.0), shorter, np.nan)  # a locked spring has no keep
    result = np.full_like(span, np.nan)
    hard = (near + span > _ONE_PANEL * near) | (far > _ONE_PANEL * (far - span))
    for s in (before, after):
        for kinked in (s.ported, s.topped, s.coiled, s.second):
            if kinked is not None:
                hard[kinked] = True
        hard |= _to_bumper_m(s.fit) < span
    hard &= span > 0.0
    easy = np.nonzero(~hard)[0]
    whole = np.arange(span.size)
    if easy.size == span.size:
        return _vertex(before, after, per, np.zeros_like(span), span, whole)
    if easy.size:
        b1, a1 = before.take(easy), after.take(easy)
        ends = span[easy]
        result[easy] = _vertex(b1, a1, per, np.zeros_like(ends), ends, whole[: easy.size])
    rows = np.nonzero(hard)[0]
    b2, a2 = before.take(rows), after.take(rows)
    edges = _edges(b2, a2, span[rows], far[rows], near[rows])
    panel, of = np.nonzero(edges[1:] > edges[:-1])
    low, high = edges[:-1][panel, of], edges[1:][panel, of]
    result[rows] = _vertex(b2.take(of), a2.take(of), per, low, high, of, rows.size)
    return result


def _to_bumper_m(fit: air_spring.Chambers) -> Floats:
    """The travel less its bumper."""
    return np.where(fit.bumper_n_per_m > 0.0, np.minimum(fit.contact_m, fit.travel_m), fit.travel_m)


def _poles_m(s: EquilibratedSpring) -> tuple[Floats, Floats]:
    """Where the first shrinking chamber would have no room left, and how far short of x = 0 the negative one has none [m].

    There the forces have their poles: the further they lie, in lengths of a panel, the fewer nodes do.
    """
    fit = s.fit
    far = np.where(s.positive_m2 > 0.0, fit.positive_m3 / np.where(s.positive_m2 > 0.0, s.positive_m2, 1.0), _FAR_M)
    for room_m3, area_m2 in ((fit.legs_m3, fit.legs_m2), (fit.damper_m3, fit.rod_m2)):
        far = np.where(area_m2 > 0.0, np.minimum(far, room_m3 / np.where(area_m2 > 0.0, area_m2, 1.0)), far)
    near = np.where(s.negative_m2 > 0.0, fit.negative_m3 / np.where(s.negative_m2 > 0.0, s.negative_m2, 1.0), _FAR_M)
    return far, near


def _edges(before: EquilibratedSpring, after: EquilibratedSpring, span: Floats, far: Floats, near: Floats) -> Floats:
    """Edges of the panels, sorted and clipped to 0…S′; shape (edges, m), some of them equal.

    Toward each pole a panel reaches from a distance d to 4 d, so that every chamber's volume changes fourfold at most
    and 12 nodes err by 3⁻²⁴. Toward the contact of a bumper, whose force starts like a power that need not be whole,
    panels shrink fourfold, five times.
    """
    places = [np.zeros_like(span), span]
    steepest = float(np.max(np.maximum(far / (far - span), (near + span) / near)))
    for k in range(1, 1 + int(np.ceil(np.log(steepest) / np.log(_GRADE)))):
        places.append(near * (_GRADE**k - 1.0))
        places.append(far - (far - span) * _GRADE**k)
    for s in (before, after):
        fit = s.fit
        places += [
            np.where(fit.equalises, fit.port_m, 0.0),
            np.where(fit.equalises, fit.port_end_m, 0.0),
            np.where(fit.coil_rate_n_per_m > 0.0, fit.coil_m, 0.0),
        ]
        if s.second is not None:
            gives_way = np.where(
                fit.second_m3 > 0.0, (fit.positive_m3 - s.main_in / fit.second_pa) / s.positive_m2, 0.0
            )
            places.append(np.where(np.isfinite(gives_way), gives_way, 0.0))
        topped, crushed = fit.top_out_n_per_m > 0.0, fit.bumper_n_per_m > 0.0
        contact = fit.contact_m
        for k in range(_GRADES):
            share = _GRADE**-k
            places.append(np.where(topped, fit.top_out_m * (1.0 - share if k else 1.0), 0.0))
            places.append(np.where(crushed, contact + (fit.bumper_m * share if k else 0.0), 0.0))
    return np.sort(np.clip(np.array(places), 0.0, span), axis=0)


def _vertex(
    before: EquilibratedSpring,
    after: EquilibratedSpring,
    per: Per,
    low: Floats,
    high: Floats,
    of: Ints,
    count: int | None = None,
) -> Floats:
    """Rise of what is set to the parabola's vertex, ∫a(F_b − F_a) / ∫a², of `count` plans.

    One panel low…high [m] a row of the springs, shape (panels,); `of` says to which plan it belongs.
    """
    width = high - low
    x = low + width * _UNIT_NODES[:, None]
    weights = width * _UNIT_WEIGHTS[:, None]
    slope = per(after, x)
    weighted = weights * slope
    gap = air_spring.force(before, x) - air_spring.force(after, x)
    across, square = (weighted * gap).sum(axis=0), (weighted * slope).sum(axis=0)
    if count is not None:
        across, square = (np.bincount(of, weights=parts, minlength=count) for parts in (across, square))
    result: Floats = across / square
    return result


def _gauge(after: EquilibratedSpring, rise_pa: Floats) -> Floats:
    """The gauge pressure this much above the one filled, NaN outside 0–60 bar."""
    gauge = after.fit.pressure_pa + rise_pa - after.fit.ambient_pa
    with np.errstate(invalid="ignore"):
        return np.where((gauge >= 0.0) & (gauge <= HIGHEST_GAUGE_PA), gauge, np.nan)
