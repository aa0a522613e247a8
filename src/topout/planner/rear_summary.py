"""The rear end of a plan as facts rounded once, and its sentence: like `summary`, for a shock.

Sag stands there twice and is named each time: in mm and per cent of the shock's stroke, and of the rear wheel's travel.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from topout import units
from topout.bench_file.model import BenchFile, Shock
from topout.planner import facts, limits, missing, over_limit
from topout.planner.facts import FORCES_SAID_TO, Fact

RearVerdict = Literal["set", "locks", "no-spring"]
_MM: Final[tuple[str, str, int | None]] = ("length", "mm", 1)
_FORCE: Final[tuple[str, str, int | None]] = ("force", "N", FORCES_SAID_TO)
_SHARE: Final[tuple[str, str, int | None]] = ("share", "%", 1)


@dataclass(frozen=True, slots=True)
class RearSummary:
    """The answer of a plan behind. Pressures gauge [Pa], rates [N/m]; None where nothing may be set or it does not apply."""

    verdict: RearVerdict
    pressure_pa: float | None
    limit_pa: float | None  # the maker's, where what is set lies above it
    spacers: int | None
    rate_n_per_m: float | None
    preload_m: float | None
    stroke: Fact  # that it has in all: reducers make it another
    stroke_used: Fact  # at sag
    of_stroke: Fact
    of_wheel: Fact
    end_force: Fact  # at the wheel where there is a leverage, else at the shock
    firmer_percent: int | None
    groups: tuple[tuple[str, tuple[Fact, ...]], ...]
    lacking: tuple[str, ...]  # of what its spring needs, in words
    # The pressure is the one that is in it, and nothing says whether it is right: no sag was computed.
    stays: bool = False
    keep_limit_pa: float | None = None  # the maker's, where the pressure that keeps the sag lies above it


def of_results(
    benches: tuple[BenchFile, BenchFile], results: dict[str, Any], system: units.System
) -> RearSummary | None:
    """The rear's summary from results as JSON holds them; None without a rear shock.

    benches [SI] (2) before and after, as read; results [SI] (one) as JSON; system [-] (one) the units to say it in → [SI]
    (one) or None. Raises nothing. Source: none needed, bookkeeping.
    """
    before, after = (bench.shock for bench in benches)
    if before is None or after is None:
        return None
    states = (results["before"], results["after"])

    def fact(key: str, words: str, unit: tuple[str, str, int | None], path: str) -> Fact:
        before_si, after_si = (facts.dig(state, path) for state in states)
        return Fact(key, words, *unit, before_si, after_si).in_system(system)

    used = fact("rear_stroke", "sag, stroke used", _MM, "sag.rear.stroke_m")
    of_stroke = fact("rear_share_of_stroke", "sag, share of the stroke", _SHARE, "sag.rear.share_of_stroke")
    of_wheel = fact("rear_share_of_wheel", "sag, share of the wheel’s travel", _SHARE, "sag.rear.share_of_wheel_travel")
    at_shock = fact("rear_end", "bottom-out force at the shock", _FORCE, "rear.end_force_n")
    at_wheel = fact("rear_wheel_end", "bottom-out force at the rear wheel", _FORCE, "rear.wheel_end_force_n")
    behind = (
        used,
        of_stroke,
        fact("rear_ring", "as read at the shock", _MM, "sag.rear.stroke_shown_m"),
        fact("rear_sag", "sag, travel of the rear wheel", _MM, "sag.rear.travel_m"),
        of_wheel,
        fact("rear_low", "rear wheel at the least", _MM, "sag.rear.low_m"),
        fact("rear_high", "rear wheel at the most", _MM, "sag.rear.high_m"),
        fact("rear_load", "load on the rear wheel", _FORCE, "sag.rear.load_n"),
        fact("rear_rate", "wheel rate at sag", ("rate", "N/mm", 1), "rear.wheel_rate_n_per_m"),
        at_shock,
        at_wheel,
    )
    linkage = (
        fact("rear_travel", "rear wheel travel", _MM, "rear.wheel_travel_m"),
        fact("rear_ratio_start", "leverage ratio at the start", ("ratio", "", 2), "rear.ratio_start"),
        fact("rear_ratio_end", "leverage ratio at the end", ("ratio", "", 2), "rear.ratio_end"),
        fact("rear_progression", "progression", ("share", "%", 1), "rear.progression"),
    )
    verdict = _verdict(results)
    air, coil = after.air, after.coil
    is_set = verdict == "set"
    over = bool(air and limits.over_pressure(air))
    end = at_wheel if at_wheel.known else at_shock
    groups = (
        ("Set behind" if is_set else "Asked for behind", tuple(f.in_system(system) for f in _set(before, after))),
        ("Shock", behind),
        ("Linkage", linkage),
    )
    return RearSummary(
        verdict,
        air.pressure_gauge_pa if is_set and air else None,
        air.pressure_limit_gauge_pa if is_set and air and over else None,
        air.spacers if is_set and air else None,
        coil.rate_n_per_m if is_set and coil else None,
        coil.preload_m if is_set and coil else None,
        _stroke(before, after).in_system(system),
        used,
        of_stroke,
        of_wheel,
        end,
        facts.percent(end),
        tuple((title, tuple(each for each in group if each.known)) for title, group in groups),
        tuple(missing.words(place) for place in missing.for_shock(benches[1])),
        is_set and _stays(before, after, results),
        over_limit.of_same_sag(results, over_limit.BEHIND, air),
    )


def _stays(before: Shock, after: Shock, results: dict[str, Any]) -> bool:
    """Whether the can's pressure is not asked for, and neither its sag nor a pressure that keeps it was computed."""
    if before.air is None or after.air is None or before.air.pressure_gauge_pa != after.air.pressure_gauge_pa:
        return False
    kept, sag = (results, "rear.keep.sag.pressure_pa"), (results["after"], "sag.rear.stroke_m")
    return all(facts.dig(at, f"{path}{limit}") is None for at, path in (kept, sag) for limit in ("", "_low95"))


