"""A rear shock whose frame's leverage nobody knows: what holds the sag that was found at the shock follows all the same."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from made_up import FRAME
from topout import api
from topout.bench_file import read
from topout.bench_file.model import Ride
from topout.cli import plan_table
from topout.documents import sheet_of_plan
from topout.errors import FaultsFound
from topout.planner import bounds, defaults, fitted, replies
from topout.planner.landing import landing
from topout.planner.plan import plan
from topout.planner.rebound import rebound
from topout.planner.ride import Ridden, ride
from topout.planner.target import targets
from topout.planner.wanted import Wanted
from topout.units import BENCH, PSI_PA

ROOT = Path(__file__).resolve().parents[2]
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
    # Emptied on its main side a can may hold its negative one: “let it out before anything is unscrewed” was no proof of it.
    assert "let it out, both chambers. Unscrew nothing before it stands at free length." in " ".join(said.split())
    assert "shock, at full extension" not in said


def test_a_rear_end_that_sags_by_its_draws_is_not_said_not_to_sag() -> None:
    """Nobody found its sag: with its leverage it follows from the draws, without it the bike stands as if it did not sag."""
    text = OUTSIDE.replace('sag = "12 mm"\n', "") + FRAME
    keys = {}
    for name, of in (("with", levered(text)), ("without", text)):
        found = bounds.answer(read.read_text(of), 500)
        keys[name] = {each.key for each in defaults.of_plan(read.read_text(of), found.bench)}
    assert "rear_wheel.sag" not in keys["with"] and "rear_wheel.sag" in keys["without"]


PROGRESSIVE = 'leverage = [["0 mm", 2.9], ["70 mm", 2.5], ["137.5 mm", 2.15]]\n'
COLD = Ride(temperature_k=273.15)


def cold(text: str) -> Ridden:
    return ride(replace(read.read_text(text), ride=COLD))


def test_what_to_set_for_a_cold_ride_needs_no_leverage() -> None:
    """The shock stands at the same stroke under the same load here and there: whatever the linkage, it takes the same pressure."""
    found, same, other = (cold(of) for of in (KNOWN, levered(KNOWN), levered(KNOWN).replace(LEVERAGE, PROGRESSIVE)))
    assert found.by_stroke and not same.by_stroke
    assert found.set_gauge_pa is not None and same.set_gauge_pa is not None and found.deeper_m is not None
    assert found.set_gauge_pa.median == pytest.approx(same.set_gauge_pa.median, rel=1e-9)
    assert found.deeper_m.median == pytest.approx(same.deeper_m.median, rel=1e-9)  # type: ignore[union-attr]
    assert found.here.gauge_pa == same.here.gauge_pa and found.there.gauge_pa == same.there.gauge_pa
    # At another ratio the bike with more spacers rests elsewhere, and there the cold takes as much by the gas law.
    stood = replace(read.read_text(KNOWN), change=None, ride=COLD)
    linked = replace(read.read_text(levered(KNOWN).replace(LEVERAGE, PROGRESSIVE)), change=None, ride=COLD)
    one, two = (ride(each).set_gauge_pa for each in (stood, linked))
    assert one is not None and two is not None and one.median == pytest.approx(two.median, rel=1e-9)
    assert (150.0 + 14.696) * 293.15 / 273.15 - 14.696 == pytest.approx(one.median / PSI_PA, abs=0.01)
    assert (other.here.wheel_sag_m is None, found.here.wheel_sag_m, found.here.end_force_n) == (False, None, None)
    json = found.as_json()
    assert json["by_stroke"] is True and json["here"]["travel_m"] is None and json["here"]["stroke_m"] is not None


def test_a_rebound_to_start_from_needs_none() -> None:
    found, same = (rebound(read.read_text(of), 8) for of in (KNOWN, levered(KNOWN)))
    assert found.damping_ratio is not None and same.damping_ratio is not None
    assert found.damping_ratio.median == pytest.approx(same.damping_ratio.median, rel=1e-9)
    assert found.rate_ratio.median == pytest.approx(same.rate_ratio.median, rel=1e-9)  # type: ignore[union-attr]
    assert found.damping_ratio.median == pytest.approx(found.rate_ratio.median**0.5)  # type: ignore[union-attr]
    assert (found.clicks, found.by_stroke) == (same.clicks, True)


@pytest.mark.parametrize("text", [KNOWN, COIL], ids=["air", "coil"])
def test_a_sag_wanted_of_the_stroke_needs_none(text: str) -> None:
    for asked in (Wanted(rear_sag_m=0.0175), Wanted(rear_share=0.3)):
        (one,), (two,) = (targets(read.read_text(of), asked).rear for of in (text, _with_leverage(text)))
        for name in ("pressure_gauge_pa", "rate_n_per_m", "preload_m", "stroke_m", "share_of_stroke"):
            here, there = getattr(one, name), getattr(two, name)
            assert (here is None) == (there is None), name
            assert here is None or here.median == pytest.approx(there.median, rel=1e-9), name
        assert one.wheel_m is one.share_of_wheel_travel is one.wheel_end_force_n is None


def _with_leverage(text: str) -> str:
    return text.replace("[shock.", f"{LEVERAGE}[shock.", 1)


def test_at_the_sag_that_was_found_it_is_the_pressure_that_keeps_it() -> None:
    """Two ways: what is asked for, and what the plan keeps, which a root finder found above."""
    bench = read.read_text(KNOWN)
    (one,) = targets(bench, Wanted(rear_sag_m=0.015)).rear
    assert one.pressure_gauge_pa is not None
    assert one.pressure_gauge_pa.median == pytest.approx(plan(bench).rear.keep.sag.pressure_pa, rel=1e-9)  # type: ignore[union-attr]


def test_it_is_said_and_a_landing_says_what_it_needs() -> None:
    for reply in (
        replies.to_ride(cold(KNOWN), BENCH), replies.to_rebound(rebound(read.read_text(KNOWN), 8), BENCH),
        replies.to_targets(targets(read.read_text(KNOWN), Wanted(rear_share=0.25)), BENCH),
    ):  # fmt: skip
        assert replies.NO_LEVERAGE in reply.after
        assert "wheel" not in " ".join(reply.first) and "–" not in " ".join(map(str, reply.tables))
    for refused, place in (
        (lambda: landing(read.read_text(KNOWN)), "[shock] leverage"),
        (lambda: rebound(read.read_text(KNOWN.replace('sag = "15 mm"\n', ""))), "[shock] sag"),
    ):
        with pytest.raises(FaultsFound) as found:
            refused()
        assert [each.location for each in found.value.faults] == [place]


def test_from_outside_alone_a_pressure_that_is_not_known_is_not_set() -> None:
    """Nobody knows where in its band of friction it settled, nor how the can stiffens."""
    bench = read.read_text(OUTSIDE.partition("[change")[0])
    told = targets(bench, Wanted(rear_sag_m=0.018), 4_000)
    known, said = told.rear[0].pressure_gauge_pa, replies.to_targets(told, BENCH).first[0]
    assert known is not None and known.half_width > 3 * PSI_PA
    assert "the pressure is not known yet: between" in said and "set the shock to" not in said


def test_how_a_unit_stands_that_is_out_has_one_author(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of these said for itself that a shock stands at free length, a fork at full extension: one table says it to all."""
    for noun, word in (("shock", "its eye to eye"), ("fork", "its whole length")):
        monkeypatch.setitem(fitted.STANDS_AT, noun, word)  # type: ignore[arg-type]  # a plain table, that nobody else writes to
    fork = read.read_text((ROOT / "examples" / "port-further-in.toml").read_text())
    port = KNOWN.replace("spacer_volume", 'port_position = "3 mm"\nspacer_volume')
    for text in (KNOWN, port, OUTSIDE):
        bench = read.read_text(text)
        said = plan_table.plan(bench, plan(bench, draws=500), BENCH)
        assert "free length" not in said and "at its eye to eye" in re.sub(r"\s+", " ", said)
    said = re.sub(r"\s+", " ", plan_table.plan(fork, plan(fork), BENCH))
    assert "after bleeding at its whole length" in said and "At its whole length the air pushes" in said
    assert sheet_of_plan.stands_out("shock") == "shock at its eye to eye"
    large = sheet_of_plan.large_pressure(5e5, None, BENCH, "fork")
    assert large is not None and large.note.endswith("fork at its whole length")
