"""The sheet's tables: the mockup's figures, and each again by a second way."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.test_by_mass import OPEN, OPEN_FORK
from topout.bench_file.read import read, read_text
from topout.documents import sheet_of_plan, sheet_tables
from topout.planner import change, state
from topout.planner.by_mass import behind, in_front
from topout.planner.plan import plan
from topout.units import System, from_si, to_si

from . import sheets
from .sheets import NB, SET_PA, bench

AMBIENT_PA = 101325.0
EXAMPLES = Path(__file__).parents[2] / "examples"


def psi(value: float) -> float:
    return to_si(value, "psi", "pressure")


def test_pressures_by_mass_are_the_mockups() -> None:
    table = sheet_tables.by_mass(bench())
    assert table is not None
    assert [row[1:] for row in table.rows] == [
        ("54", "3.71"), ("59", "4.08"), ("65", "4.45"), ("70", "4.83"), ("75", "5.20"), ("81", "5.57"), ("86", "5.94"),
    ]  # fmt: skip
    assert [row[0] for row in table.rows] == [f"{kg}{NB}kg" + (" · you" if kg == 76 else "") for kg in range(61, 92, 5)]
    assert table.here == 3
    assert table.note == "Same share of sag, one spacer."


def test_a_column_in_the_other_unit_has_the_same_decimals_in_each_row() -> None:
    """Set 4.8 bar, this rider's row said 69.6 psi among 64 and 75; set 182 psi, it said 12.55 bar where the plan says 12.5."""
    in_bar = sheet_tables.by_mass(sheet_tables.as_left(bench(), to_si(4.8, "bar", "pressure")), System(bar=True))
    assert in_bar is not None
    assert [row[2] for row in in_bar.rows] == ["54", "59", "64", "70", "75", "80", "86"]
    assert in_bar.here is not None and in_bar.rows[in_bar.here][1] == "4.80"
    can = read(EXAMPLES / "air-shock-and-its-shelf.toml")
    behind_it = sheet_tables.by_mass_behind(sheet_tables.as_left(can, psi(182.0), what="shock"))
    assert behind_it is not None and behind_it.here is not None
    assert behind_it.rows[behind_it.here][1:] == ("182", "12.5")
    assert {len(row[2].partition(".")[2]) for row in behind_it.rows} == {1}


@pytest.mark.parametrize("mass_kg", [61.0, 66.0, 71.0, 81.0, 86.0, 91.0])
def test_a_rider_of_that_mass_has_the_same_share_of_sag(mass_kg: float) -> None:
    """The other way round: put that rider on the bike with the pressure of the table, and ask the planner for the sag."""
    file = bench()
    one = plan(file)
    assert one.after.sag is not None and one.after.sag.front is not None and one.before.sag is not None
    share = one.before.sag.front.implied_share  # type: ignore[union-attr]
    table = sheet_tables.by_mass(file, System(bar=True))
    assert table is not None
    row = next(row for row in table.rows if row[0] == f"{mass_kg:g}{NB}kg")
    gauge = to_si(float(row[1]), "bar", "pressure")
    after = change.changed(sheet_tables.as_left(file, gauge))
    heavier = replace(after, found=None, rider=replace(after.rider, mass_kg=mass_kg, front_share=share))
    front = state.sag(heavier).front
    assert front is not None and front.share is not None and one.after.sag.front.share is not None
    # 0.005 bar of rounding and half a degree of head angle between the state found and the state after
    assert front.share == pytest.approx(one.after.sag.front.share, rel=0.008)


def test_an_assumed_load_makes_the_table_too() -> None:
    file = bench()
    assumed = replace(file, found=None)
    table = sheet_tables.by_mass(assumed)
    assert table is not None and table.rows[3][1] == "70"


def test_what_is_not_described_has_no_table() -> None:
    file = bench()
    assert file.rider is not None
    for lacking in (
        replace(file, rider=None), replace(file, bike=None), replace(file, frame=None), replace(file, fork=None),
        replace(file, found=None, rider=replace(file.rider, front_share=None)),
    ):  # fmt: skip
        assert sheet_tables.by_mass(lacking) is None


