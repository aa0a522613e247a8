"""`topout new` and `topout help`: a file to begin with, never over another unasked, and the documents at the terminal."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from bench_file import every
from topout import shipped
from topout.__main__ import main
from topout.bench_file import explained, model, parts, read, say
from topout.cli import options
from topout.planner.plan import plan

EXAMPLES = shipped.examples()


SHELF = "# [[shelf]]"


def test_a_part_of_the_shelf_is_read_once_its_signs_are_taken_away() -> None:
    head, _, part = explained.explained().partition(SHELF)
    (read_back,) = read.read_text(SHELF[2:] + part.replace("\n# ", "\n")).shelf
    assert {
        word for word, (attribute, _) in model.keys(parts.AirShaft).items() if getattr(read_back, attribute) is not None
    } == set(model.keys(parts.AirShaft))
    assert "topout options" in head


def test_every_key_is_there_as_it_is_read_with_what_it_is() -> None:
    """Each line with its # taken away is read in its own table, and none of them counts before."""
    text = explained.explained()
    bench = read.read_text(text)
    headers = "\n".join(line for line in text.splitlines() if line.startswith("["))
    assert bench == read.read_text(headers) and bench.found is None
    lines = text.splitlines()
    table: tuple[str, ...] = ()
    found = set()
    for number, line in enumerate(lines):
        if line == SHELF:
            break
        if line.startswith("["):
            table = tuple(line.strip("[]").split("."))
        elif key := re.match(r"# ([a-z_]+) = ", line):
            path = (*table, key.group(1))
            found.add(path)
            alone = [
                line[2:] if n == number else each for n, each in enumerate(lines) if each.startswith("[") or n == number
            ]
            assert ".".join(path) in _keys_read("\n".join(alone)), line
            assert len(line.split("# ")[-1]) > 5, f"line {number + 1} says what the key is"
    expected = {
        path
        for path, _ in every.every_key()
        if path[:2] not in (("change", "air"), ("change", "coil")) and "negative_coil" not in path[:-1]
    }
    assert found == {path for path in expected if ".".join(path) not in every.REFUSED}


def test_a_key_that_is_chosen_says_its_choices_and_one_that_is_measured_its_limits() -> None:
    """And whether it is needed: each by the table of keys, whatever its line says besides."""
    said = {}
    table: tuple[str, ...] = ()
    for line in explained.explained().partition(SHELF)[0].splitlines():
        if line.startswith("["):
            table = tuple(line.strip("[]").split("."))
        elif word := re.match(r"# ([a-z_]+) = ", line):
            said[(*table, word.group(1))] = line.split("# ")[-1]
    chosen = 0
    for path, key in every.every_key():
        if path in said:
            chosen += bool(key.choices)
            for choice in key.choices:
                assert f'"{choice}"' in said[path], path
            assert said[path].endswith("; needed") is key.needed, path
            if key.low_si is not None and not key.choices:
                assert say.limits(key) in said[path], path
    assert chosen >= 3


def _keys_read(text: str) -> set[str]:
    """The keys that a text holds as TOML; a finding about its neighbours does not matter here."""
    import tomllib

    def walk(tables: dict[str, object], path: str) -> set[str]:
        found = set()
        for word, value in tables.items():
            known = isinstance(value, dict) and word != "negative_coil"
            found |= walk(value, f"{path}{word}.") if known and isinstance(value, dict) else {f"{path}{word}"}
        return found

    return walk(tomllib.loads(text), "")


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_explained_is_the_same_bike(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "--from", name, "-"]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    text = EXAMPLES[name].read_text("utf-8")
    headers = [f"[{'.'.join(path)}]" for path, _ in every.tables() if path[-1] != "negative_coil"]
    silent = [header for header in headers if f"{header}\n" not in text and f"{header}\n" in shown.out]
    text += "\n".join(silent)  # tables that say nothing; a bike on a coil has no air among them
    assert read.read_text(shown.out) == read.read_text(text)
    assert plan(read.read_text(shown.out)).as_json()["keep"] == plan(read.read(EXAMPLES[name])).as_json()["keep"]


