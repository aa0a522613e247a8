"""Values with an uncertainty of their own, through the plan: against plans of exact files, and first-order propagation.

JCGM 100:2008 5.1.2 is the second way; the code under test draws (JCGM 101:2008).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from made_up import FRAME, weights
from topout.bench_file import read, write
from topout.errors import FaultsFound
from topout.planner import change, drawn, plan, typical
from topout.uncertainty.doubt import NORMAL_95, Doubt
from topout.units import PSI_PA

WHOLE = (
    weights(share="0.42")
    + FRAME
    + """[fork]
length = "546 mm"
offset = "44 mm"
travel = "150 mm"
tyre_room = "533 mm"
friction = "12 N"
[fork.air]
bore = "34.6 mm"
shaft = "10 mm"
positive_volume = "245 ml"
negative_volume = "45 ml"
pressure = "68 psi"
[change]
travel = "160 mm"
"""
)
EXACT = (('pressure = "68 psi"', 'pressure = "68 ± 0 psi"'), ("front_share = 0.42", 'front_share = "0.42 ± 0"'))
DRAWS = 4_000


def told(*moved: tuple[str, str], draws: int = DRAWS) -> dict[str, Any]:
    text = WHOLE
    for old, new in moved:
        assert old in text
        text = text.replace(old, new, 1)
    return plan.plan(read.read_text(text), draws=draws).as_json()


def exact(*moved: tuple[str, str]) -> dict[str, Any]:
    return told(*moved, draws=0)


def test_a_file_without_one_is_exact_and_says_so() -> None:
    assert told()["drawn"] is None
    assert told() == exact()


def test_one_value_alone_gives_the_limits_of_two_exact_files() -> None:
    """With pressure and share written exact, only the bore is open; force falls with it, so its 95 % are the force's."""
    wide = told(*EXACT, ('bore = "34.6 mm"', 'bore = "34.6 ± 0.2 mm"'))
    small, large = (exact(('bore = "34.6 mm"', f'bore = "{bore} mm"')) for bore in (34.4, 34.8))
    ends = sorted((small["after"]["end_force_n"], large["after"]["end_force_n"]))
    assert wide["after"]["end_force_n_low95"] == pytest.approx(ends[0], rel=1e-3)
    assert wide["after"]["end_force_n_high95"] == pytest.approx(ends[1], rel=1e-3)
    assert wide["after"]["end_force_n"] == pytest.approx(exact()["after"]["end_force_n"], rel=1e-3)
    sags = sorted(one["after"]["sag"]["front"]["travel_m"] for one in (small, large))
    front = wide["after"]["sag"]["front"]
    assert (front["travel_m_low95"], front["travel_m_high95"]) == pytest.approx(tuple(sags), rel=2e-3)
    assert wide["drawn"]["assumed"] == []
    assert {key["key"] for keys in wide["drawn"]["depends_on"].values() for key in keys} == {"fork.air.bore"}
    assert "travel_m_low95" not in wide["before"]["geometry"], "what is exact has no limits"


@pytest.mark.parametrize(
    ("written", "half"), [("34.6 ± 0.2 mm", 0.2), ("34.6 mm u 0.1 mm", 0.196), ("34.6 within 0.2 mm", 0.19)]
)
def test_the_three_ways_are_what_they_say(written: str, half: float) -> None:
    made = drawn.draw(read.read_text(WHOLE.replace("34.6 mm", written)), DRAWS)
    bore = sorted(made.design.air.bore_m)
    low, high = bore[int(0.025 * DRAWS)], bore[int(0.975 * DRAWS)]
    assert (low, high) == pytest.approx((0.0346 - half * 1e-3, 0.0346 + half * 1e-3), abs=2e-6)
    if "within" in written:
        assert 0.0344 <= bore[0] and bore[-1] <= 0.0348


