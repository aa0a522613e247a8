"""The names that a procedure's sentences and bounds may use, where each number comes from, and how it is written.

The list is closed: an unknown name is a fault of the file. Numbers come from the frozen plan, from readings signed at
earlier steps, or from the procedure's own definitions over these. A number that is not there is None and is written as
the words of its name, never as a guess; a bound that needs it can't be judged and says so.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Final, Literal

import numpy as np

from topout.physics import air_spring, gas, hazards
from topout.physics.air_spring import Chambers
from topout.procedures.model import Bound, Definition
from topout.units import NO_BREAK, digits, show

Numbers = Mapping[str, float | None]
NAME_IN_TEXT: Final = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Name:
    """One name: dimension and unit shown ("count" for whole numbers), what it is, its words where no number is known.

    `needs` lists the evidence keys that must have been asked for by the time the name is used.
    """

    dimension: str
    unit: str
    says: str
    needs: tuple[str, ...] = ()
    decimals: int | None = None
    up: bool = False  # rounded up to two figures: what can hurt is never written smaller than it is


def _length(says: str, *needs: str, decimals: int | None = 1) -> Name:
    return Name("length", "mm", says, needs, decimals)


NAMES: Final[dict[str, Name]] = {
    # from the plan
    "old_travel": _length("the travel before"),
    "new_travel": _length("the new travel"),
    "travel_change": _length("the change of travel"),
    "last_pressure": Name("pressure", "psi", "the last settled pressure"),
    "set_pressure": Name("pressure", "psi", "the pressure of the plan"),
    "set_negative_pressure": Name("pressure", "psi", "the negative pressure of the plan"),
    "pressure_limit": Name("pressure", "psi", "the maker’s highest pressure"),
    "spacers_before": Name("count", "", "the volume spacers fitted before"),
    "spacers_after": Name("count", "", "the volume spacers of the plan"),
    "spacer_limit": Name("count", "", "the most volume spacers the maker allows"),
    "oil_on_piston": Name("volume", "ml", "the oil on the piston", decimals=1),
    "new_fork_length": _length("the new fork length"),
    "fork_length_limit": _length("the frame maker’s limit"),
    "travel_limit": _length("the chassis’ limit"),
    "port_position": _length("the place of the port"),
    "coil_length": _length("the length over which the coil pulls"),
    "overtravel": _length("what full load adds to the travel"),
    "tyre_to_crown": _length("the gap from tyre to crown"),
    "tyre_to_brace": _length("the gap from tyre to brace"),
    "sag_after": _length("the sag of the plan"),
    "trapped_force": Name("force", "N", "the force on seal head and ring", decimals=0, up=True),
    "trapped_energy": Name("energy", "J", "the energy in the negative chamber", decimals=0, up=True),
    "cap_force": Name("force", "N", "the force on the top cap", decimals=0, up=True),
    "fill_rounds": Name("count", "", "the rounds of filling"),
    "round_pressure": Name("pressure", "psi", "the pressure of this round"),
    "round_reading": Name("pressure", "psi", "the reading to expect after the stroke"),
    # from the gauge: what its empty hose takes from the new build at the pressure of the plan
    "hose_loss": Name("pressure", "psi", "its share", decimals=1),
    # from readings signed before
    "exposed_length": _length("the full length that was noted", "exposed-length"),
    "new_exposed_length": _length("the full length with the new shaft", "exposed-length"),
    "axle_to_crown": _length("the axle to crown that was noted", "found-axle-to-crown"),
    "new_axle_to_crown": _length("the axle to crown with the new shaft", "found-axle-to-crown"),
    "new_shaft_length": _length("the new shaft's length", "new-shaft-length"),
    "old_shaft_length": _length("the old shaft's length, by the new one and the travel", "new-shaft-length"),
    "ring_depth": _length("the depth to the ring that was noted", "ring-depth", decimals=1),
    "rebound_clicks": Name("count", "", "the rebound clicks that were noted", ("rebound-clicks",)),
    "compression_clicks": Name("count", "", "the compression clicks that were noted", ("compression-clicks",)),
    "leak_pressure": Name(
        "pressure",
        "psi",
        "the first reading of the hold, at the temperature of the last",
        ("leak-start-pressure", "leak-start-temperature", "leak-end-temperature"),
        1,
    ),
}

# What a definition may compute: name -> (dimension in, how many bounds, dimension out)
FUNCTIONS: Final[dict[str, tuple[str, int | None, str]]] = {
    "least": ("", None, ""),  # the least of several of one dimension
    "sum": ("", None, ""),
    "ring_force_at": ("pressure", 1, "force"),  # with both chambers of the new build at this gauge pressure
    "energy_at": ("pressure", 1, "energy"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanNumbers:
    """What a frozen plan says, in SI, in the words of this floor; None where the plan has it not."""

    old_travel_m: float
    new_travel_m: float
    pressure_gauge_pa: float
    set_pressure_gauge_pa: float
    negative: Literal["self-equalising", "separate-valve", "coil", "none"]
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
    before: Chambers  # of one configuration, shape (1,), as the physics takes it
    after: Chambers
    wheel_changed: bool = False
    fill_rounds: int | None = None

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError(f"{each.name} = {value}: a finite number is expected")


def conditions(plan: PlanNumbers) -> dict[str, str]:
    """What the steps of a procedure may depend on, answered for this plan."""
    change = plan.new_travel_m - plan.old_travel_m
    return {
        "negative": plan.negative,
        "port": "further-in" if plan.port_position_m > 0 else "at-full-extension",
        "spacers": "unchanged" if plan.spacers_before == plan.spacers_after else "changed",
        "oil-on-piston": "some" if plan.oil_on_piston_m3 > 0 else "none",
        "travel": "longer" if change > 0 else "shorter" if change < 0 else "same",
        "wheel": "changed" if plan.wheel_changed else "unchanged",
    }


def trapped(plan: PlanNumbers) -> tuple[float, float] | None:
    """Force [N] on seal head and ring and energy [J] of the negative chamber, charged, the main one empty.

    At full extension, where the chamber is smallest; the amount is the last settled one. None without gas to trap.
    """
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None
    force, energy = hazards.trapped_negative(air_spring.settle(plan.before), np.zeros(1))
    return float(force[0]), float(energy[0])


def trapped_force_n(plan: PlanNumbers, travel_m: float) -> float | None:
    """The same force with the fork standing so far in; less than at full extension."""
    if plan.negative not in ("self-equalising", "separate-valve"):
        return None
    return float(hazards.trapped_negative(air_spring.settle(plan.before), np.array([travel_m]))[0][0])


def _filled(plan: PlanNumbers, gauge_pa: float) -> tuple[float, float]:
    """Force [N] on seal head and ring and energy [J] of both chambers of the new build at this gauge pressure.

    Volume spacers and oil may still be those of before at that step, so the larger main chamber counts.
    """
    ambient = plan.after.ambient_pa
    room = np.maximum(plan.before.positive_m3, plan.after.positive_m3)
    fitted = replace(plan.after, pressure_pa=ambient + gauge_pa, negative_pa=ambient + gauge_pa, positive_m3=room)
    _, ring, energy = hazards.at_full_extension(air_spring.settle(fitted))
    return float(ring[0]), float(energy[0])


def dangers(plan: PlanNumbers) -> dict[str, float | None]:
    """What can hurt, of the plan alone: no reading changes it."""
    force, energy = trapped(plan) or (None, None)
    cap, _, _ = hazards.at_full_extension(air_spring.settle(plan.before))
    return {"trapped_force": force, "trapped_energy": energy, "cap_force": float(cap[0])}


def numbers(
    plan: PlanNumbers,
    readings: Numbers,
    definitions: tuple[Definition, ...] = (),
    known: Mapping[str, float | None] | None = None,
) -> dict[str, float | None]:
    """Every name with its number in SI. `readings` maps evidence keys to the latest value that was signed; `known` is
    the plan's `dangers` where they were worked out before."""
    change = plan.new_travel_m - plan.old_travel_m
    found: dict[str, float | None] = {
        "old_travel": plan.old_travel_m,
        "new_travel": plan.new_travel_m,
        "travel_change": change,
        "last_pressure": plan.pressure_gauge_pa,
        "set_pressure": plan.set_pressure_gauge_pa,
        "set_negative_pressure": plan.set_negative_pressure_gauge_pa,
        "pressure_limit": plan.pressure_limit_gauge_pa,
        "spacers_before": plan.spacers_before,
        "spacers_after": plan.spacers_after,
        "spacer_limit": plan.spacer_limit,
        "oil_on_piston": plan.oil_on_piston_m3,
        "new_fork_length": plan.new_fork_length_m,
        "fork_length_limit": plan.fork_length_limit_m,
        "travel_limit": plan.travel_limit_m,
        "port_position": plan.port_position_m,
        "coil_length": plan.coil_length_m,
        "overtravel": plan.overtravel_m,
        "tyre_to_crown": plan.tyre_to_crown_m,
        "tyre_to_brace": plan.tyre_to_brace_m,
        "sag_after": plan.sag_after_m,
        **(dangers(plan) if known is None else known),
        "fill_rounds": plan.fill_rounds,
        "round_pressure": readings.get("round_pressure"),
        "round_reading": readings.get("round_reading"),
        "hose_loss": readings.get("hose_loss"),
        "exposed_length": readings.get("exposed-length"),
        "new_exposed_length": _add(readings.get("exposed-length"), change),
        "axle_to_crown": readings.get("found-axle-to-crown"),
        # Straight, not along the steering axis: 10 mm of travel are 9.97 mm of it, less than a tape can show.
        "new_axle_to_crown": _add(readings.get("found-axle-to-crown"), change),
        "new_shaft_length": readings.get("new-shaft-length"),
        "old_shaft_length": _add(readings.get("new-shaft-length"), -change),
        "ring_depth": readings.get("ring-depth"),
        "rebound_clicks": readings.get("rebound-clicks"),
        "compression_clicks": readings.get("compression-clicks"),
        "leak_pressure": _leak(plan, readings),
    }
    for own in definitions:
        found[own.key] = _define(plan, own, found)
    return found