def test_a_pressure_over_the_limit_is_not_offered() -> None:
    file = bench()
    assert file.fork is not None and file.fork.air is not None
    low = replace(file, fork=replace(file.fork, air=replace(file.fork.air, pressure_limit_gauge_pa=psi(76))))
    table = sheet_tables.by_mass(low)
    assert table is not None
    assert [row[1] for row in table.rows] == ["54", "59", "65", "70", "75", "none", "none"]
    assert "none" in table.note


def test_a_light_rider_has_no_rows_below_ten_kilograms() -> None:
    file = bench()
    assert file.rider is not None
    table = sheet_tables.by_mass(replace(file, found=None, rider=replace(file.rider, mass_kg=18.0, front_share=0.5)))
    assert table is not None and table.rows[0][0] == f"13{NB}kg" and table.here == 1


def test_readings_by_temperature_are_the_mockups() -> None:
    table = sheet_tables.by_temperature(SET_PA, 292.15, AMBIENT_PA)
    assert table.rows == (
        (f"−5{NB}°C", "63"), (f"0{NB}°C", "64"), (f"10{NB}°C", "67"), (f"19{NB}°C · workshop", "70"), (f"30{NB}°C", "73"),
    )  # fmt: skip
    assert table.here == 3
    assert table.heads == ("where you ride", f"your 70{NB}psi reads")
    assert table.note == f"3{NB}psi for every 10{NB}°C. Set it again where you ride."


def test_temperature_by_amount_of_gas() -> None:
    """p = ν·R·T/V by hand, away from the air spring's own room."""
    for celsius, shown in ((-5, "4.35"), (30, "5.05")):
        kelvin = celsius + 273.15
        per_volume = (SET_PA + AMBIENT_PA) / 292.15
        assert f"{from_si(per_volume * kelvin - AMBIENT_PA, 'bar', 'pressure'):.2f}" == shown
        table = sheet_tables.by_temperature(SET_PA, 292.15, AMBIENT_PA, System(bar=True))
        assert next(row[1] for row in table.rows if row[0].startswith(f"{celsius}".replace("-", "−"))) == shown


@pytest.mark.parametrize("celsius", [-20.0, -5.0, 3.0, 15.0, 22.0, 40.0])
def test_the_workshops_own_temperature_is_always_there_once(celsius: float) -> None:
    table = sheet_tables.by_temperature(SET_PA, 273.15 + celsius, AMBIENT_PA)
    assert [i for i, row in enumerate(table.rows) if "workshop" in row[0]] == [table.here]
    assert table.here is not None and table.rows[table.here][1] == "70"
    assert [float(row[1]) for row in table.rows] == sorted(float(row[1]) for row in table.rows)


def test_the_riders_own_pump() -> None:
    told = sheet_tables.own_pump(SET_PA, psi(72), psi(69), hose_m3=3e-6, valve_m3=sheet_tables.valve_volume_m3(bench()))
    assert told is not None
    assert (told.ours, told.yours) == (f"70{NB}psi", f"67{NB}psi")
    assert told.sentences == ("Pump to 67 on yours.", f"Pushing it on costs 1{NB}psi; that is the hose, not a leak.")


def test_the_valve_sees_the_main_chamber_where_the_port_is_further_in() -> None:
    assert sheet_tables.valve_volume_m3(bench()) == pytest.approx((233 - 8.5 - 4) * 1e-6)


def test_a_comparison_far_from_the_pressure_says_nothing() -> None:
    assert sheet_tables.own_pump(SET_PA, psi(90), psi(86)) is None
    assert sheet_tables.own_pump(SET_PA, psi(80), psi(76)) is not None
    assert sheet_tables.own_pump(0.0, psi(1), psi(1)) is None


def test_a_short_hose_costs_nothing_worth_saying() -> None:
    told = sheet_tables.own_pump(SET_PA, SET_PA, SET_PA, hose_m3=0.5e-6, valve_m3=2.2e-4)
    assert told is not None and told.sentences == ("Pump to 70 on yours.",)


