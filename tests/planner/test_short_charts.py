"""What answers where a chart or a fork is described in part: only what needs a key is left out."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from topout.__main__ import main
from topout.bench_file.read import read_text
from topout.documents.plan_pictures import of_plan
from topout.documents.stance import stance
from topout.planner.plan import plan

WHOLE = (Path(__file__).resolve().parents[2] / "examples" / "longer-travel.toml").read_text("utf-8")


def without(*keys: str) -> str:
    text = WHOLE
    for key in keys:
        text, found = re.subn(rf"(?m)^{key} = .*\n", "", text)
        assert found, key
    return text


def answer(text: str) -> Any:
    return json.loads(json.dumps(plan(read_text(text)).as_json()))


def test_without_a_seat_angle_the_stance_answers_but_for_that_angle() -> None:
    whole, short = answer(WHOLE), answer(without("seat_angle"))
    for state in ("before", "after", "difference"):
        for at in ("unloaded", "sagged"):
            known, here = whole[state]["geometry"][at], short[state]["geometry"][at]
            assert here.pop("seat_angle_deg") is None and known.pop("seat_angle_deg") is not None
            assert here == pytest.approx(known, rel=1e-12)
    assert not [w for w in short["warnings"] if w["code"] == "missing-input"]


def test_without_a_seat_angle_the_picture_draws_no_seat() -> None:
    def drawn(text: str) -> str:
        file = read_text(text)
        pictures = of_plan(file, plan(file))
        assert pictures.now is not None
        return stance(pictures.was, pictures.now, 700, "x", windows=False).for_paper()

    whole, short = drawn(WHOLE), drawn(without("seat_angle"))
    assert whole.count("<path") > short.count("<path") and "nan" not in short.lower()


def test_a_chart_that_does_not_say_its_wheels_was_drawn_for_those_fitted() -> None:
    """The same wheels, written at the chart or taken from the bike; the new ones of a change are not the chart’s."""
    fitted = without("front_radius", "rear_radius")
    file = read_text(fitted)
    wheels = [w for w in (file.front_wheel, file.rear_wheel) if w is not None]
    radii = [w.radius_m or (w.bead_seat_m or 0) / 2 + (w.tyre_height_m or 0) for w in wheels]
    assert len(radii) == 2
    said = WHOLE
    for end, radius in zip(("front", "rear"), radii, strict=True):
        said = re.sub(rf"(?m)^{end}_radius = .*$", f'{end}_radius = "{radius * 1e3:.10g} mm"', said)
    taller = '\n[change.front_wheel]\nbead_seat = "622 mm"\ntyre_height = "66 mm"\n'
    for more in ("", taller):
        assert answer(fitted + more)["after"] == answer(said + more)["after"]
    assert answer(fitted)["after"]["geometry"] != answer(fitted + taller)["after"]["geometry"]


def test_without_wheels_too_the_radius_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    bare = re.sub(r"(?s)\[front_wheel\].*?(?=\n\[)", "", without("front_radius"))
    file = tmp_path / "bare.toml"
    file.write_text(bare)
    assert main(["geometry", str(file)]) == 2
    told = capsys.readouterr()
    assert told.out == "" and "front_radius" in told.err and "no front wheel is fitted" in told.err


def test_geometry_and_room_answer_without_a_spring() -> None:
    whole, short = answer(WHOLE), answer(without("positive_volume"))
    assert short["after"]["geometry"]["unloaded"] == whole["after"]["geometry"]["unloaded"]
    assert short["clearance"] == whole["clearance"] and short["clearance"]["tyre_to_crown_m"] is not None
    assert short["after"]["end_force_n"] is None and short["after"]["sag"] is None
