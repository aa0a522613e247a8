"""What the steps need of the core: a frozen plan's numbers in the words of procedures, and its filling schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final

from topout.bench_file.guesses import WORDS
from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.errors import Fault, FaultsFound
from topout.physics import filling
from topout.physics.hazards import rounded_up
from topout.planner import change, fill, plan_numbers, variables
from topout.planner.fill import Filling as Filling
from topout.planner.hurts import FROM_GUESS, HIGH_SIDE, WIDE
from topout.planner.judge import MOST_CLASS_PERCENT as MOST_CLASS_PERCENT
from topout.planner.judge import SLACK as SLACK
from topout.planner.judge import WIDEST_OF_NOTHING_PA as WIDEST_OF_NOTHING_PA
from topout.planner.judge import Band as Band
from topout.planner.judge import Gauge as Gauge
from topout.planner.judge import NotKnown as NotKnown
from topout.planner.judge import band as band
from topout.planner.plan_numbers import CAN, of_air
from topout.planner.plan_numbers import PlanNumbers as PlanNumbers
from topout.planner.plan_numbers import conditions as conditions
from topout.planner.plan_numbers import port as port
from topout.planner.plan_numbers import trapped as trapped_chamber
from topout.planner.plan_numbers import trapped_force_n as trapped_force_n
from topout.planner.variables import value_of as value_of
from topout.procedures import read, words
from topout.procedures.model import Procedure, Rounds
from topout.units import G0_M_PER_S2, NO_BREAK, UnitFault, parse, to_si
from topout.web.access import preferences
from topout.web.book import guessed
from topout.web.jobs.core import hoses
from topout.web.jobs.core.danger import SECOND, SPRING, TRAPPED
from topout.web.jobs.records import readings, texts
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, ProcedureText, StepEntry
from topout.web.jobs.records.texts import NoSteps


def procedure_of(
    job: Job, entries: Sequence[StepEntry], kept: Mapping[str, ProcedureText] | None = None
) -> read.Shipped:
    """The procedure that a job is walked by. Raises NoSteps where it has none, TextNotKept where its text is not here.

    `kept` are texts by SHA-256 that were read already.
    """
    text = texts.of(job, entries, kept)
    return read.pinned(text.procedure, text.text, variables.VOCABULARY)


class _One:
    """An object as a key: equal to itself alone, and kept, so that no other one comes to be at its address."""

    __slots__ = ("it",)

    def __init__(self, it: Any) -> None:
        self.it = it

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _One) and self.it is other.it

    def __hash__(self) -> int:
        return id(self.it)


def named(plan: PlanNumbers, readings: Mapping[str, float | None], procedure: Procedure) -> Mapping[str, float | None]:
    """Every name of the procedure's sentences with its number [SI]; `readings` by role.

    Worked out anew where plan, text or a reading is another: between two ticks none is, and each is walked three times.
    """
    return _named(_One(plan), tuple(readings.items()), _One(procedure))


@lru_cache(maxsize=128)
def _named(plan: _One, readings: tuple[tuple[str, float | None], ...], procedure: _One) -> Mapping[str, float | None]:
    return MappingProxyType(variables.numbers(plan.it, dict(readings), procedure.it.definitions, _dangers(plan)))


def dangers(plan: PlanNumbers) -> Mapping[str, float | None]:
    """What can hurt, by the plan [SI]; worked out once for a plan."""
    return _dangers(_One(plan))


@lru_cache(maxsize=128)
def _dangers(plan: _One) -> Mapping[str, float | None]:
    return MappingProxyType(plan_numbers.dangers(plan.it))


def gauge_of(instrument: Instrument | None) -> Gauge | None:
    """What a gauge can tell; None where there is no gauge. Raises NotKnown where the instrument's row does not say it."""
    if instrument is None:
        return None
    try:
        mark = parse(instrument.mark, "pressure").value_si
        span = parse(instrument.span, "pressure").value_si
    except UnitFault:
        raise NotKnown(f"mark or span of gauge {instrument.code}") from None
    if instrument.accuracy_class_percent is None:
        raise NotKnown(f"class of gauge {instrument.code}")
    if instrument.accuracy_class_percent > MOST_CLASS_PERCENT:
        raise NotKnown(f"What gauge {instrument.code} shows (class {instrument.accuracy_class_percent:g} is too wide)")
    return Gauge(mark, span, instrument.accuracy_class_percent)


def mark_pa(instrument: Instrument | None) -> float | None:
    """The mark of the gauge [Pa]; None where it is not known."""
    try:
        gauge = gauge_of(instrument)
    except NotKnown:
        return None
    return None if gauge is None else gauge.mark_pa


def found_mark_pa(job: Job) -> float | None:
    """The mark [Pa] of the gauge that the job's pressure was found with; None where it is not known."""
    found = readings.current(job, "as-found").get("pressure")
    return mark_pa(found.instrument) if found is not None else None


def legible(instrument: Instrument) -> bool:
    """Whether the row of a gauge says what it can tell, be that too little to judge by."""
    try:
        return parse(instrument.mark, "pressure").value_si > 0 and parse(instrument.span, "pressure").value_si > 0
    except UnitFault:
        return False


def gauge_unit(instrument: Instrument | None) -> str:
    """The unit that the gauge is marked in; the workshop's own where that is not known."""
    with suppress(UnitFault):
        if instrument is not None:
            return parse(instrument.mark, "pressure").unit
    return preferences.unit("pressure", "psi")


def fine(instrument: Instrument | None) -> bool:
    """Whether the gauge is marked finer than 1 psi, so that tenths can be read."""
    mark = mark_pa(instrument)
    return mark is not None and mark < to_si(0.95, "psi", "pressure")


