"""What single answers take for granted: only what moves them, by as much as the answer of a file in which the usual stands."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import topout
from planner.test_defaults import BARE, INSTEAD, written
from planner.test_drawn import OUTSIDE
from topout.__main__ import main
from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.planner.results import told

SAG = {"fork.lower_legs", "fork.friction", "rear_wheel.sag", "conditions.altitude"}
END = {"fork.lower_legs", "fork.bumper", "conditions.altitude"}


def of_sag(bench: BenchFile) -> dict[str, float]:
    found = topout.sag(bench)
    assert found.front is not None and found.front.low_m is not None and found.front.high_m is not None
    assert found.head_angle_rad is not None
    return {
        "sag_m": found.front.travel_m, "sag_either_way_m": 0.5 * (found.front.high_m - found.front.low_m),
        "head_angle_deg": math.degrees(found.head_angle_rad),
    }  # fmt: skip


def of_target(bench: BenchFile) -> dict[str, float]:
    found = topout.target(bench, sag_m=0.03, sag_share=0.2, end_force_n=2500.0).targets
    pressures = [each.ways[0].pressure_gauge_pa for each in found]
    return dict(
        zip(("set_sag_pa", "set_share_pa", "set_end_pa"), (each.median for each in pressures if each), strict=True)
    )


def of_ride(bench: BenchFile) -> dict[str, float]:
    found = topout.ride(bench, temperature_k=268.15)
    assert found.deeper_m is not None and found.set_gauge_pa is not None
    return {"deeper_m": found.deeper_m.median, "set_here_pa": found.set_gauge_pa.median}


def of_inflate(bench: BenchFile) -> dict[str, float]:
    first = topout.inflate(bench).rounds[0]
    return {"after_stroke_pa": first.after_stroke_gauge_pa, "lost_travel_m": first.lost_travel_m}


def of_geometry(bench: BenchFile) -> dict[str, float]:
    sagged = topout.geometry(bench).sagged
    assert sagged is not None
    return {"head_angle_deg": math.degrees(sagged.head_angle_rad)}


def of_landing(bench: BenchFile) -> dict[str, float]:
    after = topout.landing(bench).after
    assert after is not None
    return {"drop_m": after.median}


def of_rebound(bench: BenchFile) -> dict[str, float]:
    ratio = topout.rebound(bench).damping_ratio
    assert ratio is not None
    return {"damping_ratio": ratio.median}


# An answer, its figures by a way of their own, the defaults that move it (of those whose usual value can be written here).
ANSWERS: dict[str, tuple[Callable[[BenchFile], Any], Callable[[BenchFile], dict[str, float]], set[str]]] = {
    "curve": (topout.curve, lambda bench: {"end_force_n": float(topout.curve(bench).force_n[-1])}, END),
    "sag": (topout.sag, of_sag, SAG),
    "geometry": (topout.geometry, of_geometry, {"fork.lower_legs", "rear_wheel.sag", "conditions.altitude"}),
    "target": (lambda bench: topout.target(bench, sag_m=0.03, sag_share=0.2, end_force_n=2500.0), of_target, SAG | END),
    "ride": (lambda bench: topout.ride(bench, temperature_k=268.15), of_ride, {"fork.lower_legs"}),
    "landing": (topout.landing, of_landing, {"fork.lower_legs", "conditions.altitude"}),
    "rebound": (topout.rebound, of_rebound, {"fork.lower_legs"}),
    "inflate": (topout.inflate, of_inflate, set()),
}


def defaults_of(answer: Any) -> dict[str, Any]:
    plain = answer.as_json() if hasattr(answer, "as_json") else told(answer)
    return {each["key"]: each for each in plain["defaults"]}


def test_an_answer_says_the_defaults_that_move_it_and_by_how_much() -> None:
    """Against the same answer of a file in which the usual value is written: each figure, and none for what moves nothing."""
    wrong: list[tuple[Any, ...]] = []
    for command, (work_out, figures, moving) in ANSWERS.items():
        said, own = defaults_of(work_out(read_text(BARE))), figures(read_text(BARE))
        for key in INSTEAD:
            other = figures(read_text(written(key)))
            gaps = {name: other[name] - own[name] for name in own}
            change = said.get(key, {}).get("change")
            if change is not None and change != pytest.approx(gaps, rel=1e-6, abs=1e-9):
                wrong.append((command, key, change, gaps))
        missed = (moving - {"fork.friction"}) - set(said)
        silly = set(INSTEAD) & set(said) - moving - {"conditions.altitude", "rear_wheel.sag"}
        wrong += [(command, "not said", missed)] if missed else []
        wrong += [(command, "moves nothing", silly)] if silly else []
    assert not wrong, wrong


def test_a_sag_that_was_found_leans_on_no_spring_and_what_is_written_on_nothing() -> None:
    found = BARE + '\n[found]\nsag = "30 mm"\npressure = "70 psi"\n'
    assert set(defaults_of(topout.sag(read_text(found)))) <= {"fork.friction", "rear_wheel.sag"}
    whole = BARE.replace("[rear_wheel]", '[rear_wheel]\nsag = "40 mm"')
    assert "rear_wheel.sag" not in defaults_of(topout.sag(read_text(whole)))
    unloaded = BARE[: BARE.index("[rider]")] + BARE[BARE.index("[bike]") :]
    assert not defaults_of(topout.geometry(read_text(unloaded)))


def test_spacers_that_nobody_counted_are_said_by_every_answer_of_the_spring() -> None:
    """At either end; a count that is written, nought too, is none of them."""
    bare = re.sub("^spacers = .*\\n", "", BARE, flags=re.M)
    assert bare != BARE
    can = Path("examples/air-shock-and-its-shelf.toml").read_text("utf-8")
    uncounted = "\n".join(line for line in can.splitlines() if not line.startswith("spacers ="))
    assert uncounted != can
    for work_out in (topout.curve, topout.sag):
        assert "fork.air.spacers" in defaults_of(work_out(read_text(bare))), work_out
        assert "fork.air.spacers" not in defaults_of(work_out(read_text(BARE))), work_out
    for text, said in ((uncounted, True), (can, False)):
        assert ("shock.air.spacers" in defaults_of(topout.curve(read_text(text), end="rear"))) == said


def test_what_was_drawn_is_no_default_and_moves_no_end() -> None:
    for work_out in (topout.curve, topout.sag, topout.landing):
        said = defaults_of(work_out(read_text(OUTSIDE)))
        assert not set(said) & {"fork.friction", "fork.lower_legs", "fork.bumper", "fork.air.port_position"}
        assert not any(
            "end_force_n" in (each["change"] or {}) or "drop_m" in (each["change"] or {}) for each in said.values()
        )
        assert ("conditions.altitude" in said) == (work_out is not topout.sag), "its sag was found: no air moves that"


def test_the_terminal_says_them_dangers_marked(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "bare.toml"
    file.write_text(BARE.replace("[change]", '[ride]\ntemperature = "-5 degC"\n\n[change]'), encoding="utf-8")
    for command in (
        ("curve",), ("sag",), ("target", "--sag", "20%"), ("landing",), ("ways",), ("ride",), ("rebound",), ("geometry",),
    ):  # fmt: skip
        assert main([*command, str(file)]) == 0, command
        text = " ".join(capsys.readouterr().out.split())
        assert "! The fork’s negative chamber is taken to fill itself through a port at full extension" in text, command
        assert text.count("Not written down, and taken all the same:") == 1, command
        assert "no air shut into the lower legs" in text, command
    assert (
        main(["curve", "--end", "rear", "--json", str(Path(__file__).parents[2] / "examples" / "rear-shock.toml")]) == 0
    )
    keys = [each["key"] for each in json.loads(capsys.readouterr().out)["defaults"]]
    assert keys[:2] == ["shock.air.negative", "shock.air.port_position"] and all(
        key.startswith("shock.") for key in keys
    )


def test_a_filling_leans_on_the_port_and_a_comparison_on_what_moves_its_builds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both said nothing of it. The port's change against the readings of a file in which it is written 3 mm in."""
    assert "port_position" not in BARE
    said, own = defaults_of(topout.inflate(read_text(BARE))), of_inflate(read_text(BARE))
    inside = of_inflate(read_text(BARE.replace("[fork.air]\n", '[fork.air]\nport_position = "3 mm"\n')))
    gaps = {name: inside[name] - own[name] for name in own}
    assert gaps["after_stroke_pa"] < -5 * 6894.757, "the first stroke would cost what the gauge shows"
    port = said["fork.air.port_position"]
    assert port["danger"] and port["change"] == pytest.approx(gaps, rel=1e-9)
    assert set(said) == {"fork.air.negative", "fork.air.port_position", "fork.air.oil_on_piston", "fork.air.grease_in_negative"} - (
        {"fork.air.oil_on_piston"} if "oil_on_piston" in BARE else set()
    )  # fmt: skip
    one, other = tmp_path / "bare.toml", tmp_path / "legs.toml"
    one.write_text(BARE, encoding="utf-8")
    other.write_text(written("fork.lower_legs"), encoding="utf-8")
    assert main(["compare", "--json", str(one), str(other)]) == 0
    told_of = json.loads(capsys.readouterr().out)["defaults"]
    keys = [{each["key"] for each in told_of[name]} for name in "ab"]
    assert "fork.lower_legs" in keys[0] - keys[1] and "fork.friction" in keys[0] & keys[1]
    assert main(["compare", str(one), str(other)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert text.index("! A and B: The fork’s negative chamber is taken to fill itself") < text.index("A is ")
    assert "A: Not written down, and taken all the same: no air shut into the lower legs" in text
    assert "B: Not written down, and taken all the same: no friction" in text
    assert main(["compare", str(one), str(one)]) == 0
    assert " ".join(capsys.readouterr().out.split()).count("A and B: Not written down") == 1
    assert main(["inflate", str(one)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert (
        "! The fork’s negative chamber is taken to fill itself" in text and "no grease in the negative chamber" in text
    )
