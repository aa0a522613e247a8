"""What a plan says, in SI, as the sentences of a procedure need it; and what can hurt by it.

Nothing here is guessed: what neither plan nor card knows is None, and the sentence says its words instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

from topout.physics import air_spring, hazards
from topout.physics.air_spring import Chambers


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanNumbers:
    """What a frozen plan says, in SI; None where the plan has it not. Chambers of one configuration, shape (1,)."""

    old_travel_m: float
    new_travel_m: float
    pressure_gauge_pa: float
    set_pressure_gauge_pa: float
    negative: Literal["self-equalising", "separate-valve", "coil", "none", "not-known"]
    set_negative_pressure_gauge_pa: float | None = None
    pressure_limit_gauge_pa: float | None = None
    spacers_before: int
    spacers_after: int
    spacer_limit: int | None = None
    oil_on_piston_m3: float = 0.0
    new_fork_length_m: float | None = None
    fork_length_limit_m: float | None = None
    travel_limit_m: float | None = None
    port_position_m: float = 0.0
    coil_length_m: float | None = None
    overtravel_m: float = 0.0
    tyre_to_crown_m: float | None = None
    tyre_to_brace_m: float | None = None
    sag_after_m: float | None = None
    before: Chambers
    after: Chambers
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
        "port": "further-in" if plan.port_position_m > 0 else "at-full-extension",
        "spacers": "unchanged" if plan.spacers_before == plan.spacers_after else "changed",
        "oil-on-piston": "some" if plan.oil_on_piston_m3 > 0 else "none",
        "travel": _way(plan.new_travel_m - plan.old_travel_m, "longer", "shorter"),
        "wheel": "changed" if plan.wheel_changed else "unchanged",
        "pressure": _way(plan.set_pressure_gauge_pa - plan.pressure_gauge_pa, "higher", "lower"),
        "bike": "here" if plan.bike_here else "away",
    }


def _way(change: float, up: str, down: str) -> str:
    return up if change > 0 else down if change < 0 else "same"


def trapped(plan: PlanNumbers) -> tuple[float, float] | None:
    """Force [N] on seal head and ring and energy [J] of the negative chamber, charged, the main one empty.

    At full extension, where the chamber is smallest; the amount is the last settled one. None without gas to trap.

    plan [SI] (one) frozen → [N], [J] (one) each, or None. Raises nothing. Source: physics.md 9.
    """
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None
    force, energy = hazards.trapped_negative(air_spring.settle(plan.before), np.zeros(1))
    return float(force[0]), float(energy[0])


def trapped_force_n(plan: PlanNumbers, travel_m: float) -> float | None:
    """The same force [N] with the fork standing so far in [m]; less than at full extension.

    plan [SI] (one) frozen; travel_m [m] (one) 0 to the travel → [N] (one) or None. Raises nothing. Source: physics.md
    9.
    """
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None
    return float(hazards.trapped_negative(air_spring.settle(plan.before), np.array([travel_m]))[0][0])


def filled(plan: PlanNumbers, gauge_pa: float) -> tuple[float, float]:
    """Force [N] on seal head and ring and energy [J] of both chambers of the new build at this gauge pressure [Pa].

    Volume spacers and oil may still be those of before at that step, so the larger main chamber counts.

    plan [SI] (one) frozen; gauge_pa [Pa gauge] (one) 0 and more → [N], [J] (one) each. Raises nothing. Source:
    physics.md 9.
    """
    ambient = plan.after.ambient_pa
    room = np.maximum(plan.before.positive_m3, plan.after.positive_m3)
    fitted = replace(plan.after, pressure_pa=ambient + gauge_pa, negative_pa=ambient + gauge_pa, positive_m3=room)
    _, ring, energy = hazards.at_full_extension(fitted)
    return float(ring[0]), float(energy[0])


def dangers(plan: PlanNumbers) -> dict[str, float | None]:
    """What can hurt, of the plan alone: no reading changes it. Forces [N], energy [J].

    plan [SI] (one) frozen → [N], [J] (any) by name, or None. Raises nothing. Source: physics.md 9.
    """
    force, energy = trapped(plan) or (None, None)
    cap, _, _ = hazards.at_full_extension(plan.before)
    return {"trapped_force": force, "trapped_energy": energy, "cap_force": float(cap[0])}
