"""The linkage behind: from rear wheel travel to stroke and back, the leverage ratio between them, force and rate at the wheel.

`w` is rear wheel travel, `s` the shock's stroke, both 0 at full extension; the ratio is r = dw/ds. A table gives r or s at
some w; between its points runs a cubic that keeps the table's shape (PCHIP), so that nothing overshoots. From a table of
ratios s = ∫dw/r, from one of strokes r = 1/s′. Past the table's end, at most 1 % of the stroke, the last ratio stays.

Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5, 1984, for the cubic; the wheel's force and rate by virtual work.
Checked against SciPy's PchipInterpolator, its quadrature and the energy of the shock (tests/second_way).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any, Final, TypeAlias

import numpy as np

from topout.physics.gas import Bools, Floats, Ints
from topout.physics.quadrature import gauss_legendre

_MOST_NODES: Final = 12  # of the quadrature over a segment: rounding where the ratio there changes less than twofold
_DIGITS: Final = 17.0  # that the quadrature keeps, where fewer nodes do
_STEPS: Final = 40
_CLOSE_M: Final = 1e-15
_FEW: Final = 2_000  # numbers: fewer are laid out at once, since then a call costs more than what it works out


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Linkage:
    """Tables of n linkages, shape (…, K): wheel travel [m], ratio [1] or stroke [m] there, the cubic's slope, stroke [m].

    `last` is the place of each table's last point, `of_stroke` where its values are strokes, `nodes` how many the quadrature over
    any of its segments needs, all of shape (…).
    """

    travel_m: Floats
    value: Floats
    slope: Floats
    stroke_m: Floats
    last: Ints
    of_stroke: Bools
    nodes: Ints

    def take(self, index: Any) -> Linkage:
        """The same for a part of the linkages (any numpy index).

        index [1] (any) a numpy index → [SI] (that part). Raises nothing. Source: none needed, bookkeeping.
        """
        return Linkage(*(getattr(self, f.name)[index] for f in fields(self)))


def slopes(x: Floats, y: Floats) -> Floats:
    """Slopes of the shape-preserving cubic through (x, y), tables along the last axis, NaN after a table's last point.

    Inside, the weighted harmonic mean of both neighbours' rises, 0 where they differ in sign; at an end the parabola's,
    held to the sign of its rise and to three times it. Two points make a straight line.

    x [SI] (…, K) rising, NaN after the last of two points or more; y [SI] (…, K) any → [SI] (…, K). Raises nothing. Source:
    Fritsch and Butland 1984; checked against SciPy's PchipInterpolator.
    """
    h = np.diff(x)
    rise = np.diff(y) / h
    last = _last(x)[..., None]
    result = np.full(x.shape, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = 2.0 * h[..., 1:] + h[..., :-1], h[..., 1:] + 2.0 * h[..., :-1]
        mean = (one + two) / (one / rise[..., :-1] + two / rise[..., 1:])
        result[..., 1:-1] = np.where(rise[..., :-1] * rise[..., 1:] > 0.0, mean, 0.0)
        far = np.minimum(last - 1, 1)  # the second segment from an end, the first again where there is but one
        for end, near, next_ in ((np.zeros_like(last), np.zeros_like(last), far), (last, last - 1, last - 1 - far)):
            h0, h1, d0, d1 = (_at(values, at) for values in (h, rise) for at in (near, next_))
            edge = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
            edge = np.where(edge * d0 <= 0.0, 0.0, edge)
            edge = np.where((d0 * d1 <= 0.0) & (np.abs(edge) > 3.0 * np.abs(d0)), 3.0 * d0, edge)
            np.put_along_axis(result, np.maximum(end, 0), edge, -1)
    return np.where(np.isnan(x), np.nan, result)


def linkage(travel_m: Floats, value: Floats, of_stroke: Bools) -> Linkage:
    """Linkages from their tables.

    travel_m [m] (…, K) rising from 0, NaN after a table's last point, and throughout where there is none; value [SI]
    (…, K) ratios above 0 or rising strokes; of_stroke [-] (…) which of the two → [SI] (…). Raises nothing. Source:
    physics.md 7.
    """
    last = _last(travel_m)
    table = Linkage(
        travel_m, value, slopes(travel_m, value), np.where(of_stroke[..., None], value, 0.0), last, of_stroke,
        _nodes(value, of_stroke),
    )  # fmt: skip
    ratios = ~of_stroke[..., None]
    if ratios.any():
        x, y, m = travel_m, value, table.slope
        ends = (each[..., by] for by in (slice(None, -1), slice(1, None)) for each in (x, y, m))
        passed = np.cumsum(
            _passed_m(_hermite(*ends), of_stroke[..., None], x[..., 1:], int(np.max(table.nodes))), axis=-1
        )
        table.stroke_m[..., 1:] = np.where(ratios, passed, table.stroke_m[..., 1:])
    return table


def at(of: Linkage, travel_m: Floats) -> tuple[Floats, Floats, Floats]:
    """Stroke [m], leverage ratio [1] and its change with wheel travel [1/m] at a wheel travel.

    of [SI] (…) whole; travel_m [m] (…) 0 and more, further axes in front → [m], [1], [SI] (…) each, NaN without a table.
    Raises nothing. Source: physics.md 7; derived.
    """
    end_m = _gather(of.travel_m, of.last)
    inside = np.minimum(travel_m, end_m)
    place = np.minimum(_reached(of.travel_m, travel_m) - 1, of.last - 1)
    on = _segment(of, place)
    y, dy, ddy = _cubic(on, inside)
    if of.of_stroke.any():
        slope = np.where(of.of_stroke, dy, 1.0)
        ratio = np.where(of.of_stroke, 1.0 / slope, y)
        change = np.where(of.of_stroke, -ddy / (slope * slope), dy)
    else:
        ratio, change = y, dy
    stroke = (
        y
        if of.of_stroke.all()
        else np.where(
            of.of_stroke, y, _gather(of.stroke_m, place) + _passed_m(on, of.of_stroke, inside, int(np.max(of.nodes)))
        )
    )
    beyond = travel_m > end_m
    return stroke + (travel_m - inside) / ratio, ratio, np.where(beyond, 0.0 * change, change)


def wheel_travel_m(of: Linkage, stroke_m: Floats) -> Floats:
    """Wheel travel [m] at a stroke: Newton on s(w), whose slope is 1/r, held inside its segment of the table.

    of [SI] (…) whole; stroke_m [m] (…) 0 and more, further axes in front → [m] (…) NaN without a table. Raises nothing.
    Source: physics.md 7; derived.
    """
    place = np.clip(_reached(of.stroke_m, stroke_m) - 1, 0, np.maximum(of.last - 1, 0))
    low, high = _gather(of.travel_m, place), _gather(of.travel_m, place + 1)
    s0, s1 = _gather(of.stroke_m, place), _gather(of.stroke_m, place + 1)
    past = stroke_m > s1  # beyond the table
    w = low + (high - low) * (stroke_m - s0) / (s1 - s0)
    for _ in range(_STEPS):
        s, ratio, _change = at(of, w)
        new = np.maximum(w - (s - stroke_m) * ratio, low)
        new = np.where(past, new, np.minimum(new, high))
        moved = np.abs(new - w)
        w = new
        if not (moved > _CLOSE_M).any():
            break
    return w


def at_wheel(of: Linkage, travel_m: Floats, force_n: Floats, rate_n_per_m: Floats) -> tuple[Floats, Floats]:
    """Force [N] at the wheel and its rate [N/m] from those of the spring: F/r, and k/r² − F·r′/r².

    The second term is the change of ratio: a falling ratio stiffens the wheel also under a spring of constant force.

    of [SI] (…) whole; travel_m [m] (…) of the wheel; force_n [N] (…) of the spring there; rate_n_per_m [N/m] (…) its slope → [N], [N/m]
    (…) each. Raises nothing. Source: physics.md 7, virtual work.
    """
    _, ratio, change = at(of, travel_m)
    return force_n / ratio, (rate_n_per_m - force_n * change) / (ratio * ratio)


def progression(of: Linkage, end_m: Floats) -> Floats:
    """Progression [1]: the fall of the ratio from the start of the wheel travel to its end, as a share of the start.

    of [SI] (…) whole; end_m [m] (…) of the wheel travel → [1] (…) below 0 where the ratio rises. Raises nothing. Source:
    derived, (start − end)/start as in trade.md 4.
    """
    _, first, _ = at(of, np.zeros_like(end_m))
    _, end, _ = at(of, end_m)
    return 1.0 - end / first


def _last(travel_m: Floats) -> Ints:
    """The place of a table's last point; 1 where there is no table, whose NaN goes on from there."""
    result: Ints = np.maximum((~np.isnan(travel_m)).sum(axis=-1) - 1, 1)
    return result


