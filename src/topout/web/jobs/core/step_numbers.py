"""A frozen plan, or what card and Book know without one, in the words of procedures: the numbers of the steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any, Literal

from topout.bench_file import calls_for, guesses
from topout.bench_file.model import BenchFile, CanAir
from topout.bench_file.read import read_text
from topout.errors import FaultsFound, TopoutError
from topout.physics import air_spring
from topout.physics.air_spring import Chambers
from topout.planner import change, drawn_chambers, fitted, inexact, known, missing, other_half, rear
from topout.planner.design import Design
from topout.planner.hazard import divided
from topout.planner.known import Missing, Spring
from topout.planner.plan_numbers import DrawnChambers, PlanNumbers
from topout.web.book import tables as bench_tables
from topout.web.jobs import core
from topout.web.jobs.records import readings
from topout.web.jobs.records.kinds import OF_CAN
from topout.web.jobs.records.models import FrozenPlan, Job, Reading, StepEntry
from topout.web.jobs.records.texts import NoSteps


def numbers(frozen: FrozenPlan) -> PlanNumbers:
    """A frozen plan in the words of procedures; raises NoSteps naming what the plan lacks."""
    clearance: dict[str, Any] = frozen.results.get("clearance") or {}
    after = (frozen.results.get("after") or {}).get("sag") or {}
    front: dict[str, Any] = after.get("front") or {}
    hazard: dict[str, Any] = frozen.results.get("hazard") or {}
    hurts: dict[str, Any] = hazard.get("before") or {}
    guessed = guessed_keys(frozen.job)
    if core.end_of(frozen.job) == "rear":
        return _with_other_end(_of_shock(frozen.bench_file, guessed, _told_of_can(frozen)), frozen.bench_file, "rear")
    own = _numbers(
        frozen.bench_file,
        guessed,
        clearance.get("tyre_to_crown_m"),
        clearance.get("tyre_to_brace_m"),
        front.get("shown_m"),
        hurts.get("cap_force_n"),
        hazard.get("known", "exact") != "exact",
    )
    return _with_other_end(own, frozen.bench_file, "front")


def _told_of_can(frozen: FrozenPlan) -> tuple[float, float] | None:
    """Force and energy of a can as its plan told them, of more draws than the steps make; None where it is exact, or kept before
    the damper's gas stood apart."""
    hazard: dict[str, Any] = (frozen.results.get("rear") or {}).get("hazard") or {}
    states = [hazard[state] for state in ("before", "after") if hazard.get(state)]
    if hazard.get("known", "exact") == "exact" or not all(map(divided, states)):
        return None
    forces, energies = (
        [each[name] for each in states for name in names if each[name] is not None]
        for names in (("cap_force_n", "ring_force_n"), ("spring_energy_j",))
    )
    return (max(forces), max(energies)) if forces and energies else None


@lru_cache(maxsize=64)
def _with_other_end(own: PlanNumbers, text: str, end: core.End) -> PlanNumbers:
    """The same with what the plan sets at the end that the job is not about."""
    bench = read_text(text)
    way = other_half.way(bench, end)
    if way == "none":
        return own
    at, after = ((each.shock if end == "front" else each.fork) for each in (bench, change.changed(bench)))
    air, new_air = (each.air if each is not None else None for each in (at, after))
    coil, new_coil = (each.coil if each is not None else None for each in (at, after))
    return replace(
        own,
        other=way if way == "by-itself" else f"{other_half.NAMES[other_half.OTHER[end]]}-{way}",
        other_pressure_gauge_pa=air.pressure_gauge_pa if air else None,
        other_set_pressure_gauge_pa=new_air.pressure_gauge_pa if new_air else None,
        other_limit_gauge_pa=air.pressure_limit_gauge_pa if air else None,
        other_preload_m=coil.preload_m if coil else None,
        other_set_preload_m=new_coil.preload_m if new_coil else None,
        other_before=_can(bench) if end == "front" else _air_of_fork(bench),
    )


def _air_of_fork(bench: BenchFile) -> Chambers | None:
    """The fork's chambers, shape (1,); None where something of them is not known."""
    of = known.spring(bench)
    return None if isinstance(of, Missing) else of.chambers


def guessed_keys(job: Job) -> frozenset[str]:
    """What of the job's own unit is a guess today."""
    guessed = core.guessed_keys(job, {})
    if guessed.isdisjoint(f"shock.air.{word}" for word in OF_CAN.values()):
        return guessed  # no reading says anything of the rest: a page of many jobs asks for none
    return core.guessed_keys(job, readings.current(job, "as-found"))


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
    text: str,
    guessed: frozenset[str],
    crown_m: float | None,
    brace_m: float | None,
    sag_m: float | None,
    cap_n: float | None,
    high: bool,
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
    of_all = drawn_chambers.of_file(bench, "front", guessed)
    if of_all is not None and not (high and guessed == guesses.keys(bench.guessed, "fork", bench.fork)):
        cap_n = None  # frozen before guesses counted in it, or others are guesses today
    assert fork is not None and fork.air is not None and new_fork is not None and new_fork.air is not None
    air, new_air = fork.air, new_fork.air
    if two is not None and air_spring.locked(two.chambers).any():
        raise NoSteps("The plan locks before the end of the travel: fewer spacers or less oil, then make it again.")
    return replace(
        _of_fork(bench, after, (one, two), crown_m, brace_m, sag_m, cap_n),
        pressure_gauge_pa=air.pressure_gauge_pa,
        set_pressure_gauge_pa=new_air.pressure_gauge_pa,
        negative=air.negative,  # type: ignore[arg-type]  # the reader lets nothing else through
        set_negative_pressure_gauge_pa=new_air.negative_pressure_gauge_pa,
        pressure_limit_gauge_pa=air.pressure_limit_gauge_pa,
        spacers_before=air.spacers,
        spacers_after=new_air.spacers,
        spacer_limit=air.spacer_limit,
        oil_on_piston_m3=new_air.oil_on_piston_m3,
        port_position_m=port_m(bench),
        coil_length_m=air.negative_coil.length_m if air.negative_coil else None,
        second=_second(bench, after),
        second_pressure_gauge_pa=air.second_pressure_gauge_pa,
        set_second_pressure_gauge_pa=new_air.second_pressure_gauge_pa,
        second_m3=air.second_volume_m3,
        bore_m=air.bore_m,
        drawn=of_all,
    )