def test_many_at_once_against_first_order_propagation() -> None:
    """JCGM 100:2008 5.1.2 with slopes of exact plans; the gauge of section 12 in it, since the pressure says none."""
    moves = {
        "bore": ('bore = "34.6 mm"', 'bore = "34.6 {} mm"', 0.05),
        "volume": ('positive_volume = "245 ml"', 'positive_volume = "245 {} ml"', 1.0),
        "share": ("front_share = 0.42", 'front_share = "0.42 {}"', 0.01),
        "mass": ('mass = "82 kg"', 'mass = "82 {} kg"', 0.5),
    }
    wide = told(*((old, new.format(f"u {u}")) for old, new, u in moves.values()), draws=20_000)
    place = ("after", "sag", "front", "travel_m")

    def sag(of: dict[str, Any], key: str = place[-1]) -> float:
        for word in place[:-1]:
            of = of[word]
        return float(of[key])

    squares = 0.0
    for old, _, u in moves.values():
        word, value = old.split(" = ")
        number, _, unit = value.strip('"').partition(" ")
        up, down = (
            exact(
                (
                    old,
                    f'{word} = "{float(number) + sign * u} {unit}"' if unit else f"{word} = {float(number) + sign * u}",
                )
            )
            for sign in (1, -1)
        )
        squares += (0.5 * (sag(up) - sag(down))) ** 2
    up, down = (exact(('"68 psi"', f'"{68 + sign} psi"')) for sign in (1, -1))
    gauge_psi = math.sqrt((68 * typical.GAUGE_GAIN) ** 2 + 0.5**2 + 1 / 12)
    squares += (0.5 * (sag(up) - sag(down)) * gauge_psi) ** 2
    assert sag(wide, "travel_m_u") == pytest.approx(math.sqrt(squares), rel=0.02)


def test_a_pressure_with_its_own_is_not_the_gauges() -> None:
    """The gauge that everything is read by drops out of what is set; a pressure of its own does not."""
    usual = told(('bore = "34.6 mm"', 'bore = "34.6 ± 0 mm"'))
    own = told(('pressure = "68 psi"', 'pressure = "68 ± 2 psi"'))
    half = [
        (of["keep"]["sag"]["pressure_pa_high95"] - of["keep"]["sag"]["pressure_pa_low95"]) / 2 / PSI_PA
        for of in (usual, own)
    ]
    assert half[0] == pytest.approx(0.475, abs=0.03), "half a mark: 95 % of ± 0.5"
    slope = (
        exact(('"68 psi"', '"69 psi"'))["keep"]["sag"]["pressure_pa"] - exact()["keep"]["sag"]["pressure_pa"]
    ) / PSI_PA
    assert half[1] == pytest.approx(2.0 * slope, rel=0.03)


def test_draws_past_what_a_key_allows_are_drawn_anew_and_told() -> None:
    one = told(("front_share = 0.42", 'front_share = "0.12 ± 0.1"'))
    outside = {row["key"]: row["share"] for row in one["drawn"]["redrawn"]}
    expected = 0.5 * (1 + math.erf((0.1 - 0.12) / (0.1 / NORMAL_95) / math.sqrt(2)))
    assert outside == {"rider.front_share": pytest.approx(expected, abs=1e-3)}
    made = drawn.draw(read.read_text(WHOLE.replace("front_share = 0.42", 'front_share = "0.12 ± 0.1"')), DRAWS)
    assert np.min(made.design.rider.front_share) >= 0.1
    assert told(*EXACT)["drawn"]["redrawn"] == []


def test_parts_that_do_not_go_together_are_drawn_anew_and_told() -> None:
    """A volume so open that one in ten locks: none of those is worked out."""
    open_to = told(*EXACT, ('positive_volume = "245 ml"', 'positive_volume = "150 ± 12 ml"'))
    assert [row["key"] for row in open_to["drawn"]["redrawn"]] == ["together"]
    assert 0.05 < open_to["drawn"]["redrawn"][0]["share"] < 0.2


