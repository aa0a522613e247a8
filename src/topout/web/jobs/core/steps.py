"""What the steps need of the core: a frozen plan's numbers in the words of procedures, and its filling schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from typing import Any, Final, Literal

from topout.bench_file import calls_for
from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.errors import Fault, FaultsFound, TopoutError
from topout.physics import air_spring, filling
from topout.physics.air_spring import Chambers
from topout.physics.hazards import fall_height_m, rounded_up
from topout.planner import change, drawn, fill, fitted, known, missing, rear, variables
from topout.planner.design import Design
from topout.planner.fill import Filling as Filling
from topout.planner.judge import MOST_CLASS_PERCENT as MOST_CLASS_PERCENT
from topout.planner.judge import Band as Band
from topout.planner.judge import Gauge
from topout.planner.judge import NotKnown as NotKnown
from topout.planner.judge import band as band
from topout.planner.known import Missing
from topout.planner.plan_numbers import PlanNumbers as PlanNumbers
from topout.planner.plan_numbers import conditions as conditions
from topout.planner.plan_numbers import dangers as dangers
from topout.planner.plan_numbers import port as port
from topout.planner.plan_numbers import trapped as trapped_chamber
from topout.planner.plan_numbers import trapped_force_n as trapped_force_n
from topout.procedures import opening, read, roles, words
from topout.procedures.model import Procedure, Rounds, Step
from topout.units import G0_M_PER_S2, NO_BREAK, UnitFault, parse, to_si
from topout.web.access import preferences
from topout.web.book import kinds
from topout.web.book import tables as bench_tables
from topout.web.jobs import core
from topout.web.jobs.core import hoses
from topout.web.jobs.core.danger import SECOND, SPRING, TRAPPED
from topout.web.jobs.records import readings, texts
from topout.web.jobs.records.models import FrozenPlan, Instrument, Job, ProcedureText, Reading, StepEntry
from topout.web.jobs.records.texts import NoSteps


def procedure_of(
    job: Job, entries: Sequence[StepEntry], kept: Mapping[str, ProcedureText] | None = None
) -> read.Shipped:
    """The procedure that a job is walked by. Raises NoSteps where it has none, TextNotKept where its text is not here.

    `kept` are texts by SHA-256 that were read already.
    """
    text = texts.of(job, entries, kept)
    make = read.pinned if text.pinned else read.from_text
    return make(text.procedure, text.text, variables.VOCABULARY)


def numbers(frozen: FrozenPlan) -> PlanNumbers:
    """A frozen plan in the words of procedures; raises NoSteps naming what the plan lacks."""
    clearance: dict[str, Any] = frozen.results.get("clearance") or {}
    after = (frozen.results.get("after") or {}).get("sag") or {}
    front: dict[str, Any] = after.get("front") or {}
    hurts: dict[str, Any] = (frozen.results.get("hazard") or {}).get("before") or {}
    if core.end_of(frozen.job) == "rear":
        return _of_shock(frozen.bench_file)
    return _numbers(
        frozen.bench_file,
        clearance.get("tyre_to_crown_m"),
        clearance.get("tyre_to_brace_m"),
        front.get("shown_m"),
        hurts.get("cap_force_n"),
    )


def plan_of(entry: StepEntry) -> PlanNumbers | None:
    """The numbers of the plan that an entry was signed with; None where it has none, or this version can't read it."""
    if entry.plan is None:
        return None
    try:
        return numbers(entry.plan)
    except TopoutError:
        return None


