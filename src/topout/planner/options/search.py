"""The search: every way to build at every pressure that keeps or gives something, in chunks; the front and why the rest is out.

Of each way the rear's settings come first, since where the rear wheel rests does not follow from the fork; those that break no
limit are then looked at with each of the fork's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topout.bench_file.model import BenchFile
from topout.bench_file.parts import Part
from topout.physics.gas import Floats
from topout.planner import design as designs
from topout.planner import rear
from topout.planner.options import behind, broken, choices, front, near, pressures, states, world
from topout.planner.options.behind import Settings
from topout.planner.options.candidates import Numbers, Ways
from topout.planner.options.ends import FRONT, Ends
from topout.planner.options.front import Ranked
from topout.planner.options.states import KEEPS, Before, Builds
from topout.planner.options.world import World, middle
from topout.planner.wanted import Wanted
from topout.units import PSI_PA

ROWS: Final = 8_192  # settings times draws in one chunk; what a chunk takes does not grow with the search
NOTHING: Final = Wanted()


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """What a search goes by: the ways to build, the bikes, how they are now, what is wanted, what the gauge can show [Pa]."""

    ways: Ways
    world: World
    was: Before
    ends: Ends
    wanted: Wanted
    mark_pa: float

    @property
    def named_front(self) -> tuple[str, ...]:
        """What each of the fork's settings by number holds; the last is the pressure asked for, or the one fitted.

        nothing → [-] (any) words. Raises nothing. Source: none needed, bookkeeping.
        """
        if pressures.of_fork(self.world.bench, self.ends.front).no_question:
            return ("",)
        return (*KEEPS, *(["wanted"] if self.wanted.of_spring else []), "")

    @property
    def named_rear(self) -> tuple[str, ...]:
        """The same of the shock's.

        nothing → [-] (any) words. Raises nothing. Source: none needed, bookkeeping.
        """
        if not self.ends.rear or pressures.of_shock(self.world.bench).no_question:
            return ("",)
        return (*KEEPS, *(["wanted"] if self.wanted.at_rear else []), "")


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The front of a search, what excluded how many settings, and what was asked."""

    question: Question
    front: Ranked
    excluded: Counter[str]
    tried: int

    @property
    def ways(self) -> Ways:
        """The ways to build.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.question.ways

    @property
    def world(self) -> World:
        """The bikes.

        nothing → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return self.question.world


