"""From a plan to the computed parts of the set-up sheet: sentences, both pictures, tables, the four large numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from topout.bench_file.model import BenchFile, Coil
from topout.documents import plan_pictures, rear_charts, sheet_tables, sheet_words
from topout.documents.setup_sheet import Large, OwnPump, Picture, SetUpSheet
from topout.documents.stance import stance as draw_stance
from topout.planner import change, fitted, hurts, open_to, sentence, summary
from topout.planner.bounds import Answered
from topout.planner.inexact import AT_REST
from topout.planner.plan import plan as compute
from topout.planner.plan import plan_and_draws
from topout.planner.results import Plan
from topout.planner.summary import Summary
from topout.units import BENCH, NO_BREAK, System, digits, show

# Widths the pictures are drawn for, in their own pixels: on the sheet their text is then 11 pt high.
FORCE_PX: Final = 600
STANCE_PX: Final = 700


def with_plan(
    sheet: SetUpSheet, bench: BenchFile, system: System = BENCH, what: str = "fork", *, other_is_set: bool = False
) -> SetUpSheet:
    """The sheet with everything that follows from the bench file; `bench` holds the pressure as it was left, `what` says
    whether the sheet is of the fork or of the shock. What the plan sets at the other end is said, unless `other_is_set`.

    What can't be computed stays as the sheet has it. `system` is what stands first on it.
    """
    plan, draws = plan_and_draws(bench, curves=True, draws=AT_REST)
    after = change.changed(bench)
    if what == "shock":
        return _of_shock(sheet, bench, after, (plan, draws), system, other_is_set)
    air = after.fork.air if after.fork else None
    told = summary.of_plan(bench, plan, after, system)
    posture = bench.found.posture if bench.found and bench.found.posture else "at rest"
    changed = replace(
        sheet,
        changed=sheet_words.with_other_half(sheet_words.changed(told, posture, system), told, "front", other_is_set),
        stands=sheet_words.stands(told),
        force=_force(bench, plan, draws, system),
        stance=_stance(bench, plan, system),
        masses=sheet_tables.by_mass(bench, system),
        hurts=" ".join(hurts.on(told.hurts, "front")),
    )
    if air is None or air.pressure_gauge_pa is None:
        return changed
    ambient = fitted.ambient_abs_pa(bench)
    table = sheet_tables.by_temperature(air.pressure_gauge_pa, bench.conditions.temperature_k, ambient, system)
    return replace(changed, temperatures=table)


def _of_shock(
    sheet: SetUpSheet, bench: BenchFile, after: BenchFile, worked: tuple[Plan, Answered | None], system: System,
    other_is_set: bool,
) -> SetUpSheet:  # fmt: skip
    """The same of a rear shock: what is set and does, its force, how the bike stands, its pressure by temperature."""
    plan, draws = worked
    told = summary.of_plan(bench, plan, after, system)
    changed = replace(
        sheet,
        changed=sheet_words.with_other_half(sheet_words.changed_behind(told, system), told, "rear", other_is_set),
        stands=sheet_words.stands(told),
        force=_force_behind(plan, draws, system),
        masses=sheet_tables.by_mass_behind(bench, system),
        stance=_stance(bench, plan, system),
        hurts=" ".join(hurts.on(told.hurts, "rear")),
    )
    set_pa = sheet_tables.pressure_set(bench, "shock")
    if set_pa is None:
        return changed
    table = sheet_tables.by_temperature(set_pa, bench.conditions.temperature_k, fitted.ambient_abs_pa(bench), system)
    return replace(changed, temperatures=table)


def _force_behind(plan: Plan, draws: Answered | None, system: System) -> Picture | None:
    if draws is not None and open_to.is_open_behind(draws.bounds):
        shock = draws.bench.shock
        linked = shock is not None and bool(shock.leverage or shock.leverage_stroke)
        drawing = rear_charts.bands(plan_pictures.behind(draws).force, linked, "sheet-force", system)
        if drawing is None:
            return None
        alt = f"{drawing.title} {drawing.says}"
        words = "19 of 20 shocks that fit lie inside; dashed before, solid after."
        return Picture(drawing.for_paper(), alt, "Slow force behind, as bands.", words)
    states = []
    for name, curve, state in (
        ("before", plan.shock_before, plan.before),
        ("after", plan.shock_after, plan.after),
    ):
        rear = state.sag.rear if state.sag is not None else None
        if curve is not None:
            states.append(rear_charts.Behind(name, curve, rear.stroke_m if rear is not None else None))
    drawing = rear_charts.force(states, "sheet-force", system)
    if drawing is None:
        return None
    return Picture(drawing.for_paper(), drawing.title, "Slow force behind.", "Dashed before, solid after.")


def with_own_pump(sheet: SetUpSheet, pump: OwnPump | None) -> SetUpSheet:
    """The sheet with what the rider's own pump shows."""
    return replace(sheet, own_pump=pump)


