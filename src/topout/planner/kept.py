"""What each keep costs: the sag and the end force that its pressure would give, all four in one array call.

And what is said of each, rounded once, with a mark where its pressure lies above the maker's limit or its sag outside
what riders use: nothing stands as a figure to set without it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from topout import units
from topout.bench_file.model import BenchFile
from topout.physics import air_spring, geometry, sag
from topout.planner import at_mark, change, inputs, limits, load, rear
from topout.planner import design as designs
from topout.planner.design import Changes, Design
from topout.planner.facts import FORCES_SAID_TO, KEEPS, NONE
from topout.planner.keeps import Keeps
from topout.planner.results import Plan
from topout.units import show


@dataclass(frozen=True, slots=True)
class Held:
    """One keep at its pressure: gauge pressure [Pa], front sag [m] (None where it is not known), slow end force [N]."""

    pressure_gauge_pa: float
    sag_m: float | None
    end_force_n: float


def held(bench: BenchFile, keeps: Keeps) -> dict[str, Held | None]:
    """For each of the four keeps of a plan of `bench` what its pressure gives after the change; None where there is none.

    bench [SI] (one) as read; keeps [SI] (one) of its plan → [SI] (4) by name, or None. Raises FaultsFound where the sag
    found can't be. Source: physics.md 2 and 7.
    """
    wanted = {f.name: getattr(keeps, f.name).pressure_pa for f in fields(keeps)}
    known = {name: pa for name, pa in wanted.items() if pa is not None}
    result: dict[str, Held | None] = dict.fromkeys(wanted)
    if not known:
        return result
    on = load.load_on(bench)
    before = Design.of([bench])
    after = designs.changed(before, Changes.of([bench])).take(np.zeros(len(known), dtype=int))
    after = replace(after, air=replace(after.air, pressure_gauge_pa=np.array([*known.values()])))
    bikes = inputs.bikes(
        rear.stood(after, None if on is None or on.behind_n is None else np.full(len(known), on.behind_n[0]))
    )
    settled = air_spring.settle(bikes.chambers)
    end_n = air_spring.force_and_rate(settled, bikes.chambers.travel_m)[0]
    sag_m = None
    if on is not None:
        sag_m = sag.at_rest_m(settled, geometry.axle_frame(bikes.chart, bikes.fitted), on.load, bikes.friction)[0]
    for i, (name, pa) in enumerate(known.items()):
        # Friction by the side load needs the head angle: without a frame the sag is not known though the load is.
        rests_m = math.nan if sag_m is None else float(sag_m[i])
        result[name] = Held(pa, rests_m if math.isfinite(rests_m) else None, float(end_n[i]))
    return result


@dataclass(frozen=True, slots=True)
class Kept:
    """One keep as it is said: its words, what it holds ("22.1 %"), gauge pressure [Pa], what that gives, its marks.

    `pressure_pa` is None where no pressure holds it. `over` says that the pressure lies above the maker's limit; each of
    `marks` is the end of a sentence: "above the maker’s limit of 120 psi", "sag 8 % of the travel, 10 to 35 % is usual".
    """

    key: str
    words: str
    holds: str
    pressure_pa: float | None
    sag_m: float | None
    end_force_n: float | None
    over: bool
    marks: tuple[str, ...]
    system: units.System = units.BENCH
    mark_pa: float | None = None  # of the gauge that is used, where that is known
    known: bool = True  # whether what is to be held is known: where it is not, no pressure was looked for

    @property
    def pressure(self) -> str:
        """The pressure as the gauge can show it, in the other system too where both are asked for; a dash where none holds it.

        nothing → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return (
            NONE
            if self.pressure_pa is None
            else at_mark.show_in(self.system, self.pressure_pa, self.mark_pa, second=True)
        )

    @property
    def sag(self) -> str:
        """The sag that its pressure gives; a dash where no load is known.

        nothing → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return NONE if self.sag_m is None else self.system.show(self.sag_m, "length", "mm")

    @property
    def end_force(self) -> str:
        """The bottom-out force that its pressure gives.

        nothing → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        if self.end_force_n is None:
            return NONE
        return self.system.show(self.end_force_n, "force", "N", decimals=FORCES_SAID_TO)

    def set_to(self, unit: str) -> str:
        """The number that a gauge in this unit can show; "" where there is none.

        unit [-] (one) of pressure → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        if self.pressure_pa is None:
            return ""
        value, places = at_mark.figure(self.pressure_pa, unit, self.mark_pa)
        return f"{value:.{max(places, 0)}f}"


def on_coil(bench: BenchFile, plan: Plan, system: units.System = units.BENCH) -> tuple[tuple[str, str, str], ...]:
    """The four keeps of a fork on a coil as they are said: what is kept, the spring that does it, or the preload that does.

    bench [SI] (one) as read; plan [SI] (one) its plan; system [-] (one) the units of its words → [-] (4) words, dashes
    where nothing does. Raises nothing. Source: bench-file.md.
    """
    rows = []
    for key, words in KEEPS.items():
        keep = getattr(plan.keep, key)
        rate = (
            NONE if keep.rate_n_per_m is None else system.show(keep.rate_n_per_m, "rate", "N/mm", second=system.beside)
        )
        wound = NONE if keep.preload_m is None else system.show(keep.preload_m, "length", "mm", second=system.beside)
        rows.append((words, rate, wound))
    return tuple(rows)


def said(
    bench: BenchFile, plan: Plan, costs: dict[str, Held | None] | None = None, system: units.System = units.BENCH,
    mark_pa: float | None = None,
) -> tuple[Kept, ...]:  # fmt: skip
    """The four keeps of a plan of `bench`, in the order in which riders think; `costs` where `held` is known already.

    bench [SI] (one) as read; plan [SI] (one) its plan; costs [SI] (4) by name, or None; system [-] (one) the units of
    its words; mark_pa [Pa] (one) of the gauge that is used, above 0, or None → [SI] (4). Raises FaultsFound where the sag found can't be. Source: bench-file.md.
    """
    costs = held(bench, plan.keep) if costs is None else costs
    after = change.changed(bench).fork
    travel_m = after.travel_m if after is not None else None
    limit_pa = after.air.pressure_limit_gauge_pa if after is not None and after.air is not None else None
    front = plan.before.sag.front if plan.before.sag is not None else None
    end_n = plan.before.end_force_n
    holds = {
        "sag_share": show(front.share, "share", "%", decimals=1) if front and front.share is not None else "",
        "sag": system.show(front.travel_m, "length", "mm") if front and front.travel_m is not None else "",
        "end_force": system.show(end_n, "force", "N", decimals=FORCES_SAID_TO) if end_n is not None else "",
        "curve": "",
    }
    found = []
    for key, words in KEEPS.items():
        one = costs.get(key)
        if one is None:
            known = bool(holds[key]) or key == "curve"
            found.append(Kept(key, words, holds[key], None, None, None, False, (), system, mark_pa, known))
            continue
        over = limits.over(one.pressure_gauge_pa, limit_pa)
        share = one.sag_m / travel_m if one.sag_m is not None and travel_m else None
        told = marks(one.pressure_gauge_pa, limit_pa, share, system)
        given = (one.pressure_gauge_pa, one.sag_m, one.end_force_n)
        found.append(Kept(key, words, holds[key], *given, over, told, system, mark_pa))
    return tuple(found)


def above(limit_gauge_pa: float, system: units.System) -> str:
    """What is wrong with a pressure above the maker's limit, the end of a sentence.

    limit_gauge_pa [Pa gauge] (one) above 0; system [-] (one) the units of its words → [-] (one) words. Raises nothing. Source: none
    needed, bookkeeping.
    """
    return f"above the maker’s limit of {system.show(limit_gauge_pa, 'pressure', 'psi', second=True, trim=True)}"


def marks(
    gauge_pa: float, limit_gauge_pa: float | None, share: float | None, system: units.System, half: float = 0.0
) -> tuple[str, ...]:
    """What is wrong with a pressure that could be set: above the maker's limit, or a sag outside what riders use.

    gauge_pa [Pa gauge] (one) any; limit_gauge_pa [Pa gauge] (one) or None; share [1] (one) of the travel, or None; system
    [-] (one) the units of its words; half [1] (one) half of what lies between the share's limits → [-] (2) words at most, each
    the end of a sentence. Raises nothing. Source: the makers' limits in the file; common practice, no source.
    """
    told = []
    if limits.over(gauge_pa, limit_gauge_pa) and limit_gauge_pa is not None:
        told.append(above(limit_gauge_pa, system))
    if share is not None and not limits.sag_is_usual(share):
        told.append(f"sag {limits.said_share(share, half)} of the travel, {limits.usual_sag()} is common practice")
    return tuple(told)
