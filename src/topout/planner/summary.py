"""What a plan answers, as typed facts rounded once. Page, terminal, sheet and frozen plan only put them into words.

A fact keeps its SI values and says its numbers through `units`: a difference is always that of the figures shown, in
the unit shown. Built from the results as JSON holds them (docs/bench-file.md), so that a plan frozen long ago is told
by the same lines as one worked out now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from topout import units
from topout.bench_file.model import Air, BenchFile, Coil
from topout.planner import change, facts, hurts, known_to, limits, missing, over_limit, rear_summary
from topout.planner.facts import FORCES_SAID_TO, Chosen, Fact
from topout.planner.hurts import Hurts
from topout.planner.known_to import Bounds
from topout.planner.phrase import Phrase
from topout.planner.rear_summary import RearSummary
from topout.planner.results import Curve, Default, Plan, WhichState

Verdict = Literal["set", "locks", "no-spring", "no-air"]
_SAG: Final = "sag.front.travel_m"
_RING: Final = "sag.front.shown_m"


@dataclass(frozen=True, slots=True)
class Heard:
    """A warning as it is said: what it is called, its sentence; `found` where it is about the bike as found alone."""

    code: str
    name: str
    text: str
    found: bool
    danger: bool


@dataclass(frozen=True, slots=True)
class Lacking:
    """A thing that is not known: how a mechanic calls it, and its place in the bench file, "[fork.air] bore"."""

    words: str
    place: str


@dataclass(frozen=True, slots=True)
class SetCoil:
    """A coil to fit: its rate [N/m], how far it is wound up [m], and whether another one than before."""

    rate_n_per_m: float
    preload_m: float
    another: bool


@dataclass(frozen=True, slots=True)
class Summary:
    """The answer of a plan. Pressures gauge [Pa], None where nothing may be set; facts in groups as they are listed."""

    verdict: Verdict
    pressure_pa: float | None
    negative_pa: float | None
    limit_pa: float | None  # the maker's, where what is set lies above it
    spacers: int | None
    travel: Fact
    sag: Fact
    ring: Fact  # what the sag O-ring shows: less by the travel lost at the top
    ring_low: Fact  # least and most of that, for friction
    ring_high: Fact
    end_force: Fact
    firmer_percent: int | None  # of the end forces as they are said
    head_angle: Fact
    at_sag: bool
    groups: tuple[tuple[str, tuple[Fact | Chosen, ...]], ...]  # set, air spring, spring, room
    unloaded: tuple[Fact, ...]
    sagged: tuple[Fact, ...]
    heard: tuple[Heard, ...]  # dangers first
    lacking: tuple[Lacking, ...]
    lacking_spring: tuple[Lacking, ...]  # of those, what the spring after the change misses
    bounds: Bounds | None = None  # how far the numbers are known, where something was drawn for them
    second_pa: float | None = None  # of a second positive chamber, gauge
    coil: SetCoil | None = None  # in place of the pressures
    rear: RearSummary | None = None  # of a bike with a rear shock
    forked: bool = True  # there is a fork; without one the answer is the shock's alone
    defaults: tuple[Default, ...] = ()  # what the file does not say and the answer leans on; angles in degrees
    hurts: tuple[Hurts, ...] = ()  # what can hurt at each end, before anything is unscrewed
    # The pressure is the one that is in it, and nothing says whether it is right: no sag was computed.
    stays: bool = False
    lacking_load: tuple[Lacking, ...] = ()  # what the load on the fork misses then
    keep_limit_pa: float | None = None  # the maker's, where the pressure that keeps the sag lies above it

    @property
    def ring_span(self) -> tuple[int, int] | None:
        """Between what the O-ring may stand after the change, for friction [whole mm]; None where it is one figure.

        nothing → [m] (2) whole millimetres, or None. Raises nothing. Source: physics.md 7.
        """
        low, high = self.ring_low.value("after"), self.ring_high.value("after")
        return None if low is None or high is None or low >= high else (int(low), int(high))

    @property
    def stance(self) -> dict[str, Fact]:
        """The stance that is spoken of: at sag where both states rest, else unloaded; by key.

        nothing → [SI] (any) by name. Raises nothing. Source: physics.md 6.
        """
        return {fact.key: fact for fact in (self.sagged if self.at_sag else self.unloaded)}

    def listed(self) -> Iterator[Fact]:
        """Every quantity that is listed.

        nothing → [SI] (any) facts. Raises nothing. Source: none needed, bookkeeping.
        """
        for _, group in self.groups:
            yield from (fact for fact in group if isinstance(fact, Fact))
        yield from self.unloaded
        yield from self.sagged


def of_plan(
    bench: BenchFile, plan: Plan, changed: BenchFile | None = None, system: units.System = units.BENCH
) -> Summary:
    """The summary of a plan worked out now; with its curves also what follows from them.

    bench [SI] (one) as read; plan [SI] (one) its plan; changed [SI] (one) as read, or None; system [-] (one) the units
    to say it in → [SI] (one). Raises FaultsFound where the sag found can't be. Source: none needed, bookkeeping.
    """
    return of_results(bench, plan.to_keep(), changed, (plan.curve_before, plan.curve_after), system)


# Facts of a state by their key, and where the limits of such a number stand in a state's JSON.
_PLACES: Final = {
    "sag": ("sag", "front", "travel_m"), "ring": ("sag", "front", "shown_m"), "share": ("sag", "front", "share"),
    "low": ("sag", "front", "low_m"), "high": ("sag", "front", "high_m"), "load": ("sag", "front", "load_n"),
    "end_force": ("end_force_n",),
}  # fmt: skip


def _as_known(of: Summary, bounds: Bounds) -> Summary:
    """The same with no figure finer than it is known."""

    def coarser(fact: Fact, place: tuple[str, ...]) -> Fact:
        found = [one for state in ("before", "after") if (one := bounds.of.get((state, *place))) is not None]
        half = max((known_to.half_si(one, fact.dimension) for one in found), default=0.0)
        own = units.decimals_of(fact.unit) if fact.decimals is None else fact.decimals
        return replace(fact, decimals=known_to.no_finer(half, fact.dimension, fact.unit, own)) if half > 0.0 else fact

    def stance(facts_of: tuple[Fact, ...], part: str) -> tuple[Fact, ...]:
        return tuple(coarser(each, ("geometry", part, each.key.replace("_rad", "_deg"))) for each in facts_of)

    groups = tuple(
        (title, tuple(coarser(f, _PLACES[f.key]) if isinstance(f, Fact) and f.key in _PLACES else f for f in group))
        for title, group in of.groups
    )
    rear = None if of.rear is None else rear_summary.as_known(of.rear, coarser)
    return replace(
        of, groups=groups, rear=rear, unloaded=stance(of.unloaded, "unloaded"), sagged=stance(of.sagged, "sagged"),
        sag=coarser(of.sag, _PLACES["sag"]), ring=coarser(of.ring, _PLACES["ring"]), end_force=coarser(of.end_force, _PLACES["end_force"]),
        head_angle=coarser(of.head_angle, ("geometry", "sagged" if of.at_sag else "unloaded", "head_angle_deg")),
    )  # fmt: skip


def of_results(
    bench: BenchFile,
    results: dict[str, Any],
    changed: BenchFile | None = None,
    curves: tuple[Curve | None, Curve | None] = (None, None),
    system: units.System = units.BENCH,
) -> Summary:
    """The summary of results as `topout plan --json` prints them and a job keeps them. Raises FaultsFound.

    What stands on the sag O-ring's span stays in whole millimetres, as it is measured.

    bench [SI] (one) as read; results [SI] (one) as JSON; curves [SI] (2) or None; changed [SI] (one) as read, or None;
    system [-] (one) the units to say it in → [SI] (one). Raises FaultsFound where the sag found can't be. Source: none
    needed, bookkeeping.
    """
    after = changed if changed is not None else change.changed(bench)
    benches = (bench, after)
    bounds = Bounds.of_results(results)
    unsagged = facts.dig(results["after"], _SAG) is None and facts.dig(results["keep"], "sag.pressure_pa") is None
    if bounds is not None:  # what is not known well enough stands in no sentence and no table as one figure
        results = bounds.worth_saying(results)
    states = (results["before"], results["after"])
    airs = [b.fork.air if b.fork is not None else None for b in benches]
    air = airs[1]
    coil = after.fork.coil if after.fork is not None and air is None else None
    verdict = _verdict(air, coil, results, not missing.for_spring(after))
    is_set = verdict == "set" and air is not None
    pressure = air.pressure_gauge_pa if is_set and air is not None else None
    negative = air.negative_pressure_gauge_pa if is_set and air is not None and facts.second_valve(air) else None
    over = is_set and air is not None and bool(limits.over_pressure(air))

    def fact(key: str, words: str, unit: tuple[str, str, int | None], values: Iterable[float | None]) -> Fact:
        before_si, after_si = values
        return Fact(key, words, *unit, before_si, after_si)

    def of(path: str) -> list[float | None]:
        return [facts.dig(state, path) for state in states]

    travel = fact("travel", "travel", facts.trimmed("length", "mm", facts.travel_of(benches)), facts.travel_of(benches))
    sag = fact("sag", "sag", ("length", "mm", 1), of(_SAG))
    ring = fact("ring", "as the sag O-ring shows it", ("length", "mm", 1), of(_RING))
    lost = [None if x is None or shown is None else x - shown for x, shown in zip(of(_SAG), of(_RING), strict=True)]
    ends = []
    for name in ("low", "high"):
        values = of(f"sag.front.{name}_m")
        shown = [
            None if v is None or less is None else max(v - less, 0.0) for v, less in zip(values, lost, strict=True)
        ]
        ends.append(fact(f"ring_{name}", f"{name} on the O-ring", ("length", "mm", 0), shown))
    end = fact("end_force", "bottom-out force", ("force", "N", FORCES_SAID_TO), of("end_force_n"))
    unloaded, sagged = (tuple(facts.stances(states, pick)) for pick in ("unloaded", "sagged"))
    at_sag = bool(sagged) and all(each.both for each in sagged)
    angle = [each for each in (sagged if at_sag else unloaded) if each.key == "head_angle_rad"]
    lacking = _lacking(*benches, () if bounds is None else bounds.assumed)
    spring_places = missing.for_spring(after)
    groups = (
        (facts.set_title(verdict == "set"), facts.group_set(benches, travel, fact)),
        ("Air spring", facts.group_air(airs[0], airs[1], system)),
        ("Spring", facts.group_spring(of, fact, sag, ring, end, curves)),
        ("Room", facts.group_room(benches, results, fact, system)),
    )

    def here(found: Iterable[Fact]) -> tuple[Fact, ...]:
        return tuple(each.in_system(system) for each in found)

    told = Summary(
        verdict, pressure, negative,
        air.pressure_limit_gauge_pa if over and air is not None else None,
        air.spacers if is_set and air is not None else None,
        travel.in_system(system),
        sag.in_system(system), ring.in_system(system), ends[0], ends[1],
        end.in_system(system), facts.percent(end),
        angle[0] if angle else Fact("head_angle_rad", "head angle", "angle", "deg", 1, None, None),
        at_sag,
        tuple(
            (title, tuple(each.in_system(system) if isinstance(each, Fact) else each for each in group))
            for title, group in groups
        ),
        here(unloaded), here(sagged) if at_sag else (),
        _heard(results["warnings"], system), lacking,
        tuple(each for each in lacking if each.place in spring_places), bounds,
        air.second_pressure_gauge_pa if is_set and air is not None else None,
        _set_coil(bench, coil) if verdict == "set" else None,
        rear_summary.of_results(benches, results, system),
        after.fork is not None or after.shock is None,
        tuple(Default(each["key"], each["change"], each["danger"], each["usual"]) for each in results.get("defaults", ())),
        hurts.sentences(benches, results, system),
        unsagged and pressure is not None and airs[0] is not None and airs[0].pressure_gauge_pa == pressure,
        tuple(each for each in lacking if each.place in missing.for_load(after)),
        over_limit.of_same_sag(results, over_limit.FRONT, air),
    )  # fmt: skip
    return told if bounds is None else _as_known(told, bounds)


def _set_coil(bench: BenchFile, coil: Coil | None) -> SetCoil | None:
    if coil is None or coil.rate_n_per_m is None:
        return None
    before = bench.fork.coil if bench.fork is not None else None
    return SetCoil(coil.rate_n_per_m, coil.preload_m, before is None or before.rate_n_per_m != coil.rate_n_per_m)


def _lacking(bench: BenchFile, after: BenchFile, drawn: Iterable[str]) -> tuple[Lacking, ...]:
    """What is missing; what was drawn in its place, by the words of the bench file, is not."""
    instead = {missing.place_of(word) for word in drawn}
    if any(word.startswith("shock.") for word in drawn):  # its spring is drawn, and says where it rests
        instead.add("[shock] sag")
    places = [place for each in missing.of_plan(bench, after) for place in each if place not in instead]
    return tuple(Lacking(missing.words(place), place) for place in places)


def _verdict(air: Air | None, coil: Coil | None, results: dict[str, Any], known: bool) -> Verdict:
    """Whether there is anything to set: only what was computed is said. `known`: nothing of the fork's spring misses.

    A lock of the shock is warned of by the same code; where the fork's own force was computed the fork does not lock.
    """
    locks = any(w["code"] == "hydraulic-lock" and w["state"] != "before" for w in results["warnings"])
    if locks and (results.get("drawn") is not None or known and results["after"]["end_force_n"] is None):
        return "locks"
    if coil is not None:
        return "set" if results["after"]["end_force_n"] is not None else "no-spring"
    if air is None:
        return "no-air"
    computed = results["after"]["end_force_n"] is not None or results.get("drawn") is not None
    if air.pressure_gauge_pa is None or not computed:
        return "no-spring"
    return "set"


def _heard(warnings: Iterable[dict[str, Any]], system: units.System) -> tuple[Heard, ...]:
    """Each warning once, dangers first; what is not known stands in `Summary.lacking` instead.

    One that was kept with its figures is said in the reader's units, an older one as it was written.
    """
    states: dict[tuple[str, str], list[WhichState]] = {}
    for w in warnings:
        if w["code"] != "missing-input":
            text = Phrase.of_json(w["phrase"]).said(system) if "phrase" in w else w["text"]
            states.setdefault((w["code"], text), []).append(w["state"])
    said = []
    for (code, text), about in states.items():
        found = set(about) == {"before"} and code not in limits.OF_NO_STATE
        name = limits.CODES[code] + (", as found" if found else "")
        said.append(Heard(code, name, text, found, code in limits.DANGERS))
    return tuple(sorted(said, key=lambda one: (not one.danger, one.found)))
