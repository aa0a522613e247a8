"""Files from anywhere: standard input, pipes, several at once to one table, comma-separated values or a line of JSON each."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from cli.once import for_the_room
from planner.test_options_drawn import OUTSIDE
from topout.__main__ import main

once = pytest.fixture(autouse=True, scope="module")(for_the_room)  # it asks how several are read and written
ROOT = Path(__file__).resolve().parents[2]
HOLLIN = ROOT / "tests" / "reference" / "hollin.toml"
LONGER = ROOT / "examples" / "longer-travel.toml"
COMMANDS = ("curve", "sag", "geometry", "plan", "inflate")


class Given(io.StringIO):
    """Standard input with the bytes of a file."""

    def __init__(self, data: bytes) -> None:
        super().__init__("")
        self.buffer = io.BytesIO(data)  # type: ignore[misc]


@pytest.fixture
def stdin(monkeypatch: pytest.MonkeyPatch) -> Any:
    def give(data: bytes) -> None:
        monkeypatch.setattr("sys.stdin", Given(data))

    return give


def out(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    return shown.out


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("form", [[], ["--json"], ["--csv"]], ids=["people", "json", "csv"])
def test_standard_input_answers_as_the_file_does(
    command: str, form: list[str], stdin: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    of_file = out(capsys, command, str(HOLLIN), *form)
    stdin(HOLLIN.read_bytes())
    assert out(capsys, command, "-", *form) == of_file.replace(str(HOLLIN), "standard input")


@pytest.mark.parametrize("command", COMMANDS)
def test_what_leaves_the_change_out_says_so_on_top(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = "As the bike is now, before the change."
    text = LONGER.read_text("utf-8")
    unchanged = tmp_path / "unchanged.toml"
    unchanged.write_text(text[: text.index("[change]")], "utf-8")
    of_one, of_two = out(capsys, command, str(LONGER)), out(capsys, command, str(unchanged), str(LONGER))
    assert [of_one.startswith(line), of_two.startswith(line), of_two.count(line)] == [command != "plan"] * 3
    assert line not in out(capsys, command, str(unchanged))


@pytest.mark.parametrize("command", [*COMMANDS, "compare"])
def test_what_is_wrong_on_standard_input_is_refused(
    command: str, stdin: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    more = [str(HOLLIN)] if command == "compare" else []
    for data in (b"[fork]\ntravle = 3\n", b"\xff\xfe", b"#" * 300_000):
        stdin(data)
        assert main([command, "-", *more]) == 2
        shown = capsys.readouterr()
        assert shown.out == "" and shown.err.strip() and "Traceback" not in shown.err


def test_no_standard_input_at_all_is_said(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert main(["plan", "-"]) == 2
    assert capsys.readouterr() == ("", "-: there is no standard input.\n")


def test_as_a_process_with_a_pipe_and_a_shells_own_file() -> None:
    run = subprocess.run(
        ["bash", "-c", f"cat {HOLLIN} | {sys.executable} -m topout sag - --json; "
         f"{sys.executable} -m topout sag <(cat {HOLLIN}) --json; {sys.executable} -m topout sag /dev/stdin --json < {HOLLIN}"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    lines = run.stdout.splitlines()
    assert run.stderr == "" and len(lines) == 3 and len(set(lines)) == 1


@pytest.mark.parametrize("command", COMMANDS)
def test_a_line_of_json_for_each_is_the_answer_to_that_file(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    lines = out(capsys, command, str(HOLLIN), str(LONGER), "--json").splitlines()
    for path, line in zip((HOLLIN, LONGER), lines, strict=True):
        answer = json.loads(line)
        assert answer.pop("file") == str(path)
        assert answer == json.loads(out(capsys, command, str(path), "--json"))


def looked_up(answer: Any, path: str) -> Any:
    """A value of a JSON object by its dotted name."""
    for word in path.split("."):
        answer = answer[word]
    return answer


@pytest.mark.parametrize("command", ["sag", "geometry", "plan"])
def test_one_table_of_comma_separated_values_holds_every_number(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = tmp_path / "no-frame.toml"
    text = HOLLIN.read_text()
    bare.write_text(text[: text.index("[frame]")] + text[text.index("[front_wheel]") :])
    files = [HOLLIN, LONGER] if command == "geometry" else [HOLLIN, LONGER, bare]
    table = list(csv.DictReader(io.StringIO(out(capsys, command, *map(str, files), "--csv"))))
    assert [row["file"] for row in table] == [str(path) for path in files]
    assert len({len(row) for row in table}) == 1
    for path, row in zip(files, table, strict=True):
        answer = json.loads(out(capsys, command, str(path), "--json"))
        for name, cell in row.items():
            if name in ("file", "warnings"):
                continue
            if name == "defaults":
                assert cell.split() == [each["key"] for each in answer["defaults"]]
                continue
            try:
                value = looked_up(answer, name)
            except TypeError:  # a table that this file lacks
                assert cell == ""
                continue
            if isinstance(value, str):
                assert cell == value
                continue
            assert (cell == "") if value is None else (json.loads(cell) == value)
    if command == "plan":
        assert table[0]["warnings"].split() == list(
            dict.fromkeys(
                f"{w['code']}:{w['state']}" for w in json.loads(out(capsys, "plan", str(HOLLIN), "--json"))["warnings"]
            )
        )


def test_a_curve_is_a_row_a_point_and_a_filling_a_row_a_round(capsys: pytest.CaptureFixture[str]) -> None:
    table = list(csv.DictReader(io.StringIO(out(capsys, "curve", str(HOLLIN), str(LONGER), "--points", "4", "--csv"))))
    assert [row["file"] for row in table] == [str(HOLLIN)] * 4 + [str(LONGER)] * 4
    answer = json.loads(out(capsys, "curve", str(HOLLIN), "--points", "4", "--json"))
    assert [float(row["force_n"]) for row in table[:4]] == answer["force_n"]
    assert [float(row["terms.lower_legs_n"]) for row in table[:4]] == answer["terms"]["lower_legs_n"]
    table = list(csv.DictReader(io.StringIO(out(capsys, "inflate", str(HOLLIN), "--stop", "31 psi", "--csv"))))
    rounds = json.loads(out(capsys, "inflate", str(HOLLIN), "--stop", "31 psi", "--json"))["rounds"]
    assert [float(row["after_stroke_pa"]) for row in table] == [each["after_stroke_pa"] for each in rounds]
    assert [int(row["round"]) for row in table] == [*range(1, len(rounds) + 1)]


@pytest.mark.parametrize("command", COMMANDS)
def test_the_table_for_people_has_a_row_for_each(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT / "examples")
    text = out(capsys, command, LONGER.name, "taller-tyres.toml")
    assert LONGER.name in text and "taller-tyres.toml" in text


def test_the_force_of_each_quarter_is_the_force_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the curve's own five points: a quarter of the travel is the second."""
    monkeypatch.chdir(ROOT)
    names = [str(path.relative_to(ROOT)) for path in (HOLLIN, LONGER)]  # short: a row is one line
    *_, one, other = out(capsys, "curve", *names, "--units", "metric").replace("\u202f", "").splitlines()
    for row, path in ((one, HOLLIN), (other, LONGER)):
        answer = json.loads(out(capsys, "curve", str(path), "--points", "5", "--json"))
        said = [float(each) for each in re.findall(r"([0-9.]+)\u00a0N\b", row)]
        assert said == [pytest.approx(force, abs=5.01) for force in answer["force_n"][1:]], row


