"""Every command that takes a file, by its option table: whatever the file is, status 2, nothing on standard output, lines that steer no terminal.

As a file, through standard input, as a pipe, a folder, a link that leads nowhere, a name with an escape in it.
"""

from __future__ import annotations

import io
import os
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from topout.__main__ import main
from topout.bench_file.read import MAX_BYTES
from topout.cli import options

HOLLIN = Path(__file__).resolve().parents[1] / "reference" / "hollin.toml"
TEXT = HOLLIN.read_bytes()
# What each further needs to be asked at all.
MORE = {"compare": [str(HOLLIN)], "target": ["--sag", "20 %"]}
SAYS_WHAT_IS_OPEN = ("plan", "compare")  # of a file with nothing in it these say what is not known

CONTENT: dict[str, bytes] = {
    "nul": b"\0" * 100, "nul within": TEXT[:60] + b"\0" + TEXT[60:], "escape as a key": b'\x1b[31m = "\x1b[2J"\n',
    "escape as a value": b'[fork]\ntravel = "\x1b[2J150 mm"\n', "escape spelt out": b'[fork]\n"\\u001b[2J" = "1 mm"\ntravel = "\\u001b[31m9"\n',
    "eight bits' escape": '[fork]\ntravel = "\x9b31m"\n'.encode(), "turned writing": '[fork]\n"\u202etrav" = "\u202e1"\n'.encode(),
    "two marks of order": b"\xef\xbb\xbf" * 2 + TEXT, "utf-16": TEXT.decode().encode("utf-16"), "utf-16 unmarked": TEXT.decode().encode("utf-16-le"),
    "utf-32": TEXT.decode().encode("utf-32"), "latin": b'[fork]\nname = "\xe9"\n', "half a letter": b'[fork]\nname = "\xe2\x82"\n',
    "a lone surrogate": b'[fork]\nname = "\xed\xa0\x80"\n', "carriage returns": b'[fork]\r\rtravel = "1 mm"\r', "too large": b"# x\n" * MAX_BYTES,
    "nested": b"a = " + b"[" * 100_000, "tables nested": b"[" * 50_000, "inline nested": b"a=" + b"{b=" * 5_000 + b"1" + b"}" * 5_000,
    "dots": b"a" + b".a" * 100_000 + b"=1", "one long line": b"x" * 200_000, "quotes": b'"' * 100_001, "a zip": b"PK\x03\x04" + bytes(500),
    "a number without end": b"[fork]\ntravel = " + b"9" * 10_000, "a table twice": b"[fork]\n[fork]\n", "endless": b'[fork]\ntravel = "1e400 mm"\n',
}  # fmt: skip


def commands() -> list[str]:
    """Every command that reads bench files, and the one for procedures: those with a FILE in the parser's own table."""
    return [*options.ANSWERING, "check-procedure"]


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> None:
    assert main(list(words)) == 2, words
    shown = capsys.readouterr()
    assert shown.out == "" and shown.err.strip() and "Traceback" not in shown.err, (words, shown)
    assert len(shown.err) < 4_000, (words, len(shown.err))
    assert all(
        sign.isprintable() or sign == "\n" for sign in shown.err.replace("\u202f", " ").replace("\u00a0", " ")
    ), (words, shown.err)


def test_every_command_that_takes_a_file_is_tried() -> None:
    """One that comes to be is tried, or is one of the workshop's, which tests/web tries."""
    of_files = {name for name in options.COMMANDS if "FILE" in options.parser([name]).format_help() + str(_usage(name))}
    assert of_files - set(options.OF_WORKSHOP) - {"new"} == set(commands())


def _usage(name: str) -> str:
    shown = io.StringIO()
    actions = [each for each in options.parser([name])._actions if getattr(each, "choices", None)]
    for each in actions:
        assert each.choices is not None
        each.choices[name].print_help(shown)  # type: ignore[call-overload,index]
    return shown.getvalue()


@pytest.mark.parametrize("what", CONTENT)
def test_whatever_stands_in_a_file_is_a_line_or_a_few(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, what: str
) -> None:
    file = tmp_path / "hostile.toml"
    file.write_bytes(CONTENT[what])
    for name in commands():
        refused(capsys, name, str(file), *MORE.get(name, []))
        if name == "check-procedure":
            continue
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(CONTENT[what])))
        refused(capsys, name, "-", *MORE.get(name, []))


def a_folder(path: Path) -> Path:
    path.mkdir()
    return path


def a_loop(path: Path) -> Path:
    path.symlink_to(path.name)
    return path


def a_pipe(path: Path) -> Path:
    os.mkfifo(path)
    threading.Thread(target=path.write_bytes, args=[b"\0\x1b[2J"], daemon=True).start()
    return path


def shut(path: Path) -> Path:
    path.write_bytes(TEXT)
    path.chmod(0)
    return path


PLACES: dict[str, Callable[[Path], Path]] = {
    "not there": lambda path: path, "a folder": a_folder, "a link to itself": a_loop, "a pipe": a_pipe, "not to be read": shut,
    "beneath a file": lambda path: HOLLIN / "x.toml", "a device": lambda path: Path("/dev/zero"), "its own memory": lambda path: Path("/proc/self/mem"),
    "an escape in its name": lambda path: path.with_name("\x1b[31m.toml"), "no letter in its name": lambda path: path.with_name("\udcff.toml"),
    "a name too long": lambda path: path.with_name("n" * 300 + ".toml"), "a nul in its name": lambda path: path.with_name("a\0b.toml"),
}  # fmt: skip


@pytest.mark.parametrize("where", PLACES)
def test_whatever_a_file_is_is_a_line(capsys: pytest.CaptureFixture[str], tmp_path: Path, where: str) -> None:
    if where == "not to be read" and os.geteuid() == 0:
        pytest.skip("root reads everything")
    for nth, name in enumerate(commands()):
        folder = tmp_path / str(nth)
        folder.mkdir()
        refused(capsys, name, str(PLACES[where](folder / "hostile.toml")), *MORE.get(name, []))


WORDS = (
    "\x1b[2J",
    "\udcff",
    "\u202e",
    "\x9b31m",
    "",
    " ",
    "a" * 100_000,
    "-",
    "--",
    "\n",
    "%s",
    "NaN",
    "1e999 mm",
    "1 \x1b[2Jmm",
)
TAKES_ANY = {
    ("options", "--family"),
    ("options", "--rear-family"),
}  # a family is a name; one that nobody has fits nothing


def test_no_word_of_an_option_is_taken_for_a_value_or_steers_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Every option that takes a value, with words that are none."""
    tried = 0
    for name in options.ANSWERING:
        (sub,) = (each for each in options.parser([name])._actions if getattr(each, "choices", None))
        assert sub.choices is not None
        for action in sub.choices[name]._actions:  # type: ignore[call-overload,index]
            if action.nargs == 0 or not action.option_strings or (name, action.option_strings[0]) in TAKES_ANY:
                continue
            for word in WORDS:
                more = MORE.get(name, []) if action.option_strings[0] != "--sag" else MORE.get(name, [])[2:]
                refused(capsys, name, str(HOLLIN), *more, f"{action.option_strings[0]}={word}")
                tried += 1
    assert tried >= 300
