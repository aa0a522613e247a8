"""A keep above the maker's pressure limit is marked where it stands: the terminal's tables, its sentence, the JSON, the keeps kept."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from topout.__main__ import main
from topout.bench_file import read
from topout.cli import plan_table
from topout.planner import over_limit
from topout.planner.plan import plan
from topout.units import PSI_PA, System

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
KEYS = ("sag", "sag-share", "end-force", "curve")


@pytest.fixture
def shock(tmp_path: Path) -> Any:
    """A bike with one spacer more behind, its can's limit in psi; `doubt` where its bore is not known exactly."""

    def made(limit: str, doubt: str = "") -> Path:
        text = (EXAMPLES / "rear-shock.toml").read_text("utf-8")
        text, swapped = re.subn(r"(?m)^pressure_limit = .*$", f'pressure_limit = "{limit}"' if limit else "", text)
        assert swapped == 1
        text, swapped = re.subn(r'bore = "46 mm"', f'bore = "46 mm{doubt}"', text)
        assert swapped == 1
        path = tmp_path / "shock.toml"
        path.write_text(text, "utf-8")
        return path

    return made


def said(path: Path, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["plan", str(path), *words]) == 0
    return re.sub(r"[\u00a0\u202f]", " ", capsys.readouterr().out)


def asked(path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(path, capsys, "--json"))
    return found


def test_behind_a_keep_above_the_limit_is_marked_and_named(shock: Any, capsys: pytest.CaptureFixture[str]) -> None:
    text = said(shock("140 psi"), capsys)
    rows = {
        row: re.search(rf"^ {row} +(\d+) psi( !)?$", text, re.M)
        for row in ("same sag", "same feel", "same bottom-out force")
    }
    assert all(rows.values()), text
    for row, found in rows.items():
        assert found is not None
        assert (found[2] is not None) == (float(found[1]) > 140), (row, found.group())
    assert {bool(found and found[2]) for found in rows.values()} == {True, False}, "one of each, or this shows nothing"
    line = re.sub(r"\s+", " ", text[text.index("\n! 14") :].split("\n\n")[0])
    assert re.fullmatch(
        r" ! \d+ psi for the same sag in %, \d+ psi for the same feel, \d+ psi for the same sag: above the maker’s limit of 140 psi\.",
        line,
    ), line
    assert " !\n" not in said(shock(""), capsys), "of a can without a limit nothing is known to be above one"


def drawn(path: Path) -> tuple[str, dict[str, Any]]:
    """The plan as the terminal has it, on one line, and as programs have it, of few draws."""
    bench = read.read(path)
    made = plan(bench, draws=400)
    return re.sub(r"\s+", " ", plan_table.plan(bench, made, System(beside=False))), made.as_json()


def test_what_is_drawn_counts_by_its_high_side(shock: Any) -> None:
    """148 psi in the middle, 147 to 149: of a limit of 148.5 psi nobody knows that it is kept."""
    roomy, told = drawn(shock("350 psi", " +/- 0.3 mm"))
    same = told["rear"]["keep"]["sag"]
    assert "For the same sag set 148 psi, 147 to 149 psi." in roomy and same["over_limit"] is False
    assert " ! " not in roomy.partition("Between what it lies")[2]
    between = (same["pressure_pa"] + same["pressure_pa_high95"]) / 2 / PSI_PA
    for limit, word in ((f"{between:.3f} psi", "it may be above"), ("140 psi", "above")):
        text, told = drawn(shock(limit, " +/- 0.3 mm"))
        assert re.search(rf"The same sag would take 148 psi, 147 to 149 psi: {word} the maker’s limit of 14", text), (
            text
        )
        assert "shock, pressure for the same sag 148 psi ! 147 psi 149 psi" in text
        assert re.search(
            r"! What is marked at the shock is above the maker’s limit of [\d.]+ psi, or may be: not to be set\.", text
        )
        assert "marked at the fork" not in text and "For the same sag set 148" not in text
        assert told["rear"]["keep"]["sag"]["over_limit"] is True


def test_a_drawn_fork_above_its_limit_says_so_too(tmp_path: Path) -> None:
    text = (EXAMPLES / "over-its-pressure-limit.toml").read_text("utf-8")
    doubted, swapped = re.subn(r'bore = "([\d.]+) mm"', r'bore = "\1 mm +/- 0.1 mm"', text)
    assert swapped == 1
    path = tmp_path / "fork.toml"
    path.write_text(doubted, "utf-8")
    said_, told = drawn(path)
    assert re.search(
        r"The same sag would take 13\d psi, 1\d\d to 1\d\d psi: above the maker’s limit of 120 psi\.", said_
    ), said_
    assert "! What is marked at the fork is above the maker’s limit of 120 psi, or may be: not to be set." in said_
    assert all(each["over_limit"] for each in told["keep"].values())


def test_programs_are_told_as_people_are(shock: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """True above, False below, null where no limit or no pressure is known; no such key on a coil."""
    answer = asked(shock("140 psi"), capsys)
    for keep, limit_pa in ((answer["keep"], None), (answer["rear"]["keep"], 140 * PSI_PA)):
        for key in KEYS:
            above = None if limit_pa is None else keep[key]["pressure_pa"] > limit_pa
            assert keep[key]["over_limit"] is above, (key, keep[key])
    fork = asked(EXAMPLES / "over-its-pressure-limit.toml", capsys)["keep"]
    assert {key: fork[key]["over_limit"] for key in KEYS} == dict.fromkeys(KEYS, True)
    assert all("over_limit" not in each for each in asked(EXAMPLES / "coil-fork.toml", capsys)["keep"].values())


@pytest.mark.parametrize(("limit", "above"), [("120 psi", True), ("132 psi", False), ("140 psi", False), (None, None)])
def test_a_filling_above_the_limit_says_so_to_programs(
    limit: str | None, above: bool | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (EXAMPLES / "over-its-pressure-limit.toml").read_text("utf-8")
    line = f'pressure_limit = "{limit}"' if limit else ""
    path = tmp_path / "fork.toml"
    path.write_text(re.sub(r"(?m)^pressure_limit = .*$", line, text), "utf-8")
    for words in ([], ["--to", "132 psi"]):
        assert main(["inflate", str(path), *words, "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["over_limit"] is above
        assert main(["inflate", str(path), *words]) == 0
        assert ("Don’t pump to that" in capsys.readouterr().out) == bool(above)


def test_the_limit_that_a_kept_plan_names_is_that_of_its_file(shock: Any) -> None:
    """A plan that was frozen before keeps were marked has a pressure and no mark."""
    file = read.read(shock("140 psi"))
    assert file.shock is not None and file.shock.air is not None
    made = plan(file)
    assert over_limit.places(made) == {("rear", "keep", key) for key in ("sag", "sag-share", "curve")}
    kept = made.to_keep()
    for each in kept["rear"]["keep"].values():
        each.pop("over_limit")
    behind = over_limit.BEHIND
    assert over_limit.of_same_sag(kept, behind, file.shock.air) == pytest.approx(140 * PSI_PA)
    assert over_limit.of_same_sag(kept, behind, replace(file.shock.air, pressure_limit_gauge_pa=None)) is None
    assert (
        over_limit.of_same_sag({}, behind, file.shock.air) is None
        and over_limit.of_same_sag(kept, behind, None) is None
    )