def test_it_is_read_by_every_command_and_guesses_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bike.toml"
    assert main(["new", str(file)]) == 0
    assert f"topout plan {file}" in capsys.readouterr().out
    assert main(["plan", str(file)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Nothing is set" in text and "Not known: the travel of the fork ([fork] travel)" in text
    assert main(["curve", str(file)]) == 2
    assert "travel" in capsys.readouterr().err


def test_without_a_name_it_is_bench_toml(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new"]) == 0
    assert (tmp_path / "bench.toml").read_text() == explained.explained()
    assert [path.name for path in tmp_path.iterdir()] == ["bench.toml"]


def test_nothing_is_written_over_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.toml"
    link = tmp_path / "link.toml"
    dangling = tmp_path / "dangling.toml"
    file.write_text("# my own\n")
    file.chmod(0o640)
    link.symlink_to(file)
    dangling.symlink_to(tmp_path / "nowhere.toml")
    for path in (file, link, dangling):
        assert main(["new", str(path)]) == 2
        shown = capsys.readouterr()
        assert shown.out == "" and shown.err == (
            f"{path}: is there already, and was left as it is. Give another name, or --overwrite.\n"
        )
    assert file.read_text() == "# my own\n" and not (tmp_path / "nowhere.toml").exists()
    assert main(["new", "--overwrite", str(link)]) == 0
    assert link.is_symlink() and file.read_text() == explained.explained() and file.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["dangling.toml", "link.toml", "mine.toml"]


@pytest.mark.parametrize("overwrite", [[], ["--overwrite"]], ids=["new", "over"])
def test_what_cannot_be_written_is_one_line(
    tmp_path: Path, overwrite: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "folder").mkdir()
    for name in (tmp_path / "folder", tmp_path / "none" / "x.toml", "a\0b", "x" * 5000, "", "/dev/full/x"):
        assert main(["new", *overwrite, str(name)]) == 2
        shown = capsys.readouterr()
        assert shown.out == "" and len(shown.err.splitlines()) == 1 and "Traceback" not in shown.err, name


def test_help_prints_each_document_and_each_commands_options(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    for name in shipped.documents():
        assert main(["help", name]) == 0
        shown = capsys.readouterr()
        assert shown.err == "" and len(shown.out) > 500 and "\x1b" not in shown.out
    for name in options.COMMANDS:
        if name in options.OF_WORKSHOP:
            continue  # their own help, below
        assert main(["help", name]) == 0
        assert f"topout {name}" in capsys.readouterr().out
    assert main(["help"]) == 0 and "bench-file" in capsys.readouterr().out
    assert main(["help", "examples"]) == 0
    said = capsys.readouterr().out
    assert all(f"{name}:" in said for name in EXAMPLES)


@pytest.mark.parametrize("columns", ["80", "40"])
def test_the_bench_files_document_loses_no_key_at_a_narrow_terminal(
    columns: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert main(["help", "bench-file"]) == 0
    text = capsys.readouterr().out
    assert text.count("…") == shipped.documents()["bench-file"].read_text("utf-8").count("…")
    assert max(map(len, text.splitlines())) <= int(columns)
    if columns == "80":
        words = set(re.findall(r"[a-z_]+", text))
        assert {key.word for _, key in every.every_key()} - {"sag"} <= words
        assert {word for path, _ in every.tables() for word in path} <= words
    assert model.BenchFile.__name__ not in text


def test_help_of_what_needs_the_workshop_is_that_commands_own() -> None:
    for name in options.OF_WORKSHOP:
        own, asked = (
            subprocess.run([sys.executable, "-m", "topout", *words], capture_output=True, text=True, check=True)
            for words in ([name, "--help"], ["help", name])
        )
        assert asked.stdout == own.stdout and len(own.stdout) > 200


def test_the_name_it_tells_to_go_on_with_can_be_typed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path / "my bike.toml")]) == 0
    assert capsys.readouterr().out.endswith(f"topout plan '{tmp_path}/my bike.toml'\n")