def _force(bench: BenchFile, plan: Plan, draws: Answered | None, system: System) -> Picture | None:
    drawing = plan_pictures.of_plan(bench, plan, None, draws).force(FORCE_PX, "sheet-force", system=system)
    if drawing is None:
        return None
    alt = f"{drawing.title}. {drawing.says}"
    if draws is not None:
        return Picture(
            drawing.for_paper(),
            alt,
            "Slow force, as bands.",
            "19 of 20 forks that fit lie inside; dashed before, solid after.",
        )
    return Picture(
        drawing.for_paper(), alt, "Force along the travel.", "Dashed before, solid after; thick slow, thin fast."
    )


def _stance(bench: BenchFile, plan: Plan, system: System) -> Picture | None:
    pictures = plan_pictures.of_plan(bench, plan)
    if pictures.now is None or pictures.was is None:
        return None
    drawing = draw_stance(pictures.was, pictures.now, STANCE_PX, "sheet-stance", windows=False, system=system)
    name = "Stance at sag, to scale." if pictures.at_sag else "Stance at full extension, to scale."
    alt = f"{drawing.title}. {drawing.says}"
    return Picture(drawing.for_paper(), alt, name, "Dashed before, solid after; the rear wheel is held.")


@dataclass(frozen=True, slots=True)
class Left:
    """What was read as the unit left, SI, None where it was not read; `system` is what is shown first."""

    gauge_pa: float | None = None
    temperature_k: float | None = None
    sag_m: float | None = None
    posture: str = ""
    rebound: int | None = None
    rebound_of: int | None = None
    compression: str = ""
    spacers: int | None = None
    spacers_before: int | None = None
    system: System = BENCH
    what: str = "fork"  # or "shock"
    full_m: float | None = None  # its travel or stroke, where no plan says it
    full: str = "travel"  # or "stroke"
    rate_n_per_m: float | None = None  # of a coil
    preload_m: float | None = None


def four(left: Left, bench: BenchFile | None) -> tuple[Large, ...]:
    """At most four large numbers: as read, else as the bench file has them; what is neither is left out.

    `bench` holds what was left (`as_left`).
    """
    return tuple(large for large in _four(left, bench) if large is not None)


def _four(left: Left, bench: BenchFile | None) -> tuple[Large | None, ...]:
    if bench is None:
        return (
            large_pressure(left.gauge_pa, left.temperature_k, left.system, left.what),
            large_spring(left.rate_n_per_m, left.preload_m, left.system),
            large_sag(left.sag_m, left.posture, None, left.full_m, left.full, left.system),
            large_rebound(left.rebound, left.rebound_of, left.compression),
            large_spacers(left.spacers, None, left.spacers_before),
        )
    after = change.changed(bench)
    if left.what == "shock":
        return _of_the_shock(left, bench, after)
    fork, told = after.fork, summary.of_plan(bench, compute(bench, draws=AT_REST), after, left.system)
    air = fork.air if fork is not None else None
    posture = left.posture or (bench.found.posture if bench.found is not None and bench.found.posture else "")
    temperature_k = left.temperature_k if left.temperature_k is not None else bench.conditions.temperature_k
    before = bench.fork.air.spacers if bench.fork is not None and bench.fork.air is not None else None
    return (
        large_pressure(
            sheet_tables.pressure_set(bench) if left.gauge_pa is None else left.gauge_pa,
            temperature_k,
            left.system,
            left.what,
        ),
        _spring_of(left, fork.coil if fork is not None else None),
        large_sag(left.sag_m, posture, told, fork.travel_m if fork is not None else None, system=left.system),
        large_rebound(left.rebound, left.rebound_of, left.compression),
        large_spacers(
            left.spacers if left.spacers is not None or air is None else air.spacers,
            air.spacer_volume_m3 if air is not None else None,
            left.spacers_before if left.spacers_before is not None else before,
        ),
    )


def _of_the_shock(left: Left, bench: BenchFile, after: BenchFile) -> tuple[Large | None, ...]:
    """Of a rear shock; its sag is stroke used, and its share is one of the stroke."""
    rest = compute(bench, draws=AT_REST).after.sag
    rear = rest.rear if rest is not None else None
    air = after.shock.air if after.shock is not None else None
    was = bench.shock.air.spacers if bench.shock is not None and bench.shock.air is not None else None
    at_k = left.temperature_k if left.temperature_k is not None else bench.conditions.temperature_k
    gauge_pa = sheet_tables.pressure_set(bench, "shock") if left.gauge_pa is None else left.gauge_pa
    stroke_m = left.full_m if after.shock is None else after.shock.stroke_m
    sag = large_sag(left.sag_m, left.posture, None, stroke_m, "stroke", left.system)
    if sag is None and rear is not None and rear.stroke_m is not None:
        sag = large_sag(rear.stroke_m, left.posture, None, stroke_m, "stroke", left.system)
        sag = None if sag is None else replace(sag, note=f"computed, not measured, {sag.note}".rstrip(", "))
    return (
        large_pressure(gauge_pa, at_k, left.system, left.what),
        _spring_of(left, after.shock.coil if after.shock is not None else None),
        sag,
        large_rebound(left.rebound, left.rebound_of, left.compression),
        large_spacers(
            left.spacers if left.spacers is not None or air is None else air.spacers,
            air.spacer_volume_m3 if air is not None else None,
            left.spacers_before if left.spacers_before is not None else was,
        ),
    )