@lru_cache(maxsize=64)
def _of_shock(text: str, guessed: frozenset[str], told: tuple[float, float] | None) -> PlanNumbers:
    """A plan in the words of procedures, for its shock: pressure, spacers, reducers, what its can holds."""
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
            old_stroke_m=shock.stroke_m,
            new_stroke_m=new.stroke_m,
            planned=True,
        )
    air, new_air = shock.air, new.air
    if air is None or new_air is None or new_air.pressure_gauge_pa is None:
        words = missing.words("[shock.air] pressure" if air is not None else "[shock.air]")
        raise NoSteps(f"Not known: {words}. Write it in the Book, make the plan again.")
    _one_chamber(air)
    can = _can(after)
    if can is not None and air_spring.locked(can).any():
        raise NoSteps("The plan locks before the end of the stroke: fewer spacers, then make it again.")
    of_all = drawn_chambers.of_file(bench, "rear", guessed)
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
        old_stroke_m=shock.stroke_m,
        new_stroke_m=new.stroke_m,
        planned=True,
        before=_can(bench),
        after=can,
        drawn=of_all,
        can=True,
        can_told=told if of_all is not None and guessed == guesses.keys(bench.guessed, "shock", shock) else None,
    )


def _one_chamber(air: CanAir) -> None:
    """Raise NoSteps where a can has a second chamber, whether a plan says so or the Book alone."""
    if air.second_volume_m3 is not None or air.second_pressure_gauge_pa is not None:
        raise NoSteps(
            "This shock has a second air chamber, and these steps let only the main one out: it would stay charged. "
            "Go by the maker’s sheet."
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
    return replace(
        _of_fork(bench, after, (one, two), crown_m, brace_m, sag_m, cap_n),
        negative="none",
        second="none",
        spring_n_per_m=fork.coil.rate_n_per_m,
        set_spring_n_per_m=new_fork.coil.rate_n_per_m,
        preload_m=fork.coil.preload_m,
        set_preload_m=new_fork.coil.preload_m,
    )


def _of_fork(
    bench: BenchFile, after: BenchFile, springs: tuple[Spring | None, Spring | None],
    crown_m: float | None, brace_m: float | None, sag_m: float | None, cap_n: float | None,
) -> PlanNumbers:  # fmt: skip
    """What a plan says of a fork whatever springs it; the rest is said by who calls this."""
    fork, new_fork = bench.fork, after.fork
    assert fork is not None and new_fork is not None
    one, two = springs
    return PlanNumbers(
        old_travel_m=fork.travel_m,
        new_travel_m=new_fork.travel_m,
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


def _second(*benches: BenchFile) -> Literal["here", "none", "not-known"]:
    """Whether a second chamber lies behind a floating piston: half of it written is one too. Not known where no air is."""
    airs = [bench.fork.air for bench in benches if bench.fork is not None and bench.fork.air is not None]
    if any(air.second_volume_m3 is not None or air.second_pressure_gauge_pa is not None for air in airs):
        return "here"
    return "none" if airs else "not-known"


def port_m(bench: BenchFile) -> float | None:
    """Where the port lies [m]: at full extension where the file leaves it out, not known where it is drawn."""
    air = bench.fork.air if bench.fork is not None else None
    if air is None or "fork.air.port_position" in inexact.left_open(bench):
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
    text = bench_tables.toml(core.of_card(job, found, {}))
    try:
        bench = read_text(text)
    except FaultsFound:
        return PlanNumbers()
    can = core.end_of(job) == "rear"
    fork, shock = (None, bench.shock) if can else (bench.fork, None)
    of = shock or fork
    air, coil = (of.air, of.coil) if of is not None else (None, None)
    if isinstance(air, CanAir):
        _one_chamber(air)
    whole = known.spring(bench)
    chambers = _can(bench) if can else None if isinstance(whole, Missing) else whole.chambers
    return PlanNumbers(
        old_stroke_m=shock.stroke_m if shock else None,
        new_stroke_m=shock.stroke_m if shock else None,
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
        drawn=_drawn_of_card(text, core.end_of(job), guessed_keys(job)),
        can=can,
    )


@lru_cache(maxsize=64)
def _drawn_of_card(text: str, end: core.End, guessed: frozenset[str]) -> DrawnChambers | None:
    return drawn_chambers.of_file(read_text(text), end, guessed)
