"""Whose answer it is, where a bike has a fork and a shock: a pressure of the one is twice too little for the other."""

from __future__ import annotations

from pathlib import Path

import pytest

from topout import examples
from topout.__main__ import main

SHOCK = """
[shock]
length = "210 mm"
stroke = "55 mm"
[shock.air]
bore = "46 mm"
shaft = "30 mm"
positive_volume = "150 ml"
negative_volume = "45 ml"
pressure = "10 bar"
"""


def said(capsys: pytest.CaptureFixture[str], *asked: str) -> str:
    assert main(list(asked)) == 0
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("name", ["rear-shock", "air-shock-and-its-shelf", "coil-shock-and-its-shelf"])
def test_a_curve_or_a_filling_of_the_fork_says_that_it_is_the_forks(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(examples()[name])
    assert "The fork’s. A shock has its own: by the steps of its job. Pump at full extension" in said(
        capsys, "inflate", path
    )
    assert "The fork’s. The shock’s: --end rear. Spring force along 150 mm of travel" in said(capsys, "curve", path)
    assert "The fork’s" not in said(capsys, "curve", path, "--end", "rear")


def test_of_a_bike_with_a_fork_alone_it_is_not_said(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(examples()["longer-travel"])
    assert "The fork’s." not in said(capsys, "inflate", path) + said(capsys, "curve", path)


def test_a_shock_alone_is_not_asked_for_a_fork(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "shock.toml"
    path.write_text(SHOCK, "utf-8")
    assert main(["inflate", str(path)]) == 2
    told = capsys.readouterr().err
    assert "[shock]: the filling schedule is a fork’s" in told and "[fork]" not in told
    assert "The fork’s." not in said(capsys, "curve", str(path))


@pytest.mark.parametrize(
    ("name", "with_"),
    [
        ("air-shock-and-its-shelf", "three spacers"),
        ("rear-shock", "two spacers"),
        ("coil-shock-and-its-shelf", "wound up 1 mm"),
    ],
)
def test_what_another_rider_sets_at_the_shock_says_with_what_it_holds(
    name: str, with_: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The fork’s table named its spacers; a shock’s pressures, or its coils’ rates, stood alone, on the rider’s sheet too."""
    told = said(capsys, "plan", str(examples()[name])).replace("\u00a0", " ")
    assert f"mm of the shock’s stroke, {with_}." in told
