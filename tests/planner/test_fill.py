"""The filling schedule of every kind of negative chamber: what is filled, through what, and what it leaves."""

from __future__ import annotations

import math

import pytest

from planner.fork import bench
from topout.cli import tables
from topout.planner import fill, load, state
from topout.units import BENCH, PSI_PA

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
    text = " ".join(tables.inflate(file, fill.schedule(file, 70 * PSI_PA), PSI_PA, 0.0, BENCH).split())
    assert all(words in text for words in says), text
    assert not any(words in text for words in never), text


@pytest.mark.parametrize(("short_mm", "psi"), [(6, 2.0), (15, 5.0)])
def test_a_reading_taken_short_of_full_extension_is_converted(short_mm: int, psi: float) -> None:
    """32 mm bore, 204 ml, 70 psi: 2 psi at 6 mm short, 5 at 15 (physics.md 2); the load is that of the converted reading."""
    air = 'bore = "32 mm"\nshaft = "10 mm"\npositive_volume = "204 ml"\nnegative_volume = "50 ml"\npressure = "70 psi"'
    found = 'sag = "36 mm"\npressure = "70 psi"'
    short = bench(fork__air=air, found=f'{found}\nread_at = "{short_mm} mm"')
    volume, piston = 204e-6, math.pi / 4 * 0.032**2
    there_pa = (70 * PSI_PA + 101325.0) * (volume - piston * short_mm * 1e-3) / volume - 101325.0
    assert 70 - there_pa / PSI_PA == pytest.approx(psi, abs=0.4)
    same = bench(fork__air=air, found=f'sag = "36 mm"\npressure = "{there_pa / PSI_PA!r} psi"')
    one, other = load.load_on(short), load.load_on(same)
    assert one is not None and other is not None
    assert one.load.axial_n[0] == pytest.approx(other.load.axial_n[0], rel=1e-12)
    as_read = load.load_on(bench(fork__air=air, found=found))
    assert as_read is not None and one.load.axial_n[0] < as_read.load.axial_n[0]
    said = load.said_found(short).replace("\N{NO-BREAK SPACE}", " ")
    assert said == f"36 mm at 70 psi read {short_mm} mm short, {there_pa / PSI_PA:.1f} psi at full extension"
    assert load.said_found(bench(fork__air=air, found=found)).replace("\N{NO-BREAK SPACE}", " ") == "36 mm at 70 psi"
    assert "at full extension" in " ".join(tables.sag(short, state.sag(short), BENCH).split())
