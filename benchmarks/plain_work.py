"""The plain script's given work once more, in flat loops with nothing computed twice: (a''), a harder yardstick.

Same formulas as ``plain.py``, which the tests hold it to: per state 201 points of slow force, fast force, rate and both
pressures, sag with its interval and the lost travel by one ``brentq`` each, end force, both stances; then four keeps (the
curve's from its exact parabola) and the room for tyres. Reading the dict and applying the change is done before the
clock starts, as it is for the core.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from scipy.optimize import brentq

import plain
import plain_spring as spring
import plain_stance as stance

Bike = dict[str, Any]
Force = Callable[[float], float]

POINTS = plain.POINTS


def prepared(bike: Bike) -> tuple[plain.Side, plain.Side]:
    """Both states with their load, ready for ``work``."""
    return plain.sides(bike)


def force_of(s: Bike, amounts: spring.Amounts) -> Force:
    """The slow force as one flat function of travel."""
    ambient, top = s["ambient_abs_pa"], s["travel_m"]
    area, ring, main_0, negative_0 = s["piston_m2"], s["annulus_m2"], s["main_m3"], s["negative_m3"]
    opens, shuts = (s["opens_m"], s["shuts_m"]) if s["kind"] == "self-equalising" else (-1.0, -1.0)
    main_out, negative_out, both, main_in, negative_in = amounts
    has_gas = s["has_negative_gas"]
    legs, legs_0, rod, damper_0 = s["legs_m2"], s["legs_m3"], s["rod_m2"], s["damper_m3"]
    damper_k = s["damper_abs_pa"] * damper_0
    bumper, bumper_k, bumper_m = s["bumper_m"], s["bumper_n_per_m"], s["bumper_power"]
    top_out, top_out_k, top_out_m = s["top_out_m"], s["top_out_n_per_m"], s["top_out_power"]
    coil, coil_k, contact = s["coil_m"], s["coil_n_per_m"], top - bumper

    def force(x: float) -> float:
        main_m3 = main_0 - area * x
        if has_gas:
            negative_m3 = negative_0 + ring * x
            if x < opens:
                total = (main_out / main_m3 - ambient) * area - (negative_out / negative_m3 - ambient) * ring
            elif x > shuts or opens == shuts:
                total = (main_in / main_m3 - ambient) * area - (negative_in / negative_m3 - ambient) * ring
            else:
                total = (both / (main_m3 + negative_m3) - ambient) * (area - ring)
        else:
            total = (main_out / main_m3 - ambient) * area
        if legs:
            total += ambient * legs * (legs_0 / (legs_0 - legs * x) - 1.0)
        if rod:
            total += (damper_k / (damper_0 - rod * x) - ambient) * rod
        if x > contact:
            total += bumper_k * bumper * ((x - contact) / bumper) ** bumper_m
        if x < top_out:
            total -= top_out_k * top_out * ((top_out - x) / top_out) ** top_out_m
        if x < coil:
            total -= coil_k * (coil - x)
        return total

    return force


def curves(side: plain.Side) -> Bike:
    """Slow and fast force, rate and both pressures at 201 points, in one pass."""
    s = side.state
    ambient, top, n = s["ambient_abs_pa"], s["travel_m"], s["exponent"]
    area, ring, main_0, negative_0 = s["piston_m2"], s["annulus_m2"], s["main_m3"], s["negative_m3"]
    opens, shuts = (s["opens_m"], s["shuts_m"]) if s["kind"] == "self-equalising" else (-1.0, -1.0)
    main_out, negative_out, both, main_in, negative_in = side.amounts
    main_start, negative_start, _ = spring.pressures(s, side.amounts, 0.0)
    has_gas = s["has_negative_gas"]
    legs, legs_0, rod, damper_0, damper = s["legs_m2"], s["legs_m3"], s["rod_m2"], s["damper_m3"], s["damper_abs_pa"]
    bumper, bumper_k, bumper_m = s["bumper_m"], s["bumper_n_per_m"], s["bumper_power"]
    top_out, top_out_k, top_out_m = s["top_out_m"], s["top_out_n_per_m"], s["top_out_power"]
    coil, coil_k, contact = s["coil_m"], s["coil_n_per_m"], top - bumper
    slow_n, fast_n, rate, positive, negative = [], [], [], [], []
    for i in range(POINTS):
        x = top * i / (POINTS - 1)
        main_m3 = main_0 - area * x
        main_fast = main_start * (main_0 / main_m3) ** n
        if has_gas:
            negative_m3 = negative_0 + ring * x
            negative_fast = negative_start * (negative_0 / negative_m3) ** n
            if x < opens:
                main_pa, negative_pa = main_out / main_m3, negative_out / negative_m3
                slope = main_pa * area * area / main_m3 + negative_pa * ring * ring / negative_m3
            elif x > shuts or opens == shuts:
                main_pa, negative_pa = main_in / main_m3, negative_in / negative_m3
                slope = main_pa * area * area / main_m3 + negative_pa * ring * ring / negative_m3
            else:
                main_pa = negative_pa = both / (main_m3 + negative_m3)
                slope = main_pa * (area - ring) ** 2 / (main_m3 + negative_m3)
        else:
            main_pa, negative_pa, negative_fast = main_out / main_m3, ambient, ambient
            slope = main_pa * area * area / main_m3
        slow = (main_pa - ambient) * area - (negative_pa - ambient) * ring
        fast = (main_fast - ambient) * area - (negative_fast - ambient) * ring
        if legs:
            ratio = legs_0 / (legs_0 - legs * x)
            slow += ambient * legs * (ratio - 1.0)
            fast += ambient * legs * (ratio**n - 1.0)
            slope += ambient * ratio * legs * legs / (legs_0 - legs * x)
        if rod:
            ratio = damper_0 / (damper_0 - rod * x)
            slow += (damper * ratio - ambient) * rod
            fast += (damper * ratio**n - ambient) * rod
            slope += damper * ratio * rod * rod / (damper_0 - rod * x)
        if bumper and x >= contact:
            crush = (x - contact) / bumper
            push = bumper_k * bumper * crush**bumper_m
            slow, fast = slow + push, fast + push
            slope += bumper_k * bumper_m * crush ** (bumper_m - 1.0)
        if top_out and x <= top_out:
            crush = (top_out - x) / top_out
            pull = top_out_k * top_out * crush**top_out_m
            slow, fast = slow - pull, fast - pull
            slope += top_out_k * top_out_m * crush ** (top_out_m - 1.0)
        if x < coil:
            pull = coil_k * (coil - x)
            slow, fast, slope = slow - pull, fast - pull, slope + coil_k
        slow_n.append(slow)
        fast_n.append(fast)
        rate.append(slope)
        positive.append(main_pa)
        negative.append(negative_pa)
    return {
        "force_n": slow_n,
        "force_fast_n": fast_n,
        "rate_n_per_m": rate,
        "positive_pa": positive,
        "negative_pa": negative,
    }


def root(function: Force, high: float) -> float:
    if function(0.0) >= 0.0:
        return 0.0
    if function(high) <= 0.0:
        return high
    return float(brentq(function, 0.0, high, xtol=1e-16, rtol=8.9e-16))


def rests(side: plain.Side, force: Force) -> Bike:
    """Sag, its interval, the lost travel and the load at sag."""
    top, load, friction_n = side.travel_m, side.load, side.friction_n
    drawn, parts, rear_m = side.drawn, side.parts, side.parts["rear_sag_m"]
    alpha, offset, top_x, top_y = drawn["head_angle"], parts["offset_m"], *drawn["top"]
    sin_a, cos_a = math.sin(alpha), math.cos(alpha)
    along = drawn["head_tube_m"] + parts["length_m"]
    across_0 = top_x + along * cos_a + offset * sin_a - drawn["rear"][0]
    up_0 = top_y - along * sin_a + offset * cos_a - drawn["rear"][1] - rear_m
    higher = parts["front_radius_m"] - parts["rear_radius_m"]
    axial, wheel_n = load.get("axial_n"), load["wheel_n"]

    def load_n(x: float) -> float:
        if axial is not None:
            return float(axial)
        across, up = across_0 - x * cos_a, up_0 + x * sin_a
        theta = math.asin(higher / math.hypot(across, up)) - math.atan2(up, across)
        return float(wheel_n * math.sin(alpha - theta))

    travel = root(lambda x: force(x) - load_n(x), top)
    return {
        "travel_m": travel,
        "low_m": root(lambda x: force(x) - load_n(x) + friction_n(x), top),
        "high_m": root(lambda x: force(x) - load_n(x) - friction_n(x), top),
        "lost_m": root(force, top),
        "load_n": load_n(travel),
    }


def keeps(before: plain.Side, after: plain.Side, before_n: Force, sag_m: float) -> Bike:
    """The four pressures, from the force at two pressures: it is linear between and beyond them."""
    ambient = after.state["ambient_abs_pa"]
    one_pa, two_pa = ambient, ambient + 10e5
    one = force_of(after.state, spring.sealed(after.state, one_pa))
    two = force_of(after.state, spring.sealed(after.state, two_pa))

    def allowed(abs_pa: float) -> float | None:
        return abs_pa - ambient if 0.0 <= abs_pa - ambient <= plain.HIGHEST_GAUGE_PA else None

    def for_force(x: float, force_n: float) -> float | None:
        low = one(x)
        return allowed(one_pa + (force_n - low) / (two(x) - low) * (two_pa - one_pa))

    kept: Bike = {"sag": None, "sag-share": None}
    if 0.0 < sag_m < before.travel_m:
        if sag_m < after.travel_m:
            kept["sag"] = for_force(sag_m, after.load_n(sag_m))
        shared_m = sag_m / before.travel_m * after.travel_m
        kept["sag-share"] = for_force(shared_m, after.load_n(shared_m))
    kept["end-force"] = for_force(after.travel_m, before_n(before.travel_m))
    shorter = min(before, after, key=lambda side: side.travel_m)
    end_m = shorter.travel_m - shorter.state["bumper_m"]
    edges = sorted({*spring.breaks_m(before.state, end_m), *spring.breaks_m(after.state, end_m)})
    across = square = 0.0
    for left, right in zip(edges, edges[1:], strict=False):
        half, middle = (right - left) / 2.0, (right + left) / 2.0
        for node, weight in spring.NODES:
            x = middle + half * node
            at_one = one(x)
            slope = two(x) - at_one
            across += half * weight * slope * (before_n(x) - at_one)
            square += half * weight * slope * slope
    kept["curve"] = allowed(one_pa + across / square * (two_pa - one_pa))
    return kept


def work(sides: tuple[plain.Side, plain.Side]) -> Bike:
    """The whole given work for one plan."""
    before, after = sides
    results: Bike = {}
    forces = []
    for name, side in (("before", before), ("after", after)):
        force = force_of(side.state, side.amounts)
        forces.append(force)
        resting = rests(side, force)
        results[name] = {
            **curves(side),
            **resting,
            "end_force_n": force(side.travel_m),
            "unloaded": stance.turned(side.drawn, side.parts, 0.0, 0.0),
            "sagged": stance.turned(side.drawn, side.parts, resting["travel_m"], side.parts["rear_sag_m"]),
        }
    results["keep"] = keeps(before, after, forces[0], results["before"]["travel_m"])
    results["clearance"] = plain.clearance(after)
    return results
