"""Warnings: code, sentence, and the limits they look at, each with its source, in this one place.

A limit reached exactly is raised for clearance, lost travel, sag share, and the changes of bottom bracket and head
angle; a maker's limit (pressure, fork length, travel, spacers) is warned of beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from topout.bench_file.model import BenchFile
from topout.planner import fitted
from topout.planner.results import Geometry, Keeps, Sag, State, Warned, WhichState
from topout.units import show

TYRE_GAP_M: Final = 0.006  # common practice, no source: room for mud and a tyre's growth
LOST_TRAVEL_M: Final = 0.002  # common practice, no source: what a tape sees at full extension
SAG_SHARE_LOW: Final = 0.10  # common practice, no source: below, the spring hardly holds the wheel down
SAG_SHARE_HIGH: Final = 0.35  # common practice, no source: above, too little travel is left
BB_CHANGE_M: Final = 0.008  # common practice, no source: pedals and balance
HEAD_ANGLE_CHANGE_RAD: Final = math.radians(1.0)  # common practice, no source: steering that a rider must learn again
IMPLIED_SHARE: Final = (0.30, 0.55)  # common practice, no source: front shares of riders on flat ground
ISO_4210_6_LOAD_N: Final = 2800  # the tyre-clearance load of ISO 4210-6, as reproduced in TBIS 4210-6:2019
_EXACTLY: Final = 1e-9  # a limit met to rounding counts as met

CODES: Final = {  # code -> what the page calls it
    "pressure-limit": "Pressure", "hydraulic-lock": "No room left", "tyre-crown": "Tyre to crown",
    "tyre-brace": "Tyre to brace", "tyre-frame": "Rear tyre to frame", "fork-length": "Fork length",
    "travel-limit": "Travel", "spacer-limit": "Volume spacers", "lost-travel": "Lost travel", "sag-range": "Sag",
    "chart-open": "Frame chart", "bb-change": "Bottom bracket", "head-angle-change": "Head angle",
    "missing-input": "Not given", "load-assumed": "Load assumed", "load-implausible": "Load",
    "no-pressure": "No pressure", "charged-negative": "Charged negative", "port-out-of-reach": "Port out of reach",
}  # fmt: skip


def of_limits(bench: BenchFile, state: WhichState) -> Iterator[Warned]:
    """What the makers allow against what is fitted: pressure, travel, spacers, fork length."""
    fork = bench.fork
    if fork is None:
        return
    air = fork.air
    if air is not None and _over(air.pressure_gauge_pa, air.pressure_limit_gauge_pa):
        set_, limit = (_psi(p) for p in (air.pressure_gauge_pa, air.pressure_limit_gauge_pa))
        yield Warned("pressure-limit", f"{set_} is above the maker's limit of {limit}.", state)
    if air is not None and air.spacer_limit is not None and air.spacers > air.spacer_limit:
        text = f"{air.spacers} volume spacers; the maker allows {air.spacer_limit}. The piston may strike them."
        yield Warned("spacer-limit", text, state)
    if _over(fork.travel_m, fork.travel_limit_m):
        text = f"{_mm(fork.travel_m)} of travel; this chassis allows {_mm(fork.travel_limit_m)}."
        yield Warned("travel-limit", text, state)
    length = fitted.fork_length_m(bench)
    limit_m = bench.frame.fork_length_limit_m if bench.frame else None
    if _over(length, limit_m):
        yield Warned("fork-length", f"{_mm(length)} of fork; the frame's maker allows {_mm(limit_m)}.", state)


def of_port(bench: BenchFile, state: WhichState) -> Iterator[Warned]:
    """A negative chamber that stays charged, a port that is never reached; what is known of port and valve is enough.

    Let out at full extension, the main chamber is at ambient; the negative one is then at the pressure of the port's
    place, above ambient whatever the main gauge showed, 0 included, wherever the port lies further in.
    """
    air = bench.fork.air if bench.fork is not None else None
    if bench.fork is None or air is None:
        return
    reached = fitted.port_in_reach(bench.fork, air)
    if air.negative == "self-equalising" and not reached:
        yield Warned(
            "port-out-of-reach",
            "The piston never comes past the equalisation port: the negative chamber does not fill.",
            state,
        )
    shut = reached and air.port_position_m > 0.0
    own_valve = air.negative == "separate-valve" and (air.negative_pressure_gauge_pa or 0.0) > 0.0
    if shut or own_valve:
        why = f"the port opens {_mm(air.port_position_m)} in" if shut else "it has its own valve"
        yield Warned(
            "charged-negative", f"Let out at full extension, the negative chamber keeps its air: {why}.", state
        )


def of_spring(lost_travel_m: float, state: WhichState) -> Iterator[Warned]:
    """Travel lost at the top."""
    if lost_travel_m >= LOST_TRAVEL_M - _EXACTLY:
        text = f"Unloaded it rests {_mm(lost_travel_m)} short of full extension: that travel is lost."
        yield Warned("lost-travel", text, state)


def of_sag(sag: Sag, state: WhichState) -> Iterator[Warned]:
    """Sag outside what riders use."""
    if sag.front is None or sag.front.share is None:
        return
    share = sag.front.share
    if share <= SAG_SHARE_LOW + _EXACTLY or share >= SAG_SHARE_HIGH - _EXACTLY:
        low, high = 100 * SAG_SHARE_LOW, 100 * SAG_SHARE_HIGH
        text = f"Sag is {100 * share:.0f} % of the travel; {low:.0f} % to {high:.0f} % is common practice."
        yield Warned("sag-range", text, state)


def of_room(room: dict[str, float | None], overtravel_m: float, state: WhichState) -> Iterator[Warned]:
    """Tyre against crown, brace and frame, each less what 2,800 N add to a travel measured by hand."""
    places = {
        "tyre-crown": ("tyre_to_crown_m", "tyre and crown"),
        "tyre-brace": ("tyre_to_brace_m", "tyre and brace"),
        "tyre-frame": ("rear_tyre_to_frame_m", "rear tyre and frame"),
    }
    for code, (name, between) in places.items():
        gap = room[name]
        if gap is None:
            continue
        left = gap - overtravel_m
        if left <= TYRE_GAP_M + _EXACTLY:
            under = f" under {ISO_4210_6_LOAD_N:,} N".replace(",", "\N{NARROW NO-BREAK SPACE}") if overtravel_m else ""
            said = "No room" if left <= 0.0 else f"{_mm(left)} left"
            text = f"{said} between {between}{under} at full travel; {_mm(TYRE_GAP_M)} is common practice."
            yield Warned(code, text, state)


def of_change(before: Geometry | None, after: Geometry | None) -> Iterator[Warned]:
    """Changes of the unloaded stance that a rider feels at once."""
    if before is None or after is None:
        return
    rise = after.unloaded.bb_height_m - before.unloaded.bb_height_m
    if abs(rise) >= BB_CHANGE_M - _EXACTLY:
        text = f"The bottom bracket stands {_mm(abs(rise))} {'higher' if rise > 0 else 'lower'}."
        yield Warned("bb-change", text, "change")
    turn = after.unloaded.head_angle_rad - before.unloaded.head_angle_rad
    if abs(turn) >= HEAD_ANGLE_CHANGE_RAD - _EXACTLY:
        angle = show(abs(turn), "angle", "deg")
        text = f"The head angle is {angle} {'steeper' if turn > 0 else 'slacker'}."
        yield Warned("head-angle-change", text, "change")


def of_load(calibrated: bool | None, implied_share: float | None) -> Iterator[Warned]:
    """Where the load comes from, and whether the share it means can be."""
    if calibrated is False:
        text = "The load comes from an assumed share: 0.03 of it is 3 to 4 mm of sag. Measure the sag as found."
        yield Warned("load-assumed", text, "change")
    if implied_share is not None and not IMPLIED_SHARE[0] <= implied_share <= IMPLIED_SHARE[1]:
        text = (
            f"The sag found puts {100 * implied_share:.0f} % of rider and bike on the front wheel; 30 to 55 % is common "
            "practice. Check sag, pressure and mass."
        )
        yield Warned("load-implausible", text, "change")


def of_keeps(keeps: Keeps, before: State, travels_m: tuple[float, float], *, rests: bool) -> Iterator[Warned]:
    """Properties that no pressure holds, and why; where no sag is known its two keeps are named as missing instead.

    `travels_m` is the travel before and after.
    """
    names = {"sag": "the sag", "sag_share": "the sag share", "end_force": "the end force", "curve": "the curve"}
    front = before.sag.front if before.sag is not None else None
    sag_m = front.travel_m if front is not None else None
    for name, words in names.items():
        if getattr(keeps, name).pressure_pa is not None or ("sag" in name and not rests):
            continue
        why = "none from 0 to 60 bar does"
        if "sag" in name and sag_m is not None:
            if sag_m <= 0.0:
                why = "as it is, sag is 0"
            elif sag_m >= travels_m[0]:
                why = "as it is, sag is the whole travel"
            elif name == "sag" and sag_m >= travels_m[1]:
                why = f"{_mm(sag_m)} of sag is the whole travel after the change, or more"
        yield Warned("no-pressure", f"No pressure keeps {words}: {why}.", "change")


def _over(value: float | None, limit: float | None) -> bool:
    return value is not None and limit is not None and value > limit * (1.0 + _EXACTLY)


def _psi(pressure_pa: float | None) -> str:
    return show(pressure_pa or 0.0, "pressure", "psi", decimals=0, second=True)


def _mm(length_m: float | None) -> str:
    return show(length_m or 0.0, "length", "mm").replace(".0", "")