def _add(value: float | None, more: float) -> float | None:
    return None if value is None else value + more


def _leak(plan: PlanNumbers, readings: Numbers) -> float | None:
    """The start reading of the leak hold at the temperature of its end: absolute pressure follows temperature."""
    start, cold, now = (readings.get(key) for key in NAMES["leak_pressure"].needs)
    if start is None or cold is None or now is None:
        return None
    return float(gas.warmed_gauge_pa(start, cold, now, float(plan.after.ambient_pa[0])))


def _define(plan: PlanNumbers, own: Definition, found: Numbers) -> float | None:
    values = [value_of(bound, found) for bound in own.of]
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return None
    functions: dict[str, Callable[[], float]] = {
        "least": lambda: min(known),
        "sum": lambda: sum(known),
        "ring_force_at": lambda: _filled(plan, known[0])[0],
        "energy_at": lambda: _filled(plan, known[0])[1],
    }
    return functions[own.function]()


def value_of(bound: Bound, found: Numbers) -> float | None:
    """A bound's value in SI; None where its name has no number yet."""
    return bound.value_si if bound.name is None else found[bound.name]


def written(key: str, value: float | None, own: Mapping[str, Name], *, second: bool = False, unit: str = "") -> str:
    """A name's number as people read it, or its words where there is none."""
    name = own.get(key) or NAMES[key]
    if value is None:
        return name.says
    decimals = name.decimals
    if name.up:
        value = hazards.rounded_up(value)
        decimals = two_figures(value)
    return quantity(value, name.dimension, unit or name.unit, decimals, second=second)


