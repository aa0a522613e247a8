"""What a plan of a bike changes that no step of the job does: the end that the job is not about, and a shock's stroke.

A job is of one unit, and its steps set that one. A plan may move both ends; what it moves at the other one is said wherever
somebody could take it for done.
"""

from __future__ import annotations

from typing import Any, Final, Literal

from topout.bench_file.model import BenchFile
from topout.planner import change
from topout.planner.facts import Fact
from topout.planner.summary import Summary
from topout.units import NO_BREAK

NAMES: Final = {"front": "fork", "rear": "shock"}
_OTHER: Final[dict[str, Literal["front", "rear"]]] = {"front": "rear", "rear": "front"}
_SAME: Final = 1e-3  # relative: the Book keeps a pressure as it was typed, in one unit or another
# What is set at an end, and where the bench file has it.
_SET: Final[dict[str, tuple[str, ...]]] = {
    "front": (
        "travel_m", "air.pressure_gauge_pa", "air.negative_pressure_gauge_pa", "air.second_pressure_gauge_pa", "air.spacers",
        "coil.rate_n_per_m", "coil.preload_m",
    ),
    "rear": ("stroke_m", "air.pressure_gauge_pa", "air.spacers", "coil.rate_n_per_m", "coil.preload_m"),
}  # fmt: skip


def moved(of: Summary, end: Literal["front", "rear"]) -> tuple[Fact, ...]:
    """What the plan sets otherwise at one end.

    of [SI] (one) a summary; end [-] (one) front or rear → [SI] (any) facts. Raises nothing. Source: none needed, bookkeeping.
    """
    groups = of.groups if end == "front" else of.rear.groups if of.rear is not None else ()
    return tuple(each for _, group in groups[:1] for each in group if isinstance(each, Fact) and each.value("change"))


def elsewhere(of: Summary, end: Literal["front", "rear"]) -> str:
    """What the plan of a job about this `end` sets at the other one, which no step of the job does; empty where it is nothing.

    of [SI] (one) a summary; end [-] (one) that the job is about → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    away, it = moved(of, _OTHER[end]), NAMES[_OTHER[end]]
    if not away:
        return ""
    what = ", ".join(map(_said, away))
    return f"The plan sets the {it} too: {what}. No step of this job does it: set the {it} by itself, and look that it was set before the bike goes out."


def reducers(of: Summary, end: Literal["front", "rear"]) -> str:
    """That the plan of a shock's job makes its stroke another, which no step of the job does; empty where it stays.

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
    away, it = moved(of, _OTHER[end]), NAMES[_OTHER[end]]
    if not away:
        return ""
    return f"This takes the {it} set too: {', '.join(map(_said, away))}. The steps of this job did not set it: ask us before you ride."


def is_set(planned: BenchFile, now: BenchFile, end: Literal["front", "rear"]) -> bool:
    """Whether an end stands today as a plan sets it: another job, or a hand, did that half.

    planned [SI] (one) with its change; now [SI] (one) the bike as the Book has it; end [-] (one) front or rear → [-] (one).
    Raises nothing. Source: none needed, bookkeeping.
    """
    table = "fork" if end == "front" else "shock"
    was, wanted, today = (getattr(each, table) for each in (planned, change.changed(planned), now))
    for path in _SET[end]:
        before, after, here = (_at(each, path) for each in (was, wanted, today))
        if before != after and (
            here is None or after is None or abs(here - after) > _SAME * max(abs(after), abs(here))
        ):
            return False
    return True


def _at(of: Any, path: str) -> float | None:
    for name in path.split("."):
        of = getattr(of, name, None)
    return None if of is None else float(of)


def _said(of: Fact) -> str:
    unit = f"{NO_BREAK}{of.unit}" if of.dimension != "count" else ""
    return f"{of.words} {of.trimmed('before')} → {of.trimmed('after')}{unit}"
