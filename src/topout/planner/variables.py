"""One table: every name that a sentence of a procedure may use, its unit, its words, and where its number comes from.

Numbers come from the frozen plan, from readings signed at earlier steps (by their role, procedures/roles.py), or from
the procedure's own definitions over these. Procedures stand below the planner: they are read against `VOCABULARY`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from topout.physics import gas
from topout.physics.gas import ATMOSPHERE_PA
from topout.planner import plan_numbers
from topout.planner.plan_numbers import PlanNumbers
from topout.procedures.model import Bound, Definition, Function, Name, Vocabulary
from topout.units import PSI_PA

Numbers = Mapping[str, float | None]


@dataclass(frozen=True, slots=True)
class Source:
    """What a name's number is made of: the plan, and readings by role; both in SI."""

    plan: PlanNumbers
    readings: Numbers
    dangers: Numbers

    def read(self, role: str, more: float = 0.0) -> float | None:
        """A reading, so much larger; None where it was not read.

        role [-] (one) a reading's; more [SI] (one) any → [SI] (one) or None. Raises nothing. Source: procedures.md.
        """
        value = self.readings.get(role)
        return None if value is None else value + more

    def first(self, role: str, otherwise: float | None) -> float | None:
        """A reading of the job, else what plan or card say.

        role [-] (one) a reading's; otherwise [SI] (one) or None → [SI] (one) or None. Raises nothing. Source: procedures.md.
        """
        read = self.readings.get(role)
        return otherwise if read is None else read

    @property
    def change_m(self) -> float | None:
        """How much longer the travel becomes [m]: not at all without a plan; None where half of it is not known.

        nothing → [m] (one) or None. Raises nothing. Source: procedures.md.
        """
        old, new = self.plan.old_travel_m, self.plan.new_travel_m
        if old is None and new is None:
            return 0.0
        return None if old is None or new is None else new - old

    @property
    def reducers_m(self) -> float | None:
        """How much stroke [m] the reducers of the plan take, or give back; None where a stroke is not known.

        nothing → [m] (one) or None. Raises nothing. Source: procedures.md.
        """
        old, new = self.plan.old_stroke_m, self.plan.new_stroke_m
        return None if old is None or new is None else abs(new - old)

    def longer(self, role: str, sign: float = 1.0) -> float | None:
        """A length that was read, with the change of travel added, or taken off.

        role [-] (one) a role; sign [-] (one) 1 or -1 → [m] (one) or None. Raises nothing. Source: procedures.md.
        """
        change = self.change_m
        return None if change is None else self.read(role, sign * change)


Get = Callable[[Source], float | None]


def _length(says: str, get: Get, *needs: str) -> tuple[Name, Get]:
    return Name("length", "mm", says, needs, 1), get


def _pressure(says: str, get: Get, *needs: str, decimals: int | None = None, rounds: bool = False) -> tuple[Name, Get]:
    return Name("pressure", "psi", says, needs, decimals, rounds=rounds), get


def _hand(says: str, psi: float) -> tuple[Name, Get]:
    """A step of the hand at the pump: the same whatever plan and readings say."""
    return Name("pressure", "psi", says, round_figure=True), lambda _: psi * PSI_PA


def _rate(says: str, get: Get, *needs: str) -> tuple[Name, Get]:
    return Name("rate", "N/mm", says, needs, 1), get


def _count(says: str, get: Get, *needs: str) -> tuple[Name, Get]:
    return Name("count", "", says, needs), get


def _danger(key: str, dimension: str, unit: str, says: str) -> tuple[Name, Get]:
    return Name(dimension, unit, says, decimals=0, up=True), lambda s: s.dangers[key]


