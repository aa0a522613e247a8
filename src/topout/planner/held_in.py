"""The gauge read with the fork or the shock held far in, pump on: how far, from what pressure, what holds it, and what it would leave.

Held far in the pressure multiplies. So it is begun low; no travel is proposed where the gauge, its hose or the unit could
be taken past what it is for, and none is read past that without a warning (physics.md 5).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from topout.bench_file.model import BenchFile, End
from topout.physics import air_spring
from topout.planner import far_in, typical
from topout.planner.drawn import Drawn
from topout.uncertainty.draws import Floats
from topout.uncertainty.intervals import Interval, interval
from topout.units import PSI_PA

START_PA: Final = 30 * PSI_PA  # 2 to 3 bar
OF_THE_SPAN: Final = 0.8
USUAL_SPAN_PA: Final = 300 * PSI_PA  # of a fork pump's gauge, where the workshop's own is not known
HOSE_M3: Final = 3e-6
STEP_M: Final = 0.005  # a strap is not set finer
MOST_SHOWN: Final = 9  # readings in the picture of what each would leave


@dataclass(frozen=True, slots=True)
class Leaves:
    """A reading that the gauge may show [Pa gauge], and the end of the travel that it would leave [N]."""

    shows_pa: float
    end_n: Interval


@dataclass(frozen=True, slots=True)
class Begins:
    """Where a reading begins, and what its gauge may never be taken past; both [Pa gauge]."""

    start_pa: float
    most_pa: float


def of_unit(bench: BenchFile, span_pa: float | None = None, end: End = "front") -> Begins:
    """Low to begin with, never more than is in it; at most what gauge and unit are for.

    bench [SI] (one) as read; span_pa [Pa gauge] (one) of the gauge, or None; end [-] (one) front or rear → [Pa gauge] (2). Raises nothing. Source:
    physics.md 5.
    """
    unit = bench.fork if end == "front" else bench.shock
    air = unit.air if unit is not None else None
    fitted = air.pressure_gauge_pa if air is not None else None
    limit_pa = air.pressure_limit_gauge_pa if air is not None else None
    return Begins(START_PA if fitted is None else min(fitted, START_PA), ceiling_pa(span_pa, limit_pa))


def ceiling_pa(span_pa: float | None, limit_pa: float | None) -> float:
    """What the gauge may never be taken past [Pa gauge]: 80 % of its scale, and the unit's own limit where it is known.

    span_pa, limit_pa [Pa gauge] (one) above 0, or None → [Pa gauge] (one). Raises nothing. Source: physics.md 5.
    """
    most = OF_THE_SPAN * (USUAL_SPAN_PA if span_pa is None else span_pa)
    return most if limit_pa is None else min(most, limit_pa)


def held(
    made: Drawn, travel_m: float | Floats, from_pa: float, hose_m3: float = HOSE_M3, end: End = "front"
) -> tuple[Floats, Floats, Floats]:
    """What is in each draw's main chamber with the fork or the shock held in, the force that holds it, and how the reading scatters.

    The force is with friction, as going in. Tape and marks scatter a reading as they do one that was taken (`far_in`).

    made [SI] (n,) draws; travel_m [m] (…) 0 to the travel; from_pa [Pa gauge] (one) as the gauge shows it at full
    extension, above 0; hose_m3 [m³] (one) 0 and more; end [-] (one) front or rear → [SI] (3) of (…, n), gauge, force, gauge. Raises nothing. Source:
    physics.md 2 and 5.
    """
    n = len(made.design)
    held_m = np.multiply.outer(travel_m, np.ones(n))
    stands = far_in.held(made.design, held_m, hose_m3, made.gauge.true_pa(np.full(n, from_pa)), end)
    shock = made.design.shock
    friction_n = shock.unit.friction_n if end == "rear" and shock is not None else made.design.fork.friction_n
    force_n = air_spring.force(stands.spring, held_m) + friction_n
    by_tape, by_start = stands.rises * typical.TAPE_M, stands.by_start * typical.GAUGE_READ_PA
    scatter_pa = np.sqrt(typical.GAUGE_READ_PA**2 + by_tape**2 + by_start**2)
    return stands.true_pa, force_n, scatter_pa


def leaves(
    made: Drawn,
    end_n: Floats,
    travel_m: float,
    from_pa: float,
    mark_pa: float = PSI_PA,
    hose_m3: float = HOSE_M3,
    end: End = "front",
) -> tuple[Leaves, ...]:
    """For each reading that the gauge may show, the end of the travel that it would leave.

    Each draw is weighed once more by how likely it makes the reading, as `far_in` weighs one that was taken.

    made [SI] (n,) draws; end_n [N] (n,) of each; travel_m [m] (one) 0 to the travel; from_pa [Pa gauge] (one) above 0;
    mark_pa [Pa] (one) above 0, a mark's step; hose_m3 [m³] (one) 0 and more; end [-] (one) front or rear → [SI] (any). Raises nothing. Source:
    physics.md 12.
    """
    true_pa, _, scatter_pa = held(made, travel_m, from_pa, hose_m3, end)
    shown_pa = made.gauge.shown_pa(true_pa)
    shows = interval(shown_pa, made.weights)
    if shows is None:
        return ()
    first, last = np.ceil(shows.low95 / mark_pa), np.floor(shows.high95 / mark_pa)
    every = max(1, int(np.ceil((last - first + 1) / MOST_SHOWN)))
    found = []
    for marks in np.arange(first, last + 1, every):
        reading_pa = float(marks) * mark_pa
        likely = made.weights * np.exp(-0.5 * ((reading_pa - shown_pa) / scatter_pa) ** 2)
        left = interval(end_n, likely) if likely.sum() > 0.0 else None
        if left is not None:
            found.append(Leaves(reading_pa, left))
    return tuple(found)
