"""Another travel by each way, of a fork of which the outside alone is known: each figure with what it lies between."""

from __future__ import annotations

import math
import re
from functools import cache

import pytest

from made_up import ROOM, outside, sag_found
from planner import test_ways
from topout import api
from topout.bench_file import read
from topout.planner import ways as of_ways
from topout.planner import ways_words
from topout.planner.plan import plan
from topout.planner.ways import Ways
from topout.units import BENCH, PSI_PA, System

OUTSIDE = (
    outside(pressure="70 psi", spacers=2, more=ROOM) + sag_found(pressure="70 psi")
    + '[change]\ntravel = "160 mm"\nby = "piston-spacer"\nspacer_solid_volume = "4 ml"\n'
)  # fmt: skip
DRAWS = 2_000


@cache
def told(text: str = OUTSIDE) -> Ways:
    return of_ways.ways(read.read_text(text), DRAWS)


@pytest.mark.parametrize("by", ["shaft", "piston-spacer", "chassis"])
def test_each_is_the_drawn_plan_of_that_way_alone(by: str) -> None:
    way = next(each for each in told().ways if each.by == by)
    text = OUTSIDE.replace('"piston-spacer"', f'"{by}"')
    if by != "piston-spacer":
        text = text.replace('spacer_solid_volume = "4 ml"\n', "[change.air]\n" if by == "chassis" else "")
    if by == "chassis":
        text = text.replace("[change.air]", '[change.air]\nnegative = "self-equalising"')
    alone = plan(read.read_text(text), draws=DRAWS)
    assert alone.bounds is not None
    for name, place in (
        ("same_share_gauge_pa", ("keep", "sag-share", "pressure_pa")),
        ("sag_m", ("after", "sag", "front", "travel_m")),
        ("end_force_n", ("after", "end_force_n")),
    ):
        assert way.of[name] == alone.bounds.of[place], name
        assert getattr(way, name) == alone.bounds.of[place].median
    assert alone.after.end_force_n == way.end_force_n


def test_a_file_that_leaves_next_to_nothing_open_says_what_the_exact_one_says() -> None:
    """The second way to every figure: the exact answer, and draws of a bore known to a nanometre at pressures known as well."""
    exact = test_ways.file('by = "piston-spacer"\nspacer_solid_volume = "4 ml"')
    text = test_ways.FORK.format(change='by = "piston-spacer"\nspacer_solid_volume = "4 ml"', air=test_ways.ONE_VALVE)
    text = text.replace("79.5 psi", "79.5 psi u 0.000001 psi").replace('"32 mm"', '"32 mm u 0.000001 mm"')
    near = of_ways.ways(read.read_text(text), 200)
    for one, two in zip(api.ways(exact).ways, near.ways, strict=True):
        for name in ("positive_m3", "positive_end_m3", "compression_ratio", "negative_m3", "port_m", "end_force_n",
                     "same_share_gauge_pa", "same_share_end_force_n", "fork_length_m"):  # fmt: skip
            assert (
                getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-5)
                if getattr(one, name) is not None
                else getattr(two, name) is None
            ), (one.by, name)
        assert not one.of and two.of["end_force_n"].half_width < 0.1


def test_the_spacer_takes_room_and_the_shaft_does_not() -> None:
    """By the bore's area times 10 mm in every draw: 27 to 33 mm of bore are 5.7 to 8.6 ml."""
    shaft, spacer, _ = told().ways
    for low, high in ((shaft.of["positive_m3"].low95, spacer.of["positive_m3"].low95),
                      (shaft.of["positive_m3"].high95, spacer.of["positive_m3"].high95)):  # fmt: skip
        assert 5.0e-6 < high - low < 9.0e-6
    assert spacer.port_m == pytest.approx(0.010, abs=1e-9) and shaft.port_m == pytest.approx(0.0, abs=1e-9)


def test_it_is_said_with_what_it_lies_between_in_either_system() -> None:
    reply = ways_words.to_ways(told(), BENCH)
    rows = {row[0]: [re.sub(r"\s", " ", cell) for cell in row[1:]] for row in reply.tables[0].rows}
    shaft = next(each for each in told().ways if each.by == "shaft")
    low, high = (of / PSI_PA for of in (shaft.of["same_share_gauge_pa"].low95, shaft.of["same_share_gauge_pa"].high95))
    assert re.findall(r"(\d+) psi", rows["for the same sag in %, set"][0]) == [
        str(math.floor(low)),
        str(math.ceil(high)),
    ]
    assert re.fullmatch(r"\d \d00 N to \d \d00 N", rows["bottom-out force"][0])
    assert "19 of 20" in reply.after[0]
    imperial = {
        row[0]: [re.sub(r"\s", " ", cell) for cell in row[1:]]
        for row in ways_words.to_ways(told(), System(metric=False)).tables[0].rows
    }
    assert (
        re.search(r"lbf to .*lbf", imperial["bottom-out force"][0]) and " in to " in imperial["sag at this pressure"][0]
    )


def test_its_json_has_the_limits() -> None:
    found = told().as_json()
    shaft = found["ways"]["shaft"]
    assert shaft["same_share_pa_low95"] < shaft["same_share_pa"] < shaft["same_share_pa_high95"]
    assert found["before"]["end_force_n_low95"] < found["before"]["end_force_n"] and "of" not in shaft