# Straight, not along the steering axis: 10 mm of travel are 9.97 mm of it, less than a tape can show.
TABLE: Final[dict[str, tuple[Name, Get]]] = {
    # from the plan
    "old_travel": _length("the travel before", lambda s: s.plan.old_travel_m),
    "new_travel": _length("the new travel", lambda s: s.plan.new_travel_m),
    "travel_change": _length("the change of travel", lambda s: s.change_m),
    "last_pressure": _pressure("the last settled pressure", lambda s: s.plan.pressure_gauge_pa),
    # Without a plan a unit gets back what it came with.
    "set_pressure": _pressure(
        "the pressure to set",
        lambda s: s.read("found-pressure") if s.plan.set_pressure_gauge_pa is None else s.plan.set_pressure_gauge_pa,
    ),
    "set_negative_pressure": _pressure(
        "the negative pressure of the plan", lambda s: s.plan.set_negative_pressure_gauge_pa
    ),
    "second_pressure": _pressure(
        "the pressure of the second chamber",
        lambda s: s.first("second-pressure", s.plan.second_pressure_gauge_pa),
    ),
    "set_second_pressure": _pressure(
        "the second chamber’s pressure to set",
        lambda s: s.read("second-pressure")
        if s.plan.set_second_pressure_gauge_pa is None
        else s.plan.set_second_pressure_gauge_pa,
    ),
    "second_at_rest": _pressure("what the second chamber reads beside the main one", lambda s: _second_at_rest(s)),
    "pressure_limit": _pressure("the maker’s highest pressure", lambda s: s.plan.pressure_limit_gauge_pa),
    # Of the trade, and in whichever unit a round figure (trade practice: pump, cycle, pump on; then trim to the sag).
    "pump_step": _hand("so much at a time", 50.0),
    "trim_step": _hand("a little at a time", 5.0),
    "spacers_before": _count("the volume spacers fitted before", lambda s: s.plan.spacers_before),
    "spacers_after": _count("the volume spacers of the plan", lambda s: s.plan.spacers_after),
    "spacer_limit": _count("the most volume spacers the maker allows", lambda s: s.plan.spacer_limit),
    "oil_on_piston": (
        Name("volume", "ml", "the oil on the piston", decimals=1),
        lambda s: s.plan.oil_on_piston_m3,
    ),
    # of the other end, where the plan moves both
    "other_pressure": _pressure("the other end’s pressure before", lambda s: s.plan.other_pressure_gauge_pa),
    "other_set_pressure": _pressure("the other end’s pressure to set", lambda s: s.plan.other_set_pressure_gauge_pa),
    "other_pressure_limit": _pressure("the maker’s highest pressure there", lambda s: s.plan.other_limit_gauge_pa),
    "other_preload": _length("the other end’s preload before", lambda s: s.plan.other_preload_m),
    "other_set_preload": _length("the other end’s preload to set", lambda s: s.plan.other_set_preload_m),
    # of a shock
    "old_stroke": _length("the stroke before", lambda s: s.plan.old_stroke_m),
    "new_stroke": _length("the new stroke", lambda s: s.plan.new_stroke_m),
    "reducers": _length("what the reducers take, more or less", lambda s: s.reducers_m),
    "new_fork_length": _length("the new fork length", lambda s: s.plan.new_fork_length_m),
    "fork_length_limit": _length("the frame maker’s limit", lambda s: s.plan.fork_length_limit_m),
    "travel_limit": _length("the chassis’ limit", lambda s: s.plan.travel_limit_m),
    "port_position": _length("the place of the port", lambda s: s.plan.port_position_m),
    "coil_length": _length("the length over which the coil pulls", lambda s: s.plan.coil_length_m),
    "overtravel": _length("what full load adds to the travel", lambda s: s.plan.overtravel_m),
    "tyre_to_crown": _length("the gap from tyre to crown", lambda s: s.plan.tyre_to_crown_m),
    "tyre_to_brace": _length("the gap from tyre to brace", lambda s: s.plan.tyre_to_brace_m),
    "sag_after": _length("the sag of the plan", lambda s: s.plan.sag_after_m),
    "full_stroke": _length("the travel by body weight", lambda s: plan_numbers.stroke_by_weight_m(s.plan)),
    "trapped_force": _danger("trapped_force", "force", "N", "the force on seal head and ring"),
    "trapped_energy": _danger("trapped_energy", "energy", "J", "the energy in the negative chamber"),
    "cap_force": (
        Name("force", "N", "the force on the top cap", decimals=0, up=True),
        lambda s: _most(s.dangers["cap_force"], plan_numbers.second_force_n(s.plan, s.read("second-pressure"))),
    ),
    "second_chamber_force": (
        Name("force", "N", "the force of the second chamber on the cap", decimals=0, up=True),
        lambda s: plan_numbers.second_force_n(s.plan, s.read("second-pressure")),
    ),
    "second_chamber_energy": (
        Name("energy", "J", "the energy in the second chamber", decimals=0, up=True),
        lambda s: plan_numbers.second_energy_j(s.plan, s.read("second-pressure")),
    ),
    # of a coil: as it was read on the job, else as plan or card have it
    "spring_rate": _rate("the rate of the coil", lambda s: s.first("spring-rate", s.plan.spring_n_per_m)),
    "new_spring_rate": _rate(
        "the rate of the coil that goes in", lambda s: s.first("new-spring-rate", s.plan.set_spring_n_per_m)
    ),
    "preload": _length("the preload that was noted", lambda s: s.first("preload", s.plan.preload_m)),
    # Without a plan a coil is wound up as it came.
    "new_preload": _length(
        "the preload to set",
        lambda s: _new_preload_m(s),
    ),
    "bind_wanted": _length("what the coil is pressed by at full travel", lambda s: _pressed_m(s, s.plan.new_travel_m)),
    "bind_wanted_of_stroke": _length(
        "what the coil is pressed by at full stroke", lambda s: _pressed_m(s, s.read("stroke")), "stroke"
    ),
    "spring_force": (
        Name("force", "N", "the force of the wound-up coil", decimals=0, up=True),
        lambda s: plan_numbers.wound_force_n(*_as_it_came(s)),
    ),
    "spring_energy": (
        Name("energy", "J", "the energy in the wound-up coil", decimals=0, up=True),
        lambda s: plan_numbers.wound_energy_j(*_as_it_came(s)),
    ),
    "new_spring_force": (
        Name("force", "N", "the force of the coil wound up anew", decimals=0, up=True),
        lambda s: plan_numbers.wound_force_n(
            s.first("new-spring-rate", s.plan.set_spring_n_per_m), s.first("new-preload", _new_preload_m(s))
        ),
    ),
    "fill_rounds": _count("the rounds of filling", lambda s: s.plan.fill_rounds),
    "round_pressure": _pressure("the pressure of this round", lambda s: s.read("round_pressure"), rounds=True),
    "round_reading": _pressure(
        "the reading to expect after the stroke", lambda s: s.read("round_reading"), rounds=True
    ),
    # from the gauge: what its empty hose takes from the new build at the pressure of the plan
    "hose_loss": _pressure("its share", lambda s: s.read("hose_loss"), decimals=1),
    # from readings signed before
    "exposed_length": _length("the full length that was noted", lambda s: s.read("full-length"), "full-length"),
    "new_exposed_length": _length(
        "the full length with the new shaft", lambda s: s.longer("full-length"), "full-length"
    ),
    "axle_to_crown": _length("the axle to crown that was noted", lambda s: s.read("axle-to-crown"), "axle-to-crown"),
    "new_axle_to_crown": _length(
        "the axle to crown with the new shaft", lambda s: s.longer("axle-to-crown"), "axle-to-crown"
    ),
    "free_length": _length("the free length that was noted", lambda s: s.read("free-length"), "free-length"),
    # From its outside: larger than its bore, so never smaller than what it does. Not measured, by the plan, on its high side.
    "can_force": (
        Name("force", "N", "the force on the can", ("found-pressure", "can-diameter"), 0, up=True),
        lambda s: _first(
            plan_numbers.can_force_n(s.read("found-pressure"), s.read("can-diameter")), s.dangers["can_force"]
        ),
    ),
    "can_energy": (
        Name("energy", "J", "the energy in the can", ("found-pressure", "can-diameter", "can-length"), 0, up=True),
        lambda s: _first(
            plan_numbers.can_energy_j(s.read("found-pressure"), s.read("can-diameter"), s.read("can-length")),
            s.dangers["can_energy"],
        ),
    ),
    "new_shaft_length": _length("the new shaft’s length", lambda s: s.read("new-shaft"), "new-shaft"),
    "old_shaft_length": _length(
        "the old shaft’s length, by the new one and the travel", lambda s: s.longer("new-shaft", -1.0), "new-shaft"
    ),
    "ring_depth": _length("the depth to the ring that was noted", lambda s: s.read("ring-depth"), "ring-depth"),
    "spacers_found": _count("the volume spacers that came out", lambda s: s.read("spacers-found"), "spacers-found"),
    "rebound_clicks": _count(
        "the rebound clicks that were noted", lambda s: s.read("rebound-clicks"), "rebound-clicks"
    ),
    "compression_clicks": _count(
        "the compression clicks that were noted", lambda s: s.read("compression-clicks"), "compression-clicks"
    ),
    "leak_pressure": _pressure(
        "the first reading of the hold, at the temperature of the last",
        lambda s: _leak(s),
        "hold-start-pressure", "hold-start-temperature", "hold-temperature",
        decimals=1,
    ),
}  # fmt: skip