def hose_m3(instrument: Instrument | None) -> float:
    """The volume of the gauge's hose; 0 where it has none."""
    try:
        return hoses.volume_m3(instrument) or 0.0
    except UnitFault:
        assert instrument is not None
        raise NoSteps(
            f"Gauge {instrument.code}: its hose is written “{instrument.hose_volume}”; write it as “3 ml”."
        ) from None


def hose_loss_pa(plan: PlanNumbers, instrument: Instrument | None) -> float | None:
    """What this gauge's empty hose takes from the new build at the plan's pressure, as the gauge shows it; None: no hose."""
    hose = hose_m3(instrument)
    set_pa = plan.set_pressure_gauge_pa
    if hose <= 0 or set_pa is None or plan.after is None:
        return None
    return set_pa - set_pa / float(filling.hose_factor(hose, hoses.chamber_m3("pressure", plan.after)))


def schedule(frozen: FrozenPlan, rounds: Rounds, instrument: Instrument | None) -> fill.Schedule:
    """The rounds of filling to the plan's pressure, with what this gauge will read after each stroke."""
    return _schedule(frozen.bench_file, rounds.stop_every_pa, step_pa(rounds, instrument), hose_m3(instrument))


def step_pa(rounds: Rounds, instrument: Instrument | None) -> float:
    """What a stroke must cost on this gauge to count [Pa]; of marks of 1 psi where the gauge is not known."""
    return rounds.gauge_marks * (mark_pa(instrument) or to_si(1, "psi", "pressure"))


def by_readings(plan: PlanNumbers, rounds: Rounds) -> Filling:
    """The filling of a plan without known chambers: to its pressure in stops, judged by what was read before."""
    assert plan.set_pressure_gauge_pa is not None  # a plan without one has no steps
    return Filling(plan.set_pressure_gauge_pa, rounds.stop_every_pa, plan.negative == "self-equalising")


@lru_cache(maxsize=64)
def _schedule(text: str, every_pa: float, step_pa: float, hose: float) -> fill.Schedule:
    after: BenchFile = change.changed(read_text(text))
    assert after.fork is not None and after.fork.air is not None
    to = after.fork.air.pressure_gauge_pa
    assert to is not None
    if to <= 0:
        raise FaultsFound([Fault("the plan", "its pressure is 0: there is nothing to fill.")])
    return fill.schedule(after, to, fill.stops_below(to, every_pa), step_pa, hose)


def guesses(plan: PlanNumbers, job: Job, procedure: Procedure, readings: Mapping[str, float | None]) -> dict[str, str]:
    """The names of a procedure's sentences whose number is not exact, each with the words that say so; `readings` by role.

    What is drawn, for nobody knows it or somebody guessed and typed it, stands on its high side, and so does what was typed with an
    uncertainty of its own. A guess that can't be drawn was worked out as if it were known. A can that was measured is no guess.
    """
    measured = readings.get("found-pressure") is not None and readings.get("can-diameter") is not None
    names = of_air(procedure.definitions).union(() if measured else CAN)
    if plan.drawn is not None:
        return dict.fromkeys(names, HIGH_SIDE if plan.guessed else WIDE)
    if any(key.rpartition(".")[2] in WORDS for key in guessed.keys(job.unit)):
        return dict.fromkeys(names, FROM_GUESS)
    return {}


# What a stop page shows, by what the step's stop says: where the force acts, where the energy is.
_ACTS: Final = {
    TRAPPED: ("Force on the seal head", "Energy in the chamber"),
    SECOND: ("Force on the cap", "Energy in the second chamber"),
    SPRING: ("Force of the coil", "Energy in the coil"),
}  # fmt: skip


def held(plan: PlanNumbers, shows: str, readings: Mapping[str, float | None]) -> dict[str, str] | None:
    """Force and energy of what is still charged or wound up, in words, rounded up, with something to compare them to.

    `readings` are the job's by role. None where `shows` is of neither, or nothing of it is known.
    """
    measured = False
    if shows == TRAPPED:
        of_can = variables.numbers(plan, readings) if readings.get("can-diameter") is not None else {}
        measured = readings.get("found-pressure") is not None and bool(of_can)  # by its outside: never too small
        force, energy = (
            (of_can["can_force"], of_can["can_energy"]) if measured else trapped_chamber(plan) or (None, None)
        )
    elif shows in (SECOND, SPRING):
        found, of = variables.numbers(plan, readings), "second_chamber" if shows == SECOND else "spring"
        force, energy = found[f"{of}_force"], found[f"{of}_energy"]
    else:
        return None
    system = preferences.system()
    told: dict[str, str] = {}
    acts, lies = _ACTS[shows]
    if force is not None:
        said = words.rounded_up(force, "force", system.unit("force", "N"))
        on_it = words.rounded_up(rounded_up(force) / G0_M_PER_S2, "mass", system.unit("mass", "kg"))
        number, _, unit = said.partition(NO_BREAK)
        if shows == TRAPPED and (plan.can or measured):
            acts = "Force on the can"
        told |= {
            "acts": acts, "force": said, "force_number": number, "force_unit": unit, "force_as": f"as {on_it} standing on it",
        }  # fmt: skip
    if energy is not None:
        said = words.rounded_up(energy, "energy", system.unit("energy", "J"))
        mass = system.show(10.0, "mass", "kg", decimals=0, second_decimals=0)
        number, _, unit = said.partition(NO_BREAK)
        told |= {
            "lies": lies,
            "energy_number": number,
            "energy_unit": unit,
            "energy_as": f"as {mass} falling {words.falls(rounded_up(energy), system)}",
        }
    if measured:
        told["by_outside"] = "yes"
    if told and shows == TRAPPED and plan.drawn is not None and not measured:
        told["guess" if plan.guessed else "wide"] = HIGH_SIDE if plan.guessed else WIDE
    return told or None
