"""What is said of draws beside the plan's own sentence: a coil, a second chamber, single questions, other riders' weights."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.test_no_leverage import KNOWN
from planner.test_no_leverage import OUTSIDE as SHOCK
from planner.test_options_drawn import OUTSIDE
from topout.__main__ import main
from topout.bench_file import read
from topout.bench_file.model import BenchFile, Found, Reading, Shock
from topout.documents import sheet_tables
from topout.planner import far_in, replies, ride, sentence, summary, target
from topout.planner.known_to import Bounds
from topout.planner.plan import plan
from topout.planner.wanted import Wanted
from topout.units import BENCH, System

BEFORE, _, FORK = OUTSIDE.partition("[fork.air]")
COIL = (
    BEFORE.replace('stanchion = "36 mm"\n', "")
    + '[fork.coil]\nrate = "7.5 ± 0.4 N/mm"\npreload = "5 mm"\n[found]\nsag = "33 mm"\n[change]\ntravel = "160 mm"\n'
)
SAG = re.compile(r'sag = ".*"\n')
SECOND = OUTSIDE.replace("spacers = 2", 'spacers = 2\nsecond_volume = "60 ml"\nsecond_pressure = "120 psi"')


def shown(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], *command: str) -> str:
    path = tmp_path / "fork.toml"
    path.write_text(text)
    assert main([*command, str(path)]) == 0
    return re.sub(r"\s+", " ", capsys.readouterr().out)


def test_a_coil_that_is_not_known_exactly(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The spring that keeps the sag is there, no O-ring without a figure, no pressure by weight, no energy of nothing: ½·k·p² is 0.09 J."""
    said = shown(COIL, tmp_path, capsys, "plan")
    assert "Sag 33 mm, as now" in said and "the O-ring shows –" not in said
    assert "To keep one thing as it was, fit" in said and re.search(r"same sag 7\.5 N/mm", said)
    assert "By the rider’s weight" not in said and "none none" not in said
    assert "holds 0.10 J" in said and "holds 0 J" not in said
    assert sheet_tables.by_mass(read.read_text(COIL)) is None


def test_the_limits_stand_behind_the_pressure_they_are_of() -> None:
    bench = read.read_text(SECOND)
    of = summary.of_plan(bench, plan(bench, draws=2_000), system=BENCH)
    said = re.sub(r"\s", " ", sentence.said(sentence.to_set(of, "psi", False)))
    assert re.match(r"Set 70 psi \(\d+ to \d+ psi\) main and 120 psi in the second chamber with two", said), said


@pytest.mark.parametrize("system", [BENCH, System(metric=False)])
def test_single_questions_say_no_figure_finer_than_it_is_known(system: System) -> None:
    """Sag is known to some 3 mm or 0.1 in, the end to some 700 N or 150 lbf: tenths and single newtons claim more."""
    bench = read.read_text(OUTSIDE + '[ride]\ntemperature = "-5 degC"\n')
    told = replies.to_ride(ride.ride(bench, 2_000), system)
    rows = {row[0]: row[1:] for row in told.tables[0].rows}
    deep = replies.to_ride(ride.ride(read.read_text(OUTSIDE + '[ride]\ntemperature = "-30 degC"\n'), 2_000), system)
    size = deep.first[0].removeprefix("There it sits ").partition("\xa0")[0]
    assert re.fullmatch(r"\d\d" if system.metric else r"0\.\d\d", size), "known to 2 mm, or 0.08 in"
    sag, force = rows["sag"][0], rows["bottom-out force"][0]
    if system.metric:
        assert len(re.findall(r"\d+\xa0mm", sag)) == 3 and "." not in sag
        assert len(re.findall(r"\d.?\d00\xa0N", force)) == 3
    else:
        assert len(re.findall(r"\d\.\d\xa0in", sag)) == 3 and len(re.findall(r"\d00\xa0lbf", force)) == 3


def test_a_pressure_that_is_not_known_to_three_psi_is_said_to_be_open() -> None:
    """The sag in mm hangs on how the fork settled when it was found; to keep it, it does not."""
    of = target.targets(read.read_text(OUTSIDE), Wanted(sag_share=0.2), 2_000)
    known = of.targets[0].ways[0].pressure_gauge_pa
    assert known is not None and known.half_width > 3 * 6894.757
    said = re.sub(r"\s", " ", " ".join(replies.to_targets(of, BENCH).first))
    assert re.search(
        r"the pressure is not known yet: between \d+ psi and \d+ psi\. Begin at \d+ psi, measure the sag", said
    ), said
    exact = read.read_text(Path(__file__).parents[2].joinpath("examples/longer-travel.toml").read_text())
    assert "not known yet" not in " ".join(
        replies.to_targets(target.targets(exact, Wanted(sag_share=0.2)), BENCH).first
    )


