"""Warnings: code, sentence, and the limits they look at, each with its source, in this one place.

A limit reached exactly is raised for clearance, lost travel, sag share, and the changes of bottom bracket and head
angle; a maker's limit (pressure, fork length, travel, spacers) is warned of beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from topout.bench_file.key import MOST_PRESSURE_BAR
from topout.bench_file.model import Air, BenchFile, Fork
from topout.planner import at_mark, fitted
from topout.planner.keeps import Keeps
from topout.planner.phrase import Phrase, Quantity
from topout.planner.results import Geometry, RearSag, Sag, State, Warned, WhichState
from topout.units import BENCH, NO_BREAK, PSI_PA, System, digits, show

TYRE_GAP_M: Final = 0.006  # common practice, no source: room for mud and a tyre's growth
LOST_TRAVEL_M: Final = 0.002  # common practice, no source: what a tape sees at full extension
SAG_SHARE_LOW: Final = 0.10  # common practice, no source: below, the spring hardly holds the wheel down
SAG_SHARE_HIGH: Final = 0.35  # common practice, no source: above, too little travel is left
BB_CHANGE_M: Final = 0.008  # common practice, no source: pedals and balance
HEAD_ANGLE_CHANGE_RAD: Final = math.radians(1.0)  # common practice, no source: steering that a rider must learn again
IMPLIED_SHARE: Final = (0.30, 0.55)  # common practice, no source: front shares of riders on flat ground
ISO_4210_6_LOAD_N: Final = 2800  # the tyre-clearance load of ISO 4210-6, as reproduced in TBIS 4210-6:2019
LEAST_DRIFT_PA: Final = 3 * PSI_PA  # ours: below that a gauge is as good as another
MOST_DRIFT_PA: Final = 30 * PSI_PA  # ours: no gauge in use is off by more; something else is wrong then
LEAST_COLUMN_M: Final = 0.010  # common practice, no source: of air over the piston at the solid stop
EXACTLY: Final = 1e-9  # a limit met to rounding counts as met

CODES: Final = {  # code -> what the page calls it
    "hydraulic-lock": "No room left", "pressure-limit": "Pressure", "charged-negative": "Negative chamber",
    "port-out-of-reach": "Port out of reach", "tyre-crown": "Tyre to crown", "tyre-brace": "Tyre to brace",
    "tyre-frame": "Rear tyre to frame", "fork-length": "Fork length", "travel-limit": "Travel",
    "spacer-limit": "Volume spacers", "lost-travel": "Lost travel", "sag-range": "Sag",
    "chart-open": "Frame chart", "bb-change": "Bottom bracket", "head-angle-change": "Head angle",
    "missing-input": "Not known", "load-assumed": "Sag is an estimate", "load-implausible": "Load",
    "nearly-locked": "Nearly locked", "no-pressure": "No pressure", "no-coil": "No spring", "coil-bind": "Coils touch",
}  # fmt: skip
# What can hurt somebody or break something: said before everything else.
DANGERS: Final = frozenset({
    "hydraulic-lock", "pressure-limit", "charged-negative", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length",
    "travel-limit", "spacer-limit", "coil-bind", "nearly-locked",
})  # fmt: skip
OF_NO_STATE: Final = frozenset({"load-assumed", "load-implausible", "chart-open"})  # not of the bike before alone


def said_load(system: System = BENCH) -> str:
    """The load of the standard as it is written.

    system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: ISO 4210-6, as reproduced in
    TBIS 4210-6:2019.
    """
    return system.show(ISO_4210_6_LOAD_N, "force", "N")


def over_pressure(air: Air) -> list[float]:
    """Gauge pressures [Pa] of an air spring that lie above its maker's limit, main chamber first.

    air [SI] (one) as read → [Pa gauge] (any). Raises nothing. Source: the makers' limits in the file.
    """
    pressures = [air.pressure_gauge_pa, air.negative_pressure_gauge_pa if air.negative == "separate-valve" else None]
    return [p for p in pressures if p is not None and over(p, air.pressure_limit_gauge_pa)]


def sag_is_usual(share: float) -> bool:
    """Whether a share of sag lies inside what riders use; a limit met counts as outside.

    share [1] (one) 0 to 1 → [-] (one). Raises nothing. Source: common practice, no source.
    """
    return SAG_SHARE_LOW + EXACTLY < share < SAG_SHARE_HIGH - EXACTLY


def of_limits(bench: BenchFile, state: WhichState) -> Iterator[Warned]:
    """What the makers allow against what is fitted: pressure, travel, spacers, fork length.

    bench [SI] (one) as read; state [-] (one) a state's word → [-] (any) warnings. Raises nothing. Source: the makers'
    limits in the file.
    """
    fork = bench.fork or Fork()
    air = fork.air or Air()
    for gauge_pa in over_pressure(air):
        of = "" if gauge_pa == air.pressure_gauge_pa else " in the negative chamber"
        words = f"{{}}{of} is above the maker's limit of {{}}."
        yield _warned("pressure-limit", state, words, _psi(gauge_pa), _psi(air.pressure_limit_gauge_pa))
    if over(air.spacers, air.spacer_limit):
        text = f"{air.spacers} volume spacers; the maker allows {air.spacer_limit}. The piston may strike them."
        yield Warned("spacer-limit", text, state)
    if fork.coil is not None and over(fork.travel_m, fork.coil.bind_m):
        words = "The coils touch at {} of {}: a hard stop, and nothing moves beyond. Everything is worked out to there."
        yield _warned("coil-bind", state, words, _mm(fork.coil.bind_m), _mm(fork.travel_m))
    if over(fork.travel_m, fork.travel_limit_m):
        words = "{} of travel; this chassis allows {}."
        yield _warned("travel-limit", state, words, _mm(fork.travel_m), _mm(fork.travel_limit_m))
    length = fitted.fork_length_m(bench)
    limit_m = bench.frame.fork_length_limit_m if bench.frame else None
    if over(length, limit_m):
        words = "{} of fork; the frame's maker allows {}."
        yield _warned("fork-length", state, words, _mm(length), _mm(limit_m))


def of_port(bench: BenchFile, state: WhichState) -> Iterator[Warned]:
    """A negative chamber that stays charged, a port that is never reached; what is known of port and valve is enough.

    Let out at full extension, the main chamber is at ambient; the negative one is then at the pressure of the port's
    place, above ambient whatever the main gauge showed, 0 included, wherever the port lies further in.

    bench [SI] (one) as read; state [-] (one) a state's word → [-] (any) warnings. Raises nothing. Source: physics.md 2
    and 9.
    """
    air = bench.fork.air if bench.fork else None
    if bench.fork and air:
        yield from _of_port(air, fitted.port_in_reach(bench.fork, air), state, "")


def _of_port(air: Air, reached: bool, state: WhichState, of: str) -> Iterator[Warned]:
    """The two warnings of a port or a valve, at either end; `of` says whose it is, "" at the fork."""
    if air.negative == "self-equalising" and not reached:
        text = f"The piston {of}never comes past the equalisation port: the negative chamber does not fill."
        yield Warned("port-out-of-reach", text, state)
    shut = reached and bool(air.port_position_m)
    own_valve = air.negative == "separate-valve" and (air.negative_pressure_gauge_pa or 0.0) > 0.0
    if shut or own_valve:
        out = fitted.STANDS_AT["shock" if of else "fork"]
        words = f"Air stays trapped in the negative chamber {of}after bleeding at {out}: "
        if shut:
            yield _warned("charged-negative", state, words + "the port opens {} short of it.", _mm(air.port_position_m))
        else:
            yield _warned("charged-negative", state, words + "it has its own valve.")


def of_spring(lost_travel_m: float, state: WhichState) -> Iterator[Warned]:
    """Travel lost at the top.

    lost_travel_m [m] (one) 0 and more; state [-] (one) a state's word → [-] (any) warnings. Raises nothing. Source:
    common practice, no source.
    """
    if lost_travel_m >= LOST_TRAVEL_M - EXACTLY:
        words = "Unloaded it rests {} short of full extension: that travel is lost."
        yield _warned("lost-travel", state, words, _mm(lost_travel_m))


def of_end(end_force_n: float | None, column_m: float, state: WhichState, air: Air | None) -> Iterator[Warned]:
    """A fork that nearly locks at the end of its travel: more force than its chassis was tested with, hardly any air left.

    end_force_n [N] (one) slow, or None; column_m [m] (one) of the main chamber at the solid stop, NaN where not known; state
    [-] (one) a state's word; air [SI] (one) as fitted then, None on a coil → [-] (any) warnings. Raises nothing. Source: the load ISO 4210-6; common practice, no source.
    """
    fewer = _less_in(air)
    if end_force_n is not None and end_force_n >= ISO_4210_6_LOAD_N * (1.0 - EXACTLY):
        less = ["less pressure"] if air is not None and (over_pressure(air) or not fewer) else []
        cure = _in_turn([*less, *fewer] if air is not None else ["a softer spring"])
        words = f"{{}} at the end of the travel; a chassis is tested with {{}}.{cure}"
        force, tested = (Quantity(each, "force", "N") for each in (round(end_force_n, -1), ISO_4210_6_LOAD_N))
        yield _warned("nearly-locked", state, words, force, tested)
    if column_m <= LEAST_COLUMN_M + EXACTLY:
        words = (
            f"{{}} of air is left over the piston at the end of the travel; {{}} is common practice.{_in_turn(fewer)}"
        )
        yield _warned("nearly-locked", state, words, _mm(column_m), _mm(LEAST_COLUMN_M))


def _less_in(air: Air | None) -> list[str]:
    """What could come out of the main chamber, what is taken out most easily first."""
    if air is None:
        return []
    fitted_in = (("fewer volume spacers", air.spacers), ("less oil on the piston", air.oil_on_piston_m3))
    return [words for words, there in fitted_in if there]


def _in_turn(cures: list[str]) -> str:
    """What helps, in the order in which it is tried; empty where nothing is known to."""
    said = ", then ".join(cures)
    return f" {said[0].upper()}{said[1:]}." if said else ""


def of_sag(sag: Sag, state: WhichState, half: float = 0.0) -> Iterator[Warned]:
    """Sag outside what riders use.

    sag [SI] (one) any; state [-] (one) a state's word; half [1] (one) half of what lies between the limits of the share, 0
    where it is exact → [-] (any) warnings. Raises nothing. Source: common practice, no source.
    """
    if not sag.front or sag.front.share is None:
        return
    if not sag_is_usual(sag.front.share):
        text = f"Sag is {said_share(sag.front.share, half)} of the travel; {usual_sag()} is common practice."
        yield Warned("sag-range", text, state)


def of_shock(
    bench: BenchFile, sag: RearSag | None, lost_m: float, state: WhichState, half: float = 0.0
) -> Iterator[Warned]:
    """The same of a rear shock: pressure and spacers, air that stays trapped, stroke lost, and sag as a share of its stroke.

    bench [SI] (one) as read; sag [SI] (one) or None; lost_m [m] (one) of the stroke, NaN where not known; state [-] (one) a
    state's word; half [1] (one) half of what lies between the limits of the share, 0 where it is exact → [-] (any) warnings. Raises nothing. Source: the makers' limits in the file; common practice, no source.
    """
    shock = bench.shock
    if shock is None:
        return
    air = shock.air
    if air is not None:
        for gauge_pa in over_pressure(air):
            words = "{} in the shock is above the maker's limit of {}."
            yield _warned("pressure-limit", state, words, _psi(gauge_pa), _psi(air.pressure_limit_gauge_pa))
        if over(air.spacers, air.spacer_limit):
            text = f"{air.spacers} volume spacers in the shock; the maker allows {air.spacer_limit}."
            yield Warned("spacer-limit", text, state)
        yield from _of_port(air, fitted.shock_port_in_reach(shock, air), state, "of the shock ")
    coil, stroke_m = shock.coil, shock.stroke_m
    if coil is not None and coil.bind_m is not None and stroke_m is not None and coil.bind_m < stroke_m:
        words = "The shock’s coil binds at {} of its {} of stroke: it stops there, hard."
        yield _warned("coil-bind", state, words, _mm(coil.bind_m), _mm(stroke_m))
    if lost_m >= LOST_TRAVEL_M - EXACTLY:
        yield _warned("lost-travel", state, "Unloaded the shock rests {} short of its length.", _mm(lost_m))
    if sag is not None and sag.share_of_stroke is not None and not sag_is_usual(sag.share_of_stroke):
        share = said_share(sag.share_of_stroke, half)
        text = f"Sag behind is {share} of the shock’s stroke; {usual_sag()} is common practice."
        yield Warned("sag-range", text, state)


def of_room(
    room: dict[str, float | None], overtravel_m: float, state: WhichState, *, least: bool = False
) -> Iterator[Warned]:
    """Tyre against crown, brace and frame, each less what 2,800 N add to a travel measured by hand.

    room [m] (3) by name, or None; overtravel_m [m] (one) 0 and more; state [-] (one) a state's word; least [-] (one)
    whether these are the low side of what is not known exactly → [-] (any) warnings. Raises nothing. Source: common practice, no source; the load ISO 4210-6.
    """
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
        if left <= TYRE_GAP_M + EXACTLY:
            room_left = () if left <= 0.0 else (_mm(left),)
            load = (Quantity(ISO_4210_6_LOAD_N, "force", "N"),) if overtravel_m else ()
            how = " at the least" if least and room_left else ""
            words = f"{'{} left' if room_left else 'No room'}{how} between {between}{' under {}' if load else ''}"
            words += " at full travel; {} is common practice."
            yield _warned(code, state, words, *room_left, *load, _mm(TYRE_GAP_M))


def of_change(before: Geometry | None, after: Geometry | None) -> Iterator[Warned]:
    """Changes of the unloaded stance that a rider feels at once.

    before, after [SI] (one) or None → [-] (any) warnings. Raises nothing. Source: common practice, no source.
    """
    if not before or not after:
        return
    rise = after.unloaded.bb_height_m - before.unloaded.bb_height_m
    if abs(rise) >= BB_CHANGE_M - EXACTLY:
        words = f"The bottom bracket stands {{}} {'higher' if rise > 0 else 'lower'}."
        yield _warned("bb-change", "change", words, _mm(abs(rise)))
    turn = after.unloaded.head_angle_rad - before.unloaded.head_angle_rad
    if abs(turn) >= HEAD_ANGLE_CHANGE_RAD - EXACTLY:
        angle = show(abs(turn), "angle", "deg")
        text = f"The head angle is {angle} {'steeper' if turn > 0 else 'slacker'}."
        yield Warned("head-angle-change", text, "change")


def of_load(
    calibrated: bool | None, implied_share: float | None, gauge_off_pa: float | None = None
) -> Iterator[Warned]:
    """Where the load comes from, and whether the share it means can be; with `gauge_off_pa` what the gauge would have to be off.

    calibrated [-] (one) yes, no or None; implied_share [1] (one) 0 to 1 or None; gauge_off_pa [Pa] (one) any, above 0 where
    it shows too much, or None → [-] (any) warnings. Raises nothing. Source: physics.md 7; common practice, no source.
    """
    if calibrated is False:
        words = f"Front weight guessed; 3{NO_BREAK}points either way are {{}} to {{}} of sag. Measure the sag as found."
        few, more = (Quantity(each_m, "length", "mm", trim=True, bare=each_m < 0.004) for each_m in (0.003, 0.004))
        yield _warned("load-assumed", "change", words, few, more)
    if implied_share is not None and not IMPLIED_SHARE[0] <= implied_share <= IMPLIED_SHARE[1]:
        words = (
            f"The sag found puts {_percent(implied_share)} of rider and bike on the front wheel; "
            f"{digits(100 * IMPLIED_SHARE[0], 0)} to {_percent(IMPLIED_SHARE[1])} is common practice. Check sag, pressure and mass."
        )
        drift: tuple[Quantity, ...] = ()
        if gauge_off_pa is not None and LEAST_DRIFT_PA <= abs(gauge_off_pa) <= MOST_DRIFT_PA:
            words += f" A gauge that shows {{}} too {'much' if gauge_off_pa > 0.0 else 'little'} would do it: read it with nothing attached."
            drift = (Quantity(PSI_PA * round(abs(gauge_off_pa) / PSI_PA), "pressure", "psi", trim=True),)
        yield _warned("load-implausible", "change", words, *drift)


def of_keeps(
    keeps: Keeps, before: State, travels_m: tuple[float, float], *, rests: bool, on_coil: bool = False
) -> Iterator[Warned]:
    """Properties that no pressure holds, and why; where no sag is known its two keeps are named as missing instead.

    `travels_m` is the travel before and after.

    keeps, before [SI] (one) of one plan; travels_m [m] (2) above 0; rests, on_coil [-] (one) yes or no → [-] (any)
    warnings.
    Raises nothing. Source: bench-file.md.
    """
    names = {
        "sag_share": "the same sag in %",
        "curve": "the same feel",
        "sag": "the same sag",
        "end_force": "the same bottom-out force",
    }
    front = before.sag.front if before.sag else None
    sag_m = front.travel_m if front else math.nan
    for name, words in names.items():
        if getattr(keeps, name).known or ("sag" in name and not rests):
            continue
        more: tuple[Quantity, ...] = ()
        why = f"none from 0 to {MOST_PRESSURE_BAR}{NO_BREAK}bar does"
        if on_coil:
            why = f"no rate from 0.5 to 500{NO_BREAK}N/mm, and no preload up to 60{NO_BREAK}mm"
        if "sag" in name:
            if sag_m <= 0.0:
                why = "as it is, sag is 0"
            elif sag_m >= travels_m[0]:
                why = "as it is, sag is the whole travel"
            elif name == "sag" and sag_m >= travels_m[1]:
                why, more = "{} of sag is the whole travel after the change, or more", (_mm(sag_m),)
        code, what = ("no-coil", "No spring") if on_coil else ("no-pressure", "No pressure")
        yield _warned(code, "change", f"{what} gives {words}: {why}.", *more)


def over(value: float | None, limit: float | None) -> bool:
    """Whether a value lies beyond a maker's limit; unknown ones do not.

    value, limit [SI] (one) one unit, or None → [-] (one). Raises nothing. Source: the makers' limits in the file.
    """
    return value is not None and limit is not None and value > limit * (1.0 + EXACTLY)


def said_over(value_pa: float | None, limit_pa: float | None, system: System) -> str:
    """That a pressure lies above its maker's limit; empty where it does not.

    value_pa, limit_pa [Pa gauge] (one) any, or None; system [-] (one) the units to say it in → [-] (one) words. Raises nothing.
    Source: the makers' limits in the file.
    """
    if value_pa is None or limit_pa is None or not over(value_pa, limit_pa):
        return ""
    limit = system.show(limit_pa, "pressure", "psi", trim=True)
    return f"{at_mark.show_in(system, value_pa)} is above the maker’s limit of {limit}."


def said_share(share: float, half: float = 0.0) -> str:
    """A share of the travel as it is said everywhere: to a tenth of a per cent, no finer than it is known.

    share [1] (one) 0 and more; half [1] (one) half of what lies between its limits, 0 where it is exact → [-] (one) words.
    Raises nothing. Source: JCGM 100:2008 7.2.6.
    """
    if half <= 0.0:
        return show(share, "share", "%", decimals=1)
    from topout.planner import known_to  # an exact plan starts without what is told of draws

    return show(share, "share", "%", decimals=known_to.no_finer(half, "share", "%", 1))


def usual_sag() -> str:
    """The span of sag that riders use.

    nothing → [-] (one) words. Raises nothing. Source: common practice, no source.
    """
    return f"{digits(100 * SAG_SHARE_LOW, 0)} to {_percent(SAG_SHARE_HIGH)}"


def _warned(code: str, state: WhichState, words: str, *quantities: Quantity) -> Warned:
    phrase = Phrase(words, quantities)
    return Warned(code, phrase.said(), state, phrase)


def _psi(pressure_pa: float | None) -> Quantity:
    return Quantity(pressure_pa or 0.0, "pressure", "psi", second=True, trim=True)


def _mm(length_m: float | None) -> Quantity:
    return Quantity(length_m or 0.0, "length", "mm", trim=True)


def _percent(share: float) -> str:
    return show(share, "share", "%")
