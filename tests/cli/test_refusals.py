"""What the commands say of what is wrong: status 2, nothing on standard output, a line each, never a traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from bench_file import every
from topout.__main__ import main

HOLLIN = Path(__file__).resolve().parents[1] / "reference" / "hollin.toml"


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    """Lines on standard error of a command that must be refused."""
    assert main(list(words)) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and "Traceback" not in shown.err and shown.err.strip()
    return shown.err.splitlines()


WRONG = {
    "bare": "8", "text": '"about right"', "nan": "nan", "huge": '"1e30 mm"', "negative": '"-7 mm"', "comma": '"4,1 mm"',
    "unit": '"3 furlong"', "list": "[1]",
}  # fmt: skip


@pytest.mark.parametrize("how", WRONG)
def test_every_quantity_at_fault_at_once(capsys: pytest.CaptureFixture[str], tmp_path: Path, how: str) -> None:
    """One wrong value in every quantity of a file: as many findings, each with its place and line."""
    file = every.base()
    wrong = [
        path
        for path, key in every.every_key()
        if key.kind == "quantity" and path[-1] in file.get(".".join(path[:-1]), {})
    ]
    for path in wrong:
        file = every.put(file, ".".join(path), WRONG[how])
    text = every.text(file)
    bench = tmp_path / "wrong.toml"
    bench.write_text(text)
    lines = refused(capsys, "plan", str(bench), "--json")
    # a length of -7 mm is a fault of most lengths, not of a bottom-bracket drop or an offset
    least = len(wrong) // 2 if how == "negative" else len(wrong)
    assert len(lines) >= least
    assert all(line.startswith("line ") for line in lines)


@pytest.mark.parametrize("path", [p for p, k in every.every_key() if k.needed and len(p) == 2], ids=".".join)
def test_a_missing_key_is_named_where_it_is_needed(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, path: every.Path
) -> None:
    file = every.put(every.base(), ".".join(path), None)
    if path[0] in ("frame", "fork"):
        bench = tmp_path / "short.toml"
        bench.write_text(every.text(file))
        command = "geometry" if path[0] == "frame" else "curve"
        assert any(path[1] in line for line in refused(capsys, command, str(bench)))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["pln"], "no such command. Is it plan?"),
        (["plan"], "the bench file is missing: topout plan FILE."),
        (["new", "a.toml", "b.toml"], "b.toml: one word too many."),
        (["compare", "{h}"], "two bench files are compared, 1 given: topout compare A B."),
        (["compare", "{h}", "{h}", "{h}"], "two bench files are compared, 3 given"),
        (["sag", "-", "-"], "standard input can be read once only."),
        (["plan", "{h}", "{h}", "--plot", "x.svg"], "one bench file makes one picture"),
        (["plan", "{h}", "--units", "imperal"], 'one of "metric", "imperial", "both" is expected.'),
        (["plan", "{h}", "--json", "--csv"], "not allowed with"),
        (["sag", "{h}", "--strict"], "--strict: no such option."),
        (["new", "--from", "longer-travle", "-"], "no such example. Is it longer-travel?"),
        (["help", "bench-fil"], "no such topic. Is it bench-file?"),
        (["plan", "{h}", "--jsn"], "--jsn: no such option. Is it --json?"),
        (["plan", "{h}", "--json=3"], "--json: ignored explicit argument '3'"),
        (["curve", "{h}", "--points"], "--points: expected one argument"),
        (["plan", "nowhere.toml"], "nowhere.toml"),
        (["plan", "."], "."),
        (["curve", "{h}", "--points", "1"], "2 to 100000"),
        (["curve", "{h}", "--points", "many"], "whole number"),
        (["curve", "{h}", "--end", "rear"], "[shock]"),
        (["curve", "{h}", "--plt", "x.svg"], "Is it --plot?"),
        (["curve", "{h}", "--plot", "x.gif"], ".svg, .png or .pdf"),
        (["curve", "{h}", "--plot", "/nowhere/at/all/x.svg"], "can't be saved"),
        (["inflate", "{h}", "--to", "70"], "needs a unit"),
        (["inflate", "{h}", "--to", "70,5 psi"], "decimal point"),
        (["inflate", "{h}", "--to", "70 mm"], "not a unit of pressure"),
        (["inflate", "{h}", "--to", "61 bar"], "0 to 60 bar"),
        (["inflate", "{h}", "--stop", "90 psi"], "below the pressure to fill to"),
        (["inflate", "{h}", "--stop", "40 psi", "--stop", "20 psi"], "above the one before"),
        (["inflate", "{h}", "--hose", "-3 ml"], "0 to 200 ml"),
        (["shelf", "{h}"], "no such command"),
    ],
)  # fmt: skip
def test_wrong_words(capsys: pytest.CaptureFixture[str], words: list[str], says: str) -> None:
    lines = refused(capsys, *(word.replace("{h}", str(HOLLIN)) for word in words))
    assert len(lines) == 1 and says in lines[0]


HOSTILE = {
    "dots": b"a" + b".a" * 16_000,
    "brackets": b"x = " + b"[" * 5_000,
    "too-large": b"# " + b"x" * 300_000,
    "nul": b'[fork]\ntravel = "1\x0050 mm"\n',
    "utf-16": "[fork]\ntravel = '150 mm'\n".encode("utf-16"),
    "latin": b"[fork]\n# \xe9\ntravel = '150 mm'\n",
    "binary": bytes(range(256)) * 20,
    "open string": b'[fork]\ntravel = "150 mm\n',
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused_at_once(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str) -> None:
    file = tmp_path / "hostile.toml"
    file.write_bytes(HOSTILE[name])
    assert len(refused(capsys, "plan", str(file), "--json")) == 1


def test_as_a_process_too(tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text('[fork.air]\nbore = "3.46 mm"\n[change]\ntravle = "140 mm"\n[rider]\nmass = 82\n')
    child = subprocess.run(
        [sys.executable, "-m", "topout", "plan", str(file)], capture_output=True, text=True, check=False
    )
    assert child.returncode == 2 and child.stdout == ""
    assert child.stderr.splitlines() == [
        'line 2, [fork.air] bore = "3.46 mm": a bore is 10 to 80 mm. Is it 34.6 mm?',
        "line 4, [change] travle: no such key. Is it travel?",
        'line 6, [rider] mass = 82: needs a unit, "82 kg" or "181 lb".',
    ]


def test_a_reader_that_has_gone_is_no_error() -> None:
    child = subprocess.run(
        f"{sys.executable} -m topout curve {HOLLIN} --points 20000 --json | head -c 10",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in child.stderr and "BrokenPipe" not in child.stderr


FULL, CLOSED = ("> /dev/full", "can't be written to standard output"), (">&-", "no standard output")
OF_ALL = ("plan {h}", "new -", "help bench-file", "--version", "completion bash", "curve {h} --json")


@pytest.mark.parametrize(
    ("words", "into", "says"),
    [
        *((words, *(FULL, CLOSED)[n % 2]) for n, words in enumerate(OF_ALL)),
        *(pytest.param(words, *(CLOSED, FULL)[n % 2], marks=pytest.mark.soak) for n, words in enumerate(OF_ALL)),
    ],
)
def test_an_output_that_takes_nothing_is_one_line(words: str, into: str, says: str) -> None:
    """A full disk and a closed output were a traceback each."""
    child = subprocess.run(
        ["bash", "-c", f"{sys.executable} -m topout {words.replace('{h}', str(HOLLIN))} {into}"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert child.returncode == 2 and len(child.stderr.splitlines()) == 1 and says in child.stderr


def test_help_and_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0 and "plan" in capsys.readouterr().out
    assert main(["--version"]) == main(["-V"]) == 0 and capsys.readouterr().out.startswith("topout ")


def test_ctrl_c_is_quiet(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stopped(_: object) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr("topout.cli.commands.answer", stopped)
    assert main(["plan", str(HOLLIN)]) == 130
    assert capsys.readouterr() == ("", "")
