"""What can hurt, with what it is worth: the one author of the figures' high side and of the words for it.

A force or an energy that hangs on something that nobody knows, that somebody guessed and typed, or that carries an uncertainty of its
own is the 97.5 % point of all that fit, never less than what was typed, and says so: in the plan's JSON, on its page, at the
terminal, on the sheet and at the steps alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Final

from topout.bench_file import guesses
from topout.bench_file.model import BenchFile, End
from topout.physics import air_spring, hazards
from topout.physics.air_spring import Chambers
from topout.physics.hazards import rounded_up
from topout.planner.fitted import STANDS_AT
from topout.planner.hazard import Hazard, HazardKnown, divided
from topout.planner.inexact import MOVING, hurt_by
from topout.planner.results import Plan
from topout.units import System

if TYPE_CHECKING:
    from topout.planner.known_to import Bounds
    from topout.uncertainty.intervals import Interval

HIGH_SIDE: Final = "(a guess, high side)"
WIDE: Final = "(high side)"  # not exact, and nothing of it guessed
FROM_GUESS: Final = "(from a guess)"  # typed, and nothing says what else it could be
BEHIND: Final[Mapping[HazardKnown, str]] = {
    "exact": "", "high-side": WIDE, "guess": HIGH_SIDE, "from-guess": FROM_GUESS,
}  # fmt: skip
_NOUN: Final[Mapping[End, str]] = {"front": "fork", "rear": "shock"}
_STATES: Final = ("before", "after")


def on_high_side(bench: BenchFile, plan: Plan, moving: bool) -> Plan:
    """The plan with what can hurt on its high side, and how it is known, at both ends.

    bench [SI] (one) as read; plan [SI] (one) its plan; moving [-] (one) whether a control moves, then fewer are drawn → [SI] (one). Raises
    nothing. Source: physics.md 9 and 12.
    """
    pair, bounds, known = _of_end(bench, "front", (plan.hazard_before, plan.hazard_after), plan.bounds, moving)
    told = replace(plan, hazard_before=pair[0], hazard_after=pair[1], hazard_known=known, bounds=bounds)
    rear = plan.rear
    if rear is None:
        return told
    pair, bounds, known = _of_end(bench, "rear", (rear.hazard_before, rear.hazard_after), bounds, moving)
    behind = replace(rear, hazard_before=pair[0], hazard_after=pair[1], hazard_known=known)
    return replace(told, rear=behind, bounds=bounds)


_Pair = tuple[Hazard | None, Hazard | None]


def _of_end(
    bench: BenchFile, end: End, pair: _Pair, bounds: Bounds | None, moving: bool
) -> tuple[_Pair, Bounds | None, HazardKnown]:
    """One end's figures before and after, the limits of them, and how they are known."""
    if pair == (None, None):
        return pair, bounds, "exact"
    at = ("hazard",) if end == "front" else ("rear", "hazard")
    guessed = guesses.keys(bench.guessed, _NOUN[end], getattr(bench, _NOUN[end]))
    if guessed:
        from topout.planner import drawn_chambers  # an exact plan starts without what is drawn

        made = drawn_chambers.of_file(bench, end, guessed, MOVING if moving else drawn_chambers.COUNT)
        if made is None:
            return pair, bounds, "from-guess"
        of = dict(bounds.of) if bounds is not None else {}
        one, two = (
            _taken(hurts, _of_chambers(chambers, made.weights), of, (*at, state))
            for hurts, chambers, state in zip(pair, (made.before, made.after), _STATES, strict=True)
        )
        return (one, two), None if bounds is None else replace(bounds, of=of), "guess"
    if bounds is None:
        return pair, None, "exact"
    if hurt_by(bounds.assumed, end):
        return pair, bounds, "guess"
    inexact = any(place[: len(at)] == at for place in bounds.of)
    return pair, bounds, "high-side" if inexact else "exact"


def _of_chambers(of: Chambers, weights: Any) -> dict[str, Interval | None]:
    from topout.uncertainty.intervals import interval

    # A draw that locks is no fork that anybody rode in; where one in twenty does, no limits of the others are told.
    values = hazards.at_full_extension(air_spring.computable(of))
    return {f.name: interval(each, weights) for f, each in zip(fields(Hazard), values, strict=True)}


def _taken(
    typed: Hazard | None, drawn: Mapping[str, Interval | None], of: dict[tuple[str, ...], Interval], at: tuple[str, ...]
) -> Hazard | None:
    """The higher of what was typed and of the 97.5 % point; nothing of a state of which nothing is computed."""
    if typed is None:
        return None
    highest: dict[str, float | None] = {}
    for name, found in drawn.items():
        known = [each for each in (getattr(typed, name), None if found is None else found.high95) if each is not None]
        highest[name] = max(known, default=None)
        of.pop((*at, name), None)
        if found is not None and found.high95 > found.low95:
            of[(*at, name)] = found
    return Hazard(**highest)


@dataclass(frozen=True, slots=True)
class Hurts:
    """What can hurt at one end, in a sentence, and how it is known."""

    end: End
    text: str
    known: HazardKnown


