"""Every example runs through every command it has the tables for, and shows what its first lines claim."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from cli.once import for_the_room
from topout.__main__ import main
from topout.bench_file.read import read
from topout.planner.plan import plan

once = pytest.fixture(autouse=True, scope="module")(for_the_room)
EXAMPLES = sorted((Path(__file__).resolve().parents[1] / "examples").glob("*.toml"))
ALWAYS = {"load-assumed"}  # said of every example without a sag found


def claimed(path: Path) -> set[str]:
    head = " ".join(line[2:] for line in path.read_text("utf-8").splitlines() if line.startswith("# "))
    return {code for said in re.findall(r"\(warnings? ([a-z, -]+)\)", head) for code in said.split(", ")}


def test_there_are_at_least_eight() -> None:
    assert len(EXAMPLES) >= 8


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_its_first_line_says_what_it_shows_and_its_warnings_are_those(path: Path) -> None:
    assert path.read_text("utf-8").startswith("# ")
    found = {warned.code for warned in plan(read(path)).warnings}
    assert found - ALWAYS == claimed(path)


@pytest.mark.parametrize("command", ["curve", "sag", "geometry", "plan", "inflate"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_command_answers(path: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    if command == "inflate" and path.stem == "coil-fork":
        assert main([command, str(path)]) == 2 and "nothing to pump" in capsys.readouterr().err
        return
    assert main([command, str(path), "--json"]) == 0
    answer: Any = json.loads(capsys.readouterr().out)
    assert isinstance(answer, dict)
    assert main([command, str(path)]) == 0
    shown = capsys.readouterr()
    assert shown.out.strip() and not shown.err


def example(name: str) -> Any:
    return plan(read(next(path for path in EXAMPLES if path.stem == name)))


def test_a_port_further_in_needs_several_rounds(capsys: pytest.CaptureFixture[str]) -> None:
    path = next(p for p in EXAMPLES if p.stem == "port-further-in")
    main(["inflate", str(path), "--json"])
    assert json.loads(capsys.readouterr().out)["settled_after"] > 1


def test_longer_travel_sits_as_before() -> None:
    answer = example("longer-travel")
    gap = answer.after.sag.front.travel_m - answer.before.sag.front.travel_m
    assert abs(gap) < 0.001


def test_the_load_from_the_sag_found_reports_its_share() -> None:
    assert 0.30 <= example("load-from-the-sag-found").before.sag.front.implied_share <= 0.55


def test_a_locked_change_gives_nothing() -> None:
    answer = example("locks-with-five-spacers")
    assert answer.after.end_force_n is None and answer.hazard_after is None


def test_the_plan_brings_the_pressure_below_its_limit() -> None:
    assert {w.state for w in example("over-its-pressure-limit").warnings if w.code == "pressure-limit"} == {"before"}


def test_the_spacer_under_the_piston_makes_the_start_stiff() -> None:
    answer = example("piston-spacer")
    assert answer.after.sag.front.travel_m < 0.5 * answer.before.sag.front.travel_m
