"""The leak hold: a leaking chamber is found, a tight one is not called leaking, a coarse gauge says that it can't tell."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from topout.physics.gas import ATMOSPHERE_PA
from topout.planner.leak import Held, allowed_share, judge
from topout.units import PSI_PA

K20, K12 = 293.15, 285.15
SHORT_S, NIGHT_S = 30 * 60.0, 8 * 3600.0  # the shortest hold, and what is a night


def psi(value: Any) -> Any:
    """Pressure [Pa], a number or an array."""
    return value * PSI_PA


def test_cooler_air_is_no_leak() -> None:
    """80 psi at 20 °C shows 77.4 psi at 12 °C with nothing lost: (80 + 14.696)·285.15/293.15 − 14.696 by hand."""
    by_hand = (80.0 + 14.69595) * 285.15 / 293.15 - 14.69595
    found = judge([Held(0, psi(80), K20), Held(3600, psi(by_hand), K12)], psi(0.5), ATMOSPHERE_PA)
    assert found.expected_pa == pytest.approx(psi(by_hand), rel=1e-6)
    assert abs(found.lost_pa) < 1.0
    assert found.verdict == "holds"


def test_the_same_reading_in_a_cooler_room_gained_air_or_was_read_wrong_and_warmer_it_leaks() -> None:
    warmer = judge([Held(0, psi(80), K12), Held(3600, psi(80), K20)], psi(0.5), ATMOSPHERE_PA)
    assert warmer.lost_pa > psi(2.4) and warmer.verdict == "leaks"


def test_a_coarse_gauge_waits_and_says_until_when() -> None:
    """A gauge of 1 psi marks at 80 psi can't tell 1 % after half an hour; the wait it names is long enough."""
    start = Held(0, psi(80), K20)
    half_hour = judge([start, Held(SHORT_S, psi(80), K20)], psi(1), ATMOSPHERE_PA)
    assert half_hour.verdict == "not yet" and half_hour.tell_at_s is not None
    assert half_hour.tell_at_s > SHORT_S
    just_before = judge([start, Held(half_hour.tell_at_s - 1, psi(80), K20)], psi(1), ATMOSPHERE_PA)
    then = judge([start, Held(half_hour.tell_at_s + 1, psi(80), K20)], psi(1), ATMOSPHERE_PA)
    assert just_before.verdict == "not yet" and then.verdict == "holds"


def test_one_mark_is_what_a_gauge_can_tell_overnight() -> None:
    start = Held(0, psi(40), K20)
    assert judge([start, Held(NIGHT_S, psi(39), K20)], psi(1), ATMOSPHERE_PA).verdict == "holds"
    assert judge([start, Held(NIGHT_S, psi(38), K20)], psi(1), ATMOSPHERE_PA).verdict == "leaks"
    at_once = judge([start, Held(600, psi(39), K20)], psi(1), ATMOSPHERE_PA)
    assert at_once.verdict == "not yet" and at_once.tell_at_s == NIGHT_S


def test_a_hold_that_began_with_nothing_in_it_waits_for_the_night() -> None:
    """Where more is read than was in it, by a gauge on the wrong chamber, no share of nothing tells when."""
    found = judge([Held(0, 0.0, K20), Held(600, psi(10), K20)], psi(1), ATMOSPHERE_PA)
    assert (found.verdict, found.tell_at_s) == ("not yet", NIGHT_S)


def test_no_wait_tells_what_is_lost_by_more_than_a_mark_but_not_for_certain() -> None:
    found = judge([Held(0, psi(80), K20), Held(3600, psi(78), K20)], psi(1), ATMOSPHERE_PA)
    assert found.verdict == "not yet" and found.tell_at_s is None


def test_known_to_holds_the_spread_of_rounded_readings() -> None:
    """Monte Carlo as the second way: two readings rounded to a mark, the temperature off by half a kelvin."""
    rng = np.random.default_rng(29)
    mark, true = psi(1), psi(rng.uniform(40, 120, 200_000))
    moved = (true + ATMOSPHERE_PA) / K20 * rng.normal(0, 0.5, true.size)
    lost = (
        np.round((true + rng.uniform(-0.5, 0.5, true.size) * mark) / mark) * mark
        - np.round((true - moved) / mark) * mark
    )
    known = np.array([judge([Held(0, p, K20), Held(1, p, K20)], mark, ATMOSPHERE_PA).known_to_pa for p in true[:50]])
    inside = np.mean(np.abs(lost[:50_000]) <= known.mean())
    assert 0.95 < inside < 1.0


@pytest.mark.parametrize("leak_share_per_hour", [0.0, 0.004, 0.03, 0.2])
def test_a_tight_chamber_is_never_called_leaking_and_a_leaking_one_never_held(leak_share_per_hour: float) -> None:
    """2,000 holds read on gauges of every mark, truth known: 0.4 %/h must never leak in the hour, 20 %/h never hold."""
    rng = np.random.default_rng(31)
    wrong = 0
    for _ in range(2_000):
        mark, start = psi(rng.choice([0.1, 0.5, 1.0, 2.0, 5.0])), psi(rng.uniform(40, 250))
        hours = rng.choice([0.5, 1.0, 2.0])
        left = start * (1 - leak_share_per_hour * hours)
        shown = [round(p / mark) * mark for p in (start, left)]
        found = judge([Held(0, shown[0], K20), Held(hours * 3600, shown[1], K20)], mark, ATMOSPHERE_PA)
        if leak_share_per_hour <= 0.004 and hours <= 1.0:
            wrong += found.verdict == "leaks"
        if leak_share_per_hour == 0.2:
            wrong += found.verdict == "holds"
    assert wrong == 0


def test_what_may_be_lost_by_when() -> None:
    """1 % in half an hour, evenly to 2 % in an hour, and no more after that; written out, not taken from the room."""
    assert (SHORT_S, NIGHT_S) == (1800.0, 28800.0)
    shares = [allowed_share(minutes * 60.0) for minutes in (-5, 0, 15, 30, 45, 60, 90, 600)]
    assert shares == pytest.approx([0, 0, 0.005, 0.01, 0.015, 0.02, 0.02, 0.02])


def test_nothing_holds_before_half_an_hour_and_a_fine_gauge_tells_then() -> None:
    """100 psi on marks of 0.05 psi, the temperature known to half a kelvin: nothing lost, so only time lacks."""
    start = Held(0, psi(100), K20)
    for seconds, verdict in ((1799.0, "not yet"), (1800.0, "holds")):
        assert judge([start, Held(seconds, psi(100), K20)], psi(0.05), ATMOSPHERE_PA).verdict == verdict
    assert judge([start, Held(60, psi(100), K20)], psi(0.05), ATMOSPHERE_PA).tell_at_s == 1800.0


@pytest.mark.parametrize(
    "readings",
    [[], [Held(0, 1e5, K20)], [Held(60, 1e5, K20), Held(0, 1e5, K20)], [Held(0, 1e5, 0.0), Held(60, 1e5, K20)]],
)
def test_what_is_no_hold_is_refused(readings: list[Held]) -> None:
    with pytest.raises(ValueError, match="hold|absolute"):
        judge(readings, psi(1), ATMOSPHERE_PA)
