"""A filling whose chambers nobody knows: readings judge each other. Forks of 200 sizes, ports open, blocked, leaking."""

from __future__ import annotations

import random

import pytest

from topout.physics.gas import ATMOSPHERE_PA
from topout.planner.fill import Filling, stops_below
from topout.units import PSI_PA

MARKS = {"digital": 0.1, "fine": 1.0, "coarse": 2.0}


class Bench:
    """A fork on the stand, worked out on its own: Boyle's law over two chambers and an empty hose, in psi."""

    def __init__(
        self, main_ml: float, negative_ml: float, hose_ml: float, *, open_port: bool, lost: float = 0.0
    ) -> None:
        self.main, self.negative, self.hose, self.open_port, self.lost = main_ml, negative_ml, hose_ml, open_port, lost
        self.ambient = ATMOSPHERE_PA / PSI_PA
        self.behind = 0.0

    def stroke(self, pumped: float) -> float:
        """Pumped to so much, pump off, one stroke, pump on: what the gauge shows."""
        now = pumped * (1 - self.lost)
        if self.open_port:
            now = (now * self.main + self.behind * self.negative) / (self.main + self.negative)
            self.behind = now
        return now * self.main / (self.main + self.hose)


def worked(bench: Bench, filling: Filling, mark: float, most: int = 40) -> tuple[Filling, bool]:
    """The rounds until they end, and whether every one of them passed."""
    step = 2 * mark * PSI_PA
    while len(filling.read) < len(filling.pumped_to(step)) and len(filling.read) < most:
        n = len(filling.read) + 1
        shown = bench.stroke(filling.pumped_to(step)[n - 1] / PSI_PA)
        reading = round(shown / mark) * mark * PSI_PA
        low, high = filling.span(n, mark * PSI_PA, step)
        if not low - 1e-6 <= reading <= high + 1e-6:
            return filling, False
        filling = Filling(filling.to_gauge_pa, filling.every_pa, filling.shares, (*filling.read, reading))
    return filling, len(filling.read) == len(filling.pumped_to(step))


def asked(to_psi: float, *, shares: bool) -> Filling:
    return Filling(to_psi * PSI_PA, 40 * PSI_PA, shares)


@pytest.mark.parametrize("gauge", MARKS)
def test_forks_of_every_size_fill_and_end_near_their_pressure(gauge: str) -> None:
    """The rounds end, and the main chamber then holds its pressure to what the last stroke cost: less than the gauge tells."""
    chance, mark = random.Random(6), MARKS[gauge]
    for _ in range(200):
        main = chance.uniform(120, 300)
        negative = main * chance.uniform(0.2, 0.45)
        target = float(chance.randrange(45, 140))
        bench = Bench(main, negative, chance.choice((0.0, 2.0, 3.0)), open_port=True)
        filling, passed = worked(bench, asked(target, shares=True), mark)
        assert passed, (main, negative, target, filling.read)
        cost = target - bench.behind
        assert 0 <= cost < 4 * mark + 0.02 * target, (main, negative, target, cost)


@pytest.mark.parametrize("gauge", MARKS)
@pytest.mark.parametrize("hose", [0.0, 2.0, 5.0])
def test_a_blocked_port_never_passes_on_any_gauge_with_any_hose(gauge: str, hose: float) -> None:
    chance, mark = random.Random(7), MARKS[gauge]
    for _ in range(200):
        bench = Bench(chance.uniform(90, 300), 50, hose, open_port=False)
        filling, passed = worked(bench, asked(float(chance.randrange(30, 140)), shares=True), mark)
        assert not passed, filling


@pytest.mark.parametrize("shares", [True, False])
@pytest.mark.parametrize("lost", [0.15, 0.3, 0.6])
def test_a_chamber_that_loses_its_air_at_every_stroke_never_passes(*, shares: bool, lost: float) -> None:
    bench = Bench(220, 50, 0.0, open_port=shares, lost=lost)
    assert not worked(bench, asked(82, shares=shares), 1.0)[1]


def test_a_main_chamber_by_itself_needs_two_readings_that_agree() -> None:
    bench = Bench(220, 50, 3.0, open_port=False)
    filling, passed = worked(bench, asked(82, shares=False), 1.0)
    assert (
        passed
        and len(filling.read) == 4
        and filling.pumped_to(2 * PSI_PA) == pytest.approx([40 * PSI_PA, 80 * PSI_PA, 82 * PSI_PA, 82 * PSI_PA])
    )


def test_no_round_is_pumped_above_the_pressure_asked_for() -> None:
    for to in (5.0, 39.0, 40.0, 40.1, 81.0, 120.0):
        rounds = asked(to, shares=True).pumped_to(2 * PSI_PA)
        assert max(rounds) == to * PSI_PA and list(rounds) == sorted(rounds)
        steps = [b - a for a, b in zip((0.0, *rounds), rounds, strict=False)]
        assert max(steps) <= 40 * PSI_PA * (1 + 1e-9)
    assert stops_below(80 * PSI_PA, 40 * PSI_PA) == pytest.approx([40 * PSI_PA])


def test_a_gauge_that_shows_more_than_was_pumped_or_less_than_was_in_it_does_not_pass() -> None:
    filling = Filling(82 * PSI_PA, 40 * PSI_PA, True, (30 * PSI_PA, 67 * PSI_PA, 78 * PSI_PA))
    low, high = filling.span(4, PSI_PA, 2 * PSI_PA)
    assert low >= 77 * PSI_PA - 1e-6 and high == pytest.approx(83 * PSI_PA)
    low, _ = filling.span(2, PSI_PA, 2 * PSI_PA)
    assert low > 30 * PSI_PA, "what was in it before is still in it"