def sentences(benches: tuple[BenchFile, BenchFile], results: Mapping[str, Any], system: System) -> tuple[Hurts, ...]:
    """What pushes at each end and what is shut in, the higher of before and after, in words; nothing of an end that holds none.

    benches [SI] (2) before and after; results [SI] (one) a plan's JSON; system [-] (one) the units to say it in → [-] (2) at
    most. Raises nothing. Source: physics.md 9.
    """
    rear = results.get("rear") or {}
    said = (_said(benches, end, of.get("hazard"), results, system) for end, of in (("front", results), ("rear", rear)))  # type: ignore[arg-type]
    return tuple(each for each in said if each is not None)


def _said(
    benches: tuple[BenchFile, BenchFile], end: End, hazard: Mapping[str, Any] | None, results: Mapping[str, Any],
    system: System,
) -> Hurts | None:  # fmt: skip
    states = [hazard[state] for state in _STATES if hazard.get(state)] if hazard else []
    forces = [n for each in states for n in (each["cap_force_n"], each["ring_force_n"]) if n is not None]
    if hazard is None or not forces:
        return None
    known = hazard.get("known") or _of_older(results, end)
    behind = f" {BEHIND[known]}" if BEHIND[known] else ""
    units = [getattr(bench, _NOUN[end]) for bench in benches]
    drawn = (results.get("drawn") or {}).get("assumed", ())
    gas = f"{_NOUN[end]}.damper" in drawn or any(unit is not None and unit.damper is not None for unit in units)
    damper = _of_damper(states, gas, behind, system)
    if max(forces) <= 0.0:
        return Hurts(end, f"The {_NOUN[end]}’s damper holds gas{damper}", known) if damper else None
    too = f" The {_NOUN[end]}’s damper holds gas too{damper}" if damper else ""
    force = system.show(rounded_up(max(forces)), "force", "N")
    apart = all(map(divided, states))
    of_gas, of_spring = (("damper_energy_j",), ("cap_force_n", "ring_force_n", "spring_energy_j"))
    if apart and known == "high-side" and _doubted(states, *of_gas) and not _doubted(states, *of_spring):
        behind = ""  # the damper's gas alone is not exact; of what is guessed nothing is said without its mark
    held_j = max(_known(states, "spring_energy_j" if apart else "energy_j"), default=None)
    if gas and not apart:
        held_j = None  # kept before the damper's gas stood apart
    energy = "" if held_j is None else f" and holds {shut_in(held_j, system)}"
    airs = [unit.air for unit in units if unit is not None and unit.air is not None]
    if not airs:
        on = "top cap" if end == "front" else "its collar"
        return Hurts(
            end,
            f"Wound up at {STANDS_AT[_NOUN[end]]} the coil pushes on {on} with up to {force}{energy}{behind}: wind it back before anything is unscrewed.{too}",
            known,
        )
    on = "top cap and seal head" if end == "front" else "the can"
    several = any(air.negative in ("self-equalising", "separate-valve") for air in airs)
    more = any(air.second_volume_m3 is not None or air.second_pressure_gauge_pa is not None for air in airs)
    out = ", every chamber," if more else ", both chambers," if several else ""
    # Emptying the main side of a can does not empty its negative one: what shows that it is empty is its length.
    first = f"let it out{out} before anything is unscrewed."
    if end == "rear":
        first = f"let it out{out.rstrip(',')}. Unscrew nothing before it stands at {STANDS_AT[_NOUN[end]]}."
    text = f"At {STANDS_AT[_NOUN[end]]} the air pushes on {on} with up to {force}{energy}{behind}: {first}{too}"
    return Hurts(end, text, known)


def _of_damper(states: list[Mapping[str, Any]], gas: bool, behind: str, system: System) -> str:
    """What goes on after "The damper holds gas", of both states the higher; empty where it holds none."""
    held_j = max(_known(states, "damper_energy_j"), default=None)
    stays = "and that stays in: leave it shut."
    if held_j:
        return f", up to {shut_in(held_j, system)}{behind if _doubted(states, 'damper_energy_j') else ''}, {stays}"
    return f", {stays}" if gas and held_j is None else ""


def _doubted(states: Iterable[Mapping[str, Any]], *names: str) -> bool:
    """Whether any of these figures is told with its limits: it was drawn."""
    return any(f"{name}_high95" in each for each in states for name in names)


def _known(states: Iterable[Mapping[str, Any]], name: str) -> list[float]:
    return [each[name] for each in states if each.get(name) is not None]


def shut_in(energy_j: float, system: System) -> str:
    """An energy that is shut in, rounded up, never down to nothing.

    energy_j [J] (one) 0 and more; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: physics.md 9.
    """
    up_j = rounded_up(energy_j)
    return system.show(up_j, "energy", "J", decimals=2 if 0.0 < up_j < 1.0 else None)


def _of_older(results: Mapping[str, Any], end: End) -> HazardKnown:
    """Of a plan that was kept before it said so: what was drawn stood on its high side then too."""
    told = results.get("drawn")
    if not told:
        return "exact"
    return "guess" if hurt_by(told["assumed"], end) else "high-side"


def on(of: Iterable[Hurts], end: End) -> Iterator[str]:
    """The sentences of one end.

    of [-] (any) as `sentences` gives them; end [-] (one) front or rear → [-] (1) at most. Raises nothing. Source: none needed, bookkeeping.
    """
    return (each.text for each in of if each.end == end)
