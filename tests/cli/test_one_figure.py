"""One build, one figure: what a command prints of it is as fine as the plan has it, and a sentence says what the table beside it says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.test_options_drawn import OUTSIDE
from topout.__main__ import main

ROOT = Path(__file__).resolve().parents[2]
HOLLIN = ROOT / "tests/reference/hollin.toml"
EXAMPLES = [HOLLIN, *sorted((ROOT / "examples").glob("*.toml"))]
NEWTONS = re.compile(r"(?<![\d.])(\d[\d\u202f]*) N(?![/\w])")


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What is printed, on one line of words, no space in a number."""
    assert main(list(words)) in (0, 1)
    return re.sub(r"\s+", " ", capsys.readouterr().out.replace("\u202f", "").replace("\u00a0", " "))


@pytest.mark.parametrize("command", ["curve", "sag"])
def test_a_spring_is_said_to_ten_newtons_by_every_command(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A curve ended at 1 949 N where the plan of the same fork says 1 950."""
    for path in EXAMPLES:
        found = [int(each) for each in NEWTONS.findall(printed(capsys, command, str(path)))]
        assert [each for each in found if each % 10] == [], path.name
        assert found or command == "sag", path.name


def test_a_curve_ends_where_the_plan_says(capsys: pytest.CaptureFixture[str]) -> None:
    plan, curve = (printed(capsys, command, str(HOLLIN)) for command in ("plan", "curve"))
    end = re.search(r"bottom-out force (\d+ N)", plan[plan.index("sag at the most") :])
    assert end is not None
    rows = re.findall(r"140\.0 mm (\d+ N)", curve)
    assert rows == [end[1]]


def test_a_sentence_and_its_table_give_one_pair_of_limits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """“Between 1 550 N and 3 910 N.” stood above “1 000 N to 4 000 N”."""
    path = tmp_path / "fork.toml"
    path.write_text(OUTSIDE)
    text = printed(capsys, "plan", str(path))
    between = re.search(r"How firm the end is: not known yet\. Between (\d+ N) and (\d+ N)\.", text)
    row = re.search(r"bottom-out force after \d+ N (\d+ N) (\d+ N)", text)
    assert between is not None and row is not None, text
    assert between.groups() == row.groups()


def test_where_a_port_opens_is_said_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    """A piston spacer's port stood as “– −10.0 mm –”: it lies out past full extension, and nobody wrote down where it was."""
    of_spacer = printed(capsys, "plan", str(ROOT / "examples/piston-spacer.toml"))
    assert "port opens at full extension, taken never –" in of_spacer
    assert "port position" not in of_spacer


def test_a_coils_rate_is_written_one_way(capsys: pytest.CaptureFixture[str]) -> None:
    """The sentence said “80.0 N/mm” of the shock, “7.5 N/mm” trimmed of the fork; the file and the front's table have 80."""
    text = printed(capsys, "plan", str(ROOT / "examples/coil-shock-and-its-shelf.toml"))
    assert "Shock: a coil of 80 N/mm, wound up 1 mm." in text
    assert "coil rate 80 N/mm 80 N/mm 0 N/mm preload 1 mm 1 mm 0 mm" in text


def test_a_rate_that_is_worked_out_is_written_as_a_spring_is_marked(capsys: pytest.CaptureFixture[str]) -> None:
    """A target said “fit a spring of 80.0 N/mm” of the spring that the plan calls “80 N/mm”."""
    coil = ROOT / "examples/coil-shock-and-its-shelf.toml"
    rests = re.search(r"sag, stroke used ([\d.]+) mm", printed(capsys, "plan", str(coil)))
    assert rests is not None
    asked = [f"{float(rests[1]) + off / 1000:.3f} mm" for off in range(-50, 51, 5)]
    said = " ".join(printed(capsys, "target", str(coil), "--rear-sag", sag) for sag in asked)
    assert "fit a spring of 80 N/mm, wound up as now." in said and "80.0 N/mm" not in said
