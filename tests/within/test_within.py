"""Whether 95 % is 95 %: the interval of each answer against the truth of forks that were drawn without the planner.

Ranges, scatter and the widths to reach: physics.md 12, common practice, no source. The long variant takes 2,000 forks and 1,000 rear shocks.
"""

from __future__ import annotations

import numpy as np
import pytest

from topout.bench_file import read
from topout.planner import bounds, drawn, rear_bounds
from topout.planner import design as designs
from topout.uncertainty.intervals import interval
from within.forks import Fork, forks
from within.shocks import Shock, shocks

PSI = 6894.757293168361
ANSWERS = ("keep-sag", "keep-sag-share", "sag", "end-force")


def held(found: list[Fork], which: str, draws: int) -> tuple[dict[str, float], dict[str, float]]:
    """Share of the forks whose truth lies within, and the median half-width, of each answer."""
    inside: dict[str, list[bool]] = {name: [] for name in ANSWERS}
    widths: dict[str, list[float]] = {name: [] for name in ANSWERS}
    for one in found:
        answers = bounds.answer(read.read_text(getattr(one, which)), draws).bounds.answers
        for name in ANSWERS:
            interval = answers[name]
            inside[name].append(interval.low95 <= one.truth[name] <= interval.high95)
            widths[name].append(interval.half_width)
    return {n: float(np.mean(v)) for n, v in inside.items()}, {n: float(np.median(v)) for n, v in widths.items()}


@pytest.mark.parametrize(("which", "count", "least"), [("text", 30, 24), ("with_reading", 8, 5)])
def test_a_few_forks_lie_within(which: str, count: int, least: int) -> None:
    """Of 30 at 95 %, fewer than 24 inside has a probability of 2e-4 for each answer, of 8 fewer than 5 of 4e-4 (binomial)."""
    shares, widths = held(forks(count, 5), which, 2_000)
    assert min(shares.values()) >= least / count, shares
    # Half-widths to reach, 1.2 times those of physics.md 12's second script: 1.0 and 2.0 psi, 3.3 mm, 760 N, 480 N with a reading.
    most = {
        "keep-sag": 1.2 * PSI,
        "keep-sag-share": 2.4 * PSI,
        "sag": 3.96e-3,
        "end-force": 912.0 if which == "text" else 576.0,
    }
    assert all(widths[name] <= most[name] * 1.25 for name in ANSWERS), widths  # so few forks scatter: a quarter more


@pytest.mark.soak
@pytest.mark.parametrize("which", ["text", "with_reading"])
def test_ninety_five_is_ninety_five(which: str) -> None:
    shares, widths = held(forks(2_000, 6), which, 2_000)
    print(which, shares, widths)
    most = {
        "keep-sag": 1.2 * PSI,
        "keep-sag-share": 2.4 * PSI,
        "sag": 3.96e-3,
        "end-force": 912.0 if which == "text" else 576.0,
    }
    assert all(widths[name] <= most[name] for name in ANSWERS), widths
    assert all(0.93 <= share <= 0.97 for share in shares.values()), shares


@pytest.mark.soak
def test_ranges_that_are_wrong_by_a_quarter_show_it() -> None:
    """Forks from ranges that reach a quarter further up than is believed: the intervals are as wide as ever and hold less, the end
    of the travel by far the least (81 % of 300 on 29 November 2026)."""
    shares, widths = held(forks(600, 7, stretch=1.25), "text", 2_000)
    print("stretched", shares, widths)
    assert shares["end-force"] < 0.90
    assert all(shares[name] > 0.85 for name in ("keep-sag", "keep-sag-share", "sag")), shares


BEHIND = ("rear-keep-sag", "rear-keep-sag-share", "rear-sag", "rear-end-force")


def held_behind(found: list[Shock], which: str, draws: int) -> tuple[dict[str, float], dict[str, float]]:
    """The same of shocks, by what `bounds` works out behind; an answer of which nothing is said holds nothing."""
    inside: dict[str, list[bool]] = {name: [] for name in BEHIND}
    widths: dict[str, list[float]] = {name: [] for name in BEHIND}
    for one in found:
        made = drawn.draw(read.read_text(getattr(one, which)), draws)
        answers = rear_bounds.answers(rear_bounds.of_draws(made, designs.changed(made.design, made.changes)))
        for name in BEHIND:
            told = interval(answers[name], made.weights)
            inside[name].append(told is not None and told.low95 <= one.truth[name] <= told.high95)
            widths[name] += [] if told is None else [told.half_width]
    return {n: float(np.mean(v)) for n, v in inside.items()}, {n: float(np.median(v)) for n, v in widths.items()}


def test_a_few_shocks_lie_within() -> None:
    """Of 8 at 95 %, fewer than 5 inside has a probability of 4e-4 for each answer (binomial)."""
    few = shocks(8, 5)
    before, _ = held_behind(few[:4], "text", 1_000)
    after, _ = held_behind(few[4:], "with_reading", 1_000)
    assert all(4 * before[name] + 4 * after[name] >= 5 for name in BEHIND), (before, after)


def test_a_few_shocks_held_in_lie_within_and_their_end_is_known_better() -> None:
    """Of 6 at 95 %, fewer than 4 inside has a probability of 2e-3 for each answer (binomial)."""
    few = shocks(6, 8)
    shares, after = held_behind(few, "held_in", 1_000)
    assert all(6 * share >= 4 for share in shares.values()), shares
    _, before = held_behind(few, "text", 1_000)
    assert after["rear-end-force"] < 0.75 * before["rear-end-force"], (before, after)


@pytest.mark.soak
@pytest.mark.parametrize("which", ["text", "with_reading", "held_in"])
def test_ninety_five_is_ninety_five_behind(which: str) -> None:
    shares, widths = held_behind(shocks(1_000, 6), which, 2_000)
    print(which, shares, widths)
    assert all(0.93 <= share <= 0.97 for share in shares.values()), shares


@pytest.mark.soak
@pytest.mark.parametrize(("which", "end"), [("text", 0.82), ("with_reading", 0.75)])
def test_ranges_of_shocks_that_are_wrong_by_a_quarter_show_it(which: str, end: float) -> None:
    """Of 1,000 each on 29 November 2026: the end held in 82 and 75 of 100, the pressure for the same sag in 84 and 77, the sag in
    92 and 91; of the first on 30 November 82, 85, 93. What was measured with the can off makes it worse, since the doubt that is left is the wrong one."""
    shares, widths = held_behind(shocks(1_000, 7, stretch=1.25), which, 2_000)
    print("stretched", which, shares, widths)
    assert shares["rear-end-force"] == pytest.approx(end, abs=0.04), shares
    assert all(shares[name] < 0.945 for name in BEHIND) and shares["rear-sag"] > 0.85, shares
