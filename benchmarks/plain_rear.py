"""The plain script, rear end: a shock behind its linkage, floats, ``math`` and one ``brentq`` per root.

The air spring is that of ``plain_spring.py``, a shock being a fork without lower legs whose travel is the stroke. The leverage is
SciPy's shape-preserving cubic through the pairs, its coefficients as floats; the stroke at a wheel travel its integral of 1/r.
"""

from __future__ import annotations

import bisect
import math
from typing import Any

from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import plain_spring as spring
from plain_input import si

Bike = dict[str, Any]
POINTS = 201
MARK_PA = 6894.757293168361


class Linkage:
    """Ratio and stroke at a wheel travel, and back."""

    def __init__(self, pairs: list[list[Any]]) -> None:
        travel = [float(si(w)) for w, _ in pairs]  # type: ignore[arg-type]
        cubic = PchipInterpolator(travel, [float(r) for _, r in pairs])
        self.starts, self.end_m = travel[:-1], travel[-1]
        self.coefficients = [tuple(map(float, cubic.c[:, k])) for k in range(len(travel) - 1)]
        self.strokes = [0.0]
        for low, high in zip(travel, travel[1:], strict=False):
            self.strokes.append(self.strokes[-1] + spring.integral(lambda w: 1.0 / self.ratio(w), [low, high]))

    def ratio(self, w: float) -> float:
        k = max(bisect.bisect_right(self.starts, w) - 1, 0)
        a, b, c, d = self.coefficients[k]
        u = min(w, self.end_m) - self.starts[k]
        return float(((a * u + b) * u + c) * u + d)

    def stroke_m(self, w: float) -> float:
        inside = min(w, self.end_m)
        k = max(bisect.bisect_right(self.starts, inside) - 1, 0)
        found = self.strokes[k]
        if inside > self.starts[k]:
            found += spring.integral(lambda at: 1.0 / self.ratio(at), [self.starts[k], inside])
        return found + (w - inside) / self.ratio(inside)

    def wheel_m(self, stroke_m: float) -> float:
        return float(brentq(lambda w: self.stroke_m(w) - stroke_m, 0.0, 1.1 * self.end_m, xtol=1e-15))


class Shock:
    """A shock with its pressure."""

    def __init__(self, bike: Bike, pressure_pa: float | None = None) -> None:
        shock = bike["shock"]
        air = shock["air"] if pressure_pa is None else {**shock["air"], "pressure": pressure_pa}
        self.state = spring.state(
            {"conditions": bike.get("conditions", {}), "fork": {**shock, "air": air, "travel": shock["stroke"]}}
        )
        self.amounts = spring.sealed(self.state, self.state["fill_abs_pa"])
        self.stroke_m = float(shock["stroke"])

    def force_n(self, s: float) -> float:
        return float(spring.slow_n(self.state, self.amounts, min(s, self.stroke_m)))

    def filled_n(self, s: float, abs_pa: float) -> float:
        return spring.slow_n(self.state, spring.sealed(self.state, abs_pa), s)


def changed(bike: Bike) -> Bike:
    """The shock after its change."""
    asked, shock = bike.get("change", {}).get("shock", {}), bike["shock"]
    air = {**shock["air"], **{key: asked[key] for key in ("spacers", "spacer_volume", "pressure") if key in asked}}
    return {**bike, "shock": {**shock, "stroke": asked.get("stroke", shock["stroke"]), "air": air}}


def load_n(bike: Bike) -> float:
    """What is left for the rear wheel."""
    rider, of = bike["rider"], bike["bike"]
    heavy = rider["mass"] + of["mass"]
    front = heavy * rider["front_share"] - of["unsprung_front"]
    return float((heavy - of["unsprung_front"] - of["unsprung_rear"] - front) * spring.GRAVITY_M_PER_S2)


def keeps(was: Shock, after: Shock, rests_m: float, linkage: Linkage, load: float) -> list[float]:
    """The gauge pressures [Pa] that keep the share of the stroke, the stroke used, the curve and the end."""
    ambient = after.state["ambient_abs_pa"]
    one, two = ambient, ambient + 10e5

    def for_force(s: float, wanted_n: float) -> float:
        low, high = after.filled_n(s, one), after.filled_n(s, two)
        return float(one + (wanted_n - low) / (high - low) * (two - one) - ambient)

    found = []
    for s in (rests_m * after.stroke_m / was.stroke_m, rests_m):
        found.append(for_force(s, load * linkage.ratio(linkage.wheel_m(s))))
    shorter = min(was, after, key=lambda of: of.stroke_m)
    end = shorter.stroke_m - shorter.state["bumper_m"]
    edges = sorted({*spring.breaks_m(was.state, end), *spring.breaks_m(after.state, end)})
    at = [spring.sealed(after.state, pa) for pa in (one, two)]
    across = square = 0.0
    for left, right in zip(edges, edges[1:], strict=False):
        half, middle = (right - left) / 2.0, (right + left) / 2.0
        for node, weight in spring.NODES:
            s = middle + half * node
            low = spring.slow_n(after.state, at[0], s)
            slope = spring.slow_n(after.state, at[1], s) - low
            across += half * weight * slope * (was.force_n(s) - low)
            square += half * weight * slope * slope
    found.append(across / square * (two - one))
    found.append(for_force(after.stroke_m, was.force_n(was.stroke_m)))
    return [pa for pa in found if 0.0 <= pa <= 60e5]


def rests_m(shock: Shock, linkage: Linkage, load: float) -> float:
    """Wheel travel at sag."""
    end = linkage.wheel_m(shock.stroke_m)
    return spring.root(lambda w: shock.force_n(linkage.stroke_m(w)) / linkage.ratio(w) - load, end)


def curve_off(was: Shock, after: Shock, linkage: Linkage) -> float:
    """How far the wheel's force lies from the one before, as a share of it."""
    free = [linkage.wheel_m(each.stroke_m - each.state["bumper_m"]) for each in (was, after)]
    square = whole = 0.0
    for i in range(POINTS):
        w = min(free) * (i + 0.5) / POINTS
        s, ratio = linkage.stroke_m(w), linkage.ratio(w)
        one = was.force_n(s) / ratio
        square += (after.force_n(s) / ratio - one) ** 2
        whole += one * one
    return math.sqrt(square / whole)


def settings(bike: Bike) -> tuple[float, list[tuple[float, float, float]]]:
    """The wheel travel at sag of the bike as it is; of each setting of one way its pressure, wheel travel at sag and curve."""
    linkage, load = Linkage(bike["shock"]["leverage"]), load_n(bike)
    was, after = Shock(bike), Shock(changed(bike))
    before_m = rests_m(was, linkage, load)
    if spring.locked(after.state):
        return before_m, []
    pressures = [
        *keeps(was, after, linkage.stroke_m(before_m), linkage, load),
        changed(bike)["shock"]["air"]["pressure"],
    ]
    found = []
    for pa in sorted({round(each / MARK_PA) * MARK_PA for each in pressures}):
        shock = Shock(changed(bike), pa)
        spring.lost_travel_m(shock.state, shock.amounts)
        found.append((pa, rests_m(shock, linkage, load), curve_off(was, shock, linkage)))
    return before_m, found


def with_rear(bike: Bike, before_m: float, after_m: float) -> Bike:
    """The bike with its rear wheel where it rests, before and after."""
    change = bike.get("change", {})
    return {
        **bike,
        "rear_wheel": {**bike.get("rear_wheel", {}), "sag": before_m},
        "change": {**change, "rear_wheel": {**change.get("rear_wheel", {}), "sag": after_m}},
    }
