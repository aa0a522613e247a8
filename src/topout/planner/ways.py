"""The same travel by each way it can be changed: another shaft, a spacer under the air piston, another chassis.

A rider can't tell them apart by length; the air spring can (physics.md 2). What each leaves of chambers and port, and what to
set for the same share of sag, side by side.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topout.bench_file import model
from topout.bench_file.model import BenchFile
from topout.errors import Fault, FaultsFound
from topout.physics.gas import Floats
from topout.planner import change, fitted, inexact, inputs, kept, leans_on, limits, missing
from topout.planner import design as designs
from topout.planner.fits import Fits, end_force_n, rests_m
from topout.planner.plan import plan_and_draws
from topout.planner.results import Default, Plan, Warned
from topout.uncertainty import intervals

if TYPE_CHECKING:  # an exact answer starts without what is drawn
    from topout.planner.bounds import Answered
    from topout.uncertainty.intervals import Interval

SAYS: Final = {"shaft": "another shaft", "piston-spacer": "piston spacer", "chassis": "another chassis"}


@dataclass(frozen=True, slots=True)
class Way:
    """One way to the travel that is asked for, SI; None where something it needs is not known (`lacks`) or it locks.

    Lengths are along the steering axis. Main chamber free at full extension and at the end, and how many times smaller that is;
    negative chamber at full extension and where its port lies, None where it has none. Sag and end force at the pressure of
    the file, then the gauge pressure for the same share of sag with the end force that it gives. Where something was drawn each
    is the middle of the draws, and `of` has its limits by the name of the field.
    """

    by: str
    fork_length_m: float | None
    bottomed_length_m: float | None
    positive_m3: float | None
    positive_end_m3: float | None
    compression_ratio: float | None
    negative_m3: float | None
    port_m: float | None
    lower_legs_m3: float | None
    sag_m: float | None
    end_force_n: float | None
    same_share_gauge_pa: float | None
    same_share_end_force_n: float | None
    lacks: tuple[str, ...]
    warned: tuple[Warned, ...]
    of: Mapping[str, Interval] = field(default_factory=dict)
    limit_gauge_pa: float | None = None  # the maker's

    @property
    def most_gauge_pa(self) -> float | None:
        """The pressure for the same share of sag, on the high side where it was drawn.

        nothing → [Pa gauge] (one) or None. Raises nothing. Source: none needed, bookkeeping.
        """
        known = self.of.get("same_share_gauge_pa")
        return self.same_share_gauge_pa if known is None else known.high95

    @property
    def over(self) -> bool:
        """Whether that lies above the maker's limit.

        nothing → [-] (one) yes or no. Raises nothing. Source: the makers' limits in the file.
        """
        return limits.over(self.most_gauge_pa, self.limit_gauge_pa)


@dataclass(frozen=True, slots=True)
class Ways:
    """The three ways, and the bike as it is: its travel and the travel asked for, sag, its share and the end force now.

    `of` has the limits of what is known of it now, by the name of the field, where something was drawn.
    """

    travel_m: float
    asked_m: float
    sag_m: float | None
    share: float | None
    end_force_n: float | None
    ways: tuple[Way, ...]
    defaults: tuple[Default, ...] = ()  # what the file does not say and this leans on
    of: Mapping[str, Interval] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The object that `topout ways --json` prints.

        nothing → [SI] (one) as docs/command-line.md has it. Raises nothing. Source: none needed, bookkeeping.
        """
        before = {"travel_m": self.travel_m, "sag_m": self.sag_m, "share": self.share, "end_force_n": self.end_force_n}
        return {
            "before": before | _limits(self.of),
            "travel_m": self.asked_m,
            "ways": {way.by: _as_json(way) for way in self.ways},
            "defaults": [each.as_json() for each in self.defaults],
        }


def _as_json(way: Way) -> dict[str, Any]:
    result = {
        name.replace("_gauge_pa", "_pa"): value
        for name, value in asdict(replace(way, of={})).items()
        if name not in ("by", "warned", "of", "limit_gauge_pa")
    }
    return {
        **result,
        **_limits(way.of),
        "over_limit": way.over,
        "lacks": list(way.lacks),
        "warnings": [{"code": w.code, "text": w.text} for w in way.warned],
    }


def _limits(of: Mapping[str, Interval]) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for name, each in of.items():
        told |= intervals.beside(name.replace("_gauge_pa", "_pa"), each.standard, each.low95, each.high95)
    return told


def ways(bench: BenchFile, draws: int = inexact.AT_REST) -> Ways:
    """The travel that `[change]` asks for, by each way; what else it asks for is the same in all.

    By another chassis the chambers are those of `[change.air]`, where it names none as they are, and the lower legs stay.

    bench [SI] (one) as read, with [change] travel; draws [1] (one) 1 and more, where something is to be drawn → [SI] (one). Raises
    FaultsFound where no other travel is asked for, a key of the spring lacks, the fork stands on a coil, or the sag found can't be.
    Source: physics.md 2 and 12; trade.md 3.3.
    """
    missing.refuse_coil(bench, change.changed(bench))
    fork, asked = bench.fork, bench.change
    lacking = [] if inexact.fills(bench) else missing.for_spring(bench)
    if lacking or fork is None or fork.travel_m is None:
        raise FaultsFound([missing.needed(place) for place in lacking])
    if asked is None or asked.travel_m is None or asked.travel_m == fork.travel_m:
        raise FaultsFound([Fault("[change] travel", 'another travel is needed for this, as in travel = "140 mm".')])
    told, drew = plan_and_draws(inexact.as_it_is(bench), draws=draws)
    now = told.before
    front = now.sag.front if now.sag is not None else None
    taken = leans_on.of_answer(bench, drew.made if drew else None, _rests_and_ends)
    return Ways(
        fork.travel_m, asked.travel_m, front.travel_m if front else None, front.share if front else None,
        now.end_force_n, tuple(_way(bench, asked, by, draws) for by in model.TRAVEL_WAYS),
        tuple(replace(each, change=None, usual=None) for each in taken),
        _of_plan(told, "before", {"sag_m": _SAG, "share": _SHARE, "end_force_n": _END}),
    )  # fmt: skip


