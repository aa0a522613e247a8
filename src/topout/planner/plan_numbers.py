"""What a plan says, in SI, as the sentences of a procedure need it; and what can hurt by it.

Nothing here is guessed: what neither plan nor card knows is None, and the sentence says its words instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Final, Literal

import numpy as np

from topout.physics import air_spring, coil, gas, hazards, spring_terms
from topout.physics.air_spring import Chambers

# What a body pushes with on the bars, wheel in, on the floor: 600 to 840 N are wanted within the last millimetres
# (trade practice), so less than the middle of it counts.
BODY_PUSH_N: Final = 700.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanNumbers:
    """What a frozen plan says, in SI; None where it has it not, or there is no plan. Chambers of one configuration, shape (1,)."""

    old_travel_m: float | None = None
    new_travel_m: float | None = None
    pressure_gauge_pa: float | None = None
    set_pressure_gauge_pa: float | None = None
    negative: Literal["self-equalising", "separate-valve", "coil", "none", "not-known"] = "not-known"
    set_negative_pressure_gauge_pa: float | None = None
    pressure_limit_gauge_pa: float | None = None
    spacers_before: int | None = None
    spacers_after: int | None = None
    spacer_limit: int | None = None
    oil_on_piston_m3: float | None = None
    new_fork_length_m: float | None = None
    fork_length_limit_m: float | None = None
    travel_limit_m: float | None = None
    port_position_m: float | None = None
    coil_length_m: float | None = None
    second: Literal["here", "none", "not-known"] = "not-known"  # a second positive chamber behind a floating piston
    second_pressure_gauge_pa: float | None = None
    set_second_pressure_gauge_pa: float | None = None
    second_m3: float | None = None
    bore_m: float | None = None
    spring_n_per_m: float | None = None  # of a coil that carries, how far it is wound up
    set_spring_n_per_m: float | None = None
    preload_m: float | None = None
    set_preload_m: float | None = None
    overtravel_m: float = 0.0
    tyre_to_crown_m: float | None = None
    tyre_to_brace_m: float | None = None
    sag_after_m: float | None = None
    before: Chambers | None = None
    after: Chambers | None = None
    cap_force_n: float | None = None  # of before, as the plan has it: it needs bore and pressure alone
    planned: bool = False  # by a plan in use, not by the card alone
    wheel_changed: bool = False
    bike_here: bool = True
    fill_rounds: int | None = None

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError(f"{each.name} = {value}: a finite number is expected")


def conditions(plan: PlanNumbers) -> dict[str, str]:
    """What the steps of a procedure may depend on, answered for this plan.

    plan [SI] (one) frozen → [-] (any) words by name. Raises nothing. Source: procedures.md.
    """
    return {
        "negative": plan.negative,
        "port": port(plan.port_position_m),
        "spacers": "unchanged" if plan.spacers_before == plan.spacers_after else "changed",
        "oil-on-piston": "some" if plan.oil_on_piston_m3 else "none",
        "travel": _way(plan.old_travel_m, plan.new_travel_m, "longer", "shorter"),
        "wheel": "changed" if plan.wheel_changed else "unchanged",
        "pressure": _way(plan.pressure_gauge_pa, plan.set_pressure_gauge_pa, "higher", "lower"),
        "second": plan.second,
        "spring": _spring(plan),
        "bike": "here" if plan.bike_here else "away",
    }


def port(position_m: float | None) -> str:
    """What steps depend on of the port.

    position_m [m] (one) 0 and more, or None → [-] (one) words. Raises nothing. Source: procedures.md.
    """
    return "not-known" if position_m is None else "further-in" if position_m > 0 else "at-full-extension"


def _spring(plan: PlanNumbers) -> str:
    """Whether a coil has to come out: for another rate or another travel; and where no plan says that it may stay in."""
    same = plan.spring_n_per_m == plan.set_spring_n_per_m and plan.old_travel_m == plan.new_travel_m
    return "stays" if same and plan.set_spring_n_per_m is not None and plan.planned else "out"


def _way(before: float | None, after: float | None, up: str, down: str) -> str:
    if before is None or after is None or before == after:
        return "same"
    return up if after > before else down


def trapped(plan: PlanNumbers) -> tuple[float, float] | None:
    """Force [N] on seal head and ring and energy [J] of the negative chamber, charged, the main one empty.

    At full extension, where the chamber is smallest; the amount is the last settled one. None without gas to trap.

    plan [SI] (one) frozen → [N], [J] (one) each, or None. Raises nothing. Source: physics.md 9.
    """
    if plan.before is None or plan.negative not in ("self-equalising", "separate-valve"):
        return None
    force, energy = hazards.trapped_negative(air_spring.settle(plan.before), np.zeros(1))
    return float(force[0]), float(energy[0])


def trapped_force_n(plan: PlanNumbers, travel_m: float) -> float | None:
    """The same force [N] with the fork standing so far in [m]; less than at full extension.

    plan [SI] (one) frozen; travel_m [m] (one) 0 to the travel → [N] (one) or None. Raises nothing. Source: physics.md
    9.
    """
    if plan.before is None or plan.negative not in ("self-equalising", "separate-valve"):
        return None
    return float(hazards.trapped_negative(air_spring.settle(plan.before), np.array([travel_m]))[0][0])


def filled(plan: PlanNumbers, gauge_pa: float) -> tuple[float, float] | None:
    """Force [N] on seal head and ring and energy [J] of both chambers of the new build at this gauge pressure [Pa].

    Volume spacers and oil may still be those of before at that step, so the larger main chamber counts. None where the
    chambers are not known.

    plan [SI] (one) frozen; gauge_pa [Pa gauge] (one) 0 and more → [N], [J] (one) each. Raises nothing. Source:
    physics.md 9.
    """
    if plan.before is None or plan.after is None:
        return None
    ambient = plan.after.ambient_pa
    room = np.maximum(plan.before.positive_m3, plan.after.positive_m3)
    fitted = replace(plan.after, pressure_pa=ambient + gauge_pa, negative_pa=ambient + gauge_pa, positive_m3=room)
    _, ring, energy = hazards.at_full_extension(fitted)
    return float(ring[0]), float(energy[0])


def stroke_by_weight_m(plan: PlanNumbers) -> float | None:
    """How far [m] the new build goes in by body weight, its cores or its coil out: where bumper and lower legs push back.

    The main chamber is open, the negative one starts at ambient. The travel where nothing is known that pushes back.

    plan [SI] (one) frozen → [m] (one) 0 to the travel, or None. Raises nothing. Source: physics.md 2, trade.md 7.
    """
    if plan.after is None:
        return plan.new_travel_m
    none = np.zeros_like(plan.after.spring_n_per_m)
    fit = replace(
        plan.after, pressure_pa=plan.after.ambient_pa, negative_pa=plan.after.ambient_pa, second_pa=plan.after.ambient_pa,
        second_m3=none, spring_n_per_m=none, bind_m=none + np.inf,
    )  # fmt: skip
    reach_m = fit.travel_m.item() if plan.set_spring_n_per_m is None else plan.new_travel_m or fit.travel_m.item()
    travel_m = np.linspace(0.0, reach_m, 2001)
    parts = spring_terms.terms(air_spring.settle(fit), travel_m)
    pushed_back = sum(part for name, part in parts.items() if name != "positive_n")
    beyond = np.flatnonzero(pushed_back > BODY_PUSH_N)
    return float(travel_m[-1] if beyond.size == 0 else travel_m[beyond[0]])


def second_force_n(plan: PlanNumbers, read_gauge_pa: float | None) -> float | None:
    """Force [N] on cap and floating piston of a second chamber still charged: the highest pressure known, on the bore.

    plan [SI] (one) frozen; read_gauge_pa [Pa gauge] (one) as it came, or None → [N] (one) or None
    without a second chamber, or where its pressure or the bore is not known. Raises nothing. Source: physics.md 9.
    """
    behind = _behind_gauge_pa(plan, read_gauge_pa)
    return None if behind is None or plan.bore_m is None else behind * math.pi / 4 * plan.bore_m**2


def second_energy_j(plan: PlanNumbers, read_gauge_pa: float | None) -> float | None:
    """Energy [J] of a second chamber still charged, expanding isothermally to ambient.

    plan [SI] (one) frozen; read_gauge_pa [Pa gauge] (one) as it came, or None → [J] (one) or None
    without a second chamber, or where its pressure or volume is not known. Raises nothing. Source: physics.md 9.
    """
    behind = _behind_gauge_pa(plan, read_gauge_pa)
    if behind is None or plan.second_m3 is None:
        return None
    ambient = gas.ATMOSPHERE_PA if plan.before is None else float(plan.before.ambient_pa[0])
    pressure = np.array([behind + ambient])
    return float(gas.stored_energy_j(pressure, np.array([plan.second_m3]), np.array([ambient]))[0])


def _behind_gauge_pa(plan: PlanNumbers, read_gauge_pa: float | None) -> float | None:
    """What a second chamber holds at most [Pa gauge]: as it was set or read, or the main one's where that has more."""
    own = [each for each in (plan.second_pressure_gauge_pa, read_gauge_pa) if each is not None]
    return max(*own, plan.pressure_gauge_pa or 0.0) if plan.second == "here" and own else None


