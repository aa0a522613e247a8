"""An option in words: what is fitted, what is set; what it gives up says `gives_up`. Page and terminal say these, in either system of units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from topout.planner import at_mark, defaults, defaults_words, open_to
from topout.planner.limits import CODES
from topout.planner.options import gives_up
from topout.planner.options.choices import MISFIT, NONE_THERE
from topout.planner.options.option import Option, Options
from topout.planner.sentence import number_word, pressure, spacers
from topout.units import BENCH, NO_BREAK, System

SAME_PRELOAD_M: Final = 1e-6
KEEPS: Final = {
    "sag": "the same sag", "sag-share": "the same sag in %", "curve": "the same feel",
    "end-force": "the same bottom-out force", "wanted": "as it is wanted",
}  # fmt: skip
_EXCLUDED: Final = {
    MISFIT: "Parts that do not fit: another bore, family or wheel size",
    NONE_THERE: "Parts of which none is there and none can be had",
    "no-pressure": "No pressure keeps what was to be kept",
    "pressure-limit": "Above the maker’s pressure limit",
    "sag-range": "Sag outside what riders use",
    "lost-travel": "Rests short of full extension: travel is lost",
    "hydraulic-lock": "A chamber would have no room left: it would lock",
    "tyre-crown": "Too little room between tyre and crown",
    "tyre-brace": "Too little room between tyre and brace",
    "tyre-frame": "Too little room between rear tyre and frame",
    "fork-length": "Longer than the frame’s maker allows",
    "travel-limit": "More travel than the chassis allows",
    "spacer-limit": "More volume spacers than the maker allows",
    "coil-bind": "The coils would touch before the end of the travel",
    "port-out-of-reach": "The piston would never reach the equalisation port",
    "rear-no-pressure": "No pressure in the shock keeps what was to be kept",
    "rear-pressure-limit": "Above the maker’s pressure limit of the shock",
    "rear-sag-range": "Sag behind outside what riders use",
    "rear-lost-travel": "The shock rests short of its length: stroke is lost",
    "rear-hydraulic-lock": "A chamber of the shock would have no room left: it would lock",
    "rear-spacer-limit": "More volume spacers in the shock than the maker allows",
    "rear-coil-bind": "The shock’s coil would bind before the end of the stroke",
    "rear-port-out-of-reach": "The shock’s piston would never reach the equalisation port",
}  # fmt: skip


def fits(option: Option, system: System = BENCH) -> str:
    """What is fitted, as a name: "160 mm shaft and one spacer more"; "No part" where nothing is.

    option [SI] (one) any; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    pieces = list(_fitted(option, system))
    said = f"{', '.join(pieces[:-1])} and {pieces[-1]}" if len(pieces) > 1 else "".join(pieces)
    return f"{said[:1].upper()}{said[1:]}" if said else "No part"


def _fitted(option: Option, system: System) -> Iterator[str]:
    fork = option.fork
    shafts = [used for used in option.parts if used.part.kind == "air shaft"]
    if option.travel_m is not None:
        length = system.show(option.travel_m, "length", "mm", trim=True)
        if shafts or "shaft" in option.lacks:
            printed = shafts[0].part.marking if shafts else None
            marking = f" “{printed}”" if printed and printed not in length.split(NO_BREAK) else ""
            yield f"{length} shaft{marking}"
        elif fork.travel_m is not None and abs(option.travel_m - fork.travel_m) > 1e-9:
            yield f"{length} of travel"
    if "offset" in option.lacks and option.offset_m is not None:
        yield f"fork with {system.show(option.offset_m, 'length', 'mm', trim=True)} of offset"
    had = fork.air.spacers if fork.air is not None else 0
    at = " in the fork" if option.rear is not None else ""
    if option.spacers is not None and option.spacers != had:
        yield _more_spacers(option.spacers - had, option.spacers_m3.get("front"), at, system)
    coils = {used.part for used in option.parts if used.part.kind == "coil"}
    if option.rate_n_per_m is not None and coils and option.front:
        fitted = fork.coil.rate_n_per_m if fork.coil is not None else None
        if fitted != option.rate_n_per_m:
            yield f"spring of {_rate(option.rate_n_per_m, system)}{at}"
    yield from _fitted_behind(option, system)
    for used in option.parts:
        if used.part.kind == "tyre":
            height = option.tyre_height_m if used.end == "front" else option.rear_tyre_height_m
            yield f"{used.end} tyre of {system.show(height or 0.0, 'length', 'mm', trim=True)}"