def search(
    bench: BenchFile,
    shelf: Sequence[Part] | None = None,
    *,
    ends: Ends = FRONT,
    wanted: Wanted = NOTHING,
    offsets_m: Sequence[float] = (),
    gauge_mark_pa: float = PSI_PA,
    draws: int = 1,
) -> Found:
    """Everything that could be fitted and set, and of it what nothing else beats.

    What `[change]` names is given; what it does not name may change: travel, spacers, tyres, pressure, behind stroke, spacers,
    coil, preload and pressure. Compared is with the bike as it is, or with what is wanted.

    bench [SI] (one) as read; shelf [SI] (any) parts, None for the file's own; ends [-] (one) that are looked at; wanted [SI]
    (one) any; offsets_m [m] (any) further ones to try; gauge_mark_pa [Pa] (one) above 0, what the gauge can show; draws [1] (one)
    1 and more, where something is to be drawn → [SI] (one). Raises FaultsFound where spring or load lacks a key, or what is
    wanted can't be. Source: bench-file.md; physics.md 12.
    """
    of = world.of_bench(bench, draws, ends)
    near.judge(of, wanted)
    given = choices.of_bench(bench, bench.shelf if shelf is None else shelf, ends, offsets_m)
    question = Question(Ways(bench, given), of, states.before(of), ends, wanted, gauge_mark_pa)
    excluded, best, tried = Counter(given.left_out), front.empty(), 0
    settings = len(question.named_front) * len(question.named_rear)
    size = max(1, ROWS // (settings * len(of)))
    for first in range(0, len(question.ways), size):
        numbers = np.arange(first, min(first + size, len(question.ways)))
        some, broken_here, count = chunk(question, numbers)
        excluded.update(broken_here)
        tried += count
        best = front.of_front(best.beside(some))
    return Found(question, best, +excluded, tried)


def chunk(question: Question, numbers: Numbers) -> tuple[Ranked, Counter[str], int]:
    """Some ways: those of their settings that break no limit, how many break which, and how many there were.

    question [SI] (one) of one search; numbers [1] (n,) of ways → [SI] (m,) options, and counts. Raises nothing. Source:
    physics.md 2, 6, 7 and 8.
    """
    ways, of, wanted = question.ways, question.world, question.wanted
    draws = len(of)
    which = np.tile(np.arange(draws), numbers.size)
    changes = ways.changes(numbers, of.changes)
    after = designs.changed(of.design.take(which), changes)
    few = ways.too_few(numbers)
    excluded, tried = Counter({choices.NONE_THERE: int(few.sum())}), 0
    if question.ends.rear:
        back, more, tried = behind.settings(of, after, which, wanted, question.mark_pa, few)
        excluded.update(more)
    else:
        after = rear.stood(after, _behind_n(of, which), changes.rear_wheel.sag_m)
        back = behind.as_it_is(numbers.size, after, draws).take(~few)
    if not len(back):
        return front.empty(), excluded, tried
    if question.ends.rear or few.any():
        rows = (back.way[:, None] * draws + np.arange(draws)).ravel()
        after, which = after.take(rows), which[rows]
        after = behind.filled(after, _true_pa(of, which, back.set_pa) if np.isfinite(back.set_pa).all() else None)
        after = replace(after, rear_wheel=replace(after.rear_wheel, sag_m=back.travel_m.ravel()))
    some, more, count = _in_front(question, numbers, back, states.builds(of, after, which))
    excluded.update(more)
    return some, excluded, tried + count if question.ends.front else tried


def _behind_n(of: World, which: Any) -> Floats | None:
    return None if of.loads.behind_n is None else of.loads.behind_n[which]


def _true_pa(of: World, which: Any, set_pa: Floats) -> Floats:
    return of.gauge.take(which).true_pa(np.repeat(set_pa, len(of)))


def _in_front(question: Question, numbers: Numbers, back: Settings, built: Builds) -> tuple[Ranked, Counter[str], int]:
    """The fork's settings on each of the rear's: ranked those that break no limit, how many break which, how many there were."""
    of, bench, mark_pa = question.world, question.world.bench, question.mark_pa
    draws, looked = len(of), question.ends.front
    bad = {}
    if looked:
        of_build = broken.of_build(bench, built.after, built.bikes, built.room)
        bad = {code: broken.often(each.reshape(-1, draws)) for code, each in of_build.items()}
    whole = ~np.any([*bad.values(), np.zeros(len(back), dtype=bool)], axis=0)
    given = pressures.of_fork(bench, looked)
    kept = {name: built.keep_gauge_pa[name] for name in KEEPS}
    kept |= (
        {"wanted": near.for_spring_pa(of, question.was, built, question.wanted)} if question.wanted.of_spring else {}
    )
    gauge = of.gauge.take(np.tile(np.arange(draws), len(back)))
    shown = {name: middle(gauge.shown_pa(each).reshape(-1, draws)) for name, each in kept.items()}
    exact, set_pa = pressures.table(shown, given, mark_pa, len(back))
    asked_for = pressures.first_of_its_kind(set_pa, mark_pa)
    excluded = Counter({code: int(asked_for[each].sum()) for code, each in bad.items()})
    excluded["no-pressure"] = int(np.isnan(set_pa[whole]).sum())
    row, setting = np.nonzero(asked_for & whole[:, None] & np.isfinite(set_pa))
    tried = int(asked_for.sum())
    if not row.size:
        return front.empty(), excluded, tried
    at = states.settings(of, question.was, built.after, row, set_pa[row, setting] if looked else None)
    bad = broken.of_setting(bench, set_pa[row, setting][:, None], at.share, at.lost_m) if looked else {}
    bad = {code: broken.often(each) for code, each in bad.items()}
    excluded.update({code: int(each.sum()) for code, each in bad.items()})
    curve = near.of_both_ends(question.ends, at.curve, back.curve[row])
    off = (
        near.miss(question.wanted, of, question.was, built.after, row, at, back.share[row])
        if question.wanted != NOTHING
        else at.stance
    )
    stance, curve = middle(off), middle(curve)
    fine = ~np.any([*bad.values(), ~(np.isfinite(stance) & np.isfinite(curve))], axis=0)
    number = numbers[back.way[row]]
    ranked = Ranked(
        number, back.setting[row] * len(question.named_front) + setting, exact[row, setting], set_pa[row, setting],
        back.gauge_pa[row], back.set_pa[row], stance, curve, question.ways.cost(number), question.ways.days(number),
        question.ways.stroke_given_up_m(number),
    )  # fmt: skip
    return ranked.take(fine), excluded, tried
