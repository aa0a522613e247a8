"""What each command prints: nothing is cut at any width, one system of units unless both are asked for, the same piped."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from cli.once import for_the_room
from second_way.said import quantities
from topout.__main__ import main
from topout.bench_file.read import read_bytes
from topout.cli import commands, tables
from topout.planner import state
from topout.units import System

once = pytest.fixture(autouse=True, scope="module")(for_the_room)  # it asks how an answer is laid out
ROOT = Path(__file__).resolve().parents[2]
# Named from where the project stands: what is printed says the file's name, and a number in the name of somebody's folder is none.
HOLLIN = "tests/reference/hollin.toml"
EXAMPLES = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "examples").glob("*.toml"))
SEVERAL = [HOLLIN, *EXAMPLES]
PUMPED = [
    path for path in SEVERAL if "[fork.coil]" not in (ROOT / path).read_text(encoding="utf-8")
]  # a coil is not filled
ASKED = {
    "curve": ["curve", HOLLIN],
    "curve-points": ["curve", HOLLIN, "--points", "7"],
    "sag": ["sag", HOLLIN],
    "geometry": ["geometry", HOLLIN],
    "plan": ["plan", HOLLIN],
    "plan-limits": ["plan", "examples/over-its-pressure-limit.toml"],
    "plan-locked": ["plan", "examples/locks-with-five-spacers.toml"],
    "plan-two-valves": ["plan", "examples/separate-valve.toml"],
    "inflate": ["inflate", HOLLIN, "--hose", "3 ml", "--stop", "40 psi"],
    "inflate-two-valves": ["inflate", "examples/separate-valve.toml", "--hose", "3 ml"],
    "compare": ["compare", HOLLIN, EXAMPLES[0]],
    "target": ["target", HOLLIN, "--sag", "20%"],
    "landing": ["landing", HOLLIN],
    "ride": ["ride", HOLLIN, "--temperature", "5 degC"],
    "rebound": ["rebound", HOLLIN],
    "ways": ["ways", HOLLIN],
    "options": ["options", "examples/parts-on-the-shelf.toml", "--limit", "3"],
    **{f"several-{command}": [command, *SEVERAL] for command in ("curve", "sag", "geometry", "plan")},
    "several-inflate": ["inflate", *PUMPED],
}
METRIC = {"mm", "m", "N", "N/mm", "J", "kg", "bar"}
IMPERIAL = {"in", "lbf", "lbf/in", "ft·lbf", "lb", "psi"}
WIDE = 1000


@pytest.fixture(autouse=True)
def _from_the_project(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def printed(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int, *words: str) -> str:
    with monkeypatch.context() as patched:
        patched.setenv("COLUMNS", str(columns))
        if columns == WIDE:
            patched.setattr("topout.cli.page.MOST", WIDE)
        assert main(list(words)) == 0
        shown = capsys.readouterr()
    assert shown.err == ""
    return shown.out


def said(text: str) -> Counter[str]:
    """Every quantity of a text, however its lines are broken."""
    return Counter(str(each) for each in quantities(text.replace("·\n", "· ")))


def test_every_command_that_answers_is_asked_here() -> None:
    assert {words[0] for words in ASKED.values()} == {*commands.COMMANDS, "compare"}


@pytest.mark.parametrize("units", [[], ["--units", "both"]], ids=["one", "both"])
@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
def test_nothing_is_lost_at_80_columns_nor_at_40(
    asked: list[str], units: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Travel in mm, round numbers and values were cut to "0.00…", "12 N…": each figure of the widest page is on every other."""
    whole = printed(capsys, monkeypatch, WIDE, *asked, *units)
    for columns in (80, 40):
        text = printed(capsys, monkeypatch, columns, *asked, *units)
        assert "…" not in text
        lost = said(whole) - said(text)
        numbers = {str(each) for n in range(1, len(SEVERAL) + 1) for each in quantities(f"{n}.")}
        assert not {each for each in lost if each not in numbers}, columns
        assert all(len(line) <= 80 for line in text.splitlines()) or columns == 40


