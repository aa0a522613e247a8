"""`topout check-procedure`: what a text is, or everything that is wrong with it, by the checker that the pages use."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from topout.__main__ import main

EXAMPLE = Path(__file__).parents[2] / "src/topout/web/demo/winter-look.toml"


def test_a_whole_text_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check-procedure", str(EXAMPLE)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Winter look, version 1 (winter-look)\n") and "hold points among them: 13" in out and not err
    assert "Topout’s authors have not checked it." in out
    assert main(["check-procedure", "--json", str(EXAMPLE)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["key"], told["version"], told["steps"], told["variants"]) == ("winter-look", 1, 35, ["salted"])


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_every_fault_is_a_line_with_status_2_and_nothing_is_printed(
    flags: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "clearance.toml"
    file.write_text(
        EXAMPLE.read_text("utf-8").replace("version = 1", "version = 0").replace("Wash the", "wash the"), "utf-8"
    )
    assert main(["check-procedure", *flags, str(file)]) == 2
    out, err = capsys.readouterr()
    lines = err.splitlines()
    assert not out and len(lines) == 3, err
    assert lines[0].startswith('clearance: its name = "clearance": a procedure that comes with Topout has it')
    assert lines[1].startswith("clearance: line 5, version = 0: ") and lines[2].startswith(
        "clearance: line 30, group 2, step 1, do = "
    )


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.toml", b"", "it is empty"), ("a.toml", b"\xff", "no UTF-8"), ("a.toml", b"title = \"\x1b\"", "TOML is expected"),
        ("a.toml", b"title = \"\\u001b[31m\"\n", "a sentence in quotes"), ("a.toml", b"#" * 300_000, "at most 262144"),
        ("A.toml", b"a = 1\n", "small letters joined by"),
    ],
)  # fmt: skip
def test_what_is_no_procedure_is_said_and_harmless_to_a_terminal(
    name: str, data: bytes, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(data)
    assert main(["check-procedure", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert not out and words in err and "\x1b" not in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "the procedure is missing: topout check-procedure FILE."), (["nowhere.toml"], "there is no such file"), (["/"], "a procedure is expected"),
        (["a.toml", "b.toml"], "one word too many"), (["--plot", "x.svg", "a.toml"], "no such option"),
    ],
)  # fmt: skip
def test_a_wrong_line_is_answered(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check-procedure", *words]) == 2
    assert said in capsys.readouterr().err