def wound_force_n(rate_n_per_m: float | None, preload_m: float | None) -> float | None:
    """Force [N] of a coil on its cap or collar at full length: k·p; None where one is not known.

    rate_n_per_m [N/m] (one) 0 and more; preload_m [m] (one) 0 and more → [N] (one) or None. Raises nothing. Source:
    physics.md 2, Hooke's law.
    """
    if rate_n_per_m is None or preload_m is None:
        return None
    return float(coil.force_n(np.zeros(1), np.array([rate_n_per_m]), np.array([preload_m]))[0])


def wound_energy_j(rate_n_per_m: float | None, preload_m: float | None) -> float | None:
    """Energy [J] that it lets go when its cap or collar comes off there: k·p²/2; None where one is not known.

    rate_n_per_m [N/m] (one) 0 and more; preload_m [m] (one) 0 and more → [J] (one) or None. Raises nothing. Source:
    physics.md 2, Hooke's law.
    """
    if rate_n_per_m is None or preload_m is None:
        return None
    return float(coil.preload_energy_j(np.array([rate_n_per_m]), np.array([preload_m]))[0])


def can_force_n(pressure_gauge_pa: float | None, diameter_m: float | None) -> float | None:
    """Force [N] on a shock's can at this gauge pressure [Pa]: g·π/4·D² of its outside [m]; None where one is not known.

    pressure_gauge_pa [Pa gauge] (one) 0 and more; diameter_m [m] (one) above 0 → [N] (one) or None. Raises nothing.
    Source: physics.md 9.
    """
    if pressure_gauge_pa is None or diameter_m is None:
        return None
    return pressure_gauge_pa * math.pi / 4 * diameter_m**2


