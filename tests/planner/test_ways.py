"""Another travel by each way: the trade notes' reference fork, against plans of one way each, and what stands beside them.

Source: trade notes, section 3.3 (marked there as derived), on the reference fork of section 3.6.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from topout import api
from topout.__main__ import main
from topout.bench_file import read
from topout.bench_file.model import BenchFile
from topout.errors import FaultsFound
from topout.planner import ways_words
from topout.planner.plan import plan
from topout.planner.ways import Way
from topout.units import BENCH, PSI_PA

FORK = """
[fork]
travel = "160 mm"
length = "551 mm"
offset = "44 mm"
tyre_room = "540 mm"
[fork.air]
bore = "32 mm"
shaft = "10 mm"
positive_volume = "204 ml"
negative_volume = "60 ml"
{air}
[found]
sag = "32 mm"
pressure = "79.5 psi"
[change]
travel = "140 mm"
{change}
"""
ONE_VALVE = 'pressure = "79.5 psi"'
AREA, RING = np.pi / 4 * 0.032**2, np.pi / 4 * (0.032**2 - 0.010**2)


def file(change: str = 'by = "piston-spacer"\nspacer_solid_volume = "0 ml"', air: str = ONE_VALVE) -> BenchFile:
    return read.read_text(FORK.format(change=change, air=air))


def by(name: str, of: BenchFile) -> Way:
    return next(way for way in api.ways(of).ways if way.by == name)


def test_another_shaft_is_the_notes_mechanism_a() -> None:
    """89 psi, a ratio of 2.23 and 1,079 N at the end for 140 mm; 1,246 N as it is; the bottomed length stays."""
    of = api.ways(file())
    shaft = by("shaft", file())
    assert of.share == pytest.approx(0.20) and of.end_force_n == pytest.approx(1246, abs=1)
    assert shaft.same_share_gauge_pa == pytest.approx(88.7 * PSI_PA, abs=0.06 * PSI_PA)
    assert shaft.compression_ratio == pytest.approx(2.23, abs=0.005)
    assert shaft.same_share_end_force_n == pytest.approx(1079, abs=1.5)
    assert shaft.fork_length_m == pytest.approx(0.531) and shaft.bottomed_length_m == pytest.approx(0.391)
    assert shaft.positive_m3 == pytest.approx(204e-6) and shaft.negative_m3 == pytest.approx(60e-6)


def test_a_spacer_with_two_valves_at_one_pressure_is_the_notes_mechanism_b() -> None:
    """94.2 psi, 2.49 and 1,268 N: the pressure at which both valves are set to the same, by a root finder."""

    def told(psi: float) -> Way:
        air = f'negative = "separate-valve"\n{ONE_VALVE}\nnegative_pressure = "79.5 psi"'
        change = f'by = "piston-spacer"\nspacer_solid_volume = "0 ml"\n[change.air]\nnegative_pressure = "{psi!r} psi"'
        return by("piston-spacer", file(change, air))

    def apart(psi: float) -> float:
        found = told(psi).same_share_gauge_pa
        assert found is not None
        return found / PSI_PA - psi

    psi = float(brentq(apart, 60.0, 140.0, xtol=1e-9))
    way = told(psi)
    assert psi == pytest.approx(94.2, abs=0.06)
    assert way.compression_ratio == pytest.approx(2.49, abs=0.005)
    assert way.same_share_end_force_n == pytest.approx(1268, abs=1.5)


def test_what_a_spacer_does_to_chambers_and_port() -> None:
    """Main falls by the bore's area times 20 mm, negative rises by the ring's less the spacer; the port goes out of reach."""
    way = by("piston-spacer", file('by = "piston-spacer"\nspacer_solid_volume = "4 ml"'))
    assert way.positive_m3 == pytest.approx(204e-6 - AREA * 0.020)
    assert way.positive_end_m3 == pytest.approx(204e-6 - AREA * 0.160)  # bottomed as before
    assert way.negative_m3 == pytest.approx(60e-6 + RING * 0.020 - 4e-6)
    assert way.port_m == pytest.approx(-0.020)
    assert [w.code for w in way.warned if w.code == "port-out-of-reach"] == ["port-out-of-reach"]
    assert by("shaft", file()).port_m == 0.0
    assert not [w for w in by("shaft", file()).warned if w.code == "port-out-of-reach"]


@pytest.mark.parametrize("name", ["shaft", "piston-spacer", "chassis"])
def test_each_is_the_plan_of_that_way_alone(name: str) -> None:
    more = {"piston-spacer": '\nspacer_solid_volume = "4 ml"', "chassis": "\nair = {}"}.get(name, "")
    all_of = by(name, file('by = "piston-spacer"\nspacer_solid_volume = "4 ml"'))
    alone = plan(file(f'by = "{name}"{more}'))
    assert all_of.end_force_n == alone.after.end_force_n
    assert all_of.same_share_gauge_pa == alone.keep.sag_share.pressure_pa
    at_it = plan(
        file(
            f'by = "{name}"{more}\npressure = "{all_of.same_share_gauge_pa!r} Pa"'.replace(
                "\nair = {}\npressure", "\npressure"
            )
            + ("\nair = {}" if name == "chassis" else "")
        )
    )
    assert at_it.after.end_force_n == pytest.approx(all_of.same_share_end_force_n, rel=1e-12)
    assert at_it.after.sag is not None and at_it.after.sag.front is not None
    assert at_it.after.sag.front.share == pytest.approx(0.20, abs=1e-9)


def test_another_chassis_with_its_own_chambers_stands_beside_the_others_as_they_are() -> None:
    of = file('by = "chassis"\nfork_length = "520 mm"\n[change.air]\npositive_volume = "190 ml"')
    assert by("chassis", of).positive_m3 == pytest.approx(190e-6) and by("chassis", of).fork_length_m == pytest.approx(
        0.520
    )
    assert by("shaft", of).positive_m3 == pytest.approx(204e-6)
    unknown = by("chassis", file())  # how long another chassis is only its maker knows
    assert unknown.fork_length_m is None and unknown.bottomed_length_m is None


def test_a_spacer_of_unknown_volume_is_named_and_what_hangs_on_it_left_out() -> None:
    way = by("piston-spacer", file('by = "shaft"'))
    assert way.lacks == ("[change] spacer_solid_volume",)
    assert way.end_force_n is None and way.same_share_gauge_pa is None and way.negative_m3 is None
    assert way.positive_m3 == pytest.approx(204e-6 - AREA * 0.020)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (FORK.format(change="", air=ONE_VALVE).replace('travel = "140 mm"', ""), "another travel is needed"),
        (FORK.format(change="", air=ONE_VALVE).replace('"140 mm"', '"160 mm"'), "another travel is needed"),
        (FORK.format(change="", air=ONE_VALVE).replace('bore = "32 mm"\n', ""), "bore: is needed"),
        ('[fork]\ntravel = "150 mm"\n[fork.coil]\nrate = "7 N/mm"\n[change]\ntravel = "140 mm"', "a coil has no pressure"),
    ],
)  # fmt: skip
def test_what_it_can_not_answer(text: str, words: str) -> None:
    with pytest.raises(FaultsFound, match=words):
        api.ways(read.read_text(text))


def test_at_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "fork.toml"
    path.write_text(FORK.format(change='by = "shaft"', air=ONE_VALVE))
    assert main(["ways", str(path)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in ("another piston another shaft spacer chassis", "compression ratio 2.23 2.49 2.23", "89 psi",
                  "Piston spacer: not known: the piston spacer’s own volume."):  # fmt: skip
        assert words in shown, words
    assert main(["ways", str(path), "--json"]) == 0
    told: Any = json.loads(capsys.readouterr().out)
    assert set(told["ways"]) == {"shaft", "piston-spacer", "chassis"} and told["travel_m"] == 0.140
    assert told["ways"]["shaft"]["same_share_pa"] == pytest.approx(88.7 * PSI_PA, abs=0.06 * PSI_PA)
    assert told["ways"]["piston-spacer"]["lacks"] == ["[change] spacer_solid_volume"]


def test_as_a_table_of_values_each_way_has_its_warnings(capsys: pytest.CaptureFixture[str]) -> None:
    """A way is of one state, so its warnings name none: it ended in a traceback."""
    example = Path(__file__).parents[2] / "examples" / "piston-spacer.toml"
    assert main(["ways", str(example), "--csv"]) == 0
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert row["ways.piston-spacer.warnings"] == "port-out-of-reach sag-range" and row["ways.shaft.warnings"] == ""
    told = api.ways(read.read_text(example.read_text()))
    assert float(row["ways.shaft.same_share_pa"]) == told.ways[0].same_share_gauge_pa


def test_page_and_terminal_say_it_with_the_same_words() -> None:
    """One author: the page's reply is the terminal's text, figure by figure."""
    of = api.ways(file('by = "piston-spacer"\nspacer_solid_volume = "4 ml"'))
    reply = ways_words.to_ways(of, BENCH)
    assert reply.tables[0].head[1:] == ("another shaft", "piston spacer", "another chassis")
    rows = {row[0]: row[1:] for row in reply.tables[0].rows}
    assert rows["compression ratio"] == ("2.23", "2.49", "2.23")
    assert any("Piston spacer: The piston never comes past" in words for words in reply.wrong)
