"""Nothing is taken in silence: each default that an exact file leans on is said once, with what the answer would be otherwise.

The second way to each figure is the plan of a file in which the usual value is written.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from topout.bench_file.read import read_text
from topout.cli import plan_table
from topout.documents import sheet_words
from topout.planner import defaults, summary
from topout.planner.defaults_words import closing, dangers
from topout.planner.inexact import AT_REST
from topout.planner.plan import plan
from topout.units import BENCH, System

WHOLE = (Path(__file__).parents[2] / "examples" / "longer-travel.toml").read_text()
BARE = re.sub(
    r"\[fork\.(lower_legs|bumper)\]\n(\w+ = .*\n)+",
    "",
    re.sub(r"(?m)^(friction|temperature|altitude) = .*\n", "", WHOLE),
)


def told(text: str) -> dict[str, Any]:
    return {each["key"]: each for each in plan(read_text(text)).as_json()["defaults"]}


def said(text: str, system: System = BENCH) -> str:
    bench = read_text(text)
    return re.sub(r"\s+", " ", plan_table.plan(bench, plan(bench), system))


def answers(text: str) -> tuple[float, float, float, float]:
    of = plan(read_text(text))
    assert of.after.sag is not None and of.after.sag.front is not None and of.after.geometry is not None
    front, sagged = of.after.sag.front, of.after.geometry.sagged
    assert (
        sagged is not None and of.after.end_force_n is not None and front.low_m is not None and front.high_m is not None
    )
    return front.travel_m, of.after.end_force_n, math.degrees(sagged.head_angle_rad), 0.5 * (front.high_m - front.low_m)


TRAVEL = float(re.search(r"(?m)^travel = \"([\d.]+) mm", BARE)[1])  # type: ignore[index]
INSTEAD = {  # what is written in the place of a default, by hand
    "fork.lower_legs": '\n[fork.lower_legs]\nair_volume = "{volume:.9g} ml"\narea = "{area:.9g} mm^2"\n',
    "fork.bumper": '\n[fork.bumper]\nlength = "7.5 mm"\nrate = "80 N/mm"\n',
    "rear_wheel.sag": "",
    "conditions.altitude": "",
}


def written(key: str) -> str:
    if key == "rear_wheel.sag":
        return BARE.replace("[rear_wheel]", '[rear_wheel]\nsag = "45 mm"')
    if key == "conditions.altitude":
        return BARE.replace("[conditions]", '[conditions]\naltitude = "1500 m"')
    bore = float(re.search(r"bore = \"([\d.]+) mm", BARE)[1])  # type: ignore[index]
    area = 0.5 * math.pi * ((bore + 4.0) ** 2 - 10.0**2)
    return BARE + INSTEAD[key].format(area=area, volume=max(425.0, 1.25 * area * (TRAVEL + 20.0) / 1e3))


@pytest.mark.parametrize("key", [*INSTEAD])
def test_what_a_default_changes_is_what_a_file_with_the_usual_value_gives(key: str) -> None:
    change = told(BARE)[key]["change"]
    gaps = [other - own for own, other in zip(answers(BARE), answers(written(key)), strict=True)]
    names = ("sag_m", "end_force_n", "head_angle_deg", "sag_either_way_m")
    for name, gap in zip(names, gaps, strict=True):
        assert change[name] == pytest.approx(gap, rel=1e-6, abs=1e-9), name


def test_of_a_bike_that_sat_on_its_stop_no_default_changes_what_keeps_its_sag() -> None:
    """Bottomed at 150 mm before; that the fork has 160 mm after makes no sag of it that could be kept."""
    text = re.sub(r'(?m)^pressure = "70 psi"', 'pressure = "3 psi"', BARE)
    before = plan(read_text(text)).before.sag
    assert before is not None and before.front is not None and before.front.travel_m == 0.15
    changes = [each["change"] for each in told(text).values() if each["change"] is not None]
    assert changes and not any("keep_sag_pa" in each for each in changes)
    assert all("keep_sag_pa" in each["change"] for each in told(BARE).values() if each["change"] is not None)


def test_a_rear_end_without_sag_is_worth_two_degrees_and_says_so() -> None:
    change = told(BARE)["rear_wheel.sag"]["change"]
    assert -2.6 < change["head_angle_deg"] < -1.8
    assert re.search(r"a rear end that does not sag \(with 45\xa0mm: .*head angle 2\.\d° slacker\)", closing_of(BARE))


def closing_of(text: str) -> str:
    bench = read_text(text)
    return closing(summary.of_plan(bench, plan(bench)).defaults, BENCH)


def test_every_silent_default_is_said_once_dangers_first_and_gaps_last() -> None:
    text = said(BARE)
    for words in (
        "no air shut into the lower legs (with 4", "no friction (with 16 N: sag ", "no bumper at the end (with 7.5 mm",
        "a rear end that does not sag", "20 °C (changes nothing here)", "sea level (at 1 500 m",
    ):  # fmt: skip
        assert text.count(words) == 1, words
    assert (
        text.index("! The fork’s negative chamber is taken")
        < text.index("What can hurt")
        < text.index("Not written down")
    )
    assert "Taken, not measured: no air shut into the lower legs, no friction" in sheet_words.changed(
        summary.of_plan(read_text(BARE), plan(read_text(BARE)))
    )
    imperial = said(BARE, System(metric=False, bar=False, beside=False))
    assert "with 1.77 in" in imperial


def test_what_is_written_is_not_called_left_out_though_it_is_the_default() -> None:
    """A friction of nought, 20 °C, sea level, no oil: whoever writes them down is not asked about them."""
    keys = set(told(BARE))
    assert {"fork.friction", "conditions.temperature", "conditions.altitude", "fork.air.negative"} <= keys
    more = BARE.replace("[conditions]", '[conditions]\ntemperature = "20 degC"\naltitude = "0 m"').replace(
        "[fork.air]", '[fork.air]\nnegative = "self-equalising"\nport_position = "0 mm"'
    )
    more = more.replace("[fork]\n", '[fork]\nfriction = "0 N"\n')
    left = set(told(more))
    assert keys - left == {
        "fork.friction", "conditions.temperature", "conditions.altitude", "fork.air.negative", "fork.air.port_position",
    }  # fmt: skip
    assert dangers(summary.of_plan(read_text(more), plan(read_text(more))).defaults, BENCH) == []


def test_a_travel_by_hand_is_a_danger_where_the_tyre_comes_near() -> None:
    """5 mm more of travel: said where they matter, silent where a hand's breadth is left, and where it is written."""
    room = float(re.search(r"tyre_room = \"([\d.]+) mm", BARE)[1])  # type: ignore[index]
    crown = plan(read_text(BARE)).clearance.tyre_to_crown_m
    assert crown is not None
    near = BARE.replace(f'tyre_room = "{room:g} mm"', f'tyre_room = "{room - 1e3 * crown + 9.0:.3f} mm"')
    assert "fork.overtravel" not in told(BARE) and told(near)["fork.overtravel"]["danger"]
    assert "! The travel is taken as measured to the solid stop." in said(near)
    assert "fork.overtravel" not in told(near.replace("[fork]\n", '[fork]\novertravel = "0 mm"\n'))