@lru_cache(maxsize=64)
def _numbers(
    text: str, crown_m: float | None, brace_m: float | None, sag_m: float | None, cap_n: float | None
) -> PlanNumbers:
    bench = read_text(text)
    if bench.change is not None and bench.change.by != "shaft":
        raise NoSteps(f"These steps change the travel by another shaft; the plan says by {bench.change.by}.")
    after = change.changed(bench)
    if calls_for.on_coil(bench) or calls_for.on_coil(after):
        return _on_coil(bench, after, crown_m, brace_m, sag_m, cap_n)
    if without := _needed(bench, after):
        raise NoSteps(
            f"Not known: {', '.join(map(missing.words, without))}. Write it in the Book, make the plan again."
        )
    one, two = (None if isinstance(each, Missing) else each for each in map(known.spring, (bench, after)))
    fork, new_fork = bench.fork, after.fork
    assert fork is not None and fork.air is not None and new_fork is not None and new_fork.air is not None
    air, new_air = fork.air, new_fork.air
    if two is not None and air_spring.locked(two.chambers).any():
        raise NoSteps("The plan locks before the end of the travel: fewer spacers or less oil, then make it again.")
    return PlanNumbers(
        old_travel_m=fork.travel_m,
        new_travel_m=new_fork.travel_m,
        pressure_gauge_pa=air.pressure_gauge_pa,
        set_pressure_gauge_pa=new_air.pressure_gauge_pa,
        negative=air.negative,  # type: ignore[arg-type]  # the reader lets nothing else through
        set_negative_pressure_gauge_pa=new_air.negative_pressure_gauge_pa,
        pressure_limit_gauge_pa=air.pressure_limit_gauge_pa,
        spacers_before=air.spacers,
        spacers_after=new_air.spacers,
        spacer_limit=air.spacer_limit,
        oil_on_piston_m3=new_air.oil_on_piston_m3,
        new_fork_length_m=fitted.fork_length_m(after),
        fork_length_limit_m=bench.frame.fork_length_limit_m if bench.frame else None,
        travel_limit_m=fork.travel_limit_m,
        port_position_m=port_m(bench),
        coil_length_m=air.negative_coil.length_m if air.negative_coil else None,
        overtravel_m=fork.overtravel_m,
        tyre_to_crown_m=crown_m,
        tyre_to_brace_m=brace_m,
        sag_after_m=sag_m,
        before=None if one is None else one.chambers,
        after=None if two is None else two.chambers,
        cap_force_n=cap_n,
        second=_second(bench, after),
        second_pressure_gauge_pa=air.second_pressure_gauge_pa,
        set_second_pressure_gauge_pa=new_air.second_pressure_gauge_pa,
        second_m3=air.second_volume_m3,
        bore_m=air.bore_m,
        planned=True,
        wheel_changed=bench.front_wheel != after.front_wheel,
    )


@lru_cache(maxsize=64)
def _of_shock(text: str) -> PlanNumbers:
    """A plan in the words of procedures, for its shock: pressure, spacers, what its can holds. No step changes a stroke."""
    bench = read_text(text)
    after = change.changed(bench)
    shock, new = bench.shock, after.shock
    if shock is None or new is None:
        raise NoSteps("The plan says nothing of the shock. Write it in the Book, make the plan again.")
    if shock.coil is not None and new.coil is not None:
        return PlanNumbers(
            negative="none",
            second="none",
            spring_n_per_m=shock.coil.rate_n_per_m,
            set_spring_n_per_m=new.coil.rate_n_per_m,
            preload_m=shock.coil.preload_m,
            set_preload_m=new.coil.preload_m,
            planned=True,
        )
    air, new_air = shock.air, new.air
    if air is None or new_air is None or new_air.pressure_gauge_pa is None:
        words = missing.words("[shock.air] pressure" if air is not None else "[shock.air]")
        raise NoSteps(f"Not known: {words}. Write it in the Book, make the plan again.")
    if air.second_volume_m3 is not None or air.second_pressure_gauge_pa is not None:
        raise NoSteps(
            "This shock has a second air chamber, and these steps let only the main one out: it would stay charged. "
            "Go by the maker’s sheet."
        )
    can = _can(after)
    if can is not None and air_spring.locked(can).any():
        raise NoSteps("The plan locks before the end of the stroke: fewer spacers, then make it again.")
    return PlanNumbers(
        pressure_gauge_pa=air.pressure_gauge_pa,
        set_pressure_gauge_pa=new_air.pressure_gauge_pa,
        negative=air.negative,  # type: ignore[arg-type]  # the reader lets nothing else through
        set_negative_pressure_gauge_pa=new_air.negative_pressure_gauge_pa,
        pressure_limit_gauge_pa=air.pressure_limit_gauge_pa,
        spacers_before=air.spacers,
        spacers_after=new_air.spacers,
        spacer_limit=air.spacer_limit,
        port_position_m=air.port_position_m,
        second="none",
        planned=True,
        after=can,  # what the valve sees; of a can as it came the steps measure the outside, which is never too small
    )


def _can(bench: BenchFile) -> Chambers | None:
    """The can of a bench file with what lies beside it, shape (1,); None where something of it is not known."""
    of = rear.rear(Design.of([bench]))
    return None if of is None or missing.for_shock(bench) else of.chambers


