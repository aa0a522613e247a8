"""The fork length that keeps head angle, trail or bottom bracket, against a generic solver on the stance itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from topout.physics import geometry, neutral
from topout.physics.geometry import Chart, Fitted

KEPT = {
    "head_angle_rad": neutral.length_for_head_angle_m,
    "trail_m": neutral.length_for_trail_m,
    "bb_height_m": neutral.length_for_bb_height_m,
}


def _bikes(count: int) -> tuple[Chart, Fitted, Fitted]:
    """Random frames, with what stands in them before, and with other wheels and another offset."""
    chance = np.random.default_rng(20_26)

    def some(low: float, high: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return chance.uniform(low, high, count)

    radius = some(0.33, 0.38)
    chart = Chart(
        head_angle_rad=np.radians(some(62, 74)), seat_angle_rad=np.radians(some(70, 79)), reach_m=some(0.38, 0.52),
        stack_m=some(0.56, 0.67), chainstay_m=some(0.41, 0.46), drop_m=some(-0.02, 0.06), fork_length_m=some(0.43, 0.59),
        fork_offset_m=some(0.035, 0.055), front_radius_m=radius, rear_radius_m=radius + some(-0.02, 0.02),
    )  # fmt: skip
    none = np.zeros(count)
    before = Fitted(chart.fork_length_m, chart.fork_offset_m, chart.front_radius_m, chart.rear_radius_m, none)
    after = Fitted(
        chart.fork_length_m,
        some(0.035, 0.055),
        radius + some(-0.02, 0.02),
        chart.rear_radius_m + some(-0.02, 0.02),
        none,
    )
    return chart, before, after


@pytest.mark.parametrize("kept", KEPT)
def test_the_closed_form_is_what_a_solver_finds(kept: str) -> None:
    chart, before, after = _bikes(60)
    wanted = geometry.stance(geometry.axle_frame(chart, before), np.zeros(60))[kept]
    got = KEPT[kept](chart, after, wanted)
    for k in range(60):
        one, two = chart.take(slice(k, k + 1)), after.take(slice(k, k + 1))

        def off(length_m: float, one: Chart = one, two: Fitted = two, k: int = k) -> float:
            fitted = replace(two, fork_length_m=np.array([length_m]))
            return float(geometry.stance(geometry.axle_frame(one, fitted), np.zeros(1))[kept][0] - wanted[k])

        low, high = float(chart.fork_length_m[k]) - 0.25, float(chart.fork_length_m[k]) + 0.25
        if off(low) * off(high) < 0:
            assert got[k] == pytest.approx(brentq(off, low, high, xtol=1e-13), abs=1e-10)
        else:  # further than any fork
            assert not low < got[k] < high


@pytest.mark.parametrize("kept", KEPT)
def test_with_the_same_wheels_the_fork_stays(kept: str) -> None:
    chart, before, _ = _bikes(20)
    wanted = geometry.stance(geometry.axle_frame(chart, before), np.zeros(20))[kept]
    assert np.allclose(KEPT[kept](chart, before, wanted), before.fork_length_m, rtol=0, atol=1e-12)


def test_what_no_fork_does_is_not_a_number() -> None:
    chart, before, _ = _bikes(1)
    assert np.isnan(neutral.length_for_bb_height_m(chart, before, np.array([2.0]))).all()
