"""The commands' JSON against the plain script: the same numbers at the terminal, under the keys of the bench-file notes."""

import json
from pathlib import Path
from typing import Any

import pytest

import plain
import plain_input
from topout.__main__ import main

from . import bikes
from .compare import differences

PSI_PA = 6894.757293168361


@pytest.fixture(params=range(3, 33, 6))
def file(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, plain.Bike]:
    text = bikes.text(bikes.bike(request.param))
    path = tmp_path / "bike.toml"
    path.write_text(text, encoding="utf-8")
    return path, plain_input.from_toml(text)


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    status = main([*words, "--json"])
    out, err = capsys.readouterr()
    assert status in (0, None) and err == ""
    result: dict[str, Any] = json.loads(out)
    return result


def test_curve(file: tuple[Path, plain.Bike], capsys: pytest.CaptureFixture[str]) -> None:
    path, bike = file
    side = plain.sides(bike)[0]
    assert differences(plain.curve_of(side), said(capsys, "curve", str(path)), 1e-9) == []
    assert differences(plain.curve_of(side, 13), said(capsys, "curve", str(path), "--points", "13"), 1e-9) == []


def test_sag(file: tuple[Path, plain.Bike], capsys: pytest.CaptureFixture[str]) -> None:
    path, bike = file
    before = plain.plan(bike)["before"]
    got = said(capsys, "sag", str(path))
    assert differences(before["sag"], got, 1e-9) == []
    assert got["head_angle_deg"] == pytest.approx(before["geometry"]["sagged"]["head_angle_deg"], rel=1e-9)


def test_geometry(file: tuple[Path, plain.Bike], capsys: pytest.CaptureFixture[str]) -> None:
    path, bike = file
    got = said(capsys, "geometry", str(path))
    assert differences(plain.plan(bike)["before"]["geometry"], got, 1e-9) == []
    assert got["chart"]["head_tube_m"] == pytest.approx(plain.stance.chart(bike)["head_tube_m"], rel=1e-9)


def test_plan(file: tuple[Path, plain.Bike], capsys: pytest.CaptureFixture[str]) -> None:
    path, bike = file
    mine, got = plain.plan(bike), said(capsys, "plan", str(path))
    hazards = {which: mine[which].pop("hazard") for which in ("before", "after")}
    assert differences({**mine, "hazard": hazards}, got, 1e-9) == []
    apart = mine["after"]["end_force_n"] - mine["before"]["end_force_n"]
    assert got["difference"]["end_force_n"] == pytest.approx(apart, rel=1e-9, abs=1e-9)


def test_inflate(file: tuple[Path, plain.Bike], capsys: pytest.CaptureFixture[str]) -> None:
    path, bike = file
    mine = plain.schedule(bike, 65 * PSI_PA, [27 * PSI_PA, 44 * PSI_PA], 2 * PSI_PA, 3e-6)
    words = ("--to", "65 psi", "--stop", "27 psi", "--stop", "44 psi", "--gauge", "2 psi", "--hose", "3 ml")
    got = said(capsys, "inflate", str(path), *words)
    assert got["settled_after"] == mine["settled_after"] and len(got["rounds"]) == len(mine["rounds"])
    for ours, theirs in zip(mine["rounds"], got["rounds"], strict=True):
        assert differences(ours, theirs, 1e-9) == []