def _rests_and_ends(of: Fits) -> dict[str, Floats]:
    """What shows whether the ways lean on something: by each way it moves them by another amount, so none is said."""
    return {"sag_m": rests_m(of, of.after), "end_force_n": end_force_n(of.after)}


_SAG: Final = ("sag", "front", "travel_m")
_SHARE: Final = ("sag", "front", "share")
_END: Final = ("end_force_n",)


def _of_plan(told: Plan, state: str, places: Mapping[str, tuple[str, ...]]) -> dict[str, Interval]:
    """The limits that a plan has of these numbers of one state; none where nothing was drawn."""
    of = told.bounds.of if told.bounds is not None else {}
    return {name: of[state, *place] for name, place in places.items() if (state, *place) in of}


def _way(bench: BenchFile, asked: model.Change, by: str, draws: int) -> Way:
    own = asked.by == by
    air = (asked.air or {}) if by == "chassis" else (asked.air if own else None)
    solid = asked.spacer_solid_volume_m3 if by == "piston-spacer" else None
    file = replace(bench, change=replace(asked, by=by, air=air, spacer_solid_volume_m3=solid))
    told, drew = plan_and_draws(file, draws=draws)
    after = change.changed(file)
    fit = inputs.bikes_of([after]).chambers
    travel = float(fit.travel_m[0])
    # How long another chassis is only its maker knows.
    length = fitted.fork_length_m(after) if by != "chassis" or asked.fork_length_m is not None else None
    main = float(fit.positive_m3[0])
    end = main - float(0.25 * np.pi * fit.bore_m[0] ** 2) * travel
    works = told.after.end_force_n is not None
    held = kept.held(file, told.keep)["sag_share"] if works else None
    front = told.after.sag.front if told.after.sag is not None else None
    ported = after.fork is not None and after.fork.air is not None and after.fork.air.negative == "self-equalising"
    gas = bool(fit.gas_negative[0])
    way = Way(
        by, length, None if length is None else length - travel, main if main > 0.0 else None, end if end > 0.0 else None,
        main / end if end > 0.0 else None, _known(fit.negative_m3[0]) if gas else None,
        (after.fork.air.port_position_m or 0.0) if ported and after.fork and after.fork.air else None,
        _known(fit.legs_m3[0]) if fit.legs_m2[0] else None,
        front.travel_m if front else None, told.after.end_force_n,
        held.pressure_gauge_pa if held else None, held.end_force_n if held else None,
        tuple(missing.for_spacer(file)), tuple(w for w in told.warnings if w.state == "after" and w.code != "missing-input"),
        limit_gauge_pa=after.fork.air.pressure_limit_gauge_pa if after.fork and after.fork.air else None,
    )  # fmt: skip
    return way if drew is None else _as_drawn(way, told, drew)


def _as_drawn(way: Way, told: Plan, drew: Answered) -> Way:
    """A way with the middle of the draws for each figure that hangs on them, and its limits."""
    fit, made = drew.pairs.chambers.take(1), drew.made
    main = np.where(fit.positive_m3 > 0.0, fit.positive_m3, np.nan)
    end = main - 0.25 * np.pi * fit.bore_m**2 * fit.travel_m
    end = np.where(end > 0.0, end, np.nan)
    share_pa = drew.bounds.values["keep", "sag-share", "pressure_pa"]  # as the job's own gauge shows it
    after = designs.changed(made.design, made.changes)
    after = replace(after, air=replace(after.air, pressure_gauge_pa=made.gauge.true_pa(share_pa)))
    ported = way.port_m is not None
    rows: dict[str, Floats] = {
        "positive_m3": main, "positive_end_m3": end, "compression_ratio": main / end,
        "negative_m3": np.where(fit.gas_negative, fit.negative_m3, np.nan),
        "port_m": after.air.port_position_m if ported else np.full_like(main, np.nan),
        "lower_legs_m3": np.where(fit.legs_m2 > 0.0, fit.legs_m3, np.nan),
        "same_share_gauge_pa": share_pa, "same_share_end_force_n": end_force_n(after),
    }  # fmt: skip
    found = intervals.named(rows, made.weights)
    middles = {name: found[name].median if name in found else None for name in rows}
    of = {name: each for name, each in found.items() if each.high95 > each.low95}
    of |= _of_plan(told, "after", {"sag_m": _SAG, "end_force_n": _END})
    changed: dict[str, Any] = middles
    return replace(way, **changed, of=of)


def _known(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None