# What a definition may compute.
FUNCTIONS: Final[dict[str, Function]] = {
    "least": Function("", None, ""),  # the least of several of one dimension
    "sum": Function("", None, ""),
    "ring_force_at": Function("pressure", 1, "force"),  # both chambers of the new build at this gauge pressure
    "energy_at": Function("pressure", 1, "energy"),
}
NAMES: Final[dict[str, Name]] = {key: name for key, (name, _) in TABLE.items()}
VOCABULARY: Final = Vocabulary(NAMES, FUNCTIONS)


def numbers(
    plan: PlanNumbers,
    readings: Numbers,
    definitions: tuple[Definition, ...] = (),
    known: Numbers | None = None,
) -> dict[str, float | None]:
    """Every name with its number in SI. `readings` maps roles to the latest value that was signed; `known` is the
    plan's `dangers` where they were worked out before.

    plan [SI] (one) frozen; readings [SI] (any) by role; definitions [-] (any) the procedure's own; known [SI] (any) the
    plan's dangers, or None → [SI] (any) by name, None where not known. Raises nothing. Source: procedures.md.
    """
    source = Source(plan, readings, plan_numbers.dangers(plan) if known is None else known)
    found = {key: get(source) for key, (_, get) in TABLE.items()}
    for own in definitions:
        found[own.key] = _define(plan, own, found)
    return found


