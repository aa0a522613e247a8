"""What a plan says, in SI, as the sentences of a procedure need it; and what can hurt by it.

What neither plan nor card knows is None, and the sentence says its words instead. What can hurt of a unit that is drawn is the 97.5 %
point of all that fit, and no less than what was typed; it is said as what it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Final, Literal

import numpy as np

from topout.physics import air_spring, coil, gas, hazards, spring_terms
from topout.physics.air_spring import Chambers
from topout.physics.gas import Floats
from topout.procedures.model import Definition
from topout.uncertainty.intervals import interval

# What a body pushes with on the bars, wheel in, on the floor: 600 to 840 N are wanted within the last millimetres
# (trade practice), so less than the middle of it counts.
BODY_PUSH_N: Final = 700.0


@dataclass(frozen=True, slots=True, eq=False)
class DrawnChambers:
    """The chambers of every fork that fits, before and after, shape (n,), with their weights; `assumed` are the keys drawn from usual ranges."""

    before: Chambers
    after: Chambers
    weights: Floats
    assumed: tuple[str, ...]


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
    drawn: DrawnChambers | None = None  # where not all of them is exact
    can: bool = False  # they are a shock's
    can_told: tuple[float, float] | None = None  # force [N] and energy [J] of a drawn one, as the plan has them
    cap_force_n: float | None = None  # of before, as the plan has it: it needs bore and pressure alone
    planned: bool = False  # by a plan in use, not by the card alone
    wheel_changed: bool = False
    bike_here: bool = True
    unit: Literal["fork", "shock"] = "fork"
    old_stroke_m: float | None = None  # of a shock
    new_stroke_m: float | None = None
    other: str = "none"  # what the plan changes at the end that the job is not about
    other_pressure_gauge_pa: float | None = None
    other_set_pressure_gauge_pa: float | None = None
    other_limit_gauge_pa: float | None = None
    other_preload_m: float | None = None
    other_set_preload_m: float | None = None
    other_before: Chambers | None = None  # what its valve sees, shape (1,)
    fill_rounds: int | None = None

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError(f"{each.name} = {value}: a finite number is expected")

    @property
    def guessed(self) -> bool:
        """Whether what can hurt of the air is taken from what such units usually have.

        nothing → [-] (one). Raises nothing. Source: physics.md 12.
        """
        return self.drawn is not None and bool(self.drawn.assumed)


def _high(drawn: DrawnChambers, values: Floats) -> float | None:
    known = interval(values, drawn.weights)
    return None if known is None else known.high95


def _worst(plan: PlanNumbers, of: Callable[[Chambers, Chambers], Sequence[Floats]]) -> tuple[float | None, ...]:
    """What can hurt by the chambers before and after: of all that fit the 97.5 % point, and no less than of those that were typed."""
    found: list[tuple[float | None, ...]] = []
    if plan.drawn is not None:
        found.append(tuple(_high(plan.drawn, each) for each in of(plan.drawn.before, plan.drawn.after)))
    if plan.before is not None:
        found.append(
            tuple(float(each[0]) for each in of(plan.before, plan.before if plan.after is None else plan.after))
        )
    return tuple(
        max((each for each in values if each is not None and math.isfinite(each)), default=None)
        for values in zip(*found, strict=True)
    )


def of_air(definitions: Sequence[Definition]) -> frozenset[str]:
    """The names of a procedure's sentences that say what the air can do to somebody.

    definitions [-] (any) the procedure's own names → [-] (any) names. Raises nothing. Source: none needed, bookkeeping.
    """
    own = (each.key for each in definitions if each.function in ("ring_force_at", "energy_at"))
    return frozenset(("trapped_force", "trapped_energy", "cap_force", *own))


CAN: Final = ("can_force", "can_energy")  # of a shock's can: by its outside where it was measured, else by the plan


def conditions(plan: PlanNumbers) -> dict[str, str]:
    """What the steps of a procedure may depend on, answered for this plan.

    plan [SI] (one) frozen → [-] (any) words by name. Raises nothing. Source: procedures.md.
    """
    return {
        "negative": plan.negative,
        "negative-valve": "look" if plan.negative == "not-known" else "settled",
        "port": port(plan.port_position_m),
        "spacers": "unchanged" if plan.spacers_before == plan.spacers_after else "changed",
        "oil-on-piston": "some" if plan.oil_on_piston_m3 else "none",
        "travel": _way(plan.old_travel_m, plan.new_travel_m, "longer", "shorter"),
        "wheel": "changed" if plan.wheel_changed else "unchanged",
        "pressure": _way(plan.pressure_gauge_pa, plan.set_pressure_gauge_pa, "higher", "lower"),
        "second": plan.second,
        "spring": _spring(plan),
        "stroke": _way(plan.old_stroke_m, plan.new_stroke_m, "longer", "shorter"),
        "other": plan.other,
        "bike": "here" if plan.bike_here else "away",
        "unit": plan.unit,
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
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None
    found = _worst(plan, lambda fit, _: hazards.trapped_negative(air_spring.settle(fit), np.zeros_like(fit.travel_m)))
    return None if not found or found[0] is None or found[1] is None else (found[0], found[1])


def trapped_force_n(plan: PlanNumbers, travel_m: float) -> float | None:
    """The same force [N] with the fork standing so far in [m]; less than at full extension.

    plan [SI] (one) frozen; travel_m [m] (one) 0 to the travel → [N] (one) or None. Raises nothing. Source: physics.md
    9.
    """
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None

    def held(fit: Chambers, _: Chambers) -> Sequence[Floats]:
        return hazards.trapped_negative(air_spring.settle(fit), np.full_like(fit.travel_m, travel_m))[:1]

    found = _worst(plan, held)
    return found[0] if found else None


def filled(plan: PlanNumbers, gauge_pa: float) -> tuple[float, float] | None:
    """Force [N] on seal head and ring and energy [J] of both chambers of the new build at this gauge pressure [Pa].

    Volume spacers and oil may still be those of before at that step, so the larger main chamber counts. None where the
    chambers are not known.

    plan [SI] (one) frozen; gauge_pa [Pa gauge] (one) 0 and more → [N], [J] (one) each. Raises nothing. Source:
    physics.md 9.
    """

    def both(before: Chambers, after: Chambers) -> Sequence[Floats]:
        at = after.ambient_pa + gauge_pa
        room = np.maximum(before.positive_m3, after.positive_m3)
        _, ring, _, energy, _ = hazards.at_full_extension(
            replace(after, pressure_pa=at, negative_pa=at, positive_m3=room)
        )
        return ring, energy

    if plan.drawn is None and plan.after is None:
        return None
    found = _worst(plan, both)
    return None if not found or found[0] is None or found[1] is None else (found[0], found[1])


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


def _without_damper(fit: Chambers) -> tuple[Floats, Floats, Floats]:
    """Forces and energy of the air alone: the damper's gas stays shut in whatever is opened of it."""
    cap, ring, _, energy, _ = hazards.at_full_extension(fit)
    return cap, ring, energy


def dangers(plan: PlanNumbers) -> dict[str, float | None]:
    """What can hurt, of the plan alone: no reading changes it. Forces [N], energy [J]; None where it is not known.

    plan [SI] (one) frozen → [N], [J] (any) by name, or None. Raises nothing. Source: physics.md 9.
    """
    force, energy = trapped(plan) or (None, None)
    cap, ring, whole = _worst(plan, lambda fit, _: _without_damper(fit)) or (plan.cap_force_n, None, None)
    if plan.drawn is not None and not plan.can and plan.cap_force_n is not None:
        cap = plan.cap_force_n  # the plan's own figure, of more draws: one on all its pages
    can = max((each for each in (cap, ring) if each is not None), default=None)
    if plan.can_told is not None:
        can, whole = plan.can_told  # likewise
    return {"trapped_force": force, "trapped_energy": energy, "cap_force": cap, "can_force": can, "can_energy": whole}
