"""Nothing that a file or a database holds steers the terminal: every printed line is cleaned, in one room."""

from __future__ import annotations

import ast
import io
import logging
import sys
import unicodedata
from functools import cache
from pathlib import Path

import pytest

from topout.__main__ import main
from topout.terminal import printable

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "topout"
HOSTILE = "Linnet \x1b[2J\x1b]0;title\x07\x9b31m\u202efork\r\x08"


@cache
def steering() -> list[str]:
    """Every sign of Unicode that prints nothing and may steer: looked for when a test asks, not when it is collected."""
    kinds = ("Cc", "Cf", "Zl", "Zp", "Cs")
    return [sign for sign in map(chr, range(sys.maxunicode + 1)) if unicodedata.category(sign) in kinds]


def test_no_steering_sign_comes_through() -> None:
    left = [c for c in steering() if c not in "\n\t" and c in printable(f"a{c}b")]
    assert len(steering()) > 2000 and left == []


def test_what_is_ours_comes_through_as_it_is() -> None:
    for text in ("70\u00a0psi · 4.83\u202fbar", "\u2212 1.3 mm\n", "Ångström, 漢字, ½"):
        assert printable(text) == text
    assert printable("\u2212 1.3\u00a0mm", "ascii") == "- 1.3 mm"


def test_hostile_words_at_the_terminal(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """In a file's one text, in a table's name, a path, a command and an option; TOML's own escapes bring such signs in."""
    text = (ROOT / "tests" / "reference" / "hollin.toml").read_text("utf-8")
    sign = "".join(c if c.isalnum() or c == " " else f"\\u{ord(c):04X}" for c in HOSTILE)
    bench = tmp_path / "bench.toml"
    bench.write_text(text.replace('posture = "standing"', "") + f'\n["{sign}"]\nx = 1\n', "utf-8")
    assert main(["plan", str(bench)]) == 2
    bench.write_text(
        text.replace('posture = "standing"', "").replace("\n[found]\n", f'\n[found]\nposture = "{sign}"\n'), "utf-8"
    )
    main(["plan", str(bench)])
    for words in (
        ["plan", HOSTILE],
        [HOSTILE],
        ["plan", str(bench), f"--{HOSTILE}"],
        ["sag", str(bench), "--json", HOSTILE],
    ):
        assert main(words) == 2
    shown = capsys.readouterr()
    assert len(shown.err.splitlines()) >= 5 and not set(shown.out + shown.err) & set(steering()) - set("\n\t")


def test_commands_print_through_the_one_room() -> None:
    """`sys.stdout.write`, `self.stdout.write`, `print`: each takes what `printable` gives, or words of the program alone."""
    found = []
    for path in [*PACKAGE.glob("cli/*.py"), *PACKAGE.glob("web/**/management/**/*.py"), PACKAGE / "__main__.py"]:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith((".stdout.write", ".stderr.write")):
                if "printable(" not in ast.unparse(node.args[0]):
                    found.append(f"{path.name}:{node.lineno}")
            if (
                isinstance(node, ast.Call)
                and ast.unparse(node.func) == "CommandError"
                and "printable(" not in ast.unparse(node)
            ):
                found.append(f"{path.name}:{node.lineno}")
    assert found == []


def test_the_log_is_cleaned_too() -> None:
    from topout.web.log import Line

    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(Line("{message}", style="{"))
    handler.emit(logging.LogRecord("x", logging.WARNING, "", 0, "unit %s", (HOSTILE,), None))
    assert "Linnet" in out.getvalue() and not set(out.getvalue()) & set(steering()) - {"\n"}