def _first(*of: float | None) -> float | None:
    """The first of those that are known."""
    return next((each for each in of if each is not None), None)


def _most(*of: float | None) -> float | None:
    """The largest of those that are known."""
    return max((each for each in of if each is not None), default=None)


def _second_at_rest(source: Source) -> float | None:
    """What the second chamber's gauge shows at full length [Pa gauge]: its own pressure, or the main one's where that is higher."""
    own = source.plan.set_second_pressure_gauge_pa
    own = source.read("second-pressure") if own is None else own
    main = source.plan.set_pressure_gauge_pa
    main = source.read("found-pressure") if main is None else main
    return None if own is None or main is None else max(own, main)


def _as_it_came(source: Source) -> tuple[float | None, float | None]:
    """Rate [N/m] and preload [m] of the coil that was in."""
    plan = source.plan
    return source.first("spring-rate", plan.spring_n_per_m), source.first("preload", plan.preload_m)


def _new_preload_m(source: Source) -> float | None:
    """How far the coil is to be wound up [m]."""
    return source.plan.set_preload_m if source.plan.planned else source.first("preload", source.plan.set_preload_m)


def _pressed_m(source: Source, stroke_m: float | None) -> float | None:
    """What a coil is pressed by at the end of its stroke [m]: preload and stroke, which its coils must leave it."""
    preload_m = source.first("new-preload", _new_preload_m(source))
    return None if stroke_m is None or preload_m is None else stroke_m + preload_m


def _leak(source: Source) -> float | None:
    """The start reading of the leak hold at the temperature of its end [Pa gauge]: absolute pressure follows temperature."""
    start, cold, now = (source.read(role) for role in NAMES["leak_pressure"].needs)
    if start is None or cold is None or now is None:
        return None
    return float(gas.warmed_gauge_pa(start, cold, now, ambient_abs_pa(source.plan)))


def ambient_abs_pa(plan: PlanNumbers) -> float:
    """The air outside, by the plan's build; the standard atmosphere where it is not known.

    plan [SI] (one) any → [Pa abs] (one). Raises nothing. Source: physics.md 1.
    """
    return ATMOSPHERE_PA if plan.after is None else float(plan.after.ambient_pa[0])


def _define(plan: PlanNumbers, own: Definition, found: Numbers) -> float | None:
    values = [value_of(bound, found) for bound in own.of]
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return None
    if own.function in ("least", "sum"):
        return min(known) if own.function == "least" else sum(known)
    filled = plan_numbers.filled(plan, known[0])
    return None if filled is None else filled[0 if own.function == "ring_force_at" else 1]


def value_of(bound: Bound, found: Numbers) -> float | None:
    """A bound's value in SI; None where its name has no number yet.

    bound [SI] (one) or None; found [SI] (any) by name → [SI] (one) or None. Raises nothing. Source: procedures.md.
    """
    return bound.value_si if bound.name is None else found[bound.name]