def _fitted_behind(option: Option, system: System) -> Iterator[str]:
    """What is fitted to the shock."""
    rear, shock = option.rear, option.shock
    if rear is None or shock is None:
        return
    at = " in the shock" if option.front else ""
    if shock.stroke_m is not None and abs(rear.stroke_m - shock.stroke_m) > 1e-9:
        yield f"stroke reduced to {system.show(rear.stroke_m, 'length', 'mm', decimals=1, trim=True)}"
    if shock.air is not None and rear.spacers is not None and rear.spacers != shock.air.spacers:
        yield _more_spacers(rear.spacers - shock.air.spacers, option.spacers_m3.get("rear"), at, system)
    if shock.coil is not None and rear.rate_n_per_m is not None and rear.rate_n_per_m != shock.coil.rate_n_per_m:
        yield f"coil of {_rate(rear.rate_n_per_m, system)}{' behind' if option.front else ''}"


def _more_spacers(more: int, each_m3: float | None, at: str, system: System) -> str:
    """How many go in or come out, and of what kind where several lie there."""
    kind = "" if each_m3 is None else f" of {system.show(each_m3, 'volume', 'ml', trim=True)}"
    return f"{number_word(abs(more))} spacer{'s' if abs(more) > 1 else ''}{kind} {'more' if more > 0 else 'out'}{at}"


def _rate(rate_n_per_m: float, system: System) -> str:
    return system.show(rate_n_per_m, "rate", "N/mm", trim=True)


def sets(option: Option, system: System = BENCH) -> str:
    """What is set: "67 psi, two volume spacers"; of both ends first the fork, then the shock.

    option [SI] (one) any; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    told = []
    if option.front and (option.pressure_set_gauge_pa is None or option.spacers is None):
        told += (
            []
            if option.rate_n_per_m is None
            else [f"{_rate(option.rate_n_per_m, system)} spring{_wound(option, system)}"]
        )
    elif option.front and option.spacers is not None:
        told.append(
            f"{_pressure(option.pressure_set_gauge_pa, system)}{_between(option, 'pressure_pa', system)}"
            f"{_negative(option, system)}, {spacers(option.spacers)}"
        )
    rear = option.rear
    if rear is not None:
        at = "shock " if option.front else ""
        if rear.pressure_set_gauge_pa is not None and rear.spacers is not None:
            between = _between(option, "rear_pressure_pa", system)
            told.append(f"{at}{_pressure(rear.pressure_set_gauge_pa, system)}{between}, {spacers(rear.spacers)}")
        elif rear.rate_n_per_m is not None:
            wound = system.show(rear.preload_m or 0.0, "length", "mm", decimals=1, trim=True)
            fitted = (
                option.shock.coil.rate_n_per_m if option.shock is not None and option.shock.coil is not None else None
            )
            coil = f"{_rate(rear.rate_n_per_m, system)} coil, " if rear.rate_n_per_m == fitted else ""
            told.append(f"{at}{coil}{wound} of preload")
    return "; ".join(told)


def _wound(option: Option, system: System) -> str:
    """How far the fork's coil is wound up, where that is another than it was."""
    coil = option.fork.coil
    if coil is None or option.preload_m is None or abs(option.preload_m - coil.preload_m) < SAME_PRELOAD_M:
        return ""
    return f", {system.show(option.preload_m, 'length', 'mm', decimals=1, trim=True)} of preload"


def _negative(option: Option, system: System) -> str:
    """What the negative chamber is set to, where that is another than it was."""
    was_pa = option.fork.air.negative_pressure_gauge_pa if option.fork.air is not None else None
    if option.negative_pressure_gauge_pa is None or option.negative_pressure_gauge_pa == was_pa:
        return ""
    return f", {_pressure(option.negative_pressure_gauge_pa, system)} in the negative chamber"


def _pressure(gauge_pa: float | None, system: System) -> str:
    return pressure(gauge_pa or 0.0, system.unit("pressure", "psi"), system.beside)


def _between(option: Option, name: str, system: System) -> str:
    """What the pressure that keeps something lies between, where it is drawn and a gauge could tell."""
    of = option.limits.get(name)
    if of is None:
        return ""
    unit = system.unit("pressure", "psi")
    low, high = open_to.outward(of, "pressure", unit, at_mark.decimals(unit))
    return f" ({low} to {high})" if low != high else ""


