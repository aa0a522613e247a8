"""What a shell completes and what man shows: made from the parser itself, whole, and without starting Python."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest

from topout import shipped
from topout.__main__ import main
from topout.cli import options

SCRIPTS = shipped.completions()
MANUAL = SCRIPTS["bash"].parent / "topout.1"
BENCH = Path(__file__).resolve().parents[2] / "examples"


def words() -> dict[str, list[str]]:
    """Every command with its long options, as the parser has them."""
    found = {}
    for action in options.parser()._actions:
        for name, own in action.choices.items() if isinstance(action.choices, dict) else ():
            found[name] = [word for each in own._actions for word in each.option_strings if word.startswith("--")]
    return found


@pytest.mark.parametrize("shell", SCRIPTS)
def test_every_command_and_option_is_in_every_shells_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    shown = capsys.readouterr()
    assert shown.err == "" and shown.out == SCRIPTS[shell].read_text("utf-8")
    for command, own in words().items():
        assert command in shown.out
        for option in own:
            assert option in shown.out or f"'{option[2:]}'" in shown.out or f"-l {option[2:]}" in shown.out, option
    assert not re.search(r"\$\(topout|`topout|python", shown.out), "completing a word starts no Python"


def completed(*typed: str) -> list[str]:
    """What bash offers for the last of these words."""
    listed = " ".join(f"'{word}'" for word in typed)
    code = (
        f"source '{SCRIPTS['bash']}'; COMP_WORDS=({listed}); COMP_CWORD={len(typed) - 1}; COMP_LINE='{' '.join(typed)}'; "
        f"COMP_POINT=${{#COMP_LINE}}; _shtab_topout topout '{typed[-1]}' '{typed[-2]}' 2>/dev/null; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    )
    ran = subprocess.run(
        ["bash", "--norc", "-c", code], capture_output=True, text=True, check=True, cwd=BENCH,
        env={"PATH": os.environ["PATH"]},
    )  # fmt: skip
    return sorted(ran.stdout.split())


def test_bash_completes_commands_options_their_values_and_files() -> None:
    assert completed("topout", "p") == ["plan"]
    assert completed("topout", "co") == ["compare", "completion"]
    assert completed("topout", "plan", "--s") == ["--strict"]
    assert completed("topout", "inflate", "--") == sorted({"--help", *words()["inflate"]})
    assert completed("topout", "sag", "--units", "m") == ["metric"]
    assert completed("topout", "new", "--from", "longer") == ["longer-travel"]
    assert completed("topout", "help", "bench") == ["bench-file"]
    assert "longer-travel.toml" in completed("topout", "plan", "longer")


@pytest.mark.parametrize("asked", [[], ["tcsh"], ["bash", "zsh"]])
def test_a_shell_that_is_none_is_refused(asked: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", *asked]) == 2
    shown = capsys.readouterr()
    assert shown.out == "" and len(shown.err.splitlines()) == 1


def test_the_manual_has_every_command_and_option_and_no_line_that_is_taken_for_an_order() -> None:
    text = MANUAL.read_text("utf-8")
    plain = text.replace("\\-", "-")
    for command, own in words().items():
        assert f"topout {command}" in plain
        assert all(option in plain for option in own)
    orders = {line.split()[0] for line in text.splitlines() if line.startswith((".", "'"))}
    assert orders <= {".TH", ".SH", ".TP", ".B", ".nf", ".fi"}, '".svg, .png" began a line, and was lost'
    assert ".svg, .png or .pdf" in " ".join(plain.replace("\\&", "").split())
    assert text.startswith('.TH TOPOUT "1"') and ".SH EXIT STATUS" in text
