"""The pressures that each way to build is looked at with: those that keep or give something, and the one asked for or fitted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from topout.bench_file.model import Air, BenchFile
from topout.physics.gas import Bools, Floats


@dataclass(frozen=True, slots=True)
class Given:
    """What a file says of one end's pressure [Pa gauge]: the one asked for, else the one fitted (NaN on a coil).

    `no_question` where it is asked for, where that end is not looked at, or where there is no air.
    """

    gauge_pa: float
    no_question: bool
    has_air: bool


def of_fork(bench: BenchFile, looked: bool = True) -> Given:
    """The fork's pressure.

    bench [SI] (one) as read; looked [-] (one) whether the front is → [SI] (one). Raises nothing. Source: none needed,
    bookkeeping.
    """
    air = (bench.fork.air if bench.fork else None) or Air()
    change = bench.change
    named = (change.air or {}) if change else {}
    asked = named.get("pressure_gauge_pa", change.pressure_gauge_pa if change else None)
    onto_coil = change is not None and change.coil is not None
    no_air = onto_coil or bench.fork is None or bench.fork.air is None
    fitted_pa = 0.0 if air.pressure_gauge_pa is None else air.pressure_gauge_pa  # a coil has none
    return Given(fitted_pa if asked is None else asked, asked is not None or no_air or not looked, not no_air)


def of_shock(bench: BenchFile) -> Given:
    """The can's pressure.

    bench [SI] (one) as read, with a shock → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    air = bench.shock.air if bench.shock is not None else None
    change = bench.change.shock if bench.change is not None else None
    asked = change.pressure_gauge_pa if change is not None else None
    fitted_pa = air.pressure_gauge_pa if air is not None else None
    gauge_pa = asked if asked is not None else fitted_pa
    return Given(np.nan if gauge_pa is None else gauge_pa, asked is not None or air is None, air is not None)


def table(shown_pa: Mapping[str, Floats], given: Given, mark_pa: float, ways: int) -> tuple[Floats, Floats]:
    """The pressures of each way, (ways, settings): exact as the gauge would show them, and as it can; NaN where none is.

    The last is the one asked for, else the one fitted, as it is written.

    shown_pa [Pa gauge] (ways,) by name; given [SI] (one) of that end; mark_pa [Pa] (one) above 0; ways [1] (one) 1 and more → [Pa gauge]
    (ways, settings) both. Raises nothing. Source: bench-file.md.
    """
    here_pa = np.full((ways, 1), given.gauge_pa)
    if given.no_question:
        return here_pa, here_pa
    exact = np.column_stack((*shown_pa.values(), here_pa))
    to_marks = np.round(exact / mark_pa) * mark_pa
    to_marks[:, -1] = here_pa[:, 0]
    return exact, to_marks


def first_of_its_kind(shown_pa: Floats, mark_pa: float) -> Bools:
    """Which settings of each way a gauge can tell from those before them; one that is NaN counts for itself.

    shown_pa [Pa gauge] (ways, settings) any; mark_pa [Pa] (one) above 0 → [-] (ways, settings). Raises nothing. Source: none
    needed, bookkeeping.
    """
    result = np.ones(shown_pa.shape, dtype=bool)
    for k in range(1, shown_pa.shape[1]):
        for j in range(k):
            result[:, k] &= ~(np.abs(shown_pa[:, k] - shown_pa[:, j]) < 0.5 * mark_pa)
    return result
