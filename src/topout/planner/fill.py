"""The filling schedule: pump, stroke, read; how often, and what to expect each time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from topout.bench_file.model import BenchFile
from topout.errors import OutOfRange
from topout.physics import air_spring, filling
from topout.planner import inputs
from topout.units import PSI_PA

MOST_ROUNDS: Final = 30  # to the final pressure; beyond that the schedule says that it does not settle


@dataclass(frozen=True, slots=True)
class FillRound:
    """One round, gauge pressures [Pa]: pumped to, left after one stroke (true), what a gauge pushed on reads, lost travel [m].

    `negative_to_gauge_pa` is what the negative chamber is then pumped to through its own valve; None where it is not.
    """

    pumped_to_gauge_pa: float
    after_stroke_gauge_pa: float
    reading_gauge_pa: float | None
    lost_travel_m: float
    negative_to_gauge_pa: float | None = None


@dataclass(frozen=True, slots=True)
class Schedule:
    """Rounds in order; `settled_after` counts them, None where 30 rounds at the final pressure don't do."""

    rounds: tuple[FillRound, ...]
    settled_after: int | None

    def as_json(self) -> dict[str, Any]:
        """The object that `topout inflate --json` prints.

        nothing → [SI] (one) as bench-file.md has it. Raises nothing. Source: bench-file.md.
        """
        rounds = []
        for r in self.rounds:
            row: dict[str, float] = {"pumped_to_pa": r.pumped_to_gauge_pa, "after_stroke_pa": r.after_stroke_gauge_pa}
            if r.reading_gauge_pa is not None:
                row["reading_pa"] = r.reading_gauge_pa
            if r.negative_to_gauge_pa is not None:
                row["negative_to_pa"] = r.negative_to_gauge_pa
            rounds.append({**row, "lost_travel_m": r.lost_travel_m})
        return {"rounds": rounds, "settled_after": self.settled_after}


def schedule(
    bench: BenchFile,
    to_gauge_pa: float,
    stops_gauge_pa: Sequence[float] = (),
    gauge_step_pa: float = PSI_PA,
    hose_m3: float = 0.0,
) -> Schedule:
    """Fill from ambient: one round per stop, then rounds to `to_gauge_pa` until a stroke costs less than the gauge shows.

    The pump is off during each stroke; pushing it on again costs what its hose takes: reading = true / (1 + V_h/V).
    Both chambers start at ambient, fork at full extension. A negative chamber with its own valve is filled through it to
    its own reading once the main one holds its final pressure: before, nothing but the negative air would pull the fork in.
    `bench` must describe its air spring and not be locked.
    Raises OutOfRange where a stop is not below the final pressure or the stops do not rise.

    bench [SI] (one) as read and whole; to_gauge_pa [Pa gauge] (one) above 0; stops_gauge_pa [Pa gauge] (any) rising,
    below it; gauge_step_pa [Pa] (one) above 0; hose_m3 [m³] (one) 0 and more → [SI] (one). Raises OutOfRange at a stop
    that does not rise or is not below the last. Source: physics.md 3.
    """
    last = 0.0
    for stop in stops_gauge_pa:
        if not last < stop < to_gauge_pa:
            raise OutOfRange("a stop", stop, "Pa gauge", last, to_gauge_pa)
        last = stop
    s = air_spring.settle(inputs.bikes_of([bench]).chambers)
    ambient = s.fit.ambient_pa.item()
    factor = filling.hose_factor(hose_m3, filling.seen_by_valve_m3(s)) if hose_m3 > 0.0 else None
    negative_j = ambient * s.fit.negative_m3.item()
    rounds: list[FillRound] = []

    def pump(to: float, own_gauge_pa: float | None = None) -> float:
        nonlocal negative_j
        left, negative_j = filling.stroke(s, to + ambient, negative_j)
        if own_gauge_pa is not None:
            negative_j = (own_gauge_pa + ambient) * s.fit.negative_m3.item()
        after = left - ambient
        short = filling.rests_short_m(s.fit, left, negative_j)
        rounds.append(FillRound(to, after, None if factor is None else float(after / factor), short, own_gauge_pa))
        return to - after

    for stop in stops_gauge_pa:
        pump(stop)
    air = bench.fork.air if bench.fork is not None else None
    own = air.negative_pressure_gauge_pa if air is not None and air.negative == "separate-valve" else None
    for _ in range(MOST_ROUNDS):
        if pump(to_gauge_pa, own) < gauge_step_pa:
            return Schedule(tuple(rounds), len(rounds))
    return Schedule(tuple(rounds), None)