def can_energy_j(pressure_gauge_pa: float | None, diameter_m: float | None, length_m: float | None) -> float | None:
    """Energy [J] that a can of this outside [m] holds at most, expanding isothermally to ambient (physics 9).

    pressure_gauge_pa [Pa gauge] (one) 0 and more; diameter_m [m] (one) above 0; length_m [m] (one) above 0 → [J] (one)
    or None. Raises nothing. Source: physics.md 9.
    """
    if pressure_gauge_pa is None or diameter_m is None or length_m is None:
        return None
    room = math.pi / 4 * diameter_m**2 * length_m
    pressure = np.array([pressure_gauge_pa + gas.ATMOSPHERE_PA])
    return float(gas.stored_energy_j(pressure, np.array([room]), np.array([gas.ATMOSPHERE_PA]))[0])


def dangers(plan: PlanNumbers) -> dict[str, float | None]:
    """What can hurt, of the plan alone: no reading changes it. Forces [N], energy [J]; None where it is not known.

    plan [SI] (one) frozen → [N], [J] (any) by name, or None. Raises nothing. Source: physics.md 9.
    """
    if plan.before is None:
        return {"trapped_force": None, "trapped_energy": None, "cap_force": plan.cap_force_n}
    force, energy = trapped(plan) or (None, None)
    cap, _, _ = hazards.at_full_extension(plan.before)
    return {"trapped_force": force, "trapped_energy": energy, "cap_force": float(cap[0])}
