"""The commands' JSON: keys, shapes, and `null`, as docs/bench-file.md promises them to other programs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from topout.__main__ import main

HOLLIN = Path(__file__).resolve().parents[1] / "reference" / "hollin.toml"
STANCE = {
    "head_angle_deg", "seat_angle_deg", "reach_m", "stack_m", "bb_height_m", "wheelbase_m", "front_centre_m", "trail_m",
    "mechanical_trail_m", "wheel_flop_m",
}  # fmt: skip
CURVE = {
    "travel_m", "force_n", "force_fast_n", "force_fast_from_sag_n", "rate_n_per_m", "positive_pa", "negative_pa",
    "lost_travel_m", "energy_j", "energy_fast_j", "terms",
}  # fmt: skip
FRONT = {"travel_m", "share", "low_m", "high_m", "load_n", "shown_m", "implied_share"}


@pytest.fixture
def ask(capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*words: str) -> Any:
        assert main([*words, "--json"]) == 0
        shown = capsys.readouterr()
        assert shown.err == "" and shown.out.count("\n") == 1
        return json.loads(shown.out)

    return run


def test_curve(ask: Any) -> None:
    answer = ask("curve", str(HOLLIN))
    assert set(answer) == {*CURVE, "drawn", "defaults"} and answer["drawn"] is None
    arrays = {k: v for k, v in answer.items() if isinstance(v, list) and k != "defaults"}
    assert {len(v) for v in arrays.values()} == {201} and len(arrays) == 7
    assert answer["travel_m"][0] == 0.0 and answer["travel_m"][-1] == 0.140
    assert [sum(parts) for parts in zip(*answer["terms"].values(), strict=True)] == pytest.approx(answer["force_n"])
    assert len(ask("curve", str(HOLLIN), "--points", "5")["force_n"]) == 5
    assert ask("curve", str(HOLLIN), "--end", "front") == answer


def test_sag(ask: Any) -> None:
    answer = ask("sag", str(HOLLIN))
    assert set(answer) == {"front", "rear", "head_angle_deg", "drawn", "defaults"} and set(answer["front"]) == FRONT
    assert answer["rear"] is None


def test_rear_sag_alone_is_named(ask: Any, tmp_path: Path) -> None:
    file = tmp_path / "rear.toml"
    file.write_text(HOLLIN.read_text().replace("[fork]\n", '[fork]\nfriction_side = 0\n').replace(
        '[rear_wheel]\n', '[rear_wheel]\nsag = "40 mm"\n'))  # fmt: skip
    rear = ask("sag", str(file))["rear"]
    assert rear["travel_m"] == pytest.approx(0.040)
    assert all(value is None for key, value in rear.items() if key != "travel_m")


def test_geometry(ask: Any, tmp_path: Path) -> None:
    answer = ask("geometry", str(HOLLIN))
    assert set(answer) == {"unloaded", "sagged", "chart", "drawn", "defaults"}
    assert set(answer["unloaded"]) == STANCE == set(answer["sagged"])
    assert set(answer["chart"]) == {"head_tube_m", "closes"} and answer["chart"]["closes"] is None
    alone = tmp_path / "frame.toml"
    text = HOLLIN.read_text()
    alone.write_text(text[text.index("[frame]") : text.index("[front_wheel]")])
    assert ask("geometry", str(alone))["sagged"] is None


def test_plan(ask: Any) -> None:
    answer = ask("plan", str(HOLLIN))
    assert set(answer) == {
        "before",
        "after",
        "difference",
        "keep",
        "clearance",
        "hazard",
        "warnings",
        "drawn",
        "defaults",
    }
    assert answer["drawn"] is None
    assert set(answer["before"]) == {"geometry", "sag", "end_force_n"}
    assert set(answer["keep"]) == {"sag", "sag-share", "end-force", "curve"}
    assert all(set(keep) == {"pressure_pa", "over_limit"} for keep in answer["keep"].values())
    assert set(answer["clearance"]) == {"tyre_to_crown_m", "tyre_to_brace_m", "rear_tyre_to_frame_m"}
    for state in ("before", "after"):
        assert set(answer["hazard"][state]) == {
            "cap_force_n", "ring_force_n", "energy_j", "spring_energy_j", "damper_energy_j",
        }  # fmt: skip
    assert all(set(warned) == {"code", "text", "state"} for warned in answer["warnings"])
    front = {s: answer[s]["sag"]["front"]["travel_m"] for s in ("before", "after", "difference")}
    assert front["difference"] == pytest.approx(front["after"] - front["before"], abs=1e-15)
    assert answer["difference"]["geometry"]["chart"]["closes"] is None


def test_plan_of_a_file_with_nothing_in_it(ask: Any, tmp_path: Path) -> None:
    empty = tmp_path / "empty.toml"
    empty.write_text("")
    answer = ask("plan", str(empty))
    assert answer["before"] == {"geometry": None, "sag": None, "end_force_n": None}
    assert {w["code"] for w in answer["warnings"]} == {"missing-input"}
    assert {"[fork]", "[frame]", "[rider]"} <= {w["text"].split(" is not")[0] for w in answer["warnings"]}


def test_inflate(ask: Any) -> None:
    answer = ask("inflate", str(HOLLIN), "--to", "70 psi", "--stop", "31 psi", "--stop", "2.8 bar", "--hose", "3 ml")
    assert set(answer) == {"rounds", "settled_after", "drawn", "over_limit", "defaults"}
    assert answer["settled_after"] == len(answer["rounds"])
    assert all(set(r) == {"pumped_to_pa", "after_stroke_pa", "reading_pa", "lost_travel_m"} for r in answer["rounds"])
    assert [round(r["pumped_to_pa"]) for r in answer["rounds"][:3]] == [213737, 280000, 482633]
    assert "reading_pa" not in ask("inflate", str(HOLLIN))["rounds"][0]
    assert ask("inflate", str(HOLLIN), "--gauge", "0.01 psi")["settled_after"] > answer["settled_after"]


@pytest.mark.parametrize("command", ["curve", "plan", "geometry", "sag"])
@pytest.mark.parametrize(("ending", "starts"), [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")])
def test_pictures(ask: Any, tmp_path: Path, command: str, ending: str, starts: bytes) -> None:
    picture = tmp_path / f"drawn.{ending}"
    ask(command, str(HOLLIN), "--plot", str(picture))
    assert picture.read_bytes()[:200].lstrip().startswith(starts) or b"<svg" in picture.read_bytes()[:300]


def test_the_start_of_a_command_is_light() -> None:
    """--help loads argparse alone; --json neither SciPy nor the tables' library, and numpy starts no threads."""
    show = (
        "import os, sys; from topout.__main__ import main\ntry: main({0})\nexcept SystemExit: pass\n"
        "heavy = {{'numpy', 'scipy', 'rich', 'django', 'typst', 'dataclasses'}} & set(sys.modules)\n"
        "print(sorted(heavy), os.environ.get('OPENBLAS_NUM_THREADS'), file=sys.stderr)"
    )
    for words, loaded in ((["--help"], "[] None"), (["plan", str(HOLLIN), "--json"], "['dataclasses', 'numpy'] 1")):
        child = subprocess.run(
            [sys.executable, "-c", show.format(words)],
            capture_output=True,
            text=True,
            check=True,
            env={k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"},
        )
        assert child.stderr.strip() == loaded


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_an_output_without_our_letters_gets_plainer_ones(encoding: str) -> None:
    """A file or console of an old code page has no true minus, no thin space and no rules."""
    env = os.environ | {"PYTHONIOENCODING": encoding}
    said = subprocess.run(
        [sys.executable, "-m", "topout", "plan", HOLLIN, "--units", "both"], capture_output=True, check=True, env=env
    )
    text = said.stdout.decode(encoding)
    assert said.stderr == b"" and "\\" not in text
    assert ("\N{MINUS SIGN}0.13" if encoding == "utf-8" else "-0.13") in text


@pytest.mark.parametrize("half", ['rate = "4 N/mm"', 'length = "30 mm"'])
def test_half_a_negative_coil_is_named(half: str, ask: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lacks = "length" if "rate" in half else "rate"
    bench = tmp_path / "half.toml"
    text = HOLLIN.read_text("utf-8").replace(
        "port_position = ", f'negative = "coil"\nnegative_coil = {{ {half} }}\nport_position = '
    )
    bench.write_text(text, "utf-8")
    answer = ask("plan", str(bench))
    assert [w["text"] for w in answer["warnings"] if w["code"] == "missing-input"][0].startswith(
        f"[fork.air.negative_coil] {lacks} is not given"
    )
    assert answer["before"]["end_force_n"] is None
    assert main(["curve", str(bench)]) == 2
    assert f"[fork.air.negative_coil] {lacks}: missing" in capsys.readouterr().err


@pytest.mark.parametrize("end", ["front", "rear"])
def test_a_coil_has_no_pressure(end: str, ask: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "coil.toml"
    unit = "fork" if end == "front" else "shock"
    size = 'travel = "150 mm"' if end == "front" else 'stroke = "60 mm"'
    file.write_text(f'[{unit}]\n{size}\n[{unit}.coil]\nrate = "70 N/mm"\n')
    answer = ask("curve", str(file), "--points", "3")
    assert answer["positive_pa"] is None and answer["negative_pa"] is None and answer["terms"]["coil_n"][1] > 0.0
    file.write_text(file.read_text().replace('"70 N/mm"', '"70 ± 3 N/mm"'))
    drawn = ask("curve", str(file), "--points", "3")
    assert drawn["positive_pa"] is None and drawn["negative_pa"] is None
    assert main(["curve", str(file), "--points", "3"]) == 0
    assert "gauge" not in capsys.readouterr().out


def test_two_builds_of_a_shock_are_compared_behind_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [tmp_path / f"{count}.toml" for count in (1, 3)]
    for file, count in zip(files, (1, 3), strict=True):
        text = (HOLLIN.parents[2] / "examples" / "rear-shock.toml").read_text()
        file.write_text(text.replace("[change.shock]\nspacers = 2", f"[change.shock]\nspacers = {count}"))
    assert main(["compare", *map(str, files), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert [answer["set"][name]["shock"]["spacers"] for name in "ab"] == [1, 3]
    ends = [answer[name]["rear"]["end_force_n"] for name in "ab"]
    assert answer["difference"]["rear"]["end_force_n"] == pytest.approx(ends[1] - ends[0]) and ends[1] > ends[0]
    assert main(["compare", *map(str, files)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Build behind A B difference" in text and "volume spacers 1 3 +2" in text
    assert "Shock: set 150 psi with three volume spacers" in text and "Not the same in both files" not in text
    assert "The maker’s sheet comes first. Let the air out before anything is opened." in text


def test_what_is_set_on_a_shock_over_the_makers_limit_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "over.toml"
    text = (HOLLIN.parents[2] / "examples" / "rear-shock.toml").read_text()
    file.write_text(text.replace('pressure_limit = "350 psi"', 'pressure_limit = "140 psi"'))
    assert main(["plan", str(file)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Shock: set 150 psi, above the maker’s limit of 140 psi, with two volume spacers." in said