def two_figures(value: float) -> int:
    """The decimals that show two figures: 0 from 10 up, 1 from 1, 2 below."""
    return 0 if value >= 10 else 1 if value >= 1 else 2


def two_up(force_n: float) -> str:
    """A force rounded up to two figures, with its unit."""
    up = hazards.rounded_up(force_n)
    return quantity(up, "force", "N", two_figures(up))


def quantity(value: float, dimension: str, unit: str, decimals: int | None = None, *, second: bool = False) -> str:
    """A value of a step's dimension as people read it: no needless zeros, as targets are written (docs/procedures.md)."""
    if dimension == "count":
        return digits(value, 0)
    if dimension == "energy":
        return digits(value, two_figures(value)) + NO_BREAK + "J"
    text = show(value, dimension, unit, decimals=decimals, second=second)
    return re.sub(r"(\d)\.0+(?=\N{NO-BREAK SPACE})", r"\1", text)


def fill_in(
    text: str, found: Numbers, own: Mapping[str, Name], *, second: bool = False, units: Mapping[str, str] | None = None
) -> str:
    """A sentence with its `{names}` written out; `units` gives the unit per dimension, a file's own names keep theirs."""

    def one(match: re.Match[str]) -> str:
        key = match.group(1)
        unit = "" if key in own else (units or {}).get(NAMES[key].dimension, "")
        return written(key, found[key], own, second=second, unit=unit)

    return NAME_IN_TEXT.sub(one, text)


def own_names(definitions: tuple[Definition, ...]) -> dict[str, Name]:
    """The names that a procedure defines itself."""
    return {
        own.key: Name(
            own.dimension, own.unit, own.key.replace("_", " "), up=own.dimension in ("force", "energy"), decimals=None
        )
        for own in definitions
    }