def _on_coil(
    bench: BenchFile, after: BenchFile, crown_m: float | None, brace_m: float | None, sag_m: float | None, cap_n: float | None
) -> PlanNumbers:  # fmt: skip
    """The numbers of a plan of a coil: no pressure, no spacers; raises NoSteps where it goes from air to a coil or back."""
    fork, new_fork = bench.fork, after.fork
    if not (calls_for.on_coil(bench) and calls_for.on_coil(after)):
        raise NoSteps("The plan goes from air to a coil, or back; no steps are written for that.")
    assert fork is not None and fork.coil is not None and new_fork is not None and new_fork.coil is not None
    if None in (fork.travel_m, new_fork.travel_m):
        raise NoSteps(f"Not known: {missing.words('[fork] travel')}. Write it in the Book, make the plan again.")
    one, two = (None if isinstance(each, Missing) else each for each in map(known.spring, (bench, after)))
    return PlanNumbers(
        old_travel_m=fork.travel_m,
        new_travel_m=new_fork.travel_m,
        negative="none",
        second="none",
        spring_n_per_m=fork.coil.rate_n_per_m,
        set_spring_n_per_m=new_fork.coil.rate_n_per_m,
        preload_m=fork.coil.preload_m,
        set_preload_m=new_fork.coil.preload_m,
        new_fork_length_m=fitted.fork_length_m(after),
        fork_length_limit_m=bench.frame.fork_length_limit_m if bench.frame else None,
        travel_limit_m=fork.travel_limit_m,
        overtravel_m=fork.overtravel_m,
        tyre_to_crown_m=crown_m,
        tyre_to_brace_m=brace_m,
        sag_after_m=sag_m,
        before=None if one is None else one.chambers,
        after=None if two is None else two.chambers,
        cap_force_n=cap_n,
        planned=True,
        wheel_changed=bench.front_wheel != after.front_wheel,
    )


def refuse_another_spring(job: Job, procedure: Procedure, *, begun: bool) -> None:
    """Raises NoSteps where the steps are written for another spring than the unit's: none of them lets its load off.

    Steps of air that a coil's job was begun with, before a procedure said what it is for, stay; those of a coil let no air
    out, whatever was signed before.
    """
    unit = job.unit
    kind = "fork" if unit is None else unit.kind
    if kind in procedure.units:
        return
    written_for = {roles.spring(each) for each in procedure.units}
    is_a = "fork that nobody took into the Book" if unit is None else unit.what.words
    if written_for == {"coil"}:
        raise NoSteps(
            f"These steps are written for a {kinds.KINDS[procedure.units[0]].words}; this is a {is_a}. "
            "They let no air out. Choose another procedure on the card."
        )
    if roles.spring(kind) == "coil" and not begun:
        raise NoSteps(
            f"These steps are written for a spring of air; this is a {is_a}. Choose another procedure on the card."
        )


def refuse_plan_of_another_spring(procedure: Procedure, plan: PlanNumbers) -> None:
    """Raises NoSteps where the plan in use is of another spring than the steps."""
    if not plan.planned:
        return
    carried = "coil" if plan.pressure_gauge_pa is None else "air"  # a plan of air has one, or there are no steps
    if carried in {roles.spring(each) for each in procedure.units}:
        return
    if carried == "coil":
        raise NoSteps("The plan is of a coil; these steps let air out, fill and count spacers.")
    raise NoSteps("The plan is of a spring of air; these steps are written for a coil and let no air out.")


def refuse_second_chamber(plan: PlanNumbers, job: Sequence[Step]) -> None:
    """Raises NoSteps where the job opens something and no step of it lets the second chamber out: a text of before knows none."""
    if plan.second != "here" or any(step.has("second-out") for step in job):
        return
    if any(
        {"opens", "ring-out"} & (opening.roles(step) | {r for each in step.evidence for r in each.roles})
        for step in job
    ):
        raise NoSteps(
            "This fork has a second air chamber behind a floating piston, and these steps let only the main one out: "
            "it would stay charged behind the cap. Go by the maker’s sheet."
        )


def _second(*benches: BenchFile) -> Literal["here", "none", "not-known"]:
    """Whether a second chamber lies behind a floating piston: half of it written is one too. Not known where no air is."""
    airs = [bench.fork.air for bench in benches if bench.fork is not None and bench.fork.air is not None]
    if any(air.second_volume_m3 is not None or air.second_pressure_gauge_pa is not None for air in airs):
        return "here"
    return "none" if airs else "not-known"


def port_m(bench: BenchFile) -> float | None:
    """Where the port lies [m]: at full extension where the file leaves it out, not known where it is drawn."""
    air = bench.fork.air if bench.fork is not None else None
    if air is None or "fork.air.port_position" in drawn.left_open(bench):
        return None
    return air.port_position_m or 0.0