# Facts by their key, and where the limits of such a number stand in a state's JSON.
_PLACES: Final = {
    "rear_stroke": ("sag", "rear", "stroke_m"), "rear_share_of_stroke": ("sag", "rear", "share_of_stroke"),
    "rear_ring": ("sag", "rear", "stroke_shown_m"), "rear_sag": ("sag", "rear", "travel_m"),
    "rear_share_of_wheel": ("sag", "rear", "share_of_wheel_travel"), "rear_low": ("sag", "rear", "low_m"),
    "rear_high": ("sag", "rear", "high_m"), "rear_load": ("sag", "rear", "load_n"), "rear_rate": ("rear", "wheel_rate_n_per_m"), "rear_end": ("rear", "end_force_n"),
    "rear_wheel_end": ("rear", "wheel_end_force_n"),
}  # fmt: skip


def as_known(of: RearSummary, coarser: Callable[[Fact, tuple[str, ...]], Fact]) -> RearSummary:
    """The same with no figure finer than it is known.

    of [SI] (one) a rear summary; coarser [-] (one) a fact and the place of its limits, to the fact with no needless digit →
    [SI] (one). Raises nothing. Source: JCGM 100:2008 7.2.6.
    """

    def one(fact: Fact) -> Fact:
        return coarser(fact, _PLACES[fact.key]) if fact.key in _PLACES else fact

    groups = tuple((title, tuple(one(each) for each in group)) for title, group in of.groups)
    return replace(
        of, groups=groups, stroke_used=one(of.stroke_used), of_stroke=one(of.of_stroke), of_wheel=one(of.of_wheel),
        end_force=one(of.end_force),
    )  # fmt: skip


def _verdict(results: dict[str, Any]) -> RearVerdict:
    ends = results["after"].get("rear")
    # Drawn and not known well enough to be said, it was worked out all the same: its limits stand there.
    if ends is not None and (ends["end_force_n"] is not None or ends.get("end_force_n_low95") is not None):
        return "set"
    found = any(w["code"] == "hydraulic-lock" and w["state"] == "after" for w in results["warnings"])
    return "locks" if found and results["before"].get("rear", {}).get("end_force_n") is not None else "no-spring"


def _stroke(before: Shock, after: Shock) -> Fact:
    dimension, unit, decimals = facts.trimmed("length", "mm", (before.stroke_m, after.stroke_m))
    return Fact("shock_stroke", "stroke", dimension, unit, decimals, before.stroke_m, after.stroke_m)


def _set(before: Shock, after: Shock) -> Iterator[Fact]:
    """What is set on a shock: its stroke, pressure and spacers, or rate and preload."""
    yield _stroke(before, after)
    airs, coils = (before.air, after.air), (before.coil, after.coil)
    if any(airs):
        one, two = (air.pressure_gauge_pa if air else None for air in airs)
        dimension, unit, decimals = facts.trimmed("pressure", "psi", (one, two))
        yield Fact("shock_pressure", "pressure", dimension, unit, decimals, one, two)
        fitted = [float(air.spacers) if air else None for air in airs]
        yield Fact("shock_spacers", "volume spacers", "count", "", 0, fitted[0], fitted[1])
    if any(coils):
        one, two = (coil.rate_n_per_m if coil else None for coil in coils)
        yield Fact("shock_rate", "coil rate", *facts.trimmed("rate", "N/mm", (one, two)), one, two)
        one, two = (coil.preload_m if coil else None for coil in coils)
        yield Fact("shock_preload", "preload", *facts.trimmed("length", "mm", (one, two)), one, two)
