"""What a search answers: each option of the front with what it changes, why others are out, and what keeps the stance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from topout.bench_file.model import BenchFile, Change, End, Fork, Shock
from topout.planner.facts import Fact
from topout.planner.options.choice import Lacks, Used
from topout.planner.options.ends import FRONT, Ends
from topout.planner.results import Plan, as_json
from topout.planner.wanted import Neutral, Wanted
from topout.uncertainty import intervals
from topout.uncertainty.intervals import Interval


@dataclass(frozen=True, slots=True, eq=False)
class RearOption:
    """What an option fits and sets at the rear shock. Pressures are gauge; None is what does not apply or is not known."""

    stroke_m: float
    spacers: int | None
    rate_n_per_m: float | None
    preload_m: float | None
    keep: (
        str | None
    )  # sag, sag-share, curve, end-force, wanted; None at the pressure asked for or fitted, and on a coil
    pressure_gauge_pa: float | None
    pressure_set_gauge_pa: float | None

    def as_json(self) -> dict[str, Any]:
        """The `rear` of an option.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        return {
            "stroke_m": self.stroke_m, "spacers": self.spacers, "rate_n_per_m": self.rate_n_per_m, "preload_m": self.preload_m,
            "keep": self.keep, "pressure_pa": self.pressure_gauge_pa, "pressure_set_pa": self.pressure_set_gauge_pa,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One way to fit and set the bike that no other beats. Pressures are gauge; None is what does not apply or is not known."""

    number: int  # its place on the front, from 1
    travel_m: float | None  # None beside a shock, where nobody wrote the fork's
    spacers: int | None
    offset_m: float | None
    tyre_height_m: float | None
    rear_tyre_height_m: float | None
    rate_n_per_m: float | None  # of the coil, where it stands on one
    preload_m: float | None  # of that coil
    negative_pressure_gauge_pa: float | None  # of a negative chamber with a valve of its own
    keep: str | None  # sag, sag-share, curve, end-force; None at the pressure asked for or fitted
    pressure_gauge_pa: float | None
    pressure_set_gauge_pa: float | None
    rear: RearOption | None  # what is fitted and set behind, where that is looked at
    parts: tuple[Used, ...]
    lacks: tuple[Lacks, ...]  # what it takes that the shelf does not hold
    cost: float | None
    waiting_days: int | None
    stance: float  # how far it sits from the bike as it is: 1 is what a rider must learn again
    curve: float  # how far its spring lies from the one before, as a share of the force
    miss: float | None  # how far it is from what is wanted, in the same measure; None where nothing is
    facts: Mapping[str, Fact]
    difference: Mapping[str, Any]  # as in a plan's JSON
    alike: tuple[int, ...]  # the options that can't be told apart from it by how they sit and spring
    change: Change
    plan: Plan
    fork: Fork  # as it is
    shock: Shock | None
    front: bool  # whether the fork is looked at
    # What each volume spacer takes that goes in [m³], by end, where the shelf has several kinds.
    spacers_m3: Mapping[End, float] = field(default_factory=dict)
    given_up: str = ""  # in one sentence, in the bench's units
    # Where something was drawn: of the pressures that keep something, and by which share an end is firmer.
    limits: Mapping[str, Interval] = field(default_factory=dict)
    # And how far each of `facts` is known, before and after, by its name.
    known: Mapping[str, tuple[Interval, Interval]] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """One of the `options` of `topout options --json`.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        return {
            "travel_m": self.travel_m, "spacers": self.spacers, "offset_m": self.offset_m,
            "tyre_height_m": self.tyre_height_m, "rear_tyre_height_m": self.rear_tyre_height_m, "rate_n_per_m": self.rate_n_per_m,
            "preload_m": self.preload_m, "negative_pressure_pa": self.negative_pressure_gauge_pa, "keep": self.keep,
            "pressure_pa": self.pressure_gauge_pa, **self._beside("pressure_pa"), "pressure_set_pa": self.pressure_set_gauge_pa,
            "rear": None if self.rear is None else self.rear.as_json() | self._beside("rear_pressure_pa"),
            "difference": self.difference,
            "part": [_part(each) for each in self.parts] or None, "lacks": list(self.lacks),
            "cost": self.cost, "waiting_days": self.waiting_days, "stance": self.stance, "curve": self.curve, "miss": self.miss,
            "alike": list(self.alike), "given_up": self.given_up,
        }  # fmt: skip

    def _beside(self, name: str) -> dict[str, Any]:
        """The limits of a pressure, as they stand beside it."""
        of = self.limits.get(name)
        return {} if of is None else intervals.beside("pressure_pa", of.standard, of.low95, of.high95)


def _part(used: Used) -> dict[str, Any]:
    part = used.part
    gives = {name: getattr(part, name) for name in type(part).__dataclass_fields__ if name.startswith("gives")}
    return {
        "kind": part.kind, **gives, "marking": part.marking, "family": part.family, "count": used.count,
        "end": used.end or None, "number": used.number + 1,
    }  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Options:
    """What could be fitted: the front, nearest in stance first, what was left out by why, and what keeps the stance."""

    bench: BenchFile
    options: tuple[Option, ...]
    excluded: Mapping[str, int]
    tried: int
    not_looked_at: tuple[str, ...]  # limits that the file does not say
    neutral: Mapping[str, Neutral]
    assumed: tuple[str, ...]  # the keys that were drawn
    draws: int
    ends: Ends = FRONT  # that were looked at
    wanted: Wanted = Wanted()
    standing: BenchFile | None = None  # the bike with what was drawn by its median, where something was
    forked: bool = True  # the fork's spring is known; else it counts at full extension throughout

    @property
    def is_wanted(self) -> bool:
        """Whether something is wanted, so that options are near to that and not to the bike as it is.

        nothing → [-] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.wanted != Wanted()

    @property
    def warnings(self) -> tuple[Any, ...]:
        """What every option is warned of: nothing here; each carries its own plan.

        nothing → [-] warnings. Raises nothing. Source: none needed, bookkeeping.
        """
        return ()

    def as_json(self) -> dict[str, Any]:
        """The object that `topout options --json` prints.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        return {
            "options": [each.as_json() for each in self.options],
            "excluded": dict(self.excluded),
            "neutral": {name: as_json(each) for name, each in self.neutral.items()},
            "tried": self.tried,
            "ends": [end for end, looked in (("front", self.ends.front), ("rear", self.ends.rear)) if looked],
            "not_looked_at": list(self.not_looked_at),
            "drawn": {"draws": self.draws, "assumed": list(self.assumed)} if self.draws else None,
        }