def test_what_is_drawn_is_no_default_and_the_rest_still_is() -> None:
    drawn = re.sub(r"(?m)^(bore|shaft|positive_volume|negative_volume) = .*\n", "", BARE).replace(
        "[fork]\n", '[fork]\nstanchion = "36 mm"\n'
    )
    keys = {each.key for each in plan(read_text(drawn), draws=AT_REST // 10).defaults}
    assert not keys & {"fork.lower_legs", "fork.friction", "fork.bumper", "fork.air.port_position"}
    assert {"rear_wheel.sag", "conditions.altitude"} <= keys


def test_nothing_is_computed_where_nothing_can_be() -> None:
    bare = plan(read_text('[fork]\ntravel = "140 mm"\n[fork.air]\npressure = "70 psi"\n')).defaults
    assert bare and all(each.change is None for each in bare)
    assert defaults.of_plan(read_text("")) is not None


def test_a_shocks_negative_chamber_that_nobody_described_is_a_danger_of_its_own() -> None:
    """A can left charged behind a port that lies further in, beside a fork that says what it has."""
    text = (Path(__file__).parents[2] / "examples" / "rear-shock.toml").read_text(encoding="utf-8")
    front = 'negative = "self-equalising"\nport_position = "0 mm"\n'
    text = text.replace("[fork.air]\n", f"[fork.air]\n{front}", 1)
    words = dangers(summary.of_plan(read_text(text), plan(read_text(text))).defaults, BENCH)
    assert [each[: each.index(" chamber")] for each in words] == ["The shock’s negative"]
    shut = text.replace("[shock.air]\n", f"[shock.air]\n{front}", 1)
    assert dangers(summary.of_plan(read_text(shut), plan(read_text(shut))).defaults, BENCH) == []


def test_spacers_that_nobody_counted_are_not_set_as_counted() -> None:
    """ "Set 70 psi with no volume spacer" was all that was said: a mechanic takes them out."""
    fork = '[fork]\ntravel = "140 mm"\nstanchion = "36 mm"\n[fork.air]\npressure = "70 psi"\n'
    can = '[shock]\nstroke = "55 mm"\nbody = "52 mm"\n[shock.air]\npressure = "170 psi"\n'
    for text, key, word in (
        (fork, "fork.air.spacers", "no volume spacer,"),
        (can, "shock.air.spacers", "no volume spacer in the shock,"),
    ):
        for counted in (False, True):
            bench = read_text(text + ("spacers = 0\n" if counted else ""))
            worked = plan(bench, draws=AT_REST // 10)
            keys = [each.key for each in worked.defaults]
            assert (key in keys) is not counted, (text, counted, keys)
            assert (word in closing(summary.of_plan(bench, worked).defaults, BENCH)) is not counted
    bench = read_text(can)
    drawn = {each.key for each in plan(bench, draws=AT_REST // 10).defaults}
    assert not drawn & {"shock.friction", "shock.bumper"}, "drawn, not taken"
