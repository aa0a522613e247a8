"""The figures that an option is said by: before and after its change, and how far each is known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, Final, TypeAlias

from topout.planner.facts import FORCES_SAID_TO, Fact
from topout.planner.options.search import Found
from topout.planner.options.states import States
from topout.planner.options.world import middle
from topout.uncertainty.intervals import Interval, interval

Both: TypeAlias = tuple[Interval, Interval]  # before and after
# What an option is said by: place in a state's JSON, words, dimension, unit, decimals.
_Fact: TypeAlias = tuple[tuple[str, ...], str, str, str, int]
_STANCE: Final[dict[str, _Fact]] = {
    "head_angle": (("geometry", "sagged", "head_angle_deg"), "head angle", "angle", "deg", 1),
    "trail": (("geometry", "sagged", "trail_m"), "trail", "length", "mm", 0),
    "bb_height": (("geometry", "sagged", "bb_height_m"), "bottom bracket", "length", "mm", 0),
}
_FRONT: Final[dict[str, _Fact]] = {
    "sag": (("sag", "front", "travel_m"), "sag", "length", "mm", 0),
    "sag_share": (("sag", "front", "share"), "sag", "share", "%", 0),
    "end_force": (("end_force_n",), "bottom-out force", "force", "N", FORCES_SAID_TO),
}
_REAR: Final[dict[str, _Fact]] = {
    "rear_sag": (("sag", "rear", "stroke_m"), "stroke used at sag", "length", "mm", 1),
    "rear_share": (("sag", "rear", "share_of_stroke"), "sag behind, of the stroke", "share", "%", 0),
    "rear_travel": (("rear", "wheel_travel_m"), "travel of the rear wheel", "length", "mm", 0),
    "rear_end_force": (
        ("rear", "wheel_end_force_n"),
        "bottom-out force behind, at the wheel",
        "force",
        "N",
        FORCES_SAID_TO,
    ),
}


def facts(found: Found, at: States, k: int, before: Any, difference: Any) -> Iterator[tuple[str, Fact]]:
    """Each figure: the bike before, and after it the difference.

    found [-] (one) a search; at [SI] (n, D) the options' states; k [1] (one) which; before, difference [SI] (one) as a plan's JSON has
    them → [SI] (any) by name. Raises nothing. Source: none needed, bookkeeping.
    """
    ends = found.question.ends
    for name, (place, said, dimension, unit, decimals) in (
        *_STANCE.items(), *(_FRONT.items() if ends.front else ()), *(_REAR.items() if ends.rear else ()),
    ):  # fmt: skip
        was, gap = (_at(tree, place) for tree in (before, difference))
        if name in _STANCE and not found.world.forked:  # a plan says no stance at sag of a fork that nobody knows
            key = place[-1].replace("_deg", "_rad")
            one, two = found.question.was.sagged[key], at.sagged[key][k]
            was, gap = _known(middle(one)), _known(middle(two - one))
        elif place[-1].endswith("_deg"):
            was, gap = (None if each is None else math.radians(each) for each in (was, gap))
        yield name, Fact(name, said, dimension, unit, decimals, was, None if was is None or gap is None else was + gap)


def known(
    found: Found,
    at: States,
    k: int,
    stood: Mapping[tuple[str, ...], Both],
    said: Mapping[tuple[str, ...], Interval],
) -> Iterator[tuple[str, Both]]:
    """How far each figure is known, before and after; those of the rear stand in `said`.

    found [-] (one) a search; at [SI] (n, D) the options' states; k [1] (one) which; stood, said [SI] (any) intervals by place in a plan's
    JSON → [SI] (any) by name. Raises nothing. Source: physics.md 12.
    """
    for name, (place, *_) in (*_STANCE.items(), *_FRONT.items(), *_REAR.items()):
        if name in _STANCE and not found.world.forked:
            key = place[-1].replace("_deg", "_rad")
            was, then = interval(found.question.was.sagged[key]), interval(at.sagged[key][k])
        elif place in stood:
            was, then = stood[place]
        else:
            was, then = said.get(("before", *place)), said.get(("after", *place))
        if was is not None and then is not None:
            yield name, (was, then)


def _known(value: Any) -> float | None:
    return float(value) if math.isfinite(value) else None


def _at(tree: Any, place: tuple[str, ...]) -> float | None:
    for word in place:
        tree = tree.get(word) if isinstance(tree, dict) else None
    return tree if isinstance(tree, int | float) else None