def test_wheel_and_room_carry_it_and_the_warning_takes_the_low_side() -> None:
    moved = ('tyre_room = "533 mm"', 'tyre_room = "526.5 ± 1.5 mm"')
    wide = told(moved)
    gap = wide["clearance"]
    assert gap["tyre_to_crown_m"] == pytest.approx(0.0075, abs=1e-6)
    assert gap["tyre_to_crown_m_low95"] == pytest.approx(0.006, abs=2e-5)
    assert not [w for w in exact(('"533 mm"', '"526.5 mm"'))["warnings"] if w["code"] == "tyre-crown"]
    wider = told(('tyre_room = "533 mm"', 'tyre_room = "526.5 ± 3 mm"'))
    texts = [w["text"] for w in wider["warnings"] if w["code"] == "tyre-crown"]
    assert texts and all("4.5\N{NO-BREAK SPACE}mm left at the least between tyre and crown" in text for text in texts)


def test_a_frame_without_a_spring_has_limits_too() -> None:
    text = WHOLE[: WHOLE.index("[fork]")].replace('"65.5 deg"', '"65.5 ± 0.4 deg"')
    stands = plan.plan(read.read_text(text), draws=DRAWS).as_json()["before"]["geometry"]["unloaded"]
    assert (stands["head_angle_deg_low95"], stands["head_angle_deg_high95"]) == pytest.approx((65.1, 65.9), abs=0.01)


def test_a_chart_without_wheels_follows_the_wheels_that_are_drawn() -> None:
    text = WHOLE.replace('front_radius = "369 mm"\n', "") + '[front_wheel]\nradius = "369 ± 5 mm"\n'
    made = drawn.draw(read.read_text(text), 100)
    assert (made.design.frame.front_radius_m == made.design.front_wheel.radius_m).all()
    assert made.design.front_wheel.radius_m.std() > 1e-3


def test_what_is_asked_may_be_open_and_lands_where_it_belongs() -> None:
    text = WHOLE.replace(
        'travel = "160 mm"', 'travel = "160 ± 2 mm"\npressure = "70 ± 1 psi"\nair = { bore = "33 ± 0.1 mm" }'
    )
    bench = read.read_text(text.replace('[fork]\nlength = "546 mm"', '[fork]\nlength = "546 ± 1 mm"'))
    made = drawn.draw(bench, DRAWS)
    assert made.changes.asked.travel_m.std() == pytest.approx(0.002 / NORMAL_95, rel=0.02)
    assert made.changes.air.bore_m.std() == pytest.approx(0.0001 / NORMAL_95, rel=0.02)
    after = change.changed(bench)
    assert [(off.key, off.text) for off in after.doubts] == [
        ("fork.air.bore", "0.1 mm"), ("fork.air.pressure", "1 psi"), ("fork.travel", "2 mm"),
    ]  # fmt: skip
    assert read.read_text(write.write(after)) == after


def test_no_uncertainty_is_dropped_in_silence() -> None:
    """One at a key of which no draws are made yet is refused, not left out."""
    bench = replace(read.read_text(WHOLE), doubts=(Doubt("±", 1.0, "1 degC", "ride.temperature"),))
    with pytest.raises(FaultsFound, match="no uncertainty is computed here yet"):
        drawn.draw(bench, 100)


def test_an_exact_spring_keeps_its_load_whatever_share_follows() -> None:
    """An implied share five standard uncertainties off is no fault where the sag found is the load."""
    text = WHOLE.replace("0.42", "0.48") + '[found]\nsag = "30 mm"\npressure = "68 psi"\n'
    one = plan.plan(read.read_text(text), draws=0).as_json()
    wide = plan.plan(read.read_text(text.replace('"34.6 mm"', '"34.6 ± 0.1 mm"')), draws=DRAWS).as_json()
    front, middle = (of["after"]["sag"]["front"] for of in (one, wide))
    assert middle["travel_m"] == pytest.approx(front["travel_m"], abs=2e-4)