def test_dangers_stand_before_the_table_with_their_file(capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(ROOT / "examples" / name) for name in ("longer-travel.toml", "locks-with-five-spacers.toml")]
    text = out(capsys, "plan", *files)
    assert text.startswith(f"! {files[1]}: no room left") and "longer-travel.toml: sag is an estimate" in text


def test_whatever_is_wrong_with_any_is_said_of_all_and_nothing_is_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    one.write_text("[rider]\nmass = 82\n[change]\ntravle = 3\n")
    two.write_text('[fork]\ntravel = "15 km"\n')
    assert main(["plan", str(one), str(HOLLIN), str(two), str(tmp_path / "none.toml"), "--json"]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert [line.split(":")[0] for line in shown.err.splitlines()] == [
        str(one),
        str(one),
        str(two),
        f"{tmp_path}/none.toml",
    ]
    assert "line 2, [rider] mass = 82" in shown.err and "none.toml: there is no such file." in shown.err
    two.write_text("[fork]\n")  # right as a file, too short for the command
    assert main(["curve", str(HOLLIN), str(two)]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and shown.err.startswith(f"{two}: [fork] travel: missing")


def test_strict_ends_with_1_and_still_answers(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    quiet = ROOT / "examples" / "load-from-the-sag-found.toml"
    assert main(["plan", str(quiet), "--strict"]) == 0
    capsys.readouterr()
    for words in (["plan", str(HOLLIN)], ["plan", str(quiet), str(HOLLIN)], ["compare", str(quiet), str(HOLLIN)]):
        for form in ([], ["--json"], ["--csv"]):
            assert main([*words, *form]) == 0
            unasked = capsys.readouterr()
            assert main([*words, *form, "--strict"]) == 1
            assert capsys.readouterr() == unasked and unasked.out


def test_compare_takes_each_build_as_its_own_change_leaves_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second way: `plan` of either file; and a build without a change is the bike as it is."""
    text = HOLLIN.read_text()
    other, as_is = tmp_path / "other.toml", tmp_path / "as-is.toml"
    other.write_text(text.replace('travel = "150 mm"', 'travel = "160 mm"').replace("spacers = 1\n", "spacers = 0\n"))
    as_is.write_text(text[: text.index("[change]")])
    plans = {path: json.loads(out(capsys, "plan", str(path), "--json")) for path in (HOLLIN, other, as_is)}
    for a, b in ((HOLLIN, other), (other, HOLLIN), (as_is, other)):
        answer = json.loads(out(capsys, "compare", str(a), str(b), "--json"))
        assert answer["a"] == plans[a]["after"] and answer["b"] == plans[b]["after"]
        gap = answer["b"]["sag"]["front"]["travel_m"] - answer["a"]["sag"]["front"]["travel_m"]
        assert answer["difference"]["sag"]["front"]["travel_m"] == pytest.approx(gap, abs=1e-15)
        assert answer["clearance"] == {"a": plans[a]["clearance"], "b": plans[b]["clearance"]}
        assert answer["hazard"] == {"a": plans[a]["hazard"]["after"], "b": plans[b]["hazard"]["after"]}
        assert answer["unlike"] == []
    assert answer["set"]["a"]["travel_m"] == 0.140 and answer["set"]["b"] == {
        "travel_m": 0.160, "spacers": 0, "pressure_pa": pytest.approx(70 * 6894.757293168361), "negative_pressure_pa": None,
    }  # fmt: skip
    answer = json.loads(out(capsys, "compare", str(HOLLIN), str(LONGER), "--json"))
    assert "rider" in answer["unlike"]
    said = " ".join(out(capsys, "compare", str(HOLLIN), str(LONGER)).split())
    assert "Not the same in both files: [conditions], [rider]" in said
    assert said.startswith("! A: Negative chamber.") and "B: Set 69 psi with two volume spacers." in said


def test_a_file_whose_chambers_are_drawn_goes_through_every_form(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its answer holds lists of words: the table of values broke on them, `compare` worked nothing out, an angle stood in mm."""
    drawn = tmp_path / "drawn.toml"
    lines = LONGER.read_text().replace('travel = "150 mm"\n', 'travel = "150 mm"\nstanchion = "35 mm"\n').splitlines()
    left_out = ("bore", "positive_volume", "negative_volume")
    drawn.write_text("\n".join(line for line in lines if not line.startswith(left_out)))
    answer = json.loads(out(capsys, "plan", str(drawn), "--json"))
    assert answer["drawn"]["assumed"]
    (row,) = csv.DictReader(io.StringIO(out(capsys, "plan", str(drawn), "--csv")))
    assert json.loads(row["drawn.assumed"]) == answer["drawn"]["assumed"]
    assert float(row["after.end_force_n"]) == answer["after"]["end_force_n"]
    assert len(list(csv.DictReader(io.StringIO(out(capsys, "plan", str(drawn), str(LONGER), "--csv"))))) == 2
    assert len(out(capsys, "plan", str(drawn), str(LONGER), "--json").splitlines()) == 2
    for text in (out(capsys, "plan", str(drawn)), out(capsys, "compare", str(drawn), str(LONGER))):
        flat = " ".join(text.split())
        assert "Nothing is set" not in flat and not re.search(r"head angle [0-9.]+.mm", flat)
    assert "drawn in part, its figures are the middles" in " ".join(
        out(capsys, "plan", str(drawn), str(LONGER)).split()
    )
    compared = json.loads(out(capsys, "compare", str(drawn), str(LONGER), "--json"))
    assert compared["a"] == answer["after"] and compared["drawn"] == {"a": answer["drawn"], "b": None}


def test_bikes_of_every_kind_stand_beside_one_another(capsys: pytest.CaptureFixture[str]) -> None:
    """A bike with a rear shock beside a hardtail was a traceback: what one has and the other has not has no difference."""
    kinds = ("rear-shock", "coil-shock-and-its-shelf", "coil-fork", "longer-travel")
    for one, other in permutations(kinds, 2):
        files = [str(ROOT / "examples" / f"{name}.toml") for name in (one, other)]
        assert main(["compare", *files]) == 0, (one, other)
        assert "A is " in capsys.readouterr().out
    assert (
        main(
            [
                "compare",
                "--json",
                *(str(ROOT / "examples" / f"{name}.toml") for name in ("longer-travel", "rear-shock")),
            ]
        )
        == 0
    )
    capsys.readouterr()


# A figure's cell in the row of a file that is drawn: no tenth of a millimetre, no single newton, no tenth of a per cent; by command.
NO_FINER = {
    "plan": r"160 mm +2 +70\.0 psi +\d+ mm +\d+ % +\d \d00 N +65\.1°",
    "sag": r"\d+ mm +\d+ % +\d+ mm +\d+ mm +\d+0 N",
    "curve": r"150 mm +\d+0 N +\d+0 N +(\d )?\d+0 N +\d \d00 N +\d+0 J",
    "landing": r"0\.\d+ m +0\.\d+ m",
    "rebound": r"\d\.\d\d? +6",
    "ride": r"\d+ psi +\d+ mm +\d+ mm +(\d+ psi|–|as it is)",
    "target": "–",
    "options": r"\d+ psi +[−+]?0\.\d°",
}


@pytest.mark.parametrize("command", NO_FINER)
def test_no_figure_of_a_drawn_file_is_finer_than_it_is_known(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn, exact = tmp_path / "d.toml", tmp_path / "e.toml"
    ride = '[ride]\ntemperature = "-5 degC"\n'
    drawn.write_text(OUTSIDE + ride)
    exact.write_text(LONGER.read_text() + ride)
    more = {"rebound": ("--clicks", "6"), "target": ("--sag", "20 %")}.get(command, ())
    shown = out(capsys, command, *more, str(drawn), str(exact)).replace("\u202f", " ").replace("\u00a0", " ")
    (row,) = re.findall(rf"^ +(?:{drawn}|1) +(.*)$", shown, re.M)
    if command == "options":  # its name stands between
        row = row[row.index(re.search(r"\d+(\.\d)? psi", row)[0]) :]  # type: ignore[index]
    assert re.match(NO_FINER[command] + r"( |$)", row), row
    assert "figures are the middles" in " ".join(shown.split())
    other = next(line for line in shown.splitlines() if re.match(rf" +(?:{exact}|2) ", line))
    if command in ("plan", "sag"):
        assert re.search(r"\d+\.\d mm +\d+\.\d %", other), "an exact one as it was"
