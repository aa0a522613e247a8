"""What was taken for granted, in words: dangers in sentences of their own, the rest in one closing line with what it changes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from topout.bench_file.model import Conditions
from topout.planner import at_mark, defaults
from topout.planner.facts import FORCES_SAID_TO
from topout.planner.fitted import STANDS_AT
from topout.planner.results import Default
from topout.units import System

_TAKEN: Final = {
    "fork.air.negative": "a negative chamber that fills itself", "fork.air.port_position": f"its port at {STANDS_AT['fork']}",
    "fork.overtravel": "the travel measured to the solid stop", "fork.lower_legs": "no air shut into the lower legs",
    "fork.air.spacers": "no volume spacer", "shock.air.spacers": "no volume spacer in the shock",
    "fork.friction": "no friction", "fork.bumper": "no bumper at the end", "fork.air.oil_on_piston": "no oil on the air piston",
    "fork.air.grease_in_negative": "no grease in the negative chamber", "shock.air.negative": "a negative chamber of the shock that fills itself",
    "shock.air.port_position": f"its port at {STANDS_AT['shock']}", "shock.friction": "no friction in the shock",
    "shock.bumper": "no bumper in the shock", "rear_wheel.sag": "a rear end that does not sag",
    "conditions.altitude": "sea level",
}  # fmt: skip
_OF_THE_DAY: Final = ("conditions.temperature", "conditions.altitude")
_LEAST: Final = {**defaults.LEAST, "head_angle_deg": math.degrees(defaults.LEAST["head_angle_rad"])}
_TO_SET: Final = {  # pressures of single answers, by what they are set for
    "set_sag_pa": "that sag", "set_share_pa": "that share", "set_end_pa": "that force", "set_here_pa": "the same sag there",
}  # fmt: skip


def dangers(of: Iterable[Default], system: System) -> list[str]:
    """What may hurt somebody because it was taken for granted; said before everything else.

    of [SI] (any) of one plan; system [-] (one) the units to say it in → [-] (any) words. Raises nothing. Source: physics.md
    8 and 9; common practice, no source.
    """
    keys = {each.key for each in of if each.danger}
    found = []
    for end in ("fork", "shock"):
        kind, port = f"{end}.air.negative" in keys, f"{end}.air.port_position" in keys
        if not kind and not port:
            continue
        out = STANDS_AT[end]
        what = "negative chamber is taken to fill itself" if kind else f"port is taken to lie at {out}"
        through = f" through a port at {out}" if kind and port else ""
        where = [*(["it has a valve of its own"] if kind else []), *(["the port lies further in"] if port else [])]
        found.append(
            f"The {end}’s {what}{through}: nobody wrote it down. Where {' or '.join(where)}, "
            f"air stays trapped in {'it' if kind else 'the negative chamber'} after bleeding."
        )
    if "fork.overtravel" in keys:
        more = system.show(defaults.OVERTRAVEL_M, "length", "mm", trim=True)
        found.append(
            f"The travel is taken as measured to the solid stop. Measured by hand, a hard landing takes up to {more} more: "
            "then the tyre may touch the crown."
        )
    return found


def closing(of: Iterable[Default], system: System) -> str:
    """Everything else in one line, each with what it changes where that was worked out; empty where nothing was taken.

    of [SI] (any) of one plan; system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    at = system.show(Conditions().temperature_k, "temperature", "degC")
    taken = _TAKEN | {"conditions.temperature": at}
    named = [f"{taken[each.key]}{_beside(each, system)}" for each in of if not each.danger and each.key in taken]
    return f"Not written down, and taken all the same: {', '.join(named)}." if named else ""


def for_rider(of: Iterable[Default]) -> str:
    """The same for a rider: what of it is known to move a figure, without the weather.

    of [SI] (any) of one plan → [-] (one) words, or none. Raises nothing. Source: none needed, bookkeeping.
    """
    named = [_TAKEN[each.key] for each in of if each.key in _TAKEN and each.key not in _OF_THE_DAY and _moves(each)]
    return f"Taken, not measured: {', '.join(named)}." if named else ""