@pytest.mark.parametrize("columns", [80, 60, 40])
def test_the_words_of_a_table_are_whole_too(
    columns: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    text = printed(capsys, monkeypatch, columns, "plan", HOLLIN, "--units", "both")
    words = set(re.findall(r"[a-z]{3,}", printed(capsys, monkeypatch, WIDE, "plan", HOLLIN, "--units", "both")))
    assert words <= set(re.findall(r"[a-z]{3,}", text))
    broken = [line for line in text.splitlines() if re.match(r"^ *\d{3}\u00a0[NJ]\b", line) and "·" not in line]
    assert not broken, "a number is never parted from its thousands"


@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED)
def test_one_system_and_no_word_of_the_other(
    asked: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    both = {unit for _, unit in quantities(printed(capsys, monkeypatch, 80, *asked, "--units", "both"))}
    for units, foreign in (("metric", IMPERIAL), ("imperial", METRIC)):
        text = printed(capsys, monkeypatch, 80, *asked, "--units", units)
        assert {unit for _, unit in quantities(text)} & foreign == set(), units
        assert asked[0] == "rebound" or both & foreign, "clicks and shares have none"


@pytest.mark.parametrize(
    ("pressure", "travel", "shows", "never"),
    [
        ("72 psi", "140 mm", {"psi", "mm"}, {"bar", "in"}),
        ("5 bar", "140 mm", {"bar", "mm"}, {"psi", "in"}),
        ("5 bar", "5.5 in", {"bar", "in"}, {"psi", "mm"}),
        ("0.5 MPa", "140 mm", {"bar", "mm"}, {"psi", "in"}),
    ],
)
def test_unasked_it_speaks_in_the_units_of_the_file(
    pressure: str, travel: str, shows: set[str], never: set[str], tmp_path: Path,
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Most of a file's lengths, and most of its gauge pressures, say it."""
    file = tmp_path / "own.toml"
    file.write_text(
        f'[conditions]\nambient_pressure = "96000 Pa"\n[fork]\ntravel = "{travel}"\n[fork.air]\nbore = "34 mm"\n'
        f'shaft = "10 mm"\npositive_volume = "233 ml"\nnegative_volume = "50 ml"\npressure = "{pressure}"\n'
        + ('[frame]\nreach = "18 in"\nstack = "24.5 in"\n' if "in" in travel else "")
    )
    found = {unit for _, unit in quantities(printed(capsys, monkeypatch, 80, "plan", str(file)))}
    assert shows <= found and not never & found
    found = {unit for _, unit in quantities(printed(capsys, monkeypatch, 80, "plan", str(file), "--units", "both"))}
    assert {"psi", "bar", "mm", "in"} <= found


def test_what_is_wrong_with_several_keeps_is_said_once(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """ "above the maker's limit of 120 psi" stood four times under the keeps."""
    text = printed(capsys, monkeypatch, 80, *ASKED["plan-limits"])
    flat = " ".join(text.split())
    assert flat.count("above the maker’s limit of 120 psi.") == 1
    assert "for the same sag in %, 132 psi for the same feel" in flat


# One process for all of them: nine parts in ten of a command are its start.
PIPED = """
import json, sys
from topout.__main__ import main
for words in json.loads(sys.argv[1]):
    assert main(words) == 0, words
    print("\\f", end="", flush=True)
"""


def test_piped_it_is_the_same_without_a_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    env = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES")}
    line = [sys.executable, "-c", PIPED, json.dumps(list(ASKED.values()))]
    piped = subprocess.run(line, capture_output=True, text=True, check=True, env=env)
    assert piped.stderr == "" and "\x1b" not in piped.stdout
    texts = piped.stdout.split("\f")
    assert texts.pop() == ""
    unlike = [
        asked
        for asked, text in zip(ASKED.values(), texts, strict=True)
        if text != printed(capsys, monkeypatch, 110, *asked)
    ]
    assert unlike == []


@pytest.mark.parametrize(("every", "rows"), [(1, 9), (3, 4), (4, 3), (5, 3), (100, 2)])
def test_the_curve_ends_at_full_travel_whatever_its_rows(every: int, rows: int) -> None:
    bench = read_bytes(Path(HOLLIN).read_bytes())
    text = tables.curve(bench, state.curve(bench, 9), every, System(beside=False))
    stops = [float(line.split()[0]) for line in text.splitlines() if re.match(r"\s*[\d.]+\u00a0mm", line)]
    assert len(stops) == rows and stops[0] == 0.0 and stops[-1] == 140.0 and stops == sorted(stops)


def test_sag_is_printed_figure_by_figure(capsys: pytest.CaptureFixture[str]) -> None:
    """Every figure of the answer has its row: each as `--json` gives it, rounded by hand."""
    assert main(["sag", HOLLIN, "--json"]) == 0
    front = json.loads(capsys.readouterr().out)["front"]
    assert main(["sag", HOLLIN]) == 0
    text = capsys.readouterr().out.replace("\u00a0", " ")
    for name, figure in (
        ("sag", f"{1e3 * front['travel_m']:.1f} mm"), ("share of the travel", f"{100 * front['share']:.1f} %"),
        ("at the least", f"{1e3 * front['low_m']:.1f} mm"), ("at the most", f"{1e3 * front['high_m']:.1f} mm"),
        ("as the sag O-ring shows it", f"{1e3 * front['shown_m']:.1f} mm"),
        ("load along the steering axis", f"{round(front['load_n'], -1):.0f} N"),
        ("share of the weight on the front wheel", f"{100 * front['implied_share']:.0f} %"),
    ):  # fmt: skip
        assert re.search(rf"^ *{re.escape(name)}\b.* {re.escape(figure)}$", text, re.M), (name, figure)


def test_a_shock_of_which_nothing_can_hurt_is_known_has_no_table_of_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Its linkage alone is in the file: a head without a row would say that nothing can hurt there."""
    text = (ROOT / "examples" / "rear-shock.toml").read_text("utf-8")
    whole, without = tmp_path / "whole.toml", tmp_path / "without.toml"
    whole.write_text(text, "utf-8")
    bare = re.sub(r"(?ms)^\[(shock\.air|shock\.damper|change\.shock|change)\]$.*?(?=^\[|\Z)", "", text)
    without.write_text(bare + '\n[change]\npressure = "75 psi"\n', "utf-8")
    assert "What can hurt at the shock, " in printed(capsys, monkeypatch, WIDE, "plan", str(whole))
    said = printed(capsys, monkeypatch, WIDE, "plan", str(without))
    assert "What can hurt, " in said and "What can hurt at the shock, " not in said