def excluded(code: str) -> str:
    """Why options were left out, in words.

    code [-] (one) of what was left out → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return _EXCLUDED[code]


def not_looked_at(of: Options) -> str:
    """Which limits could not be looked at, in one sentence; empty where all were.

    of [SI] (one) an answer → [-] (one) words. Raises nothing. Source: bench-file.md.
    """
    names = [_limit(code) for code in of.not_looked_at]
    if not names:
        return ""
    return f"Not looked at, since nothing says the limit: {', '.join(names)}. Look there yourself."


def _limit(code: str) -> str:
    """A limit by its code: those of the shock say so."""
    if code == "rear-coil-bind":
        return "where the shock’s coils touch"
    return f"{CODES[code.removeprefix('rear-')].lower()}{' of the shock' if code.startswith('rear-') else ''}"


def answer(of: Options, system: System = BENCH) -> str:
    """The answer in a sentence: the way that sits nearest, and the one that needs no part where it is another.

    of [SI] (one) an answer; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    if not of.options:
        return "Nothing that could be fitted or set keeps within the limits. What stands against it is below."
    first = of.options[0]
    near = "Nearest to what is wanted" if of.is_wanted else "Nearest to how it sits now"
    return f"{near}: {fits(first, system)}, {sets(first, system)}. {gives_up.said(first, system)}"


def leans_on(of: Options) -> Iterator[str]:
    """What the answer leans on and the table does not show: draws, a fork that nobody knows, how near is counted.

    of [SI] (one) an answer → [-] (any) sentences. Raises nothing. Source: none needed, bookkeeping.
    """
    unit = "fork and shock" if of.ends.front and of.ends.rear else "shock" if of.ends.rear else "fork"
    if of.draws:
        yield f"Drawn {of.draws} times, the figures are the middles: what nobody knows of this {unit} stays open. Where a figure is not known well enough, what it lies between stands in its place."
    if of.is_wanted:
        yield "The first are nearest to what is wanted; how it sits and springs is compared with the bike as it is now."
    if not of.forked:
        yield "Nobody knows this fork, so it counts at full extension, now and then."
    yield from _stays(of)


def of_its_plan(of: Options, system: System = BENCH) -> tuple[list[str], list[str]]:
    """What the plan of the first way says that it leans on, in the plan's own words: the dangers, and the rest.

    of [SI] (one) an answer; system [-] (one) the units to say it in → [-] (2) words. Raises nothing. Source: bench-file.md's defaults.
    """
    if not of.options:
        return [], []
    first = of.options[0]
    standing = None if of.standing is None else replace(of.standing, change=first.change)
    changed = replace(of.bench, change=first.change)
    taken = [each.in_degrees() for each in defaults.of_plan(changed, standing, first.plan.clearance.tyre_to_crown_m)]
    loads = (each for each in first.plan.warnings if each.code in ("load-assumed", "load-implausible"))
    closing = defaults_words.closing(taken, system)
    rest = [*(f"{CODES[each.code]}. {each.said(system)}" for each in loads), *([closing] if closing else [])]
    return defaults_words.dangers(taken, system), rest


def _stays(of: Options) -> Iterator[str]:
    """What could be set too, and was not tried at another value."""
    shock = of.bench.shock
    if of.ends.rear and shock is not None and shock.air is not None and shock.air.negative == "separate-valve":
        yield "The shock’s negative chamber has a valve of its own: its pressure stays, no other was tried."


def neutral(of: Options, system: System = BENCH) -> Iterator[tuple[str, str, str]]:
    """What keeps each figure of the stance: its name, the fork length, the nearest travel.

    of [SI] (one) an answer; system [-] (one) the units to say it in → [-] (3) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    names = {"head-angle": "head angle", "trail": "trail", "bb-height": "bottom bracket"}
    for name, each in of.neutral.items():
        length, travel = (
            "–" if value is None else system.show(value, "length", "mm", decimals=places)
            for value, places in ((each.fork_length_m, 1), (each.travel_m, 0))
        )
        yield names[name], length, travel


def keeps(option: Option) -> str:
    """What is kept by the pressures that are set, or that they stay; of both ends the fork's first.

    option [SI] (one) any → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    told = []
    if option.front:
        coil = option.fork.coil
        wound = coil is not None and option.preload_m is not None and option.preload_m != coil.preload_m
        told.append("wound up to that" if wound else _kept(option.keep, option.pressure_set_gauge_pa))
    if option.rear is not None:
        coil = option.shock.coil if option.shock is not None else None
        wound = coil is not None and option.rear.preload_m != coil.preload_m
        told.append("wound up to that" if wound else _kept(option.rear.keep, option.rear.pressure_set_gauge_pa))
    return told[0] if len(told) == 1 else f"in front {told[0]}, behind {told[1]}"


def _kept(keep: str | None, set_pa: float | None) -> str:
    if set_pa is None:
        return "wound up as it is"
    return KEEPS[keep] if keep is not None else "the pressure as it is"


def told_apart(option: Option) -> str:
    """Which options can't be told apart from this one; empty where all can.

    option [SI] (one) any → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    if not option.alike:
        return ""
    named = ", ".join(str(each) for each in option.alike)
    return f"Can’t be told apart from {named} by how it sits and springs."