def _reached(table: Floats, x: Floats) -> Ints:
    """How many points of each table (…, K) lie at or before x, further axes in front; none of those that are NaN."""
    count = np.zeros(np.broadcast(x, table[..., 0]).shape, dtype=np.intp)
    if count.size * table.shape[-1] <= _FEW:
        result: Ints = (np.asarray(x)[..., None] >= table).sum(axis=-1)
        return result
    for k in range(table.shape[-1]):
        count += x >= table[..., k]
    return count


def _at(values: Floats, place: Ints) -> Floats:
    return np.take_along_axis(values, place, -1)


def _gather(table: Floats, place: Ints) -> Floats:
    """What tables (…, K) hold at places (…), further axes in front; the many draws of one bike share one row."""
    if not any(table.strides[:-1]) or table.size == table.shape[-1]:
        row: Floats = table[(0,) * (table.ndim - 1)]
        return row[place]
    result: Floats = table[(*_every(table.shape[:-1]), place)]
    return result


@lru_cache(maxsize=16)
def _every(shape: tuple[int, ...]) -> tuple[Ints, ...]:
    """The places along each axis, so shaped that together they name every row."""
    return np.ix_(*(np.arange(count) for count in shape))


Segment: TypeAlias = tuple[Floats, Floats, Floats, Floats, Floats]  # its start, and the four coefficients of its cubic