def _needed(bench: BenchFile, after: BenchFile) -> list[str]:
    """What no step can do without, and the plan does not give: travel and pressure before and after, not the volumes."""
    air, new_air = (each.fork.air if each.fork is not None else None for each in (bench, after))
    if air is None or new_air is None:
        return ["[fork.air]"]
    given = {
        "[fork] travel": [each.fork.travel_m for each in (bench, after) if each.fork is not None],
        "[fork.air] pressure": [air.pressure_gauge_pa, new_air.pressure_gauge_pa],
    }
    return [key for key, values in given.items() if None in values]


def not_known(frozen: FrozenPlan | None) -> dict[str, str]:
    """The keys without which a plan's spring can't be worked out, each with its words: the steps say what hangs on it so."""
    if frozen is None:
        return {}
    bench = read_text(frozen.bench_file)
    lacking = missing.for_shock if core.end_of(frozen.job) == "rear" else missing.for_spring
    keys = [*lacking(bench), *lacking(change.changed(bench))]
    return {key: missing.words(key) for key in keys}


def numbers_of_card(job: Job, found: Mapping[str, Reading]) -> PlanNumbers:
    """What card and Book know of a unit that is worked without a plan: nothing changes, what they lack is None.

    `found` are the readings as found that stand, by kind.
    """
    try:
        bench = read_text(bench_tables.toml(core.of_card(job, found, {})))
    except FaultsFound:
        return PlanNumbers()
    fork = bench.fork
    air, coil = (fork.air, fork.coil) if fork is not None else (None, None)
    whole = known.spring(bench)
    chambers = None if isinstance(whole, Missing) else whole.chambers
    return PlanNumbers(
        old_travel_m=fork.travel_m if fork else None,
        new_travel_m=fork.travel_m if fork else None,
        pressure_gauge_pa=air.pressure_gauge_pa if air else None,
        set_pressure_gauge_pa=air.pressure_gauge_pa if air else None,
        set_negative_pressure_gauge_pa=air.negative_pressure_gauge_pa if air else None,
        negative=air.negative if air else "not-known",  # type: ignore[arg-type]  # the reader lets nothing else through
        pressure_limit_gauge_pa=air.pressure_limit_gauge_pa if air else None,
        spacers_before=air.spacers if air else None,
        spacers_after=air.spacers if air else None,
        port_position_m=port_m(bench),
        coil_length_m=air.negative_coil.length_m if air and air.negative_coil else None,
        second=_second(bench),
        second_pressure_gauge_pa=air.second_pressure_gauge_pa if air else None,
        set_second_pressure_gauge_pa=air.second_pressure_gauge_pa if air else None,
        second_m3=air.second_volume_m3 if air else None,
        bore_m=air.bore_m if air else None,
        spring_n_per_m=coil.rate_n_per_m if coil else None,
        set_spring_n_per_m=coil.rate_n_per_m if coil else None,
        preload_m=coil.preload_m if coil else None,
        set_preload_m=coil.preload_m if coil else None,
        before=chambers,
        after=chambers,
    )


def named(
    plan: PlanNumbers, readings: Mapping[str, float | None], procedure: Procedure, known: Mapping[str, float | None]
) -> dict[str, float | None]:
    """Every name of the procedure's sentences with its number [SI]; `readings` by role, `known` the plan's dangers."""
    return variables.numbers(plan, readings, procedure.definitions, known)


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
    if shows == TRAPPED:
        force, energy = trapped_chamber(plan) or (None, None)
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
        on_it = system.show(rounded_up(force) / G0_M_PER_S2, "mass", "kg", decimals=0, second_decimals=0)
        number, _, unit = said.partition(NO_BREAK)
        told |= {
            "acts": acts, "force": said, "force_number": number, "force_unit": unit, "force_as": f"as {on_it} standing on it",
        }  # fmt: skip
    if energy is not None:
        said = words.rounded_up(energy, "energy", system.unit("energy", "J"))
        falls = system.show(fall_height_m(rounded_up(energy)), "length", "m", decimals=2, second_decimals=0)
        mass = system.show(10.0, "mass", "kg", decimals=0, second_decimals=0)
        number, _, unit = said.partition(NO_BREAK)
        told |= {"lies": lies, "energy_number": number, "energy_unit": unit, "energy_as": f"as {mass} falling {falls}"}
    return told or None
