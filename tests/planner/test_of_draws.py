"""Curve, sag, stance and filling of a bike of which not everything is known: against exact files, and against the plan."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topout
from cli.once import work_out_once
from planner.test_doubted import EXACT, WHOLE
from planner.test_drawn import OUTSIDE
from topout.__main__ import main
from topout.bench_file import read
from topout.errors import FaultsFound
from topout.planner import compare, inexact, of_draws, plan
from topout.planner.results import told
from topout.units import PSI_PA

once = pytest.fixture(autouse=True)(work_out_once)
BORE = ('bore = "34.6 mm"', 'bore = "34.6 ± 0.2 mm"')


def text(*moved: tuple[str, str]) -> str:
    result = WHOLE
    for old, new in moved:
        assert old in result
        result = result.replace(old, new, 1)
    return result


@pytest.mark.parametrize("command", ["curve", "sag", "geometry", "inflate"])
def test_an_exact_file_has_no_limits(command: str) -> None:
    bench = read.read_text(WHOLE)
    answer = getattr(topout, command)(bench)
    plain = answer.as_json() if command == "inflate" else told(answer)
    assert plain["drawn"] is None and answer.bounds is None
    assert "_low95" not in json.dumps(plain)


def test_a_curve_between_those_of_two_exact_files() -> None:
    """Only the bore is open, and force falls with it at every travel but the first millimetres: the limits are those files'."""
    wide = told(topout.curve(read.read_text(text(*EXACT, BORE)), 31))
    ends = [topout.curve(read.read_text(text(*EXACT, (BORE[0], f'bore = "{bore} mm"'))), 31) for bore in (34.4, 34.8)]
    for key, name in (("force_n", "force_n"), ("force_fast_n", "force_fast_n"), ("positive_pa", "positive_pa")):
        low, high = (np.array(wide[f"{key}_{end}"]) for end in ("low95", "high95"))
        both = np.sort([getattr(one, name) for one in ends], axis=0)
        scale = np.abs(both).max()
        assert low == pytest.approx(both[0], abs=2e-3 * scale)
        assert high == pytest.approx(both[1], abs=2e-3 * scale)
        assert (np.array(wide[f"{key}_u"]) >= 0.0).all()
    energies = sorted(one.energy_j for one in ends)
    assert (wide["energy_j_low95"], wide["energy_j_high95"]) == pytest.approx(tuple(energies), rel=1e-3)
    assert len(wide["terms"]["positive_n_low95"]) == 31
    assert "travel_m_low95" not in wide, "the travel is exact"


def test_sag_and_stance_are_those_of_the_plan_without_its_change() -> None:
    bench = read.read_text(OUTSIDE)
    whole = plan.plan(inexact.as_it_is(bench), draws=inexact.AT_REST).as_json()
    sag, stands = told(topout.sag(bench)), told(topout.geometry(bench))
    assert {key: sag[key] for key in ("front", "rear", "head_angle_deg")} == {
        key: value for key, value in whole["before"]["sag"].items() if key in ("front", "rear", "head_angle_deg")
    }
    assert sag["head_angle_deg_low95"] == whole["before"]["sag"]["head_angle_deg_low95"]
    assert {key: stands[key] for key in ("unloaded", "sagged", "chart")} == whole["before"]["geometry"]
    assert set(sag["drawn"]["depends_on"]) == {"sag"}
    assert "reach_m_low95" in stands["sagged"] and "reach_m_low95" not in stands["unloaded"]
    assert sag["front"]["implied_share_u"] == pytest.approx(0.0147, abs=0.001)


def test_what_is_drawn_need_not_stand_in_the_file_and_the_rest_must() -> None:
    for command in (topout.curve, topout.sag, topout.inflate):
        with pytest.raises(FaultsFound) as caught:
            command(read.read_text(OUTSIDE.replace('stanchion = "36 mm"\n', "")))
        assert "fork.air.bore" in {fault.key for fault in caught.value.faults}
        without = OUTSIDE.replace('pressure = "72 psi"\n[change]', "[change]")
        with pytest.raises(FaultsFound) as caught:
            command(read.read_text(without))
        assert {"fork.air.pressure"} <= {fault.key for fault in caught.value.faults}


def test_filling_reads_what_the_jobs_own_gauge_will_show() -> None:
    """An exact fork with a port 3 mm in, its volume open: the round's reading lies between those of two exact files."""
    port = ('shaft = "10 mm"', 'shaft = "10 mm"\nport_position = "3 mm"')
    negative = ('negative_volume = "45 ml"', 'negative_volume = "45 ± 5 ml"')
    wide = topout.inflate(read.read_text(text(*EXACT, port, negative)), hose_m3=3e-6)
    ends = [
        topout.inflate(read.read_text(text(*EXACT, port, (negative[0], f'negative_volume = "{v} ml"'))), hose_m3=3e-6)
        for v in (40, 50)
    ]
    first = wide.rounds[0]
    for word, name in (("after_stroke_pa", "after_stroke_gauge_pa"), ("reading_pa", "reading_gauge_pa")):
        limits = first.limits[word]
        low, high = sorted(getattr(one.rounds[0], name) for one in ends)
        assert (limits.low95, limits.high95) == pytest.approx((low, high), abs=0.05 * PSI_PA)
    assert wide.settled_after == topout.inflate(read.read_text(text(port)), hose_m3=3e-6).settled_after
    assert wide.as_json()["rounds"][0]["after_stroke_pa_low95"] == first.limits["after_stroke_pa"].low95


