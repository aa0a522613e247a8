"""The search: every way to build at every pressure that keeps something, in chunks; the front and why the rest is out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topout.bench_file.model import Air, BenchFile
from topout.bench_file.parts import Part
from topout.physics.gas import Bools, Floats
from topout.planner.options import broken, choices, front, states, world
from topout.planner.options.candidates import Numbers, Ways
from topout.planner.options.front import Ranked
from topout.planner.options.states import KEEPS, Before
from topout.planner.options.world import World, middle
from topout.units import PSI_PA

ROWS: Final = 8_192  # settings times draws in one chunk; what a chunk takes does not grow with the search
ASKED: Final = len(KEEPS)  # the setting that is no keep: the pressure asked for, or the one fitted


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The front of a search, what excluded how many settings, and what was asked."""

    ways: Ways
    world: World
    was: Before
    front: Ranked
    excluded: Counter[str]
    tried: int


def search(
    bench: BenchFile,
    shelf: Sequence[Part] | None = None,
    *,
    family: str | None = None,
    offsets_m: Sequence[float] = (),
    gauge_mark_pa: float = PSI_PA,
    draws: int = 1,
) -> Found:
    """Everything that could be fitted and set, and of it what nothing else beats.

    What `[change]` names is given; what it does not name may change: travel, spacers, tyres, pressure. Compared is with
    the bike as it is.

    bench [SI] (one) as read; shelf [SI] (any) parts, None for the file's own; family [-] (one) of the fork, or None;
    offsets_m [m] (any) further ones to try; gauge_mark_pa [Pa] (one) above 0, what the gauge can show; draws [1] (one) 1
    and more, where something is to be drawn → [SI] (one). Raises FaultsFound where spring or load lacks a key. Source:
    bench-file.md; physics.md 12.
    """
    of = world.of_bench(bench, draws)
    given = choices.of_bench(bench, bench.shelf if shelf is None else shelf, family, offsets_m)
    ways, was = Ways(bench, given), states.before(of)
    excluded, best, tried = Counter(given.left_out), front.empty(), 0
    settings = 1 if pressure_is_given(bench) else ASKED + 1
    size = max(1, ROWS // (settings * len(of)))
    for first in range(0, len(ways), size):
        numbers = np.arange(first, min(first + size, len(ways)))
        some, broken_here, count = chunk(ways, of, was, numbers, gauge_mark_pa)
        excluded.update(broken_here)
        tried += count
        best = front.of_front(best.beside(some))
    return Found(ways, of, was, best, +excluded, tried)


def pressure_is_given(bench: BenchFile) -> bool:
    """Whether there is nothing to choose: a pressure that is asked for, or no air.

    bench [SI] (one) as read → [-] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    change = bench.change
    asked = change is not None and (change.pressure_gauge_pa is not None or "pressure_gauge_pa" in (change.air or {}))
    onto_coil = change is not None and change.coil is not None
    return asked or onto_coil or bench.fork is None or bench.fork.air is None


def chunk(ways: Ways, of: World, was: Before, numbers: Numbers, mark_pa: float) -> tuple[Ranked, Counter[str], int]:
    """Some ways: those of their settings that break no limit, how many break which, and how many there were.

    ways, of, was [SI] (one) of one search; numbers [1] (n,) of ways; mark_pa [Pa] (one) above 0 → [SI] (m,) options, and
    counts. Raises nothing. Source: physics.md 2, 6, 7 and 8.
    """
    bench, draws = ways.bench, len(of)
    built = states.builds(of, ways.changes(numbers, of.changes))
    bad = {
        code: broken.often(each.reshape(-1, draws))
        for code, each in broken.of_build(bench, built.after, built.bikes, built.room).items()
    }
    whole = ~np.any(list(bad.values()), axis=0)
    exact, shown = _pressures(bench, of, built.keep_gauge_pa, mark_pa)
    asked_for = _first_of_its_kind(shown, mark_pa)
    excluded = Counter({code: int(asked_for[each].sum()) for code, each in bad.items()})
    excluded["no-pressure"] = int(np.isnan(shown[whole]).sum())
    way, setting = np.nonzero(asked_for & whole[:, None] & np.isfinite(shown))
    tried = int(asked_for.sum())
    if not way.size:
        return front.empty(), excluded, tried
    set_pa = shown[way, setting]
    at = states.settings(of, was, built.after, way, set_pa)
    bad = {
        code: broken.often(each)
        for code, each in broken.of_setting(bench, set_pa[:, None], at.share, at.lost_m).items()
    }
    excluded.update({code: int(each.sum()) for code, each in bad.items()})
    stance, curve = middle(at.stance), middle(at.curve)
    fine = ~np.any(list(bad.values()), axis=0) & np.isfinite(stance) & np.isfinite(curve)
    number = numbers[way]
    ranked = Ranked(number, setting, exact[way, setting], set_pa, stance, curve, ways.cost(number), ways.days(number))
    return ranked.take(fine), excluded, tried


def _pressures(bench: BenchFile, of: World, keep_gauge_pa: Any, mark_pa: float) -> tuple[Floats, Floats]:
    """The pressures of each way, (ways, settings): exact as the gauge would show them, and as it can; NaN where none is.

    The last is the one asked for, else the one fitted, as it is written.
    """
    air = (bench.fork.air if bench.fork else None) or Air()
    change = bench.change
    named = (change.air or {}) if change else {}
    asked = named.get("pressure_gauge_pa", change.pressure_gauge_pa if change else None)
    draws = len(of)
    ways = keep_gauge_pa["sag"].size // draws
    fitted_pa = 0.0 if air.pressure_gauge_pa is None else air.pressure_gauge_pa  # a coil has none
    here_pa = np.full((ways, 1), fitted_pa if asked is None else asked, dtype=float)
    if pressure_is_given(bench):
        return here_pa, here_pa
    kept = []
    for name in KEEPS:
        shown = of.gauge.shown_pa(keep_gauge_pa[name].reshape(ways, draws))
        kept.append(middle(shown))
    exact = np.column_stack((*kept, here_pa))
    to_marks = np.round(exact / mark_pa) * mark_pa
    to_marks[:, ASKED] = here_pa[:, 0]
    return exact, to_marks


def _first_of_its_kind(shown_pa: Floats, mark_pa: float) -> Bools:
    """Which settings of each way a gauge can tell from those before them; one that is NaN counts for itself."""
    result = np.ones(shown_pa.shape, dtype=bool)
    for k in range(1, shown_pa.shape[1]):
        for j in range(k):
            result[:, k] &= ~(np.abs(shown_pa[:, k] - shown_pa[:, j]) < 0.5 * mark_pa)
    return result
