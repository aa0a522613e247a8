"""The plain script, first part: the air spring of one bike, from its dict to force, rate and energy.

Floats and ``math``. ``x`` is travel used; amounts are p*V in Pa m3 at one temperature, pressures absolute.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from numpy.polynomial.legendre import leggauss
from scipy.optimize import brentq

Bike = dict[str, Any]
State = dict[str, Any]

Amounts = tuple[float, float, float, float, float]

GRAVITY_M_PER_S2 = 9.80665
SEA_LEVEL_PA = 101325.0
NODES = list(zip(*(column.tolist() for column in leggauss(20)), strict=True))


def ambient_abs_pa(conditions: Bike) -> float:
    """US Standard Atmosphere 1976, lowest layer, geometric altitude."""
    if "ambient_pressure" in conditions:
        return float(conditions["ambient_pressure"])
    altitude_m = conditions.get("altitude", 0.0)
    geopotential_m = 6356766.0 * altitude_m / (6356766.0 + altitude_m)
    exponent = GRAVITY_M_PER_S2 * 28.9644 / (8314.32 * 0.0065)
    return SEA_LEVEL_PA * (1.0 - 0.0065 * geopotential_m / 288.15) ** exponent


def state(bike: Bike) -> State:
    """The numbers of one state, flat, so that the force needs no look into the bike again."""
    conditions = bike.get("conditions", {})
    fork, air = bike["fork"], bike["fork"]["air"]
    ambient = ambient_abs_pa(conditions)
    s: State = {
        "ambient_abs_pa": ambient,
        "exponent": conditions.get("fast_exponent", 1.3),
        "travel_m": fork["travel"],
        "piston_m2": math.pi / 4.0 * air["bore"] ** 2,
        "annulus_m2": math.pi / 4.0 * (air["bore"] ** 2 - air["shaft"] ** 2),
        "main_m3": air["positive_volume"]
        - air.get("spacers", 0) * air.get("spacer_volume", 0.0)
        - air.get("oil_on_piston", 0.0),
        "fill_abs_pa": air["pressure"] + ambient,
        "kind": air.get("negative", "self-equalising"),
        "friction_n": fork.get("friction", 0.0),
        "friction_n_per_pa": fork.get("friction_per_bar", 0.0) / 1e5,
        "friction_side": fork.get("friction_side", 0.0),
    }
    s["negative_m3"] = air.get("negative_volume", 0.0) - air.get("grease_in_negative", 0.0)
    s["has_negative_gas"] = s["kind"] in ("self-equalising", "separate-valve")
    s["opens_m"] = air.get("port_position", 0.0)
    s["shuts_m"] = s["opens_m"] + air.get("port_length", 0.0)
    s["negative_fill_abs_pa"] = air.get("negative_pressure", 0.0) + ambient
    if s["kind"] == "self-equalising" and (s["shuts_m"] < -1e-9 or s["opens_m"] > s["travel_m"]):
        # The piston never comes to its port: what the negative chamber holds is what it was closed with.
        s["kind"], s["negative_fill_abs_pa"] = "separate-valve", ambient
    s["opens_m"], s["shuts_m"] = max(0.0, s["opens_m"]), max(0.0, s["shuts_m"])
    coil = air.get("negative_coil", {}) if s["kind"] == "coil" else {}
    s["coil_n_per_m"], s["coil_m"] = coil.get("rate", 0.0), coil.get("length", 0.0)
    legs = fork.get("lower_legs", {})
    s["legs_m2"], s["legs_m3"] = legs.get("area", 0.0), legs.get("air_volume", 1.0)
    damper = fork.get("damper", {})
    s["rod_m2"] = math.pi / 4.0 * damper.get("rod", 0.0) ** 2
    s["damper_m3"] = damper.get("gas_volume", 1.0)
    s["damper_abs_pa"] = damper.get("gas_pressure", 0.0) + ambient
    for name in ("bumper", "top_out"):
        part = fork.get(name, {})
        s[name + "_m"], s[name + "_n_per_m"] = part.get("length", 0.0), part.get("rate", 0.0)
        s[name + "_power"] = part.get("power", 1.0)
    return s


def locked(s: State) -> bool:
    """Hydraulic lock: a chamber with no room left."""
    travel_m = s["travel_m"]
    return (
        s["main_m3"] - s["piston_m2"] * travel_m <= 0.0
        or (s["has_negative_gas"] and s["negative_m3"] <= 0.0)
        or s["legs_m3"] - s["legs_m2"] * travel_m <= 0.0
        or s["damper_m3"] - s["rod_m2"] * travel_m <= 0.0
    )


# --- gas to force -----------------------------------------------------------------------------------------------------


def sealed(s: State, fill_abs_pa: float) -> Amounts:
    """Amounts p*V once settled: main and negative short of the port, both together in it, main and negative past it."""
    area, ring = s["piston_m2"], s["annulus_m2"]
    main_0, negative_0 = s["main_m3"], s["negative_m3"]
    if s["kind"] == "separate-valve":
        amount = s["negative_fill_abs_pa"] * negative_0
        return fill_abs_pa * main_0, amount, 0.0, fill_abs_pa * main_0, amount
    if s["kind"] != "self-equalising":
        return fill_abs_pa * main_0, 0.0, 0.0, fill_abs_pa * main_0, 0.0
    opens, shuts = s["opens_m"], s["shuts_m"]
    main_e, negative_e = main_0 - area * opens, negative_0 + ring * opens
    main_i, negative_i = main_0 - area * shuts, negative_0 + ring * shuts
    shared_abs_pa = fill_abs_pa * main_0 / main_e
    both = shared_abs_pa * (main_e + negative_e)
    shut_abs_pa = both / (main_i + negative_i)
    return fill_abs_pa * main_0, shared_abs_pa * negative_e, both, shut_abs_pa * main_i, shut_abs_pa * negative_i


def pressures(s: State, amounts: Amounts, x: float) -> tuple[float, float, bool]:
    """Slow absolute pressures in both chambers at travel x, and whether the port joins them there."""
    main_m3 = s["main_m3"] - s["piston_m2"] * x
    if not s["has_negative_gas"]:
        return amounts[0] / main_m3, s["ambient_abs_pa"], False
    negative_m3 = s["negative_m3"] + s["annulus_m2"] * x
    if s["kind"] == "separate-valve":
        return amounts[0] / main_m3, amounts[1] / negative_m3, False
    if x < s["opens_m"]:
        return amounts[0] / main_m3, amounts[1] / negative_m3, False
    if x <= s["shuts_m"] and s["shuts_m"] > s["opens_m"]:
        both_abs_pa = amounts[2] / (main_m3 + negative_m3)
        return both_abs_pa, both_abs_pa, True
    return amounts[3] / main_m3, amounts[4] / negative_m3, False


def solids_n(s: State, x: float) -> float:
    """Bumper less top-out bumper less negative coil."""
    force = 0.0
    crush_m = x - (s["travel_m"] - s["bumper_m"])
    if s["bumper_m"] and crush_m > 0.0:
        force += s["bumper_n_per_m"] * s["bumper_m"] * (crush_m / s["bumper_m"]) ** s["bumper_power"]
    if x < s["top_out_m"]:
        force -= s["top_out_n_per_m"] * s["top_out_m"] * ((s["top_out_m"] - x) / s["top_out_m"]) ** s["top_out_power"]
    if x < s["coil_m"]:
        force -= s["coil_n_per_m"] * (s["coil_m"] - x)
    return force


def fixed_gas_n(s: State, x: float, exponent: float) -> float:
    """Lower legs and damper gas, closed from full extension on."""
    ambient = s["ambient_abs_pa"]
    force = 0.0
    if s["legs_m2"]:
        ratio = s["legs_m3"] / (s["legs_m3"] - s["legs_m2"] * x)
        force += ambient * (ratio**exponent - 1.0) * s["legs_m2"]
    if s["rod_m2"]:
        ratio = s["damper_m3"] / (s["damper_m3"] - s["rod_m2"] * x)
        force += (s["damper_abs_pa"] * ratio**exponent - ambient) * s["rod_m2"]
    return force


def chambers_n(s: State, main_abs_pa: float, negative_abs_pa: float) -> float:
    ambient = s["ambient_abs_pa"]
    return (main_abs_pa - ambient) * s["piston_m2"] - (negative_abs_pa - ambient) * s["annulus_m2"]


def slow_n(s: State, amounts: Amounts, x: float) -> float:
    main, negative, _ = pressures(s, amounts, x)
    return chambers_n(s, main, negative) + fixed_gas_n(s, x, 1.0) + solids_n(s, x)


def fast_n(s: State, amounts: Amounts, x: float, anchor_m: float) -> float:
    """A fast stroke from gas settled at ``anchor_m``, port shut; lower legs and damper gas from full extension."""
    n = s["exponent"]
    main, negative, _ = pressures(s, amounts, anchor_m)
    main *= ((s["main_m3"] - s["piston_m2"] * anchor_m) / (s["main_m3"] - s["piston_m2"] * x)) ** n
    if s["has_negative_gas"]:
        negative *= ((s["negative_m3"] + s["annulus_m2"] * anchor_m) / (s["negative_m3"] + s["annulus_m2"] * x)) ** n
    return chambers_n(s, main, negative) + fixed_gas_n(s, x, n) + solids_n(s, x)


def rate_n_per_m(s: State, amounts: Amounts, x: float) -> float:
    """dF/dx of the slow force, term by term; at the start of a bumper the value from inside it."""
    main, negative, joined = pressures(s, amounts, x)
    area, ring = s["piston_m2"], s["annulus_m2"]
    main_m3, negative_m3 = s["main_m3"] - area * x, s["negative_m3"] + ring * x
    if joined:
        rate = main * (area - ring) ** 2 / (main_m3 + negative_m3)
    else:
        rate = main * area**2 / main_m3
        if s["has_negative_gas"]:
            rate += negative * ring**2 / negative_m3
    if s["legs_m2"]:
        left_m3 = s["legs_m3"] - s["legs_m2"] * x
        rate += s["ambient_abs_pa"] * s["legs_m3"] / left_m3 * s["legs_m2"] ** 2 / left_m3
    if s["rod_m2"]:
        left_m3 = s["damper_m3"] - s["rod_m2"] * x
        rate += s["damper_abs_pa"] * s["damper_m3"] / left_m3 * s["rod_m2"] ** 2 / left_m3
    for name, crush_m in (("bumper", x - (s["travel_m"] - s["bumper_m"])), ("top_out", s["top_out_m"] - x)):
        if s[name + "_m"] and crush_m >= 0.0:
            power = s[name + "_power"]
            rate += s[name + "_n_per_m"] * power * (crush_m / s[name + "_m"]) ** (power - 1.0)
    if x < s["coil_m"]:
        rate += s["coil_n_per_m"]
    return rate


def breaks_m(s: State, end_m: float) -> list[float]:
    """Where the gas and coil force has a kink, between 0 and ``end_m``, both included."""
    inner = {x for x in (s["opens_m"], s["shuts_m"], s["coil_m"]) if 0.0 < x < end_m}
    return [0.0, *sorted(inner), end_m]


def integral(function: Callable[[float], float], edges_m: list[float]) -> float:
    """Gauss-Legendre on each smooth piece."""
    total = 0.0
    for left, right in zip(edges_m, edges_m[1:], strict=False):
        half, middle = (right - left) / 2.0, (right + left) / 2.0
        total += half * sum(weight * function(middle + half * node) for node, weight in NODES)
    return total


def energy_j(s: State, force: Callable[[float], float]) -> float:
    """Integral of a force curve from 0 to the end of travel; the bumpers in closed form (their power may be any number)."""
    bumpers = s["bumper_n_per_m"] * s["bumper_m"] ** 2 / (s["bumper_power"] + 1.0)
    bumpers -= s["top_out_n_per_m"] * s["top_out_m"] ** 2 / (s["top_out_power"] + 1.0)
    no_bumpers = {**s, "bumper_m": 0.0, "top_out_m": 0.0}

    def smooth(x: float) -> float:
        return force(x) - solids_n(s, x) + solids_n(no_bumpers, x)

    return integral(smooth, breaks_m(s, s["travel_m"])) + bumpers


def root(function: Callable[[float], float], high: float) -> float:
    """The root of a rising function on [0, high]; the end itself where there is none."""
    if function(0.0) >= 0.0:
        return 0.0
    if function(high) <= 0.0:
        return high
    return float(brentq(function, 0.0, high, xtol=1e-16, rtol=8.9e-16))


def lost_travel_m(s: State, amounts: Amounts) -> float:
    return root(lambda x: slow_n(s, amounts, x), s["travel_m"])
