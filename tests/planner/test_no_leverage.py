"""A rear shock whose frame's leverage nobody knows: what holds the sag that was found at the shock follows all the same."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy.optimize import brentq

from topout import api
from topout.bench_file import read
from topout.cli import plan_table
from topout.planner import bounds, defaults
from topout.planner.plan import plan
from topout.units import BENCH, PSI_PA

LEVERAGE = 'leverage = [["0 mm", 2.5], ["137.5 mm", 2.5]]\n'
KNOWN = """
[rider]
mass = "82 kg"
front_share = 0.42
[bike]
mass = "15 kg"
unsprung_front = "3.0 kg"
unsprung_rear = "3.5 kg"
[shock]
length = "210 mm"
stroke = "55 mm"
sag = "15 mm"
friction = "25 N"
[shock.air]
bore = "46 mm"
shaft = "30 mm"
positive_volume = "150 ml"
negative_volume = "45 ml"
spacers = 1
spacer_volume = "6 ml"
pressure = "150 psi"
[change.shock]
spacers = 3
"""
COIL = re.sub(r"\[shock\.air\].*?(?=\[change)", '[shock.coil]\nrate = "70 N/mm"\npreload = "1 mm"\n', KNOWN, flags=re.S)
COIL = COIL.replace("spacers = 3", 'preload = "3 mm"')
OUTSIDE = re.sub(r'(bore|shaft|positive_volume|negative_volume|spacer_volume|friction) = ".*"\n', "", KNOWN)
OUTSIDE = OUTSIDE.replace('stroke = "55 mm"', 'stroke = "55 mm"\nbody = "52 mm"').replace("front_share = 0.42\n", "")
OUTSIDE = OUTSIDE.replace("spacers = 3", "spacers = 2").replace("15 mm", "12 mm").replace("150 psi", "140 psi")


def levered(text: str) -> str:
    return text.replace("[shock.air]", f"{LEVERAGE}[shock.air]")


def force_n(text: str, pressure_psi: float, spacers: int) -> float:
    """Slow force of the shock at 15 mm, by `topout curve`."""
    text = text.partition("[change")[0].replace("150 psi", f"{pressure_psi!r} psi")
    of = api.curve(read.read_text(text.replace("spacers = 1", f"spacers = {spacers}")), points=12, end="rear")
    return float(np.asarray(of.force_n)[3])  # 55 mm in 11 steps of 5


def test_the_pressure_for_the_same_sag_balances_what_the_shock_carried() -> None:
    """Two ways: a root finder on the curve's own force, and the same bike behind a linkage of one ratio."""
    keep = plan(read.read_text(KNOWN)).rear.keep  # type: ignore[union-attr]
    carried = force_n(KNOWN, 150.0, 1)
    psi = brentq(lambda psi: force_n(KNOWN, psi, 3) - carried, 100.0, 200.0, xtol=1e-9)
    assert keep.sag.pressure_pa == pytest.approx(psi * PSI_PA, rel=1e-9)
    other = plan(read.read_text(levered(KNOWN))).rear.keep  # type: ignore[union-attr]
    assert keep.sag.pressure_pa == pytest.approx(other.sag.pressure_pa, rel=1e-9)
    assert keep.sag_share.pressure_pa == keep.sag.pressure_pa


def test_a_coil_for_the_same_sag_too() -> None:
    """F = k·(x + p): 70 · 16 = k · 18."""
    keep = plan(read.read_text(COIL)).rear.keep  # type: ignore[union-attr]
    assert keep.sag.pressure_pa is None
    assert keep.sag.rate_n_per_m == pytest.approx(70e3 * 16.0 / 18.0, rel=1e-9)


def test_at_another_stroke_the_share_stays_open_for_its_ratio_is_another() -> None:
    keep = plan(read.read_text(KNOWN + 'stroke = "52.5 mm"\n')).rear.keep  # type: ignore[union-attr]
    assert keep.sag.pressure_pa is not None and keep.sag_share.pressure_pa is None


def test_without_the_sag_found_nothing_is_held() -> None:
    keep = plan(read.read_text(KNOWN.replace('sag = "15 mm"\n', ""))).rear.keep  # type: ignore[union-attr]
    assert keep.sag.pressure_pa is None and keep.sag_share.pressure_pa is None and keep.curve.pressure_pa is not None


def test_known_from_outside_alone_it_is_told_with_its_limits() -> None:
    """Behind a linkage of one ratio the draws are weighed by the share they imply too: near, and no wider."""
    told, other = (bounds.answer(read.read_text(of), 4_000).bounds.answers for of in (OUTSIDE, levered(OUTSIDE)))
    one, two = told["rear-keep-sag"], other["rear-keep-sag"]
    assert one.low95 < one.median < one.high95
    assert one.median == pytest.approx(two.median, abs=1.5 * PSI_PA)
    assert two.half_width <= 1.1 * one.half_width <= 1.5 * two.half_width
    assert "rear-sag" not in told and "rear-sag" in other


def test_the_sentence_and_its_table_have_it() -> None:
    bench = read.read_text(KNOWN)
    said = re.sub(r"\s+", " ", plan_table.plan(bench, plan(bench), BENCH))
    assert "volume spacers. Bottom-out force at the shock" in said
    assert re.search(r"same sag in % 145 psi .* same sag 145 psi", said)
    assert "What can hurt at the shock, at free length" in said and "At free length the air pushes on the can" in said
    assert "shock, at full extension" not in said


FRAME = """
[frame]
head_angle = "65 deg"
seat_angle = "77 deg"
reach = "470 mm"
stack = "625 mm"
chainstay = "435 mm"
bb_drop = "25 mm"
fork_length = "546 mm"
fork_offset = "44 mm"
front_radius = "369 mm"
rear_radius = "369 mm"
"""


def test_a_rear_end_that_sags_by_its_draws_is_not_said_not_to_sag() -> None:
    """Nobody found its sag: with its leverage it follows from the draws, without it the bike stands as if it did not sag."""
    text = OUTSIDE.replace('sag = "12 mm"\n', "") + FRAME
    keys = {}
    for name, of in (("with", levered(text)), ("without", text)):
        found = bounds.answer(read.read_text(of), 500)
        keys[name] = {each.key for each in defaults.of_plan(read.read_text(of), found.bench)}
    assert "rear_wheel.sag" not in keys["with"] and "rear_wheel.sag" in keys["without"]