def _segment(of: Linkage, place: Ints) -> Segment:
    """The segment of each table's cubic at a place."""
    ends = (_gather(values, end) for end in (place, place + 1) for values in (of.travel_m, of.value, of.slope))
    return _hermite(*ends)


def _hermite(x0: Floats, y0: Floats, m0: Floats, x1: Floats, y1: Floats, m1: Floats) -> Segment:
    """A cubic between two points: value, slope and what bends it, from its start on, in Hermite form."""
    h = x1 - x0
    rise = (y1 - y0) / h
    return x0, y0, m0, (3.0 * rise - 2.0 * m0 - m1) / h, (m0 + m1 - 2.0 * rise) / (h * h)


def _cubic(on: Segment, x: Floats) -> tuple[Floats, Floats, Floats]:
    """Value, slope and curvature of the tables' cubic on a segment."""
    x0, y0, m0, c, d = on
    u = x - x0
    return y0 + u * (m0 + u * (c + u * d)), m0 + u * (2.0 * c + 3.0 * u * d), 2.0 * c + 6.0 * u * d


def _nodes(value: Floats, of_stroke: Bools) -> Ints:
    """How many nodes give ∫dw/r over each table's segments to rounding; at most 12.

    Where the ratio goes from 1 to q along a line, 1/r has its pole 1 + 2/(q − 1) half-widths from the middle, and the error of
    n nodes falls with ρ^(−2n), ρ = z + √(z² − 1) (Trefethen, SIAM Rev. 50, 2008). The cubic's own bend takes two nodes more.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        one, two = value[..., :-1], value[..., 1:]
        q = np.nanmax(np.where(np.isnan(one + two), 1.0, np.maximum(one, two) / np.minimum(one, two)), axis=-1)
        z = 1.0 + 2.0 / (q - 1.0)
        needed = np.ceil(_DIGITS / (2.0 * np.log10(z + np.sqrt(z * z - 1.0)))) + 2.0
    needed = np.where(of_stroke | ~np.isfinite(needed), 2.0, needed)  # of a ratio that stays two are too many already
    result: Ints = np.clip(needed, 2, _MOST_NODES).astype(np.intp)
    return result


def _passed_m(on: Segment, of_stroke: Bools, x: Floats, count: int) -> Floats:
    """Stroke [m] from the start of a segment to x in it: ∫dw/r, by so many nodes."""
    start, y0, m0, c, d = on
    span = x - start
    nodes, weights = gauss_legendre(count)
    result: Floats = np.zeros(np.broadcast(span, of_stroke).shape)
    if result.size * count <= _FEW:
        along = (count,) + (1,) * result.ndim
        u = nodes.reshape(along) * span
        ratio = np.where(of_stroke, 1.0, y0 + u * (m0 + u * (c + u * d)))
        result = span * (weights.reshape(along) / ratio).sum(axis=0)
        return result
    for node, weight in zip(nodes, weights, strict=True):  # one after the other: no array of all nodes is laid out
        u = node * span
        ratio = y0 + u * (m0 + u * (c + u * d))
        result += weight / np.where(of_stroke, 1.0, ratio)  # strokes have no use for it, and pass through 0
    return span * result
