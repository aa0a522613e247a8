"""Options of a fork of which the outside alone is known: each figure with what it lies between, none said as one that is not."""

from __future__ import annotations

import json
import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from made_up import FRAME, ROOM, outside, sag_found, weights
from topout.__main__ import main
from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.planner import bounds
from topout.planner.options import gives_up, now_and_then
from topout.planner.options.answer import options
from topout.planner.options.option import Option
from topout.planner.wanted import Wanted
from topout.units import BENCH

ROOT = Path(__file__).resolve().parents[2]

OUTSIDE = (
    weights() + FRAME + outside(pressure="70 psi", spacers=2, more=ROOM) + sag_found(pressure="70 psi")
    + '[change]\ntravel = "160 mm"\n'
)  # fmt: skip


def file() -> BenchFile:
    return read.read_text(OUTSIDE)


@cache
def found() -> tuple[Option, ...]:
    return options(file(), draws=400).options


def by(keep: str, spacers: int) -> Option:
    return next(each for each in found() if (each.keep, each.spacers) == (keep, spacers))


def test_a_pressure_lies_between_what_the_plan_of_that_way_says() -> None:
    """The second way: the plan of the same change, every draw weighed, where the search has its own four hundred of equal weight."""
    told = bounds.answer(file(), 4_000).bounds
    for keep in ("sag", "sag-share"):
        of, plan = by(keep, 2).limits["pressure_pa"], told.of["keep", keep, "pressure_pa"]
        assert (of.low95, of.median, of.high95) == pytest.approx((plan.low95, plan.median, plan.high95), rel=0.01)
        assert by(keep, 2).pressure_gauge_pa == pytest.approx(of.median, rel=1e-3)


def test_how_firm_the_end_is_is_no_single_figure_where_nobody_knows_it() -> None:
    """One spacer more moves it by anything from a few per cent to the double; the way back is known."""
    more = next(each for each in found() if (each.spacers or 0) > 2 and each.limits["end_force"].low95 > 0.0)
    of = more.limits["end_force"]
    assert of.half_width > 0.08 and of.low95 > 0.0
    low, high = math.floor(100 * of.low95), math.ceil(100 * of.high95)
    assert gives_up.end(more, "end_force") == f"+{low} to +{high}"
    said = gives_up.said(more, BENCH).replace("\xa0", " ")
    assert f"{low} to {high} % firmer at the end of the travel" in said
    kept = by("sag", 2)
    assert kept.limits["end_force"].half_width < 0.08
    assert re.search(r"\d+ % firmer at the end of the travel", gives_up.said(kept, BENCH).replace("\xa0", " "))
    assert " to " not in gives_up.end(kept, "end_force")


def test_a_sag_that_is_not_known_is_no_figure_in_what_is_given_up_either() -> None:
    """The table had "17 to 22 %", the sentence below it "sag 20 % of the travel"."""
    bare = read.read_text(OUTSIDE.replace(sag_found(pressure="70 psi"), ""))
    (wide,) = [
        each for each in options(bare, draws=400, wanted=Wanted(sag_share=0.2)).options if each.keep == "wanted"
    ][:1]
    before, after = now_and_then.said(wide, "sag_share", BENCH)
    assert " to " in after
    said = gives_up.said(wide, BENCH).replace("\xa0", " ")
    assert f"sag {after} % of the travel, before {before} %" in said.lower()


def test_the_difference_has_its_limits_beside_and_they_hold_the_middle() -> None:
    told: Any = by("sag-share", 2).as_json()
    assert told["pressure_pa_low95"] < told["pressure_pa"] < told["pressure_pa_high95"]
    gap = told["difference"]
    assert gap["end_force_n_low95"] < gap["end_force_n"] < gap["end_force_n_high95"]
    sagged = gap["geometry"]["sagged"]
    assert sagged["head_angle_deg_low95"] <= sagged["head_angle_deg"] <= sagged["head_angle_deg_high95"]
    assert np.isfinite(sagged["trail_m_u"])
    assert "head_angle_deg_low95" not in gap["geometry"]["unloaded"]  # it hangs on nothing that was drawn


def test_the_terminal_says_it_and_an_exact_file_has_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "fork.toml"
    path.write_text(OUTSIDE)
    assert main(["options", str(path)]) == 0
    said = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert re.search(r"66 psi \(6\d psi to 6\d psi\), two volume spacers: the same sag in %", said)
    assert re.search(r"\+\d+ to \+\d+ %", said) and "what it lies between stands in its place" in said
    whole = OUTSIDE.replace("spacers = 2", 'spacers = 2\nspacer_volume = "8 ml"\nbore = "32 mm"\nshaft = "10 mm"\n'
                            'positive_volume = "220 ml"\nnegative_volume = "45 ml"')  # fmt: skip
    path.write_text(
        whole.replace('stanchion = "36 mm"\n', "").replace('mass = "82 kg"', 'mass = "82 kg"\nfront_share = 0.41')
    )
    assert main(["options", str(path), "--json"]) == 0
    told = capsys.readouterr().out
    assert "_low95" not in told and json.loads(told)["options"]


def test_now_and_then_are_no_finer_than_they_are_known() -> None:
    """Sag is known to some 4 mm, the end to some 600 N: what each lies between stands there, of both states; an exact file as it was."""
    one = by("sag", 2)
    was, then = one.known["end_force"]
    said = [now_and_then.said(one, "end_force"), now_and_then.said(one, "sag"), now_and_then.said(one, "head_angle")]
    for told, of in zip(said[0], (was, then), strict=True):
        low, high = (int(each.replace("\u202f", "")) for each in told.split(" to "))
        assert low <= of.low95 <= low + 100 and high - 100 <= of.high95 <= high and low % 100 == high % 100 == 0
    assert all(re.fullmatch(r"\d+ to \d+", each) for each in said[1]), said[1]
    assert all(re.fullmatch(r"\d\d\.\d", each) for each in said[2]), "known to a fifth of a degree"
    whole = read.read_text((ROOT / "examples" / "longer-travel.toml").read_text())
    for option in options(whole, draws=400).options[:2]:
        assert option.known == {}
        for name, fact in option.facts.items():
            assert now_and_then.said(option, name) == (fact.number("before"), fact.number("after"))
