"""What a plan of a bike changes beside the unit that the job is about: the other end, and a shock's stroke.

A job is of one unit. Its steps set at the other end what a valve or a collar sets; what has to be opened for there is a job of
its own. What no step of the job does is said wherever somebody could take it for done.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final, Literal

from topout.bench_file.model import BenchFile
from topout.planner import change
from topout.planner.facts import Fact
from topout.planner.summary import Summary
from topout.units import NO_BREAK

Way = Literal["pressure", "preload", "by-itself", "none"]
NAMES: Final = {"front": "fork", "rear": "shock"}
OTHER: Final[dict[str, Literal["front", "rear"]]] = {"front": "rear", "rear": "front"}
PRESSURE, PRELOAD = "air.pressure_gauge_pa", "coil.preload_m"
_SAME: Final = 1e-3  # relative: the Book keeps a pressure as it was typed, in one unit or another
_BY_STEPS: Final[dict[str, Way]] = {PRESSURE: "pressure", PRELOAD: "preload"}  # nothing is opened for these
# What is set at an end, and where the bench file has it.
_SET: Final[dict[str, tuple[str, ...]]] = {
    "front": (
        "travel_m", "air.pressure_gauge_pa", "air.negative_pressure_gauge_pa", "air.second_pressure_gauge_pa", "air.spacers",
        "coil.rate_n_per_m", "coil.preload_m",
    ),
    "rear": ("stroke_m", "air.pressure_gauge_pa", "air.spacers", "coil.rate_n_per_m", "coil.preload_m"),
}  # fmt: skip


def moved(of: Summary, end: Literal["front", "rear"]) -> tuple[Fact, ...]:
    """What the plan sets otherwise at one end, also where nobody knows what was there.

    of [SI] (one) a summary; end [-] (one) front or rear → [SI] (any) facts. Raises nothing. Source: none needed, bookkeeping.
    """
    groups = of.groups if end == "front" else of.rear.groups if of.rear is not None else ()
    return tuple(
        each
        for _, group in groups[:1]
        for each in group
        if isinstance(each, Fact) and (each.value("change") or (each.before_si is None and each.after_si is not None))
    )


def changed(planned: BenchFile, end: Literal["front", "rear"]) -> dict[str, tuple[float | None, float | None]]:
    """What a plan sets otherwise at one end, by where the bench file has it: before and after.

    planned [SI] (one) with its change; end [-] (one) front or rear → [SI] (any) pairs, None where not known. Raises nothing.
    Source: none needed, bookkeeping.
    """
    table = "fork" if end == "front" else "shock"
    was, wanted = (getattr(each, table) for each in (planned, change.changed(planned)))
    pairs = {path: (_at(was, path), _at(wanted, path)) for path in _SET[end]}
    return {path: pair for path, pair in pairs.items() if not _same(*pair)}


def way(planned: BenchFile, end: Literal["front", "rear"]) -> Way:
    """How what a plan changes at the end that a job is not about is set: by its valve, by its collar, or by a job of its own.

    planned [SI] (one) with its change; end [-] (one) that the job is about → [-] (one). Raises nothing. Source: procedures.md.
    """
    found = changed(planned, OTHER[end])
    if not found:
        return "none"
    known = all(after is not None for _, after in found.values())
    return _BY_STEPS.get(next(iter(found)), "by-itself") if len(found) == 1 and known else "by-itself"


def elsewhere(of: Summary, end: Literal["front", "rear"], way: Way = "by-itself", by_steps: bool = False) -> str:
    """What the plan of a job about this `end` sets at the other one and is not set; empty where it is nothing.

    of [SI] (one) a summary; end [-] (one) that the job is about; way [-] (one) how it is set; by_steps [-] (one) whether a
    step of the job does it → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    away, it = moved(of, OTHER[end]), NAMES[OTHER[end]]
    if not away:
        return ""
    told = f"The plan sets the {it} too: {', '.join(map(_said, away))}."
    if by_steps:
        return f"{told} What a step of this job read there is missing: sign that step, or set the {it} and write it in the Book."
    job = " It has to be opened for that, so it is a job of its own." if way == "by-itself" else ""
    return f"{told} No step of this job does it.{job} Set the {it} by itself, and look that it was set before the bike goes out."


def reducers(of: Summary, end: Literal["front", "rear"]) -> str:
    """That the plan of a shock's job makes its stroke another and no step of the job does it; empty where it stays.

    of [SI] (one) a summary; end [-] (one) that the job is about → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    stroke = next((each for each in moved(of, "rear") if each.key == "shock_stroke"), None)
    if end == "front" or stroke is None:
        return ""
    return (
        f"The plan changes the shock’s stroke: {_said(stroke)}. No step of this job does it: fit or take out the reducers by the maker’s "
        "sheet, and measure the stroke."
    )


def for_rider(of: Summary, end: Literal["front", "rear"]) -> str:
    """The same of the other end in a rider's words; empty where the plan changes nothing there.

    of [SI] (one) a summary; end [-] (one) that the job is about → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    away, it = moved(of, OTHER[end]), NAMES[OTHER[end]]
    if not away:
        return ""
    return f"This takes the {it} set too: {', '.join(map(_said, away))}. We did not set it with this job: ask us before you ride."


def is_set(
    planned: BenchFile,
    now: BenchFile,
    end: Literal["front", "rear"],
    off: Mapping[str, float],
    read: Collection[str] = (),
) -> bool:
    """Whether an end stands today as a plan sets it: another job, or a hand, did that half.

    planned [SI] (one) with its change; now [SI] (one) the bike as the Book has it; end [-] (one) front or rear; off [SI] (any)
    0 and more, how far what was read there may be off the plan, by where the file has it; read [-] (any) where in the file a
    step of the job set it and judged it by its gauge → [-] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    today = now.fork if end == "front" else now.shock
    return all(
        path in read or _stands(_at(today, path), was, wanted, off.get(path, 0.0))
        for path, (was, wanted) in changed(planned, end).items()
    )


def _stands(here: float | None, was: float | None, wanted: float | None, off: float) -> bool:
    """Whether a value is the wanted one as far as could be read; a small step that nobody took yet is nearer to what was."""
    if here is None or wanted is None:
        return False
    return _same(wanted, here) or abs(wanted - here) <= off and (was is None or abs(wanted - here) < abs(was - here))


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= _SAME * max(abs(one), abs(other))


def _at(of: Any, path: str) -> float | None:
    for name in path.split("."):
        of = getattr(of, name, None)
    return None if of is None else float(of)


def _said(of: Fact) -> str:
    unit = f"{NO_BREAK}{of.unit}" if of.dimension != "count" else ""
    before = "" if of.before_si is None else f"{of.trimmed('before')} → "
    return f"{of.words} {before}{of.trimmed('after')}{unit}"