def test_the_terminal_has_the_sheets_pressures_by_weight(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for text in (OUTSIDE, Path(__file__).parents[2].joinpath("examples/rear-shock.toml").read_text()):
        said = shown(text, tmp_path, capsys, "plan")
        bench = read.read_text(text)
        for table in (sheet_tables.by_mass(bench), sheet_tables.by_mass_behind(bench)):
            if table is None:
                assert bench.shock is None
                continue
            for name, *cells in table.rows:
                line = " ".join((name.replace("· you", "· this one"), *cells))
                assert re.sub(r"\s+", " ", line) in said, line
            assert re.sub(r"\s+", " ", table.note) in said
    assert "By the rider’s weight, at the shock" in said


def test_a_pressure_that_nothing_was_computed_for_stays_and_says_why() -> None:
    """A sag found at no pressure gives no load: "Set 80 psi" was the pressure as it is, and nothing says whether it is right."""
    unread = re.sub(r'(?<=sag = "33 mm"\n)pressure = .*\n', "", OUTSIDE)
    said = _front(read.read_text(unread))
    assert re.match(
        r"Leave it at \d+ psi with two volume spacers\. The pressure for the same sag can’t be worked out without the pressure as found\.",
        said,
    ), said
    asked = read.read_text(unread.replace("[change]\n", '[change]\npressure = "91 psi"\n'))
    assert _front(asked).startswith("Set 91 psi with two volume spacers."), "what is asked for is set"
    assert _front(read.read_text(OUTSIDE)).startswith("Set ")


def _front(bench: BenchFile) -> str:
    of = summary.of_plan(bench, plan(bench, draws=2_000), system=BENCH)
    return re.sub(r"\s", " ", sentence.said(sentence.whole(of, "psi", False)))


def test_nor_is_a_shocks_set_whose_sag_nobody_found() -> None:
    for text in (KNOWN, SHOCK):
        told = [_front(read.read_text(each)) for each in (text.replace(SAG.search(text)[0], ""), text)]  # type: ignore[index]
        assert re.match(
            r"Shock: leave it at \d+ psi with \w+ volume spacers\. The pressure for the same sag can’t be worked out without the "
            r"shock’s sag, in mm of its stroke\.",
            told[0],
        ), told[0]
        assert told[1].startswith("Shock: set ")


@pytest.mark.parametrize(("found_m", "behind_m", "front", "rear"), [
    (0.031, None, " together with the sag found", ""), (None, 0.018, "", " together with the sag found"),
])  # fmt: skip
def test_a_reading_that_can_not_be_is_held_against_the_sag_of_its_own_end(
    found_m: float | None, behind_m: float | None, front: str, rear: str
) -> None:
    readings = tuple(Reading(travel_m=0.05, pressure_gauge_pa=9e5, end=end) for end in ("front", "rear"))
    bench = BenchFile(shock=Shock(sag_m=behind_m), found=Found(sag_m=found_m, readings=readings))
    best = far_in.Best(sag=1.0, alone=(0.0, 0.0), pairs=(), whole=0.0)
    assert [fault.message for fault in far_in.contradictions(bench, best)] == [
        f"no fork with these stanchions and this travel shows that{front}. Read it again.",
        f"no shock with this can and this stroke shows that{rear}. Read it again.",
    ]


def test_the_draws_themselves_are_neither_printed_nor_compared() -> None:
    """They are thousands of numbers; two tellings of one plan are the same whoever kept them."""
    told = Bounds({}, 1, 1.0, 0, (), (), {}, ())
    kept = replace(told, values={("after", "sag_m"): np.zeros(3)}, weights=np.ones(3))
    assert told == kept and repr(told) == repr(kept)


def test_a_build_that_one_in_ten_of_what_was_drawn_locks_has_no_figures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The one bike that stands for them all does not lock, the middle of the draws is none: it was said as "Sag nan %", with a
    traceback as JSON."""
    text = OUTSIDE.partition("[change]")[0] + '[change]\ntravel = "60 mm"\nspacers = 16\n'
    bench = read.read_text(text)
    told = plan(bench, draws=2_000)
    assert told.stands_for is not None and "hydraulic-lock" in {each.code for each in told.warnings}
    sprung = plan(told.stands_for)
    assert sprung.after.end_force_n is not None  # else the test says nothing
    assert told.after.end_force_n is None and told.after.sag is None
    assert {"hydraulic-lock", "charged-negative"} >= {each.code for each in told.warnings if each.state == "after"}
    for command in ("plan", "ways"):
        said = shown(text, tmp_path, capsys, command)
        assert "nan" not in said and "may have no room left" in said and "−10 ml" not in said
        assert main([command, str(tmp_path / "fork.toml"), "--json"]) == 0
        assert "NaN" not in capsys.readouterr().out