def said(of: Iterable[Default], system: System) -> tuple[list[str], list[str]]:
    """What a single answer leans on, in its own lines: the dangers, marked, which stand before the answer, and the rest, below it.

    of [SI] (any) of one answer; system [-] (one) the units to say it in → [-] (2) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    told = [each.in_degrees() for each in of]
    rest = closing(told, system)
    return [f"! {each}" for each in dangers(told, system)], [rest] if rest else []


def _moves(of: Default) -> bool:
    return not of.danger and any(abs(gap) >= _LEAST[name] for name, gap in (of.change or {}).items())


def _beside(of: Default, system: System) -> str:
    if of.change is None:
        return ""
    told = list(_told(of.change, system))
    if not told:
        return " (changes nothing here)"
    return f" ({_with(of, system)}{', '.join(told)})"


def _told(change: dict[str, float], system: System) -> Iterator[str]:
    def gap(name: str) -> float:
        value = change.get(name, 0.0)
        return value if abs(value) >= _LEAST[name] else 0.0

    if pa := gap("keep_sag_pa"):
        yield f"{at_mark.show_in(system, abs(pa))} {_more(pa)} for the same sag"
    if sag_m := gap("sag_m"):
        yield f"sag {system.show(abs(sag_m), 'length', 'mm', decimals=0)} {_more(sag_m)}"
    if (either_m := gap("sag_either_way_m")) > 0.0:
        yield f"sag {system.show(either_m, 'length', 'mm', decimals=0)} either way"
    if force_n := gap("end_force_n"):
        yield f"bottom-out force {system.show(abs(force_n), 'force', 'N', decimals=FORCES_SAID_TO)} {_more(force_n)}"
    if turn := gap("head_angle_deg"):
        angle = system.show(math.radians(abs(turn)), "angle", "deg")
        yield f"head angle {angle} {'steeper' if turn > 0.0 else 'slacker'}"
    for name, purpose in _TO_SET.items():
        if pa := gap(name):
            yield f"{at_mark.show_in(system, abs(pa))} {_more(pa)} for {purpose}"
    if pa := gap("after_stroke_pa"):
        yield f"{at_mark.show_in(system, abs(pa))} {_more(pa)} after the first stroke"
    if lost_m := gap("lost_travel_m"):
        yield f"it rests {system.show(abs(lost_m), 'length', 'mm', decimals=0)} {'shorter' if lost_m > 0.0 else 'longer'} then"
    if deeper_m := gap("deeper_m"):
        yield f"left alone {system.show(abs(deeper_m), 'length', 'mm', decimals=0)} {'deeper' if deeper_m > 0.0 else 'higher'}"
    if drop_m := gap("drop_m"):
        yield f"the drop {system.show(abs(drop_m), 'length', 'm', decimals=2)} {_more(drop_m)}"
    if damping := gap("damping_ratio"):
        yield f"damping {system.show(abs(damping), 'share', '%', decimals=0)} {_more(damping)}"


def _more(value: float) -> str:
    return "more" if value > 0.0 else "less"


_WITH: Final = {  # how what is usual instead is said: words, dimension, unit, decimals
    "fork.lower_legs": ("with", "volume", "ml", 0), "fork.friction": ("with", "force", "N", 0),
    "fork.bumper": ("with", "length", "mm", 1), "rear_wheel.sag": ("with", "length", "mm", 0),
    "conditions.altitude": ("at", "altitude", "m", 0), "conditions.temperature": ("at", "temperature", "degC", 0),
}  # fmt: skip


def _with(of: Default, system: System) -> str:
    """What the figures beside it were worked out with."""
    if of.usual is None or of.key not in _WITH:
        return ""
    words, dimension, unit, decimals = _WITH[of.key]
    return f"{words} {system.show(of.usual, dimension, unit, decimals=decimals)}: "
