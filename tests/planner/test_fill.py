"""The filling schedule of every kind of negative chamber: what is filled, through what, and what it leaves."""

from __future__ import annotations

import pytest

from planner.fork import bench
from topout.cli import tables
from topout.planner import fill, state
from topout.units import PSI_PA

OWN = '+negative = "separate-valve"\nnegative_pressure = "90 psi"'


def test_an_own_valve_is_filled_to_its_own_reading() -> None:
    """After the last round the fork stands as its file says: the lost travel is the curve's own."""
    file = bench(fork__air=OWN)
    done = fill.schedule(file, 70 * PSI_PA, [20 * PSI_PA, 40 * PSI_PA])
    filled = [r.negative_to_gauge_pa for r in done.rounds]
    assert filled[:2] == [None, None] and filled[2] == pytest.approx(90 * PSI_PA) and done.settled_after == 3
    lost = state.curve(file).lost_travel_m
    assert lost > 1e-3 and done.rounds[-1].lost_travel_m == pytest.approx(lost, rel=1e-12)
    assert [r.lost_travel_m for r in done.rounds[:2]] == [0.0, 0.0]
    rows = done.as_json()["rounds"]
    assert rows[2]["negative_to_pa"] == filled[2] and "negative_to_pa" not in rows[0]


@pytest.mark.parametrize(
    ("air", "says", "never"),
    [
        (OWN, ["negative valve to", "90.0 psi", "through its own valve"], ["the port", "stroke"]),
        ('+port_position = "3 mm"', ["one stroke past the port", "after one stroke", "Settled after"], ["negative valve"]),
        ("+", ["the port is open there", "Settled after 1 round"], ["negative valve", "past the port"]),
        ('+negative = "none"', ["one chamber to fill"], ["port", "stroke", "negative valve"]),
        ('+port_position = "200 mm"', ["never comes past the port"], ["stroke", "negative valve"]),
    ],
    ids=["own valve", "port further in", "port at full extension", "none", "out of reach"],
)  # fmt: skip
def test_the_words_name_only_what_the_fork_has(air: str, says: list[str], never: list[str]) -> None:
    file = bench(fork__air=air)
    text = " ".join(tables.inflate(file, fill.schedule(file, 70 * PSI_PA), PSI_PA, 0.0).split())
    assert all(words in text for words in says), text
    assert not any(words in text for words in never), text