def test_a_port_that_nobody_saw_shows_in_the_rounds() -> None:
    """Six forks in ten have it at full extension and settle at once, the others take some rounds (physics.md 12)."""
    filling = topout.inflate(read.read_text(OUTSIDE))
    assert filling.bounds is not None
    rounds = filling.bounds.of["settled_after",]
    assert filling.settled_after == rounds.median == len(filling.rounds)
    assert rounds.low95 == 1.0
    assert rounds.high95 == pytest.approx(3.5, abs=0.6)
    assert filling.rounds[0].limits["after_stroke_pa"].low95 < 62 * PSI_PA


def test_the_pressure_asked_for_is_not_the_files() -> None:
    """`--to` has nothing of the doubt that the file's own pressure was written with."""
    bench = read.read_text(text(('pressure = "68 psi"', 'pressure = "68 ± 5 psi"')))
    filling = topout.inflate(bench, 80 * PSI_PA)
    assert filling.bounds is None or not filling.rounds[0].limits


def printed(capsys: pytest.CaptureFixture[str], tmp_path: Path, *asked: str, content: str = OUTSIDE) -> str:
    file = tmp_path / "fork.toml"
    file.write_text(content, encoding="utf-8")
    assert main([asked[0], str(file), *asked[1:]]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("command", ["curve", "sag", "geometry", "inflate", "plan"])
def test_every_way_of_printing(capsys: pytest.CaptureFixture[str], tmp_path: Path, command: str) -> None:
    plain: dict[str, Any] = json.loads(printed(capsys, tmp_path, command, "--json"))
    assert plain["drawn"]["effective"] >= 500 and plain["drawn"]["assumed"]
    assert "_low95" in json.dumps(plain)
    rows = list(csv.DictReader(io.StringIO(printed(capsys, tmp_path, command, "--csv"))))
    assert any(name.endswith("_high95") for name in rows[0])
    people = printed(capsys, tmp_path, command)
    assert "drawn from what such forks usually are" in " ".join(people.split())
    assert "nan" not in people.lower()
    if command in ("sag", "plan"):
        assert "nan" not in printed(capsys, tmp_path, command, "--units", "imperial").lower()


def test_no_figure_is_finer_than_it_is_known(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A gauge of 1 psi marks has no tenths, a force known to some hundred newtons no tens."""
    for command in ("inflate", "plan"):
        people = printed(capsys, tmp_path, command).replace("\N{NO-BREAK SPACE}", " ")
        assert " psi" in people
        assert not [word for word in people.replace(" psi", "psi").split() if word.endswith("psi") and "." in word]
    people = (
        printed(capsys, tmp_path, "plan").replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", "")
    )
    (row,) = [line for line in people.splitlines() if line.strip().startswith("bottom-out force after")]
    assert all(int(cell) % 100 == 0 for cell in row.split("after")[1].replace("N", "").split())


def test_a_picture_of_what_is_drawn(tmp_path: Path) -> None:
    file, picture = tmp_path / "fork.toml", tmp_path / "fork.svg"
    file.write_text(OUTSIDE, encoding="utf-8")
    for command in ("curve", "sag", "geometry", "plan"):
        picture.unlink(missing_ok=True)
        assert main([command, str(file), "--plot", str(picture)]) == 0
        assert picture.stat().st_size > 1_000
    assert of_draws.CURVE_DRAWS >= 2_000


def test_two_builds_of_one_bike_are_compared_fork_by_fork() -> None:
    """What is not known of the fork cancels: the end differs by less doubt than either end has."""
    a = read.read_text(OUTSIDE)
    b = read.read_text(OUTSIDE.replace('travel = "160 mm"', 'travel = "160 mm"\nspacers = 2'))
    found = compare.compare(a, b).as_json()
    half = {
        name: found[name]["end_force_n_high95"] - found[name]["end_force_n_low95"] for name in ("a", "b", "difference")
    }
    assert half["difference"] < 0.6 * half["a"]
    assert found["difference"]["end_force_n_low95"] > 0.0
    other = read.read_text(OUTSIDE.replace('sag = "33 mm"', 'sag = "30 mm"'))
    assert "end_force_n_low95" not in compare.compare(a, other).as_json()["difference"], "not one bike: no pairs"
    exact = compare.compare(read.read_text(WHOLE), read.read_text(WHOLE)).as_json()
    assert exact["drawn"] == {"a": None, "b": None} and "_low95" not in json.dumps(exact["difference"])