def test_what_was_left_takes_the_place_of_the_plan() -> None:
    file = bench()
    left = change.changed(sheet_tables.as_left(file, psi(72), 2, 285.0))
    assert left.fork is not None and left.fork.air is not None
    assert left.fork.air.pressure_gauge_pa == psi(72)
    assert left.fork.air.spacers == 2
    assert left.fork.travel_m == pytest.approx(0.150)
    assert left.conditions.temperature_k == 285.0
    assert change.changed(sheet_tables.as_left(file)) == change.changed(file)
    unchanged = change.changed(sheet_tables.as_left(replace(file, change=None), psi(65)))
    assert unchanged.fork is not None and unchanged.fork.air is not None and file.fork is not None
    assert (unchanged.fork.air.pressure_gauge_pa, unchanged.fork.travel_m) == (psi(65), file.fork.travel_m)
    assert sheet_tables.pressure_set(file) == pytest.approx(SET_PA)
    assert sheet_tables.pressure_set(replace(file, fork=None)) is None


def test_every_part_of_a_sheet_is_in_the_workshops_own_units() -> None:
    """Words, tables, pictures and large numbers of an inch and bar workshop: no figure of the other system stands first."""
    file, system = bench(), System(metric=False, bar=True)
    made = sheet_of_plan.with_plan(sheets.sheet(), file, system)
    large = sheet_of_plan.four(
        sheet_of_plan.Left(gauge_pa=SET_PA, sag_m=0.032, temperature_k=292.15, system=system), file
    )
    assert (
        made.force is not None and made.stance is not None and made.masses is not None and made.temperatures is not None
    )
    words = [
        made.changed,
        made.stands,
        made.force.alt,
        made.stance.alt,
        *(f"{each.number} {each.unit}" for each in large),
    ]
    for table in (made.masses, made.temperatures):
        words += [*table.heads[:2], table.note, *(cell for row in table.rows for cell in row[:1])]
    told = " ".join(words).replace(NB, " ")
    assert not re.search(r"\b(mm|millimetres?|N|kg|psi)\b|°C", told), told
    assert re.search(r"\d (in|inches)\b", told) and "°F" in told and "lb" in told and "bar" in told
    assert [each.unit for each in large[:2]] == ["bar", "in"]


def test_a_drawn_shocks_table_has_limits_and_no_figure_past_the_makers() -> None:
    """It had none. What each mass is set to: the planner's own test finds it by halving."""
    file = read_text(OPEN)
    table = sheet_tables.by_mass_behind(file)
    assert table is not None and table.heads == ("dressed to ride", "psi", "from", "to") and table.here is not None
    told = behind(file, np.array([82.0])).known
    assert (
        told is not None
        and told[0] is not None
        and from_si(told[0].median, "psi", "pressure") == pytest.approx(160.0, abs=0.1)
    )
    assert table.rows[table.here] == (f"82{NB}kg · you", "160", "159", "161"), table.rows
    figures = [tuple(map(float, row[1:])) for row in table.rows if "none" not in row]
    assert all(low <= middle <= high for middle, low, high in figures) and figures[0][2] - figures[0][1] >= 3
    assert max(high for _, _, high in figures) <= 178 and table.rows[-1][1:] == ("none",) * 3
    assert "for 19 of 20 shocks that fit" in table.note and "surely may hold" in table.note
    loose = sheet_tables.by_mass_behind(read_text(OPEN.replace('"82 kg"', '"82 ± 12 kg"')))
    assert loose is not None and any(row[1] == "?" for row in loose.rows) and "question mark" in loose.note


def test_a_fork_that_was_drawn_has_its_table_from_and_to() -> None:
    table = sheet_tables.by_mass(read_text(OPEN_FORK))
    assert table is not None and table.heads == ("dressed to ride", "psi", "from", "to") and table.here is not None
    own = table.rows[table.here]
    assert own[0].endswith("you") and own[1:] == ("74", "73", "75")
    told = in_front(read_text(OPEN_FORK), np.array([82.0]))
    assert told.sag is not None and f"{told.sag.median * 1e3:.0f}" in table.note
    assert "19 of 20 forks that fit" in table.note and "stroke" not in table.note
    for name, middle, low, high in table.rows:
        assert middle == "none" or middle == "?" or float(low) <= float(middle) <= float(high), name
        assert middle == "none" or float(high) <= 90.0, "the maker's limit is 89.3"
    assert any(row[1] == "none" for row in table.rows) and "nothing that this fork surely may hold" in table.note
    assert sheet_tables.by_mass(read_text(OPEN_FORK.replace('mass = "15 kg"', ""))) is None
