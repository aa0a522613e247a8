"""The questions from the counter that the guide answers with "yes", each asked as its row says."""

from __future__ import annotations

import re
import shlex
from html import unescape
from pathlib import Path

import pytest
from django.contrib.auth.models import User

import topout
from topout.__main__ import main
from topout.web.book.models import Rider
from topout.web.guide import pages
from web import people

# Each question that the guide answers with yes, asked as it says: a command with words of its answer. A file's change is laid over.
ASKED: dict[int, tuple[str, str]] = {
    1: ("target --sag 20% longer-travel", "For sag 20 % set"),
    2: ('plan load-from-the-sag-found found.pressure="100 psi"', "the gauge"),
    3: ("inflate --hose 3ml port-further-in", "69.6 psi 68.7 psi"),
    4: ("target --end-force-change=-52N longer-travel", "spacers, same sag"),
    5: ("target --end-force-change=52N longer-travel", "spacers, same sag"),
    8: ("rebound --clicks 8 --end rear rear-shock", "8 clicks from closed"),
    9: ("plan longer-travel", "head angle"),
    10: ("ways longer-travel", "another piston another"),
    12: ("ride --temperature=-5degC --end rear rear-shock", "psi here, and there it sits as it does here now"),
    13: ('plan longer-travel frame.fork_length_limit="550 mm"', "! Fork length."),
    14: ("plan longer-travel", "tyre to crown"),
    15: ("target --rear-sag 30% coil-shock-and-its-shelf", "fit a spring of"),
    16: ("sag rear-shock", "share of the wheel’s travel"),
    17: ("curve --end rear rear-shock", "wheel rate"),
    18: ('plan longer-travel change.offset="51 mm"', "trail"),
    19: ("options smaller-rear-wheel", "To keep"),
    21: ('compare longer-travel longer-travel fork.lower_legs.air_volume="390 ml"', "bottom-out force"),
    24: ("inflate port-further-in", "one stroke past the port"),
    27: ("plan longer-travel", "tyre to crown"),
    28: ("landing --end rear rear-shock", "just uses all the shock’s stroke"),
    29: ("plan longer-travel", "What can hurt"),
    31: ("compare longer-travel port-further-in", "difference"),
}  # fmt: skip
# By a page alone: its address, of some rider of the demo, and its words.
LOOKED_AT = {
    22: ("/guide/steps/", "it holds, it leaks, or it can’t be told yet"),
    32: ("/riders/{rider}/set-up/", "as weighed"),
}


def test_every_question_that_is_answered_is_answered_so(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each "yes" of the table, and each command that it names with its options, tried."""
    rows = re.findall(
        r"^\| (\d+) \| .*? \| (yes|in part|no) \| (.*?) \| (\d*)", pages.source("questions"), re.MULTILINE
    )
    answered = {int(number): (where, steps) for number, said, where, steps in rows if said == "yes"}
    assert set(answered) == {*ASKED, *LOOKED_AT}
    assert all(1 <= int(steps) <= 4 for _, steps in answered.values())
    for number, (where, _) in answered.items():
        for command in re.findall(r"`topout (\w+)", where):
            assert number not in ASKED or ASKED[number][0].split()[0] == command or command in ("sag", "target", "options"), (
                number, command,
            )  # fmt: skip
        for option in re.findall(r"`(?:topout \w+ )?(--[\w-]+)", where):
            assert option in {"--hose", "--sag", "--rear-sag", "--end"}, (number, option)
    monkeypatch.setenv("COLUMNS", "240")  # no head of a table is broken
    wrong = []
    for number, (line, said) in ASKED.items():
        argv: list[str] = []
        for n, word in enumerate(shlex.split(line)):
            key, _, value = word.partition("=")
            if "." in key and "-" not in key:  # laid over the last file
                table, _, name = key.rpartition(".")
                file = Path(argv[-1])
                text = (
                    re.sub(rf"(?m)^{name} = .*\n", "", file.read_text("utf-8"))
                    if name != "offset"
                    else file.read_text("utf-8")
                )
                file.write_text(text.replace(f"[{table}]\n", f'[{table}]\n{name} = "{value}"\n'), "utf-8")
            elif n and not word.startswith("-") and word in topout.examples():
                file = tmp_path / f"{number}-{n}.toml"
                file.write_text(topout.examples()[word].read_text("utf-8"), "utf-8")
                argv.append(str(file))
            else:
                argv.append(word)
        assert main(argv) == 0, (number, argv, capsys.readouterr().err)
        out = " ".join(capsys.readouterr().out.replace("\xa0", " ").replace("\u202f", " ").split())
        if said not in out:
            wrong.append((number, said, out[:1500]))
    assert not wrong, wrong
    client = people.browser(User.objects.get(username="maud"))
    for number, (address, of) in LOOKED_AT.items():
        riders = [rider.pk for rider in Rider.objects.order_by("pk")] if "{rider}" in address else [0]
        assert any(of in unescape(client.get(address.format(rider=pk)).content.decode()) for pk in riders), (number, of)