def large_pressure(
    gauge_pa: float | None, temperature_k: float | None, system: System = BENCH, what: str = "fork"
) -> Large | None:
    """The pressure to set, with the other unit, the temperature it holds at and how the unit stands then; None where it is not known."""
    if gauge_pa is None:
        return None
    unit = system.unit("pressure", "psi")
    figure = sheet_tables.figure_set(gauge_pa, unit)
    note = sheet_tables.pressure(gauge_pa, sheet_tables.other_unit(unit))
    if temperature_k is not None:
        note += f", at {system.show(temperature_k, 'temperature', 'degC', decimals=0)}"
    return Large("Pressure", figure, unit, f"{note}, {stands_out(what)}")


def _spring_of(left: Left, coil: Coil | None) -> Large | None:
    """The coil as it was read, else as the plan has it."""
    rate = coil.rate_n_per_m if left.rate_n_per_m is None and coil is not None else left.rate_n_per_m
    preload = coil.preload_m if left.preload_m is None and coil is not None else left.preload_m
    return large_spring(rate, preload, left.system)


def large_spring(rate_n_per_m: float | None, preload_m: float | None, system: System = BENCH) -> Large | None:
    """The rate of a coil, in the other unit too, and how far it is wound up; None: on air, or not known."""
    if rate_n_per_m is None:
        return None
    first = system.unit("rate", "N/mm")
    each = {
        "lbf/in": show(rate_n_per_m, "rate", "lbf/in", decimals=0),
        "N/mm": System().show(rate_n_per_m, "rate", "N/mm", trim=True),
    }
    figure, _, unit = each[first].partition(NO_BREAK)
    note = each["N/mm" if first == "lbf/in" else "lbf/in"]
    if preload_m is not None:
        note += f", wound up {system.show(preload_m, 'length', 'mm', trim=True)}"
    return Large("Spring", figure, unit, note)


def stands_out(noun: str) -> str:
    """How a unit stands while its air is set or let out: "fork at full extension"."""
    return f"{noun} at {fitted.STANDS_AT[noun]}"


def large_sag(
    measured_m: float | None,
    posture: str,
    computed: Summary | None,
    travel_m: float | None,
    full: str = "travel",
    system: System = BENCH,
) -> Large | None:
    """Sag as measured, else as computed, with its share of the travel and what friction lets it vary between; None: neither.

    What the O-ring shows is measured; where it shows less than the travel used, both are said.
    """
    name = f"Sag, {posture}" if posture else "Sag"
    sag_m = measured_m if measured_m is not None else (computed.sag.after_si if computed is not None else None)
    if sag_m is None:
        return None
    notes = []
    if measured_m is None:
        notes.append("computed, not measured")
    share = next((each for each in computed.listed() if each.key == "share"), None) if computed is not None else None
    if measured_m is None and share is not None and share.after_si is not None:  # as the plan and the picture say it
        notes.append(f"{share.says('after')} of the {full}")
    elif travel_m:
        notes.append(f"{show(sag_m / travel_m, 'share', '%')} of the {full}")
    if computed is not None and computed.ring.after_si is not None:
        if measured_m is None and computed.ring.number("after") != computed.sag.number("after"):
            notes.append(f"the O-ring shows {computed.ring.says('after')}")
        span = computed.ring_span
        if span is not None:
            low, high = (system.show(each / 1e3, "length", "mm", decimals=0) for each in span)
            notes.append(f"{low.partition(NO_BREAK)[0]} to {high} is right")
    figure, _, unit = system.show(sag_m, "length", "mm", trim=True).partition(NO_BREAK)
    if measured_m is None and computed is not None:  # no finer than the plan says it
        figure = computed.sag.trimmed("after")
    return Large(name, figure, unit, ", ".join(notes))


def large_rebound(clicks: int | None, of: int | None, compression: str = "") -> Large | None:
    """Rebound clicks from closed; `compression` is "4 of 10" or empty. None: not counted."""
    if clicks is None:
        return None
    note = "from closed" + (f", of {of}" if of is not None else "")
    if compression:
        note += f"; compression {compression}"
    return Large("Rebound", digits(clicks, 0), "click" if clicks == 1 else "clicks", note)


def large_spacers(count: int | None, each_m3: float | None, before: int | None) -> Large | None:
    """Volume spacers now, what one takes, and how many there were; None: not counted."""
    if count is None:
        return None
    notes = []
    if each_m3 is not None and count:
        notes.append(f"{show(each_m3, 'volume', 'ml')}{' each' if count > 1 else ''}")
    if before is not None:
        was = "was" if before == 1 else "were"
        notes.append(
            "as before"
            if before == count
            else f"there {was} {sentence.number_word(before, 'none') if before == 0 else before}"
        )
    return Large("Volume spacers", digits(count, 0), "", "; ".join(notes))
